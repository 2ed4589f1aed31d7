"""Buildings on the ground: their union, and the cells they cover."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from runoff.site.model import Building, Lot
from runoff.terrain.model import Grid

_TOUCHING = 0.02
_ON_THE_WALL = 1e-4
"""Centers this near to an outline, metres, lie on it."""
_BESIDE_LOT = 2.0


def union_of(buildings: Sequence[Building]) -> BaseGeometry:
    """All the outlines as one geometry, walls that touch merged."""
    return shapely.union_all([building.outline for building in buildings])


def narrowest_gap(buildings: Sequence[Building], lot: Lot | None = None) -> float | None:
    """The least distance between two buildings that do not touch, metres; None for no gap.

    Gaps between two neighbors' houses do not count, nor those that do not lie on or beside the lot.
    """
    near = None if lot is None else lot.boundary.buffer(_BESIDE_LOT)
    parts = [
        (each.outline if near is None else each.outline.intersection(near), each.neighbor)
        for each in buildings
    ]
    shapes = [part for part in parts if not part[0].is_empty]
    gaps = [
        one.distance(other)
        for (one, theirs), (other, also) in combinations(shapes, 2)
        if not (theirs and also)
    ]
    return min((gap for gap in gaps if gap > _TOUCHING), default=None)


def building_cells(buildings: Sequence[Building], grid: Grid) -> NDArray[np.int16]:
    """Which building covers each cell: its index, -1 for none.

    A cell is covered where its center lies in an outline, or on it but for rounding. Parts thinner
    than about a cell cover every cell they touch, so that no water leaks through a thin wall.

    Parameters
    ----------
    buildings : sequence of Building
    grid : Grid

    Returns
    -------
    (rows, cols) int16 array
    """
    covered = np.full((grid.rows, grid.cols), -1, dtype=np.int16)
    for index, building in enumerate(buildings):
        window = _window(building.outline, grid)
        if window is None:
            continue
        part = covered[window]
        part[_covers(building.outline, grid, window) & (part < 0)] = index
    return covered


Window = tuple[slice, slice]


def _window(shape: BaseGeometry, grid: Grid) -> Window | None:
    left, bottom, right, top = shape.bounds
    last_row, first_col = grid.cell(left, bottom)
    first_row, last_col = grid.cell(right, top)
    rows = slice(max(first_row, 0), min(last_row + 1, grid.rows))
    cols = slice(max(first_col, 0), min(last_col + 1, grid.cols))
    return (rows, cols) if rows.start < rows.stop and cols.start < cols.stop else None


def _covers(outline: Polygon, grid: Grid, window: Window) -> NDArray[np.bool_]:
    """Which cells of the window have their center in the outline, or touch a thin part of it."""
    x, y = grid.centers()
    rows, cols = window
    grown = outline.buffer(_ON_THE_WALL, join_style="mitre")
    shapely.prepare(grown)
    mesh_x, mesh_y = np.meshgrid(x[cols], y[rows])
    centered = shapely.contains_xy(grown, mesh_x.ravel(), mesh_y.ravel())
    covers: NDArray[np.bool_] = np.asarray(centered).reshape(mesh_x.shape)
    for part in _thin_parts(outline, grid.cell_size):
        near = _window(part, grid)
        if near is None:
            continue
        inner = tuple(
            slice(n.start - w.start, n.stop - w.start) for n, w in zip(near, window, strict=True)
        )
        covers[inner] |= _touched(part, mesh_x[inner], mesh_y[inner], grid.cell_size / 2)
    return covers


def _touched(
    part: BaseGeometry, x: NDArray[np.float64], y: NDArray[np.float64], half: float
) -> NDArray[np.bool_]:
    boxes = shapely.box(x - half, y - half, x + half, y + half)
    shapely.prepare(part)
    return np.asarray(shapely.relate_pattern(boxes, part, "T********"))


def _thin_parts(outline: Polygon, cell_size: float) -> list[BaseGeometry]:
    reach = 0.71 * cell_size
    thick = outline.buffer(-reach, join_style="mitre").buffer(1.01 * reach, join_style="mitre")
    thin = shapely.get_parts(outline.difference(thick))
    return [part for part in thin if part.area > 0.05 * cell_size**2]
