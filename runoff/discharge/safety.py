"""Whether water let go at a place keeps away from the foundations and the neighbors.

In: the lot's ground and what became of a downspout's water there. Out: the reason against it, a
code with its figures.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from shapely import Point

from runoff.discharge.lot import LotGround
from runoff.flow.downspouts import implications_of
from runoff.flow.model import DownspoutAnswer
from runoff.foundation.model import WallRun
from runoff.site.model import OTHERS_GROUND, Building, Opening

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
        if spot is not None and spot.wall_distance is not None and spot.wall_distance < limit:
            return Reached("stands near", limit, spot.building)
    if distance_to_foundation(ground, *answer.start) >= near:
        return None
    run = run_beside(ground, *answer.start)
    if run is not None and (run.verdict == "slopes back" or run.verdict == "holds water"):
        return Reached(run.verdict, name=run.wall_name)
    implied = implications_of(site, answer)
    if "runs beside a foundation" in implied:
        return Reached("runs along", answer.length_within_near)
    if "stays near a foundation" in implied:
        return Reached("stays near", site.rules["foundation_reach"])
    if "shut in" in implied:
        return Reached("shut in")
    return None


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
