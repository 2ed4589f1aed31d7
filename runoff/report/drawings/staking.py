"""How what is to be built is staked out with two tapes: distances from corners of the buildings.

In: a site, and plan positions in metres. Out: `Stake`s, whose distances are those on the plan.
"""

from __future__ import annotations

import math
import string
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import assert_never

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, unary_union
from shapely.geometry.base import BaseGeometry

from runoff.discharge.ways import AsItIs, BuriedLine, Extension, Option, SeepagePit, Swale
from runoff.foundation.walls import Wall, wall_words, walls_of
from runoff.quantities import Shown
from runoff.report.maps.work import pit_outline
from runoff.site.model import Site

_LONGEST_TAPE_M = 30.0
"""A tape of 100 ft."""
_FLATTEST = math.radians(25.0)
"""Tapes that meet flatter than this tell too little of where between them a point lies."""
_AT_WALL_M = 0.75
"""So near to a wall a point is told along the wall and out from it."""
_INSIDE_M = 0.02
_NOT_DRAWN = ("pit, corner 3", "pit, corner 4")
_STRAIGHT = math.radians(2.0)


@dataclass(frozen=True)
class Corner:
    """A corner of a building by its letter on the lot.

    `at` is plan metres; `walls` are the names of the two that meet there, and `outward` the sum of
    their unit vectors away from the building.
    """

    letter: str
    building: str
    at: tuple[float, float]
    walls: tuple[str, str]
    outward: tuple[float, float]

    @property
    def words(self) -> str:
        """Which corner it is."""
        first, second = self.walls
        return f"{self.letter}: corner of '{self.building}', {first} and {second}"


@dataclass(frozen=True)
class Stake:
    """A point to stake out.

    Parameters
    ----------
    name : str
        What is there.
    at : (x, y), plan metres
    tapes : tuple of (Corner, float)
        Two corners and the distance from each, metres; of a point at a wall one, with the distance
        along the wall. Empty where no building is given.
    wall, out_m : str, float
        Of a point at a wall: the wall, and how far straight out from it, metres.
    is_drawn : bool
        Whether its tapes are drawn; those of a pit's farther corners would hide the others.
    """

    name: str
    at: tuple[float, float]
    tapes: tuple[tuple[Corner, float], ...]
    wall: str = ""
    out_m: float = 0.0
    is_drawn: bool = True

    def words(self, shown: Shown) -> tuple[str, str]:
        """What each of the two tapes reads."""
        if not self.tapes:
            return f"at {shown.place(*self.at)} of the plan", ""
        told = [f"{corner.letter} {shown.far(far)}" for corner, far in self.tapes]
        if self.wall:
            corner, far = self.tapes[0]
            along = "along" if far >= 0 else "past it, in line with"
            first = f"{corner.letter} {shown.far(abs(far))} {along} {wall_words(self.wall)}"
            return first, f"{shown.far(self.out_m)} straight out"
        return told[0], told[1]


def corners_of(site: Site) -> tuple[Corner, ...]:
    """The corners of the own buildings, lettered in the order in which they are written.

    Examples
    --------
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> corners_of(read_site(sample_folder() / "site.toml"))[1].words
    "B: corner of 'house', front and right"
    """
    found: list[Corner] = []
    for building in site.own_buildings:
        walls = {wall.number: wall for wall in walls_of([building])}
        for wall in walls.values():
            before = walls[wall.before]
            found.append(
                Corner(
                    _letter(len(found)),
                    building.name,
                    wall.start,
                    (before.name, wall.name),
                    (before.outward[0] + wall.outward[0], before.outward[1] + wall.outward[1]),
                )
            )
    return tuple(found)


def _letter(number: int) -> str:
    letters = string.ascii_uppercase
    return letters[number % 26] * (1 + number // 26)


def stakes_of(site: Site, option: Option) -> tuple[Stake, ...]:
    """The points by which a way is set out: start, every bend, end, and the corners of a pit."""
    points: list[tuple[str, tuple[float, float]]] = []
    match option.design:
        case Extension(start=start, end=end):
            points += _along([start, end], "extension")
        case Swale(line=bottom):
            points += _along(bottom, "swale")
        case BuriedLine(route=route):
            points += _along(route, "line")
        case SeepagePit() as pit:
            points += _along(pit.line.route, "line")
            if pit.governing.pit.kind == "cylinder":
                points.append(("pit, middle", pit.center))
            else:
                corners = [(float(x), float(y)) for x, y in pit_outline(pit)]
                points += [(f"pit, corner {k}", at) for k, at in enumerate(corners, 1)]
        case AsItIs() | None:
            pass
        case unknown:
            assert_never(unknown)
    stakes = [_stake(site, name, at) for name, at in points]
    return tuple(replace(one, is_drawn=False) if one.name in _NOT_DRAWN else one for one in stakes)


def _along(
    way: NDArray[np.float64] | Sequence[tuple[float, float]], what: str
) -> list[tuple[str, tuple[float, float]]]:
    """Start, bends and end of a way; points at which it does not turn are none."""
    points = [(float(x), float(y)) for x, y in way]
    bends = [b for a, b, c in zip(points, points[1:], points[2:], strict=False) if _turns(a, b, c)]
    return [
        (f"{what}, start", points[0]),
        *((f"{what}, bend {k}", at) for k, at in enumerate(bends, 1)),
        (f"{what}, end", points[-1]),
    ]


def _turns(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    turn = math.atan2(c[1] - b[1], c[0] - b[0]) - math.atan2(b[1] - a[1], b[0] - a[0])
    return abs((turn + math.pi) % (2 * math.pi) - math.pi) > _STRAIGHT


def _stake(site: Site, name: str, at: tuple[float, float]) -> Stake:
    """The two tapes that tell a point best; along a wall and out from it where it lies at one."""
    corners = corners_of(site)
    if not corners:
        return Stake(name, at, ())
    wall = _wall_at(site, at)
    if wall is not None:
        return _from_wall(corners, name, at, wall)
    within = unary_union([one.outline.buffer(-_INSIDE_M) for one in site.buildings])
    seen = [one for one in corners if _is_clear(within, at, one.at)]
    pairs = [pair for pair in combinations(seen, 2) if _meet(at, *pair) >= _FLATTEST]
    if not pairs:
        before = [wall for wall in walls_of(site.own_buildings) if _offsets(wall, at)[1] >= 0.0]
        nearest = min(
            before, key=lambda wall: Point(at).distance(LineString([wall.start, wall.end]))
        )
        return _from_wall(corners, name, at, nearest)
    best = min(pairs, key=lambda pair: _badness(at, *pair))
    return Stake(name, at, tuple((one, math.dist(at, one.at)) for one in best))


def _is_clear(within: BaseGeometry, at: tuple[float, float], corner: tuple[float, float]) -> bool:
    return not LineString([at, corner]).intersects(within)


def _meet(at: tuple[float, float], first: Corner, second: Corner) -> float:
    """The angle from 0 to 90 degrees, in radians, at which two tapes cross at a point."""
    one, other = (math.atan2(c.at[1] - at[1], c.at[0] - at[0]) for c in (first, second))
    turn = abs(one - other) % math.pi
    return min(turn, math.pi - turn)


def _badness(at: tuple[float, float], first: Corner, second: Corner) -> float:
    """What a slip on either tape moves the point by, worse for long tapes."""
    far = max(math.dist(at, first.at), math.dist(at, second.at))
    long = 1.0 + far / _LONGEST_TAPE_M if far <= _LONGEST_TAPE_M else 1.0 + far
    return long * spread_of(_meet(at, first, second))


def spread_of(angle: float) -> float:
    """By how many times a slip of both tapes a point is moved at most; `angle` is where they meet.

    Two circles whose radii are wrong by d each cross, to first order, off by
    ``d sqrt(2 (1 + cos a)) / sin a`` where the wrong ways add up.

    Examples
    --------
    >>> round(spread_of(math.pi / 2), 3), round(spread_of(math.radians(30)), 3)
    (1.414, 3.864)
    """
    return math.sqrt(2.0 * (1.0 + math.cos(angle))) / math.sin(angle)


def _wall_at(site: Site, at: tuple[float, float]) -> Wall | None:
    """The wall in front of which a point lies so near that tapes from its corners are in line."""
    found = []
    for wall in walls_of(site.own_buildings):
        along, out = _offsets(wall, at)
        if 0.0 <= along <= wall.length and -_INSIDE_M <= out <= _AT_WALL_M:
            found.append((out, wall))
    return min(found, key=lambda one: one[0])[1] if found else None


def _offsets(wall: Wall, at: tuple[float, float]) -> tuple[float, float]:
    """How far along a wall from its start, and how far out from it."""
    dx, dy = at[0] - wall.start[0], at[1] - wall.start[1]
    ux, uy = ((b - a) / wall.length for a, b in zip(wall.start, wall.end, strict=True))
    return dx * ux + dy * uy, dx * wall.outward[0] + dy * wall.outward[1]


def _from_wall(corners: Sequence[Corner], name: str, at: tuple[float, float], wall: Wall) -> Stake:
    """Along a wall from the nearer of its corners, and straight out."""
    along, out = _offsets(wall, at)
    start = along <= wall.length / 2
    corner = next(
        one
        for one in corners
        if one.building == wall.building and one.at == (wall.start if start else wall.end)
    )
    return Stake(name, at, ((corner, along if start else wall.length - along),), wall.name, out)
