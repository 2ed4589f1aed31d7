"""Whether water let go at a place keeps away from the foundations and the neighbors.

In: the lot's ground and what became of a downspout's water there. Out: the reason against it in
plain words, empty where there is none.
"""

from __future__ import annotations

import numpy as np
from shapely import Point

from runoff.discharge.lot import LotGround
from runoff.flow.downspouts import implications_of
from runoff.flow.model import DownspoutAnswer
from runoff.foundation.model import WallRun
from runoff.quantities import Shown
from runoff.site.model import OTHERS_GROUND, Building

_BAD_GROUND = ("slopes back", "holds water")


def reaches_foundation(ground: LotGround, answer: DownspoutAnswer) -> str:
    """Why water let go there comes to a foundation; empty where it does not.

    It does where it comes back near one (`near_foundation`) after having left, ends in a low spot
    whose pond comes within `pond_foundation_distance` of one, or fills one on its way that comes
    near; and, let go at a wall, where the ground there slopes back or holds water, leads it along
    the wall, or never lets it away. An inspection flags a downspout by the same measures.
    """
    shown = Shown.of(ground.site)
    site = ground.site
    near = site.rules["near_foundation"]
    if answer.returns:
        return f"it comes back within {shown.far(near)} of a foundation"
    for way in answer.on_the_way:
        limit = near if way.overflows else site.rules["pond_foundation_distance"]
        spot = next((each for each in ground.spots.values() if each.name == way.name), None)
        if spot is not None and spot.wall_distance is not None and spot.wall_distance < limit:
            return f"it stands within {shown.far(limit)} of '{spot.building}'"
    if distance_to_foundation(ground, *answer.start) >= near:
        return ""
    run = run_beside(ground, *answer.start)
    if run is not None and run.verdict in _BAD_GROUND:
        return f"the ground there {run.verdict} against the {run.wall_name} wall"
    implied = implications_of(site, answer)
    if "runs beside a foundation" in implied:
        return f"it runs along the wall for {shown.far(answer.length_within_near)}"
    if "stays near a foundation" in implied:
        return f"it stays within {shown.far(site.rules['foundation_reach'])} of a foundation"
    if "shut in" in implied:
        return "it is shut in by walls"
    return ""


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
