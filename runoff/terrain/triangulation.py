"""Constrained triangulation: points and edges in, triangles out, and which way four heights are
joined where a hair would decide.

Of four heights on one circle, as those of a square net are, either diagonal may be an edge of a
Delaunay triangulation: rounding, a turn of the plan or a quarter of an inch picks one, and where
the two diagonals differ in height the ground between becomes a ridge or a valley by chance. Here
the heights around decide: where the four lie lower than the ground around them they are joined as a
valley, where they lie higher as a ridge. In: triangles. Out: triangles of the same corners.

Positions are plan metres; nothing here knows about heights.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Any

import numpy as np
import pythoncdt
from numpy.typing import NDArray
from scipy.spatial import cKDTree

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_TIE = 0.025
"""The fourth height lies on the circle of the other three to within this, metres: an inch."""
_WELL_INSIDE = 0.02
"""Share of each diagonal that it goes on beyond where it meets the other, at least."""
_ALIKE = 1e-6
"""Metres: diagonals whose heights differ by less where they meet are the same ground."""
_AROUND = 1.5
"""The ground around counts by a bell of this many half diagonals, out to three times as far."""


def settle_ties(xyz: Floats, triangles: Ints, edges: Ints, fixed: Ints) -> Ints:
    """The triangles, with the diagonals of four heights on one circle chosen by their heights.

    Parameters
    ----------
    xyz : (n, 3) float array, metres
        Heights may be NaN where they are not known; triangles at such corners stay.
    triangles : (t, 3) int array
    edges : (m, 2) int array
        Edges that stay.
    fixed : (k,) int array
        Corners all of whose edges stay.

    Returns
    -------
    (t, 3) int array

    Examples
    --------
    A ditch runs across a square from corner to corner, and on to both sides of it:

    >>> square = [(0, 0, 0.0), (1, 0, 1.0), (1, 1, 0.0), (0, 1, 1.0)]
    >>> onward = [(-1, -1, 0.0), (2, 2, 0.0), (2, 0, 2.0), (0, 2, 2.0)]
    >>> xyz, joined = np.array(square + onward), np.array([[0, 1, 3], [1, 2, 3]])
    >>> sorted(sorted(t) for t in settle_ties(xyz, joined, np.empty((0, 2), int), []).tolist())
    [[0, 1, 2], [0, 2, 3]]
    """
    ends, across, pair = _inner_edges(triangles)
    fours = np.hstack([ends, across])
    free = ~_among(ends, edges) & ~np.isin(ends, fixed).any(axis=1)
    free &= np.isfinite(xyz[fours, 2]).all(axis=1)
    fours, pair = fours[free], pair[free]
    tied, meet, as_is, other = _ties(xyz, fours)
    fours, pair, meet = fours[tied], pair[tied], meet[tied]
    by = as_is[tied] - other[tied]
    settled, used = triangles.copy(), np.zeros(len(triangles), bool)
    tree = cKDTree(xyz[:, :2])
    for i in np.argsort(-np.abs(by), kind="stable"):
        if abs(by[i]) <= _ALIKE or used[pair[i]].any():
            continue
        used[pair[i]] = True
        as_valley = _lies_low(xyz, fours[i], meet[i], tree)
        if as_valley == (by[i] > 0):
            a, b, c, d = fours[i]
            settled[pair[i, 0]], settled[pair[i, 1]] = (d, b, c), (c, a, d)
    return settled


def _inner_edges(triangles: Ints) -> tuple[Ints, Ints, Ints]:
    """Edges between two triangles: their ends, the corners beyond, and the triangles; (m, 2)."""
    sides = np.concatenate([triangles[:, pair] for pair in ([0, 1], [1, 2], [2, 0])])
    beyond = np.concatenate([triangles[:, corner] for corner in (2, 0, 1)])
    _, edge, uses = np.unique(np.sort(sides), axis=0, return_inverse=True, return_counts=True)
    order = np.argsort(edge.ravel(), kind="stable")
    first = np.concatenate([[0], np.cumsum(uses)[:-1]])[uses == 2]
    one, two = order[first], order[first + 1]
    number = len(triangles)
    return (
        sides[one],
        np.column_stack([beyond[one], beyond[two]]),
        np.column_stack([one % number, two % number]),
    )


def _among(ends: Ints, edges: Ints) -> NDArray[np.bool_]:
    """Which (m, 2) pairs are one of (k, 2) edges, in either order."""
    if not len(edges):
        return np.zeros(len(ends), bool)
    number = max(int(ends.max(initial=0)), int(edges.max())) + 1
    low, high = np.sort(ends).T
    edge_low, edge_high = np.sort(edges).T
    return np.isin(low * number + high, edge_low * number + edge_high)


def _ties(xyz: Floats, fours: Ints) -> tuple[NDArray[np.bool_], Floats, Floats, Floats]:
    """Of fours (ends of a diagonal, ends of the other) which lie on a circle, where the diagonals
    meet, and how high each is there.
    """
    a, b, c, d = (xyz[fours[:, k]] for k in range(4))
    with np.errstate(divide="ignore", invalid="ignore"):
        middle = _circle_middle(a[:, :2], b[:, :2], c[:, :2])
        radius, away = (np.hypot(*(each[:, :2] - middle).T) for each in (a, d))
        one, other, between = b - a, d - c, c - a
        cross = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
        share = (between[:, 0] * other[:, 1] - between[:, 1] * other[:, 0]) / cross
        across = (between[:, 0] * one[:, 1] - between[:, 1] * one[:, 0]) / cross
        inside = np.abs(np.stack([share, across]) - 0.5).max(axis=0) < 0.5 - _WELL_INSIDE
        tied = inside & (np.abs(away - radius) <= _TIE)
        meet = a + share[:, None] * one
        return tied, meet[:, :2], meet[:, 2], c[:, 2] + across * other[:, 2]


def _circle_middle(a: Floats, b: Floats, c: Floats) -> Floats:
    """The middle of the circle through three positions each, (n, 2)."""
    u, v = b - a, c - a
    twice = 2 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    uu, vv = (u**2).sum(axis=1), (v**2).sum(axis=1)
    x = (v[:, 1] * uu - u[:, 1] * vv) / twice
    y = (u[:, 0] * vv - v[:, 0] * uu) / twice
    return a + np.column_stack([x, y])


def _lies_low(xyz: Floats, four: Ints, middle: Floats, tree: cKDTree) -> bool:
    """Whether four heights lie lower than a plane through the ground around them, or on it."""
    half = float(np.hypot(*(xyz[four, :2] - middle).T).mean())
    near = np.array(tree.query_ball_point(middle, 3 * _AROUND * half))
    near = near[np.isfinite(xyz[near, 2])]
    at = (xyz[near, :2] - middle) / (_AROUND * half)
    weight = np.exp(-0.5 * (at**2).sum(axis=1))
    plane = np.column_stack([np.ones(len(near)), at])
    root = np.sqrt(weight)
    fitted, *_ = np.linalg.lstsq(root[:, None] * plane, root * xyz[near, 2], rcond=None)
    stands = (
        xyz[four, 2]
        - np.column_stack([np.ones(4), (xyz[four, :2] - middle) / (_AROUND * half)]) @ fitted
    )
    return bool(stands.mean() <= _ALIKE)


TOLERANCE = 0.005
"""Positions closer than this, metres, are one position; a tape is not read so finely."""

STEP_WIDTH = 0.01
"""Plan distance from the top of a step to its foot, metres."""


def median_spacing(xy: Floats) -> float:
    """Median distance from a point to its nearest neighbor, metres; 0 for fewer than two points.

    Examples
    --------
    >>> median_spacing(np.array([[0.0, 0.0], [3.0, 0.0], [6.0, 0.0]]))
    3.0
    """
    if len(xy) < 2:
        return 0.0
    distance, _ = cKDTree(xy).query(xy, k=2)
    return float(np.median(distance[:, 1]))


def unique_edges(triangles: Ints) -> Ints:
    """The (m, 2) distinct edges of (t, 3) triangles, lower index first.

    Examples
    --------
    >>> unique_edges(np.array([[0, 1, 2], [2, 1, 3]])).tolist()
    [[0, 1], [0, 2], [1, 2], [1, 3], [2, 3]]
    """
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    return np.unique(np.sort(edges, axis=1), axis=0)


def merge_positions(xy: Floats, tolerance: float = TOLERANCE) -> Ints:
    """For each position, the index of the first position that lies within `tolerance` of it.

    Examples
    --------
    >>> merge_positions(np.array([[0.0, 0.0], [5.0, 0.0], [0.001, 0.0]])).tolist()
    [0, 1, 0]
    """
    first = np.arange(len(xy))
    pairs = cKDTree(xy).query_pairs(tolerance, output_type="ndarray") if len(xy) else first[:0]
    pairs = np.sort(pairs.reshape(-1, 2), axis=1)
    for low, high in pairs[np.lexsort((pairs[:, 0], pairs[:, 1]))]:
        first[high] = min(first[high], first[low])
    return first


def thread_edges(xy: Floats, edges: Ints, tolerance: float = TOLERANCE) -> Ints:
    """Split each edge at the points that lie on it, so that no point lies beside an edge.

    Parameters
    ----------
    xy : (n, 2) float array, metres
    edges : (m, 2) int array
        Indices into `xy`.
    tolerance : float, metres

    Returns
    -------
    (k, 2) int array
        Distinct edges, lower index first.

    Examples
    --------
    >>> xy = np.array([[0.0, 0.0], [4.0, 0.0], [1.0, 0.001]])
    >>> thread_edges(xy, np.array([[0, 1]])).tolist()
    [[0, 2], [1, 2]]
    """
    edges = edges[(xy[edges[:, 0]] != xy[edges[:, 1]]).any(axis=1)]
    threaded: list[tuple[int, int]] = []
    for (start, end), around in zip(edges.tolist(), _around(xy, edges, tolerance), strict=True):
        if len(around) <= 2:
            threaded.append((start, end))
            continue
        along = xy[end] - xy[start]
        length = float(np.hypot(*along))
        near = np.array(around)
        offset = xy[near] - xy[start]
        station = offset @ along / length
        away = np.abs(offset[:, 0] * along[1] - offset[:, 1] * along[0]) / length
        on = (away <= tolerance) & (station > tolerance) & (station < length - tolerance)
        chain = [start, *near[on][np.argsort(station[on])].tolist(), end]
        threaded.extend(itertools.pairwise(chain))
    if not threaded:
        return np.empty((0, 2), dtype=np.int64)
    return np.unique(np.sort(np.array(threaded, dtype=np.int64), axis=1), axis=0)


def _around(xy: Floats, edges: Ints, tolerance: float) -> Sequence[list[int]]:
    """For each edge the points in the circle over it, its own ends among them."""
    start, end = xy[edges[:, 0]], xy[edges[:, 1]]
    reach = np.hypot(*(end - start).T) / 2 + tolerance
    found: Sequence[list[int]] = cKDTree(xy).query_ball_point((start + end) / 2, reach)
    return found


def triangulate(xy: Floats, edges: Ints) -> tuple[Floats, Ints]:
    """Constrained Delaunay triangulation of the convex hull; no triangle crosses an edge.

    Parameters
    ----------
    xy : (n, 2) float array, metres
        Distinct positions, not all on one line.
    edges : (m, 2) int array
        Indices into `xy`. Edges that cross are split where they do, which adds points at the end.

    Returns
    -------
    xy : (n + added, 2) float array
    triangles : (t, 3) int array

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [0.0, 1.0]])
    >>> _, triangles = triangulate(square, np.array([[0, 2]]))
    >>> sorted(sorted(t) for t in triangles.tolist())
    [[0, 1, 2], [0, 2, 3]]
    """
    origin = xy.mean(axis=0)
    mesh = pythoncdt.Triangulation(
        pythoncdt.VertexInsertionOrder.AUTO,
        pythoncdt.IntersectingConstraintEdges.TRY_RESOLVE,
        0.0,
    )
    vertices: Any = np.ascontiguousarray(xy - origin)
    mesh.insert_vertices(vertices)
    if len(edges):
        kept: Any = np.ascontiguousarray(edges, dtype=np.uint32)
        mesh.insert_edges(kept)
    mesh.erase_super_triangle()
    triangles = np.array([t.vertices for t in mesh.triangles_iter()], dtype=np.int64)
    points = np.array([(v.x, v.y) for v in mesh.vertices_iter()], dtype=np.float64)
    all_xy = np.concatenate([xy, points[len(xy) :] + origin]) if len(points) > len(xy) else xy
    return all_xy, triangles.reshape(-1, 3)
