"""The buried line of one downspout: along the route drawn, else the best straight one, to daylight.

In: the lot's ground, the downspout, its water. Out: a `BuriedLine` to dig by, or `NotPossible` with
the reason. The method is in docs/lines.md.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from runoff.discharge.ground import LotGround
from runoff.discharge.line.ends import (
    A_ROUTE,
    Blocked,
    DoesNotKeepAway,
    bed_for,
    beds_for,
    by_how_much,
    come_out,
    nearest_of_all,
    route_for,
    routes_for,
    run_into,
    why_no_way_out,
)
from runoff.discharge.line.parts import assembled
from runoff.discharge.line.pipes import PipeAtFlow
from runoff.discharge.line.profile import Bed, Trench, WayOut, lay, ways_out
from runoff.discharge.line.record import BuriedLine, LineEnd
from runoff.discharge.line.water import pipe_for, trench_for
from runoff.discharge.model import WaterToMove
from runoff.discharge.reasons import (
    DrawnRoute,
    LineToPit,
    NoStraightLine,
    NotPossible,
    Simply,
    Tally,
    TooFlat,
    TowardOutlet,
)
from runoff.discharge.routes import (
    DIRECTIONS,
    Obstacles,
    Stop,
    drawn_points,
    ends_in,
    ends_of,
    may_end,
    nearest_of,
    obstacles_on,
    split_like,
    straight_ends,
)
from runoff.site.model import Downspout, Outlet

# How many places to come out are laid out in full, and how many are run in the storm, at most.
_LAID, _RUN = 40, 8


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
    route, stop = route_for(obstacles_on(ground, trench.half_m), points)
    if stop is not None:
        raise NotPossible(LineToPit(stop.why))
    bed = bed_for(ground, route, trench)
    profile = lay(ground.site, bed, route.length_m)
    return assembled(ground, downspout, flow, bed, profile, LineEnd("pit"), None)


def _drawn(ground: LotGround, downspout: Downspout, flow: PipeAtFlow, trench: Trench) -> BuriedLine:
    """The line along the drawn route; where it cannot be built no other is tried."""
    points = drawn_points(downspout)
    try:
        if len(points) < 2:
            raise NotPossible(Simply("no length"))
        outlet = ends_in(ground.site, *points[-1])
        route, stop = route_for(obstacles_on(ground, trench.half_m), points, outlet, drawn=True)
        if outlet is not None and stop is None:
            return run_into(ground, downspout, flow, bed_for(ground, route, trench), outlet)
        return _along(ground, downspout, flow, bed_for(ground, route, trench), stop)
    except NotPossible as reason:
        raise NotPossible(DrawnRoute(reason.why)) from None


def _along(
    ground: LotGround,
    downspout: Downspout,
    flow: PipeAtFlow,
    bed: Bed,
    stop: Stop | None,
) -> BuriedLine:
    """The soonest good end of a line along one route."""
    ends = ends_of(ground)
    lets = may_end(ground, ends, bed.route.xy)
    ways, soonest = ways_out(bed, lets)
    refused: list[NotPossible] = []
    for way in ways[:_RUN]:
        try:
            return come_out(ground, downspout, flow, bed, way)
        except NotPossible as reason:
            refused.append(reason)
    if refused:
        raise refused[0]
    why = why_no_way_out(ground, bed, soonest, stop)
    if isinstance(why, TooFlat) and soonest is None:
        why = replace(why, by=by_how_much(ground.site, bed, lets))
    raise NotPossible(why)


@dataclass
class _Search:
    """What straight lines were tried and what was in their way.

    `against` counts for each reason the directions or outlets that it was found against; `tries` is
    a line each: its length (m), its direction or outlet, its bed and its end. `flat` are those that
    the ground does not fall enough for, with where they might come out.
    """

    against: Tally = field(default_factory=Tally)
    tries: list[tuple[float, Hashable, Bed, WayOut | Outlet]] = field(default_factory=list)
    flat: list[tuple[Bed, NDArray[np.bool_]]] = field(default_factory=list)


def _straight(
    ground: LotGround, downspout: Downspout, flow: PipeAtFlow, trench: Trench
) -> BuriedLine:
    """The shortest straight line that works, over directions and outlets."""
    start = np.array([downspout.x, downspout.y])
    obstacles, search = obstacles_on(ground, trench.half_m), _Search()
    for outlet in ground.site.outlets:
        try:
            points = np.vstack([start, nearest_of(outlet, (downspout.x, downspout.y))])
            route, stop = route_for(obstacles, points, outlet)
            if stop is not None:
                raise NotPossible(stop.why)
            bed = bed_for(ground, route, trench)
            search.tries.append((route.length_m, outlet.name, bed, outlet))
        except NotPossible as reason:
            search.against.add(TowardOutlet(outlet.name, reason.why), outlet.name)
    for number, direction in enumerate(_directions(obstacles, start, trench)):
        if isinstance(direction, Blocked):
            continue  # into the building that the downspout stands at
        if isinstance(direction, NotPossible):
            search.against.add(direction.why, number)
            continue
        bed, stop, lets = direction
        ways, soonest = ways_out(bed, lets)
        if not ways:
            search.against.add(why_no_way_out(ground, bed, soonest, stop), number)
            if soonest is None and (stop is None or stop.at_edge):
                search.flat.append((bed, lets))
        for way in ways[:A_ROUTE]:
            search.tries.append((way.daylight_m, number, bed, way))
    found = _first_that_works(ground, downspout, flow, search)
    if found is not None:
        return found
    raise NotPossible(
        NoStraightLine(
            apart_degrees=360 / DIRECTIONS,
            to_outlets=bool(ground.site.outlets),
            most=search.against.most(3),
            nearest=nearest_of_all(by_how_much(ground.site, *each) for each in search.flat),
        )
    )


def _directions(
    obstacles: Obstacles, start: NDArray[np.float64], trench: Trench
) -> Iterator[tuple[Bed, Stop | None, NDArray[np.bool_]] | NotPossible]:
    """Of every direction the bed, what stops it and where water may be let go, or the reason."""
    ground = obstacles.ground
    ends = straight_ends(ground.terrain, (float(start[0]), float(start[1])))
    ahead = routes_for(obstacles, [np.vstack([start, end]) for end in ends])
    routes = [each[0] for each in ahead if not isinstance(each, NotPossible)]
    beds = iter(beds_for(ground, routes, trench))
    places = [route.xy for route in routes]
    lets = iter(split_like(may_end(ground, ends_of(ground), _all(places)), places))
    for each in ahead:
        if isinstance(each, NotPossible):
            yield each
            continue
        bed, there = next(beds), next(lets)
        yield bed if isinstance(bed, NotPossible) else (bed, each[1], there)


def _all(places: list[NDArray[np.float64]]) -> NDArray[np.float64]:
    return np.concatenate(places) if places else np.empty((0, 2))


def _first_that_works(
    ground: LotGround, downspout: Downspout, flow: PipeAtFlow, search: _Search
) -> BuriedLine | None:
    """Lay out the nearest ends until one keeps the water away; outlets do so untried."""
    laid = run = 0
    for _, whose, bed, end in sorted(search.tries, key=lambda each: each[0]):
        try:
            if isinstance(end, Outlet):
                return run_into(ground, downspout, flow, bed, end)
            laid += 1
            if laid <= _LAID and run < _RUN:
                return come_out(ground, downspout, flow, bed, end)
            search.against.add(Simply("farther than tried"), whose)
        except NotPossible as reason:
            search.against.add(reason.why, whose)
            run += isinstance(reason, DoesNotKeepAway)
    return None
