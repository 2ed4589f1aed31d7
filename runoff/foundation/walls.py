"""The outside walls as straight lines, stations and openings along them, and the ground away
from the wall at each.

In: buildings. Out: frozen records in plan metres.

In: a site and its terrain. Out: arrays over all stations, plan metres and metres of height.

In: an opening and its building. Out: its place on the wall and the cells whose water can get in.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.polygon import LinearRing

from runoff.foundation.model import CutBy
from runoff.site.model import BreakLine, Building, Opening, Site
from runoff.terrain.model import Grid, Terrain


@dataclass(frozen=True)
class Wall:
    """One straight outside wall.

    `number` counts over the outline's corners and on over those of any courtyards; `before` and
    `after` are the numbers of the walls that meet it. `outward` is the unit vector away from it.
    """

    building: str
    number: int
    name: str
    start: tuple[float, float]
    end: tuple[float, float]
    outward: tuple[float, float]
    before: int
    after: int

    @property
    def length(self) -> float:
        """Metres from corner to corner."""
        return math.dist(self.start, self.end)

    def point(self, along: NDArray[np.float64], out: NDArray[np.float64]) -> NDArray[np.float64]:
        """Plan positions, (k, 2), at distances along the wall and out from it."""
        start, end = np.array(self.start), np.array(self.end)
        unit = (end - start) / self.length
        return start + along[:, None] * unit + out[:, None] * np.array(self.outward)


def walls_of(buildings: Sequence[Building]) -> tuple[Wall, ...]:
    """Every outside wall of the buildings, courtyards' walls after those of the outline.

    Examples
    --------
    >>> from shapely.geometry import Polygon
    >>> from runoff.site.model import Written
    >>> box = Polygon([(0, 0), (4, 0), (4, 3), (0, 3)])
    >>> house = Building("house", box, ("front", "right", "rear", "left"), None, None,
    ...                  Written("site.toml", 1, "building"))
    >>> [(wall.name, wall.outward) for wall in walls_of([house])][:2]
    [('front', (0.0, -1.0)), ('right', (1.0, 0.0))]
    """
    return tuple(wall for building in buildings for wall in _walls(building))


def wall_words(name: str) -> str:
    """A wall as a sentence names it.

    Examples
    --------
    >>> wall_words("front"), wall_words("wall 2")
    ('the front wall', 'wall 2')
    """
    return name if "wall" in name.lower() else f"the {name} wall"


def _walls(building: Building) -> Iterator[Wall]:
    outside = building.outline.exterior
    yield from _ring(building, outside, 0, 1.0)
    first = len(outside.coords) - 1
    for court in building.outline.interiors:
        yield from _ring(building, court, first, -1.0)
        first += len(court.coords) - 1


def _ring(building: Building, ring: LinearRing, first: int, side: float) -> Iterator[Wall]:
    corners = [(float(x), float(y)) for x, y, *_ in ring.coords]
    count = len(corners) - 1
    turn = side if ring.is_ccw else -side
    for place, (start, end) in enumerate(pairwise(corners)):
        length = math.dist(start, end)
        outward = (
            turn * (end[1] - start[1]) / length + 0.0,
            -turn * (end[0] - start[0]) / length + 0.0,
        )
        number = first + place
        yield Wall(
            building.name,
            number,
            _name(building, number),
            start,
            end,
            outward,
            first + (place - 1) % count,
            first + (place + 1) % count,
        )


def _name(building: Building, number: int) -> str:
    if number < len(building.walls):
        return building.walls[number]
    return f"courtyard wall {number - len(building.walls) + 1}"


TOUCHING = 0.02
"""Metres within which a wall counts as standing on a lot line or against another building."""

RETAINING = 0.3
"""A step in the ground from this height on, metres, is a wall; a lower one is a curb."""

_STEP = 0.1
_NEAREST_HIT = 1e-6

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Stations:
    """Where the profiles start and end.

    `wall` is (n,) indices into `walls`; `along`, `reach` are (n,) metres; `feet`, `outward` are
    (n, 2); `cut_by` names what ends each profile short of 10 ft.
    """

    walls: tuple[Wall, ...]
    wall: NDArray[np.int64]
    along: Array
    feet: Array
    outward: Array
    reach: Array
    cut_by: tuple[CutBy, ...]


@dataclass(frozen=True)
class Profiles:
    """Heights along lines away from the wall.

    `out` and `z` are (n, samples): metres from the line's foot, and heights, NaN from where the
    survey ends. `reach` is (n,) metres with ground, `fall` the height at the foot less that at
    `reach`, `rise` the greatest height above the low point further in, `back_slope` and `back_at`
    the steepest slope toward the wall and its distance out. All are NaN where the foot has no
    ground.
    """

    out: Array
    z: Array
    reach: Array
    fall: Array
    rise: Array
    back_slope: Array
    back_at: Array


def lay_stations(site: Site, blur: float) -> Stations:
    """Stations evenly along every outside wall, at most `station_spacing` apart.

    Of the neighbors' buildings none is judged; they end the profiles of others. A wall that stands
    against another building is no outside wall there. In front of a window well
    or a stairwell the profile starts at its outer rim.

    Parameters
    ----------
    site : Site
    blur : float, metres
        Of the terrain: before a retaining wall the profile ends where its heights are still those
        of one side.

    Returns
    -------
    Stations
    """
    walls = walls_of(sorted(site.buildings, key=lambda building: building.neighbor))
    judged = walls_of(site.own_buildings)
    which, along = _spread(judged, site.rules["station_spacing"])
    start_out = _well_projection(site, walls, which, along)
    feet = np.empty((len(which), 2))
    outward = np.array([wall.outward for wall in walls], dtype=np.float64).reshape(-1, 2)[which]
    for number, wall in enumerate(walls):
        mine = which == number
        feet[mine] = wall.point(along[mine], start_out[mine])
    free = ~_built_over(site.buildings, feet + TOUCHING * outward)
    which, along, feet, outward = which[free], along[free], feet[free], outward[free]
    reach, cut_by = _cut(site, walls, which, feet, outward)
    _cut_at_steps(site, blur, feet, outward, reach, cut_by)
    return Stations(walls, which, along, feet, outward, reach, tuple(cut_by))


def measure(terrain: Terrain, stations: Stations, ends: Array, longest: float = 0.0) -> Profiles:
    """The ground from the foot of each station to an end.

    All profiles have as many samples as the longest wants, so profiles of different stations that
    are to be compared sample by sample are measured with the same `longest`.

    Parameters
    ----------
    terrain : Terrain
    stations : Stations
    ends : (n, 2) plan metres
    longest : float, metres
        A length that the samples are spaced for, even where no profile is so long.

    Returns
    -------
    Profiles
    """
    way = ends - stations.feet
    length = np.hypot(way[:, 0], way[:, 1])
    count = 1 + max(1, math.ceil(float(length.max(initial=longest)) / _STEP))
    share = np.linspace(0.0, 1.0, count)
    points = stations.feet[:, None, :] + share[None, :, None] * way[:, None, :]
    spread = (len(length), count, 2)
    z = terrain.heights(
        points.reshape(-1, 2),
        np.broadcast_to(stations.feet[:, None, :], spread).reshape(-1, 2),
        np.broadcast_to(stations.outward[:, None, :], spread).reshape(-1, 2),
    ).reshape(spread[:2])
    return profiles_from(share[None, :] * length[:, None], z)


def profiles_from(out: Array, z: Array) -> Profiles:
    """The fall, rise and steepest back slope of profiles, by their (n, samples) heights.

    Examples
    --------
    >>> made = profiles_from(np.array([[0.0, 1.0, 2.0]]), np.array([[5.0, 4.9, 4.95]]))
    >>> made.fall.round(3), made.rise.round(3), made.back_slope.round(3), made.back_at
    (array([0.05]), array([0.05]), array([0.05]), array([1.5]))
    """
    known = np.logical_and.accumulate(np.isfinite(z), axis=1)
    last = np.maximum(known.sum(axis=1) - 1, 0)
    line = np.arange(len(z))
    z = np.where(known, z, np.nan)
    step = np.diff(out, axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        climb = np.where(step > 0, np.diff(z, axis=1) / step, 0.0)
    climb = np.nan_to_num(climb, nan=0.0)
    steepest = climb.argmax(axis=1)
    back = np.maximum(climb[line, steepest], 0.0)
    middle = (out[:, :-1] + out[:, 1:]) / 2
    nothing = np.where(known[:, 0], 0.0, np.nan)
    low = np.fmin.accumulate(z, axis=1)
    rise = np.where(known, z - low, 0.0).max(axis=1)
    return Profiles(
        out=out,
        z=z,
        reach=out[line, last] + nothing,
        fall=z[line, 0] - z[line, last],
        rise=rise + nothing,
        back_slope=back + nothing,
        back_at=np.where(back > 0, middle[line, steepest], 0.0) + nothing,
    )


def _spread(walls: tuple[Wall, ...], spacing: float) -> tuple[NDArray[np.int64], Array]:
    counts = [max(1, math.ceil(wall.length / spacing - 1e-9)) for wall in walls]
    along = [(np.arange(k) + 0.5) * wall.length / k for k, wall in zip(counts, walls, strict=True)]
    which = np.repeat(np.arange(len(walls), dtype=np.int64), counts)
    return which, np.concatenate(along) if along else np.empty(0)


def _well_projection(site: Site, walls: Sequence[Wall], which: Ints, along: Array) -> Array:
    out = np.zeros(len(along))
    for well in site.openings:
        if well.kind not in ("window well", "stairwell"):
            continue
        for number, wall in enumerate(walls):
            if (wall.building, wall.number) == (well.building, well.wall):
                inside = np.abs(along - well.distance) <= well.width / 2
                beside = (which == number) & inside
                out[beside] = np.maximum(out[beside], well.projection)
    return out


def _built_over(buildings: tuple[Building, ...], points: Array) -> NDArray[np.bool_]:
    covered = np.zeros(len(points), dtype=bool)
    for building in buildings:
        shapely.prepare(building.outline)
        left, bottom, right, top = building.outline.bounds
        low, high = points >= (left, bottom), points <= (right, top)
        near = np.flatnonzero((low & high).all(axis=1))
        covered[near] |= shapely.contains_xy(building.outline, points[near])
    return covered


def _cut(
    site: Site, walls: Sequence[Wall], which: Ints, feet: Array, outward: Array
) -> tuple[Array, list[CutBy]]:
    reach = np.full(len(feet), site.rules["foundation_reach"])
    cut_by: list[CutBy] = [""] * len(feet)
    starts = np.array([wall.start for wall in walls]).reshape(-1, 2)
    ends = np.array([wall.end for wall in walls]).reshape(-1, 2)
    distance, hit = _first_wall(walls, which, feet, outward, starts, ends, reach)
    for k in np.flatnonzero(distance < reach):
        own, met = walls[which[k]], walls[hit[k]]
        corner = met.building == own.building and met.number in (own.before, own.after)
        cut_by[k] = "corner" if corner else "wall"
        reach[k] = distance[k]
    if site.lot is not None:
        to_line = _to_lot_line(site.lot.boundary, feet, outward)
        for k in np.flatnonzero(to_line < reach):
            cut_by[k] = "lot line"
            reach[k] = to_line[k]
    return reach, cut_by


def _first_wall(
    walls: Sequence[Wall],
    which: Ints,
    feet: Array,
    outward: Array,
    starts: Array,
    ends: Array,
    reach: Array,
) -> tuple[Array, Ints]:
    """The first wall before each foot, looking building by building at the walls within reach."""
    distance, hit = np.full(len(feet), np.inf), np.zeros(len(feet), dtype=np.int64)
    low, high = np.minimum(starts, ends), np.maximum(starts, ends)
    names = np.array([wall.building for wall in walls])[which]
    borders = np.flatnonzero(names[1:] != names[:-1]) + 1
    for mine in np.split(np.arange(len(feet)), borders):
        if not len(mine):
            continue
        margin = reach[mine].max()
        left, right = feet[mine].min(axis=0) - margin, feet[mine].max(axis=0) + margin
        near = np.flatnonzero(((high >= left) & (low <= right)).all(axis=1))
        far, which_near = _first_hit(feet[mine], outward[mine], starts[near], ends[near])
        distance[mine], hit[mine] = far, near[which_near]
    return distance, hit


def _cut_at_steps(
    site: Site, blur: float, feet: Array, outward: Array, reach: Array, cut_by: list[CutBy]
) -> None:
    """Cut the profiles short at retaining walls, which were surveyed as steps."""
    for step in site.break_lines:
        if not is_retaining(step):
            continue
        distance, hit = _first_hit(feet, outward, step.line[:-1], step.line[1:])
        way = np.diff(step.line, axis=0)[hit]
        across = np.abs(outward[:, 0] * way[:, 1] - outward[:, 1] * way[:, 0])
        aslant = np.hypot(way[:, 0], way[:, 1]) / np.maximum(across, _NEAREST_HIT)
        for k in np.flatnonzero(distance < reach):
            cut_by[k] = "wall"
            reach[k] = max(distance[k] - blur * aslant[k], 0.0)


def is_retaining(line: BreakLine) -> bool:
    """Whether a break line is a step so high that it is a wall."""
    return line.foot is not None and bool(np.abs(line.top - line.foot).max() >= RETAINING)


def _to_lot_line(boundary: shapely.Polygon, feet: Array, outward: Array) -> Array:
    line = np.asarray(boundary.exterior.coords)[:, :2]
    distance, _ = _first_hit(feet, outward, line[:-1], line[1:])
    on_line = shapely.distance(boundary.exterior, shapely.points(feet)) <= TOUCHING
    ahead = feet + 2 * TOUCHING * outward
    leaves = ~shapely.contains_xy(boundary, ahead[:, 0], ahead[:, 1])
    return np.where(on_line & leaves, 0.0, distance)


def _first_hit(feet: Array, outward: Array, starts: Array, ends: Array) -> tuple[Array, Ints]:
    """How far each ray runs until it meets a segment (infinite if never), and which one."""
    if not len(starts):
        return np.full(len(feet), np.inf), np.zeros(len(feet), dtype=np.int64)
    way = ends - starts
    gap = starts[None, :, :] - feet[:, None, :]
    across = outward[:, None, 0] * way[None, :, 1] - outward[:, None, 1] * way[None, :, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        far = (gap[..., 0] * way[None, :, 1] - gap[..., 1] * way[None, :, 0]) / across
        share = (gap[..., 0] * outward[:, None, 1] - gap[..., 1] * outward[:, None, 0]) / across
    length = np.hypot(way[:, 0], way[:, 1])
    parallel = np.abs(across) <= 1e-9 * length
    met = ~parallel & (far > _NEAREST_HIT) & (share >= -1e-9) & (share <= 1 + 1e-9)
    distance = np.where(met, far, np.inf)
    first = distance.argmin(axis=1)
    return distance[np.arange(len(feet)), first], first


WELLS = ("window well", "stairwell")
# The first cells out of a wall have their centers within this many cells of it.
_FIRST_OUT = 1.2
# Ground along an edge is read at this many places, or this near together, metres.
_LEAST_SAMPLES, _SAMPLE = 9, 0.1


def well_footprint(wall: Wall, opening: Opening, margin: float = 0.0) -> Polygon:
    """The rectangle that a well takes in front of its wall, grown by `margin` metres."""
    half, out = opening.width / 2 + margin, opening.projection + margin
    along = opening.distance + np.array([-half, half, half, -half])
    return Polygon(wall.point(along, np.array([0.0, 0.0, out, out])))


def cells_beside(terrain: Terrain, wall: Wall, opening: Opening) -> NDArray[np.int64]:
    """Flat indices of the open cells beside an opening; empty where no ground is known there.

    Beside a well, the ring of cells around its outer edge; beside a sill, the first cells out from
    the wall within half the opening's width.
    """
    cell = terrain.grid.cell_size
    if opening.kind in WELLS:
        out, half, inner = opening.projection + cell, opening.width / 2 + cell, True
    else:
        out, half, inner = _FIRST_OUT * cell, max(opening.width, cell) / 2, False
    flat, along, away = _open_cells_near(terrain, wall, opening.distance, half, out)
    mine = (np.abs(along) <= half + 1e-9) & (away > -cell / 2) & (away <= out + 1e-9)
    if inner:
        mine &= (np.abs(along) > opening.width / 2) | (away > opening.projection)
    if not mine.any() and len(flat):
        # No center lies before a narrow opening in a wall that runs aslant; a cell does.
        off = np.hypot(np.maximum(np.abs(along) - opening.width / 2, 0.0), away)
        mine[off.argmin()] = off.min() <= cell
    return flat[mine]


@dataclass(frozen=True)
class Edge:
    """Places along an opening's edge, before a sill or around a well's rim, with their ground.

    `height` is (n,) metres; `cell` (n,) the flat index of the cell beside the opening whose water
    stands at each place; `nearest` (k,) for each of those cells the number of its nearest place.
    """

    height: NDArray[np.float64]
    cell: NDArray[np.int64]
    nearest: NDArray[np.int64]


def edge_of(terrain: Terrain, wall: Wall, opening: Opening, cells: NDArray[np.int64]) -> Edge:
    """The ground along an opening's edge, read off the surveyed ground between the cells.

    A cell's center lies up to a cell before the wall: its height there would hang on how the cells
    happen to lie. Where no ground is known but the cells', they are the edge.

    Parameters
    ----------
    cells : (k,) flat indices of the cells beside it, at least one
    """
    places, feet, outward = _along_edge(wall, opening)
    height = np.empty(0)
    if terrain.relief is not None:
        height = terrain.heights(places, feet, outward)
    known = np.isfinite(height)
    if not known.any():
        return Edge(terrain.surface.ravel()[cells], cells, np.arange(len(cells)))
    x, y = terrain.grid.centers()
    centers = np.column_stack([x[cells % terrain.grid.cols], y[cells // terrain.grid.cols]])
    away = np.hypot(*(places[known][:, None, :] - centers[None]).transpose(2, 0, 1))
    return Edge(height[known], cells[away.argmin(axis=1)], away.argmin(axis=0))


def _along_edge(wall: Wall, opening: Opening) -> tuple[Array, Array, Array]:
    """Places along the edge, their feet at the wall, and the way out, each (n, 2)."""
    half, out = opening.width / 2, opening.projection
    along = np.linspace(-half, half, _samples(opening.width))
    away = np.zeros(len(along))
    if opening.kind in WELLS:
        side = np.linspace(0.0, out, _samples(out))
        along = np.concatenate([along, np.full(len(side), -half), np.full(len(side), half)])
        away = np.concatenate([away + out, side, side])
    feet = wall.point(opening.distance + along, np.zeros(len(along)))
    outward = np.broadcast_to(np.array(wall.outward), feet.shape)
    return wall.point(opening.distance + along, away), feet, outward


def _samples(length: float) -> int:
    return max(_LEAST_SAMPLES, int(np.ceil(length / _SAMPLE)) + 1)


def _open_cells_near(
    terrain: Terrain, wall: Wall, distance: float, half: float, out: float
) -> tuple[Ints, Array, Array]:
    """Open cells about a place on a wall: flat index, distance along from it, distance out."""
    grid = terrain.grid
    ends = distance + np.array([-half, half, half, -half])
    reach = np.array([-grid.cell_size, -grid.cell_size, out, out])
    rows, cols = _window(grid, wall.point(ends, reach))
    x, y = grid.centers()
    away_x, away_y = x[cols][None, :] - wall.start[0], y[rows][:, None] - wall.start[1]
    unit = (np.array(wall.end) - np.array(wall.start)) / wall.length
    along = away_x * unit[0] + away_y * unit[1] - distance
    away = away_x * wall.outward[0] + away_y * wall.outward[1]
    is_open = ~terrain.closed[rows, cols] & ~np.isnan(terrain.surface[rows, cols])
    flat = np.arange(grid.rows * grid.cols).reshape(grid.rows, grid.cols)[rows, cols]
    return flat[is_open], along[is_open], away[is_open]


def _window(grid: Grid, points: NDArray[np.float64]) -> tuple[slice, slice]:
    left, bottom = points.min(axis=0) - grid.cell_size
    right, top = points.max(axis=0) + grid.cell_size
    last_row, first_col = grid.cell(left, bottom)
    first_row, last_col = grid.cell(right, top)
    return (
        slice(min(max(first_row, 0), grid.rows), min(max(last_row + 1, 0), grid.rows)),
        slice(min(max(first_col, 0), grid.cols), min(max(last_col + 1, 0), grid.cols)),
    )


def from_left(wall: Wall, start: float, end: float) -> tuple[float, float]:
    """Where a stretch of wall starts and ends, metres from its left corner as one faces it outside.

    `start` and `end` are metres from the wall's first corner.

    Examples
    --------
    >>> facing_down = Wall("house", 0, "front", (0.0, 0.0), (9.0, 0.0), (0.0, -1.0), 3, 1)
    >>> from_left(facing_down, 1.0, 3.0)
    (1.0, 3.0)
    >>> turned = Wall("house", 0, "front", (9.0, 0.0), (0.0, 0.0), (0.0, -1.0), 3, 1)
    >>> from_left(turned, 1.0, 3.0)
    (6.0, 8.0)
    """
    (x0, y0), (x1, y1) = wall.start, wall.end
    first_is_left = wall.outward[0] * (y1 - y0) - wall.outward[1] * (x1 - x0) > 0.0
    return (start, end) if first_is_left else (wall.length - end, wall.length - start)
