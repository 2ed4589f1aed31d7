"""Heights of the ground between the cell centers, up to the very wall.

In: a grid of heights with gaps, positions, and for those at a wall which side they look from. Out:
heights, NaN where there is no ground. A plane is met to rounding everywhere, at a wall too.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from runoff.terrain.model import Grid

_AROUND = 2
"""Cells to each side of a position whose plane stands in for a missing neighbor."""
_LINE = 1e-9
"""Cells whose spread to one side is this share of that to the other lie on one line."""


def heights_at(
    ground: NDArray[np.float64],
    grid: Grid,
    points: NDArray[np.float64],
    feet: NDArray[np.float64] | None = None,
    outward: NDArray[np.float64] | None = None,
) -> NDArray[np.float64]:
    """Ground heights at positions of the plan.

    Bilinear between the four nearest cell centers where all have ground. Beside a wall or the
    survey's end it is the plane through the nearby cells that have ground, nearer ones weighing
    more; cells behind the wall do not count, where one is named.

    Parameters
    ----------
    ground : (rows, cols) float64, metres, NaN where there is none
    grid : Grid
    points : (n, 2) plan metres
    feet, outward : (n, 2), optional
        A point of the wall that each position belongs to, and the unit vector away from it.

    Returns
    -------
    (n,) float64, metres, NaN where no ground lies beside the position

    Examples
    --------
    >>> from runoff.terrain.model import Grid
    >>> grid = Grid(rows=2, cols=3, cell_size=1.0, x0=0.0, y0=0.0)
    >>> ground = np.array([[np.nan, 1.0, 2.0], [np.nan, 1.0, 2.0]])
    >>> at = np.array([[1.0, 1.0], [2.0, 1.0]])
    >>> foot, away = np.array([[1.0, 1.0]] * 2), np.array([[1.0, 0.0]] * 2)
    >>> heights_at(ground, grid, at, foot, away).round(6).tolist()
    [0.5, 1.5]
    """
    across, down = grid.in_cells(points).T
    heights = _bilinear(ground, across, down)
    on_grid = (np.abs(across - grid.cols / 2) < grid.cols / 2 + _AROUND) & (
        np.abs(down - grid.rows / 2) < grid.rows / 2 + _AROUND
    )
    lost = np.flatnonzero(np.isnan(heights) & on_grid)
    if lost.size:
        wall = None
        if feet is not None and outward is not None:
            wall = points[lost] - feet[lost], outward[lost]
        heights[lost] = _fitted(ground, grid, across[lost], down[lost], wall)
    return heights


def _bilinear(ground, across, down) -> NDArray[np.float64]:
    rows, cols = ground.shape
    row, col = np.floor(down).astype(np.int64), np.floor(across).astype(np.int64)
    inside = (row >= 0) & (col >= 0) & (row < rows - 1) & (col < cols - 1)
    row, col = np.clip(row, 0, max(rows - 2, 0)), np.clip(col, 0, max(cols - 2, 0))
    below, right = np.minimum(row + 1, rows - 1), np.minimum(col + 1, cols - 1)
    v, u = down - row, across - col
    upper = ground[row, col] * (1 - u) + ground[row, right] * u
    lower = ground[below, col] * (1 - u) + ground[below, right] * u
    return np.where(inside, upper * (1 - v) + lower * v, np.nan)


def _fitted(ground, grid, across, down, wall) -> NDArray[np.float64]:
    """The weighted plane through the cells around each position; least tilt where it is free."""
    step = np.arange(-_AROUND, _AROUND + 1)
    dr, dc = (part.ravel() for part in np.meshgrid(step, step, indexing="ij"))
    row = np.rint(down).astype(np.int64)[:, None] + dr
    col = np.rint(across).astype(np.int64)[:, None] + dc
    inside = (row >= 0) & (col >= 0) & (row < grid.rows) & (col < grid.cols)
    z = ground[np.clip(row, 0, grid.rows - 1), np.clip(col, 0, grid.cols - 1)]
    x = (col - across[:, None]) * grid.cell_size
    y = (down[:, None] - row) * grid.cell_size
    used = inside & np.isfinite(z)
    if wall is not None:
        away, outward = wall
        out = (x + away[:, :1]) * outward[:, :1] + (y + away[:, 1:]) * outward[:, 1:]
        used &= out > -0.5 * grid.cell_size
    near = 1.0 / (x**2 + y**2 + (0.5 * grid.cell_size) ** 2)
    weight = np.where(used, near, 0.0)
    total = weight.sum(axis=1, keepdims=True)
    # Ground that begins farther off than this is not ground at the position.
    beside = used & (x**2 + y**2 <= (1.1 * grid.cell_size) ** 2)
    with np.errstate(invalid="ignore"):
        weight = weight / total
    z = np.where(used, z, 0.0)
    mean_x, mean_y, mean_z = ((weight * v).sum(axis=1, keepdims=True) for v in (x, y, z))
    tilt = _tilt(weight, x - mean_x, y - mean_y, np.where(used, z - mean_z, 0.0))
    at = mean_z[:, 0] - tilt[:, 0] * mean_x[:, 0] - tilt[:, 1] * mean_y[:, 0]
    return np.where(beside.any(axis=1), at, np.nan)


def _tilt(weight, x, y, z) -> NDArray[np.float64]:
    """Slopes along x and y by weighted least squares, (n, 2).

    Where all cells lie on one line the slope across it is free, and taken as none.
    """
    xx, xy, yy, xz, yz = (
        (weight * one * other).sum(axis=1)
        for one, other in ((x, x), (x, y), (y, y), (x, z), (y, z))
    )
    spread = (xx + yy) / 2 + np.hypot((xx - yy) / 2, xy)
    least = xx * yy - xy * xy
    with np.errstate(invalid="ignore", divide="ignore"):
        across = least / spread
        free = ~(across > _LINE * spread)
        tilt = np.stack([yy * xz - xy * yz, xx * yz - xy * xz], axis=1) / least[:, None]
        along = np.stack([(xx - across) * xz + xy * yz, xy * xz + (yy - across) * yz], axis=1)
        along /= (spread * (spread - across))[:, None]
    return np.nan_to_num(np.where(free[:, None], along, tilt))
