"""The lot as a way to take water away meets it: its ground, its storm, where water may be let
go, stays safe, or freezes.

In: the site, and what becomes of the water. Out: the paving and how far it lies.

In: the lot's ground and what became of a downspout's water there. Out: the reason against it, a
code with its figures.

In: a site and a terrain, as surveyed or as soil or a swale has changed it. Out: `LotGround`, and
what becomes of a downspout's water let go at any place of it, by the engine of the inspection.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal, TypeVar

import numpy as np
from numpy.typing import NDArray
from shapely import Point

from runoff.discharge.reasons import Harm
from runoff.flow.downspouts import answer_moved, implications_of, public_sidewalk
from runoff.flow.let_go import Source, all_let_go, prepare_flow, sources_of
from runoff.flow.low_spots import low_spots_of
from runoff.flow.model import DownspoutAnswer, LowSpot
from runoff.flow.paths import follow_storm, storm_surface
from runoff.flow.storm import LetGo, LotFlow, StormRun, ground_near
from runoff.foundation.grade import judge_walls
from runoff.foundation.model import SafeArea, SafeReason, WallRun
from runoff.foundation.safe_area import safe_discharge_area
from runoff.site.model import OTHERS_GROUND, Building, Downspout, Opening, Site
from runoff.terrain.model import Terrain

ReachedHow = Literal[
    "comes back",
    "stands near",
    "slopes back",
    "holds water",
    "runs along",
    "stays near",
    "shut in",
    "gets in",
]


@dataclass(frozen=True)
class Reached:
    """How water comes to a foundation.

    Parameters
    ----------
    how : ReachedHow
        It comes back near one, stands near one, is let go where the ground at a wall slopes back
        or holds water, runs along one, stays near one, is shut in by walls, or gets in at openings.
    metres : float
        How near for *comes back*, *stands near* and *stays near*, how far for *runs along*.
    name : str
        The building that it stands near, or the wall whose ground is bad.
    openings : tuple of Opening
        What it gets in at.
    """

    how: ReachedHow
    metres: float = 0.0
    name: str = ""
    openings: tuple[Opening, ...] = ()


def reaches_foundation(ground: LotGround, answer: DownspoutAnswer) -> Reached | None:
    """How water let go there comes to a foundation; None where it does not.

    It does where it comes back near one (`near_foundation`) after having left, ends in a low spot
    whose pond comes within `pond_foundation_distance` of one, or fills one on its way that comes
    near; and, let go at a wall, where the ground there slopes back or holds water, leads it along
    the wall, or never lets it away. An inspection flags a downspout by the same measures.
    """
    site = ground.site
    near = site.rules["near_foundation"]
    if answer.returns:
        return Reached("comes back", near)
    for way in answer.on_the_way:
        limit = near if way.overflows else site.rules["pond_foundation_distance"]
        spot = next((each for each in ground.spots.values() if each.name == way.name), None)
        if spot is not None and spot.wall_distance_m is not None and spot.wall_distance_m < limit:
            return Reached("stands near", limit, spot.building)
    if distance_to_foundation(ground, *answer.start) >= near:
        return None
    run = run_beside(ground, *answer.start)
    if run is not None and (run.verdict == "slopes back" or run.verdict == "holds water"):
        return Reached(run.verdict, name=run.wall_name)
    implied = implications_of(site, answer)
    if "runs beside a foundation" in implied:
        return Reached("runs along", answer.length_within_near_m)
    if "stays near a foundation" in implied:
        return Reached("stays near", site.rules["foundation_reach"])
    if "shut in" in implied:
        return Reached("shut in")
    return None


def harms_of(ground: LotGround, answer: DownspoutAnswer) -> tuple[Harm, ...]:
    """What water does that it must not, wherever it was let go: the foundation first."""
    reached, harms = reaches_foundation(ground, answer), []
    if reached is not None:
        harms.append(Harm("foundation", reached))
    if reaches_neighbor(answer):
        harms.append(Harm("neighbor"))
    if (sidewalk := public_sidewalk(answer.crosses)) is not None:
        harms.append(Harm("sidewalk", sidewalk=sidewalk.name))
    return tuple(harms)


def reaches_neighbor(answer: DownspoutAnswer) -> bool:
    """Whether the water leaves the lot onto a neighbor's ground."""
    return answer.end.kind == "lot side" and answer.end.neighbor in OTHERS_GROUND


def distance_to_foundation(ground: LotGround, x: float, y: float) -> float:
    """Metres from a place to the nearest building; infinite where there is none."""
    here = Point(x, y)
    return min((b.outline.distance(here) for b in ground.site.buildings), default=np.inf)


def nearest_building(ground: LotGround, x: float, y: float) -> Building | None:
    """The building nearest to a place."""
    here = Point(x, y)
    return min(ground.site.buildings, key=lambda b: b.outline.distance(here), default=None)


def run_beside(ground: LotGround, x: float, y: float) -> WallRun | None:
    """The run of wall whose station stands nearest to a place."""
    found = [
        (np.hypot(station.foot[0] - x, station.foot[1] - y), number)
        for number, run in enumerate(ground.walls)
        for station in run.stations
    ]
    return ground.walls[min(found)[1]] if found else None


Made = TypeVar("Made")


@dataclass(frozen=True)
class LotGround:
    """One lot's ground with its storm run on it.

    `depth` is (rows, cols) metres of water left standing; `spots` the low spots by depression
    number; `walls` the runs of wall as this ground makes them.
    """

    site: Site
    flow: LotFlow
    run: StormRun
    depth: NDArray[np.float64]
    spots: Mapping[int, LowSpot]
    safe_area: SafeArea
    walls: tuple[WallRun, ...]
    _kept: dict[Hashable, Any] = field(default_factory=dict, init=False, repr=False, compare=False)

    def once(self, what: Hashable, make: Callable[[], Made]) -> Made:
        """What is worked out of this ground, made when it is first asked for and then kept."""
        if what not in self._kept:
            self._kept[what] = make()
        return self._kept[what]

    @property
    def terrain(self) -> Terrain:
        """The ground itself."""
        return self.flow.terrain

    @cached_property
    def sources(self) -> tuple[Source, ...]:
        """Everything that lets water go on it."""
        return sources_of(self.site, self.terrain)

    def height(self, x: float, y: float) -> float:
        """Height (m) of the ground at a plan position; NaN where there is none."""
        return float(self.terrain.heights(np.array([[x, y]]))[0])

    def height_at_foot(self, x: float, y: float) -> float:
        """Height (m) of the ground at a downspout, or of the open ground beside it; else NaN."""
        here = self.height(x, y)
        cell = ground_near(x, y, self.terrain) if np.isnan(here) else None
        return here if cell is None else float(self.terrain.ground[cell])

    def reason_against(self, x: float, y: float) -> SafeReason:
        """Why water may not be let go here, a reason of `REASONS`; ``safe`` where it may."""
        row, col = self.flow.grid.cell(x, y)
        return self.safe_area.reason(row, col) if self.flow.grid.holds(row, col) else "no ground"

    def answer_at(self, downspout: Downspout, x: float, y: float) -> DownspoutAnswer:
        """Where one downspout's water goes in the storm if it is let go here, all else as it is.

        Raises
        ------
        InputError
            Where there is no ground.
        """
        return answer_moved(
            self.site,
            self.flow,
            self._others(downspout),
            self.spots,
            replace(downspout, x=x, y=y),
        )

    def first_stretch(self, x: float, y: float) -> NDArray[np.float64]:
        """Where water runs from a place before it meets a low spot, in the storm as it is now.

        Water let go here changes what stands in the low spots, not the way to the first of them. It
        costs a tenth of the storm run anew. (k, 2) plan metres, empty where it crosses one.
        """
        grid, ponding = self.flow.grid, self.run.ponding
        surface = self.once(
            "storm surface",
            lambda: storm_surface(ponding, self.terrain.surface, self.terrain.closed),
        )
        x, y = grid.held_in(grid.cell(x, y), x, y)
        way = follow_storm(surface, ponding, *grid.in_cells(np.array([x, y])).tolist())
        if way.crossed:
            return np.empty((0, 2))
        return grid.on_plan(way.points)

    def run_with(self, moved: Mapping[str, LetGo | None]) -> StormRun:
        """The storm with the water of these downspouts let go elsewhere (None: taken away)."""
        named = {f"downspout '{name}'": water for name, water in moved.items()}
        let_go = [
            each
            for source in self.sources
            for each in (
                source.let_go
                if source.name not in named
                else [water for water in [named[source.name]] if water is not None]
            )
        ]
        return self.flow.run(self.site.storm.depth, let_go)

    def _others(self, downspout: Downspout) -> list[LetGo]:
        own = f"downspout '{downspout.name}'"
        return [each for source in self.sources if source.name != own for each in source.let_go]


def lot_ground(site: Site, terrain: Terrain, judged: Site | None = None) -> LotGround:
    """Run the site's storm on a ground and say where water may be let go on it.

    Parameters
    ----------
    site : Site
    terrain : Terrain
    judged : Site, optional
        The site that the walls are judged on, with what is planned on it.

    Examples
    --------
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> from runoff.terrain.build import build_terrain
    >>> site = read_site(sample_folder() / "site.toml")
    >>> ground = lot_ground(site, build_terrain(site))
    >>> ground.reason_against(1.0, -0.6)
    'too near a foundation'
    """
    flow = prepare_flow(site, terrain)
    let_go = all_let_go(site, terrain)
    run = flow.run(site.storm.depth, let_go)
    depth = run.ponding.depth()
    spots, _ = low_spots_of(
        site, flow.grid, run.ponding, depth, lambda rain: flow.run_as(run, rain, let_go)
    )
    return LotGround(
        site=site,
        flow=flow,
        run=run,
        depth=depth,
        spots=spots,
        safe_area=safe_discharge_area(site, flow, run, depth),
        walls=judge_walls(judged or site, terrain, depth),
    )
