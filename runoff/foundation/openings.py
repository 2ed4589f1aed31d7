"""Openings at the wall: at how much rain water gets in, where it comes from, and the freeboard.

Water reaches an opening when it stands beside it above the edge (a well's rim, a door's, garage's
or vent's sill), or when a stream runs past it over ground that is no lower than the edge. A well's
own drain takes the rain that falls into the well, never water over its rim.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from runoff.flow.least_rain import least_rain
from runoff.flow.pouring import Ponding
from runoff.flow.sources import Source, sources_of
from runoff.flow.storm import LotFlow, StormRun
from runoff.foundation.beside import WELLS, Edge, cells_beside, edge_of
from runoff.foundation.feeds import Feeds
from runoff.foundation.model import Inflow, OpeningFinding
from runoff.foundation.streams import Stream, crossing, streams_of
from runoff.foundation.walls import walls_of
from runoff.site.model import Opening, Site

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
        self, flow: LotFlow, sources: Sequence[Source], ponding_of: PondingOf, known: float, run
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
    >>> from runoff.flow.lot_storm import prepare_flow
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
    for opening in site.openings:
        wall = walls[opening.building, opening.wall]
        (at,) = wall.point(np.array([opening.distance]), np.zeros(1))
        edge = opening.rim if opening.kind in WELLS else opening.sill
        blank = OpeningFinding(
            name=opening.name,
            kind=opening.kind,
            building=opening.building,
            wall_name=wall.name,
            at=(float(at[0]), float(at[1])),
            edge=np.nan if edge is None else edge,
            rain_to_reach=np.nan,
            freeboard=np.nan,
            reached=False,
            inflow=Inflow(),
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


def _judge(site, flow, run, standing_depth, storms, sources, beside, blank) -> OpeningFinding:
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
        rain_to_reach=needed,
        freeboard=float(beside.edge - water),
        reached=over or bool(against),
        inflow=inflow,
    )


def _inflow(site, flow, run: StormRun, sources, depth, beside: _Beside, against) -> Inflow:
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
    return Inflow(feeds=total)
