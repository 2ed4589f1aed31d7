"""The engine: arrays of heights in, basins, lakes, counts, water and paths out."""
