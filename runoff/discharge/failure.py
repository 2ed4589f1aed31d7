"""What happens when a way does not work: where the water then runs, which openings it wets, and
what keeps it off.

In: the lot's ground, a downspout, where its water is let go. Out: the openings it gets into.

In: the ground as it will be, and where water comes out of what fails. Out: the failure with its
relief. The design storm's water is let go there and run by the same engine. docs/failures.md.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from runoff.discharge.ground import LotGround, Reached, reaches_foundation, reaches_neighbor
from runoff.discharge.model import ComesOut, Failure, FailureKind
from runoff.discharge.reasons import NotPossible
from runoff.discharge.swale.cut import corner_stations
from runoff.flow.downspouts import public_sidewalk
from runoff.flow.model import DownspoutAnswer
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


_FITTING_EVERY = 0.5  # metres between the places that are tried for an overflow fitting


@dataclass(frozen=True)
class Failing:
    """A way that does not work: whom it is built for, on the ground as it will be.

    `graded` says whether the grade is corrected on it already; `corrected` makes the ground where
    it is, and is asked only where a relief needs it.
    """

    ground: LotGround
    downspout: Downspout
    graded: bool
    corrected: Callable[[], LotGround]

    @property
    def foot(self) -> tuple[float, float]:
        """Where the leader ends."""
        return self.downspout.x, self.downspout.y

    @cached_property
    def beside(self) -> OpeningsBeside:
        """The openings as the water then meets them."""
        return OpeningsBeside(self.ground, self.downspout)

    def spilled(
        self, kind: FailureKind, at: tuple[float, float], comes_out: ComesOut, bank_m: float = 0.0
    ) -> Failure:
        """Run the water from where it comes out."""
        answer = self.ground.answer_at(self.downspout, *at)
        return Failure(
            kind=kind,
            at=at,
            path=answer.path,
            reached=_reached(self.beside, answer),
            onto_neighbor=reaches_neighbor(answer),
            end=answer.end,
            over_sidewalk=public_sidewalk(answer.crosses) is not None,
            comes_out=comes_out,
            bank_m=bank_m,
            crosses=answer.crosses,
        )

    def blocked(self, kind: FailureKind, comes_out: ComesOut, route: np.ndarray) -> Failure:
        """The water comes out at the foot of a pipe along a route, or at a fitting on the way."""
        failure = self.spilled(kind, self.foot, comes_out)
        fitting = overflow_fitting(self.beside, route) if failure.reaches_foundation else None
        if fitting is None:
            return self.relieved_by_grade(failure)
        return replace(failure, relieved=True, fitting_m=fitting[0], relief="overflow fitting")

    def relieved_by_grade(
        self, failure: Failure, built: Callable[[LotGround], LotGround] = lambda made: made
    ) -> Failure:
        """Try corrected grade where a foundation is reached; `built` builds the way on it."""
        if not failure.reaches_foundation or self.graded:
            return failure
        try:
            made = replace(built(self.corrected()), site=self.ground.site)
            answer = made.answer_at(self.downspout, *failure.at)
        except (NotPossible, InputError):
            return failure
        if _reached(replace(self.beside, ground=made), answer) or _leaves_badly(answer):
            return failure
        return replace(failure, relieved=True, relief="corrected grade")


def in_a_greater_storm(ground: LotGround) -> LotGround:
    """The ground asked about a storm `greater_storm` times as deep."""
    storm = ground.site.storm
    deeper = replace(storm, depth=storm.depth * ground.site.rules["greater_storm"])
    return replace(ground, site=replace(ground.site, storm=deeper))


def _reached(beside: OpeningsBeside, answer: DownspoutAnswer) -> Reached | None:
    """How the water comes to a foundation or into an opening; None where it does not."""
    openings = beside.got_into(answer)
    if openings:
        return Reached("gets in", openings=openings)
    return reaches_foundation(beside.ground, answer)


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


def _leaves_badly(answer: DownspoutAnswer) -> bool:
    """Whether the water leaves onto a neighbor or over a public sidewalk."""
    return reaches_neighbor(answer) or public_sidewalk(answer.crosses) is not None
