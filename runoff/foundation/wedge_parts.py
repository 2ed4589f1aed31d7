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

from runoff.foundation.grade import WET, water_beside
from runoff.foundation.model import Station, WallRun
from runoff.foundation.runs import worst_of
from runoff.foundation.stations import Array
from runoff.foundation.wedge_fill import BESIDE_CELLS, Soil, soil_along, some_of
from runoff.foundation.wedge_limits import (
    Fill,
    clearance_shortage,
    onto_neighbor,
    still_standing,
    what_it_buries,
)
from runoff.site.model import Site
from runoff.terrain.model import Terrain

Place = tuple[str, int, float]
"""A station: building, number of the wall, metres along it."""
NOWHERE: Mapping[Place, str] = MappingProxyType({})
"""Nothing is refused beforehand."""

_LEAST_STRETCH = 0.6
"""Metres of wall between two obstacles below which soil is not worth a word."""


def place_of(station: Station) -> Place:
    """Where a station stands."""
    return station.building, station.wall, station.along


@dataclass
class Ask:
    """Soil that a run of wall, or a part of it, asks for, and what forbids it.

    `deep` is (n,) metres of the storm's water at its stations. `height` and `out` are metres as
    the part asks for them, its neighbors left out.
    """

    site: Site
    terrain: Terrain
    soil: Soil
    deep: Array
    height: float
    out: float
    short_by: float = 0.0
    refused: str = ""

    @property
    def may_be_placed(self) -> bool:
        return not self.refused and self.short_by == 0

    def look(self, fill: Fill) -> None:
        """Say what forbids this soil."""
        site, stations = self.site, self.soil.stations
        self.short_by = clearance_shortage(site, self.soil.run, self.soil.members, fill)
        buried = next(filter(None, what_it_buries(site, stations, fill)), "")
        self.refused = (
            buried
            or onto_neighbor(site, self.terrain, stations, fill)
            or still_standing(site, _left_standing(fill, self.deep))
        )

    def look_again(self) -> None:
        """Say whether the soil is still allowed, now that its neighbors' soil is counted."""
        if self.refused or np.array_equal(self.soil.asked, self.soil.first.depth):
            return
        fill = self.soil.asked_fill()
        self.look(fill)
        self.height, self.out = float(fill.depth[:, 0].max()), float(fill.toe.max())

    def in_parts(self, said: Sequence[str]) -> Iterator[Ask]:
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
                parted = soil_along(self.site, self.terrain, run, members, before)
                mine = _ask(self.site, self.terrain, self.deep[part], parted)
            mine.refused = why or mine.refused
            yield mine


def asks_of(
    site: Site,
    terrain: Terrain,
    standing_depth: Array,
    whole: Soil,
    refused: Mapping[Place, str],
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
    said = [refused.get(place_of(station), "") for station in whole.members]
    asked = []
    for part in _ask(site, terrain, deep, whole).in_parts(said):
        if part.refused:
            asked.append(part)
            continue
        buried = what_it_buries(site, part.soil.stations, part.soil.first)
        for each in part.in_parts(spread(part.soil, buried)):
            each.look(each.soil.first)
            asked.append(each)
    return asked


def spread(soil: Soil, said: Sequence[str]) -> list[str]:
    """What is said of stations, said of those beside them too, and of short gaps between.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> run = SimpleNamespace(start=0.0, end=3.0, stations=(None,) * 10)
    >>> soil = SimpleNamespace(run=run, grid=SimpleNamespace(cell_size=0.05))
    >>> spread(soil, ["", "", "", "a walk", "", "", "", "", "", ""])
    ['', '', 'a walk', 'a walk', 'a walk', '', '', '', '', '']
    """
    width = _width(soil.run)
    beside = math.ceil(BESIDE_CELLS * soil.grid.cell_size / width)
    near = [
        next(filter(None, said[max(k - beside, 0) : k + beside + 1]), "") for k in range(len(said))
    ]
    wide = [mine or beside_it for mine, beside_it in zip(said, near, strict=True)]
    if not any(wide):
        return wide
    joined: list[str] = []
    for why, members in groupby(wide):
        size = len(list(members))
        last = joined[-1] if joined else next(filter(None, wide))
        joined += [why if why or size * width >= _LEAST_STRETCH else last] * size
    return joined


def _ask(site: Site, terrain: Terrain, deep: Array, soil: Soil) -> Ask:
    fill = soil.first
    return Ask(site, terrain, soil, deep, float(fill.depth[:, 0].max()), float(fill.toe.max()))


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


def _stretches(said: Sequence[str]) -> Iterator[tuple[str, slice]]:
    place = 0
    for why, members in groupby(said):
        size = len(list(members))
        yield why, slice(place, place + size)
        place += size


def _left_standing(fill: Fill, deep: Array) -> float:
    """How far the storm's water stands above the corrected ground at the wall, metres."""
    return float(np.where(deep > WET, deep - fill.depth[:, 0], -np.inf).max())
