"""D-infinity flow directions: the steepest descent over eight triangles around each cell.

In: heights, row 0 at the top, and walls. Out: an angle a cell, and from it the one or two neighbors
that share the cell's water.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runoff.flow.engine.compiled import kernel
from runoff.flow.engine.directions import COL_STEP, ROW_STEP

# Facet i of Tarboton (1997), table 1, lies between the neighbors i and i + 1, counterclockwise from
# east; these constants turn its own angle, from the one beside to the diagonal, into one from east.
_QUARTERS = np.array([0, 1, 1, 2, 2, 3, 3, 4], dtype=np.int64)
_SIGN = np.array([1, -1, 1, -1, 1, -1, 1, -1], dtype=np.int64)

_ON_A_NEIGHBOR = 1e-12


@kernel
def _facet(e0, e1, e2, e1_closed, e2_closed):
    """Slope of the steepest descent within one facet, and its direction as (beyond, beside).

    Where one of the two neighbors is a wall only the way to the other is left. Missing ground is
    an open edge: the way to it is steeper than any other.
    """
    to_e1 = -np.inf if e1_closed else (np.inf if np.isnan(e1) else e0 - e1)
    to_e2 = -np.inf if e2_closed else (np.inf if np.isnan(e2) else (e0 - e2) / np.sqrt(2.0))
    if np.isinf(to_e1) or np.isinf(to_e2):
        return (to_e2, 1.0, 1.0) if to_e2 > to_e1 else (to_e1, 0.0, 1.0)
    beside, beyond = e0 - e1, e1 - e2
    if beyond < 0.0:
        return to_e1, 0.0, 1.0
    if beyond > beside:
        return to_e2, 1.0, 1.0
    return np.hypot(beside, beyond), beyond, beside


@kernel
def _angles(z, closed, cols, angle):
    step = np.empty(9, np.int64)
    for k in range(9):
        step[k] = ROW_STEP[k % 8] * cols + COL_STEP[k % 8]
    height, wall = np.empty(9), np.empty(9, np.bool_)
    for cell in range(cols + 1, z.size - cols - 1):
        e0 = z[cell]
        if closed[cell] or np.isnan(e0) or cell % cols == 0 or cell % cols == cols - 1:
            continue
        for k in range(9):
            height[k], wall[k] = z[cell + step[k]], closed[cell + step[k]]
        steepest, facet, across, along = 0.0, -1, 0.0, 1.0
        for i in range(8):
            if height[i] >= e0 and height[i + 1] >= e0:
                continue
            e1, e2 = i + i % 2, i + 1 - i % 2
            slope, beyond, beside = _facet(e0, height[e1], height[e2], wall[e1], wall[e2])
            if slope > steepest:
                steepest, facet, across, along = slope, i, beyond, beside
        if facet >= 0:
            turn = _SIGN[facet] * np.arctan2(across, along) + _QUARTERS[facet] * np.pi / 2
            angle[cell] = turn if turn < 2 * np.pi else 0.0


def d_infinity_directions(
    elevation: ArrayLike, closed: ArrayLike | None = None
) -> NDArray[np.float64]:
    """Angle of steepest descent at each cell by D-infinity.

    Unlike a choice among eight neighbors it gives the true aspect of an inclined plane.

    Parameters
    ----------
    elevation : (rows, cols) array, metres
        Heights, row 0 at the top. NaN is missing ground, an open edge: it draws the water of the
        cells beside it.
    closed : (rows, cols) bool array, optional
        Walls: they have no direction and no cell points to them.

    Returns
    -------
    angle : (rows, cols) float64, radians
        Counterclockwise from east, 0 <= angle < 2 pi. NaN in pits, on level ground, in closed and
        missing cells, and in the border cells, from which water is gone.

    References
    ----------
    Tarboton, D. G. (1997). A new method for the determination of flow directions and upslope areas
    in grid digital elevation models. Water Resources Research 33(2), 309-319.
    https://doi.org/10.1029/96WR03137

    Examples
    --------
    A plane that falls 2 to the east for each 1 to the south:

    >>> rows, cols = np.mgrid[0:3, 0:3]
    >>> angle = d_infinity_directions(-2.0 * cols - 1.0 * rows)
    >>> round(float(np.degrees(angle[1, 1])), 3)  # 360 - atan(1 / 2)
    333.435
    """
    z = np.ascontiguousarray(elevation, dtype=np.float64)
    walls = np.zeros(z.shape, dtype=bool) if closed is None else np.array(closed, dtype=bool)
    angle = np.full(z.shape, np.nan)
    _angles(z.ravel(), walls.ravel(), z.shape[1], angle.ravel())
    return angle


def d_infinity_receivers(
    angle: NDArray[np.float64],
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """The neighbors that a cell's water goes to, and the share of each.

    A direction between two neighbors is shared in proportion to how near it is to each; one that
    points at a neighbor gives all to it.

    Parameters
    ----------
    angle : (rows, cols) float64, radians
        As `d_infinity_directions` gives it.

    Returns
    -------
    receiver : (rows, cols, 2) int64
        Flat index of each receiving cell, -1 where there is none.
    share : (rows, cols, 2) float64
        They sum to 1 where the cell has a direction; 0 where there is no receiver.

    Examples
    --------
    >>> angle = np.full((3, 3), np.nan)
    >>> angle[1, 1] = np.pi / 16  # a quarter of the way from east to northeast
    >>> receiver, share = d_infinity_receivers(angle)
    >>> receiver[1, 1].tolist(), share[1, 1].tolist()
    ([5, 2], [0.75, 0.25])
    """
    eighths = angle / (np.pi / 4)
    whole = np.round(eighths)
    eighths = np.where(np.abs(eighths - whole) < _ON_A_NEIGHBOR, whole, eighths)
    flows = ~np.isnan(eighths)
    first = np.floor(np.where(flows, eighths, 0.0)).astype(np.int64)
    second_share = np.where(flows, eighths - first, 0.0)
    share = np.stack([np.where(flows, 1.0 - second_share, 0.0), second_share], axis=-1)
    neighbor = np.stack([first % 8, (first + 1) % 8], axis=-1)
    rows, cols = angle.shape
    row = np.arange(rows)[:, None, None] + ROW_STEP[neighbor]
    col = np.arange(cols)[None, :, None] + COL_STEP[neighbor]
    return np.where(share > 0.0, row * cols + col, -1), share
