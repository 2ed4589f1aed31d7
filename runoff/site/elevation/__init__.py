"""Elevation data: its files, and where it lies on the plan."""
