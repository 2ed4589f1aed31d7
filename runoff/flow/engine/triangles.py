"""Follow water by steepest descent over a triangulated surface, and its depressions exactly:
spills at corners, volumes by formula.

Below any level, the ground under water is connected as the corners and edges under water are, since
a triangle's part under a level is one piece that holds its lowest corner. So the lowest way between
two low corners goes along edges, a depression spills at a corner, and what it holds is the sum,
over the triangles whose lowest corner lies in it, of the prism under the level.

Over a triangle water runs straight down; where two triangles fall toward each other it follows
their edge to its lower end, and from a corner the steepest of the triangles and edges around it.
Along a wall it follows the wall. In: triangles with heights (m, plan metres). Out: for each place
the corner that it ends at, the place where it leaves the ground, or the cell where it is stopped.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_cdt

from runoff.flow.engine.basins import Hierarchy, Links, merge_basins
from runoff.flow.engine.compiled import in_blocks, kernel
from runoff.terrain.model import Grid

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


AT_CORNER, OFF_THE_GROUND, STOPPED = 0, 1, 2
"""How water ends: at a corner lower than all around it, over an open edge, in a stopping cell."""

_WALL, _OPEN = -1, -2
_AT_THE_END = 1e-9
_NO_AREA = 1e-10
# So few places are not worth a second thread.
_FEW = 2_000


@kernel
def _outward(xy, corner, k, x, y):
    """How far a direction leads out over edge k of a triangle; its corners run counterclockwise."""
    a, b = corner[k], corner[(k + 1) % 3]
    return (xy[b, 1] - xy[a, 1]) * x - (xy[b, 0] - xy[a, 0]) * y


@kernel
def _lowest(rank, corner):
    """The lowest corner of a triangle."""
    lowest = corner[0]
    for v in corner[1:]:
        if rank[v] < rank[lowest]:
            lowest = v
    return lowest


@kernel
def _from_corner(surface, v):
    """The steepest way from a corner: (triangle, -1) over one, (-1, corner) along an edge."""
    xy, z, rank, triangles, _, down, first, around, _ = surface
    steepest, over, along, lowest = 0.0, -1, -1, v
    for i in range(first[v], first[v + 1]):
        t = around[i]
        inward = True
        for k in range(3):
            w = triangles[t, k]
            if w == v or triangles[t, (k + 1) % 3] == v:
                inward = inward and _outward(xy, triangles[t], k, down[t, 0], down[t, 1]) < 0.0
            if w == v:
                continue
            lowest = w if rank[w] < rank[lowest] else lowest
            slope = (z[v] - z[w]) / np.hypot(xy[w, 0] - xy[v, 0], xy[w, 1] - xy[v, 1])
            if slope > steepest:
                steepest, over, along = slope, -1, w
        slope = np.hypot(down[t, 0], down[t, 1])
        if inward and slope > steepest:
            steepest, over, along = slope, t, -1
    if over < 0 and along < 0 and lowest != v:
        along = lowest  # on level ground, so that it comes to where its hollow is counted
    return over, along


@kernel
def _cross(surface, t, entered, x, y):
    """From a point of a triangle to where it is left: (x, y, triangle, its edge, corner).

    There water enters the triangle over that edge, or goes on to the corner; both -1 where it
    leaves the ground.
    """
    xy, _, rank, triangles, beside, down, _, _, _ = surface
    over, length = -1, np.inf
    for k in range(3):
        rate = _outward(xy, triangles[t], k, down[t, 0], down[t, 1])
        if k != entered and rate > 0.0:
            a = triangles[t, k]
            away = -_outward(xy, triangles[t], k, x - xy[a, 0], y - xy[a, 1])
            if max(away, 0.0) < length * rate:
                over, length = k, max(away, 0.0) / rate
    if over < 0:  # level
        return x, y, -1, -1, _lowest(rank, triangles[t])
    x, y = x + length * down[t, 0], y + length * down[t, 1]
    a, b = triangles[t, over], triangles[t, (over + 1) % 3]
    ex, ey = xy[b, 0] - xy[a, 0], xy[b, 1] - xy[a, 1]
    share = ((x - xy[a, 0]) * ex + (y - xy[a, 1]) * ey) / (ex * ex + ey * ey)
    if share < _AT_THE_END:
        return x, y, -1, -1, a
    if share > 1.0 - _AT_THE_END:
        return x, y, -1, -1, b
    u = beside[t, over]
    if u == _OPEN:
        return x, y, -1, -1, -1
    if u >= 0:
        k = 0
        while triangles[u, k] != b:
            k += 1
        if _outward(xy, triangles[u], k, down[u, 0], down[u, 1]) < 0.0:
            return x, y, u, k, -1
    return x, y, -1, -1, a if rank[a] < rank[b] else b


@kernel
def _stopping(away, frame, x, y, to_x, to_y):
    """The first stopping cell (flat) on a straight way, looked for every third of a cell; or -1.

    Where the nearest stopping cell is some cells away, one fewer are passed over.
    """
    size, x0, y0 = frame
    rows, cols = away.shape
    pieces = int(3.0 * np.hypot(to_x - x, to_y - y) / size) + 1
    i = 0
    while i <= pieces:
        f = i / pieces
        col = int(np.floor((x + f * (to_x - x) - x0) / size))
        row = rows - 1 - int(np.floor((y + f * (to_y - y) - y0) / size))
        step = 1
        if 0 <= row < rows and 0 <= col < cols:
            if away[row, col] == 0:
                return row * cols + col
            step = max(1, 3 * (away[row, col] - 1))
        i += step
    return -1


@kernel
def _end_of(surface, away, frame, t, x, y):
    """Where water let go at a point of triangle t ends: (how, corner or cell, x, y)."""
    xy, _, rank, triangles, _, _, _, _, is_open = surface
    v, entered = -1, -1
    limit = 100 + 4 * triangles.shape[0]
    for step in range(2 * limit):
        # Rounding might lead it in a circle; from corner to lower corner it comes to an end.
        by_corners = step > limit
        from_x, from_y = x, y
        if v >= 0:
            over, along = _from_corner(surface, v)
            if is_open[v]:
                return OFF_THE_GROUND, -1, x, y
            if over < 0 and along < 0:
                return AT_CORNER, v, x, y
            if over >= 0 and not by_corners:
                t, entered, v = over, -1, -1
                continue
            v = along if over < 0 else _lowest(rank, triangles[over])
        elif by_corners:
            v = _lowest(rank, triangles[t])
        else:
            x, y, t, entered, v = _cross(surface, t, entered, x, y)
        if away.size:
            cell = _stopping(away, frame, from_x, from_y, x, y)
            if cell < 0 and v >= 0:
                cell = _stopping(away, frame, x, y, xy[v, 0], xy[v, 1])
            if cell >= 0:
                return STOPPED, cell, x, y
        if v < 0 and t < 0:
            return OFF_THE_GROUND, -1, x, y
        if v >= 0:
            x, y = xy[v, 0], xy[v, 1]
    return AT_CORNER, v, x, y


@kernel
def _ends(surface, away, frame, triangle, xy, how, at, out):
    """`_end_of` for many places."""
    for i in range(triangle.size):
        how[i], at[i], out[i, 0], out[i, 1] = _end_of(
            surface, away, frame, triangle[i], xy[i, 0], xy[i, 1]
        )


@dataclass(frozen=True)
class Ends:
    """Where water ends that was let go at some places.

    `how` is (n,) `AT_CORNER`, `OFF_THE_GROUND` or `STOPPED`; `at` the corner or the flat cell, -1
    off the ground; `xy` (n, 2) the place, plan metres.
    """

    how: Ints
    at: Ints
    xy: Floats


class Stops:
    """Cells of a grid at which water is stopped: `mask` (rows, cols) bool.

    Examples
    --------
    >>> mask = np.zeros((4, 5), bool)
    >>> mask[1, 1] = True
    >>> Stops(mask, Grid(*mask.shape, 0.5, 0.0, 0.0)).away.tolist()[0]
    [1, 1, 1, 2, 3]
    """

    def __init__(self, mask: NDArray[np.bool_], grid: Grid) -> None:
        self.mask = mask
        # How many cells away the nearest of them is, diagonal steps as one.
        self.away = np.empty((0, 0), np.int32)
        if mask.any():
            self.away = distance_transform_cdt(~mask, "chessboard").astype(np.int32)
        self.frame = (grid.cell_size, grid.x0, grid.y0)


NOWHERE = Stops(np.empty((0, 0), bool), Grid(0, 0, 1.0, 0.0, 0.0))


class Slopes:
    """A triangulated surface made ready to follow water on it.

    Parameters
    ----------
    xyz : (n, 3) float array, metres
    triangles : (t, 3) int array
    open_edge : (n,) bool
        Corners at which water leaves; edges used once between others are walls.

    Examples
    --------
    A roof's two sides, 2 m wide: water runs off to the side that it is on, straight down.

    >>> xyz = np.array([[0.0, 0, 0], [2, 0, 1], [4, 0, 0], [0, 5, 0], [2, 5, 1], [4, 5, 0]])
    >>> halves = np.array([[0, 1, 4], [0, 4, 3], [1, 2, 5], [1, 5, 4]])
    >>> roof = Slopes(xyz, halves, np.ones(6, bool))
    >>> ends = roof.follow(np.array([[1.9, 2.0], [2.1, 2.0]]))
    >>> ends.xy.round(3).tolist(), (ends.how == OFF_THE_GROUND).all()
    ([[0.0, 2.0], [4.0, 2.0]], np.True_)
    """

    def __init__(self, xyz: Floats, triangles: Ints, open_edge: NDArray[np.bool_]) -> None:
        xy, z = np.ascontiguousarray(xyz[:, :2]), np.ascontiguousarray(xyz[:, 2])
        ab, ac = (xyz[triangles[:, k]] - xyz[triangles[:, 0]] for k in (1, 2))
        twice = ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]
        triangles = np.where((twice < 0)[:, None], triangles[:, [0, 2, 1]], triangles)
        inverse = np.divide(1.0, twice, out=np.zeros(len(twice)), where=np.abs(twice) > _NO_AREA)
        down_x = (ac[:, 2] * ab[:, 1] - ab[:, 2] * ac[:, 1]) * inverse
        down_y = (ab[:, 2] * ac[:, 0] - ac[:, 2] * ab[:, 0]) * inverse
        down = np.column_stack([down_x, down_y])
        rank = np.empty(len(z), np.int64)
        rank[np.lexsort((np.arange(len(z)), z))] = np.arange(len(z))
        around = np.argsort(triangles.ravel(), kind="stable") // 3
        first = np.searchsorted(np.sort(triangles.ravel()), np.arange(len(z) + 1))
        beside = _neighbors(triangles, open_edge)
        self.triangles, self.xy, self.down = triangles, xy, down
        self._surface = (xy, z, rank, triangles, beside, down, first, around, open_edge)

    def follow(
        self,
        places: Floats,
        triangle: Ints | None = None,
        stops: Stops = NOWHERE,
    ) -> Ends:
        """Where water ends that is let go at (n, 2) places, each on the triangle given or nearest.

        Parameters
        ----------
        places : (n, 2) float array, plan metres
        triangle : (n,) int array, optional
        stops : Stops, optional
            Cells where the water is stopped.
        """
        places = np.array(places, dtype=np.float64).reshape(-1, 2)
        if triangle is None:
            found = [self.nearest(*place) for place in places.tolist()]
            triangle = np.array([t for t, _, _ in found], dtype=np.int64)
            places = np.array([place for _, place, _ in found]).reshape(-1, 2)
        n = len(places)
        how, at, xy = np.empty(n, np.int64), np.empty(n, np.int64), np.empty((n, 2))
        in_blocks(
            lambda first, last: _ends(
                *(self._surface, stops.away, stops.frame, triangle[first:last]),
                *(places[first:last], how[first:last], at[first:last], xy[first:last]),
            ),
            n,
            _FEW,
        )
        return Ends(how, at, xy)

    def nearest(self, x: float, y: float) -> tuple[int, tuple[float, float], float]:
        """The triangle under a place or nearest to it, its point there, and how far it is (m)."""
        corner = self.xy[self.triangles]
        at = np.array([x, y])
        best, away = corner[:, 0], np.full(len(corner), np.inf)
        outside = np.zeros(len(corner), bool)
        for k in range(3):
            a, side = corner[:, k], corner[:, (k + 1) % 3] - corner[:, k]
            outside |= side[:, 0] * (y - a[:, 1]) - side[:, 1] * (x - a[:, 0]) < 0
            share = ((at - a) * side).sum(axis=1) / np.maximum((side**2).sum(axis=1), 1e-300)
            point = a + np.clip(share, 0.0, 1.0)[:, None] * side
            far = np.hypot(*(point - at).T)
            best = np.where((far < away)[:, None], point, best)
            away = np.minimum(far, away)
        away = np.where(outside, away, 0.0)
        t = int(np.argmin(away))
        point = (x, y) if away[t] == 0.0 else (float(best[t, 0]), float(best[t, 1]))
        return t, point, float(away[t])


def _neighbors(triangles: Ints, open_edge: NDArray[np.bool_]) -> Ints:
    """Beyond each edge of each triangle: the other triangle, or `_WALL` or `_OPEN`; (t, 3)."""
    ends = np.stack([triangles, np.roll(triangles, -1, axis=1)], axis=2).reshape(-1, 2)
    _, edge = np.unique(np.sort(ends, axis=1), axis=0, return_inverse=True)
    order = np.argsort(edge.ravel(), kind="stable")
    same = edge.ravel()[order][1:] == edge.ravel()[order][:-1]
    one, other = order[:-1][same], order[1:][same]
    beyond = np.where(open_edge[ends].all(axis=1), _OPEN, _WALL)
    beyond[one], beyond[other] = other // 3, one // 3
    return beyond.reshape(-1, 3)
