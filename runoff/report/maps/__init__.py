"""The map of a lot: its ground, what stands on it, water, walls, work."""
