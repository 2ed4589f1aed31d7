"""Where an opening lies on the plan, and the open cells of ground beside it.

In: an opening and its building. Out: its place on the wall and the cells whose water can get in.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from runoff.foundation.walls import Wall
from runoff.site.model import Opening
from runoff.terrain.model import Grid, Terrain

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


def _along_edge(wall: Wall, opening: Opening):
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


def _open_cells_near(terrain: Terrain, wall: Wall, distance: float, half: float, out: float):
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
