"""Where a line may run on the plan, the ground over it, and what it meets on its way.

In: the lot's ground and the corners of a route, plan metres. Out: a `Route` with the height of the
ground at stations 6 in (0.15 m) apart at most, and wherever it bends or crosses a break line.

In: the lot's ground and a route. Out: stations (m) with what stops it there. Lengths
are metres; `half_m` is half of the trench's width.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import accumulate
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points, substring, unary_union

from runoff.discharge.ground import LotGround
from runoff.discharge.line.apron import Apron
from runoff.discharge.line.record import Crossing
from runoff.discharge.reasons import NotHere, Stopped
from runoff.flow.paths import OUTLET_REACH, line_of, part_up_to
from runoff.site.model import OTHERS_GROUND, Downspout, LotSide, Outlet, Site
from runoff.terrain.model import Terrain

Span = tuple[float, float]
_SAME = 1e-3  # metres; stations nearer than this are one
_SPACING = 0.15  # metres between stations
DIRECTIONS = 72


@dataclass(frozen=True)
class Route:
    """A route on the plan and the ground along it.

    Parameters
    ----------
    points : (k, 2) plan metres, its corners
    drawn : bool
        Whether the user drew it.
    outlet : Outlet or None
        The place that it was aimed at.
    stations_m, ground_m : (n,) metres
    xy : (n, 2) plan metres at the stations
    leaves_survey : bool
        Whether ground was surveyed for less than its whole length; it was cut there.
    """

    points: NDArray[np.float64]
    drawn: bool
    outlet: Outlet | None
    stations_m: NDArray[np.float64]
    xy: NDArray[np.float64]
    ground_m: NDArray[np.float64]
    leaves_survey: bool

    @property
    def length_m(self) -> float:
        """Length up to its last station with ground."""
        return float(self.stations_m[-1])

    @cached_property
    def line(self) -> LineString:
        """The route up to its last station, as a line."""
        return line_of(part_up_to(self.points, self.length_m))

    @property
    def corners_m(self) -> NDArray[np.float64]:
        """Stations of the corners between its ends."""
        return _lengths(self.points)[1:-1]

    def at(self, station_m: float) -> tuple[float, float]:
        """The place on the plan at a station."""
        point = line_of(self.points).interpolate(station_m)
        return float(point.x), float(point.y)


def routes_through(
    ground: LotGround,
    every: Sequence[NDArray[np.float64]],
    drawn: bool = False,
    outlet: Outlet | None = None,
) -> list[Route | None]:
    """Sample the ground along routes, all at once; each is cut where the survey ends.

    Parameters
    ----------
    every : sequence of (k, 2) plan metres, k at least 2, from the downspout's foot

    Returns
    -------
    list of Route or None
        None where no ground is known at its start.
    """
    if not len(every):
        return []
    stations, places = [], []
    for points, breaks in zip(every, _break_line_stations(ground.site, every), strict=True):
        corners = _lengths(points)
        count = max(2, int(np.ceil(corners[-1] / _SPACING)) + 1)
        stations.append(_merged(np.linspace(0.0, corners[-1], count), [*corners, *breaks]))
        along = [np.interp(stations[-1], corners, points[:, i]) for i in (0, 1)]
        places.append(np.column_stack(along))
    heights = split_like(ground.terrain.heights(np.concatenate(places)), stations)
    return [
        _cut_at_the_survey(Route(points, drawn, outlet, x, xy, z, False))
        for points, x, xy, z in zip(every, stations, places, heights, strict=True)
    ]


def _cut_at_the_survey(route: Route) -> Route | None:
    known = np.isfinite(route.ground_m)
    if not known[:2].all():
        return None
    if known.all():
        return route
    n = int(np.argmin(known))
    x, xy, z = (each[:n] for each in (route.stations_m, route.xy, route.ground_m))
    return replace(route, stations_m=x, xy=xy, ground_m=z, leaves_survey=True)


def split_like(values: NDArray[Any], parts: Sequence[NDArray[Any]]) -> list[NDArray[Any]]:
    """Values of all of some parts, part by part."""
    ends = list(accumulate(len(each) for each in parts))
    return [values[end - len(each) : end] for each, end in zip(parts, ends, strict=True)]


def _lengths(points: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def _merged(regular: NDArray[np.float64], marks: Iterable[float]) -> NDArray[np.float64]:
    """Regular stations with the marks among them, none closer than a millimetre to another."""
    wanted = np.unique(np.clip(list(marks), regular[0], regular[-1]))
    wanted = wanted[np.diff(wanted, prepend=-np.inf) > _SAME]
    nearest = np.abs(regular[:, None] - wanted[None, :]).min(axis=1)
    return np.sort(np.concatenate([regular[nearest > _SAME], wanted]))


def _break_line_stations(site: Site, every: Sequence[NDArray[np.float64]]) -> list[list[float]]:
    """Where each route crosses a break line or first runs along it, metres."""
    found: list[list[float]] = [[] for _ in every]
    lines = np.array([LineString(points) for points in every])
    for each in site.break_lines:
        bend = LineString(each.line)
        for number in np.flatnonzero(shapely.intersects(bend, lines)):
            line = lines[number]
            meets = line.intersection(bend)
            for part in getattr(meets, "geoms", [meets]):
                if not part.is_empty:
                    found[number].append(float(line.project(Point(part.coords[0]))))
    return found


def straight_ends(terrain: Terrain, start: tuple[float, float]) -> NDArray[np.float64]:
    """Where straight routes in every direction would leave the survey's rectangle, (72, 2).

    The first runs up the plan, the others every 5 degrees clockwise.
    """
    left, right, bottom, top = terrain.grid.extent
    reach = float(np.hypot(right - left, top - bottom))
    bearing = np.radians(np.arange(DIRECTIONS) * 360 / DIRECTIONS)
    return np.array(start) + reach * np.column_stack([np.sin(bearing), np.cos(bearing)])


def nearest_of(outlet: Outlet, start: tuple[float, float]) -> NDArray[np.float64]:
    """The point of an outlet's place that is nearest to the start, (2,) plan metres."""
    point = nearest_points(outlet.place, Point(start))[0]
    return np.array([point.x, point.y])


def drawn_points(downspout: Downspout) -> NDArray[np.float64]:
    """The corners of the drawn route, the downspout's foot before them, (k, 2) plan metres."""
    foot = np.array([[downspout.x, downspout.y]])
    drawn = np.empty((0, 2)) if downspout.route is None else downspout.route
    points = np.vstack([foot, drawn])
    return points[np.concatenate([[True], np.hypot(*np.diff(points, axis=0).T) > _SAME])]


def spans_within(line: LineString, area: BaseGeometry) -> list[Span]:
    """From and to stations (m) of the stretches of a line inside an area, in order."""
    return spans_of_each(np.array([line]), np.array([area]))[0]


def spans_of_each(lines: NDArray[np.object_], areas: NDArray[np.object_]) -> list[list[Span]]:
    """As `spans_within`, of many lines at once.

    Parameters
    ----------
    lines : (n,) array of LineString
    areas : (n,) or (1,) array of geometries: one for each, or one for all

    Examples
    --------
    >>> across = np.array([LineString([(0, y), (10, y)]) for y in (0, 5)])
    >>> spans_of_each(across, np.array([shapely.box(2, -1, 4, 1)]))
    [[(2.0, 4.0)], []]
    """
    found: list[list[Span]] = [[] for _ in lines]
    # Asked of the area, which may be prepared.
    meeting = np.flatnonzero(shapely.intersects(areas, lines))
    areas = areas if len(areas) == 1 else areas[meeting]
    pieces, whose = shapely.get_parts(
        shapely.intersection(lines[meeting], areas), return_index=True
    )
    at, piece = shapely.get_coordinates(pieces, return_index=True)
    if not len(piece):
        return found
    bounds = np.flatnonzero(np.diff(piece))
    first, last = np.append(0, bounds + 1), np.append(bounds, len(piece) - 1)
    own = meeting[whose[piece[first]]]
    ends = shapely.line_locate_point(lines[own], shapely.points(at[[first, last]]))
    stretches = zip(ends.min(axis=0).tolist(), ends.max(axis=0).tolist(), strict=True)
    for number, stretch in zip(own.tolist(), stretches, strict=True):
        found[number].append(stretch)
    return [sorted(each) for each in found]


# A line must be clear of its wall after this many times the distance it keeps: a run straight out,
# or at up to 45 degrees to either side of that.
_CLEAR = math.sqrt(2.0)
_SLACK = 0.01
_TOUCHES = 0.05
# No trench of a lot is so deep that a footing farther off than this (m) matters.
_FOOTING_REACH = 6.0


@dataclass(frozen=True)
class Stop:
    """Where a route cannot go on (station, m), and why; `at_edge` where the lot or survey ends."""

    station_m: float
    why: Stopped
    at_edge: bool = False


@dataclass(frozen=True)
class Footings:
    """The lowest that a trench's bottom may lie along a route beside the footings.

    `lowest_m` is (n,) metres, -inf where no footing is near; `building` (n,) says whose footing
    that is, an index into ``site.buildings``, -1 for none; `assumed` names the buildings whose
    footing's depth was not given.
    """

    lowest_m: NDArray[np.float64]
    building: NDArray[np.int64]
    assumed: tuple[str, ...]


@dataclass(frozen=True)
class Obstacles:
    """What stops a line on a lot, made ready to be asked of many lines.

    `undiggable` are areas with the reason; `under`, `beside` are by building the area that no line
    runs under, and the one that it must be clear of; `lot` is what it must not leave, `sides` its
    sides as lines.
    """

    ground: LotGround
    half_m: float
    undiggable: tuple[tuple[BaseGeometry, Stopped], ...]
    under: tuple[BaseGeometry, ...]
    beside: tuple[BaseGeometry, ...]
    lot: BaseGeometry | None
    sides: tuple[LineString, ...]


def building_distance(site: Site) -> float:
    """How far a line stays from buildings, metres: less where its pipe may lie under one."""
    approved = site.pipe.wall == "smooth"
    return site.rules["line_building_distance_approved" if approved else "line_building_distance"]


def obstacles_on(ground: LotGround, half_m: float) -> Obstacles:
    """Gather what stops a trench of half this width on a lot."""
    return ground.once(("obstacles", half_m), lambda: _gathered(ground, half_m))


def _gathered(ground: LotGround, half_m: float) -> Obstacles:
    site = ground.site
    keeps = building_distance(site)
    found = Obstacles(
        ground=ground,
        half_m=half_m,
        undiggable=tuple(may_not_be_dug(site, half_m)),
        under=tuple(each.outline.buffer(-_TOUCHES) for each in site.buildings),
        beside=tuple(each.outline.buffer(keeps - _SLACK) for each in site.buildings),
        lot=site.lot.boundary.buffer(_SLACK) if site.lot is not None else None,
        sides=tuple(LineString(side.line) for side in site.lot.sides) if site.lot else (),
    )
    shapely.prepare([area for area, _ in found.undiggable])
    shapely.prepare([*found.under, *found.beside, found.lot])
    return found


def may_not_be_dug(site: Site, half_m: float) -> list[tuple[BaseGeometry, Stopped]]:
    """Keep-outs that no trench may touch, widened by half the trench, each with the reason."""
    return [
        (each.area.buffer(half_m), Stopped("crosses keep-out", each.name, each.kind))
        for each in site.keep_outs
        if each.kind in ("septic field", "well") or each.allowed == "nothing"
    ]


def stops_on(
    obstacles: Obstacles, lines: NDArray[np.object_], outlet: Outlet | None
) -> list[Stop | None]:
    """The first station at which each route must not go on; None where all of it can be dug.

    Parameters
    ----------
    obstacles : Obstacles
    lines : (n,) array of LineString
    outlet : Outlet or None
        The place that they were aimed at: they may then leave the lot over a side that is no
        neighbor's.
    """
    stops: list[list[Stop]] = [[] for _ in lines]
    for area, why in obstacles.undiggable:
        for found, spans in zip(stops, spans_of_each(lines, np.array([area])), strict=True):
            found += [Stop(spans[0][0], why)] if spans else []
    for number in range(len(obstacles.under)):
        under, beside = (
            spans_of_each(lines, np.array([areas[number]]))
            for areas in (obstacles.under, obstacles.beside)
        )
        for found, inside, near in zip(stops, under, beside, strict=True):
            stop = _at_building(obstacles, number, inside, near)
            found += [stop] if stop else []
    if obstacles.lot is not None:
        off = spans_of_each(lines, shapely.difference(lines, obstacles.lot))
        for found, line, spans in zip(stops, lines, off, strict=True):
            first = min((stop.station_m for stop in found), default=math.inf)
            outside = [start for start, _ in spans if start < first]
            stop = _off_the_lot(obstacles, line, outside, outlet)
            found += [stop] if stop else []
    return [min(found, key=lambda stop: stop.station_m, default=None) for found in stops]


def _at_building(
    obstacles: Obstacles, number: int, inside: list[Span], near: list[Span]
) -> Stop | None:
    """Where a route crosses a building, or runs near it other than in leaving it."""
    site = obstacles.ground.site
    building, keeps = site.buildings[number], building_distance(site)
    if inside:
        return Stop(inside[0][0], Stopped("under a building", building.name))
    if near and near[0][0] <= _SLACK:
        first = near.pop(0)
        if first[1] > keeps * _CLEAR + _TOUCHES:
            along = Stopped(
                "along a building", building.name, clear_m=keeps, within_m=keeps * _CLEAR
            )
            return Stop(first[0], along)
    if not near:
        return None
    return Stop(near[0][0], Stopped("near a building", building.name, clear_m=keeps))


def _off_the_lot(
    obstacles: Obstacles, line: LineString, outside: list[float], outlet: Outlet | None
) -> Stop | None:
    """Where a route first leaves the lot over a side that it must not pass."""
    lot = obstacles.ground.site.lot
    if lot is None:
        return None
    for start in outside:
        side = lot.sides[int(shapely.distance(obstacles.sides, line.interpolate(start)).argmin())]
        if outlet is None or side.neighbor in OTHERS_GROUND:
            return Stop(start, Stopped("leaves the lot", side.name), at_edge=True)
    return None


def paving_on(site: Site, line: LineString) -> list[tuple[float, float, int]]:
    """From and to stations of every paving that a route passes, and its index in the site."""
    return paving_on_each(site, np.array([line]))[0]


def paving_on_each(site: Site, lines: NDArray[np.object_]) -> list[list[tuple[float, float, int]]]:
    """As `paving_on`, of (n,) lines at once."""
    found: list[list[tuple[float, float, int]]] = [[] for _ in lines]
    for number, each in enumerate(site.paving):
        spans = spans_of_each(lines, np.array([each.outline]))
        for passed, own in zip(found, spans, strict=True):
            passed += [(start, end, number) for start, end in own if end - start > _SLACK]
    return [sorted(passed) for passed in found]


def cover_under(site: Site, number: int) -> float:
    """Least cover under a paving, metres: a drive's wheels ask for more."""
    least = site.rules["line_cover"]
    if site.paving[number].kind == "drive":
        return max(least, site.rules["line_cover_private_drive"])
    return least


def crossings_on(site: Site, route: Route, length_m: float, half_m: float) -> list[Crossing]:
    """What a route passes up to `length_m`: paving, keep-outs, easements, the lot's side."""
    line = substring(route.line, 0.0, length_m)
    found = []
    for start, end, number in paving_on(site, line):
        paving = site.paving[number]
        cover = cover_under(site, number)
        found.append(Crossing(start, end, paving.name, paving.kind, cover_m=cover))
    for keep_out in site.keep_outs:
        for start, end in spans_within(line, keep_out.area.buffer(half_m)):
            found.append(Crossing(start, end, keep_out.name, keep_out.kind, keep_out.allowed))
    for easement in site.easements:
        for start, end in spans_within(line, easement.area):
            found.append(Crossing(start, end, easement.name, "easement"))
    if site.lot is not None:
        for start, end in spans_within(line, line.difference(site.lot.boundary.buffer(_SLACK))):
            found.append(Crossing(start, end, "", "off the lot"))
    return sorted(found, key=lambda each: each.start_m)


def apron_beyond(
    site: Site, apron: Apron, end: tuple[float, float], toward: tuple[float, float]
) -> tuple[LotSide, ...]:
    """The sides of the lot that a stone apron would reach over.

    Parameters
    ----------
    apron : Apron
    end : (x, y)
        Where the pipe lets its water go, plan metres.
    toward : (x, y)
        The direction in which it flows out, of any length above 0.
    """
    if site.lot is None:
        return ()
    far = np.array(end) + np.array(toward) / math.hypot(*toward) * apron.length_m
    aside = np.array([-toward[1], toward[0]]) / math.hypot(*toward) / 2
    stone = Polygon(
        [
            place + side * wide * aside
            for place, wide, side in (
                (end, apron.width_m, 1),
                (end, apron.width_m, -1),
                (far, apron.end_width_m, -1),
                (far, apron.end_width_m, 1),
            )
        ]
    )
    if site.lot.boundary.buffer(_SLACK).contains(stone):
        return ()
    return tuple(side for side in site.lot.sides if LineString(side.line).intersects(stone))


def ends_in(site: Site, x: float, y: float) -> Outlet | None:
    """The outlet that takes water let go here, as far as outlets reach."""
    here = Point(x, y)
    near = [each for each in site.outlets if each.place.distance(here) <= OUTLET_REACH]
    return min(near, key=lambda each: each.place.distance(here), default=None)


@dataclass(frozen=True)
class Ends:
    """Where no water may come out whatever the ground does, and where outlets take it."""

    barred: BaseGeometry
    takes: BaseGeometry


def ends_of(ground: LotGround) -> Ends:
    """Gather the places of a lot that bar water from coming out, and those that take it."""
    return ground.once("ends of lines", lambda: _ends_of(ground.site))


def _ends_of(site: Site) -> Ends:
    barred = unary_union([area for area, _ in _no_outlet_on(site)])
    takes = unary_union([each.place.buffer(OUTLET_REACH) for each in site.outlets])
    shapely.prepare([barred, takes])
    return Ends(barred, takes)


def may_end(ground: LotGround, ends: Ends, xy: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether water may be let go at each of (n, 2) places, before any trace confirms it."""
    row, col, held = ground.flow.grid.cells_of(xy)
    safe = held & (ground.safe_area.code[row, col] == 0)
    safe[safe] = ~shapely.intersects_xy(ends.barred, *xy[safe].T)
    lot = ground.site.lot
    if lot is not None:
        safe[safe] = shapely.contains_xy(lot.boundary, *xy[safe].T)
    return safe | shapely.contains_xy(ends.takes, *xy.T)


def why_not_end(ground: LotGround, x: float, y: float) -> NotHere | None:
    """Why water may not be let go at a place; None where it may, before any trace confirms it."""
    if ends_in(ground.site, x, y) is not None:
        return None
    here = Point(x, y)
    for area, why in ground.once("no outlet on", lambda: _no_outlet_on(ground.site)):
        if area.intersects(here):
            return why
    lot = ground.site.lot
    if lot is not None and not lot.boundary.contains(here):
        return NotHere("off the lot")
    reason = ground.reason_against(x, y)
    return None if reason == "safe" else NotHere(reason)


def _no_outlet_on(site: Site) -> list[tuple[BaseGeometry, NotHere]]:
    """Where no water may come out whatever the ground does, each with the reason."""
    ice, side_keeps = site.rules["line_walk_distance"], site.rules["line_lot_line_distance"]
    barred: list[tuple[BaseGeometry, NotHere]] = [
        (each.outline, NotHere("on paving", each.name, each.kind)) for each in site.paving
    ]
    barred += [(each.area, NotHere("in keep-out", each.name, each.kind)) for each in site.keep_outs]
    barred += [
        (each.outline.buffer(ice), NotHere("ices paving", each.name, each.kind, ice))
        for each in site.paving
    ]
    for side in site.lot.sides if site.lot is not None else ():
        if side.neighbor in OTHERS_GROUND:
            area = LineString(side.line).buffer(side_keeps)
            barred.append((area, NotHere("near lot side", side.name, within_m=side_keeps)))
    return barred


def footings_along(ground: LotGround, routes: Sequence[Route], half_m: float) -> list[Footings]:
    """How deep a trench may be along routes: nothing below 45 degrees from a footing's bottom.

    The line falls outward from the footing's bottom edge, taken plumb below the wall, and the
    trench's nearer side counts. A footing's bottom lies its depth below the ground at the wall.
    """
    if not routes:
        return []
    site, rules = ground.site, ground.site.rules
    points = shapely.points(np.concatenate([route.xy for route in routes]))
    lowest = np.full(len(points), -np.inf)
    whose = np.full(len(points), -1, dtype=np.int64)
    assumed = []
    for number, building in enumerate(site.buildings):
        depth = building.footing_depth
        if depth is None:
            depth = rules["footing_depth_assumed"]
            assumed.append(building.name)
        away = shapely.distance(building.outline.boundary, points)
        near = np.flatnonzero(away < _FOOTING_REACH)
        if not len(near):
            continue
        wall = building.outline.exterior
        foot = shapely.line_interpolate_point(wall, shapely.line_locate_point(wall, points[near]))
        bottom = ground.terrain.heights(shapely.get_coordinates(foot)) - depth
        limit = bottom - rules["footing_line"] * np.maximum(away[near] - half_m, 0.0)
        lower = np.nan_to_num(limit, nan=-np.inf) > lowest[near]
        lowest[near[lower]] = limit[lower]
        whose[near[lower]] = number
    parts = [route.stations_m for route in routes]
    return [
        Footings(low, building, tuple(assumed))
        for low, building in zip(split_like(lowest, parts), split_like(whose, parts), strict=True)
    ]
