"""Whether elevation data is as fine as its cells: a coarse model resampled is smoother.

Rough ground is rough at every distance; what was interpolated between coarse cells is not.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_LAGS = (1, 2, 3, 4, 6, 8, 12, 16)
"""Cells over which the ground's bends are measured."""
_SMOOTH, _ROUGH = 3.1, 2.5
"""Exponents of the bends' mean square over distance: from the first up the ground has no detail;
below the second it has."""
_LEAST_BEND = 0.02
"""Ground that bends less than this (m) over the coarse cell is near a plane: it tells nothing."""
_QUIET = 0.02
_LEAST_LINES = 5


def cells_of_detail(heights: NDArray[np.float64]) -> float | None:
    """How many cells wide the finest detail is, where a coarser model was resampled to these cells.

    The bend at a place is the second difference of three heights in a row, k cells apart. On
    ground whose rises over a distance h go as h^H, H up to 1 (a fractal surface: Mark & Aronson
    1984), the mean square of the bends grows as k^2H, at most k^2, and error of single heights
    keeps it level. Between the cells of a coarser model the ground is a smooth curve whose bends
    grow with k^2, their mean square with k^4, up to that model's cell, and as rough ground beyond.
    Planes or steps between the coarse cells bend at evenly spaced lines alone: found first.
    Nothing is said of ground near a plane or smooth throughout, nor of fewer than three cells.

    Parameters
    ----------
    heights : (rows, cols) float64, metres, NaN where there are none

    Returns
    -------
    float or None
        None where the data is as fine as its cells, or too little is there to tell.

    References
    ----------
    Mark, D. M. & Aronson, P. B. (1984). Scale-dependent fractal dimensions of topographic surfaces.
    Mathematical Geology 16(7), 671-683.

    Examples
    --------
    >>> rough = np.random.default_rng(1).normal(size=(60, 60))
    >>> cells_of_detail(rough) is None
    True
    >>> cells_of_detail(np.kron(rough[:12, :12], np.ones((5, 5))))
    5.0
    """
    if min(heights.shape) < 3 * _LAGS[-1]:
        return None
    bends = np.array([_mean_square(heights, lag) for lag in _LAGS])
    if not np.isfinite(bends).all() or bends[0] <= 0 or bends[-1] < _LEAST_BEND**2:
        return None
    across, down = _line_spacing(heights), _line_spacing(heights.T)
    if across is not None and down is not None and abs(across - down) <= 1:
        return (across + down) / 2
    exponent = np.diff(np.log(bends)) / np.diff(np.log(_LAGS))
    middle = np.sqrt(np.multiply(_LAGS[:-1], _LAGS[1:]))
    rough = np.flatnonzero(exponent < _ROUGH)
    if np.log(bends[2] / bends[0]) < _SMOOTH * np.log(_LAGS[2]) or not rough.size:
        return None
    after = int(rough[0])
    if after == 0 or bends[after] < _LEAST_BEND**2:
        return None
    cells = np.interp(-_ROUGH, -exponent[after - 1 : after + 1], middle[after - 1 : after + 1])
    return float(cells) if cells >= 2.5 else None


def _bends(heights: NDArray[np.float64], lag: int) -> NDArray[np.float64]:
    """Second differences along the rows."""
    return heights[:, 2 * lag :] - 2 * heights[:, lag:-lag] + heights[:, : -2 * lag]


def _mean_square(heights: NDArray[np.float64], lag: int) -> float:
    both = np.concatenate([_bends(heights, lag).ravel(), _bends(heights.T, lag).ravel()])
    known = both[np.isfinite(both)]
    return float(np.mean(known**2)) if known.size else np.nan


def _line_spacing(heights: NDArray[np.float64]) -> float | None:
    """Columns from one line at which the ground bends to the next, where it bends at such only."""
    squares = _bends(heights, 1) ** 2
    known = np.isfinite(squares)
    counts = known.sum(axis=0)
    if not counts.all():
        return None
    by_column = np.where(known, squares, 0.0).sum(axis=0) / counts
    starts = np.flatnonzero(np.diff((by_column > _QUIET * by_column.mean()).astype(int)) > 0)
    gaps = np.diff(starts)
    if len(starts) < _LEAST_LINES or gaps.min() < 3 or np.ptp(gaps) > 1:
        return None
    return float(round(gaps.mean(), 1))
