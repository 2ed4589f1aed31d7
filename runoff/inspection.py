"""From a site to its findings: the steps of an inspection, in order."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from runoff.data import findings_to_dict
from runoff.flow.downspouts import answer_downspouts
from runoff.flow.engine.pouring import Ponding
from runoff.flow.let_go import (
    all_let_go,
    eaves_water,
    prepare_flow,
    run_storm,
    sources_of,
    sumps_water,
)
from runoff.flow.low_spots import low_spots_of, with_divides
from runoff.flow.model import DownspoutAnswer, EngineComparison, LowSpot, WaterBalance
from runoff.flow.running import run_on_notices
from runoff.flow.second_engine import compare_engines
from runoff.flow.storm import LotFlow, StormRun, ground_near, roof_water
from runoff.foundation.grade import judge_walls
from runoff.foundation.model import AtTheWall
from runoff.foundation.openings import judge_openings
from runoff.foundation.safe_area import hanging_on_the_limit, safe_discharge_area
from runoff.foundation.soil_storm import harmless_soil
from runoff.foundation.standing import standing_near_walls
from runoff.site.model import Downspout, Site
from runoff.site.notices import Notice
from runoff.terrain.build import build_terrain
from runoff.terrain.model import Terrain
from runoff.words.attention import attention_of, headlines_of


@dataclass(frozen=True)
class Findings:
    """All that an inspection found on one lot.

    `standing_depth` is (rows, cols) metres on the terrain's grid once the storm has run, 0 where
    there is no ground. `unanswered` are the downspouts whose foot no height lies around: they are
    not in `site`, and their water is not in the storm.
    """

    site: Site
    terrain: Terrain
    standing_depth: NDArray[np.float64]
    low_spots: tuple[LowSpot, ...]
    downspouts: tuple[DownspoutAnswer, ...]
    balance: WaterBalance
    second_engine: EngineComparison
    notices: tuple[Notice, ...]
    at_the_wall: AtTheWall
    unanswered: tuple[Downspout, ...] = ()

    @cached_property
    def headlines(self) -> tuple[str, ...]:
        """What needs attention at the house, the worst first."""
        return headlines_of(self)

    @cached_property
    def attention(self) -> tuple[str, ...]:
        """What a person should act on, a sentence each; empty where all is well."""
        return attention_of(self)

    @property
    def needs_attention(self) -> bool:
        """Whether anything was found that a person should act on."""
        return bool(self.attention)

    def to_dict(self) -> dict[str, Any]:
        """What ``--json`` writes: SI values, the unit in every key."""
        return findings_to_dict(self)


@dataclass(frozen=True)
class Inspection:
    """The findings, and the lot and storm that they were made from, for a plan to go on with.

    `flow` and `run` are the ground made ready for storms and the site's storm on it; `spots` the
    low spots by depression number.
    """

    findings: Findings
    flow: LotFlow
    run: StormRun
    spots: Mapping[int, LowSpot]


def inspect(site: Site) -> Findings:
    """Say where each downspout's water goes on this lot and where water stands.

    Parameters
    ----------
    site : Site

    Returns
    -------
    Findings

    Raises
    ------
    InputError
        Where the ground cannot be made from what was written, or a downspout has no ground.

    Examples
    --------
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> findings = inspect(read_site(sample_folder() / "site.toml"))
    >>> findings.second_engine.greatest_difference_m
    0.0
    """
    return inspect_to_plan(site).findings


def inspect_to_plan(site: Site) -> Inspection:
    """As `inspect`, with what a plan needs besides the findings.

    Raises
    ------
    InputError
        As `inspect`.
    """
    terrain = build_terrain(site)
    site, unanswered = _where_ground_is(replace(site, height_accuracy=terrain.accuracy), terrain)
    flow = prepare_flow(site, terrain)
    run = run_storm(site, flow)
    depth = run.ponding.depth()
    ponding_of = _other_rains(site, flow, run)
    spots, _ = low_spots_of(site, flow.grid, run.ponding, depth, ponding_of)
    spots = with_divides(site, flow, run, spots)
    low_spots = tuple(spots.values())
    downspouts = answer_downspouts(site, flow, run, spots)
    findings = Findings(
        site=site,
        terrain=terrain,
        standing_depth=depth,
        at_the_wall=look_at_walls(site, flow, run, depth, ponding_of, spots),
        low_spots=low_spots,
        downspouts=downspouts,
        balance=_balance(site, flow, run),
        second_engine=compare_engines(
            terrain.surface, terrain.closed, terrain.grid.cell_area, _water_put(site, flow)
        ),
        notices=(
            *site.notices,
            *terrain.notices,
            *_storm_notices(site, flow, run, unanswered),
            *hanging_on_the_limit(site, low_spots),
        ),
        unanswered=unanswered,
    )
    return Inspection(findings, flow, run, spots)


def _where_ground_is(site: Site, terrain: Terrain) -> tuple[Site, tuple[Downspout, ...]]:
    """The site with the downspouts that the survey reaches, and those that it does not.

    One inside a building stays, and is refused where its foot is looked for; so do all where the
    survey reaches none.
    """
    grid = terrain.grid
    beyond = []
    for downspout in site.downspouts:
        row, col = grid.cell(downspout.x, downspout.y)
        inside = grid.holds(row, col) and bool(terrain.closed[row, col])
        if not inside and ground_near(downspout.x, downspout.y, terrain) is None:
            beyond.append(downspout)
    if len(beyond) == len(site.downspouts):
        return site, ()
    reached = tuple(one for one in site.downspouts if one not in beyond)
    return replace(site, downspouts=reached), tuple(beyond)


def _water_put(site: Site, flow: LotFlow) -> NDArray[np.float64]:
    """All the storm's water where it falls or is let go, (rows, cols) metres over each cell."""
    water = flow.shed(site.storm.depth)
    for each in all_let_go(site, flow.terrain):
        volume = each.per_rain * site.storm.depth + each.fixed
        water[each.cell] += volume / flow.grid.cell_area
    return water


def _other_rains(site: Site, flow: LotFlow, run: StormRun) -> Callable[[float], Ponding]:
    """The ponding of another rain (m) on the ground that the storm ran on."""
    let_go = all_let_go(site, flow.terrain)
    return lambda rain: flow.run_as(run, rain, let_go)


def look_at_walls(
    site: Site,
    flow: LotFlow,
    run: StormRun,
    depth: NDArray[np.float64],
    ponding_of: Callable[[float], Ponding],
    spots: Mapping[int, LowSpot],
) -> AtTheWall:
    """Openings, grade, standing water, safe ground and what to correct, in that order."""
    terrain = flow.terrain
    sources = sources_of(site, terrain)
    openings = judge_openings(site, flow, run, depth, ponding_of, sources)
    runs = judge_walls(site, terrain, depth)
    standing = standing_near_walls(site, flow, run, tuple(spots.values()), spots, depth, sources)
    return AtTheWall(
        openings=openings,
        runs=runs,
        standing=standing,
        safe_area=safe_discharge_area(site, flow, run, depth),
        wedges=harmless_soil(site, terrain, runs, depth, lambda ground: _standing_on(site, ground)),
    )


def _standing_on(site: Site, ground: Terrain) -> NDArray[np.float64]:
    """The water (m) that the storm leaves on other ground, let go where it is now."""
    return run_storm(site, prepare_flow(site, ground)).ponding.depth()


def _balance(site: Site, flow: LotFlow, run: StormRun) -> WaterBalance:
    area = flow.grid.cell_area
    inlets = [flow.flat(d.inlet) for d in flow.terrain.drains]
    return WaterBalance(
        rain_m3=flow.yard_rain(site.storm.depth, run),
        roofs_m3=sum(roof_water(site, d, site.storm.depth) for d in site.downspouts),
        standing_m3=run.ponding.standing * area,
        over_edge_m3=float(np.delete(run.ponding.left, inlets).sum()) * area,
        drained_m3={
            drain.name: run.drained[drain.name]
            for drain in flow.terrain.drains
            if drain.outlet is None
        },
        eaves_m3=sum(each.per_rain for each in eaves_water(site, flow.terrain)) * site.storm.depth,
        sumps_m3=sum(each.fixed for each in sumps_water(site, flow.terrain)),
    )


def _storm_notices(
    site: Site, flow: LotFlow, run: StormRun, unanswered: tuple[Downspout, ...]
) -> list[Notice]:
    notices = [Notice("storm"), Notice("yard cover")]
    hours = {"duration_s": flow.duration}
    notices += [
        Notice("drain full", (name,), hours) for name in run.overwhelmed if name not in run.circling
    ]
    notices += [Notice("drain shut", (name,)) for name in run.circling]
    carried = {name for d in (*site.downspouts, *unanswered) for name, _ in d.roofs}
    idle = tuple(
        roof.name
        for roof in site.roofs
        if roof.name not in carried and roof.eave is None and not roof.onto
    )
    without = tuple(d.name for d in site.downspouts if not d.roofs)
    notices += [Notice("roof not carried", idle)] if idle else []
    notices += [Notice("downspout without roof", without)] if without else []
    return notices + run_on_notices(site, flow.terrain)
