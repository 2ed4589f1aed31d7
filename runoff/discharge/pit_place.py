"""A seepage pit (dry well, roof water only) for one downspout: where, how large, how it overflows.

In: the lot's ground, a downspout and its water. Out: the pit nearest to the downspout that keeps
every setback, stays clear of the groundwater, holds what it must and overflows safely.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import Point, Polygon
from shapely.ops import nearest_points

from runoff.discharge.line import line_to_pit
from runoff.discharge.lot import LotGround
from runoff.discharge.pipes import Pipe, pipe_of
from runoff.discharge.pit import PitCheck
from runoff.discharge.pit_overflow import Overflow, overflow_of
from runoff.discharge.pit_search import (
    HALF,
    PitPlace,
    Search,
    in_the_way,
    keeps_at,
    places_for,
    search_of,
)
from runoff.discharge.pit_setbacks import setbacks_of
from runoff.discharge.pit_size import (
    PitNeeds,
    basis_of,
    box_of_depth,
    height_over_inlet_m,
    needs_of,
    steps_within,
    trench_of_depth,
    whole_steps,
)
from runoff.discharge.safety import nearest_building
from runoff.discharge.site_soil import soil_of
from runoff.discharge.soil import DesignRate
from runoff.discharge.ways import BuriedLine, NotPossible, SeepagePit, WaterToMove
from runoff.flow.storm import foot_of
from runoff.quantities import format_length
from runoff.site.model import Downspout, Site

_Floats = NDArray[np.float64]
# Each place tried asks for a line and a storm: so many for each shape, and in all.
_TRIES_EACH, _TRIES = 3, 24
# Steps of depth by which a pit may be deeper than foreseen: a narrow trench across a slope has less
# fall over it.
_DEEPER = (0, 2)
# The inlet's depth is foreseen with this pipe where none is chosen, nominal inches.
_USUAL_PIPE = 4
# A larger plan may reach lower ground, and ask for a larger one again.
_SIZES = 4
_ROUNDING = 1e-6
# Two-sided 95 % for the difference of two heights.
_TOLD_APART = 1.96 * np.sqrt(2.0)


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
    _refuse_high_groundwater(ground.site)
    search = _search(task, [outline_of(each) for each in others])
    refusals: list[str] = []
    places = _places(search, task.needs, _wall_angle(ground, downspout))
    for place in islice(places, _TRIES):
        try:
            return _nearest_of_its_size(task, search, place)
        except NotPossible as refusal:
            refusals.append(str(refusal))
    raise NotPossible(_why_not(task, search, refusals))


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


def _deepest(site: Site) -> float:
    """How deep below the ground a pit's bottom may lie, metres."""
    rules, water = site.rules, site.soil.groundwater
    if water is None:
        return rules["pit_greatest_dig"]
    return min(rules["pit_greatest_dig"], water - rules["pit_groundwater_clearance"])


def _inlet_depth(site: Site) -> float:
    """How deep a line's invert lies at its start, metres."""
    pipe = _pipe(site)
    return site.rules["line_cover"] + pipe.bore_m + pipe.wall_m


def _pipe(site: Site) -> Pipe:
    """The pipe that the inlet's depth is foreseen with."""
    return pipe_of(site.pipe.nominal_in or _USUAL_PIPE, site.pipe.wall, site.rules)


def _soil_over_inlet(site: Site, bore_m: float) -> float:
    """From the inlet's invert up to the lowest ground over the pit, at least."""
    return height_over_inlet_m(bore_m, site.rules) + site.rules["pit_soil_over_stone"]


def _refuse_high_groundwater(site: Site) -> None:
    if site.soil.groundwater is None:
        return
    if _deepest(site) - _inlet_depth(site) >= site.rules["pit_least_depth"] - 1e-9:
        return
    raise NotPossible(
        f"under the water table: groundwater stands {_length(site, site.soil.groundwater)} below "
        "the ground, and the pit's bottom must stay "
        f"{_length(site, site.rules['pit_groundwater_clearance'])} above it"
    )


def _search(task: _Task, pits: list[Polygon]) -> Search:
    ground, site = task.ground, task.ground.site
    terrain = ground.terrain
    foot_m = float(terrain.ground[foot_of(task.downspout, terrain)])
    depth, over = _inlet_depth(site), _soil_over_inlet(site, _pipe(site).bore_m)

    def depth_at(away: _Floats, low: _Floats, high: _Floats) -> _Floats:
        fall = site.rules["line_slope"] * np.maximum(away - HALF, 0.0)
        inlet = np.minimum(foot_m - depth - fall, low - over)
        return inlet - _least_bottom(site, low, high)

    # A pit on higher ground would overflow at the downspout's foot instead: as high as the gap at
    # the leader's end it surely does, however little the survey can tell.
    told_apart = _TOLD_APART * site.height_accuracy.sigma
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


def _places(search: Search, needs: PitNeeds, angle: float) -> Iterator[PitPlace]:
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
            yield from islice(places_for(here, needs, sizing, turned), _TRIES_EACH)


class _Outgrown(NotPossible):
    """A place too small for the pit that its line asks for."""

    def __init__(self, check: PitCheck) -> None:
        super().__init__("the line comes in so deep that the pit outgrows its place")
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
    for place in islice(places_for(search, task.needs, lambda *_: check, angle), _TRIES_EACH):
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
        available = _inlet(site, place, line) - _least_bottom(site, place.low_m, place.high_m)
        depth = whole_steps(steps_within(available, needs), needs)
        if depth < site.rules["pit_least_depth"] - _ROUNDING:
            raise NotPossible(_no_depth(site))
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
    over = _soil_over_inlet(site, line.profile.pipe.bore_m)
    return min(float(line.profile.invert_m[-1]), place.low_m - over)


def _least_bottom(site: Site, low: Any, high: Any) -> Any:
    """Height below which a pit's bottom must not lie, of its lowest and highest ground."""
    dug = high - site.rules["pit_greatest_dig"]
    if site.soil.groundwater is None:
        return dug
    clearance = site.rules["pit_groundwater_clearance"]
    return np.maximum(dug, low - site.soil.groundwater + clearance)


def _no_depth(site: Site) -> str:
    deep = site.soil.groundwater is None or _deepest(site) >= site.rules["pit_greatest_dig"]
    return (
        "the line comes in so deep that less than "
        f"{_length(site, site.rules['pit_least_depth'])} is left "
        f"above the {'deepest that is dug' if deep else 'groundwater'}"
    )


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
        basis=basis_of(task.ground.site),
        rate=task.rate,
        ground_m=place.middle_m,
        inlet_m=inlet,
        dig_depth_m=dig_depth,
        line=line,
        clearances=_clearances(task, search, place, inlet),
        overflow=overflow.failure,
        warnings=(
            *task.rate.warnings,
            *place.check.warnings,
            *_of_drop(task.ground.site, float(line.profile.invert_m[-1]) - inlet),
            *_of_frost(task.ground.site, dig_depth),
            *_of_site(task.ground.site),
            *overflow.warnings,
        ),
    )


def _clearances(
    task: _Task, search: Search, place: PitPlace, inlet: float
) -> tuple[tuple[str, float, float], ...]:
    site = task.ground.site
    found = [
        (each.name, float(place.outline.distance(each.shape)), each.distance)
        for each in search.setbacks
        if each.distance > 0
    ]
    if site.soil.groundwater is not None:
        bottom = inlet - place.check.pit.depth_m
        above = bottom - (place.low_m - site.soil.groundwater)
        found.append(("the groundwater", above, site.rules["pit_groundwater_clearance"]))
    return tuple(found)


def _of_drop(site: Site, drop: float) -> Iterator[str]:
    if drop > _ROUNDING:
        shown = format_length(drop, "us" if site.units == "ft" else "metric", 4)
        yield (
            "the ground falls over the pit: in the silt trap before it the water drops "
            f"{shown}, so that soil lies over all its stone"
        )


def _of_frost(site: Site, dig_depth: float) -> Iterator[str]:
    if site.soil.frost is not None and site.soil.frost >= dig_depth:
        yield (
            f"the ground freezes {_length(site, site.soil.frost)} deep, below the pit's bottom: in "
            "hard frost it takes no water, and roof water overflows"
        )


def _of_site(site: Site) -> Iterator[str]:
    """What nobody said, and a pit depends on."""
    if site.soil.groundwater is None:
        clearance = _length(site, site.rules["pit_groundwater_clearance"])
        yield f"how deep groundwater stands is not given: the bottom must stay {clearance} above it"
    if site.lot is None:
        distance = _length(site, site.rules["pit_lot_line_distance"])
        yield f"the lot lines are not given: the pit must stay {distance} from each"
    unsaid = [each.name for each in site.buildings if each.kind is None]
    if unsaid and site.units == "ft":
        distance = _length(site, site.rules["pit_basement_distance"])
        yield (
            f"whether {' and '.join(unsaid)} has a basement is not given: the pit must stay "
            f"{distance} from one"
        )


def _why_not(task: _Task, search: Search, refusals: list[str]) -> str:
    """The refusal that the most places met; with no place at all, what is in the way."""
    site = task.ground.site
    if refusals:
        commonest = max(refusals, key=refusals.count)
        return f"every place tried for a pit is refused: {commonest}"
    if not len(search.x):
        return (
            "no dry ground on the lot lies as low as the downspout's foot: a full pit would come "
            "out at the wall"
        )
    if not search.seen.any():
        return (
            "no straight line gets from the downspout to dry ground as low as its foot, clear of "
            "the buildings and of what must not be dug"
        )
    if search.depth[search.seen].max() < site.rules["pit_least_depth"]:
        return "nowhere would enough depth be left for a pit below the line that feeds it"
    ways = [
        f"{_length(site, each.distance)} from {each.name}"
        if each.distance > 0
        else f"clear of {each.name}"
        for each in in_the_way(search)
    ]
    kept = f"keeps {', '.join(ways)} and " if ways else ""
    return (
        "in straight reach of the downspout, on ground no higher than its foot, no place for a pit "
        f"{kept}lies whole on known, dry ground that is not too steep"
    )


def _length(site: Site, metres: float) -> str:
    return format_length(metres, "us" if site.units == "ft" else "metric", 1)
