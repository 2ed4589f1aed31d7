"""Where a line may run on the plan, and the ground over it.

In: the lot's ground and the corners of a route, plan metres. Out: a `Route` with the height of the
ground at stations 6 in (0.15 m) apart at most, and wherever it bends or crosses a break line.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import accumulate

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from runoff.discharge.lot import LotGround
from runoff.flow.endings import line_of, part_up_to
from runoff.site.model import Downspout, Outlet, Site
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


def split_like(values: NDArray, parts: Sequence[NDArray]) -> list[NDArray]:
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
