"""Soil that dams no water: the storm is run on the corrected ground, and soil that harms is left.

In: a site, its terrain, the runs of wall and the storm's water. Out: `SoilWedge` records, none of
which makes a wall wetter.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import dist

import numpy as np
from scipy.ndimage import binary_dilation, label

from runoff.foundation.grade import WET, water_beside
from runoff.foundation.model import Refusal, SoilWedge, Station, WallRun
from runoff.foundation.soil import NOWHERE, Place, apply_wedges, place_of, soil_wedges
from runoff.foundation.soil_fill import stations_of
from runoff.foundation.walls import Array
from runoff.site.model import Site
from runoff.terrain.model import Terrain

_DAMS_WITHIN = 2
"""Cells between a pool and the soil that dams it, at most."""
_DEEPER = 0.01
"""Metres of water by which a wall that is wet already must not become wetter."""
WaterAlong = dict[tuple[str, int], list[tuple[Station, float]]]
"""By building and number of a wall, its stations and the water (m) that stands at each."""
_AROUND = np.ones((3, 3), dtype=bool)


def harmless_soil(
    site: Site,
    terrain: Terrain,
    runs: Sequence[WallRun],
    standing_depth: Array,
    storm: Callable[[Terrain], Array],
    walls: Sequence[WallRun] | None = None,
    refused: Mapping[Place, Refusal] = NOWHERE,
) -> tuple[SoilWedge, ...]:
    """The soil that makes failing runs of wall pass and leaves no wall wetter in the storm.

    Parameters
    ----------
    site : Site
    terrain : Terrain
    runs : sequence of WallRun
        Those to correct.
    standing_depth : (rows, cols) float64, metres
    storm : callable
        The water that the storm leaves on another ground, (rows, cols) metres.
    walls : sequence of WallRun, optional
        All the lot's runs of wall; `runs` where they are all.
    refused : mapping, optional
        Stations where no soil may be placed beforehand, and why.

    Returns
    -------
    tuple of SoilWedge
        As `soil_wedges`. Soil that would dam water against a wall is refused with that reason.
    """
    walls = runs if walls is None else walls
    before = water_along(terrain, walls, standing_depth)
    refused = dict(refused)
    while True:
        wedges = soil_wedges(site, terrain, runs, standing_depth, refused)
        placed = [wedge for wedge in wedges if len(wedge.cells)]
        if not placed:
            return wedges
        depth = storm(apply_wedges(terrain, placed))
        wetter = wetted(before, water_along(terrain, walls, depth))
        if not wetter:
            return wedges
        for stations in wetter:
            for wedge in _dams(terrain, placed, depth, stations):
                why = _dams_wall(walls, stations[0])
                refused |= {place_of(station): why for station in wedge.run.stations}


def water_along(terrain: Terrain, walls: Sequence[WallRun], standing_depth: Array) -> WaterAlong:
    """The water at each station that is judged, metres, wall by wall."""
    stations = [each for run in walls for each in run.stations if each.verdict != "not surveyed"]
    if not stations:
        return {}
    depths = water_beside(terrain, stations_of(stations), standing_depth).tolist()
    found: WaterAlong = {}
    for station, depth in zip(stations, depths, strict=True):
        found.setdefault((station.building, station.wall), []).append((station, depth))
    return found


def wetted(before: WaterAlong, after: WaterAlong) -> list[list[Station]]:
    """Of each wall that is wetter than before, the stations where it is.

    It is where more of it holds water, or where its deepest water is deeper by more than 1 cm.
    """
    found = []
    for wall, stations in after.items():
        then = [was for _, was in before[wall]]
        now = [depth for _, depth in stations]
        longer = sum(each > WET for each in now) > sum(each > WET for each in then)
        if longer or max(now) > max(then) + _DEEPER:
            pairs = zip(stations, then, strict=True)
            found.append(
                [
                    station
                    for (station, depth), was in pairs
                    if depth > max(was + _DEEPER, WET) or (depth > WET >= was)
                ]
            )
    return found


def _dams(
    terrain: Terrain, placed: Sequence[SoilWedge], depth: Array, stations: Sequence[Station]
) -> list[SoilWedge]:
    """The soil beside the pools that stand at these stations, or else the nearest to them."""
    pools, _ = label(depth > WET, _AROUND)
    here = np.zeros(pools.shape, dtype=bool)
    for station in stations:
        row, col = terrain.grid.cell(*station.foot)
        here[max(row - 1, 0) : row + 2, max(col - 1, 0) : col + 2] = True
    numbers = np.unique(pools[here])
    beside = binary_dilation(np.isin(pools, numbers[numbers > 0]), _AROUND, _DAMS_WITHIN)
    found = [wedge for wedge in placed if beside[tuple(wedge.cells[wedge.raised > WET].T)].any()]
    if found:
        return found
    feet = [station.foot for station in stations]

    def away(wedge: SoilWedge) -> float:
        return min(dist(each.foot, foot) for each in wedge.run.stations for foot in feet)

    return [min(placed, key=away)]


def _dams_wall(walls: Sequence[WallRun], station: Station) -> Refusal:
    key = station.building, station.wall
    run = next(run for run in walls if (run.building, run.wall) == key)
    return Refusal("dams a wall", run.wall_name, of=run.building)
