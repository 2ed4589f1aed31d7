"""Where an opening lies on the plan, and the open cells of ground beside it.

In: an opening and its building. Out: its place on the wall and the cells whose water can get in.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from runoff.site.model import Building, Opening
from runoff.terrain.model import Grid, Terrain

WELLS = ("window well", "stairwell")
# The first cells out of a wall have their centers within this many cells of it.
_FIRST_OUT = 1.2


@dataclass(frozen=True)
class Wall:
    """One wall on the plan: its first corner, unit vectors along and out of it, length in metres.

    `from_left` says that the first corner is on the left of someone who faces the wall outside.
    """

    first: NDArray[np.float64]
    along: NDArray[np.float64]
    outward: NDArray[np.float64]
    length: float
    from_left: bool

    def point(self, distance: float, out: float = 0.0) -> NDArray[np.float64]:
        """The plan position `distance` along the wall and `out` from it, metres."""
        return self.first + distance * self.along + out * self.outward


def wall_of(building: Building, wall: int) -> Wall:
    """Wall `wall` of a building, counted from 0 in the order of its corners.

    Examples
    --------
    >>> from runoff.site.model import Written
    >>> box = Polygon([(0, 0), (8, 0), (8, 6), (0, 6)])
    >>> house = Building("house", box, ("a", "b", "c", "d"), None, None, Written("", 1, ""))
    >>> wall_of(house, 1).point(2.0, 1.0).tolist(), wall_of(house, 1).from_left
    ([9.0, 2.0], True)
    """
    ring = building.outline.exterior
    corners = np.array(ring.coords)[:-1]
    first, last = corners[wall], corners[(wall + 1) % len(corners)]
    length = float(np.hypot(*(last - first)))
    along = (last - first) / length
    outward = np.array([along[1], -along[0]]) * (1 if ring.is_ccw else -1)
    return Wall(first, along, outward, length, bool(ring.is_ccw))


def well_footprint(wall: Wall, opening: Opening, margin: float = 0.0) -> Polygon:
    """The rectangle that a well takes in front of its wall, grown by `margin` metres."""
    half = opening.width / 2 + margin
    start, end, out = opening.distance - half, opening.distance + half, opening.projection + margin
    return Polygon(
        [wall.point(start), wall.point(end), wall.point(end, out), wall.point(start, out)]
    )


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
    return flat[mine]


def _open_cells_near(terrain: Terrain, wall: Wall, distance: float, half: float, out: float):
    """Open cells about a place on a wall: flat index, distance along from it, distance out."""
    grid = terrain.grid
    corners = [wall.point(distance + s * half, o) for s in (-1, 1) for o in (-grid.cell_size, out)]
    rows, cols = _window(grid, np.array(corners))
    x, y = grid.centers()
    away_x = x[cols][None, :] - wall.first[0]
    away_y = y[rows][:, None] - wall.first[1]
    along = away_x * wall.along[0] + away_y * wall.along[1] - distance
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
