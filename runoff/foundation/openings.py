"""Openings at the wall: at how much rain water gets in, where it comes from, and the freeboard.

Water reaches an opening when it stands beside it above the edge (a well's rim, a door's, garage's
or vent's sill), or when a stream runs past it over ground that is no lower than the edge. A well's
own drain takes the rain that falls into the well, never water over its rim.

Water that spills from one depression into the next is taken to be mixed: its sources keep the
shares that they had of all that came into the one it left. So what a drain of limited capacity
takes out is taken from every source alike. Each source's water is conserved to rounding.

In: a storm's ponding and its sources. Out: lines on the plan, and which of them cross some cells.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, box, intersects

from runoff.flow.engine.pouring import Ponding
from runoff.flow.let_go import Source, sources_of
from runoff.flow.paths import follow_storm, storm_surface
from runoff.flow.storm import LetGo, LotFlow, StormRun, least_rain, runoff_depths
from runoff.foundation.model import Inflow, OpeningFinding
from runoff.foundation.walls import WELLS, Edge, cells_beside, edge_of, walls_of
from runoff.site.model import Opening, Site

Array = NDArray[np.float64]

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


Stream = tuple[str, LineString]


def streams_of(
    flow: LotFlow, ponding: Ponding, sources: Sequence[Source], rain: float
) -> list[Stream]:
    """Follow the water of every downspout and sump over a storm's ground; name and line (m).

    An eave drips along its whole length and makes no stream.
    """
    surface = storm_surface(ponding, flow.terrain.surface, flow.terrain.closed)
    streams = []
    for source in sources:
        if len(source.let_go) != 1 or source.water(rain) <= 0:
            continue
        row, col = source.let_go[0].cell
        line = flow.grid.on_plan(follow_storm(surface, ponding, col, row).points)
        streams.append((source.name, LineString(line if len(line) > 1 else np.repeat(line, 2, 0))))
    return streams


def crossing(flow: LotFlow, streams: Sequence[Stream], cells: NDArray[np.int64]) -> tuple[str, ...]:
    """Names of the streams that cross any of these cells, flat indices."""
    if not cells.size:
        return ()
    grid = flow.grid
    x, y = grid.centers()
    half = grid.cell_size / 2
    across, up = x[cells % grid.cols], y[cells // grid.cols]
    boxes = box(across - half, up - half, across + half, up + half)
    return tuple(name for name, line in streams if intersects(boxes, line).any())


PondingOf = Callable[[float], Ponding]
# Water no higher than this over an edge is rounding, metres.
_ROUNDING = 1e-9


@dataclass(frozen=True)
class _Beside:
    """An opening whose edge has a known height, metres, with the ground along it.

    `cells` are those beside it, flat indices, and `ground` their heights.
    """

    opening: Opening
    edge: float
    cells: NDArray[np.int64]
    ground: NDArray[np.float64]
    along: Edge


class _Storms:
    """Storms of any depth on the same ground, each run once for all the openings."""

    def __init__(
        self,
        flow: LotFlow,
        sources: Sequence[Source],
        ponding_of: PondingOf,
        known: float,
        run: StormRun,
    ) -> None:
        self._flow, self._sources, self._ponding_of = flow, sources, ponding_of
        self._pondings: dict[float, Ponding] = {known: run.ponding}
        self._streams: dict[float, list[Stream]] = {}

    def ponding(self, rain: float) -> Ponding:
        """What `rain` metres leave standing."""
        if rain not in self._pondings:
            self._pondings[rain] = self._ponding_of(rain)
        return self._pondings[rain]

    def over(self, beside: _Beside, rain: float) -> float:
        """How far (m) water beside an opening stands over its edge; below 0 where under it."""
        return _over(self.ponding(rain), beside)

    def running_against(self, beside: _Beside, rain: float) -> tuple[str, ...]:
        """Streams over ground beside an opening that is no lower than its edge."""
        high = beside.cells[beside.along.height[beside.along.nearest] >= beside.edge]
        if not high.size:
            return ()
        if rain not in self._streams:
            ponding = self.ponding(rain)
            self._streams[rain] = streams_of(self._flow, ponding, self._sources, rain)
        return crossing(self._flow, self._streams[rain], high)

    def gets_in(self, beside: _Beside, rain: float) -> float:
        """How far over its edge, above 0 where water gets in, standing or running."""
        over = self.over(beside, rain)
        if over <= 0 and self.running_against(beside, rain):
            return np.inf
        return over


def judge_openings(
    site: Site,
    flow: LotFlow,
    run: StormRun,
    standing_depth: NDArray[np.float64],
    ponding_of: PondingOf,
    sources: Sequence[Source] | None = None,
) -> tuple[OpeningFinding, ...]:
    """Say for every opening of a site at how much rain water reaches it, and from where.

    Parameters
    ----------
    site : Site
    flow : LotFlow
    run : StormRun
        The site's storm, run on this ground.
    standing_depth : (rows, cols) float64, metres, what that storm leaves standing
    ponding_of : callable
        The ponding that a given rain (metres) leaves on the same ground.
    sources : sequence of Source, optional
        What brings water to points, as the storm was run with; by default all that the site has.

    Returns
    -------
    tuple of OpeningFinding, in the order in which the site gives its openings. `freeboard` and
    `rain_to_reach` are NaN where the edge's height is not known (`edge` is then too) or no ground
    was surveyed beside it; `rain_to_reach` is infinite where 1 m of rain does not reach it.

    Examples
    --------
    >>> from runoff.flow.let_go import prepare_flow
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> from runoff.terrain.build import build_terrain
    >>> site = replace(read_site(sample_folder() / "site.toml"), openings=())
    >>> terrain = build_terrain(site)
    >>> flow = prepare_flow(site, terrain)
    >>> run = flow.run(site.storm.depth, [])
    >>> judge_openings(site, flow, run, run.ponding.depth(), lambda rain: run.ponding)
    ()
    """
    if not site.openings:
        return ()
    sources = sources_of(site, flow.terrain) if sources is None else sources
    storms = _Storms(flow, sources, ponding_of, site.storm.depth, run)
    walls = {(wall.building, wall.number): wall for wall in walls_of(site.buildings)}
    found = []
    for number, opening in enumerate(site.openings):
        wall = walls[opening.building, opening.wall]
        (at,) = wall.point(np.array([opening.distance]), np.zeros(1))
        edge = opening.rim if opening.kind in WELLS else opening.sill
        blank = OpeningFinding(
            name=opening.name,
            kind=opening.kind,
            building=opening.building,
            wall_name=wall.name,
            at=(float(at[0]), float(at[1])),
            edge_m=np.nan if edge is None else edge,
            rain_to_reach_m=np.nan,
            freeboard_m=np.nan,
            reached=False,
            inflow=Inflow(),
            number=number,
        )
        cells = cells_beside(flow.terrain, wall, opening)
        if edge is None or not cells.size:
            found.append(blank)
        else:
            ground = flow.terrain.surface.ravel()[cells]
            along = edge_of(flow.terrain, wall, opening, cells)
            beside = _Beside(opening, edge, cells, ground, along)
            found.append(_judge(site, flow, run, standing_depth, storms, sources, beside, blank))
    return tuple(found)


def _over(ponding: Ponding, beside: _Beside) -> float:
    """How far (m) the highest water beside an opening stands over its edge and over the ground.

    Above 0 where it gets in. Water that has yet to come up to the ground there counts as under it;
    -inf where no water stands.
    """
    node = ponding.depressions.node[beside.along.cell]
    highest = -np.inf
    for leaf in np.unique(node[node > 0]):
        level = _level(ponding, ponding.outermost(int(leaf)))
        lowest = float(beside.along.height[node == leaf].min())
        highest = max(highest, level - max(lowest, beside.edge + _ROUNDING))
    return highest


def _level(ponding: Ponding, d: int) -> float:
    if ponding.full[d]:
        return float(ponding.depressions.spill_height[d])
    if ponding.held[d] <= 0:
        return -np.inf
    return ponding.depressions.level(d, float(ponding.held[d]))


def _judge(
    site: Site,
    flow: LotFlow,
    run: StormRun,
    standing_depth: Array,
    storms: _Storms,
    sources: Sequence[Source],
    beside: _Beside,
    blank: OpeningFinding,
) -> OpeningFinding:
    depth = standing_depth.ravel()[beside.cells]
    wet = depth > 0
    against = storms.running_against(beside, site.storm.depth)
    over = storms.over(beside, site.storm.depth) > 0
    needed = least_rain(lambda rain: storms.gets_in(beside, rain), tried=site.storm.depth)
    inflow = Inflow()
    if over or against:
        inflow = _inflow(site, flow, run, sources, site.storm.depth, beside, against)
    elif np.isfinite(needed):
        then = replace(run, ponding=storms.ponding(needed))
        running = storms.running_against(beside, needed)
        inflow = _inflow(site, flow, then, sources, needed, beside, running)
    stands = wet.any() and (over or not against)
    water = (beside.ground + depth)[wet].max() if stands else beside.along.height.max()
    return replace(
        blank,
        rain_to_reach_m=needed,
        freeboard_m=float(beside.edge - water),
        reached=over or bool(against),
        inflow=inflow,
    )


def _inflow(
    site: Site,
    flow: LotFlow,
    run: StormRun,
    sources: Sequence[Source],
    depth: float,
    beside: _Beside,
    against: tuple[str, ...],
) -> Inflow:
    """What brings the water beside an opening: the ponds over its edge, or else the streams."""
    node = run.ponding.depressions.node[beside.cells]
    ponds = {run.ponding.outermost(int(leaf)) for leaf in np.unique(node[node > 0])}
    over = [d for d in ponds if _level(run.ponding, d) > beside.edge]
    if not over and against:
        return Inflow(streams=against)
    feeds = Feeds(site, flow, run, sources, depth)
    total: dict[str, float] = {}
    for d in over:
        for name, came in feeds.into(d).items():
            total[name] = total.get(name, 0.0) + came
    return Inflow(feeds_m3=total)
