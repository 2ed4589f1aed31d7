"""Crossing a full depression: from where a path meets its water to where it overflows.

A pond's surface is level, so no slope says where water crosses it: the path takes the nearest way
over pond cells, straightened as far as no bank or wall stands between.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from runoff.flow.engine.compiled import kernel
from runoff.flow.engine.directions import CODE, PIT


@kernel
def _way_over_water(z, code, step, start, spill):
    """Cells from `start` to `spill` over ground lower than the spill cell, breadth first.

    Returns (k,) int64, flat indices in order; only `start` and `spill` where no way was found.
    """
    level = z[spill]
    came_by = np.full(z.size, -1, np.int8)
    queue = np.empty(1024, np.int64)
    queue[0] = start
    came_by[start] = 8
    head, tail = 0, 1
    while head < tail and came_by[spill] < 0:
        i = queue[head]
        head += 1
        if tail + 8 > queue.size:
            wider = np.empty(queue.size * 2, np.int64)
            wider[: queue.size] = queue
            queue = wider
        for turn in range(8):
            k = (turn * 2) % 8 + turn // 4
            j = i + step[k]
            if j < 0 or j >= z.size or came_by[j] >= 0:
                continue
            lower = z[j] < level or (z[j] == level and j < spill)
            if j == spill or (lower and code[j] & CODE <= PIT):
                came_by[j] = k
                queue[tail] = j
                tail += 1
    if came_by[spill] < 0:
        return np.array([start, spill])
    count = 1
    i = spill
    while i != start:
        i -= step[came_by[i]]
        count += 1
    way = np.empty(count, np.int64)
    i = spill
    for place in range(count - 1, -1, -1):
        way[place] = i
        if place:
            i -= step[came_by[i]]
    return way


@kernel
def _clear(wet, from_row, from_col, to_row, to_col):
    """Whether the straight line between two cell centers stays on wet cells."""
    pieces = 4 * int(max(abs(to_row - from_row), abs(to_col - from_col)) + 1)
    for i in range(pieces + 1):
        f = i / pieces
        row = int(np.floor(from_row + f * (to_row - from_row) + 0.5))
        col = int(np.floor(from_col + f * (to_col - from_col) + 0.5))
        if not wet[row, col]:
            return False
    return True


@kernel
def _straightened(way, cols, z, level):
    """Row and column of the corners that are left of a way once it is pulled straight."""
    wet = z.reshape(-1, cols) <= level
    corners = np.empty((way.size, 2), np.float64)
    corners[0, 0], corners[0, 1] = way[0] // cols, way[0] % cols
    n = 1
    here = 0
    while here < way.size - 1:
        far = here + 1
        while far + 1 < way.size and _clear(
            wet,
            way[here] // cols,
            way[here] % cols,
            way[far + 1] // cols,
            way[far + 1] % cols,
        ):
            far += 1
        corners[n, 0], corners[n, 1] = way[far] // cols, way[far] % cols
        n += 1
        here = far
    return corners[:n]


def cross(basins, start: int, spill: int) -> NDArray[np.float64]:
    """Row and column (k, 2) of the corners of the way from cell `start` to `spill` (flat)."""
    cols = basins.shape[1]
    way = _way_over_water(basins.z, basins.code, basins.step, start, spill)
    return _straightened(way, cols, basins.z, basins.z[spill])
