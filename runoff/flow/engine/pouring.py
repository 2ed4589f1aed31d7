"""Ponding: a storm's water runs, fills depressions, overflows, merges, and leaves or stands.

Water runs down to the pits; from each pit it is poured into the hierarchy: a full depression
overflows to its neighbor, two full neighbors become the larger depression they merge into, and an
outermost one overflows to the ground that drains. (What is computed: Barnes, Callaghan & Wickert
2021, doi:10.5194/esurf-9-105-2021.) Water is conserved to rounding.

Volumes are in height x cells until a caller multiplies by the area of a cell.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runoff.flow.engine.compiled import kernel
from runoff.flow.engine.depressions import Depressions, level_of, measure
from runoff.flow.engine.directions import CODE, OUTSIDE, PIT, SINK
from runoff.flow.engine.drainage import basins_of


@dataclass(frozen=True)
class Ponding:
    """What a storm leaves behind.

    Parameters
    ----------
    depressions : Depressions
    held : (m,) float64
        Water in each depression, height x cells; for a merged one all of it once both parts are
        full, 0 before.
    full : (m,) bool
        Whether it is filled to its spill height.
    left : (rows * cols,) float64
        Water that left the ground, at the border cell, missing cell or drain inlet where it did.
    owed : (rows * cols,) float64
        Water that was to be taken out but never came, at the pit or the cell where it would leave.
    """

    depressions: Depressions
    held: NDArray[np.float64]
    full: NDArray[np.bool_]
    left: NDArray[np.float64]
    owed: NDArray[np.float64]

    def outermost(self, leaf: int) -> int:
        """The depression whose water surface covers this leaf's pit: the merged one, if merged."""
        return int(_active(leaf, *self._tree))

    def held_in(self, depression: int) -> float:
        """All water that stands in a depression, height x cells; its capacity where it is full."""
        if self.full[depression]:
            return float(self.depressions.capacity[depression])
        parts = {self.outermost(leaf) for leaf in self.depressions.leaves_of(depression)}
        return float(self.held[list(parts)].sum())

    def greatest_depth(self, depression: int) -> float:
        """Depth (m) of the water in a depression where it stands deepest."""
        found = self.depressions
        if self.full[depression]:
            return float(found.spill_height[depression]) - found.lowest_height(depression)
        parts = {self.outermost(leaf) for leaf in found.leaves_of(depression)}
        return max(
            found.level(d, float(self.held[d])) - found.lowest_height(d)
            if self.held[d] > 0
            else 0.0
            for d in parts
        )

    @property
    def standing(self) -> float:
        """All water that stands anywhere, height x cells."""
        active = np.zeros(self.depressions.hierarchy.leaves + 1, np.int64)
        _activate(active, *self._tree)
        return float(self.held[np.unique(active[1:])].sum())

    @property
    def _tree(self) -> tuple:
        tree = self.depressions.hierarchy
        return tree.parent, tree.left, tree.right, self.full

    def levels(self) -> NDArray[np.float64]:
        """Water surface height (m) over each leaf, (leaves + 1,); -inf where it holds none."""
        found = self.depressions
        leaves = found.hierarchy.leaves
        active = np.zeros(leaves + 1, np.int64)
        _activate(active, *self._tree)
        level = np.full(found.spill_height.size, -np.inf)
        level[self.full] = found.spill_height[self.full]
        partial = np.unique(active[1:])
        partial = partial[(self.held[partial] > 0) & ~self.full[partial]]
        _partial_levels(found, active, partial, self.held, level)
        level[0] = -np.inf
        return level[active]

    def levels_by_cells(self) -> NDArray[np.float64]:
        """As `levels`, none above the cell over which the cells have a depression spill.

        The survey may tell a spill a little higher; water that is followed from cell to cell would
        then meet it where the ground sheds it past the low spot.
        """
        found, tree = self.depressions, self.depressions.hierarchy
        active = np.zeros(tree.leaves + 1, np.int64)
        _activate(active, *self._tree)
        heights = found.basins.z[np.maximum(tree.spill_cell, 0)]
        spill = np.where(tree.spill_cell < 0, np.inf, heights.astype(np.float64))
        return np.minimum(self.levels(), spill[active])

    def depth(self) -> NDArray[np.float64]:
        """Standing depth, (rows, cols) float64, metres; 0 where there is no ground."""
        return self._depth(self.levels())

    def depth_by_cells(self) -> NDArray[np.float64]:
        """Standing depth as water meets it that is followed over the cells."""
        return self._depth(self.levels_by_cells())

    def _depth(self, levels: NDArray[np.float64]) -> NDArray[np.float64]:
        found = self.depressions
        out = np.zeros(found.node.size)
        _depths(found.basins.z, found.node, levels, out)
        return out.reshape(found.basins.shape)


def _partial_levels(found, active, partial, held, level):
    """Find the levels of the depressions in `partial`; of those by cells all in one sort."""
    for d in partial:
        if int(d) in found.surveyed:
            level[d] = found.surveyed[int(d)].level(float(held[d]))
    partial = np.array([d for d in partial if int(d) not in found.surveyed], dtype=np.int64)
    if not partial.size:
        return
    z = found.basins.z
    wanted = np.zeros(level.size, bool)
    wanted[partial] = True
    cells = np.flatnonzero(found.node > 0)
    owner = active[found.node[cells]]
    keep = wanted[owner] & (z[cells] < found.spill_height[owner])
    owner, heights = owner[keep], z[cells[keep]].astype(np.float64)
    order = np.lexsort((heights, owner))
    owner, heights = owner[order], heights[order]
    first = np.searchsorted(owner, partial)
    last = np.searchsorted(owner, partial, side="right")
    for d, a, b in zip(partial, first, last, strict=True):
        level[d] = level_of(heights[a:b], held[d])


@kernel
def _active(leaf, parent, left, right, full):
    d = leaf
    while parent[d] > 0 and full[left[parent[d]]] and full[right[parent[d]]]:
        d = parent[d]
    return d


@kernel
def _activate(active, parent, left, right, full):
    for leaf in range(1, active.size):
        active[leaf] = _active(leaf, parent, left, right, full)


@kernel
def _depths(z, node, level, out):
    for i in range(z.size):
        if node[i] > 0 and level[node[i]] > z[i]:
            out[i] = level[node[i]] - z[i]


@dataclass(frozen=True)
class Arrivals:
    """Where water comes to once it has run down: at which leaf, or off the ground at which cell.

    Parameters
    ----------
    depressions : Depressions
    at_leaf : (leaves + 1,) float64, height x cells
    left : (rows * cols,) float64, height x cells, at the cell where it left
    """

    depressions: Depressions
    at_leaf: NDArray[np.float64]
    left: NDArray[np.float64]

    def with_(self, other: Arrivals, factor: float) -> Arrivals:
        """With `factor` times the water of others on the same ground."""
        at_leaf = self.at_leaf + factor * other.at_leaf
        return Arrivals(self.depressions, at_leaf, self.left + factor * other.left)

    def plus(self, points: list[tuple[int, float]], cell_area: float) -> Arrivals:
        """With water let go at points: (flat cell, m3); a negative volume is taken out there."""
        at_leaf, left = self.at_leaf.copy(), self.left.copy()
        found = self.depressions
        for cell, volume in points:
            if found.node[cell] > 0:
                at_leaf[found.node[cell]] += volume / cell_area
            elif found.node[cell] == 0:
                basins = found.basins
                left[way_out(basins.code, basins.step, cell)] += volume / cell_area
        return Arrivals(found, at_leaf, left)


def arrivals(depressions: Depressions, water: NDArray[np.float64]) -> Arrivals:
    """Let water run down from where it fell; `water` is (rows * cols,), metres over each cell."""
    at_leaf = np.zeros(depressions.hierarchy.leaves + 1)
    left = np.zeros(water.size)
    _gather(depressions.node, depressions.exits, water, at_leaf, left)
    return Arrivals(depressions, at_leaf, left)


@kernel
def _gather(node, exits, water, at_leaf, left):
    """Sum the water of each leaf's cells; what runs straight off the ground goes to `left`."""
    for i in range(node.size):
        if water[i] == 0:
            continue
        if node[i] > 0:
            at_leaf[node[i]] += water[i]
        elif node[i] == 0:
            left[exits[i]] += water[i]


@kernel
def way_out(code, step, cell):
    """The border cell, missing cell or drain inlet that water from `cell` leaves by."""
    i = cell
    while code[i] & CODE < PIT:
        i += step[code[i] & CODE]
    return i


@kernel
def _pour(amount, leaf, stop, parent, left, right, over, capacity, held, full):
    """Pour `amount` into the outermost depression `stop` at one of its leaves.

    Returns what `stop` cannot hold.
    """
    d = leaf
    while amount > 0:
        if not full[d]:
            room = capacity[d] - held[d]
            if amount < room:
                held[d] += amount
                return 0.0
            amount -= room
            held[d] = capacity[d]
            full[d] = True
        if d == stop:
            return amount
        p = parent[d]
        neighbor = right[p] if left[p] == d else left[p]
        if not full[neighbor]:
            d = over[d]
            continue
        if not full[p] and held[p] == 0:
            held[p] = held[d] + held[neighbor]
        d = p
    return 0.0


@kernel
def _settle(
    members, first, order, arriving, parent, left, right, over, capacity, held, full, spilled
):
    """Pour what arrives at every leaf, outermost depressions in `order`; overflow goes on.

    `members[first[d] : first[d + 1]]` are the leaves of outermost depression d. Water taken out
    at a leaf (below 0) is a debt that the leaf's first water pays; what stays unpaid is left in
    `arriving`.
    """
    for place in range(order.size):
        d = order[place]
        for m in range(first[d], first[d + 1]):
            leaf = members[m]
            if arriving[leaf] < 0:
                held[leaf] = arriving[leaf]
        surplus = 0.0
        for m in range(first[d], first[d + 1]):
            leaf = members[m]
            if arriving[leaf] > 0:
                surplus += _pour(
                    arriving[leaf], leaf, d, parent, left, right, over, capacity, held, full
                )
        for m in range(first[d], first[d + 1]):
            leaf = members[m]
            arriving[leaf] = min(held[leaf], 0.0)
            held[leaf] = max(held[leaf], 0.0)
        if surplus > 0:
            spilled[d] = surplus
            arriving[over[d]] += surplus


def pond(depressions: Depressions, arriving: Arrivals) -> Ponding:
    """Pour the water that arrives into the depressions, until all of it stands or has left.

    A negative arrival takes water out at a leaf (a drain of limited capacity), as far as other
    water comes there; the rest is `Ponding.owed`.
    """
    tree = depressions.hierarchy
    at_leaf, left = arriving.at_leaf.copy(), arriving.left.copy()
    m = tree.parent.size
    held, full, spilled = np.zeros(m), np.zeros(m, bool), np.zeros(m)
    by_top = np.argsort(tree.top[1:], kind="stable") + 1
    first = np.searchsorted(tree.top[by_top], np.arange(m + 1))
    _settle(
        *(by_top, first, depressions.spilling_order, at_leaf, tree.parent, tree.left),
        *(tree.right, depressions.over, depressions.capacity, held, full, spilled),
    )
    for d in np.flatnonzero((spilled > 0) & (depressions.over == 0)):
        left[outlet_of(depressions.basins, int(tree.spill_cell[d]))] += spilled[d]
    owed = np.maximum(-left, 0.0)
    owed[tree.pit_cell[1:]] = -at_leaf[1:]
    return Ponding(depressions, held, full, np.maximum(left, 0.0), owed)


def outlet_of(basins, cell: int) -> int:
    """The border cell, missing cell or inlet by which water that overflows at `cell` leaves.

    `cell` is the flat index of a spill cell whose far side drains to the outside.
    """
    if basins.code[cell] & CODE >= OUTSIDE:
        return cell
    return int(way_out(basins.code, basins.step, over_the_saddle(basins, cell, 0)))


def over_the_saddle(basins, cell: int, leaf: int) -> int:
    """The neighbor of an inner saddle `cell` by which its overflow runs on to `leaf`'s pit.

    The steepest of the lower neighbors whose water comes to that leaf (0: the outside).
    """
    best, found = -1.0, cell
    for k, step in enumerate(basins.step):
        neighbor = cell + int(step)
        drop = float(basins.z[cell]) - float(basins.z[neighbor])
        if drop < 0 or drop == -np.inf or basins.code[neighbor] & CODE > SINK:
            continue
        if drop == 0 and neighbor > cell:
            continue
        if k % 2:
            drop *= 0.7071067811865476
        if drop > best and _leaf_of(basins, neighbor) == leaf:
            best, found = drop, neighbor
    return found


def _leaf_of(basins, cell: int) -> int:
    end = int(way_out(basins.code, basins.step, cell))
    return 0 if basins.code[end] & CODE in (OUTSIDE, SINK) else int(basins.node[end])


def ponding(
    elevation: ArrayLike, water: ArrayLike, closed: ArrayLike | None = None
) -> NDArray[np.float64]:
    """Standing depth once the water has run, filled depressions and spilled.

    Parameters
    ----------
    elevation : (rows, cols) float32 or float64, metres, row 0 at the top, NaN where missing
    water : (rows, cols) or a number, metres of water over each cell, put where it fell
    closed : (rows, cols) bool, optional; water given to a closed cell is ignored

    Returns
    -------
    (rows, cols) float64, metres; 0 on the border, in missing and in closed cells

    Raises
    ------
    ValueError
        As `fill_depressions`, and for water that is negative, not finite or of another shape.

    Examples
    --------
    >>> bowl = np.full((3, 3), 2.0)
    >>> bowl[1, 1] = 0.0
    >>> float(ponding(bowl, 0.1)[1, 1]), float(ponding(bowl, np.where(bowl == 0, 9, 0))[1, 1])
    (0.1, 2.0)
    """
    basins = basins_of(elevation, closed)
    given = np.asarray(water, dtype=np.float64)
    if given.ndim and given.shape != basins.shape:
        raise ValueError(f"water has shape {given.shape}, the elevation has {basins.shape}")
    if not np.isfinite(given).all() or (given < 0).any():
        raise ValueError("water must be finite and not negative, in metres over each cell")
    given = np.broadcast_to(given, basins.shape).ravel()
    found = measure(basins)
    return pond(found, arrivals(found, given)).depth()
