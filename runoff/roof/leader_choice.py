"""Leaders as they are sold: what one of a section carries, its name, and the size a flow needs.

In: the section of a leader (m), a flow in m3/s. Out: flows in m3/s, or a `Leader`.
"""

from __future__ import annotations

import math

from runoff.quantities import format_length
from runoff.quantities.units import FOOT, HOUR, INCH
from runoff.roof.leaders import equal_area_diameter, leader_capacity, rectangular_leader_capacity
from runoff.site.model import Leader, LeaderShape

# What shops sell; common practice, no source.
_ROUND_IN = (2, 3, 4, 5, 6)
_RECTANGULAR_IN = ((2, 3), (3, 4), (4, 5))
# An inspection guide: 1,200 sq ft of roof at 1 in/h for each square inch of leader.
_THUMB_M_PER_S = 1200 * float(FOOT**2 * INCH / HOUR) / float(INCH**2)


def leader_sizes(shape: LeaderShape) -> tuple[Leader, ...]:
    """The sizes of a shape that are sold, the small ones first.

    Examples
    --------
    >>> [leader_name(leader) for leader in leader_sizes("rectangular")]
    ['2 in x 3 in rectangular', '3 in x 4 in rectangular', '4 in x 5 in rectangular']
    """
    sizes = [(size, size) for size in _ROUND_IN] if shape == "round" else _RECTANGULAR_IN
    inch = float(INCH)
    return tuple(Leader(shape, width * inch, depth * inch) for width, depth in sizes)


def leader_name(leader: Leader, system: str = "us") -> str:
    """A leader by its size and shape, in words.

    Examples
    --------
    >>> leader_name(Leader("round", 0.0762, 0.0762))
    '3 in round'
    """
    width, depth = (format_length(side, system) for side in (leader.width, leader.depth))
    return f"{width} round" if leader.shape == "round" else f"{width} x {depth} rectangular"


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
    >>> leader_name(choose_leader(0.005, "round", 7 / 24))
    '4 in round'
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
