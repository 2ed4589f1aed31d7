"""The saddle graph: pits and the outside, linked where their basins meet.

From each saddle one walks downhill, once for each group of its lower neighbors, to the pits below.
Each cell passed keeps the name of its pit, so that the walks together visit no cell twice.

Node 0 is the outside (open border, missing cells, drain inlets); pits are 1, 2, ... in the order of
their cells.
"""

from __future__ import annotations

import numpy as np

from runoff.flow.compiled import kernel
from runoff.flow.directions import (
    CODE,
    COL_STEP,
    OUTSIDE,
    PIT,
    ROW_STEP,
    SADDLE,
    lower_mask,
)

UNKNOWN = -1


@kernel
def name_pits(code, first, last, number, node, pit_cell):
    """Number the pits among cells `first` to `last` - 1 from `number` on, in `node`.

    Cells of the outside are node 0, all others unknown.
    """
    codes, nodes = code[first:last], node[first:last]
    for i in range(codes.size):
        nodes[i] = 0 if codes[i] & CODE == OUTSIDE else UNKNOWN
    for i in range(codes.size):
        if codes[i] & CODE == PIT:
            nodes[i] = number
            pit_cell[number] = first + i
            number += 1


@kernel
def pit_below(code, step, node, cell):
    """The node that water from `cell` comes to; cells on the way are marked with it in `node`."""
    # Unsigned indices spare the test for places counted from the end.
    i = np.int64(cell)
    while node[np.uintp(i)] == UNKNOWN:
        i += step[code[np.uintp(i)] & CODE]
    found = node[np.uintp(i)]
    i = np.int64(cell)
    while node[np.uintp(i)] == UNKNOWN:
        node[np.uintp(i)] = found
        i += step[code[np.uintp(i)] & CODE]
    return np.int64(found)


@kernel
def link_rows(z, code, rows, cols, first, last, step, groups, firsts, node, side_a, side_b, cell):
    """Write the links that the saddles of rows `first` to `last` - 1 make; returns how many.

    Each link joins the nodes `side_a` and `side_b` over the saddle `cell`. Links come in the order
    of their cells. `groups` and `firsts` are `directions.GROUPS` and `directions.FIRST`.
    """
    n = np.int64(0)
    for i in range(first * cols, last * cols):
        flags = code[i]
        if not flags & SADDLE:
            continue
        if flags & CODE == OUTSIDE:
            n = _link_border(z, code, rows, cols, i, step, node, side_a, side_b, cell, n)
            continue
        mask = lower_mask(z, i, step)
        a = pit_below(code, step, node, i + step[firsts[mask, 0]])
        for g in range(1, groups[mask]):
            b = pit_below(code, step, node, i + step[firsts[mask, g]])
            side_a[n] = a
            side_b[n] = b
            cell[n] = i
            n += np.int64(a != b)
    return n


@kernel
def _link_border(z, code, rows, cols, i, step, node, side_a, side_b, cell, n):
    """Links of a border cell: the outside and each basin that meets it there."""
    r, c = i // cols, i % cols
    for k in range(8):
        rr = r + ROW_STEP[k]
        cc = c + COL_STEP[k]
        if rr < 1 or rr > rows - 2 or cc < 1 or cc > cols - 2:
            continue
        j = rr * cols + cc
        d = z[i] - z[j]
        if d > 0 or (d == 0 and 1 <= k <= 4):
            b = pit_below(code, step, node, j)
            if b != 0:
                side_a[n] = 0
                side_b[n] = b
                cell[n] = i
                n += 1
    return n


@kernel
def name_cells(code, step, node):
    """Mark every open cell with the node it drains to (walls stay unknown)."""
    for i in range(code.size):
        if code[i] & CODE < PIT:
            pit_below(code, step, node, i)
