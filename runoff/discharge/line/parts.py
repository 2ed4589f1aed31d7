"""A buried line put together: its fittings, crossings, dig table, protection and cautions.

In: the corners of the route and of the grade, stations in metres and angles in degrees. Out:
`Fitting` records in the order of their stations.

In: a line's profile and the height of the instrument, metres. Out: rows to dig by.

In: the site, the line's profile and pipe. Out: cautions, and crossings for the stretches that lie
shallow.

In: a line's bed and profile and where it ends. Out: the `BuriedLine` record.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from shapely import Point

from runoff.discharge.ground import LotGround
from runoff.discharge.line.apron import Apron
from runoff.discharge.line.pipes import Pipe, PipeAtFlow
from runoff.discharge.line.profile import Bed, LineProfile
from runoff.discharge.line.record import BuriedLine, Crossing, DigRow, Fitting, FittingWhy, LineEnd
from runoff.discharge.line.water import end_protection, end_velocity, standing_back
from runoff.discharge.model import Caution
from runoff.discharge.reasons import ApronOnNeighbor, NotPossible
from runoff.discharge.routes import Route, apron_beyond, crossings_on
from runoff.quantities.numbers import positive
from runoff.rules import Rules
from runoff.site.model import OTHERS_GROUND, Downspout, Leader, Outlet, Site

# Pipe and joints give this much without a fitting.
_GIVES = 5.0
_FOOT = 0.0
# In steps of 22.5 degrees.
_BENDS: tuple[tuple[float, ...], ...] = (
    (22.5,),
    (45.0,),
    (45.0, 22.5),
    (45.0, 45.0),
    (45.0, 45.0, 22.5),
    (45.0, 45.0, 45.0),
)


def bends_for(degrees: float) -> tuple[float, ...]:
    """The bends for a turn, by the nearest angle sold; none where the joints give enough.

    Two 45s rather than a 90, so that leaves and a snake pass.

    Examples
    --------
    >>> bends_for(3.0), bends_for(20.0), bends_for(50.0), bends_for(90.0)
    ((), (22.5,), (45.0,), (45.0, 45.0))
    """
    if degrees < _GIVES:
        return ()
    return min(_BENDS, key=lambda bends: abs(sum(bends) - degrees))


def turns(
    points: NDArray[np.float64], stations_m: NDArray[np.float64]
) -> list[tuple[float, float]]:
    """Station and angle (degrees) of each corner of a route, (k, 2) plan metres.

    Examples
    --------
    >>> turns(np.array([[0.0, 0.0], [5.0, 0.0], [5.0, 5.0]]), np.array([5.0]))
    [(5.0, 90.0)]
    """
    legs = np.diff(points, axis=0)
    bearing = np.degrees(np.arctan2(legs[:, 1], legs[:, 0]))
    angle = np.abs((np.diff(bearing) + 180) % 360 - 180)
    return [(float(s), float(a)) for s, a in zip(stations_m, angle, strict=True)]


def grade_turns(profile: LineProfile) -> list[tuple[float, float]]:
    """Station and angle (degrees) of each break of the pipe's grade."""
    found = []
    for station in profile.breaks_m:
        grade = [_grade(profile, station, side) for side in (-1, 1)]
        found.append((station, abs(math.degrees(math.atan(grade[0]) - math.atan(grade[1])))))
    return found


def _grade(profile: LineProfile, station: float, side: int) -> float:
    x, z = profile.stations_m, profile.invert_m
    at = int(np.argmin(np.abs(x - station)))
    other = min(max(at + side, 0), len(x) - 1)
    return float((z[other] - z[at]) / (x[other] - x[at])) if other != at else 0.0


def cleanout_stations(
    length_m: float, bends: list[tuple[float, float]], rules: Rules
) -> list[tuple[float, FittingWhy]]:
    """Where cleanouts stand and why: at the foot, at sharp bends, and so far apart at most.

    Parameters
    ----------
    bends : stations (m) and angles (degrees) of the route's corners

    Examples
    --------
    >>> found = cleanout_stations(70.0, [(10.0, 90.0)], Rules())
    >>> [round(station, 2) for station, why in found]
    [0.0, 10.0, 40.0]
    """
    spacing = rules["cleanout_spacing"]
    sharp = math.degrees(math.atan(rules["cleanout_bend"]))
    found: list[tuple[float, FittingWhy]] = [(_FOOT, "foot")]
    last_bend = -math.inf
    for station, angle in bends:
        if angle > sharp + 1e-6 and station - last_bend >= rules["cleanout_bend_spacing"]:
            found.append((station, "sharp bend"))
            last_bend = station
    placed: list[tuple[float, FittingWhy]] = []
    for (station, why), until in zip(found, [*[s for s, _ in found[1:]], length_m], strict=True):
        placed.append((station, why))
        gaps = max(1, math.ceil((until - station) / spacing - 1e-9))
        placed += [(station + k * (until - station) / gaps, "spacing") for k in range(1, gaps)]
    return placed


def fittings_of(
    corners: list[tuple[float, float]],
    profile: LineProfile,
    daylight: bool,
    leader: Leader | None,
    rules: Rules,
) -> tuple[Fitting, ...]:
    """All fittings of a line.

    Parameters
    ----------
    corners : stations (m) and angles (degrees) of the route's corners
    daylight : bool, whether it ends in the open
    leader : Leader or None, what the adapter joins; None where its size is not known
    """
    end, size = float(profile.stations_m[-1]), profile.pipe.size
    found = [
        Fitting(_FOOT, "leaf screen"),
        Fitting(_FOOT, "adapter", size=size, leader=leader),
        Fitting(_FOOT, "bend", "foot", (45.0, 45.0), 90.0),
    ]
    turns_by_why: tuple[tuple[FittingWhy, list[tuple[float, float]]], ...] = (
        ("route turns", corners),
        ("grade changes", grade_turns(profile)),
    )
    for why, at in turns_by_why:
        found += [
            Fitting(station, "bend", why, bends_for(angle), angle)
            for station, angle in at
            if bends_for(angle) and station < end
        ]
    inside = [(station, angle) for station, angle in corners if station < end]
    found += [
        Fitting(station, "cleanout", why) for station, why in cleanout_stations(end, inside, rules)
    ]
    found.append(Fitting(end, "outlet grate" if daylight else "connection", size=size))
    return tuple(sorted(found, key=lambda fitting: fitting.station_m))


def instrument_height(benchmark_m: float, backsight_m: float) -> float:
    """Height of the level's line of sight: the benchmark's height and the rod read on it.

    Raises
    ------
    ValueError
        Where a number is not finite.

    Examples
    --------
    >>> round(instrument_height(820.00, 8.42), 2)
    828.42
    """
    if not np.isfinite([benchmark_m, backsight_m]).all():
        raise ValueError(f"benchmark {benchmark_m!r} or backsight {backsight_m!r} m is not finite")
    return benchmark_m + backsight_m


def dig_table(
    profile: LineProfile,
    spacing_m: float,
    instrument_m: float | None = None,
    also_at_m: Iterable[float] = (),
) -> tuple[DigRow, ...]:
    """Rows at every spacing, both ends, every grade break, the deepest place, and where asked.

    Parameters
    ----------
    profile : LineProfile
    spacing_m : float, metres between rows (5 ft or 2 m)
    instrument_m : float, height of the line of sight in the heights of the ground; optional
    also_at_m : stations of bends and fittings, metres

    Raises
    ------
    ValueError
        Where the spacing is not above 0, a station is not on the line, or the instrument stands
        below a point whose rod it must read.

    Examples
    --------
    >>> from runoff.discharge import design_profile, line_limits, pipe_of
    >>> line = design_profile([0, 30], [0, -0.9], pipe_of(4, "smooth"), line_limits())
    >>> rows = dig_table(line, 2.0, instrument_m=1.5)
    >>> len(rows), round(rows[0].cut_m, 3), round(rows[0].rod_at_bottom_m, 3)
    (12, 0.521, 2.021)
    >>> humped = design_profile([0, 7, 30], [0, 0.2, -0.9], line.pipe, line_limits())
    >>> float(humped.cut_m.max() - max(row.cut_m for row in dig_table(humped, 2.0)))
    0.0
    """
    positive(spacing_m, "spacing of the dig table", "m")
    first, last = profile.stations_m[0], profile.stations_m[-1]
    marks = [*profile.breaks_m, *also_at_m, first, last]
    if profile.exempt_from_m is not None:
        marks.append(profile.exempt_from_m)
    for mark in marks:
        if not first <= mark <= last:
            raise ValueError(f"station {mark!r} m is not on the line, {first:g} to {last:g} m")
    regular = np.arange(first, last, spacing_m)
    deepest = profile.stations_m[int(np.argmax(profile.cut_m))]
    # A row within a millimetre of another is the same stake in the ground.
    marks += [deepest] if min(abs(deepest - mark) for mark in marks) > 1e-3 else []
    kept = [s for s in regular if min(abs(s - mark) for mark in marks) > 1e-3]
    return tuple(_row(profile, float(s), instrument_m) for s in sorted({*marks, *kept}))


def _row(profile: LineProfile, station: float, instrument_m: float | None) -> DigRow:
    def at(values: np.ndarray) -> float:
        return float(np.interp(station, profile.stations_m, values))

    invert, bottom = at(profile.invert_m), at(profile.bottom_m)
    if instrument_m is not None and not instrument_m >= invert:
        raise ValueError(
            f"the instrument at {instrument_m!r} m stands below the invert at station "
            f"{station:.2f} m, {invert:.3f} m: set it up higher"
        )
    return DigRow(
        station,
        at(profile.ground_m),
        invert,
        bottom,
        at(profile.cut_m),
        at(profile.cover_m),
        None if instrument_m is None else instrument_m - invert,
        None if instrument_m is None else instrument_m - bottom,
    )


# A sump's outlet this near the line's start is likely to be joined to it.
_SUMP_NEAR = 3.0
_SHALLOW = 1e-3


def shallow_stretches(profile: LineProfile) -> list[Crossing]:
    """The stretches at the start and at the end with less than the least cover."""
    found = []
    limits, x = profile.limits, profile.stations_m
    enough = profile.cover_m >= limits.cover_m - _SHALLOW
    if not enough[0] and enough.any():
        to = float(x[int(np.argmax(enough))])
        least = float(profile.cover_m[x <= to].min())
        found.append(Crossing(0.0, to, "", "less than least cover", cover_m=least))
    if profile.exempt_from_m is not None and profile.daylight_m is not None:
        found.append(
            Crossing(profile.exempt_from_m, profile.daylight_m, "", "less than least cover")
        )
    return found


def cautions_of(
    site: Site,
    profile: LineProfile,
    pipe: Pipe,
    crossings: list[Crossing],
    assumed_footings: tuple[str, ...],
    outlet: Outlet | None,
    start: tuple[float, float],
) -> tuple[Caution, ...]:
    """What the one who digs this line must know beyond its numbers."""
    said = [each for crossing in crossings for each in _on_the_way(site, profile, crossing)]
    said += _beside_building(site, pipe, start)
    said += _cover(site, profile)
    said += _depth(site, profile)
    said += _frost(site, profile)
    said += [
        Caution("footing assumed", name, (site.rules["footing_depth_assumed"],))
        for name in assumed_footings
        if site.buildings
    ]
    said += [
        Caution("sump near", sump.name)
        for sump in site.sumps
        if math.dist(sump.outlet, start) <= _SUMP_NEAR
    ]
    if outlet is not None:
        said += _outlet(profile, outlet)
    return tuple(said)


def _on_the_way(site: Site, profile: LineProfile, crossing: Crossing) -> list[Caution]:
    """Of a shallow stretch its length, the cover asked and the least there; of a drive the cover
    that is asked under a public one.
    """
    if crossing.kind == "drive":
        public = site.rules["line_cover_public_drive"]
        return [Caution("stiff under drive", crossing.name, (public,))]
    if crossing.kind != "less than least cover":
        return []
    figures = (crossing.end_m - crossing.start_m, profile.limits.cover_m)
    if crossing.cover_m is None:
        return [Caution("last stretch shallow", figures=figures)]
    return [Caution("first stretch shallow", figures=(*figures, crossing.cover_m))]


def _beside_building(site: Site, pipe: Pipe, start: tuple[float, float]) -> list[Caution]:
    """Every line leaves a downspout nearer to the building than some pipe may lie."""
    keeps = site.rules["line_building_distance"]
    if pipe.wall == "smooth":
        return []
    return [
        Caution("approved under building", building.name, (keeps,))
        for building in site.buildings
        if building.outline.distance(Point(start)) < keeps
    ]


def _cover(site: Site, profile: LineProfile) -> list[Caution]:
    asked = site.rules["line_cover_district"]
    if profile.limits.cover_m >= asked:
        return []
    return [Caution("less cover than districts ask", figures=(profile.limits.cover_m, asked))]


def _depth(site: Site, profile: LineProfile) -> list[Caution]:
    rules, greatest = site.rules, float(profile.cut_m.max())
    said = []
    if greatest > rules["hand_digging_depth"]:
        said.append(Caution("not for hand digging", figures=(greatest,)))
    if greatest >= rules["trench_protection_depth"]:
        said.append(Caution("shoring", figures=(rules["trench_protection_depth"],)))
    elif greatest >= rules["trench_exit_depth"]:
        figures = (rules["trench_exit_depth"], rules["trench_exit_distance"])
        said.append(Caution("way out", figures=figures))
    return said


def _frost(site: Site, profile: LineProfile) -> list[Caution]:
    frost = site.soil.frost
    if frost is None:
        return [Caution("frost not given")]
    if frost > profile.limits.cover_m:
        return [Caution("frost below cover", figures=(frost,))]
    return []


def _outlet(profile: LineProfile, outlet: Outlet) -> list[Caution]:
    """Of an invert that is not given, how far below the ground it must lie at least."""
    said = [
        Caution("permission", outlet.name, note=outlet.permission)
        if outlet.permission
        else Caution("no permission", outlet.name)
    ]
    if outlet.kind == "storm inlet":
        said.append(Caution("backwater valve", outlet.name))
        if outlet.invert is None:
            below = float(profile.ground_m[-1]) - float(profile.invert_m[-1])
            said.append(Caution("invert not given", outlet.name, (below,)))
    return said


_ROWS_US, _ROWS_METRIC = 5 * 0.3048, 2.0
# Metres of a line's end that say in which direction its water flows out.
_LAST_LEG = 0.05


def assembled(
    ground: LotGround,
    downspout: Downspout,
    flow: PipeAtFlow,
    bed: Bed,
    profile: LineProfile,
    ends: LineEnd,
    outlet: Outlet | None,
) -> BuriedLine:
    """Everything to dig and buy by, from a line's profile."""
    site, route = ground.site, bed.route
    length = float(profile.stations_m[-1])
    head = standing_back(site, flow, profile, None if outlet is None else outlet.water)
    crossings = crossings_on(site, route, length, bed.trench.half_m)
    crossings = sorted([*crossings, *shallow_stretches(profile)], key=lambda c: c.start_m)
    corners = turns(route.points, route.corners_m)
    opens = profile.daylight_m is not None if outlet is None else outlet.kind != "storm inlet"
    fittings = fittings_of(corners, profile, opens, downspout.leader, site.rules)
    instrument, said = _instrument(site, profile)
    velocity = end_velocity(site, flow, profile)
    protection, apron = end_protection(site, flow, velocity, outlet) if opens else ("", None)
    end, start = route.at(length), (downspout.x, downspout.y)
    if apron is not None:
        back = route.at(max(length - _LAST_LEG, 0.0))
        said = (*said, *_apron_cautions(site, apron, end, (end[0] - back[0], end[1] - back[1])))
    near = _assumed_near(bed, profile)
    return BuriedLine(
        route=np.vstack([route.points[:1], *_inner(route, length), route.at(length)]),
        drawn=route.drawn,
        profile=profile,
        flow=flow,
        trench_width_m=bed.trench.width_m,
        greatest_cut_m=float(profile.cut_m.max()),
        rows=_rows(site, profile, fittings, crossings, instrument),
        instrument_m=instrument,
        fittings=fittings,
        crossings=tuple(crossings),
        ends=ends,
        end=end,
        head_m=head,
        apron=apron,
        protection=protection,
        cautions=(*cautions_of(site, profile, flow.pipe, crossings, near, outlet, start), *said),
        end_velocity_m_per_s=velocity,
    )


def _apron_cautions(
    site: Site, apron: Apron, end: tuple[float, float], toward: tuple[float, float]
) -> tuple[Caution, ...]:
    """Whose leave an apron that reaches over the lot's sides needs.

    Raises
    ------
    NotPossible
        Where it would lie on a neighbor's ground.
    """
    beyond = apron_beyond(site, apron, end, toward)
    for side in beyond:
        if side.neighbor in OTHERS_GROUND:
            raise NotPossible(ApronOnNeighbor(side.name, apron.length_m))
    return tuple(Caution("apron over side", side.name) for side in beyond)


def with_overflow_fitting(site: Site, line: BuriedLine, station_m: float) -> BuriedLine:
    """The line with a grated overflow fitting on it, among its fittings and in its dig table."""
    added = Fitting(station_m, "overflow fitting")
    fittings = tuple(sorted((*line.fittings, added), key=lambda each: each.station_m))
    rows = _rows(site, line.profile, fittings, line.crossings, line.instrument_m)
    return replace(line, fittings=fittings, rows=rows)


def _rows(
    site: Site,
    profile: LineProfile,
    fittings: Iterable[Fitting],
    crossings: Iterable[Crossing],
    instrument: float | None,
) -> tuple[DigRow, ...]:
    spacing = _ROWS_US if site.units == "ft" else _ROWS_METRIC
    also = _stations(fittings, crossings, float(profile.stations_m[-1]))
    return dig_table(profile, spacing, instrument, also)


def _inner(route: Route, length: float) -> list[np.ndarray]:
    return [
        corner[None, :]
        for corner, station in zip(route.points[1:-1], route.corners_m, strict=True)
        if station < length - 1e-3
    ]


def _assumed_near(bed: Bed, profile: LineProfile) -> tuple[str, ...]:
    """The buildings of assumed footing whose 45 degree line comes near this trench."""
    names = bed.footings.assumed
    lowest = np.interp(profile.stations_m, bed.route.stations_m, bed.footings.lowest_m.clip(-1e9))
    return names if (lowest > profile.bottom_m - 1.0).any() else ()


def _stations(
    fittings: Iterable[Fitting], crossings: Iterable[Crossing], length: float
) -> list[float]:
    """Where the dig table has rows besides the regular ones."""
    marks = [fitting.station_m for fitting in fittings]
    marks += [station for each in crossings for station in (each.start_m, each.end_m)]
    marks = sorted(min(max(mark, 0.0), length) for mark in marks)
    return [m for k, m in enumerate(marks) if not k or m - marks[k - 1] > 1e-3]


def _instrument(site: Site, profile: LineProfile) -> tuple[float | None, tuple[Caution, ...]]:
    """Height of the line of sight, where the benchmark and the rod on it are given."""
    mark = site.benchmark
    if mark is None or mark.backsight is None:
        return None, ()
    height = instrument_height(mark.height, mark.backsight)
    highest = float(profile.invert_m.max())
    if height < highest:
        return None, (Caution("level too low", mark.name),)
    return height, ()
