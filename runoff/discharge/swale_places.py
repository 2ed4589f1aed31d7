"""Where a swale may run on a lot: heights, room and safe ground at any place of it.

In: the lot's ground. Out: arrays over its cells, sampled where asked; and the name of what is in
the way at a place.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from runoff.discharge.lot import LotGround
from runoff.discharge.safety import nearest_building
from runoff.discharge.swale_cut import Cut, corner_stations, footprint
from runoff.discharge.ways import NotPossible
from runoff.foundation.beside import WELLS, well_footprint
from runoff.foundation.safe_area import places_that_take
from runoff.foundation.walls import walls_of
from runoff.site.model import KeepOut, Site

Array = NDArray[np.float64]
# Pipes and cables that may be dug over by hand lie deeper than a swale.
_MAY_PASS_OVER = ("utility", "private line")
_BESIDE_WELLS = 0.3  # metres left undisturbed around a well's rim


@dataclass(frozen=True)
class InTheWay:
    """Something that a swale must not touch, and what is said of it."""

    shape: BaseGeometry
    why: str


@dataclass(frozen=True)
class Places:
    """The lot's cells as a swale meets them, (rows, cols); lengths in metres.

    `room` is how far from a cell anything lies that it must not touch; `walls` how far the nearest
    building does; `safe` where water may be let go or is taken.
    """

    ground: LotGround
    in_the_way: tuple[InTheWay, ...]
    room: Array
    walls: Array
    safe: NDArray[np.bool_]

    def heights(self, at: Array) -> Array:
        """Heights (m) of the ground at (n, 2) plan positions."""
        return self.ground.terrain.heights(at)

    def sample(self, values: NDArray, at: Array, outside) -> NDArray:
        """The values of the cells that hold (n, 2) plan positions."""
        grid = self.ground.flow.grid
        col = np.floor((at[:, 0] - grid.x0) / grid.cell_size).astype(np.int64)
        row = grid.rows - 1 - np.floor((at[:, 1] - grid.y0) / grid.cell_size).astype(np.int64)
        held = (col >= 0) & (col < grid.cols) & (row >= 0) & (row < grid.rows)
        inside = values[np.where(held, row, 0), np.where(held, col, 0)]
        return np.where(held, inside, outside)

    def why_not(self, x: float, y: float) -> str:
        """What is in the way nearest to a place."""
        if not self.in_the_way or np.isnan(self.ground.height(x, y)):
            return "it does not come out of the ground within the survey where water may be let go"
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
                raise NotPossible(f"it would undercut the footing of '{building.name}'")


def passed_over(site: Site, line: BaseGeometry) -> list[KeepOut]:
    """Pipes and cables under a line that may be dug over by hand."""
    return [k for k in site.keep_outs if _may_pass(k) and k.area.intersects(line)]


def _may_pass(keep_out: KeepOut) -> bool:
    return keep_out.kind in _MAY_PASS_OVER and keep_out.allowed != "nothing"


def _in_the_way(site: Site, cell_size: float) -> Iterator[InTheWay]:
    for building in site.buildings:
        yield InTheWay(building.outline, f"'{building.name}' is in the way")
    walls = {(wall.building, wall.number): wall for wall in walls_of(site.buildings)}
    for opening in site.openings:
        if opening.kind in WELLS:
            wall = walls[opening.building, opening.wall]
            why = f"the {opening.kind} '{opening.name}' is in the way"
            yield InTheWay(well_footprint(wall, opening, margin=_BESIDE_WELLS), why)
    for barrier in site.barriers:
        # Wide enough that no line slips through between two cells.
        shape = LineString(barrier.line).buffer(0.75 * cell_size)
        yield InTheWay(shape, f"the barrier '{barrier.name}' is in the way")
    for paving in site.paving:
        why = f"the {paving.kind} '{paving.name}' is in the way: it would need a culvert under it"
        yield InTheWay(paving.outline, why)
    for keep_out in site.keep_outs:
        if not _may_pass(keep_out):
            yield InTheWay(keep_out.area, f"the keep-out '{keep_out.name}' is in the way")
    if site.lot is not None:
        boundary = site.lot.boundary
        around = boundary.buffer(1000.0).difference(
            shapely.union_all([boundary, *places_that_take(site)])
        )
        yield InTheWay(
            around, "it does not come out of the ground on the lot where water may be let go"
        )


def _distance(cells: NDArray[np.bool_], cell_size: float) -> Array:
    """Metres from each cell's center to the nearest edge of the cells that are set."""
    if not cells.any():
        return np.full(cells.shape, np.inf)
    return np.maximum(distance_transform_edt(~cells) - 0.5, 0.0) * cell_size
