"""Correcting the grade: the lot's ground with soil placed along the walls that fail.

In: the lot's ground. Out: the ground made anew with the soil on it, and what soil it takes; or why
soil does not do. The method is in docs/extensions.md and docs/grade.md.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import groupby
from math import dist, nan

import numpy as np
from numpy.typing import NDArray

from runoff.discharge.ground import LotGround, lot_ground, nearest_building, run_beside
from runoff.discharge.model import GradeCorrection
from runoff.discharge.reasons import NoBuilding, NothingToCorrect, NotPossible, SoilDoesNot
from runoff.foundation.grade import ROUNDING, worst_of
from runoff.foundation.model import NoSoil, Refusal, SoilWedge, Station, Verdict, WallRun
from runoff.foundation.soil import FAILING, Place, place_of
from runoff.foundation.soil_storm import harmless_soil
from runoff.site.model import Downspout
from runoff.terrain.model import Terrain

FAILS: tuple[Verdict, ...] = (*FAILING, "cut short: needs a drain or swale")
"""What ground along a wall is called that fails for certain."""
_HARMS_OTHER_WALLS: tuple[NoSoil, ...] = ("undoes another wall", "dams a wall")


def correct_grade(ground: LotGround, downspout: Downspout) -> tuple[LotGround, GradeCorrection]:
    """Correct the grade along the building that a downspout stands at.

    Where soil cannot be placed along some other wall, that wall's wedge stays in the record with
    its reason and no soil. All buildings are to be corrected in the end, so soil that cannot stay
    beside the others' is refused here too.

    Parameters
    ----------
    ground : LotGround
    downspout : Downspout

    Returns
    -------
    LotGround
        The storm run anew on the corrected ground.
    GradeCorrection

    Raises
    ------
    NotPossible
        Where there is nothing to correct, or soil cannot be placed beside the downspout or along
        any wall that fails.

    Examples
    --------
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> from runoff.terrain.build import build_terrain
    >>> site = read_site(sample_folder() / "site.toml")
    >>> ground = lot_ground(site, build_terrain(site))
    >>> corrected, soil = correct_grade(ground, site.downspouts[0])
    >>> soil.loose_m3 > soil.compacted_m3 > 0
    True
    """
    return Grounds(ground).corrected(downspout)


@dataclass(frozen=True)
class Grounds:
    """A lot's ground as surveyed, and with the grade of its buildings corrected, made when asked.

    What soil the buildings take, and the ground with it, are worked out once.
    """

    surveyed: LotGround

    def corrected(self, downspout: Downspout) -> tuple[LotGround, GradeCorrection]:
        """The ground with the grade corrected along the building that a downspout stands at.

        Raises
        ------
        NotPossible
            As `correct_grade`.
        """
        ground = self.surveyed
        nearest = nearest_building(ground, downspout.x, downspout.y)
        name = downspout.building or (nearest.name if nearest is not None else None)
        if name is None:
            raise NotPossible(NoBuilding(downspout.name))
        runs = tuple(run for run in ground.walls if run.building == name)
        soil = self._soil(runs)
        if not soil.wedges:
            raise NotPossible(_nothing(runs, name))
        beside = _beside(ground, downspout, soil.wedges)
        if beside is not None and _hindered(beside):
            raise NotPossible(_why_not(beside))
        return soil.placed()

    def corrected_everywhere(self) -> tuple[LotGround, GradeCorrection]:
        """The ground with the grade corrected along every wall that fails.

        Raises
        ------
        NotPossible
            As `correct_all`.
        """
        soil = self._soil(self.surveyed.walls)
        if not soil.wedges:
            raise NotPossible(_nothing(self.surveyed.walls, ""))
        return soil.placed()

    def as_far_as_it_goes(self) -> tuple[LotGround, GradeCorrection | None]:
        """As `corrected_everywhere`, with every wedge in the record where none can be placed.

        Without a correction where no wall was found to fail in a way that soil corrects.
        """
        soil = self._soil(self.surveyed.walls)
        if not soil.wedges:
            return self.surveyed, None
        if soil.graded is None:
            return self.surveyed, GradeCorrection(soil.wedges, 0.0, 0.0)
        return soil.placed()

    def left_as_they_are(self) -> tuple[WallRun, ...]:
        """The runs of wall that fail for certain and that no soil was even asked for."""
        wedges = self._soil(self.surveyed.walls).wedges
        return tuple(
            run
            for run in self.surveyed.walls
            if run.verdict in FAILS
            and not run.indication
            and not any(_lies_along(wedge, run) for wedge in wedges)
        )

    def _soil(self, runs: tuple[WallRun, ...]) -> _Soil:
        """The soil along some of the walls: none that cannot stay where all are corrected."""
        ground = self.surveyed
        buildings, every = ({run.building for run in some} for some in (runs, ground.walls))
        together = {}
        if buildings != every:
            together = _refused_together(self._soil(ground.walls).wedges)
        what = ("soil", *sorted(buildings))
        return ground.once(what, lambda: _soil(ground, runs, together))


@dataclass(frozen=True)
class _Soil:
    """Wedges of soil, and the lot's ground with them, None where none of them can be placed."""

    wedges: tuple[SoilWedge, ...]
    graded: LotGround | None

    def placed(self) -> tuple[LotGround, GradeCorrection]:
        if self.graded is None:
            raise NotPossible(_why_not(self.wedges[0]))
        placed = [wedge for wedge in self.wedges if not _hindered(wedge)]
        correction = GradeCorrection(
            wedges=self.wedges,
            compacted_m3=sum(wedge.compacted_m3 for wedge in placed),
            loose_m3=sum(wedge.loose_m3 for wedge in placed),
        )
        return self.graded, correction


def _refused_together(wedges: tuple[SoilWedge, ...]) -> dict[Place, Refusal]:
    """Where soil is refused for what it does to other walls, and why."""
    return {
        place_of(station): wedge.refused
        for wedge in wedges
        if wedge.refused is not None and wedge.refused.code in _HARMS_OTHER_WALLS
        for station in wedge.run.stations
    }


def _soil(ground: LotGround, runs: tuple[WallRun, ...], refused: Mapping[Place, Refusal]) -> _Soil:
    """The soil along some of the walls that leaves no wall of the lot wetter in the storm."""
    tried = ground

    def storm(terrain: Terrain) -> NDArray[np.float64]:
        nonlocal tried
        tried = lot_ground(ground.site, terrain)
        return tried.depth

    wedges = harmless_soil(
        ground.site, ground.terrain, runs, ground.depth, storm, ground.walls, refused
    )
    placed = [wedge for wedge in wedges if not _hindered(wedge)]
    if not placed:
        return _Soil(wedges, None)
    # The last ground that was tried is the one with the soil that stays.
    walls = tuple(part for run in tried.walls for part in _as_graded(ground, run, placed))
    return _Soil(wedges, replace(tried, walls=walls))


def _as_graded(ground: LotGround, run: WallRun, placed: list[SoilWedge]) -> Iterator[WallRun]:
    """A run of the corrected ground, its graded stretches drawn from what is too close to call.

    Soil is placed to its grade by level, so the survey's accuracy is not what it is judged by.
    """
    if run.verdict != "too close to call":
        yield run
        return
    spacing = (run.end_m - run.start_m) / len(run.stations)
    rise = ground.site.rules["rise_against_wall"]

    def passes(station: Station) -> bool:
        on_soil = any(
            (wedge.run.building, wedge.run.wall) == (run.building, run.wall)
            and wedge.run.start_m <= station.along_m <= wedge.run.end_m
            for wedge in placed
        )
        falls = (
            station.fall_m >= station.required_m - ROUNDING and station.rise_m <= rise + ROUNDING
        )
        return on_soil and falls

    for graded, members in groupby(run.stations, key=passes):
        stations = tuple(members)
        verdict: Verdict = "drains away" if graded else run.verdict
        if graded:
            stations = tuple(replace(station, verdict=verdict) for station in stations)
        yield replace(
            run,
            start_m=stations[0].along_m - spacing / 2,
            end_m=stations[-1].along_m + spacing / 2,
            verdict=verdict,
            worst=worst_of(verdict, stations),
            stations=stations,
            settled_by_m=nan if graded else run.settled_by_m,
        )


def _hindered(wedge: SoilWedge) -> bool:
    return wedge.refused is not None or wedge.short_by_m > 0


def _beside(
    ground: LotGround, downspout: Downspout, wedges: tuple[SoilWedge, ...]
) -> SoilWedge | None:
    """The wedge of the run of wall that a downspout stands at, or the nearest part of it."""
    run = run_beside(ground, downspout.x, downspout.y)
    if run is None:
        return None
    foot = downspout.x, downspout.y
    return min(
        (wedge for wedge in wedges if _lies_along(wedge, run)),
        key=lambda wedge: min(dist(station.foot, foot) for station in wedge.run.stations),
        default=None,
    )


def _lies_along(wedge: SoilWedge, run: WallRun) -> bool:
    """Whether a wedge lies along some of a run of wall."""
    own = wedge.run
    same = (own.building, own.wall) == (run.building, run.wall)
    return same and own.start_m < run.end_m and run.start_m < own.end_m


def _nothing(runs: tuple[WallRun, ...], building: str) -> NothingToCorrect:
    if not runs:
        return NothingToCorrect("no wall on the ground", building)
    if any(run.indication for run in runs):
        return NothingToCorrect("an indication only", building)
    if all(run.verdict == "drains away" for run in runs):
        return NothingToCorrect("every wall drains", building)
    return NothingToCorrect("not by soil", building)


def _why_not(wedge: SoilWedge) -> SoilDoesNot:
    run, worst = wedge.run, wedge.run.worst
    return SoilDoesNot(
        run.building,
        run.wall_name,
        wedge.refused,
        asked_m=worst.required_m,
        reach_m=worst.reach_m,
        there_m=worst.fall_m,
        short_m=wedge.short_by_m,
    )
