"""What brings the water that comes into a depression: how much of a storm, by source.

Water that spills from one depression into the next is taken to be mixed: its sources keep the
shares that they had of all that came into the one it left. So what a drain of limited capacity
takes out is taken from every source alike. Each source's water is conserved to rounding.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from runoff.flow.sources import Source
from runoff.flow.storm import LetGo, LotFlow, StormRun, runoff_depths
from runoff.site.model import Site

YARD, RUN_ON = "yard", "run-on"


class Feeds:
    """The storm's water by source and by the depression it came into.

    Parameters
    ----------
    site : Site
    flow : LotFlow
    run : StormRun
        The storm, run with the water of `sources`.
    sources : sequence of Source
    rain : float, metres, the depth of that storm
    """

    def __init__(
        self, site: Site, flow: LotFlow, run: StormRun, sources: Sequence[Source], rain: float
    ) -> None:
        self._ponding = run.ponding
        found = run.ponding.depressions
        leaves = found.hierarchy.leaves
        self._area = flow.grid.cell_area
        self._active = [0, *(run.ponding.outermost(leaf) for leaf in range(1, leaves + 1))]
        by_leaf, taken = _arrivals(site, flow, run, sources, rain)
        self._names = list(by_leaf)
        self._direct: dict[int, NDArray[np.float64]] = {}
        self._taken: dict[int, float] = {}
        stacked = np.array([by_leaf[name] for name in self._names])
        for leaf in range(1, leaves + 1):
            d = self._active[leaf]
            self._direct[d] = self._direct.get(d, 0.0) + stacked[:, leaf]
            self._taken[d] = self._taken.get(d, 0.0) + taken[leaf]
        self._spilling_into: dict[int, list[int]] = {}
        for d in self._direct:
            if run.ponding.full[d] and (onto := self._next(d)):
                self._spilling_into.setdefault(onto, []).append(d)
        self._known: dict[int, NDArray[np.float64]] = {}

    def into(self, depression: int) -> dict[str, float]:
        """Water (m3) that came into a depression from outside it, by source; none is left out.

        What a drain of limited capacity took there is subtracted.
        """
        inner = {self._active[n] for n in self._ponding.depressions.leaves_of(depression)}
        total = np.zeros(len(self._names))
        for d in inner:
            before = [up for up in self._spilling_into.get(d, ()) if up not in inner]
            total += self._mixed(d, before)
        return {name: float(value) for name, value in zip(self._names, total, strict=True) if value}

    def _next(self, d: int) -> int:
        return self._active[int(self._ponding.depressions.over[d])]

    def _mixed(self, d: int, before: Iterable[int]) -> NDArray[np.float64]:
        """What comes to d directly and from `before`, less what a drain takes of it."""
        came = self._direct[d] + sum((self._overflow(up) for up in before), np.zeros(1))
        total = came.sum()
        return came * (1 - self._taken[d] / total) if self._taken[d] and total > 0 else came

    def _overflow(self, depression: int) -> NDArray[np.float64]:
        """What a full depression passes on, by source; those upstream of it are worked out first.

        No depression lies upstream of itself: two that spill into each other have merged.
        """
        pending = [depression]
        while pending:
            d = pending[-1]
            before = self._spilling_into.get(d, ())
            waiting = [up for up in before if up not in self._known]
            if waiting:
                pending += waiting
                continue
            pending.pop()
            came = self._mixed(d, before)
            total = came.sum()
            holds = self._ponding.depressions.capacity[d] * self._area
            self._known[d] = came * max(1 - holds / total, 0.0) if total > 0 else 0 * came
        return self._known[depression]


def _arrivals(
    site: Site, flow: LotFlow, run: StormRun, sources: Sequence[Source], rain: float
) -> tuple[dict[str, NDArray[np.float64]], NDArray[np.float64]]:
    """Water (m3) arriving at each leaf by source, and what overwhelmed drains take there."""
    node = run.ponding.depressions.node
    size = run.ponding.depressions.hierarchy.leaves + 1
    found: dict[str, NDArray[np.float64]] = {}

    ready = flow.ground_of(run)

    def add(name: str, let_go: Sequence[LetGo], volumes: Sequence[float]) -> None:
        here = found.setdefault(name, np.zeros(size))
        for cell, volume in zip(flow.comes_to(ready, let_go), volumes, strict=True):
            if node[cell] > 0:
                here[node[cell]] += volume

    falls = ready.falls
    water = runoff_depths(falls.number, rain) * falls.area
    own, to = _on_lot(site, flow)[falls.from_cell], node[falls.to_cell]
    for name, mine in ((YARD, own), (RUN_ON, ~own)):
        comes = mine & (to > 0)
        found[name] = np.bincount(to[comes], water[comes], size).astype(np.float64)
    for source in sources:
        add(source.name, source.let_go, [w.per_rain * rain + w.fixed for w in source.let_go])
    taken = np.zeros(size)
    for drain in flow.terrain.drains:
        volume = run.drained[drain.name]
        if drain.name in run.overwhelmed:
            leaf = int(node[flow.flat(drain.inlet)])
            taken[max(leaf, 0)] += volume
        if drain.outlet is not None and volume > 0:
            add(f"drain '{drain.name}'", [LetGo(drain.outlet, 0.0)], [volume])
    return found, taken


def _on_lot(site: Site, flow: LotFlow) -> NDArray[np.bool_]:
    """Which cells lie on the lot, (rows * cols,); all of them where no lot is drawn."""
    if site.lot is None:
        return np.ones(flow.curve_number.size, bool)
    boundary = site.lot.boundary
    x, y = flow.grid.centers()
    inside = np.zeros((y.size, x.size), bool)
    # Inside, a ray to the right crosses the boundary an odd number of times.
    for ring in (boundary.exterior, *boundary.interiors):
        for (x1, y1), (x2, y2) in pairwise(np.array(ring.coords)[:, :2]):
            rows = np.flatnonzero((y1 > y) != (y2 > y))
            crossing = x1 + (y[rows] - y1) / (y2 - y1) * (x2 - x1)
            inside[rows] ^= x[None, :] < crossing[:, None]
    return inside.ravel()
