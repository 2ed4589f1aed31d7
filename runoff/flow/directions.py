"""D8: each cell's steepest lower neighbor, and where two basins can meet.

A cell is lower than another by (height, index), so that no two cells tie. One pass over the 3 x 3
neighborhoods gives every cell its receiver and flags the saddles: cells whose lower neighbors fall
into two or more groups that do not touch each other around the ring. Two basins can meet nowhere
else. After O'Callaghan & Mark 1984 (doi:10.1016/S0734-189X(84)80011-0) for the steepest neighbor.

In: heights made ready by `runoff.flow.ground` (walls +inf, open and missing cells -inf), flat, row
by row. Out: one code a cell, with flags above its low four bits.
"""

from __future__ import annotations

import numpy as np

from runoff.flow.compiled import kernel

# Codes 0 to 7 are the neighbors counterclockwise from east; row 0 is the top of the plan.
ROW_STEP = np.array([0, -1, -1, -1, 0, 1, 1, 1], dtype=np.int64)
COL_STEP = np.array([1, 1, 0, -1, -1, -1, 0, 1], dtype=np.int64)
PIT, OUTSIDE, SINK, WALL = 8, 9, 10, 11
CODE = 15  # the bits that hold the code
SADDLE, FLAT, LAKE, SETTLED = 16, 32, 64, 128

_DIAGONAL = 0.7071067811865476


def _ring_groups(mask: int) -> list[int]:
    """Group number of each ring position in `mask` (-1 outside it).

    Neighbors touch when they are next to each other around the ring, and two straight neighbors
    touch across the diagonal one between them.
    """
    group = [-1] * 8
    found = 0
    for start in range(8):
        if not mask >> start & 1 or group[start] >= 0:
            continue
        stack = [start]
        group[start] = found
        while stack:
            here = stack.pop()
            for step in (-2, -1, 1, 2):
                there = (here + step) % 8
                if abs(step) == 2 and here % 2:
                    continue
                if mask >> there & 1 and group[there] < 0:
                    group[there] = found
                    stack.append(there)
        found += 1
    return group


# For each mask of lower neighbors: the group of each of the eight, and how many groups there are.
GROUP = np.array([_ring_groups(mask) for mask in range(256)], dtype=np.int8)
GROUPS = (GROUP.max(axis=1) + 1).astype(np.uint8)


def steps(cols: int) -> np.ndarray:
    """Offsets in the flat array to the eight neighbors, (8,) int64."""
    return ROW_STEP * cols + COL_STEP


@kernel
def lower_mask(z, cell, step):
    """Bits of the neighbors of an inner cell that are lower than it by (height, index)."""
    h = z[cell]
    mask = 0
    for k in range(8):
        d = h - z[cell + step[k]]
        if d > 0 or (d == 0 and 1 <= k <= 4):
            mask |= 1 << k
    return mask


@kernel
def scan_rows(z, rows, cols, first, last, groups, code):
    """Give the cells of rows `first` to `last` - 1 their codes and flags.

    Parameters
    ----------
    z : (rows * cols,) float, prepared heights
    groups : (256,) uint8, `GROUPS`
    code : (rows * cols,) uint8, written

    Returns
    -------
    pits, links : int
        How many pits there are, and how many links between basins the saddles can make at most.
    """
    pits = 0
    links = 0
    diagonal = z.dtype.type(_DIAGONAL)
    zero = z.dtype.type(0)
    for r in range(first, last):
        base = r * cols
        if r == 0 or r == rows - 1:
            for c in range(cols):
                flags, n = _border(z, rows, cols, r, c)
                code[base + c] = flags
                links += n
            continue
        flags, n = _border(z, rows, cols, r, 0)
        code[base] = flags
        links += n
        if cols == 1:
            continue
        flags, n = _border(z, rows, cols, r, cols - 1)
        code[base + cols - 1] = flags
        links += n
        for c in range(1, cols - 1):
            i = base + c
            h = z[i]
            if h == np.inf:
                code[i] = WALL
                continue
            if h == -np.inf:
                code[i] = OUTSIDE
                continue
            e = h - z[i + 1]
            ne = h - z[i - cols + 1]
            n_ = h - z[i - cols]
            nw = h - z[i - cols - 1]
            w = h - z[i - 1]
            sw = h - z[i + cols - 1]
            s = h - z[i + cols]
            se = h - z[i + cols + 1]
            mask = (
                (e > zero)
                | (ne >= zero) << 1
                | (n_ >= zero) << 2
                | (nw >= zero) << 3
                | (w >= zero) << 4
                | (sw > zero) << 5
                | (s > zero) << 6
                | (se > zero) << 7
            )
            if mask == 0:
                code[i] = PIT
                pits += 1
                continue
            best = ne * diagonal
            k = 1
            if n_ > best:
                best = n_
                k = 2
            d = nw * diagonal
            if d > best:
                best = d
                k = 3
            if w > best:
                best = w
                k = 4
            # A neighbor further on in the array is lower only where it is strictly lower.
            best = max(best, zero)
            if e > best:
                best = e
                k = 0
            d = sw * diagonal
            if d > best:
                best = d
                k = 5
            if s > best:
                best = s
                k = 6
            d = se * diagonal
            if d > best:
                best = d
                k = 7
            g = groups[mask]
            flags = k
            if g > 1:
                flags |= SADDLE
                links += g - 1
            if best == zero:
                flags |= FLAT
            code[i] = flags
    return pits, links


@kernel
def _border(z, rows, cols, r, c):
    """Code of a border cell, and how many inner neighbors are lower: each may be a basin's edge."""
    h = z[r * cols + c]
    if h == np.inf:
        return WALL, 0
    links = 0
    if h > -np.inf:
        for k in range(8):
            rr = r + ROW_STEP[k]
            cc = c + COL_STEP[k]
            if rr < 1 or rr > rows - 2 or cc < 1 or cc > cols - 2:
                continue
            d = h - z[rr * cols + cc]
            if d > 0 or (d == 0 and 1 <= k <= 4):
                links += 1
    if links > 0:
        return OUTSIDE | SADDLE, links
    return OUTSIDE, 0
