"""Follow water down the surface of a grid, continuously and not from cell center to cell center.

Each square of four neighboring cell centers is split into four triangles that meet at its middle,
whose height is the mean of the four. In and out: indices, heights (m) and points in cells, x 0 at
the first column of centers, y 0 at the first row and growing *downward*, as rows do.

Squares are named by the row and column of their upper left center. Triangle 0 of a square has the
square's upper side, then clockwise. Inside a triangle a point is (s, t): s along the side from its
first corner A (0) to its second B (1), t from the side (0) to the middle M (0.5, 0.5).

A move is (x, y, place, r, c, k, s, t, edge, status): where to go, what is there (a center, the
middle of a square, a point of a triangle; see above for r, c, k, s and t), over which
edge a triangle is entered, and whether the path ends there. Everything in cells.

The surface: each square of four neighboring cell centers is split into four triangles that meet at
its middle, whose height is the mean of the four. `descend` slides over it along the steepest
descent. In: heights, walls, D8 receivers and filled heights of one grid. Out: the points of a path
and why it ends. Coordinates are in cells: x is 0 at the first column of centers, y is 0 at the
first row and grows *downward*, as rows do.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from runoff.flow.engine.compiled import kernel
from runoff.flow.engine.directions import COL_STEP, OUTSIDE, PIT, ROW_STEP, SINK

OPEN, WALL, HOLE, BEYOND = 0, 1, 2, 3

# Corners of a square clockwise from the upper left; corner k is where the side of triangle k
# starts, (RIGHT, DOWN) is the direction of that side and (-DOWN, RIGHT) points inward.
CORNER_ROW = np.array([0, 0, 1, 1], dtype=np.int64)
CORNER_COL = np.array([0, 1, 1, 0], dtype=np.int64)
RIGHT = np.array([1, 0, -1, 0], dtype=np.int64)
DOWN = np.array([0, 1, 0, -1], dtype=np.int64)


@kernel
def nearest_cell(shape, x, y):
    """Row and column of the cell that holds a point, held within the grid."""
    row = min(max(int(np.floor(y + 0.5)), 0), shape[0] - 1)
    col = min(max(int(np.floor(x + 0.5)), 0), shape[1] - 1)
    return row, col


@kernel
def kind_of_square(z, closed, r, c):
    """Open ground, a wall, a hole of the survey, or beyond the grid."""
    if r < 0 or c < 0 or r >= z.shape[0] - 1 or c >= z.shape[1] - 1:
        return BEYOND
    if closed[r, c] or closed[r, c + 1] or closed[r + 1, c] or closed[r + 1, c + 1]:
        return WALL
    if np.isnan((z[r, c] + z[r + 1, c + 1]) + (z[r, c + 1] + z[r + 1, c])):
        return HOLE
    return OPEN


@kernel
def middle_height(z, r, c):
    # Opposite corners first: the mean of four equal heights is then exactly that height, and
    # rounding never takes it below the lowest of the four.
    return ((z[r, c] + z[r + 1, c + 1]) + (z[r, c + 1] + z[r + 1, c])) * 0.25


@kernel
def corner_of(r, c, k):
    """Row and column of corner k (any integer) of a square."""
    return r + CORNER_ROW[k & 3], c + CORNER_COL[k & 3]


@kernel
def downhill(z, r, c, k):
    """Minus the gradient of a triangle, in its own (s, t)."""
    ra, ca = corner_of(r, c, k)
    rb, cb = corner_of(r, c, k + 1)
    a, b = z[ra, ca], z[rb, cb]
    return a - b, (a + b) - 2.0 * middle_height(z, r, c)


@kernel
def position(r, c, k, s, t):
    """(x, y) of a point given in a triangle."""
    ra, ca = corner_of(r, c, k)
    return ca + s * RIGHT[k] - t * DOWN[k], ra + s * DOWN[k] + t * RIGHT[k]


@kernel
def across_side(r, c, k):
    """The square on the other side of a triangle's side."""
    return r - RIGHT[k], c + DOWN[k]


@kernel
def outward(edge, ds, dt):
    """How fast a direction leaves a triangle over its edge: 0 = AB, 1 = BM, 2 = MA."""
    if edge == 0:
        return -dt
    if edge == 1:
        return ds + dt
    return dt - ds


@kernel
def triangle_at(r, c, x, y):
    """The triangle of a square that holds a point: (k, s, t)."""
    u, v = x - c, y - r
    is_upper_right, is_upper_left = v <= u, v <= 1.0 - u
    k = (0 if is_upper_left else 1) if is_upper_right else (3 if is_upper_left else 2)
    ra, ca = corner_of(r, c, k)
    s = (x - ca) * RIGHT[k] + (y - ra) * DOWN[k]
    t = -(x - ca) * DOWN[k] + (y - ra) * RIGHT[k]
    return k, s, t


LEFT_GRID = 0
LEFT_SURVEY = 1
IN_DEPRESSION = 2
AT_SINK = 3
OUT_FULL = 4
BLOCKED = 5

GOING = -1
CENTER, MIDDLE, INSIDE = 0, 1, 2
SAME_POINT = 1e-9


@kernel
def to_center(r, c, status):
    """Go straight to a center."""
    return float(c), float(r), CENTER, r, c, 0, 0.0, 0.0, -1, status


@kernel
def to_middle(r, c):
    """Go straight to the middle of a square."""
    return c + 0.5, r + 0.5, MIDDLE, r, c, 0, 0.0, 0.0, -1, GOING


@kernel
def to_point(r, c, k, s, t, edge):
    """Go straight to a point of a triangle, that lies on `edge` of it (-1: inside)."""
    x, y = position(r, c, k, s, t)
    return x, y, INSIDE, r, c, k, s, t, edge, GOING


@kernel
def to_end(x, y, status):
    """Go straight to a point and end there."""
    return x, y, CENTER, 0, 0, 0, 0.0, 0.0, -1, status


@kernel
def into_hole(r, c, k, s, ds, dt):
    """From a triangle's side into unsurveyed ground: on for at most half a cell."""
    length = 0.5 / -dt
    if ds > 0.0:
        length = min(length, (1.0 - s) / ds)
    elif ds < 0.0:
        length = min(length, s / -ds)
    x, y = position(r, c, k, s + length * ds, length * dt)
    return to_end(x, y, LEFT_SURVEY)


@kernel
def _crosses_wall(closed, x, y, to_x, to_y):
    pieces = int(4.0 * (abs(to_x - x) + abs(to_y - y))) + 1
    for i in range(1, pieces + 1):
        f = i / pieces
        row, col = nearest_cell(closed.shape, x + f * (to_x - x), y + f * (to_y - y))
        if closed[row, col]:
            return True
    return False


@kernel
def off_the_grid(closed, x, y, heading_x, heading_y):
    """From a border cell along the heading, or straight out, to the grid's outer edge."""
    right, bottom = closed.shape[1] - 0.5, closed.shape[0] - 0.5
    gaps = (right - x, x + 0.5, bottom - y, y + 0.5)
    pace = (heading_x, -heading_x, heading_y, -heading_y)
    nearest = 0
    length = np.inf
    leaves = False
    for i in range(4):
        if gaps[i] < gaps[nearest]:
            nearest = i
        if pace[i] > 0.0:
            length = min(length, gaps[i] / pace[i])
            leaves = leaves or gaps[i] <= 1.0
    if leaves:
        to_x = min(max(x + length * heading_x, -0.5), right)
        to_y = min(max(y + length * heading_y, -0.5), bottom)
        if not _crosses_wall(closed, x, y, to_x, to_y):
            return to_end(to_x, to_y, LEFT_GRID)
    if nearest == 0:
        return to_end(right, y, LEFT_GRID)
    if nearest == 1:
        return to_end(-0.5, y, LEFT_GRID)
    if nearest == 2:
        return to_end(x, bottom, LEFT_GRID)
    return to_end(x, -0.5, LEFT_GRID)


@kernel
def first_move(z, closed, x, y):
    """From where the water starts onto the surface."""
    rows, cols = z.shape
    if not (-0.5 <= x <= cols - 0.5 and -0.5 <= y <= rows - 0.5):
        return to_end(x, y, BLOCKED)
    row, col = nearest_cell(z.shape, x, y)
    if closed[row, col]:
        return to_end(x, y, BLOCKED)
    if np.isnan(z[row, col]):
        return to_end(x, y, LEFT_SURVEY)
    r = min(max(int(np.floor(y)), 0), max(rows - 2, 0))
    c = min(max(int(np.floor(x)), 0), max(cols - 2, 0))
    is_open = kind_of_square(z, closed, r, c) == OPEN
    if row == 0 or col == 0 or row == rows - 1 or col == cols - 1:
        heading_x, heading_y = 0.0, 0.0
        if is_open:
            k, _, _ = triangle_at(r, c, min(max(x, c), c + 1), min(max(y, r), r + 1))
            ds, dt = downhill(z, r, c, k)
            heading_x, heading_y = (
                ds * RIGHT[k] - dt * DOWN[k],
                ds * DOWN[k] + dt * RIGHT[k],
            )
        return off_the_grid(closed, x, y, heading_x, heading_y)
    if not is_open or np.hypot(x - col, y - row) < SAME_POINT:
        return to_center(row, col, GOING)
    if np.hypot(x - c - 0.5, y - r - 0.5) < SAME_POINT:
        return to_middle(r, c)
    k, s, t = triangle_at(r, c, x, y)
    return to_point(r, c, k, s, t, -1)


__all__ = [
    "AT_SINK",
    "BLOCKED",
    "IN_DEPRESSION",
    "LEFT_GRID",
    "LEFT_SURVEY",
    "OUT_FULL",
    "descend",
    "surface_path",
]

_HALF_DIAGONAL = np.sqrt(0.5)


@kernel
def _follow_edge(z, r, c, k, s, edge):
    """Along an edge to its lower end; along a level one to the nearest center."""
    ra, ca = corner_of(r, c, k)
    rb, cb = corner_of(r, c, k + 1)
    a, b = z[ra, ca], z[rb, cb]
    if edge == 0:
        if a < b or (a == b and s < 0.5):
            return to_center(ra, ca, GOING)
        return to_center(rb, cb, GOING)
    m = middle_height(z, r, c)
    if edge == 1:
        return to_middle(r, c) if m < b else to_center(rb, cb, GOING)
    return to_middle(r, c) if m < a else to_center(ra, ca, GOING)


@kernel
def _cross_triangle(z, closed, r, c, k, s, t, edge):
    """Next move from a point of a triangle that was entered over `edge` (-1: it starts inside)."""
    ds, dt = downhill(z, r, c, k)
    if edge >= 0 and outward(edge, ds, dt) >= 0.0:
        return _follow_edge(z, r, c, k, s, edge)
    if ds == 0.0 and dt == 0.0:
        row, col = corner_of(r, c, k if s < 0.5 else k + 1)
        return to_center(row, col, GOING)
    inside = (t, 1.0 - s - t, s - t)
    length = np.inf
    leaves_over = 0
    for e in range(3):
        rate = outward(e, ds, dt)
        if rate > 0.0 and inside[e] / rate < length:
            length = max(inside[e] / rate, 0.0)
            leaves_over = e
    return _leave_triangle(z, closed, r, c, k, s + length * ds, t + length * dt, leaves_over)


@kernel
def _leave_triangle(z, closed, r, c, k, s, t, edge):
    """To a point on an edge, seen from the triangle beyond; to the vertex where it is at one."""
    if edge == 0:
        if s < SAME_POINT or s > 1.0 - SAME_POINT:
            row, col = corner_of(r, c, k if s < 0.5 else k + 1)
            return to_center(row, col, GOING)
        next_r, next_c = across_side(r, c, k)
        if kind_of_square(z, closed, next_r, next_c) == OPEN:
            return to_point(next_r, next_c, (k + 2) & 3, 1.0 - s, 0.0, 0)
        # _step ends the path here, or turns it along the wall.
        return to_point(r, c, k, s, 0.0, 0)
    if t > 0.5 - SAME_POINT:
        return to_middle(r, c)
    if t < SAME_POINT:
        row, col = corner_of(r, c, k + 1 if edge == 1 else k)
        return to_center(row, col, GOING)
    if edge == 1:
        return to_point(r, c, (k + 1) & 3, t, t, 2)
    return to_point(r, c, (k + 3) & 3, 1.0 - t, t, 1)


@kernel
def _from_middle(z, r, c):
    """Next move from the middle of a square: the steepest of its edges and triangles."""
    m = middle_height(z, r, c)
    steepest = 0.0
    lowest = 0
    lowest_height = np.inf
    triangle = -1
    for k in range(4):
        row, col = corner_of(r, c, k)
        if z[row, col] < lowest_height:
            lowest, lowest_height = k, z[row, col]
        ds, dt = downhill(z, r, c, k)
        slope = np.hypot(ds, dt)
        if abs(ds) < -dt and slope > steepest:
            steepest, triangle = slope, k
    if triangle >= 0 and steepest > (m - lowest_height) / _HALF_DIAGONAL:
        return to_point(r, c, triangle, 0.5, 0.5, -1)
    row, col = corner_of(r, c, lowest)
    return to_center(row, col, GOING)


@kernel
def _steepest_from_center(z, closed, row, col):
    """The steepest way down from a center: (slope, way, r, c, k, s).

    The way is 0 none, 1 along a grid line to the center (r, c), 2 to the middle of the square
    (r, c), 3 into triangle (r, c, k) from its corner s, 4 over that triangle's side into a hole.
    """
    best, way, best_r, best_c, best_k, best_s = 0.0, 0, 0, 0, 0, 0.0
    height = z[row, col]
    for j in range(4):
        to_row, to_col = row + DOWN[j], col + RIGHT[j]
        if not closed[to_row, to_col] and height - z[to_row, to_col] > best:
            best, way, best_r, best_c = height - z[to_row, to_col], 1, to_row, to_col
    for j in range(4):
        r, c = row - CORNER_ROW[j], col - CORNER_COL[j]
        if kind_of_square(z, closed, r, c) != OPEN:
            continue
        slope = (height - middle_height(z, r, c)) / _HALF_DIAGONAL
        if slope > best:
            best, way, best_r, best_c = slope, 2, r, c
        for end in range(2):
            k = (j - end) & 3
            ds, dt = downhill(z, r, c, k)
            away = ds if end == 0 else -ds
            slope = np.hypot(ds, dt)
            if slope <= best:
                continue
            if 0.0 < dt < away:
                best, way, best_r, best_c, best_k, best_s = slope, 3, r, c, k, float(end)
            elif dt < 0.0 <= away:
                next_r, next_c = across_side(r, c, k)
                if kind_of_square(z, closed, next_r, next_c) == HOLE:
                    best, way, best_r, best_c, best_k, best_s = slope, 4, r, c, k, float(end)
    return best, way, best_r, best_c, best_k, best_s


@kernel
def _d8_step(z, closed, d8, row, col):
    """Straight to the D8 receiver; half way to it where the survey ends."""
    code = d8[row, col]
    if code == OUTSIDE:
        for i in range(8):
            to_row, to_col = row + ROW_STEP[i], col + COL_STEP[i]
            if np.isnan(z[to_row, to_col]) and not closed[to_row, to_col]:
                code = i
                break
    if code > 7:
        return to_end(float(col), float(row), IN_DEPRESSION)
    to_row, to_col = row + ROW_STEP[code], col + COL_STEP[code]
    if np.isnan(z[to_row, to_col]):
        return to_end(col + 0.5 * COL_STEP[code], row + 0.5 * ROW_STEP[code], LEFT_SURVEY)
    return to_center(to_row, to_col, GOING)


@kernel
def _from_center(z, closed, d8, row, col, heading_x, heading_y, d8_only):
    """Next move from a center: out, the steepest way down, or the D8 step where there is none."""
    if row == 0 or col == 0 or row == z.shape[0] - 1 or col == z.shape[1] - 1:
        return off_the_grid(closed, float(col), float(row), heading_x, heading_y)
    if d8_only or d8[row, col] == PIT:
        return _d8_step(z, closed, d8, row, col)
    _, way, r, c, k, s = _steepest_from_center(z, closed, row, col)
    if way == 0:
        return _d8_step(z, closed, d8, row, col)
    if way == 1:
        return to_center(r, c, GOING)
    if way == 2:
        return to_middle(r, c)
    if way == 3:
        return to_point(r, c, k, s, 0.0, -1)
    ds, dt = downhill(z, r, c, k)
    return into_hole(r, c, k, s, ds, dt)


@kernel
def _from_triangle(z, closed, r, c, k, s, t, edge, heading_x, heading_y, d8_only):
    """Next move from a point of a triangle."""
    if edge == 0:
        next_r, next_c = across_side(r, c, k)
        beyond = kind_of_square(z, closed, next_r, next_c)
        ds, dt = downhill(z, r, c, k)
        if beyond == BEYOND:
            x, y = position(r, c, k, s, t)
            return off_the_grid(closed, x, y, heading_x, heading_y)
        if beyond == HOLE and dt < 0.0:
            return into_hole(r, c, k, s, ds, dt)
    if d8_only:
        row, col = corner_of(r, c, k if s < 0.5 else k + 1)
        return to_center(row, col, GOING)
    return _cross_triangle(z, closed, r, c, k, s, t, edge)


@kernel
def _stop_in(z, d8, filled, row, col):
    """Why water stops in a cell; going on otherwise."""
    if d8[row, col] == SINK:
        return AT_SINK
    if filled[row, col] > z[row, col]:
        return IN_DEPRESSION
    return GOING


@kernel
def _stop_between(z, d8, filled, x, y, to_x, to_y):
    """Whether a straight move meets a cell in which water stops: (status, share of the move).

    A move lies in one triangle or leads from a center to a center, so it meets two cells at most.
    """
    step_x, step_y = to_x - x, to_y - y
    row, col = nearest_cell(z.shape, x + 1e-6 * step_x, y + 1e-6 * step_y)
    status = _stop_in(z, d8, filled, row, col)
    if status != GOING:
        return status, 0.0
    to_row, to_col = nearest_cell(z.shape, to_x - 1e-6 * step_x, to_y - 1e-6 * step_y)
    status = _stop_in(z, d8, filled, to_row, to_col)
    if status == GOING:
        return status, 1.0
    if to_row != row:
        return status, (0.5 * (row + to_row) - y) / step_y
    if to_col != col:
        return status, (0.5 * (col + to_col) - x) / step_x
    return status, 0.0


@kernel
def descend(z, closed, d8, filled, x, y, out):
    """Follow the steepest descent from (x, y) and write its points to `out`.

    Heights never rise along the path; where the surface gives no way down (level ground, a corner
    between walls) it takes D8 steps from center to center. D8 receivers of a filled terrain have no
    loops, so every path ends; after very many steps rounding is suspected and only D8 is followed.

    Parameters
    ----------
    z : (rows, cols) float64, metres
        Heights; NaN is missing ground, an open edge of the survey.
    closed : (rows, cols) bool
        Walls: no path enters a square of four centers one of which is closed.
    d8 : (rows, cols) uint8
        0 to 7 the receiver (east, then counterclockwise), 8 none, 9 outside, 10 a drain's inlet.
    filled : (rows, cols) float64, metres
        Heights with depressions filled.
    x, y : float, cells
        Start; y grows downward.
    out : (n, 2) float64, cells
        Receives the points.

    Returns
    -------
    count : int
        Points written.
    status : int
        `LEFT_GRID`, `LEFT_SURVEY`, `IN_DEPRESSION` (the last point is where it enters a cell whose
        filled height is above its ground, or a pit), `AT_SINK`, `OUT_FULL` (`out` is too short), or
        `BLOCKED` (it starts in a wall or off the grid).
    """
    limit = 1000 + 50 * (z.shape[0] + z.shape[1])
    out[0, 0], out[0, 1] = x, y
    count, steps = 1, 0
    heading_x, heading_y = 0.0, 0.0
    to_x, to_y, kind, r, c, k, s, t, edge, status = first_move(z, closed, x, y)
    while status != BLOCKED:
        if count == len(out):
            return count, OUT_FULL
        stop, share = _stop_between(z, d8, filled, x, y, to_x, to_y)
        if stop != GOING:
            to_x, to_y = x + share * (to_x - x), y + share * (to_y - y)
            status = stop
        length = np.hypot(to_x - x, to_y - y)
        if length > SAME_POINT:
            heading_x, heading_y = (to_x - x) / length, (to_y - y) / length
            x, y = to_x, to_y
            out[count, 0], out[count, 1] = x, y
            count += 1
        if status != GOING:
            break
        steps += 1
        d8_only = steps > limit
        if kind == CENTER:
            to_x, to_y, kind, r, c, k, s, t, edge, status = _from_center(
                z, closed, d8, r, c, heading_x, heading_y, d8_only
            )
        elif kind == MIDDLE:
            to_x, to_y, kind, r, c, k, s, t, edge, status = _from_middle(z, r, c)
        else:
            to_x, to_y, kind, r, c, k, s, t, edge, status = _from_triangle(
                z, closed, r, c, k, s, t, edge, heading_x, heading_y, d8_only
            )
    return count, status


def surface_path(
    z: NDArray[np.float64],
    closed: NDArray[np.bool_],
    d8: NDArray[np.uint8],
    filled: NDArray[np.float64],
    start: tuple[float, float],
) -> tuple[NDArray[np.float64], int]:
    """Path of water over the surface from one point, however many points it takes.

    Parameters
    ----------
    z, closed, d8, filled : (rows, cols) arrays
        As `descend` takes them.
    start : (x, y), cells
        x from the first column of centers, y from the first row of centers, downward.

    Returns
    -------
    points : (n, 2) float64, cells
    status : int
        As `descend` gives it.

    Examples
    --------
    >>> z = np.tile(np.arange(5.0), (4, 1))  # falls to the west
    >>> d8 = np.full(z.shape, 4, dtype=np.uint8)
    >>> points, status = surface_path(z, np.zeros(z.shape, dtype=bool), d8, z, (3.0, 1.25))
    >>> points[-1].tolist(), status == LEFT_GRID
    ([-0.5, 1.25], True)
    """
    out = np.empty((64 + 4 * (z.shape[0] + z.shape[1]), 2))
    count, status = descend(z, closed, d8, filled, start[0], start[1], out)
    while status == OUT_FULL:
        out = np.empty((2 * len(out), 2))
        count, status = descend(z, closed, d8, filled, start[0], start[1], out)
    return out[:count].copy(), int(status)
