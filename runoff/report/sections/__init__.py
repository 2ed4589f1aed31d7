"""Figures of lines, pits, swales and walls in section."""
