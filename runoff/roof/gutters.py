"""What a gutter and its outlet carry, and what a run needs where its gutter is too small.

In: sections in metres, a flow in m3/s. Out: capacities in m3/s, and a choice in words.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from runoff.quantities.numbers import not_negative, positive, share
from runoff.quantities.reading import INCH
from runoff.rules import RULES

Shape = Literal["half-round", "ogee"]
Unit = Literal["in", "mm"]
GRAVITY = 9.80665
DESIGN_SHARE = RULES["gutter_design_share"].value
# EN 12056-3 in litres a second and mm2 (memory), brought to m3/s and m2.
_TO_SI = 1000.0**2.5 / 1000.0
_HALF_ROUND = 2.78e-5 * _TO_SI
_SQUARE = 3.48e-5 * _TO_SI
# A level square gutter without friction, of area 1 m2: sqrt(g) / 3^(3/4).
_SQUARE_WITHOUT_FRICTION = math.sqrt(GRAVITY) / 3**0.75


@dataclass(frozen=True)
class Gutter:
    """A gutter by its section: sizes in metres; an ogee stands as a trapezoid.

    `top_m` is the width at the brim, the diameter of a half-round; `bottom_m` is 0 for that.
    """

    name: str
    shape: Shape
    top_m: float
    bottom_m: float
    depth_m: float


def _gutter(size: int, unit: Unit, shape: Shape, bottom: float, depth: float) -> Gutter:
    metres = float(INCH) if unit == "in" else 0.001
    return Gutter(f"{size} {unit} {shape}", shape, size * metres, bottom * metres, depth * metres)


# The ogee sections are assumed: makers' profiles differ, and no standard fixes them.
GUTTERS = (
    _gutter(5, "in", "half-round", 0, 2.5),
    _gutter(6, "in", "half-round", 0, 3),
    _gutter(5, "in", "ogee", 3.25, 3.5),
    _gutter(6, "in", "ogee", 4, 4.5),
)
# As sold by the millimeter (common practice); the ogees shaped like those of 5 and 6 in.
GUTTERS_METRIC = (
    _gutter(100, "mm", "half-round", 0, 50),
    _gutter(125, "mm", "half-round", 0, 62.5),
    _gutter(150, "mm", "half-round", 0, 75),
    _gutter(100, "mm", "ogee", 65, 70),
    _gutter(125, "mm", "ogee", 80, 88),
    _gutter(150, "mm", "ogee", 100, 112),
)


def half_round_capacity(diameter_m: float, design_share: float = DESIGN_SHARE) -> float:
    """The flow that a level half-round eaves gutter brings to an outlet at its end.

    Q[L/s] = 2.78e-5 A^1.25, A the section to the brim in mm2, times the share counted on. A gutter
    with a fall carries more; that is left as a margin, since gutters settle.

    Parameters
    ----------
    diameter_m : float
        Inside diameter in metres.
    design_share : float
        Share of the nominal capacity counted on; the rule `gutter_design_share`.

    Returns
    -------
    float
        Flow in cubic metres a second.

    Raises
    ------
    ValueError
        Where the diameter is not above 0 or the share is none.

    References
    ----------
    EN 12056-3, Gravity drainage systems inside buildings: roof drainage (recalled).

    Examples
    --------
    >>> round(1000 * half_round_capacity(0.100), 3)
    0.778
    """
    area = math.pi / 8 * positive(diameter_m, "diameter_m") ** 2
    return share(design_share, "design_share") * _HALF_ROUND * area**1.25


def trapezoid_capacity(
    top_m: float, bottom_m: float, depth_m: float, design_share: float = DESIGN_SHARE
) -> float:
    """The flow that a level trapezoidal gutter brings to a free outlet at its end.

    EN 12056-3 has Q[L/s] = 3.48e-5 A^1.25 for a square section and gives the other shapes as
    charts. In their place stands what the charts are drawn from: water still at the brim at the far
    end and at its critical depth at the outlet, with the same momentum, no friction. The
    standard's figure for the square is 0.80 of that; the same 0.80 is taken for every trapezoid.
    For a half-round it gives the standard's own constant.

    Parameters
    ----------
    top_m, bottom_m, depth_m : float
        Inside width at the brim and at the sole, and depth, in metres.
    design_share : float
        As of `half_round_capacity`.

    Returns
    -------
    float
        Flow in cubic metres a second.

    Raises
    ------
    ValueError
        Where a size is not above 0 or the share is none.

    Examples
    --------
    A square of 100 mm:

    >>> round(1000 * trapezoid_capacity(0.1, 0.1, 0.1, 1.0), 2)
    3.48
    """
    top, bottom = positive(top_m, "top_m"), positive(bottom_m, "bottom_m")
    brim = positive(depth_m, "depth_m")
    spread = (top - bottom) / brim

    def section(depth: float) -> tuple[float, float, float]:
        """Area, width at the surface, and moment of the area about the surface."""
        area = bottom * depth + spread * depth**2 / 2
        return area, bottom + spread * depth, bottom * depth**2 / 2 + spread * depth**3 / 6

    def momentum_at_critical(depth: float) -> float:
        area, width, moment = section(depth)
        return moment + area**2 / width

    still = section(brim)[2]
    low, high = 0.0, brim
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if momentum_at_critical(middle) < still else (low, middle)
    area, width, _ = section(low)
    without_friction = math.sqrt(GRAVITY * area**3 / width)
    part = _SQUARE / _SQUARE_WITHOUT_FRICTION
    return share(design_share, "design_share") * part * without_friction


def gutter_capacity(gutter: Gutter, design_share: float = DESIGN_SHARE) -> float:
    """The capacity of a gutter by its shape, m3/s.

    Raises
    ------
    ValueError
        Where a size is not above 0 or the share is none.

    Examples
    --------
    >>> [round(1000 * gutter_capacity(gutter), 1) for gutter in GUTTERS]
    [1.4, 2.2, 2.6, 4.6]
    """
    if gutter.shape == "half-round":
        return half_round_capacity(gutter.top_m, design_share)
    return trapezoid_capacity(gutter.top_m, gutter.bottom_m, gutter.depth_m, design_share)


def outlet_head(gutter: Gutter, design_share: float = DESIGN_SHARE) -> float:
    """The depth of water over an outlet while its gutter runs with all that is counted on.

    Water falls free into the outlet, so it passes critical depth there: g A^3 = Q^2 T, A the
    section and T its width at the surface. That is the method the capacities follow. For a flat
    sole it gives 0.46 of the gutter's depth, beside the 0.47 of EN 12056-3 for a short gutter
    (recalled).

    Parameters
    ----------
    gutter : Gutter
    design_share : float
        As of `half_round_capacity`.

    Returns
    -------
    float
        Depth in metres.

    Raises
    ------
    ValueError
        Where a size is not above 0 or the share is none.

    Examples
    --------
    >>> [round(outlet_head(gutter) / gutter.depth_m, 2) for gutter in GUTTERS]
    [0.55, 0.55, 0.5, 0.5]
    """
    flow = gutter_capacity(gutter, design_share)
    low, high = 0.0, gutter.depth_m
    for _ in range(60):
        middle = (low + high) / 2
        area, width = _wet(gutter, middle)
        below = GRAVITY * area**3 < flow**2 * width
        low, high = (middle, high) if below else (low, middle)
    return low


def _wet(gutter: Gutter, depth: float) -> tuple[float, float]:
    """Area of the section filled to a depth, and its width at the surface."""
    if gutter.shape == "half-round":
        radius = gutter.top_m / 2
        half_angle = math.acos(1 - depth / radius)
        area = radius**2 * (half_angle - math.sin(half_angle) * math.cos(half_angle))
        return area, 2 * radius * math.sin(half_angle)
    spread = (gutter.top_m - gutter.bottom_m) / gutter.depth_m
    return gutter.bottom_m * depth + spread * depth**2 / 2, gutter.bottom_m + spread * depth


def outlet_capacity(diameter_m: float, head_m: float) -> float:
    """The flow through a round, sharp-edged outlet in a gutter's sole.

    Q[L/s] = D h^1.5 / 7500 while water falls over its rim, and D^2 h^0.5 / 15000 where it is
    drowned, from h = D / 2 on; D and h in mm. No strainer.

    Parameters
    ----------
    diameter_m : float
        Diameter at the rim, metres.
    head_m : float
        Depth of water over the rim, metres.

    Returns
    -------
    float
        Flow in cubic metres a second.

    Raises
    ------
    ValueError
        Where the diameter is not above 0 or the head is negative.

    References
    ----------
    EN 12056-3, outlets (recalled).

    Examples
    --------
    >>> round(1000 * outlet_capacity(0.075, 0.0375), 2)
    2.3
    """
    diameter = 1000 * positive(diameter_m, "diameter_m")
    head = 1000 * not_negative(head_m, "head_m")
    over_the_rim = diameter * head**1.5 / 7500
    drowned = diameter**2 * head**0.5 / 15000
    return min(over_the_rim, drowned) / 1000
