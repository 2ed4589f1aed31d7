"""Lengths and places as the user reads them: feet and inches, or metres."""

from __future__ import annotations

from runoff.quantities import format_length, system_of
from runoff.site.model import Units


def length_text(metres: float, units: Units) -> str:
    """A length to half an inch, or metric.

    Examples
    --------
    >>> length_text(0.3048, "ft"), length_text(0.3048, "m")
    ('1 ft', '305 mm')
    """
    return format_length(metres, system_of(units), 2)


def place_text(x: float, y: float, units: Units) -> str:
    """A plan position, to half an inch or the centimeter.

    Examples
    --------
    >>> place_text(3.048, 1.524, "ft")
    'x 10 ft, y 5 ft'
    """
    if units == "m":
        return f"x {x:.2f} m, y {y:.2f} m"
    return f"x {length_text(x, units)}, y {length_text(y, units)}"
