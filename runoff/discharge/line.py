"""The buried line of one downspout: along the route drawn, else the best straight one, to daylight.

In: the lot's ground, the downspout, its water. Out: a `BuriedLine` to dig by, or `NotPossible` with
the reason. The method is in docs/lines.md.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np

from runoff.discharge.digging import dig_table, instrument_height
from runoff.discharge.fittings import fittings_of, turns
from runoff.discharge.line_cautions import cautions_of, shallow_stretches
from runoff.discharge.line_levels import Bed, Trench, WayOut, bed_of, lay, ways_out
from runoff.discharge.line_water import end_protection, pipe_for, standing_back, trench_for
from runoff.discharge.lot import LotGround
from runoff.discharge.obstacles import (
    Stop,
    crossings_on,
    ends_in,
    footings_along,
    may_end,
    stop_on,
    why_not_end,
)
from runoff.discharge.pipes import PipeAtFlow
from runoff.discharge.profile import LineProfile
from runoff.discharge.routes import (
    Route,
    drawn_points,
    nearest_of,
    route_through,
    straight_ends,
)
from runoff.discharge.safety import reaches_foundation, reaches_neighbor
from runoff.discharge.ways import BuriedLine, Crossing, NotPossible, WaterToMove
from runoff.foundation.safe_area import OUTLET_REACH
from runoff.quantities import format_length
from runoff.site.model import Downspout, Outlet, Site

FOOT = 0.3048
_ROWS_US, _ROWS_METRIC = 5 * FOOT, 2.0
# How many places to come out are laid out in full, and how many are run in the storm, at most.
_LAID, _RUN, _A_ROUTE = 40, 8, 3
_SHORTEST = 0.5
_FLAT = (
    "the ground does not fall enough for a line with {cover} of cover and a slope of {slope} to "
    "come out {where}"
)


def buried_line(ground: LotGround, downspout: Downspout, water: WaterToMove) -> BuriedLine:
    """The line to daylight or to an outlet, along the drawn route or the shortest straight one.

    Where the user drew a route no other is tried. Straight routes run every 5 degrees and to the
    nearest point of each outlet; the shortest line that works is taken.

    Raises
    ------
    NotPossible
        With the reason, where none can be built.
    """
    flow = pipe_for(ground.site, downspout, water)
    trench = trench_for(ground.site, flow.pipe)
    if downspout.route is not None and len(downspout.route):
        return _drawn(ground, downspout, flow, trench)
    return _straight(ground, downspout, flow, trench)


def line_to_pit(
    ground: LotGround, downspout: Downspout, water: WaterToMove, point: tuple[float, float]
) -> BuriedLine:
    """The straight line from a downspout into a seepage pit whose inlet is at a point.

    It keeps its least cover all the way; its last invert is the pit's inlet.

    Raises
    ------
    NotPossible
        With the reason, where it cannot be built.
    """
    flow = pipe_for(ground.site, downspout, water)
    trench = trench_for(ground.site, flow.pipe)
    points = np.array([[downspout.x, downspout.y], point], dtype=np.float64)
    route, stop = _route(ground, points, None, trench)
    if stop is not None:
        raise NotPossible(f"the line to the pit cannot be built: {stop.why}")
    bed = _bed(ground, route, trench)
    profile = lay(ground.site, bed, route.length_m)
    return _assembled(ground, downspout, flow, bed, profile, "it runs into the seepage pit", None)


def _route(
    ground: LotGround,
    points: np.ndarray,
    outlet: Outlet | None,
    trench: Trench,
    drawn: bool = False,
) -> tuple[Route, Stop | None]:
    """A route with its ground, and what first stops it."""
    site = ground.site
    if np.hypot(*np.diff(points, axis=0).T).sum() < _SHORTEST:
        raise NotPossible("the line would be too short to lay")
    try:
        route = route_through(site, ground.terrain, points, drawn, outlet)
    except ValueError as reason:
        raise NotPossible(str(reason)) from None
    if len(route.stations_m) < 3:
        raise NotPossible("it would leave the survey at once")
    stop = stop_on(ground, route.line, outlet, trench.half_m)
    if stop is None and route.leaves_survey:
        stop = Stop(route.length_m, "it would leave the survey")
    return route, stop


def _cut(route: Route, station_m: float) -> Route:
    """A route up to a station."""
    keep = route.stations_m < station_m
    return replace(
        route,
        stations_m=route.stations_m[keep],
        xy=route.xy[keep],
        ground_m=route.ground_m[keep],
    )


def _bed(ground: LotGround, route: Route, trench: Trench) -> Bed:
    footings = footings_along(ground, route, trench.half_m)
    return bed_of(ground.site, route, trench, footings)


def _drawn(ground: LotGround, downspout: Downspout, flow: PipeAtFlow, trench: Trench) -> BuriedLine:
    """The line along the drawn route; where it cannot be built no other is tried."""
    points = drawn_points(downspout)
    try:
        if len(points) < 2:
            raise NotPossible("it has no length")
        outlet = ends_in(ground.site, *points[-1])
        route, stop = _route(ground, points, outlet, trench, drawn=True)
        if outlet is not None and stop is None:
            return _to_outlet(ground, downspout, flow, _bed(ground, route, trench), outlet)
        if stop is not None:
            route = _up_to(ground.site, route, stop)
        return _along(ground, downspout, flow, _bed(ground, route, trench), stop)
    except NotPossible as reason:
        raise NotPossible(
            f"the route drawn for its line cannot be built: {reason}; no other route was tried"
        ) from None


def _up_to(site: Site, route: Route, stop: Stop) -> Route:
    kept = _cut(route, stop.station_m)
    if len(kept.stations_m) < 3 or kept.length_m < _SHORTEST:
        raise NotPossible(stop.why)
    return kept


def _along(
    ground: LotGround,
    downspout: Downspout,
    flow: PipeAtFlow,
    bed: Bed,
    stop: Stop | None,
) -> BuriedLine:
    """The soonest good end of a line along one route."""
    ways, soonest = ways_out(bed, may_end(ground, bed.route.xy))
    reason = ""
    for way in ways[:_RUN]:
        try:
            return _ending(ground, downspout, flow, bed, way)
        except NotPossible as failed:
            reason = reason or str(failed)
    raise NotPossible(reason or _no_way_out(ground, bed, soonest, stop))


def _no_way_out(ground: LotGround, bed: Bed, soonest: float | None, stop: Stop | None) -> str:
    """Why a line along a route comes out nowhere that it may."""
    if soonest is not None:
        why = why_not_end(ground, *bed.route.at(soonest))
        if why:
            return f"it would come out {why}"
        if bed.paved[bed.first :].any():
            return "it would pass under paving with too little cover"
    if stop is not None and "survey" not in stop.why and "leave the lot" not in stop.why:
        return stop.why
    limits, site = bed.trench.limits, ground.site
    return _FLAT.format(
        cover=_length(site, limits.cover_m),
        slope=f"{limits.slope:.3g}" if limits.slope < 0.001 else f"{limits.slope * 100:.3g} %",
        where="on the lot" if site.lot is not None else "on the survey",
    )


def _ending(
    ground: LotGround, downspout: Downspout, flow: PipeAtFlow, bed: Bed, way: WayOut
) -> BuriedLine:
    """The line that comes out by one way, confirmed by the storm."""
    profile = lay(ground.site, bed, way.buried_to_m)
    if profile.daylight_m is None:
        raise NotPossible("it does not come out")
    x, y = bed.route.at(profile.daylight_m)
    outlet = ends_in(ground.site, x, y)
    if outlet is None:
        why = why_not_end(ground, x, y)
        if why:
            raise NotPossible(f"it would come out {why}")
        answer = ground.answer_at(downspout, x, y)
        against = reaches_foundation(ground, answer)
        if against:
            raise NotPossible(f"its water would not keep away: {against}")
        if reaches_neighbor(answer):
            raise NotPossible("its water would run onto a neighbor")
    ends = "it comes to daylight" if outlet is None else _into(outlet)
    return _assembled(ground, downspout, flow, bed, profile, ends, outlet)


def _into(outlet: Outlet) -> str:
    return f"it ends in '{outlet.name}' ({outlet.kind})"


def _to_outlet(
    ground: LotGround, downspout: Downspout, flow: PipeAtFlow, bed: Bed, outlet: Outlet
) -> BuriedLine:
    """The line along a route that ends in an outlet, at or above its invert where that is known."""
    site, end = ground.site, bed.route.length_m
    closed = outlet.kind == "storm inlet"
    if not closed and outlet.invert is None:
        return _into_the_open(ground, downspout, flow, bed, outlet)
    profile = lay(site, bed, end)
    if outlet.invert is not None and profile.invert_m[-1] < outlet.invert - 1e-6:
        profile = _held_above(site, bed, outlet)
    return _assembled(ground, downspout, flow, bed, profile, _into(outlet), outlet)


def _into_the_open(
    ground: LotGround, downspout: Downspout, flow: PipeAtFlow, bed: Bed, outlet: Outlet
) -> BuriedLine:
    x, y = bed.route.xy.T
    near = np.hypot(x - x[-1], y - y[-1]) <= OUTLET_REACH
    ways, _ = ways_out(bed, near)
    for way in ways[:_A_ROUTE]:
        try:
            return _ending(ground, downspout, flow, bed, way)
        except NotPossible:
            continue
    cover = _length(ground.site, bed.trench.limits.cover_m)
    raise NotPossible(
        f"under {cover} of cover it does not come out above the bottom of '{outlet.name}'"
    )


def _held_above(site: Site, bed: Bed, outlet: Outlet) -> LineProfile:
    """The line held high enough at its end, its last stretch with less than the least cover."""
    x = bed.route.stations_m[bed.first :]
    h = bed.lowered_m[bed.first :] - bed.trench.depth_m + bed.trench.limits.slope * x
    needed = outlet.invert + bed.trench.limits.slope * x[-1]
    enough = np.flatnonzero(np.minimum.accumulate(h) >= needed - 1e-9)
    paved = np.flatnonzero(bed.paved[bed.first :])
    last = int(enough[-1]) if len(enough) else -1
    if last < 0 or (len(paved) and x[last] < x[paved[-1]] and paved[-1] < len(x) - 1):
        raise NotPossible(_too_low(site, outlet))
    profile = lay(site, bed, float(x[last]))
    early = profile.daylight_m is not None and profile.daylight_m < x[-1] - OUTLET_REACH
    if early or profile.invert_m[-1] < outlet.invert - 1e-6:
        raise NotPossible(_too_low(site, outlet))
    return profile


def _too_low(site: Site, outlet: Outlet) -> str:
    return f"with its cover and slope it would arrive below the invert of '{outlet.name}'"


def _straight(
    ground: LotGround, downspout: Downspout, flow: PipeAtFlow, trench: Trench
) -> BuriedLine:
    """The shortest straight line that works, over directions and outlets."""
    start = np.array([downspout.x, downspout.y])
    refused: Counter[str] = Counter()
    tries: list[tuple[float, Bed, WayOut | Outlet]] = []
    for outlet in ground.site.outlets:
        try:
            points = np.vstack([start, nearest_of(outlet, (downspout.x, downspout.y))])
            route, stop = _route(ground, points, outlet, trench)
            if stop is not None:
                raise NotPossible(stop.why)
            tries.append((route.length_m, _bed(ground, route, trench), outlet))
        except NotPossible as reason:
            refused[f"toward '{outlet.name}' {reason}"] += 1
    for end in straight_ends(ground.site, ground.terrain, (downspout.x, downspout.y)):
        try:
            route, stop = _route(ground, np.vstack([start, end]), None, trench)
            if stop is not None and stop.station_m < _SHORTEST:
                continue  # into the building that it stands at
            if stop is not None:
                route = _up_to(ground.site, route, stop)
            bed = _bed(ground, route, trench)
            ways, soonest = ways_out(bed, may_end(ground, bed.route.xy))
            if not ways:
                raise NotPossible(_no_way_out(ground, bed, soonest, stop))
            tries += [(way.daylight_m, bed, way) for way in ways[:_A_ROUTE]]
        except NotPossible as reason:
            refused[str(reason)] += 1
    found = _first_that_works(ground, downspout, flow, tries, refused)
    if found is not None:
        return found
    raise NotPossible(f"no straight line works: {_told(refused)}")


def _told(refused: Counter[str]) -> str:
    """The reasons that most directions share."""
    reasons = [
        f"{reason} (in {count} of the directions tried)" if count > 1 else reason
        for reason, count in refused.most_common(3)
    ]
    return "; ".join(reasons) or "every direction leads under or along the building"


def _first_that_works(
    ground: LotGround,
    downspout: Downspout,
    flow: PipeAtFlow,
    tries: list[tuple[float, Bed, WayOut | Outlet]],
    refused: Counter[str],
) -> BuriedLine | None:
    run = 0
    for _, bed, end in sorted(tries, key=lambda each: each[0])[:_LAID]:
        try:
            if isinstance(end, Outlet):
                return _to_outlet(ground, downspout, flow, bed, end)
            return _ending(ground, downspout, flow, bed, end)
        except NotPossible as reason:
            refused[str(reason)] += 1
            run += "its water would" in str(reason)
        if run >= _RUN:
            break
    return None


def _assembled(
    ground: LotGround,
    downspout: Downspout,
    flow: PipeAtFlow,
    bed: Bed,
    profile: LineProfile,
    ends: str,
    outlet: Outlet | None,
) -> BuriedLine:
    """Everything to dig and buy by, from a line's profile."""
    site, route = ground.site, bed.route
    length = float(profile.stations_m[-1])
    head = standing_back(site, flow, profile, None if outlet is None else outlet.water)
    crossings = crossings_on(site, route, length, bed.trench.half_m)
    crossings = sorted([*crossings, *shallow_stretches(site, profile)], key=lambda c: c.start_m)
    corners = turns(route.points, route.corners_m)
    opens = profile.daylight_m is not None
    fittings = fittings_of(corners, profile, opens, _leader_words(site, downspout), site.rules)
    instrument, said = _instrument(site, profile)
    also = _stations(fittings, crossings, length)
    protection, apron = end_protection(site, flow, profile) if opens else ("", None)
    start = (downspout.x, downspout.y)
    near = _assumed_near(bed, profile)
    return BuriedLine(
        route=np.vstack([route.points[:1], *_inner(route, length), route.at(length)]),
        drawn=route.drawn,
        profile=profile,
        flow=flow,
        trench_width_m=bed.trench.width_m,
        greatest_cut_m=float(profile.cut_m.max()),
        rows=dig_table(profile, _ROWS_US if site.units == "ft" else _ROWS_METRIC, instrument, also),
        instrument_m=instrument,
        fittings=fittings,
        crossings=tuple(crossings),
        ends=ends,
        end=route.at(length),
        head_m=head,
        apron=apron,
        protection=protection,
        cautions=(*cautions_of(site, profile, flow, crossings, near, outlet, start), *said),
    )


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


def _stations(fittings, crossings: list[Crossing], length: float) -> list[float]:
    marks = [fitting.station_m for fitting in fittings]
    marks += [station for each in crossings for station in (each.start_m, each.end_m)]
    marks = sorted(min(max(mark, 0.0), length) for mark in marks)
    return [m for k, m in enumerate(marks) if not k or m - marks[k - 1] > 1e-3]


def _instrument(site: Site, profile: LineProfile) -> tuple[float | None, tuple[str, ...]]:
    """Height of the line of sight, where the benchmark and the rod on it are given."""
    mark = site.benchmark
    if mark is None or mark.backsight is None:
        return None, ()
    height = instrument_height(mark.height, mark.backsight)
    highest = float(profile.invert_m.max())
    if height < highest:
        return None, (
            f"From the backsight on '{mark.name}' the level stands below part of this line: set "
            "it up higher for rod readings.",
        )
    return height, ()


def _leader_words(site: Site, downspout: Downspout) -> str:
    leader = downspout.leader
    if leader is None:
        return "leader"
    if leader.shape == "round":
        return f"{_length(site, leader.width)} round leader"
    return f"{_length(site, leader.width)} x {_length(site, leader.depth)} leader"


def _length(site: Site, metres: float) -> str:
    return format_length(metres, "us" if site.units == "ft" else "metric", 4)
