"""At the wall: grade and its correction, standing water, openings, safe discharge area."""
