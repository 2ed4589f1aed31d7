"""The plan's grid over elevation data, and heights taken onto it between pixel centers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runoff.site.model import Georeference, Site
from runoff.terrain.cells import MOST_CELLS, MOST_CELLS_A_PIXEL, NEAR_BUILDING, gap_size
from runoff.terrain.elevation_parts import (
    Part,
    around,
    is_square,
    pixel_size,
    to_pixels,
    to_plan,
)
from runoff.terrain.extent import Bounds
from runoff.terrain.model import Grid
from runoff.terrain.relief import Cells


def plan_grid(
    parts: Sequence[Part], place: Georeference, wanted: Bounds | None, site: Site
) -> Grid:
    """The grid on the plan: a raster's own cells where it is square, split where a gap asks.

    Several parts are covered together, with cells as large as those of the first.
    """
    first = parts[0]
    own = pixel_size(first, place)
    outlines = [_outline(part, place) for part in parts]
    left, bottom = np.min([each.min(axis=0) for each in outlines], axis=0).tolist()
    right, top = np.max([each.max(axis=0) for each in outlines], axis=0).tolist()
    square = len(parts) == 1 and is_square(first, place)
    if wanted is not None and not square:
        left, bottom = max(left, wanted[0]), max(bottom, wanted[1])
        right, top = min(right, wanted[2]), min(top, wanted[3])
    rows, cols = first.heights.shape
    if not square:
        rows, cols = (
            max(1, math.ceil((top - bottom) / own)),
            max(1, math.ceil((right - left) / own)),
        )
    split = _split(site, own, rows * cols)
    size = own / split
    if square:
        return Grid(rows * split, cols * split, size, left, bottom)
    return Grid(
        max(1, math.ceil((top - bottom) / size)),
        max(1, math.ceil((right - left) / size)),
        size,
        left,
        bottom,
    )


def _outline(part: Part, place: Georeference) -> NDArray[np.float64]:
    rows, cols = part.heights.shape
    return to_plan(part, place, around((0.0, 0.0, float(cols), float(rows))))


def _split(site: Site, own: float, pixels: int) -> int:
    """Into how many parts, each way, a pixel is divided: for gaps, and for the user's own shots."""
    largest = min(own, gap_size(site, own / MOST_CELLS_A_PIXEL), site.cell_size or math.inf)
    if site.spot_heights and site.cell_size is None:
        largest = min(largest, NEAR_BUILDING)
    most = math.isqrt(max(1, MOST_CELLS // pixels))
    return max(1, min(math.ceil(own / largest - 1e-6), most))


def on_grid(part: Part, place: Georeference, grid: Grid) -> NDArray[np.float64]:
    """Heights of a part at the centers of a plan grid, NaN where it has none."""
    if is_square(part, place) and part.heights.shape == (grid.rows, grid.cols):
        columns = slice(None, None, 1 if part.pixels.a > 0 else -1)
        return part.heights[:: 1 if part.pixels.e < 0 else -1, columns].copy()
    col, row = _pixels_of(part, place, grid).T
    return bilinear(part.heights, row - 0.5, col - 0.5).reshape(grid.rows, grid.cols)


@dataclass(frozen=True)
class Raster:
    """The ground of elevation data, between its pixels' centers as the data means it: bilinear.

    Parameters
    ----------
    part : Part
    place : Georeference
    cells : Cells
        The same on the plan's grid, for what lies beside a gap in the data or beyond its outermost
        centers.
    """

    part: Part
    place: Georeference
    cells: Cells

    @property
    def blur(self) -> float:
        """A pixel, metres."""
        return max(pixel_size(self.part, self.place), self.cells.blur)

    def heights(
        self,
        points: NDArray[np.float64],
        feet: NDArray[np.float64] | None = None,
        outward: NDArray[np.float64] | None = None,
    ) -> NDArray[np.float64]:
        """As `Relief.heights`."""
        col, row = to_pixels(self.part, self.place, points).T
        found = bilinear(self.part.heights, row - 0.5, col - 0.5)
        lost = np.flatnonzero(np.isnan(found))
        side = [None if each is None else each[lost] for each in (feet, outward)]
        found[lost] = self.cells.heights(points[lost], *side)
        return found


def to_its_edge(part: Part, place: Georeference, grid: Grid) -> NDArray[np.float64]:
    """The same out to the outer edge of the pixels, along the slope between the outermost two."""
    col, row = _pixels_of(part, place, grid).T
    rows, cols = part.heights.shape
    inside = (col >= 0) & (row >= 0) & (col <= cols) & (row <= rows)
    heights = bilinear(_padded(part.heights), row + 0.5, col + 0.5)
    return np.where(inside, heights, np.nan).reshape(grid.rows, grid.cols)


def _padded(heights: NDArray[np.float64]) -> NDArray[np.float64]:
    """Heights with one more pixel on each side, continued on a straight line."""
    for axis in (0, 1):
        turned = heights if axis == 0 else heights.T
        inner = min(1, len(turned) - 1)
        before = 2 * turned[0] - turned[inner]
        after = 2 * turned[-1] - turned[-1 - inner]
        turned = np.concatenate([before[None], turned, after[None]])
        heights = turned if axis == 0 else turned.T
    return heights


def _pixels_of(part: Part, place: Georeference, grid: Grid) -> NDArray[np.float64]:
    x, y = np.meshgrid(*grid.centers())
    return to_pixels(part, place, np.column_stack([x.ravel(), y.ravel()]))


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
