"""A swale for one downspout's water: its line, bottom and section, proved by the storm run on it.

In: the lot's ground, a downspout and its water. Out: a `Swale`, and the ground with it cut in.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point

from runoff.discharge.ground import LotGround, harms_of
from runoff.discharge.model import Caution, Onward, WaterToMove
from runoff.discharge.reasons import (
    Harm,
    LacksFall,
    NoSwale,
    NotPossible,
    Simply,
    SwaleEnds,
    SwaleFails,
    Tally,
    TooDeep,
    WaterDoesHarm,
    WhyNot,
)
from runoff.discharge.routes import split_like
from runoff.discharge.swale.cut import (
    Bottom,
    Cut,
    Ground,
    NoBottom,
    Shortfall,
    corner_stations,
    cut_volume,
    lay_bottom,
    water_beside,
    with_cut,
)
from runoff.discharge.swale.routes import (
    SPACING,
    Head,
    Places,
    head_of,
    keep_clear,
    lines_from,
    passed_over,
    places_of,
    stations_of,
)
from runoff.discharge.swale.section import (
    Swale,
    SwaleSection,
    fastest,
    section_for,
    swale_at_flow,
    swale_capacity,
    swale_flow,
)
from runoff.flow.model import DownspoutAnswer
from runoff.flow.paths import line_of, part_up_to
from runoff.site.model import Downspout, Site
from runoff.site.problems import InputError

_SHORTEST = 3  # lines at each distance from the wall that are tried
_PROOFS = 6  # lines that the storm is run on, for one section
_ROUNDS = 3  # of taking the yard's water into the section
_REACH = 60.0  # metres; no swale of a lot is longer


@dataclass(frozen=True)
class _Line:
    """A line that the ground allows: from the foot on, (k, 2), with its bottom from the head on."""

    head: Head
    line: NDArray[np.float64]
    bottom: Bottom

    @property
    def length(self) -> float:
        return float(self.bottom.stations[-1])


@dataclass
class _Refused:
    """Why lines were refused, how often, and the line that has most of the fall asked."""

    reasons: Tally = field(default_factory=Tally)
    flattest: tuple[Shortfall, NDArray[np.float64], Head] | None = None

    def lacks_fall(self, short: Shortfall, end: NDArray[np.float64], head: Head) -> None:
        """Keep the line that has most of the fall asked, with the place (x, y) where it has."""
        if self.flattest is None or short.share > self.flattest[0].share:
            self.flattest = (short, end, head)


def swale_away(ground: LotGround, downspout: Downspout, water: WaterToMove) -> Swale:
    """Plan a swale that carries a downspout's water to where it may go.

    Its head lies beyond 5 ft of the wall, its whole section with it, or as near as 3 ft where no
    line farther out is found; the ground between is dished, falling at least 5 % to it. It carries
    the downspout's line flow, and what the yard and other roofs then bring to it, under its
    freeboard. docs/swales.md gives the method.

    Raises
    ------
    NotPossible
        Where no line is found; it says what is in the way.

    Examples
    --------
    >>> from runoff.discharge.ground import lot_ground
    >>> from runoff.discharge.model import WaterToMove
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> from runoff.terrain.build import build_terrain
    >>> site = read_site(sample_folder() / "site.toml")
    >>> ground = lot_ground(site, build_terrain(site))
    >>> spout = site.downspouts[0]
    >>> swale = swale_away(ground, spout, WaterToMove(spout.name, 26, 29, 2e-3, 2e-3, 2.6))
    >>> round(swale.slope, 6)
    0.01
    """
    places = places_of(ground)
    flow = water.line_flow_m3_per_s
    refused = _Refused()
    for _ in range(_ROUNDS):
        section = section_for(ground.site, flow)
        greater = flow
        lines = (
            line
            for away in _distances(ground.site, section)
            for line in _lines(places, downspout, section, away, refused)
        )
        for line in islice(lines, _PROOFS):
            try:
                swale = _proved(places, downspout, water, section, line)
            except NotPossible as reason:
                refused.reasons.add(reason.why)
                continue
            if swale.capacity_m3_per_s >= swale.design_flow_m3_per_s:
                return swale
            refused.reasons.add(Simply("more water than the swale carries"))
            greater = max(greater, swale.design_flow_m3_per_s)
        if greater <= flow:
            break
        flow = greater
    most = tuple(each.why for each in refused.reasons.most(3))
    lacks = None if refused.flattest is None else _lacking(*refused.flattest)
    raise NotPossible(NoSwale(most, lacks))


def with_swale(ground: LotGround, swale: Swale) -> LotGround:
    """The ground with a swale cut in and its storm run.

    Raises
    ------
    NotPossible
        Where water let go at its head does not follow it out, or then does not keep away from the
        foundations and the neighbors.
    """
    after = with_cut(ground, _cut_of(swale))
    try:
        _follows(after, swale)
    except NotPossible as reason:
        raise NotPossible(SwaleFails(reason.why)) from None
    return after


def _cut_of(swale: Swale) -> Cut:
    return Cut(swale.line, swale.stations_m, swale.bottom_m, swale.section)


def _follows(after: LotGround, swale: Swale) -> None:
    """Refuse a swale whose water does not follow it out or does not keep away."""
    spout = _at(after.site, swale)
    head = (float(swale.line[1][0]), float(swale.line[1][1]))
    for start in (head, (float(swale.line[0][0]), float(swale.line[0][1]))):
        try:
            answer = after.answer_at(spout, *start)
        except InputError:
            raise NotPossible(Simply("no ground at the swale's head")) from None
        _refuse_unsafe(after, swale, answer, head)


def _at(site: Site, swale: Swale) -> Downspout:
    """The downspout that a swale begins at."""
    x, y = swale.line[0]
    return min(site.downspouts, key=lambda each: math.hypot(each.x - x, each.y - y))


def _refuse_unsafe(
    after: LotGround, swale: Swale, answer: DownspoutAnswer, head: tuple[float, float]
) -> None:
    end = Point(*swale.line[-1])
    wide = swale.section.bottom_m / 2 + swale.section.side_run * swale.section.depth_m
    if line_of(answer.path).distance(end) > wide + after.flow.grid.cell_size:
        raise NotPossible(Simply("leaves the swale"))
    # What is asked of the ground at the wall is asked of the head, which the wall drains to.
    harms = harms_of(after, replace(answer, start=head))
    if answer.end.kind == "survey edge" and after.site.lot is not None:
        harms = (*harms, Harm("survey's edge"))
    if harms:
        raise NotPossible(WaterDoesHarm("swale", harms[0]))


def _distances(site: Site, section: SwaleSection) -> Iterator[float]:
    """How far from the wall the center line may lie, the best first, metres."""
    half = section.bottom_m / 2 + section.side_run * section.depth_m
    near, least = site.rules["near_foundation"], site.rules["swale_wall_distance"]
    beyond = near + half
    yield beyond
    for away in (near, (near + least) / 2, least):
        if least <= away < beyond:
            yield away


def _lines(
    places: Places, downspout: Downspout, section: SwaleSection, away: float, refused: _Refused
) -> list[_Line]:
    """The shortest lines that the ground allows from a head `away` metres from the wall."""
    site = places.ground.site
    head = head_of(site, downspout, away)
    at_foot = places.ground.height_at_foot(downspout.x, downspout.y)
    if np.isnan(at_foot) or np.isnan(places.ground.height(*head.at)):
        refused.reasons.add(Simply("no ground where a swale would begin"))
        return []
    fall = site.rules["soil_grade_to_drain"] * math.dist(head.foot, head.at)
    start = at_foot - fall
    found = []
    lines = list(lines_from(head, _REACH))
    for line, (ground, at) in zip(lines, _grounds_along(places, lines, section), strict=True):
        if len(at) < 2:
            refused.reasons.add(places.why_not(*head.at))
            continue
        bottom = lay_bottom(ground, section, start, site.rules["swale_greatest_cut"])
        if isinstance(bottom, NoBottom):
            refused.reasons.add(_refusal(places, ground, at, bottom))
            if bottom.short is not None:
                end = _place(ground, at, bottom.short.at)
                refused.lacks_fall(bottom.short, end, head)
            continue
        found.append(_Line(head, line, bottom))
    found.sort(key=lambda each: each.length)
    return found[:_SHORTEST]


def _grounds_along(
    places: Places, lines: list[NDArray[np.float64]], section: SwaleSection
) -> Iterator[tuple[Ground, NDArray[np.float64]]]:
    """The ground along each line, up to what blocks it; and the stations' plan positions.

    All of them are sampled at once.
    """
    site = places.ground.site
    whole = stations_of(lines, SPACING)
    room = places.sample(places.room, np.concatenate([at for _, at, _ in whole]), 0.0)
    laid: list[tuple[NDArray[Any], ...]] = [
        tuple(each[: _up_to(free <= 0) + 1] for each in (*one, free))
        for one, free in zip(whole, _split(room, whole), strict=True)
    ]
    at, across = (np.concatenate([one[k] for one in laid]) for k in (1, 2))
    half = section.bottom_m / 2 + section.side_run * section.depth_m
    banks = np.array([places.heights(at + side * half * across) for side in (-1, 0, 1)])
    near = places.sample(places.walls, at, np.inf) <= site.rules["foundation_reach"]
    grades = np.where(near, site.rules["swale_grade"], site.rules["swale_grade_beyond"])
    safe = places.sample(places.safe, at, False)
    low, high, unknown = banks.min(axis=0), banks.max(axis=0), np.isnan(banks).any(axis=0)
    heights = (_split(each, laid) for each in (banks[1], low, high, grades, safe, unknown))
    for (x, here, _, free), *along, stop in zip(laid, *heights, strict=True):
        known = _up_to(stop)
        middle, below, above, grade, lets = (each[:known] for each in along)
        yield Ground(x[:known], middle, below, above, grade, free[:known], lets), here[:known]


def _split(values: NDArray[Any], laid: Sequence[tuple[NDArray[Any], ...]]) -> list[NDArray[Any]]:
    """Values of all stations, line by line."""
    return split_like(values, [one[0] for one in laid])


def _up_to(stop: NDArray[np.bool_]) -> int:
    """How many stations come before the first that is set; all of them where none is."""
    return int(stop.argmax()) if stop.any() else stop.size


def _place(ground: Ground, at: NDArray[np.float64], station: float) -> NDArray[np.float64]:
    """Where on the plan a station of a line lies."""
    return np.array([np.interp(station, ground.stations, at[:, k]) for k in (0, 1)])


def _refusal(places: Places, ground: Ground, at: NDArray[np.float64], bottom: NoBottom) -> WhyNot:
    here = _place(ground, at, bottom.at)
    # A line ends where something blocks it: short of that it did not come out.
    if bottom.why in ("no room", "no fall"):
        return places.why_not(*here)
    if bottom.why == "too deep":
        return TooDeep(places.ground.site.rules["swale_greatest_cut"])
    return SwaleEnds(places.ground.reason_against(*here))


def _proved(
    places: Places,
    downspout: Downspout,
    water: WaterToMove,
    section: SwaleSection,
    found: _Line,
) -> Swale:
    """The swale along a line, after the storm has been run on the ground with it."""
    ground = places.ground
    line, stations, heights, bottom = _from_the_foot(places, found)
    cut = Cut(line, stations, bottom, section)
    keep_clear(places, cut, heights)
    after = with_cut(ground, cut)
    flow = water.line_flow_m3_per_s + water_beside(after, cut, downspout.name)
    head = math.dist(found.head.foot, found.head.at)
    falls = -np.diff(bottom) / np.diff(stations)
    falls = falls[stations[:-1] >= head - 1e-9]
    slope, steepest = float(falls.min()), float(falls.max())
    rules = ground.site.rules
    n = rules["roughness_grass_swale"]
    capacity = swale_capacity(section, slope, n, rules["swale_freeboard"])
    brim = swale_flow(section, section.depth_m, slope, n)
    carried = min(flow, brim.flow_m3_per_s)
    velocity, grass, cautions = fastest(ground.site, section, carried, steepest)
    if velocity > grass:
        raise NotPossible(Simply("too fast for grass"))
    onward = after.answer_at(downspout, float(line[-1][0]), float(line[-1][1]))
    swale = Swale(
        line=line,
        stations_m=stations,
        ground_m=heights,
        bottom_m=bottom,
        slope=slope,
        section=section,
        design_flow_m3_per_s=flow,
        flow=swale_at_flow(section, carried, slope, n),
        capacity_m3_per_s=capacity.flow_m3_per_s,
        greatest_velocity_m_per_s=grass,
        dig_m3=cut_volume(cut, heights),
        ends=Onward(onward.end, onward.crosses),
        cautions=(*cautions, *_cautions(ground.site, found, line)),
        path=part_up_to(onward.path, onward.length_m),
    )
    _follows(after, swale)
    return swale


def _from_the_foot(
    places: Places, found: _Line
) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any], NDArray[Any]]:
    """Line, stations, ground and bottom with the dished ground from the downspout's foot first."""
    length, head = found.length, math.dist(found.head.foot, found.head.at)
    corners = corner_stations(found.line)
    end = [np.interp(length, corners, found.line[:, k]) for k in (0, 1)]
    channel = np.vstack([found.line[corners < length - 1e-9], end])
    if head < 1e-9:
        return channel, found.bottom.stations, found.bottom.ground, found.bottom.bottom
    line = np.vstack([found.head.foot, channel])
    at_foot = places.ground.height_at_foot(*found.head.foot)
    lead = np.linspace(0.0, head, max(math.ceil(head / SPACING), 1) + 1)
    lead = lead[:-1]
    at = np.array(found.head.foot) + np.outer(
        lead / head, np.array(found.head.at) - found.head.foot
    )
    heights = places.heights(at)
    heights = np.where(np.isnan(heights) | (lead == 0), at_foot, heights)
    falls = at_foot + lead / head * (found.bottom.bottom[0] - at_foot)
    return (
        line,
        np.concatenate([lead, head + found.bottom.stations]),
        np.concatenate([heights, found.bottom.ground]),
        np.concatenate([falls, found.bottom.bottom]),
    )


def _cautions(site: Site, found: _Line, line: NDArray[np.float64]) -> tuple[Caution, ...]:
    """The fall of the dished ground, what it passes over by hand, how near the wall it lies (m)."""
    said = [
        Caution("dish the ground", figures=(site.rules["soil_grade_to_drain"],)),
    ]
    said += [
        Caution("dig by hand", each.name, note=each.kind)
        for each in passed_over(site, LineString(line))
    ]
    said += [
        Caution("easement", each.name)
        for each in site.easements
        if not each.may_take_water and each.area.intersects(LineString(line))
    ]
    if found.head.wall is not None:
        here = LineString([found.head.wall.start, found.head.wall.end])
        out = here.distance(Point(found.head.at))
        if out < site.rules["near_foundation"]:
            said.append(Caution("near the wall", figures=(out,)))
    return tuple(said)


def _lacking(short: Shortfall, end: NDArray[np.float64], head: Head) -> LacksFall:
    """The fall asked and found along the line that has most of it, and where."""
    x, y = end - head.foot
    bearing = math.degrees(math.atan2(x, y))
    return LacksFall(math.hypot(x, y), bearing, short.found, short.asked)
