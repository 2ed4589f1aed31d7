"""What a leader carries, water falling as a sheet along its wall, and leaders as they are sold.

In: inside sizes in metres and the share of the section that water fills. Out: flow in m3/s.

In: the section of a leader (m), a flow in m3/s. Out: flows in m3/s, or a `Leader`.
"""

from __future__ import annotations

import math

from runoff.quantities.numbers import positive, share
from runoff.quantities.reading import FOOT, GALLON, HOUR, INCH, MINUTE
from runoff.site.model import Leader, LeaderShape

# The constant belongs to inches and US gallons a minute, so it is used in those units.
_WYLY_EATON = 27.8
_INCH = float(INCH)
_GALLON_PER_MINUTE = float(GALLON / MINUTE)


def leader_capacity(diameter_m: float, fill_ratio: float) -> float:
    """The flow that a round leader carries with a share of its section filled.

    Q[gpm] = 27.8 r^(5/3) d[in]^(8/3). The share r decides how safe the figure is: plumbing codes
    take 7/24 or 1/3. Fuller than that, the sheet breaks up and water comes down in slugs, which
    the formula knows nothing of.

    Parameters
    ----------
    diameter_m : float
        Inside diameter in metres.
    fill_ratio : float
        Share of the section that water fills, above 0 and at most 1; the rule `leader_fill`.

    Returns
    -------
    float
        Flow in cubic metres a second.

    Raises
    ------
    ValueError
        Where the diameter is not above 0 or the ratio is not a share.

    References
    ----------
    Wyly, R. S. & Eaton, H. N. (1961). Capacities of stacks in sanitary drainage systems for
    buildings. National Bureau of Standards Monograph 31.

    Examples
    --------
    A 3 in leader, 7/24 full, in US gallons a minute:

    >>> round(leader_capacity(0.0762, 7 / 24) / 6.309e-5)
    67
    """
    inches = positive(diameter_m, "diameter_m") / _INCH
    ratio = share(fill_ratio, "fill_ratio")
    return _WYLY_EATON * ratio ** (5 / 3) * inches ** (8 / 3) * _GALLON_PER_MINUTE


def equal_area_diameter(width_m: float, depth_m: float) -> float:
    """The inside diameter in metres of the round leader with the section of a rectangular one.

    Raises
    ------
    ValueError
        Where a side is not above 0.

    Examples
    --------
    >>> round(equal_area_diameter(0.0508, 0.1016) / 0.0254, 2)
    3.19
    """
    area = positive(width_m, "width_m") * positive(depth_m, "depth_m")
    return math.sqrt(4 * area / math.pi)


def rectangular_leader_capacity(width_m: float, depth_m: float, fill_ratio: float) -> float:
    """The flow that a rectangular leader carries, as the round one of equal area.

    No formula of its own is published; codes allow other shapes by equal area (Chicago plumbing
    code 18-29-1106.2). The same area has a longer wall in a rectangle, so a sheet of the same
    section is thinner there and slower: the figure is the round one's, not a measured one.

    Parameters
    ----------
    width_m, depth_m : float
        Inside sides in metres.
    fill_ratio : float
        As of `leader_capacity`.

    Returns
    -------
    float
        Flow in cubic metres a second.

    Raises
    ------
    ValueError
        Where a side is not above 0 or the ratio is not a share.

    Examples
    --------
    A 2 x 3 in leader carries less than a 3 in round one:

    >>> rectangular_leader_capacity(0.0508, 0.0762, 7 / 24) < leader_capacity(0.0762, 7 / 24)
    True
    """
    return leader_capacity(equal_area_diameter(width_m, depth_m), fill_ratio)


# What shops sell; common practice, no source.
_ROUND_IN = (2, 3, 4, 5, 6)
_RECTANGULAR_IN = ((2, 3), (3, 4), (4, 5))
# An inspection guide: 1,200 sq ft of roof at 1 in/h for each square inch of leader.
_THUMB_M_PER_S = 1200 * float(FOOT**2 * INCH / HOUR) / float(INCH**2)


def leader_sizes(shape: LeaderShape) -> tuple[Leader, ...]:
    """The sizes of a shape that are sold, the small ones first.

    Examples
    --------
    >>> [round(leader.depth / 0.0254) for leader in leader_sizes("rectangular")]
    [3, 4, 5]
    """
    sizes = [(size, size) for size in _ROUND_IN] if shape == "round" else _RECTANGULAR_IN
    inch = float(INCH)
    return tuple(Leader(shape, width * inch, depth * inch) for width, depth in sizes)


def leader_diameter(leader: Leader) -> float:
    """Inside diameter of a round leader, of a rectangular one that of equal area; metres.

    Examples
    --------
    >>> round(leader_diameter(Leader("rectangular", 0.0508, 0.0762)) / 0.0254, 2)
    2.76
    """
    if leader.shape == "round":
        return leader.width
    return equal_area_diameter(leader.width, leader.depth)


def leader_flow(leader: Leader, fill_ratio: float) -> float:
    """The flow that a leader carries with a share of its section filled, m3/s.

    Raises
    ------
    ValueError
        Where a side is not above 0 or the ratio is not a share.

    Examples
    --------
    A 3 in round leader, in US gallons a minute:

    >>> round(leader_flow(Leader("round", 0.0762, 0.0762), 7 / 24) / 6.309e-5)
    67
    """
    if leader.shape == "round":
        return leader_capacity(leader.width, fill_ratio)
    return rectangular_leader_capacity(leader.width, leader.depth, fill_ratio)


def choose_leader(flow_m3_per_s: float, shape: LeaderShape, fill_ratio: float) -> Leader | None:
    """The smallest leader sold of a shape that carries a flow; None where none does.

    Examples
    --------
    >>> round(choose_leader(0.005, "round", 7 / 24).width / 0.0254)
    4
    """
    sizes = leader_sizes(shape)
    return next((size for size in sizes if leader_flow(size, fill_ratio) >= flow_m3_per_s), None)


def rule_of_thumb_flow(leader: Leader) -> float:
    """What a rule of thumb would let a leader carry, m3/s: to show, never to size by.

    1,200 sq ft of roof at 1 in/h for each square inch of leader (an inspection guide), the same
    as 150 sq ft at 8 in/h (an old copper-flashing manual). At 3 in it is a third above
    `leader_capacity` 7/24 full.

    Examples
    --------
    A 3 in round leader, in US gallons a minute:

    >>> round(rule_of_thumb_flow(Leader("round", 0.0762, 0.0762)) / 6.309e-5)
    88
    """
    diameter = leader_diameter(leader)
    return _THUMB_M_PER_S * math.pi / 4 * diameter**2
