"""The depressions of a triangulated surface, exactly: spills at its corners, volumes by formula.

Below any level, the ground under water is connected as the corners and edges under water are, since
a triangle's part under a level is one piece that holds its lowest corner. So the lowest way between
two low corners goes along edges, a depression spills at a corner, and what it holds is the sum,
over the triangles whose lowest corner lies in it, of the prism under the level.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from runoff.flow.spanning import Hierarchy, Links, merge_basins

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_LEVEL_STEPS = 60
_LEVEL_ERROR = 1e-9


@dataclass(frozen=True)
class Hollows:
    """The depressions of a triangulated surface as a forest, by number as in `Hierarchy`.

    Parameters
    ----------
    hierarchy : Hierarchy
        `spill_cell` and `pit_cell` are rows of `xyz`.
    xyz : (n, 3) float64, metres
    area : (t,) float64, m2, of each triangle in plan
    corners : (t, 3) float64, metres, the heights of each triangle's corners, lowest first
    leaf : (t,) int64, the leaf that each triangle's lowest corner belongs to; 0 the outside
    """

    hierarchy: Hierarchy
    xyz: Floats
    area: Floats
    corners: Floats
    leaf: Ints

    @cached_property
    def spill_height(self) -> Floats:
        """Height (m) at which each depression overflows; +inf where it has no way out."""
        cell = self.hierarchy.spill_cell
        height = np.where(cell < 0, np.inf, self.xyz[np.maximum(cell, 0), 2])
        height[0] = -np.inf
        return height

    def chain(self, leaf: int) -> list[int]:
        """A leaf and all the depressions that it is part of, innermost first."""
        found = [leaf]
        while self.hierarchy.parent[found[-1]] > 0:
            found.append(int(self.hierarchy.parent[found[-1]]))
        return found

    @cached_property
    def _places(self) -> tuple[Ints, Ints, Ints]:
        """The leaves of a depression side by side: each one's place, its first and its last."""
        tree = self.hierarchy
        first, count = np.zeros(tree.parent.size, np.int64), np.ones(tree.parent.size, np.int64)
        for d in range(tree.leaves + 1, tree.parent.size):
            count[d] = count[tree.left[d]] + count[tree.right[d]]
        outermost = np.flatnonzero(tree.parent[1:] <= 0) + 1
        first[outermost] = 1 + np.cumsum(count[outermost]) - count[outermost]
        for d in range(tree.parent.size - 1, tree.leaves, -1):
            first[tree.left[d]] = first[d]
            first[tree.right[d]] = first[d] + count[tree.left[d]]
        return first[: tree.leaves + 1], first, first + count

    @cached_property
    def _by_place(self) -> tuple[Ints, Ints]:
        """Triangles in the order of their leaves' places, and those places."""
        place = self._places[0][self.leaf]
        order = np.argsort(place, kind="stable")
        return order, place[order]

    def holds(self, d: int, leaf: Ints) -> NDArray[np.bool_]:
        """Which of some leaves are part of a depression."""
        place, first, last = self._places
        return (leaf > 0) & (place[leaf] >= first[d]) & (place[leaf] < last[d])

    def _under(self, d: int) -> tuple[Floats, Floats]:
        """Areas and heights of the triangles that a depression's brim-full pond touches."""
        _, first, last = self._places
        order, place = self._by_place
        mine = order[np.searchsorted(place, first[d]) : np.searchsorted(place, last[d])]
        mine = mine[self.corners[mine, 0] < self.spill_height[d]]
        return self.area[mine], self.corners[mine]

    def bottom(self, d: int) -> int:
        """The row of `xyz` of a depression's lowest corner."""
        place, first, last = self._places
        pits = self.hierarchy.pit_cell[1:][(place[1:] >= first[d]) & (place[1:] < last[d])]
        return int(pits[np.argmin(self.xyz[pits, 2])])

    def volume(self, d: int, level: float) -> float:
        """What stands (m3) in a depression up to a level (m) that is not over its spill height."""
        area, corners = self._under(d)
        return float(area @ depth_under(corners, level))

    def wet_area(self, d: int, level: float) -> float:
        """Plan area (m2) of the water in a depression up to a level not over its spill height."""
        area, corners = self._under(d)
        return float(area @ share_under(corners, level))

    def level(self, d: int, volume: float) -> float:
        """Level (m) at which a volume (m3) stands in a depression; its spill height at most."""
        area, corners = self._under(d)
        low, high = float(corners[:, 0].min()), float(self.spill_height[d])
        if not np.isfinite(high):
            high = max(float(corners[:, 2].max()), low + volume / float(area.sum()))
            high += volume / float(area.sum())
        level = high
        for _ in range(_LEVEL_STEPS):
            short = volume - float(area @ depth_under(corners, level))
            if abs(short) <= _LEVEL_ERROR * max(volume, 1e-9):
                break
            low, high = (level, high) if short > 0 else (low, level)
            wet = float(area @ share_under(corners, level))
            step = level + short / wet if wet > 0 else low
            level = step if low < step < high else (low + high) / 2
        return level


def share_under(corners: Floats, level: float) -> Floats:
    """Share of each triangle's plan area that lies under a level.

    Parameters
    ----------
    corners : (t, 3) float array, metres, lowest first
    level : float, metres

    Examples
    --------
    >>> share_under(np.array([[0.0, 1.0, 1.0], [0.0, 0.0, 1.0]]), 0.5).tolist()
    [0.25, 0.75]
    """
    low, middle, high = corners.T
    with np.errstate(divide="ignore", invalid="ignore"):
        rising = (level - low) ** 2 / ((middle - low) * (high - low))
        falling = 1 - (high - level) ** 2 / ((high - low) * (high - middle))
    share = np.where(level <= middle, rising, falling)
    return np.where(level <= low, 0.0, np.where(level >= high, 1.0, share))


def depth_under(corners: Floats, level: float) -> Floats:
    """Mean depth (m) of the water under a level, over the whole of each triangle.

    The integral of `share_under` from the lowest corner up: a pyramid below the middle corner; all
    of the prism less a pyramid above it.

    Parameters
    ----------
    corners : (t, 3) float array, metres, lowest first
    level : float, metres

    Examples
    --------
    >>> depth_under(np.array([[0.0, 0.0, 3.0], [0.0, 0.0, 0.0]]), 3.0).tolist()
    [2.0, 3.0]
    """
    low, middle, high = corners.T
    with np.errstate(divide="ignore", invalid="ignore"):
        rising = (level - low) ** 3 / (3 * (middle - low) * (high - low))
        above = (high - level) ** 3 / (3 * (high - low) * (high - middle))
    mean = corners.mean(axis=1)
    depth = np.where(level <= middle, rising, level - mean + above)
    return np.where(level <= low, 0.0, np.where(level >= high, level - mean, depth))


def find_hollows(
    xyz: Floats,
    triangles: Ints,
    open_edge: NDArray[np.bool_],
    sinks: Floats | None = None,
    sink_triangles: Ints | None = None,
) -> Hollows:
    """The depressions of a triangulated surface.

    Parameters
    ----------
    xyz : (n, 3) float array, metres
    triangles : (t, 3) int array
    open_edge : (n,) bool
        Corners at which water leaves; edges used once between others are walls.
    sinks : (k, 3) float array, optional
        Places on the surface (open inlets) at which water leaves.
    sink_triangles : (k,) int array, optional
        The triangles that they lie in.

    Returns
    -------
    Hollows

    Examples
    --------
    A pit 1 m deep, 4 m across its diagonals, that spills over a corner 0.5 m up.

    >>> xyz = np.array([[0.0, 0, 0], [2, 0, 1], [0, 2, 1], [-2, 0, 0.5], [0, -2, 1]])
    >>> fan = np.array([[0, 1, 2], [0, 2, 3], [0, 3, 4], [0, 4, 1]])
    >>> found = find_hollows(xyz, fan, xyz[:, 2] > 0)
    >>> float(found.spill_height[1])
    0.5
    >>> round(found.volume(1, 0.5), 4)
    0.5
    """
    n = len(xyz)
    z = xyz[:, 2]
    order = np.lexsort((np.arange(n), z))
    rank = np.empty(n, np.int64)
    rank[order] = np.arange(n)
    edges = np.concatenate([triangles[:, pair] for pair in ([0, 1], [1, 2], [2, 0])])
    leaf, pits = _leaves(edges, order, rank, open_edge)
    lowest = triangles[np.arange(len(triangles)), rank[triangles].argmin(axis=1)]
    higher = np.where(rank[edges[:, 0]] > rank[edges[:, 1]], edges[:, 0], edges[:, 1])
    height, side_a, side_b = z[higher], leaf[edges[:, 0]], leaf[edges[:, 1]]
    cell = higher
    if sinks is not None and sink_triangles is not None and len(sinks):
        xyz = np.concatenate([xyz, sinks])
        below = lowest[sink_triangles]
        height = np.concatenate([height, np.maximum(sinks[:, 2], z[below])])
        side_a = np.concatenate([side_a, leaf[below]])
        side_b = np.concatenate([side_b, np.zeros(len(sinks), np.int64)])
        cell = np.concatenate([cell, n + np.arange(len(sinks))])
    between = side_a != side_b
    links = Links(height[between], side_a[between], side_b[between], cell[between])
    sides = xyz[triangles[:, 1:], :2] - xyz[triangles[:, :1], :2]
    area = np.abs(sides[:, 0, 0] * sides[:, 1, 1] - sides[:, 0, 1] * sides[:, 1, 0]) / 2
    return Hollows(
        merge_basins(links, pits), xyz, area, np.sort(z[triangles], axis=1), leaf[lowest]
    )


def _leaves(
    edges: Ints, order: Ints, rank: Ints, open_edge: NDArray[np.bool_]
) -> tuple[Ints, Ints]:
    """The leaf of each corner (0 where water leaves), and each leaf's lowest corner."""
    lowest = rank.copy()
    np.minimum.at(lowest, edges[:, 0], rank[edges[:, 1]])
    np.minimum.at(lowest, edges[:, 1], rank[edges[:, 0]])
    down = order[lowest]
    down[open_edge] = np.flatnonzero(open_edge)
    while not np.array_equal(down[down], down):
        down = down[down]
    used = np.zeros(len(rank), dtype=bool)
    used[edges] = True
    pit = used & ~open_edge & (down == np.arange(len(rank)))
    number = np.zeros(len(rank), np.int64)
    number[pit] = 1 + np.arange(np.count_nonzero(pit))
    pits = np.concatenate([np.zeros(1, np.int64), np.flatnonzero(pit)])
    return number[down], pits
