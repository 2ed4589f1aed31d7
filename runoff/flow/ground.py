"""Heights made ready for the kernels: walls, missing cells and drain inlets prepared beforehand.

Walls become +inf, so that nothing is lower on their account; missing cells and drain inlets become
-inf, so that whatever reaches them is gone. The kernels then test no flags.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def checked_elevation(elevation: ArrayLike) -> NDArray[np.floating]:
    """The elevation as a 2-D array of float32 or float64, C-ordered.

    Raises
    ------
    ValueError
        If it is not 2-D, holds no cell, or holds infinite heights.

    Examples
    --------
    >>> checked_elevation([[1, 2], [3, 4]]).dtype
    dtype('float64')
    """
    z = np.asarray(elevation)
    if z.ndim != 2 or z.size == 0:
        raise ValueError(f"elevation must be a 2-D array with cells; its shape is {z.shape}")
    if z.dtype not in (np.float32, np.float64):
        z = z.astype(np.float64)
    # Sums tell infinities without an array of flags: a finite or NaN extreme is neither.
    if np.isinf(np.fmin.reduce(z, axis=None)) or np.isinf(np.fmax.reduce(z, axis=None)):
        raise ValueError("elevation holds infinite heights; mark missing cells with NaN")
    # A read-only array is copied: to the kernels it would be a type of its own, compiled anew.
    return np.require(z, requirements=["C", "W"])


def checked_closed(closed: ArrayLike | None, shape: tuple[int, int]) -> NDArray[np.bool_] | None:
    """The closed cells as a bool array of the elevation's shape, or None where there are none.

    Raises
    ------
    ValueError
        If the shape differs from the elevation's.
    """
    if closed is None:
        return None
    walls = np.asarray(closed, dtype=bool)
    if walls.shape != shape:
        raise ValueError(f"closed has shape {walls.shape}, the elevation has {shape}")
    return walls if walls.any() else None


def prepare(
    z: NDArray[np.floating],
    closed: NDArray[np.bool_] | None,
    inlets: NDArray[np.int64] | None = None,
) -> NDArray[np.floating]:
    """Heights for the kernels: walls +inf, missing cells and drain inlets -inf; the rest as it is.

    Returns the array itself where there is nothing to prepare.

    Parameters
    ----------
    z : (rows, cols) float32 or float64, metres, NaN where missing
    closed : (rows, cols) bool or None
    inlets : (k,) int64, flat indices of drain inlets, or None

    Examples
    --------
    >>> prepare(np.array([[1.0, np.nan], [2.0, 3.0]]), np.array([[False, False], [True, False]]))
    array([[  1., -inf],
           [ inf,   3.]])
    """
    missing = np.isnan(np.min(z))
    if closed is None and not missing and inlets is None:
        return z
    ready = z.copy()
    if missing:
        np.nan_to_num(ready, copy=False, nan=-np.inf)
    if inlets is not None:
        ready.reshape(-1)[inlets] = -np.inf
    if closed is not None:
        ready[closed] = np.inf
    return ready
