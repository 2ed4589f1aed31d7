"""The depression hierarchy from the saddle graph: its minimum spanning forest, merge by merge.

Links are taken from the lowest saddle up. A link between two basins that have no way out yet merges
them into a larger depression; a link to one that has a way out is where the whole depression
overflows. So the merges, in order, are the hierarchy (Barnes, Callaghan & Wickert 2020,
doi:10.5194/esurf-8-431-2020), and the saddle that first links a pit to the outside is its fill
level.

Depressions are numbered: 0 the outside, 1 to n the leaves (one a pit), then the merged ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runoff.flow.compiled import kernel

NONE = -1


@dataclass(frozen=True)
class Hierarchy:
    """The depressions of a terrain as a forest; all arrays are by depression number.

    Parameters
    ----------
    leaves : int
        How many pits there are; depressions 1 to `leaves` are theirs.
    parent : (m,) int64
        The depression that this one merges into once it and its neighbor are full; 0 where it
        overflows to ground that drains; -1 for a terminal basin, which has no way out.
    left, right : (m,) int64
        The two that merged into it; -1 for leaves.
    spill_cell : (m,) int64
        Flat index of the saddle over which it overflows; -1 for a terminal basin.
    over : (m,) int64
        The leaf beyond that saddle, whose pit its overflow runs to; 0 for the outside.
    pit_cell : (leaves + 1,) int64
        Flat index of each leaf's lowest cell.
    top : (leaves + 1,) int64
        The outermost depression that each leaf belongs to; 0 for the outside.
    drained : (k,) int64
        The outermost depressions that have a way out, in the order in which they found it: each
        overflows only to ground that found it earlier.
    """

    leaves: int
    parent: NDArray[np.int64]
    left: NDArray[np.int64]
    right: NDArray[np.int64]
    spill_cell: NDArray[np.int64]
    over: NDArray[np.int64]
    pit_cell: NDArray[np.int64]
    top: NDArray[np.int64]
    drained: NDArray[np.int64]


@kernel
def _digit_sort(key, order, spare_key, spare_order, shift, count):
    """One stable pass of the radix sort, on 11 bits of `key` from `shift` up."""
    count[:] = 0
    mask = count.size - 1
    for i in range(key.size):
        count[np.int64(key[i] >> shift) & mask] += 1
    total = 0
    for d in range(count.size):
        here = count[d]
        count[d] = total
        total += here
    for i in range(key.size):
        d = np.int64(key[i] >> shift) & mask
        spare_key[count[d]] = key[i]
        spare_order[count[d]] = order[i]
        count[d] += 1


def ascending(heights: NDArray[np.floating]) -> NDArray[np.integer]:
    """Stable order of heights from low to high: a radix sort on their order-preserving bits.

    Parameters
    ----------
    heights : (n,) float32 or float64, no NaN

    Returns
    -------
    (n,) int32 or int64

    Examples
    --------
    >>> ascending(np.array([2.0, -1.0, 0.0, -0.0, 2.0])).tolist()
    [1, 2, 3, 0, 4]
    """
    unsigned, bits = (np.uint32, 32) if heights.dtype == np.float32 else (np.uint64, 64)
    key = (heights + heights.dtype.type(0)).view(unsigned)  # adding 0 turns -0.0 into 0.0
    sign = unsigned(1) << unsigned(bits - 1)
    key = np.where(key & sign, ~key, key | sign)
    order = np.arange(key.size, dtype=np.int32 if key.size < 2**31 else np.int64)
    spare_key, spare_order = np.empty_like(key), np.empty_like(order)
    count = np.empty(2048, np.int64)
    for shift in range(0, bits, 11):
        _digit_sort(key, order, spare_key, spare_order, unsigned(shift), count)
        key, spare_key = spare_key, key
        order, spare_order = spare_order, order
    return order


@kernel
def _root(up, node):
    while up[node] != node:
        up[node] = up[up[node]]
        node = up[node]
    return node


@kernel
def _merge(order, side_a, side_b, cell, up, top, parent, left, right, spill_cell, over, drained):
    """Take the links in order.

    Returns how many depressions there are, the outside included, and how many of them drain.
    """
    m = up.size
    out = 0
    for place in range(order.size):
        link = order[place]
        a = _root(up, np.int64(side_a[link]))
        b = _root(up, np.int64(side_b[link]))
        if a == b:
            continue
        a_out = a == 0 or parent[top[a]] == 0
        b_out = b == 0 or parent[top[b]] == 0
        if a_out and b_out:
            continue
        if not a_out:
            spill_cell[top[a]] = cell[link]
            over[top[a]] = side_b[link]
        if not b_out:
            spill_cell[top[b]] = cell[link]
            over[top[b]] = side_a[link]
        if a_out or b_out:
            found = top[b] if a_out else top[a]
            parent[found] = 0
            drained[out] = found
            out += 1
        else:
            left[m] = top[a]
            right[m] = top[b]
            parent[top[a]] = m
            parent[top[b]] = m
            up[b] = a
            top[a] = m
            m += 1
    return m, out


@kernel
def _tops(up, top):
    for leaf in range(1, up.size):
        top[leaf] = top[_root(up, leaf)]


def merge_basins(order, side_a, side_b, cell, pit_cell) -> Hierarchy:
    """Build the hierarchy from links already in order.

    Parameters
    ----------
    order : (k,) int, links from the lowest saddle up, equal heights by cell
    side_a, side_b, cell : (k,) int, the links
    pit_cell : (leaves + 1,) int64
    """
    leaves = pit_cell.size - 1
    up = np.arange(leaves + 1, dtype=np.int64)
    top = up.copy()
    parent, left, right, spill_cell, over = (
        np.full(2 * leaves + 1, NONE, np.int64) for _ in range(5)
    )
    drained = np.empty(leaves, np.int64)
    m, out = _merge(
        order, side_a, side_b, cell, up, top, parent, left, right, spill_cell, over, drained
    )
    _tops(up, top)
    each = (array[:m].copy() for array in (parent, left, right, spill_cell, over))
    return Hierarchy(leaves, *each, pit_cell, top, drained[:out].copy())
