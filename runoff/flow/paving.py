"""The walks, drives and public sidewalks that water on the surface crosses, where it freezes.

In: the site and a path. Out: pavings. Water that crosses a walk or a drive of one's own is ice in
winter and is told; over a public sidewalk roof water is never led: city codes commonly forbid it
(common practice).
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from runoff.flow.endings import part_up_to
from runoff.flow.model import PathEnd
from runoff.site.model import LotSide, Paving, Site

PUBLIC = "public sidewalk"
ICY = ("walk", "drive", PUBLIC)
# Water spreads this far to either side of its path, metres.
SPREADS = 0.15
# A sidewalk between a lot's side and its street lies no farther out than this, metres.
TO_THE_STREET = 6.0
# The grid moves the ends of a drain by no more than this, metres.
_NEAR_DRAIN = 1.0


def paving_crossed(
    site: Site, path: NDArray[np.float64], length: float, end: PathEnd
) -> tuple[Paving, ...]:
    """The walks, drives and public sidewalks that water crosses on the surface.

    Up to where it ends for the lot; a public sidewalk also beyond the lot's side, along the water's
    path as far as there is ground, and straight out toward a street, which it lies before.

    Parameters
    ----------
    path : (k, 2) float64, plan metres
    length : float, metres of it up to `end`
    end : PathEnd
    """
    icy = [paving for paving in site.paving if paving.kind in ICY]
    if not icy or not len(path):
        return ()
    own = onward = on_the_surface(site, part_up_to(path, length))
    if end.kind == "lot side":
        onward = shapely.union_all([own, on_the_surface(site, path), _to_the_street(site, end)])
    return tuple(
        paving
        for paving in icy
        if (onward if paving.kind == PUBLIC else own).distance(paving.outline) <= SPREADS
    )


def public_sidewalks(site: Site) -> list[Paving]:
    """The public sidewalks of a site."""
    return [paving for paving in site.paving if paving.kind == PUBLIC]


def on_the_surface(site: Site, path: NDArray[np.float64]) -> BaseGeometry:
    """A path, (k, 2) plan metres, without its stretches in drains."""
    breaks = [k + 1 for k, (a, b) in enumerate(pairwise(path)) if _in_a_drain(site, a, b)]
    legs = [leg if len(leg) > 1 else np.vstack([leg, leg]) for leg in np.split(path, breaks)]
    return shapely.multilinestrings([LineString(leg) for leg in legs])


def _in_a_drain(site: Site, a: NDArray[np.float64], b: NDArray[np.float64]) -> bool:
    return math.dist(a, b) > _NEAR_DRAIN and any(
        math.dist(each.inlet, a) < _NEAR_DRAIN and math.dist(each.outlet, b) < _NEAR_DRAIN
        for each in site.drains
        if each.outlet is not None
    )


def _to_the_street(site: Site, end: PathEnd) -> BaseGeometry:
    """From where water leaves over a side along a street, straight out; else the place alone."""
    here = np.array([end.x, end.y])
    sides = site.lot.sides if site.lot is not None else ()
    side = next((each for each in sides if each.name == end.name), None)
    if side is None or end.neighbor != "street":
        return Point(here)
    return LineString([here, here + TO_THE_STREET * straight_out(site, side)])


def straight_out(site: Site, side: LotSide) -> NDArray[np.float64]:
    """The unit vector that leads off the lot at right angles to one of its sides."""
    ends = np.array([side.line[0], side.line[-1]])
    along = ends[1] - ends[0]
    out = np.array([along[1], -along[0]]) / np.hypot(*along)
    inward = site.lot is not None and site.lot.boundary.contains(Point(ends.mean(0) + 0.01 * out))
    return -out if inward else out
