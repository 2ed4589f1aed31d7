"""The answer for each downspout: where its water goes in the storm.

In: the site and a path. Out: pavings. Water that crosses a walk or a drive of one's own is ice in
winter and is told; over a public sidewalk roof water is never led: city codes commonly forbid it
(common practice).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from runoff.flow.model import DownspoutAnswer, EndKind, LowSpot, LowSpotOnTheWay, PathEnd
from runoff.flow.paths import (
    ENDS_AT_EDGE,
    ENDS_AT_INLET,
    Surface,
    Way,
    first_ending,
    follow_storm,
    near_walls,
    part_up_to,
    side_at,
    storm_surface,
)
from runoff.flow.storm import LetGo, LotFlow, StormRun, foot_of, roof_area, roof_water, water_of
from runoff.site.model import OTHERS_GROUND, Downspout, LotSide, Paving, Site
from runoff.terrain.model import TerrainDrain

PUBLIC = "public sidewalk"
ICY = ("walk", "drive", PUBLIC)
# Water spreads this far to either side of its path, metres.
SPREADS = 0.15
# A sidewalk between a lot's side and its street lies no farther out than this, metres.
TO_THE_STREET = 6.0
# The grid moves the ends of a drain by no more than this, metres.
_NEAR_DRAIN = 1.0


def public_sidewalk(crossed: Sequence[Paving]) -> Paving | None:
    """The first public sidewalk of what water crosses, over which it must not be let go."""
    return next((paving for paving in crossed if paving.kind == PUBLIC), None)


def paving_crossed(
    site: Site, path: NDArray[np.float64], length: float, end: PathEnd
) -> tuple[Paving, ...]:
    """The walks, drives and public sidewalks that water crosses on the surface.

    Up to where it ends for the lot; a public sidewalk also beyond the lot's side, along the water's
    path as far as there is ground, and straight out toward a street, which it lies before.

    Parameters
    ----------
    path : (k, 2) float64, plan metres
    length : float, metres of it up to `end`
    end : PathEnd
    """
    icy = [paving for paving in site.paving if paving.kind in ICY]
    if not icy or not len(path):
        return ()
    own = onward = on_the_surface(site, part_up_to(path, length))
    if end.kind == "lot side":
        onward = shapely.union_all([own, on_the_surface(site, path), _to_the_street(site, end)])
    return tuple(
        paving
        for paving in icy
        if (onward if paving.kind == PUBLIC else own).distance(paving.outline) <= SPREADS
    )


def public_sidewalks(site: Site) -> list[Paving]:
    """The public sidewalks of a site."""
    return [paving for paving in site.paving if paving.kind == PUBLIC]


def on_the_surface(site: Site, path: NDArray[np.float64]) -> BaseGeometry:
    """A path, (k, 2) plan metres, without its stretches in drains."""
    breaks = [k + 1 for k, (a, b) in enumerate(pairwise(path)) if _in_a_drain(site, a, b)]
    legs = [leg if len(leg) > 1 else np.vstack([leg, leg]) for leg in np.split(path, breaks)]
    return shapely.multilinestrings([LineString(leg) for leg in legs])


def _in_a_drain(site: Site, a: NDArray[np.float64], b: NDArray[np.float64]) -> bool:
    return math.dist(a, b) > _NEAR_DRAIN and any(
        math.dist(each.inlet, a) < _NEAR_DRAIN and math.dist(each.outlet, b) < _NEAR_DRAIN
        for each in site.drains
        if each.outlet is not None
    )


def _to_the_street(site: Site, end: PathEnd) -> BaseGeometry:
    """From where water leaves over a side along a street, straight out; else the place alone."""
    here = np.array([end.x, end.y])
    sides = site.lot.sides if site.lot is not None else ()
    side = next((each for each in sides if each.name == end.name), None)
    if side is None or end.neighbor != "street":
        return Point(here)
    return LineString([here, here + TO_THE_STREET * straight_out(site, side)])


def straight_out(site: Site, side: LotSide) -> NDArray[np.float64]:
    """The unit vector that leads off the lot at right angles to one of its sides."""
    ends = np.array([side.line[0], side.line[-1]])
    along = ends[1] - ends[0]
    out = np.array([along[1], -along[0]]) / np.hypot(*along)
    inward = site.lot is not None and site.lot.boundary.contains(Point(ends.mean(0) + 0.01 * out))
    return -out if inward else out


# Where the survey stops within this many cells of a side of the lot, it stops at that side.
_AT_A_SIDE = 2.0


Implication = Literal[
    "comes back",
    "runs beside a foundation",
    "stays near a foundation",
    "shut in",
    "onto a neighbor",
    "over a public sidewalk",
]


def answer_downspouts(
    site: Site, flow: LotFlow, run: StormRun, spots: Mapping[int, LowSpot]
) -> tuple[DownspoutAnswer, ...]:
    """Answer every downspout of a site for a storm that has run.

    Parameters
    ----------
    spots : the low spots by depression number
    """
    surface = storm_surface(run.ponding, flow.terrain.surface, flow.terrain.closed)
    return tuple(_answer(site, flow, run, surface, spots, d) for d in site.downspouts)


def answer_moved(
    site: Site, flow: LotFlow, let_go: list[LetGo], spots: Mapping[int, LowSpot], moved: Downspout
) -> DownspoutAnswer:
    """Answer one downspout anew, the ground and its low spots kept.

    Parameters
    ----------
    let_go : the water of the site's other sources
    spots : the low spots by depression number, as the inspection named them
    moved : the downspout at its new place
    """
    run = flow.run(site.storm.depth, [*let_go, water_of(site, moved, flow.terrain)])
    surface = storm_surface(run.ponding, flow.terrain.surface, flow.terrain.closed)
    return _answer(site, flow, run, surface, spots, moved)


def _answer(
    site: Site,
    flow: LotFlow,
    run: StormRun,
    surface: Surface,
    spots: Mapping[int, LowSpot],
    downspout: Downspout,
) -> DownspoutAnswer:
    start = _start(flow, downspout)
    path, ways, drain = _follow(flow, run, surface, start)
    crossed = [d for way in ways for d in way.crossed]
    last = ways[-1]
    if last.end not in (ENDS_AT_EDGE, ENDS_AT_INLET):
        crossed.append(_depression_at(run, last.cell))
    on_the_way = _on_the_way(flow, run, spots, crossed, downspout.name)
    ending = first_ending(site, path)
    if ending is None:
        end, length = _end_of(site, flow, run, spots, last, drain, path), np.inf
    else:
        end, length = ending
    walked = part_up_to(path, length)
    near = near_walls(site, walked)
    return DownspoutAnswer(
        name=downspout.name,
        start=(float(start[0]), float(start[1])),
        roof_area_m2=roof_area(site, downspout),
        roof_volume_m3=roof_water(site, downspout, site.storm.depth),
        path=path,
        length_m=float(np.hypot(*np.diff(walked, axis=0).T).sum()),
        length_within_near_m=near.within_near_m,
        length_within_reach_m=near.within_reach_m,
        along_m=near.along_m,
        returns=near.returns,
        end=end,
        on_the_way=on_the_way,
        may_fill=_may_fill(spots, on_the_way, downspout.name),
        crosses=paving_crossed(site, path, length, end),
    )


def _start(flow: LotFlow, downspout: Downspout) -> tuple[float, float]:
    """Where the water starts: at the foot, or at what is nearest to it of the open cell."""
    return flow.grid.held_in(foot_of(downspout, flow.terrain), downspout.x, downspout.y)


def _follow(
    flow: LotFlow, run: StormRun, surface: Surface, start: tuple[float, float]
) -> tuple[NDArray[np.float64], list[Way], TerrainDrain | None]:
    """Follow the water, through drains and on from their outlets; plan metres.

    The drain returned is the one that the path ends in, where it leads off the lot.
    """
    grid = flow.grid
    inlets = {flow.flat(d.inlet): d for d in flow.terrain.drains if d.name not in run.overwhelmed}
    legs, ways, entered = [], [], set()
    here = start
    while True:
        way = follow_storm(surface, run.ponding, *grid.in_cells(np.array(here)).tolist())
        ways.append(way)
        legs.append(grid.on_plan(way.points))
        drain = inlets.get(way.cell) if way.end == ENDS_AT_INLET else None
        if drain is None or drain.outlet is None or drain.name in entered:
            return np.concatenate(legs), ways, drain
        entered.add(drain.name)
        here = grid.center(*drain.outlet)


def _depression_at(run: StormRun, cell: int) -> int:
    leaf = int(run.ponding.depressions.node[cell])
    return run.ponding.outermost(leaf) if leaf > 0 else 0


def _spot_with(run: StormRun, spots: Mapping[int, LowSpot], depression: int) -> int:
    """The told low spot that a depression is part of, as its number; 0 where there is none."""
    parent = run.ponding.depressions.hierarchy.parent
    while depression > 0 and depression not in spots:
        depression = int(parent[depression])
    return max(depression, 0)


def _on_the_way(
    flow: LotFlow, run: StormRun, spots: Mapping[int, LowSpot], crossed: Sequence[int], name: str
) -> tuple[LowSpotOnTheWay, ...]:
    told: dict[int, LowSpotOnTheWay] = {}
    for depression in crossed:
        number = _spot_with(run, spots, depression)
        if number and number not in told:
            spot = spots[number]
            stands = run.ponding.held_in(number) * flow.grid.cell_area
            told[number] = LowSpotOnTheWay(
                *(spot.name, spot.volume_m3, stands, bool(run.ponding.full[number])),
                *(spot.in_doubt, spot.area_m2, name in spot.undecided),
            )
    return tuple(told.values())


def _may_fill(
    spots: Mapping[int, LowSpot], on_the_way: Sequence[LowSpotOnTheWay], name: str
) -> tuple[str, ...]:
    """The low spots that the heights leave open whether this downspout feeds, and it does not."""
    met = {spot.name for spot in on_the_way}
    return tuple(s.name for s in spots.values() if name in s.undecided and s.name not in met)


def _end_of(
    site: Site,
    flow: LotFlow,
    run: StormRun,
    spots: Mapping[int, LowSpot],
    last: Way,
    drain: TerrainDrain | None,
    path: NDArray[np.float64],
) -> PathEnd:
    """The end of a path that stays on the lot or leaves the survey before it crosses a side."""
    x, y = float(path[-1, 0]), float(path[-1, 1])
    if last.end == ENDS_AT_INLET:
        return PathEnd("drain", drain.name if drain else "", x, y)
    if last.end == ENDS_AT_EDGE:
        beside = side_at(site, x, y, _AT_A_SIDE * flow.grid.cell_size)
        return beside or PathEnd("survey edge", "", x, y)
    number = _spot_with(run, spots, _depression_at(run, last.cell))
    if not number:
        return PathEnd("low spot", "", x, y)
    kind: EndKind = "terminal basin" if spots[number].terminal else "low spot"
    return PathEnd(kind, spots[number].name, x, y)


def implications_of(site: Site, answer: DownspoutAnswer) -> tuple[Implication, ...]:
    """All that a downspout's water implies in the storm, the worst first; empty where all is well.

    Examples
    --------
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> site = read_site(sample_folder() / "site.toml")
    >>> end = PathEnd("lot side", "left", 0.0, 0.0, "neighbor")
    >>> water = DownspoutAnswer(
    ...     "a", (0, 0), 0.0, 0.0, np.empty((0, 2)), 9.0, 2.0, 4.0, 0.0, True, end, ()
    ... )
    >>> implications_of(site, water)
    ('comes back', 'onto a neighbor')
    """
    holds: dict[Implication, bool] = {
        "comes back": answer.returns,
        "runs beside a foundation": answer.along_m > site.rules["along_foundation"],
        "stays near a foundation": (
            answer.end.kind == "low spot" and answer.length_within_reach_m >= answer.length_m
        ),
        "shut in": answer.end.kind == "terminal basin",
        "onto a neighbor": answer.end.kind == "lot side" and answer.end.neighbor in OTHERS_GROUND,
        "over a public sidewalk": any(each.kind == PUBLIC for each in answer.crosses),
    }
    return tuple(implied for implied, it_does in holds.items() if it_does)
