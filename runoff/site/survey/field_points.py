"""Where to take heights on a lot: the points that matter most first, each with its reason.

In: buildings and what is known around them, plan metres. Out: named points on open ground, in the
order in which they are worth measuring. The first few frame the ground within 10 ft of the main
building, for what happens there decides; the rest tells where the water goes on to.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, zip_longest
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from runoff.site.model import Building, Downspout, Lot, LotSide, Opening, Units
from runoff.site.wall_places import along_wall, wall_ends, wall_length

if TYPE_CHECKING:
    from numpy.typing import NDArray

REACH_M = 3.048
"""The grade at a wall is judged over its first 10 ft."""
_OUT, _OUT_METRIC = "10 ft out from", "3 m out from"
FIRST = 10
MORE = 20
LONG_WALL_M = 12.2
"""Walls longer than this, about 40 ft, want a point 10 ft out from their middle among the first."""
CLOSE_M = 0.6
"""Points nearer to each other than this, about 2 ft, are one."""
WIDE_M = 3.0
"""Ground between wall and lot line narrower than this past the 10 ft needs no point between."""

_CORNERS_FIRST = 4
_MOST_OUT = 2.0
_AT_WALL_M = 0.02

Place = tuple[float, float]


@dataclass(frozen=True)
class SurveyPoint:
    """A point to take a height at: its name on the sheets, plan metres, and why it matters.

    `reasons` has what stands there, the first of them what it was chosen for; `first` marks the
    points that matter most.
    """

    name: str
    x: float
    y: float
    reasons: tuple[str, ...]
    first: bool

    @property
    def reason(self) -> str:
        """All that stands there, as the sheets have it."""
        return "; ".join(self.reasons)


@dataclass(frozen=True)
class GroundLine:
    """A line worth measuring along, such as a swale's bottom: name and (k, 2) plan metres."""

    name: str
    line: NDArray[np.float64]


@dataclass(frozen=True)
class _Wanted:
    """A place that may become a point; `kind` is the letter that its name begins with."""

    kind: str
    at: Place
    reason: str
    also: tuple[str, ...] = ()


def points_to_survey(
    buildings: Sequence[Building],
    lot: Lot | None = None,
    downspouts: Sequence[Downspout] = (),
    openings: Sequence[Opening] = (),
    lines: Sequence[GroundLine] = (),
    most: int = FIRST + MORE,
    units: Units = "ft",
) -> tuple[SurveyPoint, ...]:
    """Choose the points of a lot to take heights at, the most important first.

    The main building is the largest with a basement or crawl space, or the largest. Its corners, at
    the wall and 10 ft out, come first: between them lies the ground that every verdict at the wall
    rests on. Points within buildings or beyond the lot are not asked for; what would lie beyond the
    lot line is moved onto it.

    Parameters
    ----------
    buildings : sequence of Building
    lot : Lot, optional
    downspouts : sequence of Downspout
    openings : sequence of Opening
    lines : sequence of GroundLine
        Swale bottoms, ditches, edges of drives.
    most : int
        How many points at most; the first ten are marked as such.
    units : {"ft", "m"}
        What the reasons speak in.

    Returns
    -------
    tuple of SurveyPoint
        Names are unique: C and A for corners at the wall and away from it, M and B for the middle
        of walls likewise, N for openings, D for downspouts, S for lines, G for the ground between a
        building and a lot line, L for lot corners.

    Examples
    --------
    >>> from shapely import Polygon
    >>> from runoff.site.model import Written
    >>> house = Building("house", Polygon([(0, 0), (12, 0), (12, 9), (0, 9)]),
    ...     ("front", "right", "rear", "left"), None, None, Written("site.toml", 1, "building"))
    >>> points = points_to_survey([house])
    >>> [point.name for point in points[:8]]
    ['C1', 'C2', 'C3', 'C4', 'A1', 'A2', 'A3', 'A4']
    >>> points[4].x, points[4].y, points[4].reason
    (-3.048, -3.048, '10 ft out from the corner of the house at front and left')
    """
    ground = _open_ground(buildings, lot)
    first, more = _in_order(buildings, lot, downspouts, openings, lines)
    chosen: list[_Wanted] = []
    _choose(first, chosen, ground, min(FIRST, most))
    _choose(chain(first, more), chosen, ground, most)
    counts: Counter[str] = Counter()
    points = []
    for place, wanted in enumerate(chosen):
        counts[wanted.kind] += 1
        name = f"{wanted.kind}{counts[wanted.kind]}"
        out = _OUT_METRIC if units == "m" else _OUT
        reasons = tuple(reason.replace(_OUT, out) for reason in (wanted.reason, *wanted.also))
        points.append(SurveyPoint(name, *wanted.at, reasons, place < FIRST))
    return tuple(points)


def _open_ground(buildings: Sequence[Building], lot: Lot | None) -> BaseGeometry | None:
    """Where a rod can stand: the lot without the buildings; None where nothing bounds it."""
    built = shapely.union_all([b.outline for b in buildings]).buffer(-_AT_WALL_M)
    if lot is None:
        return None if built.is_empty else shapely.box(-1e6, -1e6, 1e6, 1e6).difference(built)
    return lot.boundary.buffer(_AT_WALL_M).difference(built)


def _choose(
    wanted: Iterable[_Wanted], chosen: list[_Wanted], ground: BaseGeometry | None, most: int
) -> None:
    """Add places until there are `most`; one beside another adds its reason to that one."""
    for one in wanted:
        if ground is not None and not ground.covers(shapely.Point(one.at)):
            continue
        beside = next((k for k, c in enumerate(chosen) if math.dist(c.at, one.at) < CLOSE_M), None)
        if beside is None:
            if len(chosen) < most:
                chosen.append(one)
        else:
            held = chosen[beside]
            if one.reason not in (held.reason, *held.also):
                chosen[beside] = replace(held, also=(*held.also, one.reason))


def _in_order(
    buildings: Sequence[Building],
    lot: Lot | None,
    downspouts: Sequence[Downspout],
    openings: Sequence[Opening],
    lines: Sequence[GroundLine],
) -> tuple[list[_Wanted], list[_Wanted]]:
    """Places that may be among the first, and all others, each in order of worth."""
    by_name = {building.name: building for building in buildings}
    ranked = sorted(buildings, key=lambda b: (b.kind not in _BELOW, -b.outline.area))
    wells = sorted(openings, key=lambda o: o.kind not in _WELLS)
    at_openings = [w for o in wells if o.building in by_name for w in _opening(o, by_name)]
    main = ranked[0].name if ranked else None
    feet = [_foot(d) for d in sorted(downspouts, key=lambda d: d.building != main)]
    frames = [_frame(building, lot) for building in ranked]
    middles = [_middles(building, lot) for building in ranked]
    first: list[_Wanted] = []
    if ranked:
        corners, away = frames[0]
        first = [*corners[:_CORNERS_FIRST], *away[:_CORNERS_FIRST]]
        at_wall, out = middles[0]
        # A long side must be halved out in the yard first: once other steps are short, nothing
        # vouches for the ground along it.
        long = wall_length(ranked[0], _longest_wall(ranked[0])) > LONG_WALL_M
        own = [w for o in wells if o.building == main for w in _opening(o, by_name)]
        first += [*(out[:2] if long else ()), *_in_turn(own, feet)]
        first += [*at_wall[:2], *out, *at_wall[2:]]
    more = [
        *at_openings,
        *feet,
        *(w for line in lines for w in _along(line)),
        *(w for corners, away in frames[:1] for w in _in_turn(corners, away)),
        *_in_turn(
            _between(ranked, lot),
            _corners_of(lot),
            [w for corners, away in frames[1:] for w in _in_turn(corners, away)],
        ),
        *(w for at_wall, out in middles[1:] for w in _in_turn(out, at_wall)),
        *(w for d in downspouts for w in _below(d, by_name, lot)),
    ]
    return first, more


_BELOW = ("basement", "crawl space")
_WELLS = ("window well", "stairwell")


def _in_turn(*groups: Sequence[_Wanted]) -> Iterator[_Wanted]:
    for row in zip_longest(*groups):
        yield from (wanted for wanted in row if wanted is not None)


def _frame(building: Building, lot: Lot | None) -> tuple[list[_Wanted], list[_Wanted]]:
    """The corners of a building at the wall, spread out first, and 10 ft out from each."""
    count = len(building.walls)
    corners = [along_wall(building, wall, 0.0) for wall in range(count)]
    outs = [_corner_out(building, wall) for wall in range(count)]
    convex = [k for k in range(count) if outs[k][1]]
    order = _spread([corners[k] for k in convex])
    ranked = [convex[k] for k in order] + [k for k in range(count) if not outs[k][1]]
    at_wall, away = [], []
    for k in ranked:
        where = f"corner of the {building.name} at {building.walls[k]} and {building.walls[k - 1]}"
        at_wall.append(_Wanted("C", corners[k], where))
        away.append(_out_to("A", corners[k], outs[k][0], lot, f"the {where}"))
    return at_wall, away


def _corner_out(building: Building, wall: int) -> tuple[Place, bool]:
    """The place 10 ft out from both walls that meet at a corner, and whether it stands out."""
    count = len(building.walls)
    before = (wall - 1) % count
    corner = np.array(along_wall(building, wall, 0.0))
    ahead = np.array(along_wall(building, wall, 0.0, 1.0)) - corner
    behind = np.array(along_wall(building, before, wall_length(building, before), 1.0)) - corner
    meet = 1.0 + float(ahead @ behind)
    out = (ahead + behind) / max(meet, 2.0 / _MOST_OUT**2)
    start, end = wall_ends(building, before)
    stands_out = float((end - start) @ ahead) > 0.0
    x, y = corner + REACH_M * out
    return (float(x), float(y)), stands_out


def _spread(places: Sequence[Place]) -> list[int]:
    """The first four far from each other, in the order of the outline; then the others."""
    if len(places) <= _CORNERS_FIRST:
        return list(range(len(places)))
    taken = [0]
    while len(taken) < _CORNERS_FIRST:
        apart = [min(math.dist(p, places[k]) for k in taken) for p in places]
        taken.append(int(np.argmax(apart)))
    return sorted(taken) + [k for k in range(len(places)) if k not in taken]


def _out_to(kind: str, start: Place, end: Place, lot: Lot | None, where: str) -> _Wanted:
    """A place out from a wall, or where the way there meets the lot line."""
    if lot is None or lot.boundary.covers(shapely.Point(end)):
        return _Wanted(kind, (round(end[0], 4), round(end[1], 4)), f"{_OUT} {where}")
    met = shapely.LineString([start, end]).intersection(lot.boundary)
    if not isinstance(met, shapely.LineString) or met.is_empty:
        return _Wanted(kind, end, f"{_OUT} {where}")
    x, y = max(met.coords, key=lambda at: math.dist(at, start))
    return _Wanted(kind, (float(x), float(y)), f"lot line, out from {where}")


def _longest_wall(building: Building) -> int:
    return max(range(len(building.walls)), key=lambda wall: wall_length(building, wall))


def _middles(building: Building, lot: Lot | None) -> tuple[list[_Wanted], list[_Wanted]]:
    """The middle of each wall at the wall, and 10 ft out from it, the longest wall first."""
    walls = sorted(range(len(building.walls)), key=lambda w: -wall_length(building, w))
    at_wall, away = [], []
    for wall in walls:
        middle = wall_length(building, wall) / 2.0
        at = along_wall(building, wall, middle)
        where = f"middle of the {building.name}'s wall at {building.walls[wall]}"
        at_wall.append(_Wanted("M", at, where))
        out = along_wall(building, wall, middle, REACH_M)
        away.append(_out_to("B", at, out, lot, f"the {where}"))
    return at_wall, away


def _opening(opening: Opening, buildings: dict[str, Building]) -> Iterator[_Wanted]:
    """The ground before an opening, at a well's outer rim."""
    building = buildings[opening.building]
    at = along_wall(building, opening.wall, opening.distance, opening.projection)
    what = f"rim of the {opening.name}" if opening.kind in _WELLS else f"before the {opening.name}"
    yield _Wanted("N", at, f"{what}: water over it gets in")


def _foot(downspout: Downspout) -> _Wanted:
    return _Wanted("D", (downspout.x, downspout.y), f"foot of the downspout {downspout.name!r}")


def _below(
    downspout: Downspout, buildings: dict[str, Building], lot: Lot | None
) -> Iterator[_Wanted]:
    """The ground 10 ft out from a downspout, where its water goes first."""
    building = buildings.get(downspout.building or "")
    if building is None:
        return
    foot = np.array((downspout.x, downspout.y))
    near = shapely.Point(foot)
    edge = building.outline.exterior
    along = edge.project(near)
    wall = np.array(edge.interpolate(along).coords[0])
    away = foot - wall
    if np.hypot(*away) < 1e-9:
        return
    out = wall + REACH_M * away / np.hypot(*away)
    where = f"the downspout {downspout.name!r}, where its water goes first"
    yield _out_to("D", (downspout.x, downspout.y), (float(out[0]), float(out[1])), lot, where)


def _along(line: GroundLine) -> Iterator[_Wanted]:
    for at in line.line:
        yield _Wanted("S", (float(at[0]), float(at[1])), f"along the {line.name}")


def _corners_of(lot: Lot | None) -> list[_Wanted]:
    if lot is None:
        return []
    names = [side.name for side in lot.sides]
    return [
        _Wanted(
            "L",
            (float(side.line[0, 0]), float(side.line[0, 1])),
            f"corner of the lot between {names[k - 1]} and {side.name}",
        )
        for k, side in enumerate(lot.sides)
    ]


def _between(buildings: Sequence[Building], lot: Lot | None) -> list[_Wanted]:
    """Half way from the main building to the middle of each lot side, where there is room."""
    if lot is None or not buildings:
        return []
    return [wanted for side in lot.sides for wanted in _half_way(buildings[0], side)]


def _half_way(building: Building, side: LotSide) -> Iterator[_Wanted]:
    line = shapely.LineString(side.line)
    center = building.outline.centroid
    foot = line.interpolate(line.project(center))
    wall = building.outline.exterior.interpolate(building.outline.exterior.project(foot))
    room = wall.distance(foot)
    if room < REACH_M + WIDE_M:
        return
    share = (REACH_M + (room - REACH_M) / 2.0) / room
    x, y = (wall.x + share * (foot.x - wall.x), wall.y + share * (foot.y - wall.y))
    yield _Wanted("G", (x, y), f"between the {building.name} and the lot's {side.name}")
    yield _Wanted("G", (foot.x, foot.y), f"lot line {side.name}, opposite the {building.name}")
