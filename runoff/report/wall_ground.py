"""The ground off the walls that fail: which they are, their profiles, and the soil they want.

In: what was found at the walls, and the plan that answers it. Out: records in metres. The ground is
read from the terrain as the wall was judged by it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from runoff.foundation.model import SoilWedge, Station, Verdict, WallRun
from runoff.foundation.wedge import apply_wedges
from runoff.inspection import Findings
from runoff.site.model import Clearance, Site
from runoff.terrain.model import Terrain

if TYPE_CHECKING:
    from runoff.planning import Plan

# From the worst to the least bad.
FAILS: tuple[Verdict, ...] = (
    "holds water",
    "slopes back",
    "too flat",
    "cut short: needs a drain or swale",
)
THIN_M = 1e-3
"""Soil or water thinner than this, metres, is not drawn."""

# Metres beyond the profile's end that are drawn besides.
_BEYOND_M = 0.36
_SAMPLES = 241
_NEAR_M = 0.5


@dataclass(frozen=True)
class WallProfile:
    """The ground off a wall at one station; (n,) metres, heights NaN where there is no ground.

    `out` is the distance from the profile's foot; `now` the ground as surveyed and `corrected` with
    all soil placed; `level` that of the storm's water beside the wall, NaN where none stands.
    """

    out: NDArray[np.float64]
    now: NDArray[np.float64]
    corrected: NDArray[np.float64]
    level: float


@dataclass(frozen=True)
class FailingWall:
    """A wall that fails: its worst run, the profile there, and the soil that it wants."""

    run: WallRun
    profile: WallProfile
    wedge: SoilWedge | None
    clearances: tuple[Clearance, ...]

    @property
    def limit(self) -> tuple[float, float]:
        """Heights at the wall and at the profile's end between which the required fall lies."""
        end = self.ground_at(self.run.worst.reach)
        return end + self.run.worst.required, end

    def ground_at(self, out_m: float) -> float:
        """Height of the ground now, or of the last that is known nearer to the wall, metres."""
        known = np.isfinite(self.profile.now)
        return float(np.interp(out_m, self.profile.out[known], self.profile.now[known]))

    def is_near(self, clearance: Clearance) -> bool:
        """Whether something on the wall is so near the ground that it is drawn."""
        return abs(clearance.height - float(self.profile.corrected[0])) < _NEAR_M

    @property
    def raised(self) -> NDArray[np.bool_]:
        """Where along the profile soil lies."""
        return self.profile.corrected > self.profile.now + THIN_M

    @property
    def soil_m(self) -> float:
        """How much soil stands at the wall, metres."""
        return float(self.profile.corrected[0] - self.profile.now[0])


def walls_that_fail(findings: Findings, plan: Plan | None, most: int) -> list[FailingWall]:
    """The walls that fail, the worst first, at most so many; with a plan, its soil on them."""
    corrected = _corrected(findings, plan)
    found = []
    for run in failing_walls(findings.at_the_wall.runs)[:most]:
        profile = profile_of(findings, corrected, run.worst)
        if np.isfinite(profile.now[0]):
            clearances = _clearances(findings.site, run.worst)
            found.append(FailingWall(run, profile, _wedge_at(plan, run), clearances))
    return found


def failing_walls(runs: Sequence[WallRun]) -> list[WallRun]:
    """The worst run of each wall that fails, the worst wall first.

    Runs whose ground could not be told beside the wall have no profile and are left out.
    """
    worst: dict[tuple[str, int], WallRun] = {}
    for run in sorted(runs, key=_badness):
        known = math.isfinite(run.worst.fall) and math.isfinite(run.worst.required)
        if run.verdict in FAILS and known and run.worst.reach > THIN_M:
            worst.setdefault((run.building, run.wall), run)
    return list(worst.values())


def profile_of(findings: Findings, corrected: Terrain, station: Station) -> WallProfile:
    """The ground off a wall at a station, out to a little beyond the profile's end."""
    foot, ahead = np.array(station.foot), _ahead(findings.site, station)
    out = np.unique(np.r_[np.linspace(0.0, station.reach + _BEYOND_M, _SAMPLES), station.reach])
    points = foot + out[:, None] * ahead
    feet, outward = (np.broadcast_to(v, points.shape) for v in (foot, np.array(station.outward)))

    def heights(ground: Terrain) -> NDArray[np.float64]:
        found = ground.heights(points, feet, outward)
        return np.where(np.logical_and.accumulate(np.isfinite(found)), found, np.nan)

    return WallProfile(out, heights(findings.terrain), heights(corrected), _level(findings, points))


def _ahead(site: Site, station: Station) -> NDArray[np.float64]:
    """The way of the profile: straight out, or to the drain's inlet that it was judged by."""
    foot = np.array(station.foot)
    for drain in site.drains:
        way = np.array(drain.inlet) - foot
        length = float(np.hypot(*way))
        if abs(length - station.reach) < THIN_M and not station.cut_by:
            return way / length
    return np.array(station.outward)


def _level(findings: Findings, points: NDArray[np.float64]) -> float:
    """The level of the water that stands in the first cell with ground, NaN where it is dry."""
    terrain = findings.terrain
    for x, y in points:
        cell = terrain.grid.cell(float(x), float(y))
        if not terrain.grid.holds(*cell) or not math.isfinite(terrain.ground[cell]):
            continue
        depth = float(findings.standing_depth[cell])
        return float(terrain.surface[cell]) + depth if depth > THIN_M else math.nan
    return math.nan


def _badness(run: WallRun) -> tuple[int, float]:
    place = FAILS.index(run.verdict) if run.verdict in FAILS else len(FAILS)
    short = run.worst.required - run.worst.fall
    return place, -short if math.isfinite(short) else 0.0


def _corrected(findings: Findings, plan: Plan | None) -> Terrain:
    if plan is None or plan.grade is None:
        return findings.terrain
    placed = [wedge for wedge in plan.grade.wedges if len(wedge.cells)]
    return apply_wedges(findings.terrain, placed)


def _wedge_at(plan: Plan | None, run: WallRun) -> SoilWedge | None:
    """The soil, or the reason against it, at a run's worst station."""
    if plan is None or plan.grade is None:
        return None
    for wedge in plan.grade.wedges:
        own = wedge.run
        same = (own.building, own.wall) == (run.building, run.wall)
        if same and own.start - THIN_M <= run.worst.along <= own.end + THIN_M:
            return wedge
    return None


def _clearances(site: Site, station: Station) -> tuple[Clearance, ...]:
    """What soil must stay below at a station: siding, weeps, vents and the sills of openings."""
    building = next(one for one in site.buildings if one.name == station.building)
    found = [
        one
        for one in building.clearances
        if one.wall == station.wall and one.start <= station.along <= one.end
    ]
    found += [
        Clearance(one.wall, station.along, station.along, "sill", one.sill)
        for one in site.openings
        if one.sill is not None
        and (one.building, one.wall) == (station.building, station.wall)
        and abs(one.distance - station.along) <= one.width / 2
    ]
    return tuple(sorted(found, key=lambda one: one.height))
