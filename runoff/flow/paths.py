"""Flow paths: polylines on the surface that cross full depressions and go on beyond them.

Between depressions `runoff.flow.engine.surface` follows the surface; at a depression what happens
depends on the water: brim-full everywhere (`trace`) or as a storm left it (`follow_storm`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely import LineString, Point, distance, line_locate_point, points
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring, unary_union

from runoff.flow.engine.crossing import cross
from runoff.flow.engine.depressions import Depressions
from runoff.flow.engine.directions import CODE, OUTSIDE, PIT
from runoff.flow.engine.drainage import Basins, basins_of, fill
from runoff.flow.engine.pouring import Ponding, over_the_saddle
from runoff.flow.engine.surface import AT_SINK, IN_DEPRESSION, OUT_FULL, descend
from runoff.flow.model import PathEnd
from runoff.rules import RULES
from runoff.site.model import Site

# An outlet takes water that passes this close to where it was drawn, metres.
OUTLET_REACH = 0.5


@dataclass(frozen=True)
class NearWalls:
    """How a path lies to the foundations, metres; `along_m`, `returns` as in `DownspoutAnswer`."""

    within_near_m: float
    within_reach_m: float
    along_m: float
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


ENDS_AT_EDGE, ENDS_IN_DEPRESSION, ENDS_AT_INLET = "edge", "depression", "inlet"


@dataclass(frozen=True)
class Surface:
    """A terrain ready for following water.

    Parameters
    ----------
    basins : Basins
    heights : (rows, cols) float64, metres, NaN where missing
    closed : (rows, cols) bool
    code : (rows, cols) uint8, the D8 receivers to fall back on
    water : (rows, cols) float64, metres, height of the water surface, of the ground where dry
    """

    basins: Basins
    heights: NDArray[np.float64]
    closed: NDArray[np.bool_]
    code: NDArray[np.integer]
    water: NDArray[np.float64]


@dataclass(frozen=True)
class Way:
    """Where followed water went.

    Parameters
    ----------
    points : (k, 2) float64
        x and y in cells, the first center at 0, y growing downward.
    crossed : tuple of int
        Depressions crossed, in order; those of the path's end included where it ends in one.
    end : str
        ``edge``, ``depression`` or ``inlet``.
    cell : int
        Flat index of the last cell.
    """

    points: NDArray[np.float64]
    crossed: tuple[int, ...]
    end: str
    cell: int


# Which depression water in a cell has to cross, the spill cell and the next cell beyond it; next is
# -1 where it leaves over the spill cell itself, and all is None where it stays.
Carry = Callable[[int], tuple[int, int, int] | None]


def follow(surface: Surface, x: float, y: float, carry: Carry) -> Way:
    """Follow water from (x, y), in cells, until it leaves, stays, or reaches a drain's inlet."""
    rows, cols = surface.basins.shape
    out = np.empty((4 * (rows + cols) + 4000, 2))
    legs: list[NDArray[np.float64]] = []
    crossed: list[int] = []
    arguments = (surface.heights, surface.closed, surface.code, surface.water)
    while True:
        count, status = descend(*arguments, x, y, out)
        if status == OUT_FULL:
            out = np.empty((2 * len(out), 2))
            continue
        legs.append(out[:count].copy())
        x, y = out[count - 1]
        cell = _cell_at(surface, legs[-1])
        if status != IN_DEPRESSION:
            end = ENDS_AT_INLET if status == AT_SINK else ENDS_AT_EDGE
            break
        onward = carry(cell)
        if onward is None or onward[0] in crossed:
            end = ENDS_IN_DEPRESSION
            break
        depression, spill, beyond = onward
        crossed.append(depression)
        legs.append(cross(surface.basins, cell, spill)[:, ::-1])
        steps = _off_the_level(surface, spill if beyond < 0 else beyond, spill)
        legs.append(steps)
        x, y = steps[-1]
    return Way(_joined(legs), tuple(crossed), end, cell)


def _off_the_level(surface: Surface, cell: int, spill: int) -> NDArray[np.float64]:
    """Centers from a cell beyond a spill cell down to the first that is truly below it.

    On level ground the surface has no slope to follow, and might lead back into the pond.
    """
    cols = surface.basins.shape[1]
    water, code = surface.water.reshape(-1), surface.code.reshape(-1)
    cells = [cell]
    while code[cell] < PIT and water[cell] >= water[spill]:
        cell += int(surface.basins.step[code[cell]])
        cells.append(cell)
    flat = np.array(cells)
    return np.column_stack([flat % cols, flat // cols]).astype(np.float64)


def _cell_at(surface: Surface, leg: NDArray[np.float64]) -> int:
    """The cell that a leg ends in; at an edge between cells, the one it was heading for."""
    rows, cols = surface.basins.shape
    heading = leg[-1] - leg[-2] if len(leg) > 1 else np.zeros(2)
    x, y = leg[-1] + 1e-6 * np.sign(heading)
    row = min(max(int(np.floor(y + 0.5)), 0), rows - 1)
    col = min(max(int(np.floor(x + 0.5)), 0), cols - 1)
    return row * cols + col


def _joined(legs: list[NDArray[np.float64]]) -> NDArray[np.float64]:
    points = np.concatenate(legs)
    new = np.ones(len(points), bool)
    new[1:] = np.abs(np.diff(points, axis=0)).max(axis=1) > 1e-9
    return points[new]


def _surface(
    basins: Basins,
    heights: ArrayLike,
    closed: NDArray[np.bool_] | None,
    code: NDArray[Any],
    water: NDArray[np.float64],
) -> Surface:
    return Surface(
        basins,
        np.asarray(heights, dtype=np.float64),
        np.zeros(basins.shape, bool) if closed is None else np.asarray(closed, dtype=bool),
        (code & CODE).reshape(basins.shape),
        water,
    )


def storm_surface(
    ponding: Ponding, heights: NDArray[np.float64], closed: NDArray[np.bool_]
) -> Surface:
    """The terrain with the storm's standing water on it; receivers as on the dry ground."""
    basins = ponding.depressions.basins
    return _surface(basins, heights, closed, basins.code, heights + ponding.depth_by_cells())


def follow_storm(surface: Surface, ponding: Ponding, x: float, y: float) -> Way:
    """Follow water that runs on over depressions as far as the storm fills them; x, y in cells."""
    found, tree = ponding.depressions, ponding.depressions.hierarchy

    def carry(cell: int) -> tuple[int, int, int] | None:
        leaf = int(found.node[cell])
        if leaf <= 0:
            return None
        d = ponding.outermost(leaf)
        if not ponding.full[d] or tree.spill_cell[d] < 0:
            return None
        return d, *_beyond(found, d)

    return follow(surface, x, y, carry)


def _beyond(found: Depressions, depression: int) -> tuple[int, int]:
    """The spill cell of a depression and the cell beyond it (-1: it leaves over the spill cell)."""
    basins, tree = found.basins, found.hierarchy
    spill = int(tree.spill_cell[depression])
    if basins.code[spill] & CODE >= OUTSIDE:
        return spill, -1
    return spill, over_the_saddle(basins, spill, int(tree.over[depression]))


def trace(
    elevation: ArrayLike,
    cell_size: float,
    start: tuple[float, float],
    closed: ArrayLike | None = None,
) -> NDArray[np.float64]:
    """Follow water from a point over the surface, across depressions as if brim-full, to the edge.

    Parameters
    ----------
    elevation : (rows, cols) float32 or float64, metres, row 0 at the top, NaN where missing
    cell_size : float, metres
    start : (x, y), metres from the grid's lower-left corner, x right and y up
    closed : (rows, cols) bool, optional

    Returns
    -------
    (k, 2) float64, x and y in metres from the lower-left corner, `start` first

    Raises
    ------
    ValueError
        For a start off the grid or in a closed cell, a cell size that is not above 0, and as
        `fill_depressions`.

    References
    ----------
    Steepest descent over triangular facets, after Tarboton 1997, Water Resources Research 33(2),
    doi:10.1029/96WR03137.

    Examples
    --------
    >>> slope = np.tile([3.0, 2.0, 1.0, 0.0], (3, 1))
    >>> trace(slope, 2.0, (3.5, 3.0)).round(3).tolist()[-1]
    [8.0, 3.0]
    """
    if not cell_size > 0:
        raise ValueError(f"cell_size must be above 0 m; it is {cell_size}")
    basins = basins_of(elevation, closed)
    rows, cols = basins.shape
    x, y = start[0] / cell_size - 0.5, rows - 0.5 - start[1] / cell_size
    if not (-0.5 <= x <= cols - 0.5 and -0.5 <= y <= rows - 0.5):
        raise ValueError(f"the start {tuple(start)} lies off the grid")
    walls = None if closed is None else np.asarray(closed, dtype=bool)
    row, col = min(int(y + 0.5), rows - 1), min(int(x + 0.5), cols - 1)
    if walls is not None and walls[row, col]:
        raise ValueError(f"the start {tuple(start)} lies in a closed cell")
    filled, code = fill(basins)
    heights = np.array(elevation, dtype=np.float64)
    lakes = filled.astype(np.float64).reshape(basins.shape)
    lakes[~np.isfinite(lakes)] = np.nan
    surface = _surface(basins, heights, walls, code, lakes)
    tree, flat_code = basins.hierarchy, surface.code.reshape(-1)

    def carry(cell: int) -> tuple[int, int, int] | None:
        end = cell
        while basins.code[end] & CODE < PIT:
            end += int(basins.step[basins.code[end] & CODE])
        leaf = int(basins.node[end]) if basins.code[end] & CODE == PIT else 0
        d = int(tree.top[leaf])
        if leaf <= 0 or tree.spill_cell[d] < 0:
            return None
        spill = int(tree.spill_cell[d])
        if flat_code[spill] >= OUTSIDE:
            return d, spill, -1
        return d, spill, spill + int(basins.step[flat_code[spill]])

    way = follow(surface, x, y, carry)
    points = np.empty_like(way.points)
    points[:, 0] = (way.points[:, 0] + 0.5) * cell_size
    points[:, 1] = (rows - 0.5 - way.points[:, 1]) * cell_size
    return points
