"""The ground from elevation data: its files, point clouds, and the person's own heights with it."""
