"""The roof area that counts for rain that the wind blows: plan area with one allowance.

In: plan area in m2 and one allowance. Out: area in m2. There is no way to give two allowances,
since each already stands for all of the wind.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from runoff.roof.amounts import not_negative

# A home-repair guide: rise in 12 of run up to which each factor holds; above the last, 1.3.
_PITCH_FACTORS = ((3, 1.0), (5, 1.05), (8, 1.1), (11, 1.2))
_STEEPEST_FACTOR = 1.3
STEEPEST_TANGENT = math.tan(math.radians(70))
_ROUNDING = 1e-9


@dataclass(frozen=True)
class NoAllowance:
    """The plan area as it is."""

    words = "plan area, nothing for wind"

    def area(self, plan_area_m2: float) -> float:
        """Area that counts, m2."""
        return plan_area_m2


@dataclass(frozen=True)
class PitchFactor:
    """The factors of home-repair guides: 1.0 to 3:12, 1.05 to 5:12, 1.1 to 8:12, 1.2 to 11:12, 1.3.

    `pitch` is rise over run. A pitch between two rows takes the higher factor.
    """

    pitch: float
    words = "plan area times a home guide's factor for the pitch"

    def area(self, plan_area_m2: float) -> float:
        """Area that counts, m2."""
        twelfths = 12 * not_negative("pitch", self.pitch) - _ROUNDING
        fitting = (factor for limit, factor in _PITCH_FACTORS if twelfths <= limit)
        return plan_area_m2 * next(fitting, _STEEPEST_FACTOR)


@dataclass(frozen=True)
class HalfTangent:
    """Approved Document H, table 1: plan area x (1 + tan(pitch) / 2), to 70 degrees.

    `pitch` is rise over run, the tangent. A steeper roof counts as a wall: half its elevation.
    """

    pitch: float
    words = "plan area x (1 + tan(pitch) / 2), Approved Document H"

    def area(self, plan_area_m2: float) -> float:
        """Area that counts, m2."""
        if not_negative("pitch", self.pitch) > STEEPEST_TANGENT + _ROUNDING:
            raise ValueError(
                f"pitch is {self.pitch:g}; expected 70 degrees at most: give a steeper "
                "roof as a wall"
            )
        return plan_area_m2 * (1 + self.pitch / 2)


@dataclass(frozen=True)
class HalfRise:
    """EN 12056-3: L (W + H / 2), so half of what the wind sees of the roof is added.

    `eave_m` is the length L of the roof along its eave, `rise_m` its height H from eave to ridge.
    """

    eave_m: float
    rise_m: float
    words = "plan area and half of the roof's rise along its eave, EN 12056-3"

    def area(self, plan_area_m2: float) -> float:
        """Area that counts, m2."""
        eave, rise = not_negative("eave_m", self.eave_m), not_negative("rise_m", self.rise_m)
        return plan_area_m2 + eave * rise / 2


@dataclass(frozen=True)
class HalfWall:
    """Half of a wall that stands above the roof and drips onto it, `wall_area_m2` its area."""

    wall_area_m2: float
    words = "plan area and half of the wall above"

    def area(self, plan_area_m2: float) -> float:
        """Area that counts, m2."""
        return plan_area_m2 + not_negative("wall_area_m2", self.wall_area_m2) / 2


Allowance = NoAllowance | PitchFactor | HalfTangent | HalfRise | HalfWall


def catchment_area(plan_area_m2: float, allowance: Allowance) -> float:
    """The area that a design flow is reckoned with.

    Parameters
    ----------
    plan_area_m2 : float
        Plan area of the roof in square metres; 0 for one steeper than 70 degrees, given as a wall.
    allowance : NoAllowance, PitchFactor, HalfTangent, HalfRise or HalfWall
        The one allowance for wind-blown rain; its `words` say which, for the output.

    Returns
    -------
    float
        Area in square metres.

    Raises
    ------
    ValueError
        Where an area or size is negative, or a pitch is steeper than its method knows.

    Examples
    --------
    A roof of 100 m2 at 6:12:

    >>> catchment_area(100.0, HalfTangent(0.5)), round(catchment_area(100.0, PitchFactor(0.5)), 6)
    (125.0, 110.0)
    """
    return allowance.area(not_negative("plan_area_m2", plan_area_m2))
