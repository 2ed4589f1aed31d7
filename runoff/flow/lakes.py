"""Flooding the lakes and draining the flats, breadth first.

Each outermost depression becomes one lake: it is flooded from its spill cell inward, which gives
its level and, toward the spill cell, the drainage of its surface together. Natural flats are then
drained from all of their lower edges at once, so that water leaves a plateau by the nearest way and
not by the order of its cells. (Fill level as in Barnes, Lehman & Mulla 2014,
doi:10.1016/j.cageo.2013.04.024; the way there is another.)
"""

from __future__ import annotations

import numpy as np

from runoff.flow.compiled import kernel
from runoff.flow.directions import (
    CODE,
    FLAT,
    LAKE,
    OUTSIDE,
    PIT,
    SETTLED,
    SINK,
    WALL,
    lower_mask,
)


@kernel
def _grown(queue):
    wider = np.empty(queue.size * 2, queue.dtype)
    wider[: queue.size] = queue
    return wider


@kernel
def _lower(z, i, level, spill):
    return z[i] < level or (z[i] == level and i < spill)


@kernel
def flood_lakes(z, filled, code, step, group, node, top, parent, spill_cell):
    """Raise every outermost depression to its spill height and turn its drainage to the spill cell.

    `filled` (a copy of the heights) and `code` are changed in place; `node` must hold the pit of
    the first neighbor in each group of lower neighbors of a saddle, as the links left it.
    """
    queue = np.empty(1024, np.int64)
    for d in range(1, parent.size):
        if parent[d] != 0:
            continue
        spill = spill_cell[d]
        level = z[spill]
        outlet = code[spill] & CODE
        tail = 0
        if outlet == OUTSIDE:
            for k in range(8):
                j = spill + step[k]
                if j < 0 or j >= z.size or code[j] & CODE > PIT or code[j] & LAKE:
                    continue
                if _lower(z, j, level, spill) and node[j] > 0 and top[node[j]] == d:
                    tail = _take(queue, tail, filled, code, j, k, level)
        else:
            mask = lower_mask(z, spill, step)
            best = -1.0
            for k in range(8):
                if not mask >> k & 1:
                    continue
                first = 0
                while group[mask, first] != group[mask, k]:
                    first += 1
                below = node[spill + step[first]]
                j = spill + step[k]
                if below > 0 and top[below] == d:
                    if not code[j] & LAKE:
                        tail = _take(queue, tail, filled, code, j, k, level)
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
        head = 0
        while head < tail:
            i = queue[head]
            head += 1
            if tail + 8 > queue.size:
                queue = _grown(queue)
            for turn in range(8):
                k = (turn * 2) % 8 + turn // 4  # straight neighbors first
                j = i + step[k]
                if j == spill or code[j] & LAKE or not _lower(z, j, level, spill):
                    continue
                tail = _take(queue, tail, filled, code, j, k, level)


@kernel
def _take(queue, tail, filled, code, cell, came_by, level):
    filled[cell] = level
    code[cell] = LAKE | ((came_by + 4) & 7)
    queue[tail] = cell
    return tail + 1


@kernel
def _steepest(filled, i, step):
    """The neighbor to which the filled surface falls most steeply; -1 where none is lower."""
    best = 0.0
    found = -1
    for k in range(8):
        drop = np.float64(filled[i]) - np.float64(filled[i + step[k]])
        if k % 2:
            drop *= 0.7071067811865476
        if drop > best:
            best = drop
            found = k
    return found


@kernel
def drain_flats(filled, code, step):
    """Drain each natural flat from all of its lower edges at once, nearest edge first.

    A flat is a connected area of equal filled height that holds a cell with no strictly lower
    neighbor. A flat with no lower edge (in a terminal basin) is left as it is.
    """
    queue = np.empty(1024, np.int64)
    flat = np.empty(1024, np.int64)
    for start in range(code.size):
        if not code[start] & FLAT or code[start] & SETTLED:
            continue
        level = filled[start]
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
            k = _steepest(filled, i, step)
            if k >= 0:
                code[i] = (code[i] & ~CODE) | k
                queue[tail] = i
                tail += 1
            for k in range(8):
                j = i + step[k]
                if filled[j] == level and not code[j] & SETTLED and code[j] & CODE < WALL:
                    code[j] |= SETTLED
                    flat[n] = j
                    n += 1
        if tail == 0:
            continue
        _drain_from(queue, tail, flat, n, filled, code, step, level)


@kernel
def _drain_from(queue, tail, flat, n, filled, code, step, level):
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
            if filled[j] != level or not code[j] & FLAT or not code[j] & SETTLED:
                continue
            if code[j] & CODE == OUTSIDE or code[j] & CODE == SINK:
                continue
            code[j] = (code[j] & ~(CODE | FLAT)) | ((k + 4) & 7)
            queue[tail] = j
            tail += 1
