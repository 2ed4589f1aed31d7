"""What soil the runs of wall ask for, in parts where something forbids it along some of a run.

In: a run's soil, and what lies in its way. Out: `Ask` records, each of one stretch of wall.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from runoff.foundation.grade import WET, water_beside
from runoff.foundation.model import Refusal, Station, WallRun
from runoff.foundation.runs import worst_of
from runoff.foundation.stations import Array, Profiles
from runoff.foundation.wedge_fill import BESIDE_CELLS, Soil, soil_along, some_of
from runoff.foundation.wedge_limits import (
    Fill,
    Said,
    onto_neighbor,
    over_the_clearance,
    still_standing,
    what_it_buries,
)
from runoff.site.model import Site
from runoff.terrain.model import Terrain

Place = tuple[str, int, float]
"""A station: building, number of the wall, metres along it."""
NOWHERE: Mapping[Place, Refusal] = MappingProxyType({})
"""Nothing is refused beforehand."""

TOO_HIGH = Refusal("too high")
"""Said where soil would stand higher than the wall allows; `Ask.over` by how much."""

_LEAST_STRETCH = 0.6
"""Metres of wall between two obstacles below which soil is not worth a word."""
_LEAST_TOLD = 1.5
"""Metres of refused wall below which its own reason is not worth a word beside another's."""


def place_of(station: Station) -> Place:
    """Where a station stands."""
    return station.building, station.wall, station.along


@dataclass
class Ask:
    """Soil that a run of wall, or a part of it, asks for, and what forbids it.

    `deep` is (n,) metres of the storm's water at its stations, and `over` how much higher than the
    wall allows the soil stood there when last looked at. `height` and `out` are metres: as the soil
    lies with its neighbors', or, where it may not be placed, as the part by itself asks for it.
    """

    site: Site
    terrain: Terrain
    soil: Soil
    deep: Array
    height: float
    out: float
    over: Array
    short_by: float = 0.0
    refused: Said = None

    @property
    def may_be_placed(self) -> bool:
        return self.refused is None and self.short_by == 0

    def look_again(self, made: Profiles) -> list[Ask]:
        """The same soil as it lies with all the soil placed, or what becomes of it if it may not.

        Stations where it stands too high or reaches a neighbor ask for less, and are refused where
        no less will do.
        """
        fill = self.soil.made_fill(made)
        self.height, self.out = float(fill.depth[:, 0].max()), float(fill.toe.max())
        said = self._forbidden(fill)
        if any(said):
            less = self._next_slope(said)
            if less is None:
                return list(self.in_parts(spread(self.soil, said)))
            self.soil.make_leaner(*less)
        return [self]

    def find_less(self) -> list[Said]:
        """Ask for as little as passes where more is forbidden; what then still is, by station."""
        stations, first = self.soil.stations, self.soil.first
        # Less soil before a neighbor's side would only leave the last of the way to chance.
        to_neighbor = onto_neighbor(self.site, self.terrain, stations, first)
        while True:
            first = self.soil.first
            buried = what_it_buries(self.site, self.terrain, stations, first)
            said = [b or s for b, s in zip(buried, self._forbidden(first), strict=True)]
            less = self._next_slope(said)
            if less is None:
                return [n or s for n, s in zip(to_neighbor, said, strict=True)]
            self.soil.make_leaner(*less)

    def _forbidden(self, fill: Fill) -> list[Said]:
        """What forbids soil before each station: a neighbor's side, or what the wall allows."""
        self.over = over_the_clearance(self.site, self.soil.run, self.soil.members, fill)
        near = onto_neighbor(self.site, self.terrain, self.soil.stations, fill)
        high = [TOO_HIGH if over > 0 else None for over in self.over]
        return [why or too_high for why, too_high in zip(near, high, strict=True)]

    def _next_slope(self, said: Sequence[Said]) -> tuple[NDArray[np.bool_], float] | None:
        """At which of these stations less soil is still to be tried, and how steeply it falls."""
        steepest = self.site.rules["soil_grade_most"]
        where = np.array([bool(why) for why in said])
        for slope in (0.0, 0.75 * steepest, steepest):
            grade = np.array([s.required / s.reach for s in self.soil.members])
            still = where & (self.soil.lean < np.maximum(grade, slope))
            if still.any():
                return still, slope
        return None

    def stands_in_water(self) -> None:
        """Refuse soil that the storm's water would still stand over at the wall."""
        self.refused = still_standing(_left_standing(self.soil.first, self.deep))

    def in_parts(self, said: Sequence[Said]) -> Iterator[Ask]:
        """The same soil in parts: a part for each stretch of stations of which the same is said.

        A part of which something is said is refused for it.
        """
        soil = self.soil
        width = _width(soil.run)
        for why, part in _stretches(said):
            mine, members = self, soil.members[part]
            if part != slice(0, len(said)):
                run = _part_of(soil.run, width, members)
                before = some_of(soil.before, part)
                lean = soil.lean[part]
                parted = soil_along(self.site, self.terrain, run, members, before, lean)
                mine = _ask(self.site, self.terrain, self.deep[part], parted)
            if why == TOO_HIGH:
                mine.short_by = float(self.over[part].max())
            else:
                mine.refused = why or mine.refused
            yield mine


def asks_of(
    site: Site,
    terrain: Terrain,
    standing_depth: Array,
    whole: Soil,
    refused: Mapping[Place, Refusal],
) -> list[Ask]:
    """What a run asks for, in parts where something lies in the soil's way along some of it.

    Parameters
    ----------
    site : Site
    terrain : Terrain
    standing_depth : (rows, cols) float64, metres
    whole : Soil
        That of all the run.
    refused : mapping
        Stations where soil is refused beforehand, and why.
    """
    deep = water_beside(terrain, whole.stations, standing_depth)
    said = [refused.get(place_of(station)) for station in whole.members]
    asked = []
    for part in _ask(site, terrain, deep, whole).in_parts(said):
        if part.refused:
            asked.append(part)
            continue
        for each in part.in_parts(spread(part.soil, part.find_less())):
            if each.may_be_placed:
                each.stands_in_water()
            asked.append(each)
    return asked


def spread(soil: Soil, said: Sequence[Said]) -> list[Said]:
    """What is said of stations, said of those beside them too, and of short gaps between.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> run = SimpleNamespace(start=0.0, end=3.0, stations=(None,) * 10)
    >>> soil = SimpleNamespace(run=run, grid=SimpleNamespace(cell_size=0.05))
    >>> walk = Refusal("buries paving", "a walk", of="walk")
    >>> said = spread(soil, [None, None, None, walk, None, None, None, None, None, None])
    >>> ["" if why is None else why.name for why in said]
    ['', '', 'a walk', 'a walk', 'a walk', '', '', '', '', '']
    """
    width = _width(soil.run)
    beside = math.ceil(BESIDE_CELLS * soil.grid.cell_size / width)
    around = (said[max(k - beside, 0) : k + beside + 1] for k in range(len(said)))
    near = [next(filter(None, some), None) for some in around]
    wide = [mine or beside_it for mine, beside_it in zip(said, near, strict=True)]
    if not any(wide):
        return wide
    joined: list[Said] = []
    for why, members in groupby(wide):
        size = len(list(members))
        last = joined[-1] if joined else next(filter(None, wide))
        joined += [why if why or size * width >= _LEAST_STRETCH else last] * size
    return _told_together(joined, width)


def _told_together(said: list[Said], width: float) -> list[Said]:
    """The same with short stretches of a refused length told with the longest reason beside them.

    They are refused all the same; a sentence for every foot of a wall tells nobody anything.
    """
    pieces = [(why, len(list(members))) for why, members in groupby(said)]
    while True:
        short = [
            (size, k)
            for k, (why, size) in enumerate(pieces)
            if why and size * width < _LEAST_TOLD and _refused_beside(pieces, k)
        ]
        if not short:
            return [why for why, size in pieces for _ in range(size)]
        size, k = min(short)
        beside = max(_refused_beside(pieces, k), key=lambda at: pieces[at][1])
        pieces[k] = pieces[beside][0], size
        told = [why for why, size in pieces for _ in range(size)]
        pieces = [(why, len(list(members))) for why, members in groupby(told)]


def _refused_beside(pieces: Sequence[tuple[Said, int]], k: int) -> list[int]:
    """Which of the stretches beside one are refused too."""
    return [at for at in (k - 1, k + 1) if 0 <= at < len(pieces) and pieces[at][0]]


def _ask(site: Site, terrain: Terrain, deep: Array, soil: Soil) -> Ask:
    fill = soil.first
    height, out = float(fill.depth[:, 0].max()), float(fill.toe.max())
    return Ask(site, terrain, soil, deep, height, out, np.zeros(len(deep)))


def _width(run: WallRun) -> float:
    """How far apart a run's stations are, metres."""
    return (run.end - run.start) / len(run.stations)


def _part_of(run: WallRun, width: float, members: Sequence[Station]) -> WallRun:
    return replace(
        run,
        start=members[0].along - width / 2,
        end=members[-1].along + width / 2,
        stations=tuple(members),
        worst=worst_of(run.verdict, members),
    )


def _stretches(said: Sequence[Said]) -> Iterator[tuple[Said, slice]]:
    place = 0
    for why, members in groupby(said):
        size = len(list(members))
        yield why, slice(place, place + size)
        place += size


def _left_standing(fill: Fill, deep: Array) -> float:
    """How far the storm's water stands above the corrected ground at the wall, metres."""
    return float(np.where(deep > WET, deep - fill.depth[:, 0], -np.inf).max())
