"""The grade at one station: the fall that is required, and the verdict on the fall that is there.

In: profiles, surfaces and the accuracy of a height. Out: verdicts and station records.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from runoff.foundation.model import Station, Verdict
from runoff.foundation.stations import Array, Profiles, Stations, lay_stations, measure
from runoff.site.model import Site
from runoff.terrain.model import Terrain, call_margin

ROUNDING = 1e-6
"""Metres of fall that are rounding only."""
LEAST_SURVEYED = 0.5
"""Share of the reach asked for that must be surveyed for a word on grade."""
WET = 1e-3
"""Standing water shallower than this, metres, is not told from wet grass."""

_SURVEY_ENDS = 0.3
"""A profile that ends this near to its reach, metres, is as long as it was asked to be."""
_VERDICTS: tuple[Verdict, ...] = get_args(Verdict)


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
    short = np.where(np.asarray(cut, dtype=bool), _VERDICTS[2], _VERDICTS[1])
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
        profiles, required = _merged(drained, profiles, required)
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
    right = station.fall - station.required >= limits.margin - ROUNDING
    right &= station.rise <= limits.rise + ROUNDING
    return station.water > WET and right


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


def _toward_drains(site: Site, terrain: Terrain, stations: Stations, surplus: Array):
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


def _merged(drained, profiles: Profiles, required: Array) -> tuple[Profiles, Array]:
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


def _records(stations: Stations, cut_by, profiles: Profiles, paved, required, verdicts, water):
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
