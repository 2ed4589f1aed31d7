"""D8: each cell's steepest lower neighbor, and where two basins can meet.

A cell is lower than another by (height, index), so that no two cells tie. One pass over the 3 x 3
neighborhoods gives every cell its receiver and flags the saddles: cells whose lower neighbors fall
into two or more groups that do not touch each other around the ring. Two basins can meet nowhere
else. After O'Callaghan & Mark 1984 (doi:10.1016/S0734-189X(84)80011-0) for the steepest neighbor.

In: heights made ready here (walls +inf, open and missing cells -inf), flat, row
by row. Out: one code a cell, with flags above its low four bits.

Walls become +inf, so that nothing is lower on their account; missing cells and drain inlets become
-inf, so that whatever reaches them is gone. The kernels then test no flags.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runoff.flow.engine.compiled import kernel


def checked_elevation(elevation: ArrayLike) -> NDArray[np.floating]:
    """The elevation as a 2-D array of float32 or float64, C-ordered.

    Raises
    ------
    ValueError
        If it is not 2-D, holds no cell, or holds infinite heights.

    Examples
    --------
    >>> checked_elevation([[1, 2], [3, 4]]).dtype
    dtype('float64')
    """
    z = np.asarray(elevation)
    if z.ndim != 2 or z.size == 0:
        raise ValueError(f"elevation must be a 2-D array with cells; its shape is {z.shape}")
    if z.dtype not in (np.float32, np.float64):
        z = z.astype(np.float64)
    # Sums tell infinities without an array of flags: a finite or NaN extreme is neither.
    if np.isinf(np.fmin.reduce(z, axis=None)) or np.isinf(np.fmax.reduce(z, axis=None)):
        raise ValueError("elevation holds infinite heights; mark missing cells with NaN")
    # A read-only array is copied: to the kernels it would be a type of its own, compiled anew.
    return np.require(z, requirements=["C", "W"])


def checked_closed(closed: ArrayLike | None, shape: tuple[int, int]) -> NDArray[np.bool_] | None:
    """The closed cells as a bool array of the elevation's shape, or None where there are none.

    Raises
    ------
    ValueError
        If the shape differs from the elevation's.
    """
    if closed is None:
        return None
    walls = np.asarray(closed, dtype=bool)
    if walls.shape != shape:
        raise ValueError(f"closed has shape {walls.shape}, the elevation has {shape}")
    return walls if walls.any() else None


def prepare(
    z: NDArray[np.floating],
    closed: NDArray[np.bool_] | None,
    inlets: NDArray[np.int64] | None = None,
) -> NDArray[np.floating]:
    """Heights for the kernels: walls +inf, missing cells and drain inlets -inf; the rest as it is.

    Returns the array itself where there is nothing to prepare.

    Parameters
    ----------
    z : (rows, cols) float32 or float64, metres, NaN where missing
    closed : (rows, cols) bool or None
    inlets : (k,) int64, flat indices of drain inlets, or None

    Examples
    --------
    >>> prepare(np.array([[1.0, np.nan], [2.0, 3.0]]), np.array([[False, False], [True, False]]))
    array([[  1., -inf],
           [ inf,   3.]])
    """
    missing = np.isnan(np.min(z))
    if closed is None and not missing and inlets is None:
        return z
    ready = z.copy()
    if missing:
        np.nan_to_num(ready, copy=False, nan=-np.inf)
    if inlets is not None:
        ready.reshape(-1)[inlets] = -np.inf
    if closed is not None:
        ready[closed] = np.inf
    return ready


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


# For each mask of lower neighbors: the group of each of the eight, how many groups there are, and
# the first neighbor of each group.
GROUP = np.array([_ring_groups(mask) for mask in range(256)], dtype=np.int8)
GROUPS = (GROUP.max(axis=1) + 1).astype(np.uint8)
FIRST = (GROUP[:, None] == np.arange(4)[:, None]).argmax(axis=2).astype(np.uint8)


def steps(cols: int) -> np.ndarray:
    """Offsets in the flat array to the eight neighbors, (8,) int64."""
    return ROW_STEP * cols + COL_STEP


@kernel
def lower_mask(z, cell, step):
    """Bits of the neighbors of an inner cell that are lower than it by (height, index)."""
    h = z[cell]
    mask = np.int64(0)
    # Sums of comparisons, not branches: which neighbors are lower cannot be predicted.
    for k in range(8):
        d = h - z[cell + step[k]]
        lower = np.int64(d > 0) | (np.int64(d == 0) & np.int64(1 <= k <= 4))
        mask |= lower << k
    return mask


@kernel
def scan_rows(z, rows, cols, first, last, code):
    """Give the cells of rows `first` to `last` - 1 their codes and flags.

    Parameters
    ----------
    z : (rows * cols,) float, prepared heights
    code : (rows * cols,) uint8, written

    Returns
    -------
    pits, links : int
        How many pits there are, and how many links between basins the saddles can make at most.
    """
    pits = 0
    links = 0
    mask = np.zeros(cols, np.uint8)
    diagonal = z.dtype.type(_DIAGONAL)
    for r in range(first, last):
        base = r * cols
        if 0 < r < rows - 1:
            here = code[base : base + cols]
            above, below = z[base - cols : base], z[base + cols : base + 2 * cols]
            _point(above, z[base : base + cols], below, here, mask, diagonal)
            n_pits, n_links = _flag_saddles(here, mask)
            pits += n_pits
            links += n_links
        inner = max(cols - 1, 1) if 0 < r < rows - 1 else 1
        for c in range(0, cols, inner):
            flags, n_links = _border(z, rows, cols, r, c)
            code[base + c] = flags
            links += n_links
    return pits, links


@kernel
def _point(above, row, below, code, mask, diagonal):
    """Code and flatness of a row's inner cells, and the masks of their lower neighbors.

    Nothing branches and all three rows are read by slices, so that it compiles to wide
    instructions; infinite heights are put right at the end.
    """
    zero = diagonal - diagonal
    for c in range(1, row.size - 1):
        h = row[c]
        e, w = h - row[c + 1], h - row[c - 1]
        ne, n, nw = h - above[c + 1], h - above[c], h - above[c - 1]
        sw, s, se = h - below[c - 1], h - below[c], h - below[c + 1]
        lower = (
            np.uint8(e > zero)
            | np.uint8(ne >= zero) << 1
            | np.uint8(n >= zero) << 2
            | np.uint8(nw >= zero) << 3
            | np.uint8(w >= zero) << 4
            | np.uint8(sw > zero) << 5
            | np.uint8(s > zero) << 6
            | np.uint8(se > zero) << 7
        )
        best = ne * diagonal
        k = 1
        k = 2 if n > best else k
        best = n if n > best else best
        d = nw * diagonal
        k = 3 if d > best else k
        best = d if d > best else best
        k = 4 if w > best else k
        best = w if w > best else best
        # A neighbor further on in the array is lower only where it is strictly lower.
        best = zero if best < zero else best
        k = 0 if e > best else k
        best = e if e > best else best
        d = sw * diagonal
        k = 5 if d > best else k
        best = d if d > best else best
        k = 6 if s > best else k
        best = s if s > best else best
        d = se * diagonal
        k = 7 if d > best else k
        best = d if d > best else best
        k = k | FLAT if best == zero else k
        k = PIT if lower == 0 else k
        missing = h == -np.inf
        wall = h == np.inf
        k = OUTSIDE if missing else k
        k = WALL if wall else k
        code[c] = k
        mask[c] = 0 if missing | wall else lower


@kernel
def _flag_saddles(code, mask):
    """Flag the saddles of a row; returns how many pits it has and how many links it can make.

    The groups of lower neighbors are counted by where they begin around the ring, once a diagonal
    neighbor between two lower straight ones counts as lower: the straight ones touch across it.
    """
    pits = np.int64(0)
    links = np.int64(0)
    for c in range(1, code.size - 1):
        m = np.int64(mask[c])
        m |= ((m >> 1) | (m << 7)) & ((m << 1) | (m >> 7)) & 0xAA
        begins = m & ~((m << 1) | (m >> 7))
        code[c] |= np.uint8(SADDLE if begins & (begins - 1) else 0)
        pits += np.int64(code[c] == PIT)
        # At most four of the eight bits are set, no two of them neighbors.
        begins = (begins & 0x55) + ((begins >> 1) & 0x55)
        begins = (begins & 0x33) + ((begins >> 2) & 0x33)
        begins = (begins & 0x0F) + (begins >> 4)
        links += max(np.int64(begins) - 1, np.int64(0))
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
