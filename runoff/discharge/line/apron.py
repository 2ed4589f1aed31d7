"""What protects the ground where a pipe lets its water go: size of the stone, and its apron.

In: flow in m3/s, the pipe's bore in metres. Out: metres.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from runoff.discharge.model import Part
from runoff.quantities import format_length, system_of
from runoff.quantities.numbers import positive
from runoff.rules import Rules
from runoff.site.model import Site

GRAVITY = 9.80665  # m/s2
FOOT = 0.3048


@dataclass(frozen=True)
class Apron:
    """A stone apron at a pipe's outlet, all in metres: plan, thickness, median stone size.

    It is `width_m` wide at the pipe and flares to `end_width_m`.
    """

    length_m: float
    width_m: float
    end_width_m: float
    thickness_m: float
    stone_m: float

    @property
    def area_m2(self) -> float:
        """Its area on the plan."""
        return self.length_m * (self.width_m + self.end_width_m) / 2


def riprap_size(
    flow_m3_per_s: float,
    diameter_m: float,
    tailwater_m: float | None = None,
    rules: Rules | None = None,
) -> float:
    """Median stone size D50 at a pipe's outlet, FHWA HEC-14 equation 10.4, metres.

    D50 = 0.2 D (Q / (sqrt(g) D^2.5))^(4/3) (D / TW), the tailwater TW held between 0.4 D and D.

    Parameters
    ----------
    flow_m3_per_s : float, m3/s
    diameter_m : float, metres, the bore
    tailwater_m : float, metres of water over the outlet's invert; where it is None, not known,
        ``riprap_tailwater`` of the diameter
    rules : Rules

    Raises
    ------
    ValueError
        Where a number is not finite and above 0.

    Examples
    --------
    >>> round(riprap_size(85 * 0.3048**3, 5 * 0.3048, 1.6 * 0.3048) / 0.3048, 2)
    0.43
    """
    positive(flow_m3_per_s, "flow", "m3/s")
    positive(diameter_m, "diameter", "m")
    least = (rules or Rules())["riprap_tailwater"] * diameter_m
    if tailwater_m is None:
        tailwater_m = least
    positive(tailwater_m, "tailwater", "m")
    tailwater = min(max(tailwater_m, least), diameter_m)
    intensity = flow_m3_per_s / (math.sqrt(GRAVITY) * diameter_m**2.5)
    return 0.2 * diameter_m * intensity ** (4 / 3) * diameter_m / tailwater


def stone_apron(
    flow_m3_per_s: float,
    diameter_m: float,
    tailwater_m: float | None = None,
    rules: Rules | None = None,
) -> Apron:
    """Apron at a pipe's outlet, after Dane County: L = 1.7 Q / D^1.5 + 8 D, 2 D50 thick.

    At the pipe it is W = 3 D wide; each side widens by one in ``apron_flare`` (HEC-14, recalled).

    In the formula Q is in cubic feet a second, D and L in feet; D50 is of `riprap_size`, but no
    smaller than the rule `apron_stone`: what the formula asks of a small pipe would wash away.

    Parameters
    ----------
    flow_m3_per_s, diameter_m, tailwater_m, rules
        As `riprap_size` takes them.

    Raises
    ------
    ValueError
        Where a number is not finite and above 0.

    Examples
    --------
    >>> apron = stone_apron(0.5 * 0.3048**3, 0.5 * 0.3048)
    >>> [round(m / 0.3048, 1) for m in (apron.length_m, apron.width_m, apron.end_width_m)]
    [6.4, 1.5, 5.8]
    """
    rules = rules or Rules()
    least = rules["apron_stone"]
    stone = max(riprap_size(flow_m3_per_s, diameter_m, tailwater_m, rules), least)
    flow, diameter = flow_m3_per_s / FOOT**3, diameter_m / FOOT
    length = (1.7 * flow / diameter**1.5 + 8 * diameter) * FOOT
    width = 3 * diameter_m
    return Apron(length, width, width + 2 * length / rules["apron_flare"], 2 * stone, stone)


def end_parts(site: Site, apron: Apron | None) -> Iterator[Part]:
    """What is bought for a pipe's end: the apron's stone and fabric, else a splash pad."""
    if apron is None:
        yield Part("splash pad", "splash_block", 1, "where the water comes out")
        return
    size = format_length(apron.stone_m, system_of(site.units), 4)
    use = f"apron where the water comes out, {size} or larger"
    yield Part("stone", "stone", apron_m3(apron), use)
    yield Part("filter fabric", "fabric", apron.area_m2, "under the apron")


def apron_m3(apron: Apron | None) -> float:
    """The stone of an apron, and the soil that gives it room."""
    return 0.0 if apron is None else apron.area_m2 * apron.thickness_m
