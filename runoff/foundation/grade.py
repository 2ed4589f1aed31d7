"""The grade at the walls: the fall required at a station, the verdict on the fall that is there,
and runs of one trouble joined.

In: a site, its terrain and the stations of a run. Out: remarks.

In: profiles, surfaces and the accuracy of a height. Out: verdicts and station records.

In: a site, its terrain and the storm's standing water. Out: `WallRun` records, wall by wall.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import cKDTree

from runoff.foundation.model import Remark, Station, Verdict, WallRun
from runoff.foundation.walls import Array, Profiles, Stations, Wall, lay_stations, measure, walls_of
from runoff.site.model import Opening, Paving, Site, Units
from runoff.terrain.model import Terrain, call_margin

_STEP = 0.15
_AT_THE_WALL = 0.3
"""Paving this near the wall, metres, meets it."""
_TRAPPED = 0.006
"""Depth of water behind a walk, metres, that is worth a word."""


def remarks_on(site: Site, terrain: Terrain, stations: Sequence[Station]) -> tuple[Remark, ...]:
    """Name the drives that fall to the wall and the walks that trap water against it.

    Parameters
    ----------
    site : Site
    terrain : Terrain
    stations : sequence of Station, along one wall

    Returns
    -------
    tuple of Remark
    """
    kinds = ("drive", "walk", "public sidewalk")
    near = [p for p in site.paving if p.kind in kinds and _within(p, stations, site)]
    surveyed = [s for s in stations if s.reach_m > 0 and np.isfinite(s.fall_m)]
    if not near or not surveyed:
        return ()
    points, z = _sampled(terrain, surveyed, site.rules["foundation_reach"])
    least = call_margin(terrain.accuracy.sigma) + ROUNDING
    said = []
    for paving in near:
        on = shapely.contains_xy(paving.outline, points[..., 0], points[..., 1]) & np.isfinite(z)
        if paving.kind == "drive":
            falls = _falls_to_wall(on, z, least)
            if falls.any():
                at = _opening_at(site, [surveyed[k] for k in falls.nonzero()[0]])
                said.append(Remark("falls to the wall", paving.name, at))
        elif _traps(on, z, max(least, _TRAPPED)).any():
            said.append(Remark("traps water", paving.name))
    return tuple(said)


def _within(paving: Paving, stations: Sequence[Station], site: Site) -> bool:
    feet = shapely.multipoints([s.foot for s in stations])
    return bool(paving.outline.distance(feet) <= site.rules["foundation_reach"])


def _sampled(terrain: Terrain, stations: Sequence[Station], limit: float) -> tuple[Array, Array]:
    feet = np.array([s.foot for s in stations])
    outward = np.array([s.outward for s in stations])
    out = np.arange(0.0, limit + _STEP / 2, _STEP)
    points = feet[:, None, :] + out[None, :, None] * outward[:, None, :]
    shape = points.shape
    z = terrain.heights(
        points.reshape(-1, 2),
        np.broadcast_to(feet[:, None, :], shape).reshape(-1, 2),
        np.broadcast_to(outward[:, None, :], shape).reshape(-1, 2),
    ).reshape(shape[:2])
    reach = np.array([s.reach_m for s in stations])
    return points, np.where(out[None, :] <= reach[:, None] + ROUNDING, z, np.nan)


def _falls_to_wall(on: NDArray[np.bool_], z: Array, least: float) -> NDArray[np.bool_]:
    """Where paving meets the wall and is lower there than farther out."""
    first = on.argmax(axis=1)
    last = on.shape[1] - 1 - on[:, ::-1].argmax(axis=1)
    line = np.arange(len(on))
    meets = on.any(axis=1) & (first * _STEP <= _AT_THE_WALL)
    return meets & (np.nan_to_num(z[line, last] - z[line, first]) > least)


def _traps(on: NDArray[np.bool_], z: Array, least: float) -> NDArray[np.bool_]:
    """Where a walk stands higher than the ground between it and the wall."""
    before = ~np.logical_or.accumulate(on, axis=1) & on.any(axis=1, keepdims=True) & np.isfinite(z)
    low = np.where(before, z, np.inf).min(axis=1)
    high = np.where(on, z, -np.inf).max(axis=1)
    return before.any(axis=1) & (high - low > least)


def _opening_at(site: Site, stations: Sequence[Station]) -> tuple[str, str]:
    """Kind and name of an opening at these stations, a garage door before all; else empty."""
    openings = [o for o in site.openings if any(_beside(o, s) for s in stations)]
    doors = [o for o in openings if o.kind == "garage door"] or openings
    return (doors[0].kind, doors[0].name) if doors else ("", "")


def _beside(opening: Opening, station: Station) -> bool:
    same = (opening.building, opening.wall) == (station.building, station.wall)
    return same and abs(station.along_m - opening.distance) <= opening.width / 2 + ROUNDING


ROUNDING = 1e-6
"""Metres of fall that are rounding only."""
LEAST_SURVEYED = 0.5
"""Share of the reach asked for that must be surveyed for a word on grade."""
WET = 1e-3
"""Standing water shallower than this, metres, is not told from wet grass."""

_SURVEY_ENDS = 0.3
"""A profile that ends this near to its reach, metres, is as long as it was asked to be."""


@dataclass(frozen=True)
class Limits:
    """What the verdicts are judged by.

    `rise` is the rise (m) above the low point near the wall that is let pass, `margin` the
    difference of two heights (m) that the survey cannot tell from none.
    """

    rise: float
    margin: float


def limits_of(site: Site, terrain: Terrain) -> Limits:
    """The limits in force on a lot, with the accuracy of its heights."""
    return Limits(site.rules["rise_against_wall"], call_margin(terrain.accuracy.sigma))


def grade_verdicts(
    fall: ArrayLike, required: ArrayLike, rise: ArrayLike, cut: ArrayLike, limits: Limits
) -> NDArray[np.str_]:
    """Say for each profile whether the ground drains away, by its fall and rise alone.

    A failure is called only where the accuracy separates it from a pass; where neither is certain
    the call is too close. Ground that certainly falls too little is *slopes back* where it
    certainly falls toward the wall, and *too flat* otherwise.

    Parameters
    ----------
    fall, required, rise : (n,) metres
        NaN where not surveyed.
    cut : (n,) bool
        Whether the profile is cut short of 10 ft.
    limits : Limits

    Returns
    -------
    (n,) str

    Examples
    --------
    >>> exact = Limits(rise=0.0254, margin=0.0)
    >>> grade_verdicts([0.16, 0.14, -0.01], [0.1524] * 3, [0.0] * 3, [False] * 3, exact).tolist()
    ['drains away', 'too flat', 'slopes back']
    >>> grade_verdicts([0.16], [0.1524], [0.0], [False], Limits(0.0254, 0.02)).tolist()
    ['too close to call']
    """
    fall, required, rise = (np.asarray(v, dtype=np.float64) for v in (fall, required, rise))
    sure = limits.margin + ROUNDING
    close = limits.margin - ROUNDING
    no_room, flat = "cut short: needs a drain or swale", "too flat"
    short = np.where(np.asarray(cut, dtype=bool), no_room, flat)
    with np.errstate(invalid="ignore"):
        return np.select(
            [
                ~(np.isfinite(fall) & np.isfinite(required)),
                (fall < -sure) | (rise > limits.rise + sure),
                fall < required - sure,
                (fall < required + close) | (rise > limits.rise + ROUNDING),
            ],
            ["not surveyed", "slopes back", short, "too close to call"],
            "drains away",
        )


def judge_stations(site: Site, terrain: Terrain, standing_depth: Array) -> list[Station]:
    """Judge the ground at stations along every outside wall.

    Parameters
    ----------
    site : Site
    terrain : Terrain
    standing_depth : (rows, cols) float64, metres
        Water that stands once the storm has run.

    Returns
    -------
    list of Station, wall by wall
    """
    stations = lay_stations(site, terrain.blur)
    if not len(stations.along):
        return []
    ends = stations.feet + stations.reach[:, None] * stations.outward
    profiles = measure(terrain, stations, ends)
    cut_by = _cut_by(stations, profiles)
    cut = np.isin(cut_by, ("lot line", "wall", "corner"))
    paved = _paved(site, stations, profiles)
    required = _required(site, stations, profiles, paved, cut)
    drained = _toward_drains(site, terrain, stations, profiles.fall - required)
    if drained is not None:
        profiles, required = _with_drainage(drained, profiles, required)
        paved = np.minimum(paved, profiles.reach)
    verdicts = grade_verdicts(profiles.fall, required, profiles.rise, cut, limits_of(site, terrain))
    water = water_beside(terrain, stations, standing_depth)
    water[verdicts == "not surveyed"] = 0.0
    verdicts = with_water(verdicts, water, limits_of(site, terrain).margin)
    if _too_coarse(site, terrain):
        verdicts[:] = "not surveyed"
    return _records(stations, cut_by, profiles, paved, required, verdicts, water)


def with_water(verdicts: NDArray[np.str_], water: Array, margin: float) -> NDArray[np.str_]:
    """The verdicts on grade, with the water that stands at the wall counted.

    How deep water stands is the difference of two heights, the spill's and the ground's at the
    wall, so water no deeper than the margin may be none. Ground that fails by its grade fails
    either way; where it would pass, such water makes the call too close.

    Examples
    --------
    >>> away = np.array(["drains away", "drains away", "too flat"])
    >>> with_water(away, np.array([0.05, 0.3, 0.05]), 0.28).tolist()
    ['too close to call', 'holds water', 'too flat']
    """
    return np.select(
        [water > max(WET, margin), (water > WET) & (verdicts == "drains away")],
        ["holds water", "too close to call"],
        verdicts,
    )


def water_in_doubt(station: Station, limits: Limits) -> bool:
    """Whether a call is too close for the water alone, the grade being right by more than that."""
    right = station.fall_m - station.required_m >= limits.margin - ROUNDING
    right &= station.rise_m <= limits.rise + ROUNDING
    return station.water_m > WET and right


def _cut_by(stations: Stations, profiles: Profiles) -> NDArray[np.str_]:
    """What ends each profile short of its reach, the survey where it ends well before."""
    survey_ends = ~(profiles.reach > stations.reach - _SURVEY_ENDS) & (stations.reach > 0)
    survey_ends |= np.isnan(profiles.reach)
    return np.where(survey_ends, "survey", np.array(stations.cut_by, dtype="U8"))


def _too_coarse(site: Site, terrain: Terrain) -> bool:
    from_elevation = site.elevation is not None or terrain.accuracy.indication_only
    cell = max(terrain.grid.cell_size, terrain.data_cell or 0.0)
    return from_elevation and cell > site.rules["lidar_cell_limit"]


def _paved(site: Site, stations: Stations, profiles: Profiles) -> Array:
    """Metres of each profile that cross paving."""
    if not site.paving:
        return np.zeros(len(stations.along))
    reach = np.nan_to_num(profiles.reach)
    far = stations.feet + reach[:, None] * stations.outward
    lines = shapely.linestrings(np.stack([stations.feet, far], axis=1))
    slabs = shapely.union_all([paving.outline for paving in site.paving])
    shapely.prepare(slabs)
    length = np.zeros(len(lines))
    crossing = np.flatnonzero(shapely.intersects(slabs, lines))
    length[crossing] = shapely.length(shapely.intersection(lines[crossing], slabs))
    return length


def _required(
    site: Site, stations: Stations, profiles: Profiles, paved: Array, cut: NDArray[np.bool_]
) -> Array:
    """The fall that each profile must have, metres; NaN where too little of it is surveyed."""
    rules = site.rules
    soil = profiles.reach - paved
    by_length = rules["soil_grade"] * soil + rules["paving_grade"] * paved
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(profiles.reach > ROUNDING, soil / profiles.reach, 1.0)
        within = rules["cut_short_fall"] * share + rules["paving_grade"] * paved
        surveyed = profiles.reach >= LEAST_SURVEYED * stations.reach - ROUNDING
    return np.where(surveyed, np.where(cut, within, by_length), np.nan)


# Where drains serve better, the profiles toward them, and the fall that is required there.
Drained = tuple[NDArray[np.bool_], Profiles, Array]


def _toward_drains(
    site: Site, terrain: Terrain, stations: Stations, surplus: Array
) -> Drained | None:
    """Profiles that end at a swale or drain instead, and where they serve the wall better."""
    ends, has_drain = _drain_ends(site, stations)
    if not has_drain.any():
        return None
    far = np.where(has_drain[:, None], ends, stations.feet)
    profiles = measure(terrain, stations, far)
    required = site.rules["soil_grade_to_drain"] * profiles.reach
    length = np.hypot(*(far - stations.feet).T)
    whole = has_drain & (profiles.reach >= length - ROUNDING)
    with np.errstate(invalid="ignore"):
        better = whole & ~(surplus > profiles.fall - required)
    return better, profiles, required


def _drain_ends(site: Site, stations: Stations) -> tuple[Array, NDArray[np.bool_]]:
    """The nearest swale or drain inlet before each station's profile."""
    limit = np.minimum(stations.reach, site.rules["foundation_reach"])
    nearest = np.full(len(limit), np.inf)
    ends = stations.feet.copy()
    far = stations.feet + limit[:, None] * stations.outward
    lines = shapely.linestrings(np.stack([stations.feet, far], axis=1))
    for outlet in site.outlets:
        if outlet.kind not in ("swale", "ditch"):
            continue
        met = shapely.intersection(lines, outlet.place)
        for k in np.flatnonzero(~shapely.is_empty(met)):
            distance = float(shapely.distance(met[k], shapely.points(stations.feet[k])))
            if ROUNDING < distance < nearest[k]:
                nearest[k] = distance
                ends[k] = stations.feet[k] + distance * stations.outward[k]
    for drain in site.drains:
        way = np.array(drain.inlet) - stations.feet
        out = (way * stations.outward).sum(axis=1)
        to_inlet = np.hypot(way[:, 0], way[:, 1])
        before = (out > ROUNDING) & (out <= limit + ROUNDING)
        take = before & (to_inlet <= site.rules["foundation_reach"]) & (to_inlet < nearest)
        nearest[take], ends[take] = to_inlet[take], drain.inlet
    return ends, np.isfinite(nearest)


def _with_drainage(drained: Drained, profiles: Profiles, required: Array) -> tuple[Profiles, Array]:
    better, other, less = drained
    one = {
        name: np.where(better, getattr(other, name), getattr(profiles, name))
        for name in ("reach", "fall", "rise", "back_slope", "back_at")
    }
    return Profiles(profiles.out, profiles.z, **one), np.where(better, less, required)


def water_beside(terrain: Terrain, stations: Stations, standing_depth: Array) -> Array:
    """Deepest standing water in the cells that touch the foot of each profile, metres."""
    grid = terrain.grid
    deepest = np.zeros(len(stations.along))
    for cells_out in (0.25, 0.75):
        at = stations.feet + cells_out * grid.cell_size * stations.outward
        row, col, inside = grid.cells_of(at)
        inside &= ~terrain.closed[row, col]
        deepest = np.maximum(deepest, np.where(inside, standing_depth[row, col], 0.0))
    return deepest


def _records(
    stations: Stations,
    cut_by: NDArray[np.str_],
    profiles: Profiles,
    paved: Array,
    required: Array,
    verdicts: NDArray[np.str_],
    water: Array,
) -> list[Station]:
    walls = [stations.walls[number] for number in stations.wall]
    columns = (
        walls,
        stations.along.tolist(),
        stations.feet.tolist(),
        np.nan_to_num(profiles.reach).tolist(),
        cut_by.tolist(),
        profiles.fall.tolist(),
        required.tolist(),
        paved.tolist(),
        profiles.rise.tolist(),
        profiles.back_slope.tolist(),
        profiles.back_at.tolist(),
        verdicts.tolist(),
        water.tolist(),
    )
    return [
        Station(wall.building, wall.number, along, tuple(foot), wall.outward, *rest)
        for wall, along, foot, *rest in zip(*columns, strict=True)
    ]


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
    >>> all(run.start_m < run.end_m for run in runs)
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
        if other.along_m - one.along_m < 1.5 * spacing:
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
        wet = all(station.water_m > WET for station in members)
        takes = [v for v in _TAKES_CLOSE_CALLS if v in beside and (wet or v != "holds water")]
        if takes:
            groups[place] = (takes[0], members)
    return _joined(groups)


def _joined_flickers(groups: _Groups, spacing: float) -> _Groups:
    for place in range(1, len(groups) - 1):
        verdict, members = groups[place]
        before, after = groups[place - 1][0], groups[place + 1][0]
        short = verdict == "drains away" and len(members) * spacing < FLICKER
        if short and before == after and before in _JOINED:
            groups[place] = (before, members)
    return _joined(groups)


def _joined(groups: _Groups) -> _Groups:
    return [
        (verdict, [station for _, members in same for station in members])
        for verdict, same in groupby(groups, key=lambda group: group[0])
    ]


def _spacing(wall: Wall, site: Site) -> float:
    return wall.length / max(1, math.ceil(wall.length / site.rules["station_spacing"] - 1e-9))


def _run(
    site: Site,
    terrain: Terrain,
    wall: Wall,
    spacing: float,
    verdict: Verdict,
    members: Sequence[Station],
) -> WallRun:
    worst = worst_of(verdict, [s for s in members if s.verdict == verdict])
    return WallRun(
        building=wall.building,
        wall=wall.number,
        wall_name=wall.name,
        start_m=members[0].along_m - spacing / 2,
        end_m=members[-1].along_m + spacing / 2,
        verdict=verdict,
        worst=worst,
        stations=tuple(members),
        sigma_m=terrain.accuracy.sigma,
        indication=terrain.accuracy.indication_only,
        remarks=remarks_on(site, terrain, members),
        settled_by_m=needed_accuracy(site, worst) if verdict == "too close to call" else math.nan,
    )


def worst_of(verdict: Verdict, stations: Sequence[Station]) -> Station:
    """The station that decides: it lacks most fall, or rises most where the ground slopes back."""

    def shortage(station: Station) -> float:
        lacks = station.required_m - station.fall_m
        return -math.inf if math.isnan(lacks) else lacks

    if verdict == "slopes back":
        return max(stations, key=lambda s: (max(s.rise_m, -s.fall_m), shortage(s)))
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
    over = worst.rise_m - site.rules["rise_against_wall"]
    off = over if over > ROUNDING else abs(worst.fall_m - worst.required_m)
    return min(off, worst.water_m) if worst.water_m > WET else off


def _rounded_down(metres: float, units: Units) -> float:
    """To what a rod can be read to: 1/16 in or 0.5 mm; 0 where it would have to be finer."""
    step = _SIXTEENTH_INCH if units == "ft" else _HALF_MILLIMETRE
    return math.floor(metres / step + 1e-9) * step
