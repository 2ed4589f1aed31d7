"""A grid of heights written as text, a row x y z for each of its points, in any order.

In: the text. Out: heights on rows and columns along the map's axes, NaN where a point is missing.
Points that lie on no grid are refused: what lies between them is for the survey to say.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runoff.site.map_error import MapError

NO_DATA = (-9999.0, -99999.0, -32768.0)
_OFF_GRID = 0.02
_SPARSEST = 0.1
_SCATTERED = (
    "points of a grid in rows along the map's axes; scattered points are given as "
    'spot_heights = "spots.csv" with a header name,x,y,z'
)


@dataclass(frozen=True)
class XyzGrid:
    """Heights, top row first, and the position and spacing of their points in map units."""

    heights: NDArray[np.float64]
    left: float
    top: float
    dx: float
    dy: float


def read_xyz(text: str) -> XyzGrid:
    """Read a regular grid of points.

    Parameters
    ----------
    text : str
        Rows of x, y and z between blanks, tabs, commas or semicolons; a header may stand above.

    Raises
    ------
    MapError
        Where rows are not three numbers, or the points lie on no grid.

    Examples
    --------
    >>> grid = read_xyz("x y z\\n0 0 1.5\\n2 0 2.5\\n0 2 3.5\\n")
    >>> grid.heights.tolist()
    [[3.5, nan], [1.5, 2.5]]
    >>> grid.left, grid.top, grid.dx, grid.dy
    (0.0, 2.0, 2.0, 2.0)
    """
    points = _points(text)
    columns, dx = _places(points[:, 0])
    rows, dy = _places(points[:, 1])
    shape = int(rows.max()) + 1, int(columns.max()) + 1
    if shape[0] * shape[1] > max(len(points) / _SPARSEST, 9):
        raise MapError(_SCATTERED)
    cells = rows * shape[1] + columns
    if len(np.unique(cells)) < len(cells):
        raise MapError("one height for each point of the grid; two rows have one position")
    heights = np.full(shape, np.nan)
    heights[shape[0] - 1 - rows, columns] = points[:, 2]
    heights[np.isin(heights, NO_DATA)] = np.nan
    return XyzGrid(heights, float(points[:, 0].min()), float(points[:, 1].max()), dx, dy)


def _points(text: str) -> NDArray[np.float64]:
    lines = [line for line in text.splitlines() if line.strip() and line.lstrip()[0] != "#"]
    if lines and any(mark.isalpha() and mark not in "eE" for mark in lines[0]):
        lines = lines[1:]
    if len(lines) < 3:
        raise MapError("rows of x, y and z, such as 500120.5 4410080.5 201.37")
    between = next((mark for mark in ";\t" if mark in lines[0]), None)
    if between is None and "," in lines[0] and len(lines[0].split(",")) >= 3:
        between = ","
    if between != ",":
        lines = [line.replace(",", ".") for line in lines]
    try:
        points = np.loadtxt(lines, delimiter=between, usecols=(0, 1, 2), ndmin=2)
    except ValueError as error:
        reason = str(error).split(";")[0].splitlines()[0]
        raise MapError(f"rows of three numbers, x, y and z ({reason})") from None
    if not np.isfinite(points[:, :2]).all():
        raise MapError("positions that are numbers in every row")
    return points


def _places(values: NDArray[np.float64]) -> tuple[NDArray[np.int64], float]:
    """Each coordinate's place, from 0, on evenly spaced lines, and how far these are apart."""
    lines = np.unique(values)
    steps = np.diff(lines)
    steps = steps[steps > 1e-6 * max(np.ptp(lines), 1e-12)]
    if not len(steps):
        raise MapError(_SCATTERED)
    spacing = float(np.median(steps[steps < 1.5 * steps.min()]))
    place = (values - lines[0]) / spacing
    whole = np.rint(place)
    if whole.max() > 1e6:
        raise MapError(_SCATTERED)
    spacing = float(np.ptp(lines) / whole.max())
    place = (values - lines[0]) / spacing
    if np.abs(place - np.rint(place)).max() > _OFF_GRID:
        raise MapError(_SCATTERED)
    return np.rint(place).astype(np.int64), spacing
