"""D-infinity flow directions: the steepest descent over eight triangles around each cell.

In: heights, row 0 at the top, and walls. Out: an angle a cell, and from it the one or two neighbors
that share the cell's water.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runoff.flow.compiled import kernel
from runoff.flow.directions import COL_STEP, ROW_STEP

# The eight facets of Tarboton (1997), table 1: the neighbors e1 (beside) and e2 (diagonal) as steps
# in rows and columns, and the constants that turn a facet's own angle into one from east.
_E1_ROW = np.array([0, -1, -1, 0, 0, 1, 1, 0], dtype=np.int64)
_E1_COL = np.array([1, 0, 0, -1, -1, 0, 0, 1], dtype=np.int64)
_E2_ROW = np.array([-1, -1, -1, -1, 1, 1, 1, 1], dtype=np.int64)
_E2_COL = np.array([1, 1, -1, -1, -1, -1, 1, 1], dtype=np.int64)
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
def _angles(z, closed, angle):
    rows, cols = z.shape
    for row in range(1, rows - 1):
        for col in range(1, cols - 1):
            e0 = z[row, col]
            if closed[row, col] or np.isnan(e0):
                continue
            steepest, facet, across, along = 0.0, -1, 0.0, 1.0
            for i in range(8):
                r1, c1 = row + _E1_ROW[i], col + _E1_COL[i]
                r2, c2 = row + _E2_ROW[i], col + _E2_COL[i]
                e1, e2 = z[r1, c1], z[r2, c2]
                if e1 >= e0 and e2 >= e0:
                    continue
                slope, beyond, beside = _facet(e0, e1, e2, closed[r1, c1], closed[r2, c2])
                if slope > steepest:
                    steepest, facet, across, along = slope, i, beyond, beside
            if facet >= 0:
                turn = _SIGN[facet] * np.arctan2(across, along) + _QUARTERS[facet] * np.pi / 2
                angle[row, col] = turn if turn < 2 * np.pi else 0.0


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
    _angles(z, walls, angle)
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
