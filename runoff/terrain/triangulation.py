"""Constrained triangulation: points and edges in, triangles that cross no edge out.

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

TOLERANCE = 0.005
"""Positions closer than this, metres, are one position; a tape is not read so finely."""

STEP_WIDTH = 0.01
"""Plan distance from the top of a step to its foot, metres."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


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
