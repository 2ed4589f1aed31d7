"""How a quantity is written in the units of a lot: the one way from figures to words.

In: SI. Out: text in feet and inches, or metric.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Protocol

from runoff.quantities.lengths import format_length
from runoff.quantities.measures import (
    as_found,
    format_area,
    format_duration,
    format_flow,
    format_rain,
    format_rate,
    format_slope,
    format_velocity,
    format_volume,
)

_QUARTER_INCH = 4
_WHOLE_INCH = 1
_NO_VOLUME = 1e-6
"""Cubic meters: a milliliter is what rounding leaves, not water."""
_LEAST_VOLUME = {"us": 0.1 * 0.3048**3, "metric": 0.003}


class HasUnits(Protocol):
    """What says in which units it is shown, ``"ft"`` or ``"m"``: a site."""

    @property
    def units(self) -> str: ...


def system_of(units: str) -> Literal["us", "metric"]:
    """The system of the `format_` functions for a lot's units.

    Examples
    --------
    >>> system_of("ft"), system_of("m")
    ('us', 'metric')
    """
    return "us" if units == "ft" else "metric"


@dataclass(frozen=True)
class Shown:
    """Writes SI quantities in one system, ``"us"`` or ``"metric"``.

    Examples
    --------
    >>> Shown("us").height(0.1), Shown("us").far(0.1), Shown("metric").far(12.345)
    ('4 in', '4 in', '12.35 m')
    """

    system: str

    @classmethod
    def of(cls, site: HasUnits) -> Shown:
        """In a site's own units."""
        return cls(system_of(site.units))

    def height(self, metres: float) -> str:
        """To a quarter of an inch; in metric to a millimetre, from 1 m up to a centimetre."""
        return format_length(metres, self.system, _QUARTER_INCH)

    def fine(self, metres: float) -> str:
        """To a sixteenth of an inch, as a gutter is hung."""
        return format_length(metres, self.system)

    def far(self, metres: float) -> str:
        """A distance along the ground: whole inches; in metric as `height`."""
        return format_length(metres, self.system, _WHOLE_INCH)

    def walked(self, metres: float) -> str:
        """The length of a path, to the foot or the tenth of a metre: none is known better.

        Examples
        --------
        >>> Shown("us").walked(0.1), Shown("us").walked(5.1), Shown("metric").walked(5.12)
        ('less than 1 ft', '17 ft', '5.1 m')
        """
        if self.system == "metric":
            return f"{metres:.1f} m"
        feet = round(metres / 0.3048)
        return "less than 1 ft" if feet == 0 else f"{feet} ft"

    def length(self, metres: float, denominator: int) -> str:
        """To that part of an inch; in metric as `height`.

        Examples
        --------
        >>> Shown("us").length(0.157, 2), Shown("us").length(0.157, 8)
        ('6 in', '6 1/8 in')
        """
        return format_length(metres, self.system, denominator)

    def place(self, x: float, y: float) -> str:
        """A place on the plan: feet and whole inches, or metres to a centimetre.

        Examples
        --------
        >>> Shown("us").place(3.048, 0.1), Shown("metric").place(3.048, 0.1)
        ('(10 ft, 4 in)', '(3.05 m, 0.10 m)')
        """
        if self.system == "metric":
            return f"({x:.2f} m, {y:.2f} m)"
        return f"({self.far(x)}, {self.far(y)})"

    def at_least_a_step(self, metres: float) -> str:
        """As `fine`, but never 0: what is less than a step of it is told as one."""
        return self.fine(max(metres, 0.0254 / 16 if self.system == "us" else 0.001))

    def rain(self, metres: float, found: bool = False) -> str:
        """As `runoff.quantities.format_rain`."""
        return format_rain(metres, self.system, found=found)

    def area(self, square_metres: float) -> str:
        """As `runoff.quantities.format_area`."""
        return format_area(square_metres, self.system)

    def volume(self, cubic_metres: float) -> str:
        """As `runoff.quantities.format_volume`; a small one without figures.

        Examples
        --------
        >>> Shown("us").volume(1e-14), Shown("us").volume(2e-4), Shown("metric").volume(2e-4)
        ('0 cu ft', 'under 0.1 cu ft', 'under 0.003 m3')
        """
        if abs(cubic_metres) <= _NO_VOLUME:
            return format_volume(0.0, self.system)
        least = _LEAST_VOLUME[self.system]
        under = "under " if 0.0 < cubic_metres < least else ""
        return under + format_volume(least if under else cubic_metres, self.system)

    def found_area(self, square_metres: float) -> str:
        """An area that was found on the ground, as closely as the ground tells it."""
        return format_area(square_metres, self.system, found=True)

    def found_volume(self, cubic_metres: float) -> str:
        """As `volume`, of water found on the ground, as closely as the ground tells it.

        Examples
        --------
        >>> Shown("us").found_volume(1.295), Shown("us").found_volume(1e-14)
        ('46 cu ft', '0 cu ft')
        """
        size = 0.3048**3 if self.system == "us" else 1.0
        return self.volume(as_found(cubic_metres / size) * size)

    def volume_as_good(self, cubic_metres: float, good_to: float | None) -> str:
        """As `runoff.quantities.format_volume`, of a volume that is `good_to` so many m3 only."""
        return format_volume(cubic_metres, self.system, good_to)

    @staticmethod
    def slope(slope: float) -> str:
        """As `runoff.quantities.format_slope`."""
        return format_slope(slope)

    @staticmethod
    def duration(seconds: float) -> str:
        """As `runoff.quantities.format_duration`."""
        return format_duration(seconds)

    def flow(self, cubic_metres_per_second: float) -> str:
        """As `runoff.quantities.format_flow`."""
        return format_flow(cubic_metres_per_second, self.system)

    def rate(self, metres_per_second: float) -> str:
        """As `runoff.quantities.format_rate`."""
        return format_rate(metres_per_second, self.system)

    def velocity(self, metres_per_second: float) -> str:
        """As `runoff.quantities.format_velocity`."""
        return format_velocity(metres_per_second, self.system)
