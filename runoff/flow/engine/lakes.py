"""Flooding the lakes and draining the flats, breadth first.

Each outermost depression becomes one lake: it is flooded from its spill cell inward, which gives
its level and, toward the spill cell, the drainage of its surface together. Natural flats are then
drained from all of their lower edges at once, so that water leaves a plateau by the nearest way and
not by the order of its cells. (Fill level as in Barnes, Lehman & Mulla 2014,
doi:10.1016/j.cageo.2013.04.024; the way there is another.)
"""

from __future__ import annotations

import numpy as np

from runoff.flow.engine.compiled import kernel
from runoff.flow.engine.directions import (
    CODE,
    COL_STEP,
    FLAT,
    LAKE,
    OUTSIDE,
    PIT,
    ROW_STEP,
    SETTLED,
    SINK,
    WALL,
    lower_mask,
)

_STRAIGHT_FIRST = (0, 2, 4, 6, 1, 3, 5, 7)


def _onward(came_by: int) -> list[int]:
    """The neighbors of a cell that are none of the cell from which it was come by.

    The others were looked at from there.
    """
    back_row, back_col = ROW_STEP[came_by], COL_STEP[came_by]
    return [
        k
        for k in _STRAIGHT_FIRST
        if abs(ROW_STEP[k] + back_row) > 1 or abs(COL_STEP[k] + back_col) > 1
    ]


_ONWARD_COUNT = np.array([len(_onward(k)) for k in range(8)], dtype=np.int64)
_ONWARD = np.array([(_onward(k) * 2)[:5] for k in range(8)], dtype=np.int64)


@kernel
def _grown(queue):
    wider = np.empty(queue.size * 2, queue.dtype)
    wider[: queue.size] = queue
    return wider


@kernel
def _lower(z, i, level, spill):
    return z[i] < level or (z[i] == level and i < spill)


@kernel
def first_leaves(top, parent):
    """For each outermost depression that drains, its first leaf; 0 for all others."""
    first = np.zeros(parent.size, top.dtype)
    for leaf in range(top.size - 1, 0, -1):
        if parent[top[leaf]] == 0:
            first[top[leaf]] = leaf
    return first


@kernel
def flood_lakes(
    z, filled, code, step, group, firsts, node, top, spill_cell, first_leaf, start, stop
):
    """Raise outermost depressions to their spill heights, drainage turned to their spill cells.

    Those whose first leaf is `start` to `stop` - 1: neighbors on the ground one after the other,
    and lakes share no cell, so that several threads can flood at once. `filled` is written where
    there is a lake, `code` is changed; `node` must hold the pit of the first neighbor in each group
    of lower neighbors of a saddle, as the links left it.
    """
    queue = np.empty(1024, np.int64)
    for leaf in range(start, stop):
        d = top[leaf]
        if first_leaf[d] != leaf:
            continue
        spill = spill_cell[d]
        level = z[spill]
        if code[spill] & CODE == OUTSIDE:
            tail = _enter_from_border(z, code, step, node, top, d, spill, level, queue)
        else:
            tail = _enter_from_saddle(
                z, code, step, group, firsts, node, top, spill_cell, d, spill, level, queue
            )
        head = 0
        while head < tail:
            i = queue[np.uintp(head)]
            head += 1
            if tail + 8 > queue.size:
                queue = _grown(queue)
            filled[np.uintp(i)] = level
            came_by = (np.int64(code[np.uintp(i)]) + 4) & 7
            for turn in range(_ONWARD_COUNT[came_by]):
                k = np.int64(_ONWARD[came_by, turn])
                j = np.uintp(i + step[k])
                if not code[j] & LAKE and _lower(z, j, level, np.uintp(spill)):
                    tail = _take(queue, tail, code, j, k)


@kernel
def _take(queue, tail, code, cell, came_by):
    """Put a cell in the queue, drained the way it was come by."""
    code[cell] = LAKE | ((came_by + 4) & 7)
    queue[tail] = cell
    return tail + 1


@kernel
def _enter_from_border(z, code, step, node, top, d, spill, level, queue):
    """Take the cells of lake `d` beside a border cell that it spills over."""
    tail = 0
    for k in range(8):
        j = spill + step[k]
        if j < 0 or j >= z.size or code[j] & CODE > PIT or code[j] & LAKE:
            continue
        if _lower(z, j, level, spill) and node[j] > 0 and top[node[j]] == d:
            tail = _take(queue, tail, code, j, k)
    return tail


@kernel
def _enter_from_saddle(z, code, step, group, firsts, node, top, spill_cell, d, spill, level, queue):
    """Take the cells of lake `d` beside its spill cell, and turn that one away from all lakes."""
    tail = 0
    outlet = code[spill] & CODE
    mask = lower_mask(z, spill, step)
    best = -1.0
    for k in range(8):
        if not mask >> k & 1:
            continue
        below = node[spill + step[firsts[mask, group[mask, k]]]]
        j = spill + step[k]
        if below > 0 and top[below] == d:
            if not code[j] & LAKE:
                tail = _take(queue, tail, code, j, k)
            continue
        if below > 0 and spill_cell[top[below]] == spill:
            continue  # another lake that overflows here: no way out
        drop = np.float64(level) - np.float64(z[j])
        if k % 2:
            drop *= 0.7071067811865476
        if drop > best:
            best = drop
            outlet = k
    code[spill] = (code[spill] & ~(CODE | FLAT)) | outlet
    if best == 0:
        code[spill] |= FLAT
    return tail


@kernel
def _surface(z, filled, code, i):
    """Height of the filled surface, of which `filled` need hold the lakes alone."""
    return filled[i] if code[i] & LAKE else z[i]


@kernel
def _steepest(z, filled, code, i, level, step):
    """The neighbor to which the filled surface falls most steeply; -1 where none is lower."""
    best = 0.0
    found = -1
    for k in range(8):
        drop = np.float64(level) - np.float64(_surface(z, filled, code, i + step[k]))
        if k % 2:
            drop *= 0.7071067811865476
        if drop > best:
            best = drop
            found = k
    return found


@kernel
def flat_cells(code, first, last):
    """The cells from `first` to `last` - 1 that are flagged flat; (k,) int64."""
    part = code[first:last]
    count = np.int64(0)
    for i in range(part.size):
        count += np.int64(part[i] & FLAT != 0)
    found = np.empty(count, np.int64)
    if count == 0:
        return found
    n = 0
    for i in range(part.size):
        if part[i] & FLAT:
            found[n] = first + i
            n += 1
    return found


@kernel
def drain_flats(z, filled, code, step, starts):
    """Drain each natural flat from all of its lower edges at once, nearest edge first.

    A flat is a connected area of equal filled height that holds a cell with no strictly lower
    neighbor. A flat with no lower edge (in a terminal basin) is left as it is.
    """
    queue = np.empty(1024, np.int64)
    flat = np.empty(1024, np.int64)
    for start in starts:
        if not code[start] & FLAT or code[start] & SETTLED:
            continue
        level = _surface(z, filled, code, start)
        flat[0] = start
        n = 1
        code[start] |= SETTLED
        tail = 0
        head = 0
        while head < n:
            i = flat[head]
            head += 1
            if n + 8 > flat.size:
                flat = _grown(flat)
            if tail + 8 > queue.size:
                queue = _grown(queue)
            if code[i] & CODE == OUTSIDE:
                queue[tail] = i
                tail += 1
                continue
            k = _steepest(z, filled, code, i, level, step)
            if k >= 0:
                code[i] = (code[i] & ~CODE) | k
                queue[tail] = i
                tail += 1
            for k in range(8):
                j = i + step[k]
                if code[j] & SETTLED or code[j] & CODE >= WALL:
                    continue
                if _surface(z, filled, code, j) == level:
                    code[j] |= SETTLED
                    flat[n] = j
                    n += 1
        if tail == 0:
            continue
        _drain_from(queue, tail, flat, n, z, filled, code, step, level)


@kernel
def _drain_from(queue, tail, flat, n, z, filled, code, step, level):
    """Breadth first from the `tail` cells in `queue`; FLAT marks the cells still to be drained."""
    for place in range(n):
        code[flat[place]] |= FLAT
    for place in range(tail):
        code[queue[place]] &= ~FLAT
    head = 0
    while head < tail:
        i = queue[head]
        head += 1
        if tail + 8 > queue.size:
            queue = _grown(queue)
        border = code[i] & CODE == OUTSIDE
        for turn in range(8):
            k = (turn * 2) % 8 + turn // 4
            j = i + step[k]
            if border and (j < 0 or j >= code.size):
                continue
            if not code[j] & FLAT or not code[j] & SETTLED:
                continue
            if code[j] & CODE == OUTSIDE or code[j] & CODE == SINK:
                continue
            if _surface(z, filled, code, j) != level:
                continue
            code[j] = (code[j] & ~(CODE | FLAT)) | ((k + 4) & 7)
            queue[tail] = j
            tail += 1
