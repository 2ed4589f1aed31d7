"""How a line along one route ends: at daylight where it may, in an outlet, or nowhere and why.

In: a route made ready to lay a line on. Out: a `BuriedLine`, or `NotPossible` with the reason.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from runoff.discharge.ground import LotGround, harms_of
from runoff.discharge.line.parts import assembled
from runoff.discharge.line.pipes import PipeAtFlow
from runoff.discharge.line.profile import Bed, LineProfile, Trench, WayOut, bed_of, lay, ways_out
from runoff.discharge.line.record import BuriedLine, LineEnd
from runoff.discharge.line.water import least_cover
from runoff.discharge.reasons import (
    BelowOutlet,
    ByHowMuch,
    EndsWrongly,
    NotPossible,
    Simply,
    Stopped,
    TooFlat,
    WaterDoesHarm,
    WhyNot,
)
from runoff.discharge.routes import (
    Obstacles,
    Route,
    Stop,
    ends_in,
    footings_along,
    paving_on_each,
    routes_through,
    stops_on,
    why_not_end,
)
from runoff.flow.paths import OUTLET_REACH, line_of, part_up_to
from runoff.site.model import Downspout, Outlet, Site

# A line shorter than this (m) is not worth a trench.
SHORTEST = 0.5
# How many ends of one route are tried.
A_ROUTE = 3
# To which a cover that would do is looked for, metres.
_COVER_STEP = 0.003


class DoesNotKeepAway(NotPossible):
    """A place to come out whose water the storm brings back, or onto a neighbor."""


class Blocked(NotPossible):
    """A route that cannot even be started."""


def route_for(
    obstacles: Obstacles,
    points: NDArray[np.float64],
    outlet: Outlet | None = None,
    drawn: bool = False,
) -> tuple[Route, Stop | None]:
    """A route with its ground, up to what first stops it, and that stop.

    Raises
    ------
    Blocked
        Where it stops at once.
    NotPossible
        Where there is no ground to lay a line in.
    """
    (found,) = routes_for(obstacles, [points], outlet, drawn)
    if isinstance(found, NotPossible):
        raise found
    return found


def routes_for(
    obstacles: Obstacles,
    every: Sequence[NDArray[np.float64]],
    outlet: Outlet | None = None,
    drawn: bool = False,
) -> list[tuple[Route, Stop | None] | NotPossible]:
    """As `route_for`, of many routes at once; the reason where one is not possible."""
    lines = np.array([line_of(points) for points in every])
    stops = stops_on(obstacles, lines, outlet)
    lengths = [
        line.length if stop is None else stop.station_m
        for line, stop in zip(lines, stops, strict=True)
    ]
    cut = [
        part_up_to(points, length)
        for points, length in zip(every, lengths, strict=True)
        if length >= SHORTEST
    ]
    routes = iter(routes_through(obstacles.ground, cut, drawn, outlet))
    return [
        _up_to_its_stop(next(routes), stop)
        if length >= SHORTEST
        else Blocked(Simply("too short") if stop is None else stop.why)
        for stop, length in zip(stops, lengths, strict=True)
    ]


def _up_to_its_stop(
    route: Route | None, stop: Stop | None
) -> tuple[Route, Stop | None] | NotPossible:
    if route is None:
        return NotPossible(Simply("no ground at the foot"))
    if route.leaves_survey:
        stop = Stop(route.length_m, Stopped("leaves the survey"), at_edge=True)
        if len(route.stations_m) < 3 or route.length_m < SHORTEST:
            return Blocked(stop.why)
    return route, stop


def bed_for(ground: LotGround, route: Route, trench: Trench) -> Bed:
    """A route made ready to lay a line on.

    Raises
    ------
    NotPossible
        As `bed_of`.
    """
    (found,) = beds_for(ground, [route], trench)
    if isinstance(found, NotPossible):
        raise found
    return found


def beds_for(ground: LotGround, routes: Sequence[Route], trench: Trench) -> list[Bed | NotPossible]:
    """As `bed_for`, of many routes at once; the reason where one is not possible."""
    footings = footings_along(ground, routes, trench.half_m)
    pavings = paving_on_each(ground.site, np.array([route.line for route in routes]))
    found: list[Bed | NotPossible] = []
    for route, beside, over in zip(routes, footings, pavings, strict=True):
        try:
            found.append(bed_of(ground.site, route, trench, beside, over))
        except NotPossible as reason:
            found.append(reason)
    return found


def why_no_way_out(ground: LotGround, bed: Bed, soonest: float | None, stop: Stop | None) -> WhyNot:
    """Why a line along a route comes out nowhere that it may."""
    if soonest is not None:
        why = why_not_end(ground, *bed.route.at(soonest))
        if why is not None and why.code != "off the lot":
            return EndsWrongly(why)
        if bed.paved[bed.first :].any():
            return Simply("little cover under paving")
    if stop is not None and not stop.at_edge:
        return stop.why
    limits = bed.trench.limits
    on: Literal["lot", "survey"] = "survey" if ground.site.lot is None else "lot"
    return TooFlat(limits.cover_m, limits.slope, on)


def by_how_much(site: Site, bed: Bed, lets: NDArray[np.bool_]) -> ByHowMuch | None:
    """How near to coming out a line along a route is; None where it lacks no fall."""
    limits, pipe = bed.trench.limits, bed.trench.pipe
    x = bed.route.stations_m[bed.first :]
    held = bed.lowered_m[bed.first :] + limits.slope * (x - x[0])
    if site.lot is not None:
        on_lot = shapely.contains_xy(
            site.lot.boundary.buffer(_COVER_STEP), *bed.route.xy[bed.first :].T
        )
        held = np.where(on_lot, held, np.inf)
    at = 1 + int(np.argmin(held[1:]))
    short = float(held[at] - held[0]) + bed.trench.depth_m
    if short <= 0.0:
        return None
    found = ByHowMuch(short, float(x[at]))
    low = max(site.rules["line_depth"] - pipe.bore_m - pipe.wall_m, least_cover(site, pipe))
    high = limits.cover_m

    def comes_out(cover: float) -> bool:
        trench = replace(bed.trench, limits=replace(limits, cover_m=cover))
        return bool(ways_out(replace(bed, trench=trench), lets)[0])

    if not comes_out(low):
        return found
    while high - low > _COVER_STEP:
        middle = (low + high) / 2
        low, high = (middle, high) if comes_out(middle) else (low, middle)
    return replace(found, cover_m=low)


def nearest_of_all(every: Iterable[ByHowMuch | None]) -> ByHowMuch | None:
    """The one that would come out with most cover; where none would, that lies least too low."""
    return max(
        (each for each in every if each is not None),
        key=lambda each: (-np.inf if each.cover_m is None else each.cover_m, -each.below_m),
        default=None,
    )


def come_out(
    ground: LotGround, downspout: Downspout, flow: PipeAtFlow, bed: Bed, way: WayOut
) -> BuriedLine:
    """The line that comes out by one way, confirmed by the storm."""
    profile = lay(ground.site, bed, way.buried_to_m)
    if profile.daylight_m is None:
        raise NotPossible(Simply("does not come out"))
    x, y = bed.route.at(profile.daylight_m)
    outlet = ends_in(ground.site, x, y)
    if outlet is None:
        why = why_not_end(ground, x, y)
        if why is not None:
            raise NotPossible(EndsWrongly(why))
        answer = ground.answer_at(downspout, x, y)
        for harm in harms_of(ground, answer):
            refused = NotPossible if harm.code == "sidewalk" else DoesNotKeepAway
            raise refused(WaterDoesHarm("line", harm))
        ends = LineEnd("daylight", crosses=answer.crosses)
    else:
        ends = _into(outlet)
    return assembled(ground, downspout, flow, bed, profile, ends, outlet)


def _into(outlet: Outlet) -> LineEnd:
    return LineEnd("outlet", outlet.name, outlet.kind)


def run_into(
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
    return assembled(ground, downspout, flow, bed, profile, _into(outlet), outlet)


def _into_the_open(
    ground: LotGround, downspout: Downspout, flow: PipeAtFlow, bed: Bed, outlet: Outlet
) -> BuriedLine:
    x, y = bed.route.xy.T
    near = np.hypot(x - x[-1], y - y[-1]) <= OUTLET_REACH
    ways, _ = ways_out(bed, near)
    for way in ways[:A_ROUTE]:
        try:
            return come_out(ground, downspout, flow, bed, way)
        except NotPossible:
            continue
    raise NotPossible(BelowOutlet(outlet.name, bed.trench.limits.cover_m))


def _held_above(site: Site, bed: Bed, outlet: Outlet) -> LineProfile:
    """The line held high enough at its end, its last stretch with less than the least cover."""
    invert = outlet.invert
    if invert is None:
        raise ValueError(f"outlet '{outlet.name}' has no invert to hold a line above")
    x = bed.route.stations_m[bed.first :]
    h = bed.lowered_m[bed.first :] - bed.trench.depth_m + bed.trench.limits.slope * x
    needed = invert + bed.trench.limits.slope * x[-1]
    enough = np.flatnonzero(np.minimum.accumulate(h) >= needed - 1e-9)
    paved = np.flatnonzero(bed.paved[bed.first :])
    last = int(enough[-1]) if len(enough) else -1
    if last < 0 or (len(paved) and x[last] < x[paved[-1]] and paved[-1] < len(x) - 1):
        raise NotPossible(BelowOutlet(outlet.name))
    profile = lay(site, bed, float(x[last]))
    early = profile.daylight_m is not None and profile.daylight_m < x[-1] - OUTLET_REACH
    if early or profile.invert_m[-1] < invert - 1e-6:
        raise NotPossible(BelowOutlet(outlet.name))
    return profile
