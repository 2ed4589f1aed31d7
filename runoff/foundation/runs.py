"""Runs of wall: neighboring stations of one trouble joined, and how good shots would settle one.

In: a site, its terrain and the storm's standing water. Out: `WallRun` records, wall by wall.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby, pairwise

import numpy as np
from scipy.spatial import cKDTree

from runoff.foundation.grade import ROUNDING, WET, judge_stations
from runoff.foundation.model import Station, Verdict, WallRun
from runoff.foundation.remarks import remarks_on
from runoff.foundation.stations import Array
from runoff.foundation.walls import Wall, walls_of
from runoff.site.model import Site, Units
from runoff.terrain.model import Terrain, call_margin

FLICKER = 0.6
"""Metres of wall that drain away between two failing runs, and are joined to them."""

_JOINED: tuple[Verdict, ...] = ("too flat", "cut short: needs a drain or swale")
# A close call is in doubt between passing and failing, so the milder failure takes it.
_TAKES_CLOSE_CALLS: tuple[Verdict, ...] = (*_JOINED, "slopes back", "holds water")
_SIXTEENTH_INCH = 0.0254 / 16
_HALF_MILLIMETRE = 0.0005


def judge_walls(site: Site, terrain: Terrain, standing_depth: Array) -> tuple[WallRun, ...]:
    """Judge the grade along every outside wall of every building.

    Parameters
    ----------
    site : Site
    terrain : Terrain
    standing_depth : (rows, cols) float64, metres
        Water that stands on the terrain's grid once the storm has run.

    Returns
    -------
    tuple of WallRun
        Building by building, wall by wall, in the order of the corners.

    Examples
    --------
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> from runoff.terrain import build_terrain
    >>> site = read_site(sample_folder() / "site.toml")
    >>> terrain = build_terrain(site)
    >>> runs = judge_walls(site, terrain, 0.0 * terrain.ground)
    >>> all(run.start < run.end for run in runs)
    True
    """
    stations = judge_stations(site, terrain, standing_depth)
    walls = {(wall.building, wall.number): wall for wall in walls_of(site.buildings)}
    shots = shot_spacing(site)
    runs = []
    for key, group in groupby(stations, key=lambda s: (s.building, s.wall)):
        wall, spacing = walls[key], _spacing(walls[key], site)
        for verdict, members in join_stations(list(group), spacing, shots):
            runs.append(_run(site, terrain, wall, spacing, verdict, members))
    return tuple(runs)


def shot_spacing(site: Site) -> float:
    """How far apart the heights were taken, metres: no run of wall is told apart more finely.

    The median distance from one spot height to the next; where heights come from a grid, the
    coarsest cell that grade is judged on.

    Examples
    --------
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> round(shot_spacing(read_site(sample_folder() / "site.toml")) / 0.3048)
    9
    """
    spots = site.spot_array[:, :2]
    if len(spots) < 2:
        return site.rules["lidar_cell_limit"]
    nearest, _ = cKDTree(spots).query(spots, k=2)
    return float(np.median(nearest[:, 1]))


def join_stations(
    stations: Sequence[Station], spacing: float, shots: float = 0.0
) -> list[tuple[Verdict, tuple[Station, ...]]]:
    """Join neighboring stations of one trouble along one wall.

    A length that is too close to call and shorter than the spacing of the shots is part of the
    length beside it whose grade fails: of the milder one, where both sides do. Less than 2 ft
    (0.6 m) that drains away between two lengths which fall too little is joined to them. The
    stations keep their own verdicts, and nothing else is smoothed over.

    Parameters
    ----------
    stations : sequence of Station, along one wall
    spacing : float, metres
        From station to station.
    shots : float, metres
        From one height that was taken to the next.

    Returns
    -------
    list of (Verdict, tuple of Station)
    """
    return [
        (verdict, tuple(members))
        for part in _unbroken(stations, spacing)
        for verdict, members in _joined_flickers(_joined_close_calls(part, spacing, shots), spacing)
    ]


def _unbroken(stations: Sequence[Station], spacing: float) -> list[list[Station]]:
    """The stations in parts between which the wall is no outside wall."""
    parts = [[stations[0]]]
    for one, other in pairwise(stations):
        if other.along - one.along < 1.5 * spacing:
            parts[-1].append(other)
        else:
            parts.append([other])
    return parts


_Groups = list[tuple[Verdict, list[Station]]]


def _joined_close_calls(stations: Sequence[Station], spacing: float, shots: float) -> _Groups:
    groups: _Groups = [(v, list(g)) for v, g in groupby(stations, key=lambda s: s.verdict)]
    verdicts = [verdict for verdict, _ in groups]
    for place, (verdict, members) in enumerate(groups):
        if verdict != "too close to call" or len(members) * spacing >= shots:
            continue
        beside = [*verdicts[max(place - 1, 0) : place], *verdicts[place + 1 : place + 2]]
        wet = all(station.water > WET for station in members)
        takes = [v for v in _TAKES_CLOSE_CALLS if v in beside and (wet or v != "holds water")]
        if takes:
            groups[place] = (takes[0], members)
    return _merged(groups)


def _joined_flickers(groups: _Groups, spacing: float) -> _Groups:
    for place in range(1, len(groups) - 1):
        verdict, members = groups[place]
        before, after = groups[place - 1][0], groups[place + 1][0]
        short = verdict == "drains away" and len(members) * spacing < FLICKER
        if short and before == after and before in _JOINED:
            groups[place] = (before, members)
    return _merged(groups)


def _merged(groups: _Groups) -> _Groups:
    return [
        (verdict, [station for _, members in same for station in members])
        for verdict, same in groupby(groups, key=lambda group: group[0])
    ]


def _spacing(wall: Wall, site: Site) -> float:
    return wall.length / max(1, math.ceil(wall.length / site.rules["station_spacing"] - 1e-9))


def _run(site, terrain, wall: Wall, spacing: float, verdict: Verdict, members) -> WallRun:
    worst = worst_of(verdict, [s for s in members if s.verdict == verdict])
    return WallRun(
        building=wall.building,
        wall=wall.number,
        wall_name=wall.name,
        start=members[0].along - spacing / 2,
        end=members[-1].along + spacing / 2,
        verdict=verdict,
        worst=worst,
        stations=members,
        sigma=terrain.accuracy.sigma,
        indication=terrain.accuracy.indication_only,
        remarks=remarks_on(site, terrain, members),
        settled_by=needed_accuracy(site, worst) if verdict == "too close to call" else math.nan,
    )


def worst_of(verdict: Verdict, stations: Sequence[Station]) -> Station:
    """The station that decides: it lacks most fall, or rises most where the ground slopes back."""

    def shortage(station: Station) -> float:
        lacks = station.required - station.fall
        return -math.inf if math.isnan(lacks) else lacks

    if verdict == "slopes back":
        return max(stations, key=lambda s: (max(s.rise, -s.fall), shortage(s)))
    return max(stations, key=shortage)


def needed_accuracy(site: Site, worst: Station) -> float:
    """How good the shots must be that settle a close call: a standard deviation, metres.

    Rounded down to what a rod can be read to; 0 where it is finer than any level gives (the rule
    of a laser level), so that nobody is sent for what cannot be had.
    """
    needed = _rounded_down(_off_the_limit(site, worst) / call_margin(1.0), site.units)
    return needed if needed >= site.rules["height_sigma_laser_level"] - ROUNDING else 0.0


def _off_the_limit(site: Site, worst: Station) -> float:
    """How far the ground lies from the limit that is in doubt, metres."""
    over = worst.rise - site.rules["rise_against_wall"]
    off = over if over > ROUNDING else abs(worst.fall - worst.required)
    return min(off, worst.water) if worst.water > WET else off


def _rounded_down(metres: float, units: Units) -> float:
    """To what a rod can be read to: 1/16 in or 0.5 mm; 0 where it would have to be finer."""
    step = _SIXTEENTH_INCH if units == "ft" else _HALF_MILLIMETRE
    return math.floor(metres / step + 1e-9) * step
