"""From triangles to cells: the height of a triangulated surface at every cell center."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from runoff.terrain.model import Grid

Floats = NDArray[np.float64]

_CELLS_AT_ONCE = 20_000
"""So few that the arrays of a pass stay in the processor's cache."""
_EDGE_SLACK = 1e-9
_NO_TRIANGLE = 1e-12


def sample_triangles(
    xyz: NDArray[np.float64], triangles: NDArray[np.int64], grid: Grid
) -> NDArray[np.float64]:
    """Heights at the cell centers, linear over each triangle; NaN where no triangle lies.

    Each triangle is cut into its rows of cells, and only the cells between its edges are tested.

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
    corner[:, :, :2] = grid.in_cells(corner[:, :, :2])
    strips = _strips(corner, grid)
    total = np.cumsum(strips.cells)
    start = 0
    while start < len(total):
        before = total[start - 1] if start else 0
        stop = max(start + 1, int(np.searchsorted(total, before + _CELLS_AT_ONCE, side="right")))
        _fill(heights, _Strips._make(column[start:stop] for column in strips))
        start = stop
    return heights


class _Strips(NamedTuple):
    """Rows of cells of triangles, an entry each.

    `row`, `first` and `cells` say which cells. With x columns right of a corner `at_x`, the parts
    of the two other corners are ``(x * u_x - u_0) / twice`` and ``(v_0 - x * v_x) / twice``; they
    raise the height `z` of that corner by `u_z` and `v_z`.
    """

    row: NDArray[np.int64]
    first: NDArray[np.int64]
    cells: NDArray[np.int64]
    at_x: NDArray[np.float64]
    twice: NDArray[np.float64]
    u_x: NDArray[np.float64]
    u_0: NDArray[np.float64]
    v_x: NDArray[np.float64]
    v_0: NDArray[np.float64]
    z: NDArray[np.float64]
    u_z: NDArray[np.float64]
    v_z: NDArray[np.float64]


def _strips(corner: NDArray[np.float64], grid: Grid) -> _Strips:
    """Cut triangles, (t, 3, 3) in cells, into rows of cells, in the order of the triangles."""
    low, high = _boxes(corner, grid)
    a = corner[:, 0]
    ab, ac = corner[:, 1] - a, corner[:, 2] - a
    twice = ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]
    kept = (np.abs(twice) >= _NO_TRIANGLE) & (high > low).all(axis=1)
    rows = np.where(kept, high[:, 1] - low[:, 1], 0)
    owner = np.repeat(np.arange(len(rows)), rows)
    row = low[owner, 1] + np.arange(len(owner)) - np.repeat(np.cumsum(rows) - rows, rows)
    a, ab, ac, twice = a[owner], ab[owner], ac[owner], twice[owner]
    down = row - a[:, 1]
    u_0, v_0 = down * ac[:, 0], ab[:, 0] * down
    left, right = _between_edges(ac[:, 1], u_0, ab[:, 1], v_0, twice)
    first = np.clip(np.floor(a[:, 0] + left), low[owner, 0], high[owner, 0])
    last = np.clip(np.ceil(a[:, 0] + right) + 1, first, high[owner, 0])
    first, cells = first.astype(np.int64), (last - first).astype(np.int64)
    return _Strips(
        *(row, first, cells, a[:, 0], twice, ac[:, 1], u_0, ab[:, 1], v_0),
        *(a[:, 2], ab[:, 2], ac[:, 2]),
    )


def _boxes(corner: NDArray[np.float64], grid: Grid) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First column and row of each triangle's bounding box, and those just past it, (t, 2)."""
    limit = np.array([grid.cols, grid.rows])
    low = np.clip(np.ceil(corner[:, :, :2].min(axis=1) - 1e-6), 0, limit).astype(np.int64)
    high = np.clip(np.floor(corner[:, :, :2].max(axis=1) + 1e-6) + 1, 0, limit).astype(np.int64)
    return low, high


def _between_edges(
    u_x: Floats, u_0: Floats, v_x: Floats, v_0: Floats, twice: Floats
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where along its row a strip enters and leaves its triangle, in columns from `at_x`.

    Each of the three parts is at least about 0 there. A part that does not change along the row
    sets no limit.
    """
    left, right = np.full(len(twice), -np.inf), np.full(len(twice), np.inf)
    slack = _EDGE_SLACK * np.abs(twice)
    sign = np.sign(twice)
    for rise, at in ((u_x, -u_0), (-v_x, v_0), (v_x - u_x, twice + u_0 - v_0)):
        rise, at = sign * rise, sign * at + slack
        with np.errstate(divide="ignore", invalid="ignore"):
            bound = -at / rise
        left = np.where(rise > 0, np.fmax(left, bound), left)
        right = np.where(rise < 0, np.fmin(right, bound), right)
    return left, right


def _fill(heights: NDArray[np.float64], strips: _Strips) -> None:
    cells = strips.cells
    owner = np.repeat(np.arange(len(cells)), cells)
    col = np.arange(len(owner)) + (strips.first - np.cumsum(cells) + cells)[owner]
    x = col - strips.at_x[owner]
    twice = strips.twice[owner]
    u = (x * strips.u_x[owner] - strips.u_0[owner]) / twice
    v = (strips.v_0[owner] - strips.v_x[owner] * x) / twice
    inside = (u >= -_EDGE_SLACK) & (v >= -_EDGE_SLACK) & (u + v <= 1 + _EDGE_SLACK)
    height = strips.z[owner] + u * strips.u_z[owner] + v * strips.v_z[owner]
    cell = strips.row[owner] * heights.shape[1] + col
    heights.ravel()[cell[inside]] = height[inside]
