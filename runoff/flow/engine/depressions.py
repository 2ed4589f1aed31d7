"""How much each depression holds, and how high a given volume stands in it.

In: the basins of a terrain. Out: for each depression of the hierarchy its spill height, the cells
below it and the volume up to it. Volumes are in height x cells (multiply by a cell's area for m3).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from runoff.flow.engine.basins import UNKNOWN, Hierarchy, name_cells
from runoff.flow.engine.compiled import kernel
from runoff.flow.engine.directions import CODE, PIT
from runoff.flow.engine.drainage import Basins


class Pond(Protocol):
    """What is known of a depression better than its cells tell."""

    @property
    def lowest(self) -> tuple[float, float, float]:
        """x, y and height of its lowest place, metres."""

    @property
    def pour_point(self) -> tuple[float, float]:
        """x and y of the place where it overflows, metres."""

    @property
    def spill_height(self) -> float:
        """Height at which it overflows, metres."""

    @property
    def area(self) -> float:
        """Plan area of its brim-full pond, in cells."""

    def level(self, volume: float) -> float:
        """Height (m) at which a volume (height x cells) stands in it."""


@dataclass(frozen=True)
class Depressions:
    """The hierarchy with what each depression holds; arrays by depression number.

    Parameters
    ----------
    basins : Basins
    node : (rows * cols,) int, the leaf that each cell's water runs to; 0 the outside, -1 in walls
    exits : (rows * cols,) int, for cells of the outside, the flat cell where their water leaves
    spill_height : (m,) float64, metres; +inf for a terminal basin
    capacity : (m,) float64, height x cells up to the spill height; +inf for a terminal basin
    cells : (m,) int64, how many cells lie below the spill height
    surveyed : by depression number, those that are measured on the surveyed surface, not by cells
    onto : (m,) int64, optional, the leaf that each one's overflow runs to, where the surveyed
        surface tells it better than the cells do
    """

    basins: Basins
    node: NDArray[np.integer]
    exits: NDArray[np.integer]
    spill_height: NDArray[np.float64]
    capacity: NDArray[np.float64]
    cells: NDArray[np.int64]
    surveyed: Mapping[int, Pond] = field(default_factory=dict)
    onto: NDArray[np.int64] | None = None

    @property
    def over(self) -> NDArray[np.int64]:
        """The leaf that each one's overflow runs to; 0 for the outside."""
        return self.hierarchy.over if self.onto is None else self.onto

    @property
    def spilling_order(self) -> NDArray[np.int64]:
        """The outermost depressions, each before the one that it overflows to."""
        tree = self.hierarchy
        shut = np.unique(tree.top[1:][tree.parent[tree.top[1:]] < 0])
        if self.onto is None:
            return np.concatenate([shut, tree.drained])[::-1].copy()
        steps = steps_out(self.onto, tree)
        return np.concatenate([tree.drained[np.argsort(-steps[tree.drained])], shut])

    @property
    def hierarchy(self) -> Hierarchy:
        """The forest of depressions."""
        return self.basins.hierarchy

    def leaves_of(self, depression: int) -> list[int]:
        """The leaves that belong to a depression."""
        tree = self.hierarchy
        found, pending = [], [depression]
        while pending:
            d = pending.pop()
            if d <= tree.leaves:
                found.append(d)
            else:
                pending += [int(tree.left[d]), int(tree.right[d])]
        return found

    @cached_property
    def _by_leaf(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Cells that some pond covers, leaf by leaf, and where each leaf's begin."""
        top = np.append(self.hierarchy.top, 0)[self.node]
        cells = np.flatnonzero((self.node > 0) & (self.basins.z < self.spill_height[top]))
        cells = cells[np.argsort(self.node[cells], kind="stable")]
        return cells, np.searchsorted(self.node[cells], np.arange(self.hierarchy.leaves + 2))

    def pond_cells(self, depression: int) -> NDArray[np.int64]:
        """Flat indices of the cells that its brim-full pond covers.

        For a terminal basin, all of its cells.
        """
        cells, first = self._by_leaf
        mine = np.concatenate([cells[first[n] : first[n + 1]] for n in self.leaves_of(depression)])
        return mine[self.basins.z[mine] < self.spill_height[depression]]

    def lowest_height(self, depression: int) -> float:
        """Height (m) of a depression's lowest place."""
        if depression in self.surveyed:
            return self.surveyed[depression].lowest[2]
        pits = self.hierarchy.pit_cell[np.array(self.leaves_of(depression))]
        return float(self.basins.z[pits].min())

    def level(self, depression: int, volume: float) -> float:
        """Height (m) at which `volume` (height x cells) stands in the depression.

        Examples
        --------
        >>> from runoff.flow.engine.drainage import basins_of
        >>> pit = np.full((5, 5), 2.0); pit[2, 2], pit[2, 3] = 0.0, 1.0
        >>> found = measure(basins_of(pit))
        >>> [found.level(1, v) for v in (0.5, 1.0, 2.0, 3.0)]
        [0.5, 1.0, 1.5, 2.0]
        """
        if depression in self.surveyed:
            return self.surveyed[depression].level(volume)
        heights = np.sort(self.basins.z[self.pond_cells(depression)].astype(np.float64))
        return level_of(heights, volume)


def steps_out(onto: NDArray[np.int64], tree: Hierarchy) -> NDArray[np.int64]:
    """Over how many others each outermost depression's overflow runs; below 0 in a circle."""
    steps = np.full(tree.parent.size, -1, np.int64)
    steps[0] = 0
    steps[np.unique(tree.top[1:][tree.parent[tree.top[1:]] < 0])] = 0
    known = -1
    while known != (known := int(np.count_nonzero(steps >= 0))):
        beyond = steps[tree.top[np.maximum(onto[tree.drained], 0)]]
        steps[tree.drained] = np.where(beyond >= 0, beyond + 1, steps[tree.drained])
    return steps


@kernel
def level_of(heights, volume):
    """Height at which `volume` stands over cells with these ascending heights."""
    held = 0.0
    for n in range(1, heights.size):
        step = (heights[n] - heights[n - 1]) * n
        if held + step >= volume:
            return heights[n - 1] + (volume - held) / n
        held += step
    return heights[-1] + (volume - held) / heights.size


@kernel
def _name_exits(code, step, node, exits):
    """Find where water of the outside's cells leaves; no cell is passed twice."""
    for start in range(code.size):
        if node[start] != 0 or exits[start] >= 0:
            continue
        i = start
        while exits[i] < 0 and code[i] & CODE < PIT:
            i += step[code[i] & CODE]
        found = exits[i] if exits[i] >= 0 else i
        i = start
        while exits[i] < 0:
            exits[i] = found
            if code[i] & CODE < PIT:
                i += step[code[i] & CODE]


@kernel
def _place_cells(z, node, parent, spill_height, base, count, total):
    """Credit each cell to the innermost depression that covers it when brim-full."""
    for i in range(z.size):
        d = np.int64(node[i])
        if d <= 0:
            continue
        while d > 0 and not z[i] < spill_height[d]:
            d = parent[d]
        if d > 0:
            count[d] += 1
            total[d] += np.float64(z[i]) - base


@kernel
def _sum_up(left, right, leaves, count, total):
    for d in range(leaves + 1, left.size):
        count[d] += count[left[d]] + count[right[d]]
        total[d] += total[left[d]] + total[right[d]]


def measure(basins: Basins) -> Depressions:
    """Give every depression its spill height, its cells and its volume.

    Sums over the cells below each spill height, credited to the innermost depression that covers
    them and added up the hierarchy (Barnes, Callaghan & Wickert 2020,
    doi:10.5194/esurf-8-431-2020).
    """
    tree = basins.hierarchy
    node = basins.node.copy()
    name_cells(basins.code, basins.step, node)
    exits = np.full(node.size, UNKNOWN, node.dtype)
    _name_exits(basins.code, basins.step, node, exits)
    out = tree.spill_cell < 0
    spill_height = np.where(out, np.inf, basins.z[np.maximum(tree.spill_cell, 0)].astype(float))
    spill_height[0] = -np.inf
    return Depressions(basins, node, exits, spill_height, *_held(basins, node, spill_height))


def _held(
    basins: Basins, node: NDArray[np.integer], spill_height: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """What each depression holds up to its spill height, height x cells, and its cells."""
    tree = basins.hierarchy
    m = tree.parent.size
    count, total = np.zeros(m, np.int64), np.zeros(m)
    # Heights are summed from the lowest pit up, so that a datum far below costs no digits.
    base = float(basins.z[tree.pit_cell[1:]].min()) if tree.leaves else 0.0
    _place_cells(basins.z, node, tree.parent, spill_height, base, count, total)
    _sum_up(tree.left, tree.right, tree.leaves, count, total)
    with np.errstate(invalid="ignore"):
        capacity = np.where(np.isinf(spill_height), np.inf, count * (spill_height - base) - total)
    capacity[0] = 0.0
    return np.maximum(capacity, 0.0), count


def with_spill_heights(found: Depressions, spill_height: NDArray[np.float64]) -> Depressions:
    """The same depressions, overflowing at other heights (none above its parent's), by cells."""
    capacity, cells = _held(found.basins, found.node, spill_height)
    return replace(found, spill_height=spill_height, capacity=capacity, cells=cells)
