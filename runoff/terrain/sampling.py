"""From triangles to cells: the height of a triangulated surface at every cell center."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from runoff.terrain.model import Grid

_CANDIDATES_AT_ONCE = 2_000_000
_EDGE_SLACK = 1e-9


def sample_triangles(
    xyz: NDArray[np.float64], triangles: NDArray[np.int64], grid: Grid
) -> NDArray[np.float64]:
    """Heights at the cell centers, linear over each triangle; NaN where no triangle lies.

    Every triangle is tested only against the cells of its own bounding box, all triangles at once.

    Parameters
    ----------
    xyz : (n, 3) float array, metres
    triangles : (t, 3) int array
    grid : Grid

    Returns
    -------
    (rows, cols) float array, metres

    Examples
    --------
    >>> xyz = np.array([[0.0, 0.0, 0.0], [2.0, 0.0, 2.0], [0.0, 2.0, 4.0]])
    >>> sample_triangles(xyz, np.array([[0, 1, 2]]), Grid(2, 2, 1.0, 0.0, 0.0))
    array([[3.5, nan],
           [1.5, 2.5]])
    """
    heights = np.full((grid.rows, grid.cols), np.nan)
    corner = xyz[triangles].copy()
    corner[:, :, 0] = (corner[:, :, 0] - grid.x0) / grid.cell_size - 0.5
    corner[:, :, 1] = grid.rows - 0.5 - (corner[:, :, 1] - grid.y0) / grid.cell_size
    first, size = _boxes(corner, grid)
    cells = size[:, 0] * size[:, 1]
    kept = cells > 0
    corner, first, size, cells = corner[kept], first[kept], size[kept], cells[kept]
    start = 0
    while start < len(cells):
        total = np.cumsum(cells[start:])
        stop = start + max(1, int(np.searchsorted(total, _CANDIDATES_AT_ONCE, side="right")))
        part = slice(start, stop)
        _fill(heights, corner[part], first[part], size[part])
        start = stop
    return heights


def _boxes(corner: NDArray[np.float64], grid: Grid) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    limit = np.array([grid.cols, grid.rows])
    low = np.clip(np.ceil(corner[:, :, :2].min(axis=1) - 1e-6), 0, limit).astype(np.int64)
    high = np.clip(np.floor(corner[:, :, :2].max(axis=1) + 1e-6) + 1, 0, limit).astype(np.int64)
    return low, np.maximum(high - low, 0)


def _fill(
    heights: NDArray[np.float64],
    corner: NDArray[np.float64],
    first: NDArray[np.int64],
    size: NDArray[np.int64],
) -> None:
    cells = size[:, 0] * size[:, 1]
    owner = np.repeat(np.arange(len(cells)), cells)
    within = np.arange(len(owner)) - np.repeat(np.cumsum(cells) - cells, cells)
    col = first[owner, 0] + within % size[owner, 0]
    row = first[owner, 1] + within // size[owner, 0]
    a, b, c = corner[:, 0], corner[:, 1], corner[:, 2]
    ab, ac = b - a, c - a
    twice = ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]
    flat = np.abs(twice) < 1e-12
    twice = np.where(flat, np.nan, twice)
    px, py = col - a[owner, 0], row - a[owner, 1]
    u = (px * ac[owner, 1] - py * ac[owner, 0]) / twice[owner]
    v = (ab[owner, 0] * py - ab[owner, 1] * px) / twice[owner]
    inside = (u >= -_EDGE_SLACK) & (v >= -_EDGE_SLACK) & (u + v <= 1 + _EDGE_SLACK)
    tri = owner[inside]
    heights[row[inside], col[inside]] = a[tri, 2] + u[inside] * ab[tri, 2] + v[inside] * ac[tri, 2]
