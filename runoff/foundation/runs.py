"""Runs of wall: neighboring stations of one verdict joined, with what would settle a close call.

In: a site, its terrain and the storm's standing water. Out: `WallRun` records, wall by wall.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby

from runoff.foundation.grade import ROUNDING, call_margin, judge_stations
from runoff.foundation.model import Station, Verdict, WallRun
from runoff.foundation.remarks import remarks_on
from runoff.foundation.stations import Array
from runoff.foundation.walls import Wall, wall_words, walls_of
from runoff.quantities import format_length
from runoff.site.model import Site, Units
from runoff.terrain.model import Terrain

FLICKER = 0.6
"""Metres of wall that drain away between two failing runs, and are joined to them."""

_JOINED: tuple[Verdict, ...] = ("too flat", "cut short: needs a drain or swale")
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
    runs = []
    for key, group in groupby(stations, key=lambda s: (s.building, s.wall)):
        wall, spacing = walls[key], _spacing(walls[key], site)
        for verdict, members in join_stations(list(group), spacing):
            runs.append(_run(site, terrain, wall, spacing, verdict, members))
    return tuple(runs)


def join_stations(
    stations: Sequence[Station], spacing: float
) -> list[tuple[Verdict, tuple[Station, ...]]]:
    """Join neighboring stations of one verdict along one wall.

    Less than 2 ft (0.6 m) that drains away between two lengths which fall too little is joined to
    them; nothing else is smoothed over.
    """
    groups = _grouped(stations, spacing)
    joined: list[tuple[Verdict, tuple[Station, ...]]] = []
    for place, (verdict, members) in enumerate(groups):
        before = joined[-1] if joined else None
        after = groups[place + 1] if place + 1 < len(groups) else None
        flicker = verdict == "drains away" and len(members) * spacing < FLICKER
        if flicker and before and after and before[0] == after[0] and before[0] in _JOINED:
            verdict = before[0]
        if before and before[0] == verdict and _next(before[1][-1], members[0], spacing):
            joined[-1] = (verdict, before[1] + members)
        else:
            joined.append((verdict, members))
    return joined


def _grouped(stations, spacing: float) -> list[tuple[Verdict, tuple[Station, ...]]]:
    groups: list[tuple[Verdict, tuple[Station, ...]]] = []
    for station in stations:
        last = groups[-1] if groups else None
        if last and last[0] == station.verdict and _next(last[1][-1], station, spacing):
            groups[-1] = (last[0], (*last[1], station))
        else:
            groups.append((station.verdict, (station,)))
    return groups


def _next(one: Station, other: Station, spacing: float) -> bool:
    return other.along - one.along < 1.5 * spacing


def _spacing(wall: Wall, site: Site) -> float:
    return wall.length / max(1, math.ceil(wall.length / site.rules["station_spacing"] - 1e-9))


def _run(site, terrain, wall: Wall, spacing: float, verdict: Verdict, members) -> WallRun:
    worst = worst_of(verdict, members)
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
        settle=_settle(site, wall, worst) if verdict == "too close to call" else "",
        remarks=remarks_on(site, terrain, members),
    )


def worst_of(verdict: Verdict, stations: Sequence[Station]) -> Station:
    """The station that decides: it lacks most fall, or rises most where the ground slopes back."""

    def shortage(station: Station) -> float:
        lacks = station.required - station.fall
        return -math.inf if math.isnan(lacks) else lacks

    if verdict == "slopes back":
        return max(stations, key=lambda s: (max(s.rise, -s.fall), shortage(s)))
    return max(stations, key=shortage)


def _settle(site: Site, wall: Wall, worst: Station) -> str:
    """Which shots, and how good, would settle a close call."""
    system = "us" if site.units == "ft" else "metric"
    lacks = abs(worst.fall - worst.required)
    over = worst.rise - site.rules["rise_against_wall"]
    near, far = "at the wall", f"{format_length(worst.reach, system, 1)} out"
    if over > ROUNDING:
        near, far = "at the low point near the wall", "at the highest point beyond it"
        lacks = over
    place = f"{format_length(worst.along, system, 1)} along {wall_words(wall.name)}"
    needed = _rounded_down(lacks / call_margin(1.0), site.units)
    if needed == 0.0:
        return (
            f"The ground {place} is at the limit itself: no level is good enough to settle it; "
            "give it a little more fall."
        )
    good = format_length(needed, system, 16)
    return (
        f"Two shots settle it: {place}, {near} and {far}, each good to {good} "
        "(standard deviation) or better."
    )


def _rounded_down(metres: float, units: Units) -> float:
    """To what a rod can be read to: 1/16 in or 0.5 mm; 0 where it would have to be finer."""
    step = _SIXTEENTH_INCH if units == "ft" else _HALF_MILLIMETRE
    return math.floor(metres / step + 1e-9) * step
