"""The ground from an elevation raster: only the part that the lot needs, on the plan's own grid.

A raster that lies square to the plan is taken cell by cell; any other is interpolated onto it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from runoff.site.georeference import map_to_plan, plan_to_map, transform
from runoff.site.model import ElevationSource, Georeference, Site
from runoff.site.problems import InputError, Problem
from runoff.terrain.cells import MOST_CELLS, gap_size
from runoff.terrain.extent import MARGIN, Bounds, extent_of
from runoff.terrain.ground import BareGround
from runoff.terrain.heights_unit import metres_per_height
from runoff.terrain.model import Grid

if TYPE_CHECKING:
    from affine import Affine

COARSEST_FOR_GRADE = 2.0
"""Cells larger than this, metres, say nothing about the grade at a wall."""
_SPARE_PIXELS = 2
_SQUARE = 1e-6


@dataclass(frozen=True)
class _Part:
    """Heights in metres of part of a raster, and how its pixels lie in the map system `crs`."""

    heights: NDArray[np.float64]
    pixels: Affine
    crs: Any


def elevation_ground(site: Site, source: ElevationSource) -> BareGround:
    """Read the ground of a site from its elevation raster.

    Parameters
    ----------
    site : Site
    source : ElevationSource

    Returns
    -------
    BareGround

    Raises
    ------
    InputError
        Where the raster cannot be read, does not cover the lot, is too large to be read whole, or
        says nowhere in which unit its heights are.
    """
    place = site.georeference
    if place is None:
        raise _input_error(source, "a raster with a map system, or crs in [site]")
    wanted = extent_of(site)
    part = _read(source, place, wanted)
    grid = _plan_grid(part, place, wanted, site)
    if grid.rows * grid.cols > MOST_CELLS:
        raise _input_error(
            source,
            f"a smaller area: {grid.rows * grid.cols:,} cells of {grid.cell_size:.2f} m are too "
            "many; give the [lot] boundary so that only its surroundings are read, or a larger "
            "cell_size",
        )
    heights = _on_grid(part, place, grid)
    if not np.isfinite(heights).any():
        raise _input_error(source, "heights around the lot; the raster has none there")
    return BareGround(grid, heights, (), tuple(_notices(site, part, place, grid, wanted)))


def _input_error(source: ElevationSource, expected: str, entry: str = "elevation") -> InputError:
    written = source.written
    return InputError(
        [Problem(written.file, written.line, f"[terrain] {entry}", source.path.name, expected)]
    )


def _read(source: ElevationSource, place: Georeference, wanted: Bounds | None) -> _Part:
    """Read the pixels that cover the wanted extent, heights in metres, NaN where there are none."""
    import rasterio
    from rasterio.errors import RasterioError
    from rasterio.windows import Window

    try:
        with rasterio.open(source.path) as raster:
            if not 1 <= source.band <= raster.count:
                raise _input_error(source, f"a band from 1 to {raster.count}", "band")
            unit = metres_per_height(source, raster)
            crs = raster.crs.to_wkt() if raster.crs else place.crs
            left, top, width, height = _window(raster, crs, place, wanted)
            if width <= 0 or height <= 0:
                raise _input_error(source, "a raster that covers the lot; this one lies elsewhere")
            if width * height > 4 * MOST_CELLS:
                raise _input_error(
                    source,
                    f"a smaller area than {width:,} by {height:,} cells; give the [lot] boundary "
                    "so that only its surroundings are read",
                )
            window = Window(left, top, width, height)
            pixels = raster.read(source.band, window=window, masked=True)
            heights = np.ma.filled(pixels.astype(np.float64), np.nan)
            scale, offset = raster.scales[source.band - 1], raster.offsets[source.band - 1]
            heights = (heights * scale + offset) * unit
            return _Part(heights, raster.window_transform(window), crs)
    except RasterioError as error:
        raise _input_error(source, f"a raster that can be read ({error})") from None


def _window(
    raster: Any, crs: str, place: Georeference, wanted: Bounds | None
) -> tuple[int, int, int, int]:
    """First column, first row, columns and rows that the wanted extent needs, cut to the raster."""
    if wanted is None:
        return 0, 0, raster.width, raster.height
    corners = plan_to_map(place, _around(wanted))
    x, y = transform(corners, place.crs, crs).T
    col, row = _apply(~raster.transform, x, y)
    left = max(math.floor(col.min()) - _SPARE_PIXELS, 0)
    top = max(math.floor(row.min()) - _SPARE_PIXELS, 0)
    right = min(math.ceil(col.max()) + _SPARE_PIXELS, raster.width)
    bottom = min(math.ceil(row.max()) + _SPARE_PIXELS, raster.height)
    return left, top, right - left, bottom - top


def _around(bounds: Bounds, points: int = 9) -> NDArray[np.float64]:
    """Positions around a rectangle, so that one bent by a map system is still covered."""
    left, bottom, right, top = bounds
    x, y = np.linspace(left, right, points), np.linspace(bottom, top, points)
    return np.concatenate(
        [
            np.column_stack([x, np.full(points, bottom)]),
            np.column_stack([x, np.full(points, top)]),
            np.column_stack([np.full(points, left), y]),
            np.column_stack([np.full(points, right), y]),
        ]
    )


def _apply(
    matrix: Affine, x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return matrix.a * x + matrix.b * y + matrix.c, matrix.d * x + matrix.e * y + matrix.f


def _same_map(part: _Part, place: Georeference) -> bool:
    from runoff.site.georeference import read_crs

    return bool(part.crs == place.crs or read_crs(part.crs) == read_crs(place.crs))


def _is_square(part: _Part, place: Georeference) -> bool:
    """Whether the pixels are squares along the plan's axes."""
    pixels = part.pixels
    size = abs(pixels.a)
    tilted = max(abs(pixels.b), abs(pixels.d)) > _SQUARE * max(size, abs(pixels.b))
    return not tilted and abs(abs(pixels.e) - size) <= _SQUARE * size and _same_map(part, place)


def _pixel_size(part: _Part, place: Georeference) -> float:
    """Side of a square as large as a pixel in the middle of the part, metres."""
    rows, cols = part.heights.shape
    middle = np.array([cols / 2, rows / 2])
    around = middle + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    corner = _to_plan(part, place, around)
    across, down = corner[1] - corner[0], corner[2] - corner[0]
    return math.sqrt(abs(across[0] * down[1] - across[1] * down[0]))


def _to_plan(part: _Part, place: Georeference, pixels: NDArray[np.float64]) -> NDArray[np.float64]:
    positions = np.column_stack(_apply(part.pixels, *pixels.T))
    return map_to_plan(place, transform(positions, part.crs, place.crs))


def _plan_grid(part: _Part, place: Georeference, wanted: Bounds | None, site: Site) -> Grid:
    """The grid on the plan: the raster's own cells where it is square, split where a gap asks."""
    rows, cols = part.heights.shape
    own = _pixel_size(part, place)
    largest = min(own, gap_size(site), site.cell_size or math.inf)
    split = max(1, min(math.ceil(own / largest - 1e-6), math.isqrt(MOST_CELLS // (rows * cols))))
    outline = _to_plan(part, place, _around((0.0, 0.0, float(cols), float(rows))))
    left, bottom = outline.min(axis=0).tolist()
    right, top = outline.max(axis=0).tolist()
    if _is_square(part, place):
        return Grid(rows * split, cols * split, own / split, left, bottom)
    if wanted is not None:
        left, bottom = max(left, wanted[0]), max(bottom, wanted[1])
        right, top = min(right, wanted[2]), min(top, wanted[3])
    size = own / split
    return Grid(
        max(1, math.ceil((top - bottom) / size)),
        max(1, math.ceil((right - left) / size)),
        size,
        left,
        bottom,
    )


def _on_grid(part: _Part, place: Georeference, grid: Grid) -> NDArray[np.float64]:
    if _is_square(part, place) and part.heights.shape == (grid.rows, grid.cols):
        columns = slice(None, None, 1 if part.pixels.a > 0 else -1)
        return part.heights[:: 1 if part.pixels.e < 0 else -1, columns].copy()
    x, y = np.meshgrid(*grid.centers())
    positions = plan_to_map(place, np.column_stack([x.ravel(), y.ravel()]))
    map_x, map_y = transform(positions, place.crs, part.crs).T
    col, row = _apply(~part.pixels, map_x, map_y)
    return bilinear(part.heights, row - 0.5, col - 0.5).reshape(grid.rows, grid.cols)


def bilinear(
    heights: NDArray[np.float64], row: NDArray[np.float64], col: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Heights between pixel centers; NaN beyond the outermost ones and beside a missing pixel.

    Parameters
    ----------
    heights : (rows, cols) float array
    row, col : (n,) float arrays
        Positions in pixels, whole numbers at the centers.

    Returns
    -------
    (n,) float array

    Examples
    --------
    >>> bilinear(np.array([[0.0, 2.0], [4.0, 6.0]]), np.array([0.5]), np.array([0.25])).tolist()
    [2.5]
    """
    rows, cols = heights.shape
    slack = 1e-6
    known = (row >= -slack) & (col >= -slack) & (row <= rows - 1 + slack)
    known &= col <= cols - 1 + slack
    row, col = np.clip(row, 0, rows - 1), np.clip(col, 0, cols - 1)
    r, c = np.rint(row), np.rint(col)
    row = np.where(np.abs(row - r) < slack, r, row)
    col = np.where(np.abs(col - c) < slack, c, col)
    top, left = np.floor(row).astype(np.int64), np.floor(col).astype(np.int64)
    down, across = row - top, col - left
    low, right = np.minimum(top + (down > 0), rows - 1), np.minimum(left + (across > 0), cols - 1)
    upper = heights[top, left] * (1 - across) + heights[top, right] * across
    lower = heights[low, left] * (1 - across) + heights[low, right] * across
    return np.where(known, upper * (1 - down) + lower * down, np.nan)


def _notices(
    site: Site, part: _Part, place: Georeference, grid: Grid, wanted: Bounds | None
) -> list[str]:
    notices = []
    own = _pixel_size(part, place)
    if own > COARSEST_FOR_GRADE:
        notices.append(
            f"The elevation data has cells of {own:.1f} m: too coarse to say anything about the "
            "grade at a wall."
        )
    if grid.cell_size < own * (1 - _SQUARE):
        notices.append(
            f"The elevation data's cells of {own:.2f} m are interpolated to {grid.cell_size:.2f} m."
        )
    if wanted is not None and not _covers(grid, wanted, own):
        notices.append(
            f"The elevation data ends less than {MARGIN:.0f} m from what is drawn; water that "
            "reaches its edge is not followed."
        )
    if grid.cell_size > gap_size(site):
        notices.append(
            "The narrowest gap between buildings is narrower than the cells can show; water may "
            "seem held back there. Keep only the buildings that matter, for finer cells."
        )
    return notices


def _covers(grid: Grid, wanted: Bounds, slack: float) -> bool:
    left, right, bottom, top = grid.extent
    return (
        left <= wanted[0] + slack
        and bottom <= wanted[1] + slack
        and right >= wanted[2] - slack
        and top >= wanted[3] - slack
    )
