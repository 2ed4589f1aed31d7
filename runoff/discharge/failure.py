"""What happens when a way does not work: where the water then runs, which openings it wets, and
what keeps it off.

In: the lot's ground, a downspout, where its water is let go. Out: the openings it gets into.

In: the ground as it will be, a downspout, an option. Out: every way it fails. The design storm's
water is let go at the point of overflow and run by the same engine. docs/failures.md.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import assert_never

import numpy as np
from numpy.typing import NDArray

from runoff.discharge.as_it_is import AsItIs
from runoff.discharge.correction import correct_grade
from runoff.discharge.extension.way import Extension
from runoff.discharge.ground import LotGround, Reached, reaches_foundation, reaches_neighbor
from runoff.discharge.line.record import BuriedLine
from runoff.discharge.model import ComesOut, Failure, FailureKind, NotPossible
from runoff.discharge.pit.size import SeepagePit
from runoff.discharge.swale.cut import corner_stations
from runoff.discharge.swale.design import with_swale
from runoff.discharge.swale.routes import places_of
from runoff.discharge.swale.section import Swale
from runoff.discharge.ways import Option
from runoff.flow.model import DownspoutAnswer
from runoff.flow.sentences import over_sidewalk
from runoff.flow.storm import LetGo, ground_near, roof_water
from runoff.foundation.walls import WELLS, cells_beside, walls_of
from runoff.site.model import Downspout, Opening
from runoff.site.problems import InputError

# Water no higher than this over an edge is rounding, metres.
_ROUNDING = 1e-9


@dataclass(frozen=True)
class OpeningsBeside:
    """A lot's openings as one downspout's water meets them on a ground."""

    ground: LotGround
    downspout: Downspout

    def got_into(self, answer: DownspoutAnswer) -> tuple[Opening, ...]:
        """Openings that the water gets into, standing or running, and not without it.

        `answer` is what becomes of it where it is let go.
        """
        if not self._edges:
            return ()
        at = ground_near(*answer.start, self.ground.terrain)
        if at is None:
            return ()
        brought = roof_water(self.ground.site, self.downspout, 1.0)
        water = LetGo(at, brought, place=answer.start)
        level = self._level(water)
        crossed = self._cells(answer.path)
        return tuple(
            opening
            for opening, edge, cells in self._edges
            if not self._is_in(self._without, edge, cells)
            and (self._is_in(level, edge, cells) or self._runs_in(crossed, edge, cells))
        )

    def _is_in(self, level: NDArray[np.float64], edge: float, cells: NDArray[np.int64]) -> bool:
        return bool((level[cells] > edge + _ROUNDING).any())

    def _runs_in(self, crossed: set[int], edge: float, cells: NDArray[np.int64]) -> bool:
        surface = self.ground.terrain.surface.ravel()
        return any(int(c) in crossed and surface[c] >= edge for c in cells)

    def _level(self, water: LetGo | None) -> NDArray[np.float64]:
        """Height of the water over each cell, flat; -inf where none stands."""
        depth = self.ground.run_with({self.downspout.name: water}).ponding.depth()
        return np.where(depth > 0, self.ground.terrain.surface + depth, -np.inf).ravel()

    def _cells(self, path: NDArray[np.float64]) -> set[int]:
        """Cells under a path."""
        grid = self.ground.flow.grid
        steps = np.hypot(*np.diff(path, axis=0).T)
        along = np.concatenate([[0.0], np.cumsum(steps)])
        every = np.arange(0.0, along[-1] + grid.cell_size / 2, grid.cell_size / 2)
        places = zip(*(np.interp(every, along, path[:, k]) for k in (0, 1)), strict=True)
        cells = [grid.cell(float(x), float(y)) for x, y in places]
        return {self.ground.flow.flat(cell) for cell in cells if grid.holds(*cell)}

    @cached_property
    def _without(self) -> NDArray[np.float64]:
        return self._level(None)

    @cached_property
    def _edges(self) -> list[tuple[Opening, float, NDArray[np.int64]]]:
        """Openings with a known edge, its height, and the cells beside them."""
        site = self.ground.site
        walls = {(wall.building, wall.number): wall for wall in walls_of(site.buildings)}
        found = []
        for opening in site.openings:
            edge = opening.rim if opening.kind in WELLS else opening.sill
            if edge is None:
                continue
            wall = walls[opening.building, opening.wall]
            cells = cells_beside(self.ground.terrain, wall, opening)
            if cells.size:
                found.append((opening, edge, cells))
        return found


Corrected = Callable[[], LotGround]
_SPILLS_EVERY = 1.5  # metres along a swale
_FITTING_EVERY = 0.5  # metres between the places that are tried for an overflow fitting
_TIE = 0.02  # metres; banks this much alike are as likely to be the first to spill


@dataclass(frozen=True)
class _Spill:
    """A failure to run: what fails, and where the water comes out of what."""

    kind: FailureKind
    at: tuple[float, float]
    comes_out: ComesOut
    bank_m: float = 0.0


def failures_of(
    ground: LotGround,
    downspout: Downspout,
    option: Option,
    corrected: Corrected | None = None,
) -> tuple[Failure, ...]:
    """Say for a way how it fails, where the water then runs, and what relieves it.

    Parameters
    ----------
    ground : LotGround
        As it will be: with the grade corrected where the option corrects it. A swale is cut here.
    downspout : Downspout
    option : Option
    corrected : callable, optional
        The ground with the grade corrected, asked for only where a relief needs it.

    Examples
    --------
    >>> from runoff.discharge.ground import lot_ground
    >>> AS_IT_IS = Option("as it is", True, "", AsItIs(None))
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> from runoff.terrain.build import build_terrain
    >>> site = read_site(sample_folder() / "site.toml")
    >>> ground = lot_ground(site, build_terrain(site))
    >>> [f.kind for f in failures_of(ground, site.downspouts[0], AS_IT_IS)]
    ['greater storm']
    """
    corrected = corrected or (lambda: correct_grade(ground, downspout)[0])
    beside = OpeningsBeside(ground, downspout)
    foot = (downspout.x, downspout.y)
    match option.design:
        case AsItIs():
            beside = OpeningsBeside(in_a_greater_storm(ground), downspout)
            found = _judged(beside, _Spill("greater storm", foot, "foot"))
            return (_relieved(beside, option, found, None, corrected),)
        case Extension(start=start, end=end):
            blocked = _judged(beside, _Spill("extension blocked", foot, "foot"))
            return (_relieved(beside, option, blocked, np.array([start, end]), corrected),)
        case Swale() as swale:
            return (_swale_over(ground, downspout, option, swale, corrected),)
        case BuriedLine() as line:
            blocked = _judged(beside, _Spill("line blocked", foot, "overflow gap"))
            return (_relieved(beside, option, blocked, line.route, corrected),)
        case SeepagePit() as pit:
            blocked = _judged(beside, _Spill("line to pit blocked", foot, "overflow gap"))
            return pit.overflow, _relieved(beside, option, blocked, pit.line.route, corrected)
        case None:
            return ()
        case unknown:
            assert_never(unknown)


def in_a_greater_storm(ground: LotGround) -> LotGround:
    """The ground asked about a storm `greater_storm` times as deep."""
    storm = ground.site.storm
    deeper = replace(storm, depth=storm.depth * ground.site.rules["greater_storm"])
    return replace(ground, site=replace(ground.site, storm=deeper))


def _judged(beside: OpeningsBeside, spill: _Spill) -> Failure:
    """Run the water from where it comes out."""
    answer = beside.ground.answer_at(beside.downspout, *spill.at)
    return Failure(
        kind=spill.kind,
        at=spill.at,
        path=answer.path,
        reached=_reached(beside, answer),
        onto_neighbor=reaches_neighbor(answer),
        end=answer.end,
        over_sidewalk=bool(over_sidewalk(answer.crosses)),
        comes_out=spill.comes_out,
        bank_m=spill.bank_m,
        crosses=answer.crosses,
    )


def _reached(beside: OpeningsBeside, answer: DownspoutAnswer) -> Reached | None:
    """How the water comes to a foundation or into an opening; None where it does not."""
    openings = beside.got_into(answer)
    if openings:
        return Reached("gets in", openings=openings)
    return reaches_foundation(beside.ground, answer)


def _relieved(
    beside: OpeningsBeside,
    option: Option,
    failure: Failure,
    route: np.ndarray | None,
    corrected: Corrected,
) -> Failure:
    """Plan a relief where a foundation is reached: an overflow on the way, or corrected grade."""
    if not failure.reaches_foundation:
        return failure
    fitting = None if route is None else overflow_fitting(beside, route)
    if fitting is not None:
        station, _ = fitting
        return replace(failure, relieved=True, fitting_m=station, relief="overflow fitting")
    if option.correction is not None:
        return failure
    return _by_grade(beside, failure, corrected, lambda made: made)


def overflow_fitting(
    beside: OpeningsBeside, route: np.ndarray
) -> tuple[float, tuple[float, float]] | None:
    """The first place of a pipe where an overflow fitting keeps the water off the foundations.

    Its ground is lower than the ground at the downspout's foot, so that water backed up in the pipe
    comes out there first; it lies in the safe discharge area, and the storm's water let go there
    keeps away. Returns its station (m) and place, None where there is none before the route's end.
    """
    ground, downspout = beside.ground, beside.downspout
    gap = ground.height_at_foot(downspout.x, downspout.y)
    corners = corner_stations(route)
    for station in np.arange(_FITTING_EVERY, corners[-1], _FITTING_EVERY):
        x, y = (float(np.interp(station, corners, route[:, k])) for k in (0, 1))
        if not ground.height(x, y) < gap or ground.reason_against(x, y) != "safe":
            continue
        answer = ground.answer_at(downspout, x, y)
        if not _reached(beside, answer) and not _leaves_badly(answer):
            return float(station), (x, y)
    return None


def _by_grade(
    beside: OpeningsBeside,
    failure: Failure,
    corrected: Corrected,
    built: Callable[[LotGround], LotGround],
) -> Failure:
    """Try corrected grade as the relief; `built` makes the rest of the option on that ground."""
    try:
        made = replace(built(corrected()), site=beside.ground.site)
        answer = made.answer_at(beside.downspout, *failure.at)
    except (NotPossible, InputError):
        return failure
    if _reached(replace(beside, ground=made), answer) or _leaves_badly(answer):
        return failure
    return replace(failure, relieved=True, relief="corrected grade")


def _swale_over(
    ground: LotGround, downspout: Downspout, option: Option, swale: Swale, corrected: Corrected
) -> Failure:
    """A swale spills at its lowest bank; of banks alike, the one whose water does most harm."""
    beside = OpeningsBeside(with_swale(ground, swale), downspout)
    found = []
    for station, at in _low_banks(ground, swale):
        try:
            found.append(_judged(beside, _Spill("swale blocked", at, "bank", station)))
        except InputError:
            continue
    if not found:
        x, y = (float(value) for value in swale.line[-1])
        return _judged(beside, _Spill("swale blocked", (x, y), "swale end"))
    worst = max(found, key=_harm)
    if not worst.reaches_foundation or option.correction is not None:
        return worst
    return _by_grade(beside, worst, corrected, lambda made: with_swale(made, swale))


def _harm(failure: Failure) -> tuple[bool, bool, bool]:
    return failure.reaches_foundation, failure.onto_neighbor, failure.over_sidewalk


def _leaves_badly(answer: DownspoutAnswer) -> bool:
    """Whether the water leaves onto a neighbor or over a public sidewalk."""
    return reaches_neighbor(answer) or bool(over_sidewalk(answer.crosses))


def _low_banks(ground: LotGround, swale: Swale) -> list[tuple[float, tuple[float, float]]]:
    """Stations (m) and places outside a swale's lowest banks, before its run-out.

    The run-out, where its banks are lower than its depth, lies in ground that may take water.
    """
    section = swale.section
    half = section.bottom_m / 2 + section.side_run * section.depth_m + ground.flow.grid.cell_size
    corners = corner_stations(swale.line)
    head = float(corners[1]) if len(corners) > 2 else 0.0
    legs = np.diff(swale.line, axis=0) / np.diff(corners)[:, None]
    places = places_of(ground)
    banks: list[tuple[float, float, tuple[float, float]]] = []
    for station in np.arange(head, float(swale.stations_m[-1]), _SPILLS_EVERY):
        bottom = float(np.interp(station, swale.stations_m, swale.bottom_m))
        leg = legs[min(int(np.searchsorted(corners, station, side="right")) - 1, len(legs) - 1)]
        here = np.array([np.interp(station, corners, swale.line[:, k]) for k in (0, 1)])
        sides = here + half * np.array([(-leg[1], leg[0]), (leg[1], -leg[0])])
        over = places.heights(sides) - bottom
        if np.isnan(over).any() or (banks and over.min() < section.depth_m - _TIE):
            break
        banks += [
            (float(height), float(station), (float(x), float(y)))
            for height, (x, y) in zip(over, sides, strict=True)
        ]
    lowest = min((height for height, _, _ in banks), default=0.0)
    return [(station, at) for height, station, at in banks if height <= lowest + _TIE]
