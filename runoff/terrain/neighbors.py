"""What the measured points around a place say of the height there.

A neighbor counts only where it can be seen: not through a building nor across a break line.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, diags_array
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import spsolve
from scipy.spatial import cKDTree

from runoff.terrain.sight import Obstacles

_FLATTEST_SPREAD = 0.02
_FEWEST = 3


def visible_neighbors(
    places: NDArray[np.float64],
    points: NDArray[np.float64],
    obstacles: Obstacles,
    count: int,
) -> NDArray[np.int64]:
    """The nearest `count` points in view of each place, nearest first, -1 where there are fewer.

    Parameters
    ----------
    places : (m, 2) float array, metres
    points : (n, 2) float array, metres
    obstacles : Obstacles
    count : int

    Returns
    -------
    (m, count) int array
        Indices into `points`.
    """
    tried = min(4 * count, len(points))
    _, near = cKDTree(points).query(places, k=tried)
    near = near.reshape(len(places), tried)
    hidden = np.ones(near.shape, dtype=bool)
    short = np.arange(len(places))
    for first in range(0, tried, count):
        part = near[short, first : first + count]
        start = np.repeat(places[short], part.shape[1], axis=0)
        blocked = obstacles.blocked(start, points[part.ravel()])
        hidden[short, first : first + count] = blocked.reshape(part.shape)
        short = short[(~hidden[short]).sum(axis=1) < count]
    order = np.argsort(hidden, axis=1, kind="stable")[:, :count]
    chosen = np.take_along_axis(np.where(hidden, -1, near), order, axis=1)
    missing = count - chosen.shape[1]
    return np.pad(chosen, ((0, 0), (0, max(missing, 0))), constant_values=-1)


def plane_heights(
    places: NDArray[np.float64], xyz: NDArray[np.float64], neighbors: NDArray[np.int64]
) -> NDArray[np.float64]:
    """The height at each place of the plane through its neighbors, near ones weighing most.

    Weights fall with the square of the distance. Where the neighbors lie on one line the plane is
    level across it. Exact wherever the neighbors lie on one plane.

    Parameters
    ----------
    places : (m, 2) float array, metres
    xyz : (n, 3) float array, metres
    neighbors : (m, k) int array
        Indices into `xyz`, -1 for none.

    Returns
    -------
    (m,) float array, metres
        NaN where a place has fewer than three neighbors.

    Examples
    --------
    >>> xyz = np.array([[0.0, 0.0, 1.0], [2.0, 0.0, 3.0], [0.0, 2.0, 1.0]])
    >>> plane_heights(np.array([[1.0, 5.0]]), xyz, np.array([[0, 1, 2]])).round(9).tolist()
    [2.0]
    """
    heights = np.full(len(places), np.nan)
    for index, (place, row) in enumerate(zip(places, neighbors, strict=True)):
        used = row[row >= 0]
        if len(used) >= _FEWEST:
            heights[index] = _plane_height(place, xyz[used])
    return heights


def _plane_height(place: NDArray[np.float64], xyz: NDArray[np.float64]) -> float:
    offset = xyz[:, :2] - place
    distance = np.hypot(offset[:, 0], offset[:, 1])
    weight = 1.0 / np.maximum(distance, 1e-6) ** 2
    weight /= weight.sum()
    middle = weight @ offset
    level = float(weight @ xyz[:, 2])
    root = np.sqrt(weight)[:, None]
    slope = np.linalg.lstsq(
        root * (offset - middle), root[:, 0] * (xyz[:, 2] - level), rcond=_FLATTEST_SPREAD
    )[0]
    return level - float(slope @ middle)


def spread_heights(
    heights: NDArray[np.float64], xy: NDArray[np.float64], edges: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Fill unknown heights from the known ones along the edges that join them.

    Each unknown height is the mean of its neighbors', near ones weighing more: between two known
    ends of a narrow passage the ground falls evenly. What no known point is joined to stays NaN.

    Parameters
    ----------
    heights : (n,) float array, metres
        NaN where unknown.
    xy : (n, 2) float array, metres
    edges : (m, 2) int array

    Returns
    -------
    (n,) float array, metres

    Examples
    --------
    >>> xy = np.array([[0.0, 0.0], [1.0, 0.0], [4.0, 0.0]])
    >>> heights = np.array([2.0, np.nan, 6.0])
    >>> spread_heights(heights, xy, np.array([[0, 1], [1, 2]])).tolist()
    [2.0, 3.0, 6.0]
    """
    count = len(heights)
    weight = 1.0 / np.maximum(np.hypot(*(xy[edges[:, 0]] - xy[edges[:, 1]]).T), 1e-9)
    # Graph routines of older scipy take 32-bit node numbers only.
    both = np.concatenate([edges, edges[:, ::-1]]).astype(np.int32)
    graph = coo_array((np.tile(weight, 2), (both[:, 0], both[:, 1])), shape=(count, count)).tocsr()
    known = np.isfinite(heights)
    _, part = connected_components(graph, directed=False)
    solved = np.flatnonzero(~known & np.isin(part, part[known]))
    filled = heights.copy()
    if not len(solved):
        return filled
    rows = graph[solved]
    system = diags_array(rows.sum(axis=1)) - rows[:, solved]
    right = rows[:, np.flatnonzero(known)] @ heights[known]
    filled[solved] = spsolve(system.tocsc(), right)
    return filled
