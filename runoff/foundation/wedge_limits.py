"""What keeps soil from being placed: clearances on the wall, paving, easements, lot lines, water.

In: a site, the stations of a run, and the fill that they want. Out: how far it is short, and why it
is refused.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from runoff.foundation.grade import WET
from runoff.foundation.model import Refusal, Station, WallRun
from runoff.foundation.stations import Array, Stations
from runoff.site.model import OTHERS_GROUND, LotSide, Site
from runoff.terrain.model import Terrain

Said = Refusal | None
"""What is said of soil before a station; None where it may lie there."""
_A_LITTLE = 0.006
"""Soil on paving or in an easement thinner than this, metres, is not placed there."""
_STAKED_TO = 0.0254 / 8
"""Metres to which soil is staked and the grid lifts it: over by no more is not too high."""


@dataclass(frozen=True)
class Fill:
    """Soil over the profiles of a run.

    `out` and `depth` are (n, samples) metres from the wall and of soil; `toe` is (n,) metres from
    the wall where it runs out, `top` (n,) the height of the corrected ground at the wall.
    """

    out: Array
    depth: Array
    toe: Array
    top: Array


def over_the_clearance(site: Site, run: WallRun, members: Sequence[Station], fill: Fill) -> Array:
    """How much higher than the clearances allow the soil stands at each station, (n,) metres."""
    caps = np.array([_highest_soil(site, run, s.along) for s in members])
    over = np.where(fill.depth[:, 0] > 0, fill.top - caps, 0.0)
    return np.where(over > _STAKED_TO, over, 0.0)


def clearance_known(site: Site, run: WallRun) -> bool:
    """Whether something on the wall says how high soil may stand, at every station."""
    return all(np.isfinite(_highest_soil(site, run, s.along)) for s in run.stations)


def _highest_soil(site: Site, run: WallRun, along: float) -> float:
    """The greatest height of soil at a place on a wall, infinite where nothing is known."""
    below = {"siding": site.rules["siding_clearance"]}
    other = site.rules["foundation_above_grade_veneer"]
    building = next(b for b in site.buildings if b.name == run.building)
    edges = [
        clearance.height - below.get(clearance.kind, other)
        for clearance in building.clearances
        if clearance.wall == run.wall and clearance.start <= along <= clearance.end
    ]
    edges += [
        opening.sill - other
        for opening in site.openings
        if opening.sill is not None
        and (opening.building, opening.wall) == (run.building, run.wall)
        and abs(along - opening.distance) <= opening.width / 2
    ]
    return min(edges, default=np.inf)


def what_it_buries(site: Site, terrain: Terrain, stations: Stations, fill: Fill) -> list[Said]:
    """What forbids soil before each station by lying there; None where nothing does.

    What lies within a cell beside the profile forbids it too: half of its soil would lie there.
    """
    line, sample = (fill.depth > _A_LITTLE).nonzero()
    at = stations.feet[line] + fill.out[line, sample, None] * stations.outward[line]
    aside = terrain.grid.cell_size * stations.outward[line][:, ::-1] * (1.0, -1.0)
    line = np.tile(line, 3)
    x, y = np.concatenate([at, at - aside, at + aside]).T
    said: list[Said] = [None] * len(fill.depth)
    for outline, reason in _in_the_way(site):
        left, bottom, right, top = outline.bounds
        near = np.flatnonzero((x >= left) & (x <= right) & (y >= bottom) & (y <= top))
        met = near[shapely.contains_xy(outline, x[near], y[near])]
        for k in np.unique(line[met]):
            said[k] = said[k] or reason
    return said


def _in_the_way(site: Site) -> Iterator[tuple[shapely.Geometry, Refusal]]:
    for paving in site.paving:
        yield paving.outline, Refusal("buries paving", paving.name, of=paving.kind)
    for easement in site.easements:
        yield easement.area, Refusal("dams an easement", easement.name)


def still_standing(left_standing: float) -> Said:
    """Why soil is no use where the storm's water stands this much above it, metres."""
    if left_standing <= WET:
        return None
    return Refusal("water still stands", over=left_standing)


def onto_neighbor(site: Site, terrain: Terrain, stations: Stations, fill: Fill) -> list[Said]:
    """Why soil must not lie before each station for reaching a neighbor's side; None if it may."""
    said: list[Said] = [None] * len(fill.toe)
    for side in _neighbors(site):
        toes = shapely.points(stations.feet + fill.toe[:, None] * stations.outward)
        near = shapely.distance(toes, shapely.LineString(side.line)) <= terrain.grid.cell_size
        for k in np.flatnonzero(near & (fill.toe > 0)):
            said[k] = Refusal("reaches a neighbor", side.name)
    return said


def _neighbors(site: Site) -> list[LotSide]:
    sides = () if site.lot is None else site.lot.sides
    return [side for side in sides if side.neighbor in OTHERS_GROUND]


def no_soil_on(site: Site, cell_size: float) -> shapely.Geometry:
    """Where no cell is raised whatever is asked: paving, easements, a neighbor's side."""
    beside = [shapely.LineString(side.line).buffer(cell_size) for side in _neighbors(site)]
    return shapely.union_all([*(outline for outline, _ in _in_the_way(site)), *beside])
