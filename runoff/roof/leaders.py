"""What a leader carries: water falling as a sheet along its wall, air in the middle.

In: inside sizes in metres and the share of the section that water fills. Out: flow in m3/s.
"""

from __future__ import annotations

import math

from runoff.quantities.units import GALLON, INCH, MINUTE
from runoff.roof.amounts import positive, share

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
    inches = positive("diameter_m", diameter_m) / _INCH
    ratio = share("fill_ratio", fill_ratio)
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
    area = positive("width_m", width_m) * positive("depth_m", depth_m)
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
