"""The walks, drives and sidewalks that let-go water crosses, where it freezes.

In: the site and what becomes of the water. Out: pavings, and sentences. Water that crosses a walk
or a drive of one's own is ice in winter and is told; over a public sidewalk roof water is never
led: city codes commonly forbid it (common practice).
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from runoff.discharge.lot import LotGround
from runoff.flow.endings import first_ending, part_up_to
from runoff.flow.model import DownspoutAnswer, PathEnd
from runoff.quantities import format_length
from runoff.site.model import Paving, Site

PUBLIC = "public sidewalk"
ICY = ("walk", "drive", PUBLIC)
# Water spreads this far to either side of its path, metres.
_SPREADS = 0.15
# A sidewalk between a lot's side and its street lies no farther out than this, metres.
_TO_THE_STREET = 6.0
# The grid moves the ends of a drain by no more than this, metres.
_NEAR_DRAIN = 1.0


def paving_crossed(site: Site, answer: DownspoutAnswer) -> tuple[Paving, ...]:
    """The walks, drives and public sidewalks that water crosses on the surface.

    Up to where it ends for the lot; a public sidewalk also beyond the lot's side, along the water's
    path as far as there is ground, and straight out toward a street, which it lies before.
    """
    return _crossed_by(site, answer.path, answer.length, answer.end)


def _crossed_by(
    site: Site, path: NDArray[np.float64], length: float, end: PathEnd
) -> tuple[Paving, ...]:
    own = _on_the_surface(site, part_up_to(path, length))
    onward = own
    if end.kind == "lot side":
        whole = _on_the_surface(site, path)
        onward = shapely.union_all([own, whole, _to_the_street(site, end)])
    return tuple(
        paving
        for paving in site.paving
        if paving.kind in ICY
        and (onward if paving.kind == PUBLIC else own).distance(paving.outline) <= _SPREADS
    )


def over_sidewalk(site: Site, answer: DownspoutAnswer) -> str:
    """What forbids letting water go that crosses a public sidewalk; empty where it crosses none."""
    return _forbidden(paving_crossed(site, answer))


def runs_over_sidewalk(ground: LotGround, x: float, y: float) -> str:
    """As `over_sidewalk`, of water let go at a place, before any storm is run with it there."""
    if all(paving.kind != PUBLIC for paving in ground.site.paving):
        return ""
    path = ground.first_stretch(x, y)
    ending = first_ending(ground.site, path) if len(path) > 1 else None
    return (
        "" if ending is None else _forbidden(_crossed_by(ground.site, path, ending[1], ending[0]))
    )


def _forbidden(crossed: tuple[Paving, ...]) -> str:
    for paving in crossed:
        if paving.kind == PUBLIC:
            return f"over the public sidewalk '{paving.name}', which city codes commonly forbid"
    return ""


def ice_words(site: Site, answer: DownspoutAnswer) -> str:
    """What water freezes on along its way, such as to follow *it*; empty where on nothing."""
    crossed = [f"the {each.kind} '{each.name}'" for each in paving_crossed(site, answer)]
    return f"on its way it crosses {' and '.join(crossed)}: ice in winter" if crossed else ""


def ice_beside(site: Site, answer: DownspoutAnswer) -> str:
    """The same, with what it is let go beside, within the rule `extension_walk_distance`."""
    near = site.rules["extension_walk_distance"]
    told = [ice_words(site, answer)]
    here, crossed = Point(answer.start), paving_crossed(site, answer)
    for paving in site.paving:
        away = paving.outline.distance(here)
        if paving.kind in ICY and paving not in crossed and away < near:
            system = "us" if site.units == "ft" else "metric"
            far = format_length(away, system, 1)
            told.append(f"it is let go {far} from the {paving.kind} '{paving.name}': ice in winter")
    return "; ".join(each for each in told if each)


def _on_the_surface(site: Site, path: NDArray[np.float64]) -> BaseGeometry:
    """A path without its stretches in drains."""
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
    side = (
        next((each for each in site.lot.sides if each.name == end.name), None) if site.lot else None
    )
    if side is None or site.lot is None or end.neighbor != "street":
        return Point(here)
    along = np.asarray(side.line[-1]) - np.asarray(side.line[0])
    out = np.array([along[1], -along[0]]) / np.hypot(*along)
    if site.lot.boundary.contains(Point(here + 0.01 * out)):
        out = -out
    return LineString([here, here + _TO_THE_STREET * out])
