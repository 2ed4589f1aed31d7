"""The moves a path is made of: straight to a center, a middle or an edge, or out and to its end.

A move is (x, y, place, r, c, k, s, t, edge, status): where to go, what is there (a center, the
middle of a square, a point of a triangle; see `runoff.flow.mesh` for r, c, k, s and t), over which
edge a triangle is entered, and whether the path ends there. Everything in cells.
"""

from __future__ import annotations

import numpy as np

from runoff.flow.compiled import kernel
from runoff.flow.mesh import (
    DOWN,
    OPEN,
    RIGHT,
    downhill,
    kind_of_square,
    nearest_cell,
    position,
    triangle_at,
)

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
