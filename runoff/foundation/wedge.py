"""Correcting the grade: the wedge of soil that makes a failing run of wall pass.

In: a site, its terrain, the runs of wall and the storm's water. Out: `SoilWedge` records.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np

from runoff.foundation.grade import ROUNDING, WET, water_beside
from runoff.foundation.model import SoilWedge, Station, Verdict, WallRun
from runoff.foundation.runs import worst_of
from runoff.foundation.stations import Array
from runoff.foundation.wedge_fill import (
    BESIDE_CELLS,
    Soil,
    measure_all,
    soil_along,
    some_of,
)
from runoff.foundation.wedge_limits import (
    Fill,
    clearance_shortage,
    onto_neighbor,
    still_standing,
    what_it_buries,
)
from runoff.foundation.wedge_words import wedge_sentence
from runoff.site.model import Site
from runoff.terrain.model import Terrain

FAILING: tuple[Verdict, ...] = ("too flat", "slopes back", "holds water")
ALONE = "no soil sloped away from it makes it pass"
AGAINST_EACH_OTHER = "what it needs undoes what another wall nearby needs"

_MOST_SWEEPS = 20
_MOST_LIFTS = 10
_LEAST_STRETCH = 0.6
"""Metres of wall between two obstacles below which soil is not worth a word."""


def soil_wedges(
    site: Site, terrain: Terrain, runs: Sequence[WallRun], standing_depth: Array
) -> tuple[SoilWedge, ...]:
    """The soil that would make each failing run of wall pass, or why soil cannot.

    Along each profile the ground is raised to the plane that falls at the required grade from the
    wall and meets the existing ground within the profile's reach; where the ground beyond rises
    against the wall, the low place is filled too. Where the soil of two walls meets, each is made
    on the ground that the other leaves, in turn, until all pass. Part of a run where soil would
    bury paving or dam an easement has a record of its own.

    Parameters
    ----------
    site : Site
    terrain : Terrain
    runs : sequence of WallRun
    standing_depth : (rows, cols) float64, metres

    Returns
    -------
    tuple of SoilWedge, for runs that are too flat, slope back or hold water
        None where the heights give an indication only.
    """
    failing = [
        (run, [s for s in run.stations if s.reach > ROUNDING and np.isfinite(s.required)])
        for run in runs
        if run.verdict in FAILING and not run.indication
    ]
    failing = [(run, members) for run, members in failing if members]
    reach = site.rules["foundation_reach"]
    measured = measure_all(terrain, [members for _, members in failing], reach)
    asked = [
        ask
        for (run, members), before in zip(failing, measured, strict=True)
        for ask in _asked(
            site, terrain, standing_depth, soil_along(site, terrain, run, members, before)
        )
    ]
    while any(ask.may_be_placed for ask in asked):
        placed = [ask for ask in asked if ask.may_be_placed]
        _place(terrain, placed, reach)
        for ask in placed:
            ask.look_again()
        if all(ask.may_be_placed for ask in placed):
            break
    return tuple(_wedges(site, asked))


def apply_wedge(terrain: Terrain, wedge: SoilWedge) -> Terrain:
    """The terrain with one wedge of soil placed on it."""
    return apply_wedges(terrain, (wedge,))


def apply_wedges(terrain: Terrain, wedges: Iterable[SoilWedge]) -> Terrain:
    """The terrain with wedges of soil placed on it.

    A cell that several of them cover is raised by the most that any of them asks for.

    Parameters
    ----------
    terrain : Terrain
        The one that the wedges were made for.
    wedges : iterable of SoilWedge

    Returns
    -------
    Terrain
    """
    raised = np.zeros(terrain.ground.shape)
    for wedge in wedges:
        rows, cols = wedge.cells.T
        raised[rows, cols] = np.maximum(raised[rows, cols], wedge.raised)
    return replace(terrain, ground=terrain.ground + raised, surface=terrain.surface + raised)


@dataclass
class _Ask:
    """Soil that a run of wall, or a part of it, asks for, and what forbids it.

    `height` and `out` are metres as the part asks for them, its neighbors left out.
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


def _asked(site: Site, terrain: Terrain, standing_depth: Array, whole: Soil) -> list[_Ask]:
    """What a run asks for, in parts where something lies in the soil's way along some of it."""
    run, members = whole.run, whole.members
    buried = what_it_buries(site, whole.stations, whole.first)
    width = (run.end - run.start) / len(run.stations)
    beside = math.ceil(BESIDE_CELLS * terrain.grid.cell_size / width)
    asked = []
    for part in _parts(_spread(buried, beside, _LEAST_STRETCH / width)):
        soil = whole
        if part != slice(0, len(members)):
            mine, before = members[part], some_of(whole.before, part)
            soil = soil_along(site, terrain, _part_of(run, width, mine), mine, before)
        fill = soil.first
        ask = _Ask(
            site=site,
            terrain=terrain,
            soil=soil,
            deep=water_beside(terrain, soil.stations, standing_depth),
            height=float(fill.depth[:, 0].max()),
            out=float(fill.toe.max()),
        )
        ask.look(fill)
        asked.append(ask)
    return asked


def _part_of(run: WallRun, width: float, members: Sequence[Station]) -> WallRun:
    return replace(
        run,
        start=members[0].along - width / 2,
        end=members[-1].along + width / 2,
        stations=tuple(members),
        worst=worst_of(run.verdict, members),
    )


def _spread(buried: list[str], beside: int, least: float) -> list[str]:
    """What lies in the way, said of the stations beside it too, and of short gaps between."""
    near = [
        next(filter(None, buried[max(k - beside, 0) : k + beside + 1]), "")
        for k in range(len(buried))
    ]
    spread = [mine or beside_it for mine, beside_it in zip(buried, near, strict=True)]
    if not any(spread):
        return spread
    joined: list[str] = []
    for said, members in groupby(spread):
        size = len(list(members))
        last = joined[-1] if joined else next(filter(None, spread))
        joined += [said if said or size >= least else last] * size
    return joined


def _parts(said: list[str]) -> list[slice]:
    parts, place = [], 0
    for _, members in groupby(said):
        size = len(list(members))
        parts.append(slice(place, place + size))
        place += size
    return parts


def _place(terrain: Terrain, asked: Sequence[_Ask], reach: float) -> None:
    """Place all the soil, each on the ground that the others leave, until every run passes."""
    after = replace(terrain, ground=terrain.ground.copy())
    soils = [ask.soil for ask in asked]
    for soil in soils:
        soil.start_again()
    waiting = set(range(len(soils)))
    made = [soil.before for soil in soils]
    for _ in range(_MOST_SWEEPS):
        failing = []
        for number, profiles in zip(sorted(waiting), made, strict=True):
            if soils[number].wanting(profiles).any():
                soils[number].ask(after, profiles)
                failing.append(soils[number])
        _raise(after, failing, reach)
        waiting = {k for k, soil in enumerate(soils) if any(soil.meets(s) for s in failing)}
        if not waiting:
            return
        made = measure_all(after, [soils[k].members for k in sorted(waiting)], reach)
    for number in waiting:
        met = any(soils[number].meets(s) for k, s in enumerate(soils) if k != number)
        asked[number].refused = AGAINST_EACH_OTHER if met else ALONE


def _raise(terrain: Terrain, soils: Sequence[Soil], reach: float) -> None:
    """Raise the ground by what is asked for, and by the little that the grid then lacks."""
    wanting = list(soils)
    for _ in range(_MOST_LIFTS):
        for soil in wanting:
            soil.place(terrain)
        made = measure_all(terrain, [soil.members for soil in wanting], reach)
        lacks = [
            (soil, soil.wanting(profiles, soil.spare))
            for soil, profiles in zip(wanting, made, strict=True)
        ]
        wanting = [soil for soil, lack in lacks if lack.any()]
        for soil, lack in lacks:
            soil.lift_by(lack)
        if not wanting:
            return


def _left_standing(fill: Fill, deep: Array) -> float:
    """How far the storm's water stands above the corrected ground at the wall, metres."""
    return float(np.where(deep > WET, deep - fill.depth[:, 0], -np.inf).max())


def _wedges(site: Site, asked: Sequence[_Ask]) -> Iterable[SoilWedge]:
    counted: list[Soil] = []
    for ask in asked:
        wedge = SoilWedge(
            run=ask.soil.run,
            compacted=0.0,
            loose=0.0,
            height=ask.height,
            out=ask.out,
            short_by=ask.short_by,
            refused=ask.refused,
            sentence="",
        )
        if ask.may_be_placed:
            compacted = ask.soil.volume(counted)
            counted.append(ask.soil)
            cells, raised = ask.soil.cells()
            wedge = replace(
                wedge,
                compacted=compacted,
                loose=compacted * site.rules["soil_bulking"],
                cells=cells,
                raised=raised,
            )
        yield replace(wedge, sentence=wedge_sentence(site, wedge))
