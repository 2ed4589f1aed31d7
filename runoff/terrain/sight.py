"""What can be seen from where: straight views against buildings and break lines.

Almost every view plainly crosses an edge or plainly misses all; arithmetic on arrays settles those,
and the geometry library the few that touch.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

_SEEN_FROM = 1e-3
_PAIRS_AT_ONCE = 32_000
"""Views by edges: so few that the arrays of a pass stay in the processor's cache."""
_STRAIGHT = 1e-9
"""Points of a line that leave it straight within this, metres, part no edges."""
_ROUNDING = 1e-12
"""Above the error of a cross product, as a share of the greatest coordinate squared."""


@dataclass(frozen=True)
class Obstacles:
    """What blocks the view: the union of buildings, and the break lines."""

    buildings: BaseGeometry
    lines: BaseGeometry

    def blocked(self, start: NDArray[np.float64], end: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Whether each straight view from `start` to `end`, (m, 2) metres, is blocked.

        Examples
        --------
        >>> house = shapely.box(0, 0, 2, 2)
        >>> obstacles = Obstacles(house, shapely.LineString([(3, -1), (3, 1)]))
        >>> start = np.array([[-1.0, 1.0], [-1.0, 3.0], [2.5, 0.0], [0.5, 0.5]])
        >>> end = np.array([[2.5, 1.0], [2.5, 3.0], [4.0, 0.0], [1.5, 1.5]])
        >>> obstacles.blocked(start, end).tolist()
        [True, False, True, True]
        """
        inside = self.buildings.buffer(-_SEEN_FROM, join_style="mitre")
        view = _drawn_in(start, end)
        depth, slack = _crossing(view, _edges(inside.boundary, self.lines.simplify(_STRAIGHT)))
        blocked = depth < -slack
        touching = np.flatnonzero(np.abs(depth) <= slack)
        if touching.size:
            drawn = shapely.linestrings(view[touching])
            for obstacle in (inside, self.lines):
                shapely.prepare(obstacle)
                blocked[touching] |= shapely.intersects(drawn, obstacle)
        if not inside.is_empty:
            shapely.prepare(inside)
            clear = np.flatnonzero(depth > slack)
            blocked[clear] = shapely.contains_xy(inside, view[clear, 0])
        return blocked


def _drawn_in(start: NDArray[np.float64], end: NDArray[np.float64]) -> NDArray[np.float64]:
    """Views that stop short of both ends, so that a point on a line is not hidden by it."""
    step = end - start
    length = np.hypot(step[:, 0], step[:, 1])[:, None]
    step = step * np.minimum(_SEEN_FROM / np.maximum(length, 1e-12), 0.25)
    return np.stack([start + step, end - step], axis=1)


def _edges(*shapes: BaseGeometry) -> NDArray[np.float64]:
    """The straight edges of lines, (k, 2, 2) metres."""
    coordinates, part = shapely.get_coordinates(
        [part for shape in shapes for part in shapely.get_parts(shape)], return_index=True
    )
    joined = part[:-1] == part[1:]
    return np.stack([coordinates[:-1][joined], coordinates[1:][joined]], axis=1)


def _crossing(
    view: NDArray[np.float64], edges: NDArray[np.float64]
) -> tuple[NDArray[np.float64], float]:
    """For each view below 0 where it crosses an edge, above 0 where it misses them all.

    A value within the second number of 0, an area, is not told from touching.
    """
    depth = np.full(len(view), np.inf)
    if not len(edges) or not len(view):
        return depth, 0.0
    middle = view.mean(axis=(0, 1))
    view, edges = view - middle, edges - middle
    low, high = edges.min(axis=1), edges.max(axis=1)
    at_once = max(_PAIRS_AT_ONCE // len(edges), 1)
    for start in range(0, len(view), at_once):
        part = slice(start, start + at_once)
        ends = view[part]
        near = (low <= ends.max(axis=(0, 1))) & (high >= ends.min(axis=(0, 1)))
        met = edges[near.all(axis=1)]
        if len(met):
            depth[part] = _least_apart(ends, met)
    reach = max(float(np.abs(view).max()), float(np.abs(edges).max()))
    return depth, _ROUNDING * reach**2 + 8 * _STRAIGHT * reach


def _least_apart(view: NDArray[np.float64], edges: NDArray[np.float64]) -> NDArray[np.float64]:
    """Two segments cross where each has its ends on both sides of the other's line.

    The sides are signs of cross products; of the four, the one nearest to not crossing counts, and
    of all edges the one nearest to crossing.
    """
    across, along = _line(edges), _line(view)
    first, second = (_with_one(view[:, end]) @ across for end in (0, 1))
    third, fourth = (along.T @ _with_one(edges[:, end]).T for end in (0, 1))
    below = np.maximum(np.minimum(first, second), np.minimum(third, fourth))
    above = np.minimum(np.maximum(first, second), np.maximum(third, fourth))
    least: NDArray[np.float64] = np.maximum(below, -above).min(axis=1)
    return least


def _line(segment: NDArray[np.float64]) -> NDArray[np.float64]:
    """(3, k): the cross product with a segment of what is seen from its start, as a product."""
    start, step = segment[:, 0], segment[:, 1] - segment[:, 0]
    offset = step[:, 1] * start[:, 0] - step[:, 0] * start[:, 1]
    return np.stack([-step[:, 1], step[:, 0], offset])


def _with_one(point: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.column_stack([point, np.ones(len(point))])
