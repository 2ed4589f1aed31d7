"""Soil: what is said of it, and field tests read from sheets and reduced."""
