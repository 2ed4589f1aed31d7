"""Correcting the grade: the soil that failing runs of wall ask for, in parts where something
forbids it, and all walls together.

In: a run's soil, and what lies in its way. Out: `Ask` records, each of one stretch of wall.

In: a site, its terrain, the runs of wall and the storm's water. Out: `SoilWedge` records.

In: what the runs of wall ask for. Out: the soil laid on the terrain's cells, and the stations
whose soil can never be made right beside another's.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from runoff.foundation.grade import ROUNDING, WET, water_beside, worst_of
from runoff.foundation.model import Refusal, SoilWedge, Station, Verdict, WallRun
from runoff.foundation.soil_fill import (
    BESIDE_CELLS,
    Fill,
    Said,
    Soil,
    measure_all,
    onto_neighbor,
    over_the_clearance,
    soil_along,
    some_of,
    still_standing,
    what_it_buries,
)
from runoff.foundation.walls import Array, Profiles
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
    return station.building, station.wall, station.along_m


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
            grade = np.array([s.required_m / s.reach_m for s in self.soil.members])
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
    >>> run = SimpleNamespace(start_m=0.0, end_m=3.0, stations=(None,) * 10)
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
    return (run.end_m - run.start_m) / len(run.stations)


def _part_of(run: WallRun, width: float, members: Sequence[Station]) -> WallRun:
    return replace(
        run,
        start_m=members[0].along_m - width / 2,
        end_m=members[-1].along_m + width / 2,
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


FAILING: tuple[Verdict, ...] = ("too flat", "slopes back", "holds water")


def soil_wedges(
    site: Site,
    terrain: Terrain,
    runs: Sequence[WallRun],
    standing_depth: Array,
    refused: Mapping[Place, Refusal] = NOWHERE,
) -> tuple[SoilWedge, ...]:
    """The soil that would make each failing run of wall pass, or why soil cannot.

    Along each profile the ground is raised to the plane that falls at the required grade from the
    wall and meets the existing ground within the profile's reach; where the ground beyond rises
    against the wall, the low place is filled too. Where the soil of two walls meets, each is made
    on the ground that the other leaves, in turn, until all pass. Part of a run where soil would
    bury paving or dam an easement, or undo what a wall that faces it needs, has a record of its
    own. Where the plane would bury paving or stand higher than the wall allows, the least soil that
    passes is looked for before it is refused. The volumes are those of the soil on the terrain's
    cells, its ends with it; a cell that several runs cover counts for one of them.

    Parameters
    ----------
    site : Site
    terrain : Terrain
    runs : sequence of WallRun
    standing_depth : (rows, cols) float64, metres
    refused : mapping, optional
        Stations where no soil may be placed beforehand, and why.

    Returns
    -------
    tuple of SoilWedge, for runs that are too flat, slope back or hold water
        None where the heights give an indication only.
    """
    failing = [
        (run, [s for s in run.stations if s.reach_m > ROUNDING and np.isfinite(s.required_m)])
        for run in runs
        if run.verdict in FAILING and not run.indication
    ]
    failing = [(run, members) for run, members in failing if members]
    reach = site.rules["foundation_reach"]
    measured = measure_all(terrain, [members for _, members in failing], reach)
    asked = [
        ask
        for (run, members), before in zip(failing, measured, strict=True)
        for ask in asks_of(
            site,
            terrain,
            standing_depth,
            soil_along(site, terrain, run, members, before),
            refused,
        )
    ]
    while any(ask.may_be_placed for ask in asked):
        placed = [ask for ask in asked if ask.may_be_placed]
        conflict = place_together(terrain, placed, reach)
        if conflict:
            said = {id(placed[number]): why for number, why in conflict.items()}
            asked = [
                part
                for ask in asked
                for part in (ask.in_parts(said[id(ask)]) if id(ask) in said else [ask])
            ]
            continue
        leans = [ask.soil.lean for ask in placed]
        after = _with_soil(terrain, [ask.soil for ask in placed])
        made = measure_all(after, [ask.soil.members for ask in placed], reach)
        lies = {id(ask): each for ask, each in zip(placed, made, strict=True)}
        asked = [
            part
            for ask in asked
            for part in (ask.look_again(lies[id(ask)]) if id(ask) in lies else [ask])
        ]
        again = [ask for ask in asked if ask.may_be_placed]
        same = all(ask is before for ask, before in zip(again, placed, strict=False))
        if (
            len(again) == len(placed)
            and same
            and all(ask.soil.lean is lean for ask, lean in zip(again, leans, strict=True))
        ):
            break
    return tuple(_wedges(site, terrain, asked))


def _with_soil(terrain: Terrain, soils: Sequence[Soil]) -> Terrain:
    """The ground with all this soil on it."""
    after = replace(terrain, ground=terrain.ground.copy())
    for soil in soils:
        cells, raised = soil.cells()
        rows, cols = cells.T
        there = after.ground[rows, cols]
        after.ground[rows, cols] = np.maximum(there, terrain.ground[rows, cols] + raised)
    return after


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


def _wedges(site: Site, terrain: Terrain, asked: Sequence[Ask]) -> Iterator[SoilWedge]:
    volumes = _volumes(terrain, [ask.soil for ask in asked if ask.may_be_placed])
    for ask in asked:
        wedge = SoilWedge(
            run=ask.soil.run,
            compacted_m3=0.0,
            loose_m3=0.0,
            height_m=ask.height,
            out_m=ask.out,
            short_by_m=ask.short_by,
            refused=ask.refused,
        )
        if ask.may_be_placed:
            compacted = next(volumes)
            cells, raised = ask.soil.cells()
            wedge = replace(
                wedge,
                compacted_m3=compacted,
                loose_m3=compacted * site.rules["soil_bulking"],
                cells=cells,
                raised=raised,
            )
        yield wedge


def _volumes(terrain: Terrain, soils: Sequence[Soil]) -> Iterator[float]:
    """The soil on the ground, m3, by the run that it counts for.

    A cell counts for the run that it lies before, past the ends of the others; where that is no
    run or several, for the one that raises it most.
    """
    owner = np.zeros(terrain.ground.shape, dtype=np.int64)
    raised = np.zeros((2, *terrain.ground.shape))
    for number, soil in enumerate(soils, start=1):
        cells, depth = soil.cells()
        rows, cols = cells.T
        before = soil.before_the_run().astype(np.int64)
        # What lies past an end counts only where nothing lies before a run.
        higher = depth > raised[before, rows, cols]
        mine = higher & ((before == 1) | (raised[1, rows, cols] == 0))
        owner[rows[mine], cols[mine]] = number
        raised[before[higher], rows[higher], cols[higher]] = depth[higher]
    for number, soil in enumerate(soils, start=1):
        rows, cols = soil.cells()[0].T
        own = owner[rows, cols] == number
        yield float(raised[:, rows[own], cols[own]].max(axis=0).sum()) * terrain.grid.cell_area


ALONE = Refusal("never passes")
AGAINST_EACH_OTHER = Refusal("undoes another wall")

_MOST_SWEEPS = 20
_MOST_LIFTS = 10
_SOON = 6
"""Sweeps after which soil that still asks for much more each time asks for it without end."""
_MUCH = 0.01
"""Metres; what walls that can be made right together still lack by then is far less."""
_FACING = -0.5
"""Cosine between the outward directions of two walls that face each other, at most."""


def place_together(terrain: Terrain, asked: Sequence[Ask], reach: float) -> dict[int, list[Said]]:
    """Place all the soil, each on the ground that the others leave, until every run passes.

    Parameters
    ----------
    terrain : Terrain
    asked : sequence of Ask
        Those that may be placed.
    reach : float, metres

    Returns
    -------
    dict
        Empty where all pass. Otherwise, by number of an ask, why its soil cannot be placed before
        each of its stations, None where it can.
    """
    after = replace(terrain, ground=terrain.ground.copy())
    soils = [ask.soil for ask in asked]
    for soil in soils:
        soil.start_again()
    undone = [np.zeros(len(soil.members)) for soil in soils]
    waiting = set(range(len(soils)))
    made = [soil.before for soil in soils]
    for sweep in range(_MOST_SWEEPS):
        failing, most = [], 0.0
        for number, profiles in zip(sorted(waiting), made, strict=True):
            lacks = soils[number].wanting(profiles)
            if lacks.any():
                soils[number].ask(after, profiles)
                failing.append(soils[number])
                if sweep:
                    undone[number] += lacks
                    most = max(most, float(lacks.max()))
        if sweep >= _SOON and most > _MUCH:
            break
        _raise(after, failing, reach)
        waiting = {k for k, soil in enumerate(soils) if any(soil.meets(s) for s in failing)}
        if not waiting:
            return {}
        made = measure_all(after, [soils[k].members for k in sorted(waiting)], reach)
    return _in_conflict(soils, undone)


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


def _in_conflict(soils: Sequence[Soil], undone: Sequence[Array]) -> dict[int, list[Said]]:
    """Of the run that was undone most, and of those that face it, the stations that conflict."""
    worst = int(np.argmax([lacks.max() for lacks in undone]))
    soil, others = soils[worst], {k: each for k, each in enumerate(soils) if k != worst}
    met = {k: each for k, each in others.items() if soil.meets(each)}
    at = np.flatnonzero(undone[worst] > ROUNDING)
    ever = np.zeros(len(soil.members), dtype=bool)
    ever[at.min(initial=len(ever)) : at.max(initial=-1) + 1] = True
    facing = {k: each for k, each in met.items() if _cosine(soil, each) < _FACING}
    before_them = [soil.reaches(each, each.run.start_m, each.run.end_m) for each in facing.values()]
    mine = ever & np.any([np.zeros_like(ever), *before_them], axis=0)
    if not mine.any():
        return {worst: _told(soil, ever, AGAINST_EACH_OTHER if met else ALONE)}
    along = soil.stations.along[mine]
    found = {worst: _told(soil, mine, AGAINST_EACH_OTHER)}
    for number, each in facing.items():
        theirs = each.reaches(soil, float(along.min()), float(along.max()))
        if theirs.any():
            found[number] = _told(each, theirs, AGAINST_EACH_OTHER)
    return found


def _told(soil: Soil, which: NDArray[np.bool_], why: Refusal) -> list[Said]:
    return spread(soil, [why if yes else None for yes in which])


def _cosine(soil: Soil, other: Soil) -> float:
    return float(soil.stations.outward[0] @ other.stations.outward[0])
