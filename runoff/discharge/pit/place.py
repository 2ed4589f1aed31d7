"""A seepage pit (dry well, roof water only) for one downspout: where, how large, how it
overflows, what to mind.

In: a site, and what the search for a place found. Out: why there is none.

In: the lot's ground, a downspout, and the lowest place over its pit. Out: the failure, with the
path of the whole storm let go there, or `NotPossible`: a larger storm will come.

In: the lot's ground, a downspout and its water. Out: the pit nearest to the downspout that keeps
every setback, stays clear of the groundwater, holds what it must and overflows safely.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np
from numpy.typing import NDArray
from shapely import Point, Polygon, points, union_all
from shapely import distance as distances
from shapely.ops import nearest_points

from runoff.discharge.ground import LotGround, harms_of, nearest_building, reaches_neighbor
from runoff.discharge.line.design import line_to_pit
from runoff.discharge.line.record import BuriedLine
from runoff.discharge.model import Caution, Failure, WaterToMove
from runoff.discharge.pit.search import (
    HALF,
    PitPlace,
    Search,
    in_the_way,
    inlet_depth_m,
    keeps_at,
    layers_below,
    least_bottom_m,
    no_depth_left,
    pit_distance,
    places_for,
    refuse_no_depth,
    search_of,
    setbacks_of,
    soil_over_inlet_m,
    usual_pipe,
)
from runoff.discharge.pit.size import (
    Pit,
    PitCheck,
    PitNeeds,
    SeepagePit,
    TooLarge,
    box_of_depth,
    needs_of,
    steps_within,
    trench_of_depth,
    whole_steps,
)
from runoff.discharge.pit.soil import DesignRate, soil_of
from runoff.discharge.reasons import (
    Clearance,
    EveryPlace,
    GrowsAtFoundation,
    NoPlace,
    NotPossible,
    OverflowsOn,
    Simply,
    Tally,
    WaterDoesHarm,
    WhyNot,
)
from runoff.flow.model import DownspoutAnswer
from runoff.flow.storm import LetGo, roof_water
from runoff.site.model import Downspout, Site
from runoff.terrain.model import call_margin

_ROUNDING = 1e-6


def of_drop(drop: float) -> Iterator[Caution]:
    """The line's end lies this much (m) above the pit's inlet."""
    if drop > _ROUNDING:
        yield Caution("silt trap drop", figures=(drop,))


def of_frost(site: Site, dig_depth: float) -> Iterator[Caution]:
    """The ground may freeze below a pit of this depth (m)."""
    if site.soil.frost is not None and site.soil.frost >= dig_depth:
        yield Caution("freezes below pit", figures=(site.soil.frost,))


def of_site(site: Site) -> Iterator[Caution]:
    """What nobody said, and a pit depends on, with what it must keep away by."""
    rules, soil = site.rules, site.soil
    if soil.groundwater is None:
        yield Caution("groundwater not given", figures=(rules["pit_groundwater_clearance"],))
    if soil.bedrock is None:
        yield Caution("bedrock not given", figures=(rules["pit_bedrock_clearance"],))
    yield Caution("roofs that poison")
    if site.lot is None:
        yield Caution("lot not given", figures=(pit_distance(site, "pit_lot_line_distance"),))
    unsaid = tuple(each.name for each in site.own_buildings if each.kind is None)
    if unsaid and site.units == "ft":
        far = (rules["pit_basement_distance"],)
        yield Caution("basement not given", figures=far, names=unsaid)


def of_well(site: Site, body: Pit, dig_depth: float) -> Iterator[Caution]:
    """In the US some pits count as disposal wells (EPA, Class V, read)."""
    if site.units != "ft":
        return
    if dig_depth > max(body.length_m, body.width_m):
        yield Caution("disposal well by depth")
    elif body.kind in ("trench", "chamber"):
        yield Caution("disposal well by pipe")


def why_not(site: Site, search: Search, refusals: Tally) -> WhyNot:
    """The refusal that the most places met; with no place at all, what is in the way."""
    for most in refusals.most(1):
        return EveryPlace(most.why)
    if not len(search.x):
        return Simply("no low ground for a pit")
    if not search.seen.any():
        return Simply("no straight line to a pit")
    if search.depth[search.seen].max() < site.rules["pit_least_depth"]:
        return Simply("no depth for a pit")
    return NoPlace(
        tuple(Clearance(each.of, each.name, each.distance) for each in in_the_way(search))
    )


FLAT = "too flat to leave"


@dataclass(frozen=True)
class Overflow:
    """The failure of a full pit, and what to warn of."""

    failure: Failure
    warnings: tuple[Caution, ...]


def overflow_of(ground: LotGround, downspout: Downspout, at: tuple[float, float]) -> Overflow:
    """Let the whole storm go over a full pit, and say where it runs.

    On ground too flat to lead it away the water spreads and stands: the storm is run with it, and
    nowhere near a foundation may the water stand higher than it does without it. There its path is
    a mere drift, so that a neighbor beyond is warned of, and a foundation counts where the ground
    falls to it by more than the survey can tell; where it runs, either refuses the pit.

    Parameters
    ----------
    at : (x, y)
        The lowest place over the pit, plan metres.

    Raises
    ------
    NotPossible
        Where it comes to a foundation, onto a neighbor, or nobody knows where.
    """
    answer = ground.answer_at(downspout, *at)
    reason = ground.reason_against(*at)
    drifts = reason == FLAT and answer.returns and not _falls_back(ground, answer)
    harms = harms_of(ground, replace(answer, returns=False) if drifts else answer)
    by_code = {harm.code: WaterDoesHarm("full pit", harm) for harm in harms}
    if "foundation" in by_code:
        raise NotPossible(by_code["foundation"])
    if (refused := refused_at(ground, at)) is not None:
        raise NotPossible(refused)
    if reason != FLAT and "sidewalk" in by_code:
        raise NotPossible(by_code["sidewalk"])
    if reason == FLAT and _grows_at_foundations(ground, downspout, at):
        raise NotPossible(GrowsAtFoundation(ground.site.rules["pond_foundation_distance"]))
    return _overflow(answer, at, spreads=reason == FLAT)


def refused_at(ground: LotGround, at: tuple[float, float]) -> OverflowsOn | None:
    """Why no pit may overflow here by the map of safe ground alone; None where it may."""
    reason = ground.reason_against(*at)
    return None if reason in ("safe", FLAT) else OverflowsOn(reason)


def _falls_back(ground: LotGround, answer: DownspoutAnswer) -> bool:
    """Whether the ground falls to where a path comes back, by more than the survey can tell."""
    walls = union_all([building.outline for building in ground.site.buildings])
    near = distances(points(answer.path), walls) < ground.site.rules["near_foundation"]
    heights = [ground.height(x, y) for x, y in answer.path[near]]
    told_apart = call_margin(ground.site.height_accuracy.sigma)
    return bool(ground.height(*answer.start) - np.nanmin(heights, initial=np.inf) > told_apart)


def _overflow(answer: DownspoutAnswer, at: tuple[float, float], spreads: bool) -> Overflow:
    failure = Failure(
        kind="pit full",
        at=at,
        path=answer.path,
        reached=None,
        onto_neighbor=reaches_neighbor(answer) and not spreads,
        end=answer.end,
        comes_out="observation pipe",
        crosses=() if spreads else answer.crosses,
        spreads=spreads,
    )
    drifts = spreads and reaches_neighbor(answer)
    return Overflow(failure, (Caution("overflow may drift"),) if drifts else ())


def _grows_at_foundations(ground: LotGround, downspout: Downspout, at: tuple[float, float]) -> bool:
    """Whether the water let go here stands anywhere near a foundation, beyond what does anyway."""
    if not ground.site.buildings:
        return False
    cell, water = ground.flow.grid.cell(*at), roof_water(ground.site, downspout, 1.0)
    here = LetGo(cell, water, place=at)
    with_it, without = (
        ground.run_with({downspout.name: let_go}).ponding.depth() for let_go in (here, None)
    )
    rows, cols = np.nonzero(with_it > without + _ROUNDING)
    x, y = ground.flow.grid.centers()
    walls = union_all([building.outline for building in ground.site.buildings])
    away = distances(points(x[cols], y[rows]), walls)
    return bool((away < ground.site.rules["pond_foundation_distance"]).any())


_Floats = NDArray[np.float64]
# Each place tried asks for a line and a storm: so many for each shape, and in all.
_TRIES_EACH, _TRIES = 3, 24
# Steps of depth by which a pit may be deeper than foreseen: a narrow trench across a slope has less
# fall over it.
_DEEPER = (0, 2)
# A larger plan may reach lower ground, and ask for a larger one again.
_SIZES = 4


@dataclass(frozen=True)
class _Task:
    ground: LotGround
    downspout: Downspout
    water: WaterToMove
    rate: DesignRate
    needs: PitNeeds


def seepage_pit(
    ground: LotGround,
    downspout: Downspout,
    water: WaterToMove,
    others: Iterable[SeepagePit] = (),
) -> SeepagePit:
    """Place and size a seepage pit for a downspout.

    Parameters
    ----------
    ground : LotGround
    downspout : Downspout
    water : WaterToMove
    others : pits of other downspouts that are placed already; it keeps away from them

    Returns
    -------
    SeepagePit
        A square box, or a trench where no box finds a place.

    Raises
    ------
    NotPossible
        Where the soil or the groundwater forbids it, no place keeps all setbacks, no line gets
        there, or it would overflow to a foundation or a neighbor.
    """
    rate = soil_of(ground.site)
    task = _Task(ground, downspout, water, rate, needs_of(ground.site, water, rate.rate_m_per_s))
    refuse_no_depth(ground.site)
    search = _search(task, [outline_of(each) for each in others])
    refusals = Tally()
    places = _places(search, task.needs, _wall_angle(ground, downspout), refusals)
    for place in islice(places, _TRIES):
        try:
            return _nearest_of_its_size(task, search, place)
        except NotPossible as refusal:
            refusals.add(refusal.why)
    raise NotPossible(why_not(task.ground.site, search, refusals))


def outline_of(pit: SeepagePit) -> Polygon:
    """The outline of a placed pit on the plan; a cylinder by its square.

    Examples
    --------
    >>> from types import SimpleNamespace as Some
    >>> body = Some(length_m=4.0, width_m=2.0)
    >>> pit = Some(center=(5.0, 5.0), angle=90.0, governing=Some(pit=body))
    >>> [round(each, 6) for each in outline_of(pit).bounds]
    [4.0, 3.0, 6.0, 7.0]
    """
    body, turn = pit.governing.pit, np.radians(pit.angle)
    along = np.array([np.cos(turn), np.sin(turn)]) * body.length_m / 2
    across = np.array([-np.sin(turn), np.cos(turn)]) * body.width_m / 2
    signs = ((1, 1), (-1, 1), (-1, -1), (1, -1))
    return Polygon([np.array(pit.center) + a * along + b * across for a, b in signs])


def _search(task: _Task, pits: list[Polygon]) -> Search:
    ground, site = task.ground, task.ground.site
    foot_m = ground.height_at_foot(task.downspout.x, task.downspout.y)
    depth, over = inlet_depth_m(site), soil_over_inlet_m(site, usual_pipe(site).bore_m)

    def depth_at(away: _Floats, low: _Floats, middle: _Floats, high: _Floats) -> _Floats:
        fall = site.rules["line_slope"] * np.maximum(away - HALF, 0.0)
        inlet = np.minimum(foot_m - depth - fall, low - over)
        return inlet - least_bottom_m(site, middle, high)

    # A pit on higher ground would overflow at the downspout's foot instead: as high as the gap at
    # the leader's end it surely does, however little the survey can tell.
    told_apart = call_margin(site.height_accuracy.sigma)
    highest = foot_m + min(told_apart, site.rules["leader_outlet_height"])
    return search_of(
        ground,
        (task.downspout.x, task.downspout.y),
        setbacks_of(site, pits),
        highest,
        depth_at,
    )


def _wall_angle(ground: LotGround, downspout: Downspout) -> float:
    """Degrees, 0 to 90, that the wall next to the downspout is turned."""
    building = nearest_building(ground, downspout.x, downspout.y)
    if building is None:
        return 0.0
    ring = np.array(building.outline.exterior.coords)
    here = np.array([downspout.x, downspout.y])
    start, along = ring[:-1], np.diff(ring, axis=0)
    share = np.clip(((here - start) * along).sum(axis=1) / (along**2).sum(axis=1), 0, 1)
    nearest = np.hypot(*(start + share[:, None] * along - here).T).argmin()
    return float(np.degrees(np.arctan2(along[nearest, 1], along[nearest, 0])) % 90)


def _places(search: Search, needs: PitNeeds, angle: float, refusals: Tally) -> Iterator[PitPlace]:
    """Places for a box, then for a trench along the wall and across.

    The depth is foreseen before there is a line. Where all places fail, it may have been foreseen
    too little: then places for a smaller plan are looked for.
    """
    for more in _DEEPER:
        here = replace(search, depth=search.depth + more * needs.step_m)
        for sizing, turned in (
            (box_of_depth, angle),
            (trench_of_depth, angle),
            (trench_of_depth, angle + 90),
        ):
            places = places_for(here, needs, sizing, turned)
            try:
                yield from islice(_hopeful(search, places, refusals), _TRIES_EACH)
            except TooLarge as refusal:
                refusals.add(refusal.why)


def _hopeful(search: Search, places: Iterator[PitPlace], refusals: Tally) -> Iterator[PitPlace]:
    """The places that the map of safe ground does not refuse; no line or storm is spent on those.

    Why others are refused is added to `refusals`.
    """
    for place in places:
        refused = refused_at(search.ground, place.low_at)
        if refused is None:
            yield place
        else:
            refusals.add(refused)


class _Outgrown(NotPossible):
    """A place too small for the pit that its line asks for."""

    def __init__(self, check: PitCheck) -> None:
        super().__init__(Simply("outgrows its place"))
        self.check = check


def _nearest_of_its_size(task: _Task, search: Search, place: PitPlace) -> SeepagePit:
    """The pit at a place; where it turns out smaller or larger, at the nearest place for that."""
    try:
        pit = _designed(task, search, place)
    except _Outgrown as outgrown:
        for larger in _of_size(task, search, outgrown.check, place.angle):
            return larger
        raise
    if pit.governing.pit.plan_area_m2 >= place.check.pit.plan_area_m2 - _ROUNDING:
        return pit
    reach = np.hypot(place.center[0] - search.foot[0], place.center[1] - search.foot[1])
    nearer = replace(search, depth=np.where(search.away < reach, search.depth, 0.0))
    return next(_of_size(task, nearer, pit.governing, place.angle), pit)


def _of_size(task: _Task, search: Search, check: PitCheck, angle: float) -> Iterator[SeepagePit]:
    """Pits at the nearest places for one of a size."""
    places = _hopeful(search, places_for(search, task.needs, lambda *_: check, angle), Tally())
    for place in islice(places, _TRIES_EACH):
        try:
            yield _designed(task, search, place)
        except NotPossible:
            continue


def _designed(task: _Task, search: Search, place: PitPlace) -> SeepagePit:
    """The pit at a place, with its line and what becomes of its water when it is full."""
    place, line = _settled(task, search, place)
    overflow = overflow_of(task.ground, task.downspout, place.low_at)
    return _record(task, search, place, line, overflow)


def _settled(task: _Task, search: Search, place: PitPlace) -> tuple[PitPlace, BuriedLine]:
    """The place with the size that the depth left by its line asks for, and that line."""
    needs, site = task.needs, task.ground.site
    sizing = box_of_depth if place.check.pit.kind == "box" else trench_of_depth
    for _ in range(_SIZES):
        line = _line(task, place)
        available = _inlet(site, place, line) - least_bottom_m(site, place.middle_m, place.high_m)
        depth = whole_steps(steps_within(available, needs), needs)
        if depth < site.rules["pit_least_depth"] - _ROUNDING:
            raise NotPossible(no_depth_left(site))
        check = sizing(needs, depth)
        if check.pit == place.check.pit:
            return place, line
        resized = keeps_at(search, place, check)
        if resized is None:
            break
        place = resized
    raise _Outgrown(check)


def _line(task: _Task, place: PitPlace) -> BuriedLine:
    entry = nearest_points(place.outline, Point(task.downspout.x, task.downspout.y))[0]
    return line_to_pit(task.ground, task.downspout, task.water, (entry.x, entry.y))


def _inlet(site: Site, place: PitPlace, line: BuriedLine) -> float:
    """Height of the inlet's invert: the line's last, or as low as leaves soil over the stone.

    On a slope the lowest edge of the pit decides; the silt trap before it takes the drop.
    """
    over = soil_over_inlet_m(site, line.profile.pipe.bore_m)
    return min(float(line.profile.invert_m[-1]), place.low_m - over)


def _record(
    task: _Task, search: Search, place: PitPlace, line: BuriedLine, overflow: Overflow
) -> SeepagePit:
    body = place.check.pit
    inlet = _inlet(task.ground.site, place, line)
    dig_depth = place.middle_m - inlet + body.depth_m
    return SeepagePit(
        center=place.center,
        angle=place.angle,
        by_durations=task.needs.by_durations(body),
        by_whole_storm=task.needs.by_whole_storm(body),
        governing=place.check,
        rate=task.rate,
        ground_m=place.middle_m,
        inlet_m=inlet,
        dig_depth_m=dig_depth,
        line=line,
        clearances=_clearances(task, search, place, inlet),
        overflow=overflow.failure,
        warnings=(
            *of_drop(float(line.profile.invert_m[-1]) - inlet),
            *of_frost(task.ground.site, dig_depth),
            *of_site(task.ground.site),
            *of_well(task.ground.site, body, dig_depth),
            *overflow.warnings,
        ),
    )


def _clearances(
    task: _Task, search: Search, place: PitPlace, inlet: float
) -> tuple[Clearance, ...]:
    site = task.ground.site
    found = [
        Clearance(each.of, each.name, each.distance, float(place.outline.distance(each.shape)))
        for each in search.setbacks
        if each.distance > 0
    ]
    dug = place.middle_m - inlet + place.check.pit.depth_m
    found += [Clearance(each, "", clear, deep - dug) for each, deep, clear in layers_below(site)]
    return tuple(found)
