"""Drawings of the printed report, each to a stated scale."""
