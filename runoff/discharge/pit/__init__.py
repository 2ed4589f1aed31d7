"""A seepage pit: the soil under it, its size, its place."""
