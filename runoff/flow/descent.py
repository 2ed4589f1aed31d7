"""Follow water by steepest descent over a triangulated surface, from any place to where it ends.

Over a triangle water runs straight down; where two triangles fall toward each other it follows
their edge to its lower end, and from a corner the steepest of the triangles and edges around it.
Along a wall it follows the wall. In: triangles with heights (m, plan metres). Out: for each place
the corner that it ends at, the place where it leaves the ground, or the cell where it is stopped.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_cdt

from runoff.flow.compiled import in_blocks, kernel
from runoff.terrain.model import Grid

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

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
