"""Basins and how they nest: the saddle graph, and its minimum spanning forest, which is the
depression hierarchy.

From each saddle one walks downhill, once for each group of its lower neighbors, to the pits below.
Each cell passed keeps the name of its pit, so that the walks together visit no cell twice.

Node 0 is the outside (open border, missing cells, drain inlets); pits are 1, 2, ... in the order of
their cells.

Links are taken from the lowest saddle up. A link between two basins that have no way out yet merges
them into a larger depression; a link to one that has a way out is where the whole depression
overflows. So the merges, in order, are the hierarchy (Barnes, Callaghan & Wickert 2020,
doi:10.5194/esurf-8-431-2020), and the saddle that first links a pit to the outside is its fill
level.

Depressions are numbered: 0 the outside, 1 to n the leaves (one a pit), then the merged ones.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from runoff.flow.engine.compiled import kernel
from runoff.flow.engine.directions import CODE, COL_STEP, OUTSIDE, PIT, ROW_STEP, SADDLE, lower_mask

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
    unsigned: Any
    unsigned, bits = (np.uint32, 32) if heights.dtype == np.float32 else (np.uint64, 64)
    key: Any = (heights + heights.dtype.type(0)).view(unsigned)  # adding 0 turns -0.0 into 0.0
    sign = unsigned(1) << unsigned(bits - 1)
    key = np.where(key & sign, ~key, key | sign)
    order: Any = np.arange(key.size, dtype=np.int32 if key.size < 2**31 else np.int64)
    spare_key, spare_order = np.empty_like(key), np.empty_like(order)
    count = np.empty(2048, np.int64)
    for shift in range(0, bits, 11):
        _digit_sort(key, order, spare_key, spare_order, unsigned(shift), count)
        key, spare_key = spare_key, key
        order, spare_order = spare_order, order
    return order


@dataclass(frozen=True)
class Links:
    """Links of the saddle graph, each joining two nodes where their basins meet.

    Parameters
    ----------
    height : (k,) float32 or float64, metres, of the saddle
    side_a, side_b : (k,) int, the nodes; 0 the outside
    cell : (k,) int, flat index of the saddle
    """

    height: NDArray[np.floating]
    side_a: NDArray[np.integer]
    side_b: NDArray[np.integer]
    cell: NDArray[np.integer]

    def taken(self, places: NDArray[np.integer]) -> Links:
        """The links at these places, in their order."""
        return Links(
            self.height[places], self.side_a[places], self.side_b[places], self.cell[places]
        )


def joined(parts: Sequence[Links]) -> Links:
    """All links of several parts, in order."""
    return Links(
        np.concatenate([part.height for part in parts]),
        np.concatenate([part.side_a for part in parts]),
        np.concatenate([part.side_b for part in parts]),
        np.concatenate([part.cell for part in parts]),
    )


# In `up` a root holds ~name (negative), so that finding a root finds its name too.
@kernel
def _root(up, node):
    while True:
        above = up[node]
        if above < 0:
            return node
        beyond = up[above]
        if beyond < 0:
            return np.int64(above)
        up[node] = beyond
        node = np.int64(beyond)


@kernel
def _forest(order, side_a, side_b, first, last, up, kept):
    """Write to `kept` the links that a minimum spanning forest keeps, in order; returns how many.

    Only links between the outside and the nodes from `first` to `last` - 1 can be left out. `up` is
    (last - first + 1,), all -1.
    """
    n = 0
    for place in range(order.size):
        link = order[place]
        a, b = np.int64(side_a[link]), np.int64(side_b[link])
        inside_a = a == 0 or first <= a < last
        inside_b = b == 0 or first <= b < last
        if inside_a and inside_b:
            a = _root(up, a - first + 1 if a > 0 else 0)
            b = _root(up, b - first + 1 if b > 0 else 0)
            if a == b:
                continue
            up[b] = a
        kept[n] = link
        n += 1
    return n


def keep_forest(links: Links, first: int, last: int) -> Links:
    """Leave out links that no minimum spanning forest needs, seen from these alone; sort the rest.

    Parameters
    ----------
    links : Links, in the order of their cells
    first, last : int
        Links between the outside and nodes `first` to `last` - 1 are looked at; others stay.

    Examples
    --------
    >>> height, side_a, side_b = np.array([3.0, 1.0, 2.0]), np.array([1, 2, 1]), np.array([2, 0, 0])
    >>> ring = Links(height, side_a, side_b, cell=np.arange(3))
    >>> keep_forest(ring, 1, 3).height.tolist()
    [1.0, 2.0]
    """
    order = ascending(links.height)
    up = np.full(last - first + 1, -1, np.int32)
    kept = np.empty_like(order)
    n = _forest(order, links.side_a, links.side_b, first, last, up, kept)
    return links.taken(kept[:n])


@kernel
def _merge(order, side_a, side_b, cell, up, parent, left, right, spill_cell, over, drained):
    """Take the links in order; `up` holds ~node for every node.

    The outside and all that has found a way to it are one set, named 0. Returns how many
    depressions there are, the outside included, and how many of them drain.
    """
    m = up.size
    out = 0
    for place in range(order.size):
        link = order[place]
        a = _root(up, np.int64(side_a[link]))
        b = _root(up, np.int64(side_b[link]))
        if a == b:
            continue
        in_a, in_b = ~np.int64(up[a]), ~np.int64(up[b])
        if in_a > 0:
            spill_cell[in_a] = cell[link]
            over[in_a] = side_b[link]
        if in_b > 0:
            spill_cell[in_b] = cell[link]
            over[in_b] = side_a[link]
        up[b] = a
        if in_a == 0 or in_b == 0:
            parent[in_a + in_b] = 0
            drained[out] = in_a + in_b
            out += 1
            up[a] = ~0
        else:
            parent[in_a] = m
            parent[in_b] = m
            parent[m], left[m], right[m], spill_cell[m], over[m] = NONE, in_a, in_b, NONE, NONE
            up[a] = ~m
            m += 1
    return m, out


@kernel
def _tops(parent, outermost):
    """The outermost depression of each; a depression's number is below its parent's."""
    for d in range(parent.size - 1, 0, -1):
        outermost[d] = d if parent[d] <= 0 else outermost[parent[d]]


def merge_basins(links: Links, pit_cell: NDArray[np.int64]) -> Hierarchy:
    """Build the hierarchy from the links.

    Parameters
    ----------
    links : Links, those of equal height in the order of their cells
    pit_cell : (leaves + 1,) int64
    """
    leaves = pit_cell.size - 1
    most = 2 * leaves + 1
    up: Any = np.arange(leaves + 1, dtype=np.int32 if most < 2**31 else np.int64)
    np.invert(up, out=up)
    each = [np.empty(most, np.int64) for _ in range(5)]
    for array in each:
        array[: leaves + 1] = NONE
    drained = np.empty(leaves, np.int64)
    order = ascending(links.height)
    m, out = _merge(order, links.side_a, links.side_b, links.cell, up, *each, drained)
    parent, left, right, spill_cell, over = (array[:m] for array in each)
    outermost = np.zeros(m, np.int64)
    _tops(parent, outermost)
    top = outermost[: leaves + 1]
    return Hierarchy(leaves, parent, left, right, spill_cell, over, pit_cell, top, drained[:out])
