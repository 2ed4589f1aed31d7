"""Where a swale may run on a lot: heights, room and safe ground at any place of it, and the
lines that are tried.

In: the lot's ground. Out: arrays over its cells, sampled where asked; and the name of what is in
the way at a place.

In: the foot of a downspout, the wall it stands at, and how far out the swale begins. Out: lines of
plan positions with at most one bend beyond the swale's head.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from runoff.discharge.ground import LotGround, nearest_building
from runoff.discharge.reasons import InTheWay, NotPossible, NoWayOut, Undercuts
from runoff.discharge.routes import split_like
from runoff.discharge.swale.cut import Cut, corner_stations, footprint
from runoff.foundation.safe_area import places_that_take
from runoff.foundation.walls import WELLS, Wall, walls_of, well_footprint
from runoff.site.model import Downspout, KeepOut, Site

Array = NDArray[np.float64]
# Pipes and cables that may be dug over by hand lie deeper than a swale.
_MAY_PASS_OVER = ("utility", "private line")
_BESIDE_WELLS = 0.3  # metres left undisturbed around a well's rim


@dataclass(frozen=True)
class Hindering:
    """Something that a swale must not touch, and what it is; the ground off the lot is one."""

    shape: BaseGeometry
    why: InTheWay | NoWayOut


@dataclass(frozen=True)
class Places:
    """The lot's cells as a swale meets them, (rows, cols); lengths in metres.

    `room` is how far from a cell anything lies that it must not touch; `walls` how far the nearest
    building does; `safe` where water may be let go or is taken.
    """

    ground: LotGround
    in_the_way: tuple[Hindering, ...]
    room: Array
    walls: Array
    safe: NDArray[np.bool_]

    def heights(self, at: Array) -> Array:
        """Heights (m) of the ground at (n, 2) plan positions."""
        return self.ground.terrain.heights(at)

    def sample(self, values: NDArray[Any], at: Array, outside: float | bool) -> NDArray[Any]:
        """The values of the cells that hold (n, 2) plan positions."""
        grid = self.ground.flow.grid
        col = np.floor((at[:, 0] - grid.x0) / grid.cell_size).astype(np.int64)
        row = grid.rows - 1 - np.floor((at[:, 1] - grid.y0) / grid.cell_size).astype(np.int64)
        held = (col >= 0) & (col < grid.cols) & (row >= 0) & (row < grid.rows)
        inside = values[np.where(held, row, 0), np.where(held, col, 0)]
        return np.where(held, inside, outside)

    def why_not(self, x: float, y: float) -> InTheWay | NoWayOut:
        """What is in the way nearest to a place."""
        if not self.in_the_way or np.isnan(self.ground.height(x, y)):
            return NoWayOut("survey")
        away = shapely.distance([each.shape for each in self.in_the_way], Point(x, y))
        return self.in_the_way[int(away.argmin())].why


def places_of(ground: LotGround) -> Places:
    """Make a lot's ground ready for a swale."""
    return ground.once("swale places", lambda: _made_ready(ground))


def _made_ready(ground: LotGround) -> Places:
    site, grid = ground.site, ground.flow.grid
    things = tuple(_in_the_way(site, grid.cell_size))
    x, y = np.meshgrid(*grid.centers())
    blocked = np.isnan(ground.terrain.ground)
    for thing in things:
        shapely.prepare(thing.shape)
        blocked |= shapely.intersects_xy(thing.shape, x, y)
    takes = np.zeros_like(blocked)
    for place in places_that_take(site):
        takes |= shapely.contains_xy(place, x, y)
    return Places(
        ground,
        things,
        _distance(blocked, grid.cell_size),
        _distance(ground.terrain.building >= 0, grid.cell_size),
        (ground.safe_area.code == 0) | takes,
    )


def keep_clear(places: Places, cut: Cut, heights: NDArray[np.float64]) -> None:
    """Refuse a swale that touches what it must not, or undercuts a footing."""
    plan = footprint(cut, heights)
    own = nearest_building(places.ground, *cut.line[0])
    for thing in places.in_the_way:
        if (own is None or thing.shape is not own.outline) and thing.shape.intersects(plan):
            raise NotPossible(thing.why)
    site = places.ground.site
    slope = site.rules["footing_line"]
    corners = corner_stations(cut.line)
    at = [np.interp(cut.stations, corners, cut.line[:, k]) for k in (0, 1)]
    for building in site.buildings:
        if building.footing_depth is None:
            continue
        for x, y, ground, bottom in zip(*at, heights, cut.bottom, strict=True):
            out = building.outline.distance(Point(x, y))
            if out > 2 * building.footing_depth / slope + 1.0:
                continue
            if bottom < min(ground, heights[0]) - building.footing_depth - out * slope:
                raise NotPossible(Undercuts("swale", building.name))


def passed_over(site: Site, line: BaseGeometry) -> list[KeepOut]:
    """Pipes and cables under a line that may be dug over by hand."""
    return [k for k in site.keep_outs if _may_pass(k) and k.area.intersects(line)]


def _may_pass(keep_out: KeepOut) -> bool:
    return keep_out.kind in _MAY_PASS_OVER and keep_out.allowed != "nothing"


def _in_the_way(site: Site, cell_size: float) -> Iterator[Hindering]:
    for building in site.buildings:
        yield Hindering(building.outline, InTheWay("building in the way", building.name))
    walls = {(wall.building, wall.number): wall for wall in walls_of(site.buildings)}
    for opening in site.openings:
        if opening.kind in WELLS:
            wall = walls[opening.building, opening.wall]
            why = InTheWay("well in the way", opening.name, opening.kind)
            yield Hindering(well_footprint(wall, opening, margin=_BESIDE_WELLS), why)
    for barrier in site.barriers:
        # Wide enough that no line slips through between two cells.
        shape = LineString(barrier.line).buffer(0.75 * cell_size)
        yield Hindering(shape, InTheWay("barrier in the way", barrier.name))
    for paving in site.paving:
        yield Hindering(paving.outline, InTheWay("paving in the way", paving.name, paving.kind))
    for keep_out in site.keep_outs:
        if not _may_pass(keep_out):
            yield Hindering(keep_out.area, InTheWay("keep-out in the way", keep_out.name))
    if site.lot is not None:
        boundary = site.lot.boundary
        around = boundary.buffer(1000.0).difference(
            shapely.union_all([boundary, *places_that_take(site)])
        )
        yield Hindering(around, NoWayOut("lot"))


def _distance(cells: NDArray[np.bool_], cell_size: float) -> Array:
    """Metres from each cell's center to the nearest edge of the cells that are set."""
    if not cells.any():
        return np.full(cells.shape, np.inf)
    return np.maximum(distance_transform_edt(~cells) - 0.5, 0.0) * cell_size


SPACING = 0.15
"""Metres between the stations of a swale."""
_SAME = 1e-6  # metres; stations nearer than this are one
_TURN = 10  # degrees between the directions that are tried
_BEND_EVERY = 2.0  # metres along the wall
_BENDS = (-90, -60, -30, 0, 30, 60, 90)


@dataclass(frozen=True)
class Head:
    """Where a swale begins: `foot` of the downspout, `at` the channel's head, the way outward."""

    foot: tuple[float, float]
    at: tuple[float, float]
    outward: tuple[float, float]
    wall: Wall | None


def head_of(site: Site, downspout: Downspout, away: float) -> Head:
    """The head of a swale that runs `away` metres from the wall of a downspout."""
    foot = (downspout.x, downspout.y)
    here = Point(foot)
    walls = walls_of(site.own_buildings)
    if not walls:
        return Head(foot, foot, (0.0, -1.0), None)
    wall = min(walls, key=lambda each: LineString([each.start, each.end]).distance(here))
    x, y = wall.outward
    out = (foot[0] - wall.start[0]) * x + (foot[1] - wall.start[1]) * y
    step = max(away - out, 0.0)
    return Head(foot, (foot[0] + step * x, foot[1] + step * y), wall.outward, wall)


def lines_from(head: Head, reach: float) -> Iterator[NDArray[np.float64]]:
    """Lines from a head, (2 or 3, 2) plan metres, `reach` metres past the last bend."""
    at = np.array(head.at)
    if head.wall is None:
        for turn in range(0, 360, _TURN):
            yield np.array([at, at + reach * _turned(head.outward, turn)])
        return
    for turn in range(-90, 91, _TURN):
        yield np.array([at, at + reach * _turned(head.outward, turn)])
    along = (np.array(head.wall.end) - head.wall.start) / head.wall.length
    foot = float((at - head.wall.start) @ along)
    for way, length in ((along, head.wall.length - foot), (-along, foot)):
        steps = math.ceil(max(length + _BEND_EVERY, 0.0) / _BEND_EVERY)
        for bend in (at + way * _BEND_EVERY * k for k in range(1, steps + 1)):
            for turn in _BENDS:
                onward = _turned(head.outward, turn)
                if abs(float(onward @ way)) < 0.99:
                    yield np.array([at, bend, bend + reach * onward])


def stations_of(
    lines: Sequence[NDArray[np.float64]], spacing: float
) -> list[tuple[NDArray[Any], NDArray[Any], NDArray[Any]]]:
    """Stations (m) along each line, their plan positions (n, 2), and the unit vectors across it.

    Parameters
    ----------
    lines : sequence of (2 or 3, 2) plan metres
    spacing : float, metres

    Examples
    --------
    >>> ((x, at, across),) = stations_of([np.array([[0.0, 0.0], [1.5, 0.0]])], 1.0)
    >>> x.tolist(), at.tolist(), across[0].tolist()
    ([0.0, 1.0, 1.5], [[0.0, 0.0], [1.0, 0.0], [1.5, 0.0]], [-0.0, 1.0])
    """
    if not lines:
        return []
    # A straight line has its end twice, and no second leg.
    corner = np.array([np.concatenate([line, line[-1:]])[:3] for line in lines])
    legs = np.diff(corner, axis=1)
    lengths = np.hypot(legs[..., 0], legs[..., 1])
    bend, end = lengths[:, 0], lengths.sum(axis=1)
    regular = np.ceil(end / spacing).astype(np.int64)
    number = np.arange(regular.sum()) - np.repeat(np.cumsum(regular) - regular, regular)
    every = np.arange(len(lines))
    whose = np.concatenate([np.repeat(every, regular), every, every])
    x = np.concatenate([number * spacing, bend, end])
    order = np.lexsort((x, whose))
    x, whose = x[order], whose[order]
    # A bend may lie on a station but for rounding.
    new = np.diff(x, prepend=-1.0) > _SAME
    new[np.flatnonzero(np.diff(whose)) + 1] = True
    x, whose = x[new], whose[new]
    second = (x >= bend[whose]) & (lengths[whose, 1] > 0)
    leg = second.astype(np.int64)
    past = x - np.where(second, bend[whose], 0.0)
    along = legs / np.where(lengths > 0, np.stack([bend, end - bend], axis=1), 1.0)[..., None]
    at = along[whose, leg] * past[:, None] + corner[whose, leg]
    last = x >= end[whose]
    at[last] = corner[whose[last], 2]
    unit = (legs / np.where(lengths > 0, lengths, 1.0)[..., None])[
        whose, np.where(x > bend[whose], leg, 0)
    ]
    across = np.column_stack([-unit[:, 1], unit[:, 0]])
    parts = np.split(x, np.flatnonzero(np.diff(whose)) + 1)
    return list(zip(parts, split_like(at, parts), split_like(across, parts), strict=True))


def _turned(way: tuple[float, float], degrees: float) -> NDArray[np.float64]:
    angle = math.radians(degrees)
    c, s = math.cos(angle), math.sin(angle)
    return np.array([c * way[0] - s * way[1], s * way[0] + c * way[1]])
