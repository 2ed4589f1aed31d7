"""The plan's grid: how much ground it takes in, how large its cells are, where it lies, and the
cells that buildings cover.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from runoff.site.model import Building, Lot, Site
from runoff.site.notices import Notice
from runoff.site.problems import InputError, Problem
from runoff.terrain.model import Grid

MARGIN = 30.0
"""Ground kept around everything that is drawn, metres: run-on comes from beyond the lot."""

Bounds = tuple[float, float, float, float]


def extent_of(site: Site) -> Bounds | None:
    """(left, bottom, right, top), metres, of what is drawn and a margin; None where nothing is."""
    shapes: list[BaseGeometry] = [building.outline for building in site.own_buildings]
    shapes += [shapely.Point(spot.x, spot.y) for spot in site.spot_heights]
    shapes += [shapely.Point(foot.x, foot.y) for foot in site.downspouts]
    if site.lot is not None:
        shapes.append(site.lot.boundary)
    if not shapes:
        return None
    left, bottom, right, top = shapely.total_bounds(shapes).tolist()
    return left - MARGIN, bottom - MARGIN, right + MARGIN, top + MARGIN


NEAR_BUILDING = 0.3
"""Largest cell beside a building, metres."""
SMALLEST, LARGEST = 0.05, 1.0
CELLS_A_SPACING = 10
MOST_CELLS_A_SPACING, MOST_CELLS_A_PIXEL = 30, 4
"""A gap makes no more cells than these of the spacing of the heights, or of the data's own cell."""
MOST_CELLS = 4_000_000
CELLS_IN_GAP = 3.0
"""Cells across the narrowest gap: so many that two are open where it runs diagonally."""
MARGIN_CELLS = 2


def spot_grid(
    site: Site, bounds: tuple[float, float, float, float], spacing: float
) -> tuple[Grid, list[Notice]]:
    """The grid over a survey, a margin of two cells around it.

    Parameters
    ----------
    site : Site
    bounds : (left, bottom, right, top), metres
    spacing : float, metres
        Median distance between neighboring points.

    Returns
    -------
    grid : Grid
    notices : list of Notice

    Raises
    ------
    InputError
        Where the site's own cell size would make too many cells.
    """
    size, notices = _wanted_size(site, spacing)
    width, height = bounds[2] - bounds[0], bounds[3] - bounds[1]
    coarsest = _coarsest_that_fits(width, height)
    if size < coarsest:
        if site.cell_size is not None and site.cell_size < coarsest:
            raise InputError([_too_many(site, size, coarsest)])
        cells = {"used_m": coarsest, "wanted_m": size}
        notices.append(Notice("cells of a large survey", figures=cells))
        size = coarsest
    notices += gap_notices(site, size)
    left = bounds[0] - MARGIN_CELLS * size
    bottom = bounds[1] - MARGIN_CELLS * size
    rows = math.ceil(height / size - 1e-9) + 2 * MARGIN_CELLS
    cols = math.ceil(width / size - 1e-9) + 2 * MARGIN_CELLS
    return Grid(rows, cols, size, left, bottom), notices


def gap_size(site: Site, finest: float = 0.0) -> float:
    """The largest cell that leaves two open ones in every gap between buildings; infinite if none.

    Parameters
    ----------
    site : Site
    finest : float, metres
        What the heights can tell apart: a gap that would need finer cells does not set them.
    """
    gap = narrowest_gap(site.buildings, site.lot)
    return math.inf if gap is None else max(gap / CELLS_IN_GAP, SMALLEST, finest)


def gap_notices(site: Site, size: float) -> list[Notice]:
    """Say where cells of a size close a gap between buildings."""
    gap = narrowest_gap(site.buildings, site.lot)
    if gap is None or size <= max(gap / CELLS_IN_GAP, SMALLEST) * (1 + 1e-9):
        return []
    return [Notice("gap too narrow", figures={"gap_m": gap})]


def _wanted_size(site: Site, spacing: float) -> tuple[float, list[Notice]]:
    fit = gap_size(site, spacing / MOST_CELLS_A_SPACING)
    if site.cell_size is not None:
        if site.cell_size > fit:
            cells = {"used_m": fit, "wanted_m": site.cell_size}
            return fit, [Notice("cells for a gap", figures=cells)]
        return site.cell_size, []
    size = float(np.clip(spacing / CELLS_A_SPACING, 2 * SMALLEST, LARGEST))
    if site.buildings:
        size = min(size, NEAR_BUILDING)
    return min(size, fit), []


def _coarsest_that_fits(width: float, height: float) -> float:
    around = 2 * MARGIN_CELLS + 1
    size = math.sqrt(width * height / MOST_CELLS)
    while size and (width / size + around) * (height / size + around) > MOST_CELLS:
        size *= 1.01
    return math.ceil(size * 100) / 100 if size > SMALLEST / 10 else 0.0


def _too_many(site: Site, size: float, fits: float) -> Problem:
    return Problem(
        site.path.name,
        None,
        "[terrain] cell_size",
        f"{size:g} m",
        f"at least {fits:.2f} m ({fits / 0.3048:.2f} ft) for a survey as large as this one",
    )


def bounds_of(xy: NDArray[np.float64]) -> tuple[float, float, float, float]:
    """(left, bottom, right, top) of (n, 2) positions.

    Examples
    --------
    >>> bounds_of(np.array([[1.0, 2.0], [3.0, -4.0]]))
    (1.0, -4.0, 3.0, 2.0)
    """
    left, bottom = xy.min(axis=0).tolist()
    right, top = xy.max(axis=0).tolist()
    return left, bottom, right, top


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
