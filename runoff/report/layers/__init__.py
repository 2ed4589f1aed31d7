"""Map layers of what was found and planned, for other programs."""
