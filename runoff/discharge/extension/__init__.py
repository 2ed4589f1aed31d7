"""An extension on the surface: where one may lie, and the shortest that does."""
