"""The surface that water runs over: triangles between the centers of a grid's cells.

Each square of four neighboring cell centers is split into four triangles that meet at its middle,
whose height is the mean of the four. In and out: indices, heights (m) and points in cells, x 0 at
the first column of centers, y 0 at the first row and growing *downward*, as rows do.

Squares are named by the row and column of their upper left center. Triangle 0 of a square has the
square's upper side, then clockwise. Inside a triangle a point is (s, t): s along the side from its
first corner A (0) to its second B (1), t from the side (0) to the middle M (0.5, 0.5).
"""

from __future__ import annotations

import numpy as np

from runoff.flow.compiled import kernel

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
