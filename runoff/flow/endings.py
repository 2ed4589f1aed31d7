"""Where a path ends, in the words of the lot: its sides, outlets, low spots, the survey's edge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, distance, line_locate_point, points
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring, unary_union

from runoff.flow.model import PathEnd
from runoff.rules import RULES
from runoff.site.model import Site

# An outlet takes water that passes this close to where it was drawn, metres.
OUTLET_REACH = 0.5


@dataclass(frozen=True)
class NearWalls:
    """How a path lies to the foundations, metres; `along`, `returns` as in `DownspoutAnswer`."""

    within_near: float
    within_reach: float
    along: float
    returns: bool


def line_of(path: NDArray[np.float64]) -> LineString:
    """A path as a line; one point is a line without length."""
    return LineString(path if len(path) > 1 else np.vstack([path, path]))


def first_ending(site: Site, path: NDArray[np.float64]) -> tuple[PathEnd, float] | None:
    """Where the path meets an outlet, or leaves the lot for good; None where it does neither.

    Returns the end and the length of path (m) up to it.
    """
    line = line_of(path)
    found = [each for each in (_at_outlet(site, line), _over_a_side(site, line)) if each]
    return min(found, key=lambda each: each[1]) if found else None


def _at_outlet(site: Site, line: LineString) -> tuple[PathEnd, float] | None:
    best = None
    for outlet in site.outlets:
        station = _first_within(line, outlet.place, OUTLET_REACH)
        if station is not None and (best is None or station < best[1]):
            at = line.interpolate(station)
            best = PathEnd("outlet", outlet.name, at.x, at.y, outlet.kind), station
    return best


def _first_within(line: LineString, place: BaseGeometry, reach: float) -> float | None:
    meets = line.intersection(place.buffer(reach))
    if meets.is_empty:
        return None
    parts = getattr(meets, "geoms", [meets])
    return min(
        float(line_locate_point(line, Point(part.coords[0])))
        for part in parts
        if part.geom_type in ("Point", "LineString")
    )


def _over_a_side(site: Site, line: LineString) -> tuple[PathEnd, float] | None:
    """The last crossing of the lot's boundary, for a path that ends outside it."""
    lot = site.lot
    if lot is None or lot.boundary.covers(Point(line.coords[-1])):
        return None
    inside = line.intersection(lot.boundary)
    parts = [p for p in getattr(inside, "geoms", [inside]) if not p.is_empty]
    if not parts:
        return None
    station = max(float(line_locate_point(line, Point(part.coords[-1]))) for part in parts)
    at = line.interpolate(station)
    over = side_at(site, at.x, at.y, np.inf)
    return None if over is None else (over, station)


def side_at(site: Site, x: float, y: float, within: float) -> PathEnd | None:
    """The end over the side of the lot nearest to a place, where one lies within so many metres."""
    if site.lot is None:
        return None
    at = Point(x, y)
    side = min(site.lot.sides, key=lambda side: LineString(side.line).distance(at))
    if LineString(side.line).distance(at) > within:
        return None
    return PathEnd("lot side", side.name, x, y, side.neighbor)


def part_up_to(path: NDArray[np.float64], length: float) -> NDArray[np.float64]:
    """The first `length` metres of a path.

    Examples
    --------
    >>> part_up_to(np.array([[0.0, 0.0], [4.0, 0.0]]), 3.0)
    array([[0., 0.],
           [3., 0.]])
    """
    if len(path) == 2 and length > 0:
        whole = float(np.hypot(*(path[1] - path[0])))
        if length >= whole:
            return np.array(path, dtype=np.float64)
        return np.array([path[0], path[0] + length / whole * (path[1] - path[0])])
    return np.array(substring(line_of(path), 0.0, length).coords)


def near_walls(site: Site, path: NDArray[np.float64]) -> NearWalls:
    """How much of a path lies near the foundations, and whether it runs along or back to one.

    A stricter `near_foundation` never makes it look better: what comes back by the rule's usual
    distance, or by any between that and the one in force, comes back.
    """
    line = line_of(path)
    if not site.buildings:
        return NearWalls(0.0, 0.0, 0.0, False)
    near, usual = site.rules["near_foundation"], RULES["near_foundation"].value
    walls = unary_union([building.outline for building in site.buildings])
    within = line.intersection(walls.buffer(near)).length
    away = distance(points(line.coords), walls)
    straight = max(min(near, float(away.max())) - min(near, float(away[0])), 0.0)
    return NearWalls(
        within,
        line.intersection(walls.buffer(site.rules["foundation_reach"])).length,
        max(within - straight, 0.0),
        any(_comes_back(line, walls.buffer(out)) for out in (*np.arange(usual, near, 0.3), near)),
    )


def _comes_back(line: LineString, close: BaseGeometry) -> bool:
    inside = line.intersection(close)
    stays = [p for p in getattr(inside, "geoms", [inside]) if p.length > 0.05]
    return len(stays) > (1 if close.covers(Point(line.coords[0])) else 0)
