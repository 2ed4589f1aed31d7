"""The ground off the walls that fail: which they are, their profiles with the soil they want,
drawn.

In: what was found at the walls, and the plan that answers it. Out: records in metres. The ground is
read from the terrain as the wall was judged by it.

In: a `FailingWall`. Out: a picture to a stated scale, in the reader's units.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from numpy.typing import NDArray

from runoff.foundation.model import SoilWedge, Station, Verdict, WallRun
from runoff.foundation.soil import apply_wedges
from runoff.foundation.walls import wall_words
from runoff.inspection import Findings
from runoff.quantities import Shown
from runoff.report.sections.sheet import (
    EARTH,
    GIVES_WAY,
    GROUND,
    WATER,
    Paper,
    Scale,
    exaggerate,
    exaggeration,
    give_way,
    measure,
    name_axes,
    sheet,
    show_scale,
    write,
)
from runoff.site.model import Clearance, Site
from runoff.terrain.model import Terrain
from runoff.words.walls import refusal_of, soil_height

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
        end = self.ground_at(self.run.worst.reach_m)
        return end + self.run.worst.required_m, end

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
        known = math.isfinite(run.worst.fall_m) and math.isfinite(run.worst.required_m)
        if run.verdict in FAILS and known and run.worst.reach_m > THIN_M:
            worst.setdefault((run.building, run.wall), run)
    return list(worst.values())


def profile_of(findings: Findings, corrected: Terrain, station: Station) -> WallProfile:
    """The ground off a wall at a station, out to a little beyond the profile's end."""
    foot, ahead = np.array(station.foot), _ahead(findings.site, station)
    out = np.unique(np.r_[np.linspace(0.0, station.reach_m + _BEYOND_M, _SAMPLES), station.reach_m])
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
        if abs(length - station.reach_m) < THIN_M and not station.cut_by:
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
    short = run.worst.required_m - run.worst.fall_m
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
        if same and own.start_m - THIN_M <= run.worst.along_m <= own.end_m + THIN_M:
            return wedge
    return None


def _clearances(site: Site, station: Station) -> tuple[Clearance, ...]:
    """What soil must stay below at a station: siding, weeps, vents and the sills of openings."""
    building = next(one for one in site.buildings if one.name == station.building)
    found = [
        one
        for one in building.clearances
        if one.wall == station.wall and one.start <= station.along_m <= one.end
    ]
    found += [
        Clearance(one.wall, station.along_m, station.along_m, "sill", one.sill)
        for one in site.openings
        if one.sill is not None
        and (one.building, one.wall) == (station.building, station.wall)
        and abs(one.distance - station.along_m) <= one.width / 2
    ]
    return tuple(sorted(found, key=lambda one: one.height))


SOIL: dict[str, Any] = {
    "facecolor": "0.78",
    "edgecolor": "0.25",
    "hatch": "\\\\\\",
    "linewidth": 0.0,
    "zorder": 4,
}
WALL: dict[str, Any] = {
    "facecolor": "0.55",
    "edgecolor": "black",
    "hatch": "///",
    "linewidth": 1.0,
    "zorder": 7,
}
LIMIT: dict[str, Any] = {"color": "black", "linewidth": 1.1, "linestyle": (0, (6, 2, 1, 2))}
CORRECTED: dict[str, Any] = {"color": "black", "linewidth": 1.5, "linestyle": (0, (4, 1.5))}
POND: dict[str, Any] = WATER | {"edgecolor": "#124a80", "hatch": "---", "linewidth": 0.0}


# So high that two of them go on a page.
_AXES_IN = 2.0
# Metres beside the wall that are drawn.
_WALL_M = 0.3
_LEAST_SPAN_M = 0.15
_CUT_WORDS = {
    "": "",
    "lot line": ", to the lot line",
    "wall": ", to a wall",
    "corner": ", to the corner's wall",
    "survey": ", to the survey's end",
}
_POINTING: dict[str, Any] = {
    "ha": "center",
    "va": "center",
    "fontsize": 8,
    "arrowprops": {"arrowstyle": "-", "linewidth": 0.7},
    "zorder": 20,
}


def compose_wall(site: Site, wall: FailingWall, designed: bool, paper: Paper) -> Figure:
    """The profile as a figure; where soil is `designed`, a line of words says what or why none."""
    shown, scale, run = Shown.of(site), Scale(site.units), wall.run
    profile, station = wall.profile, run.worst
    left, right = -scale.of(_WALL_M), scale.of(float(profile.out[-1]))
    wide_in = paper.axes_in * (right - left) / paper.fitted(right - left, paper.axes_in, site.units)
    low, high = (scale.of(z) for z in _span(wall))
    room = max(high - low, scale.of(_LEAST_SPAN_M))
    low, high = low - 0.4 * room, high + 0.4 * room
    times = exaggeration(wide_in / (right - left), paper.tall * _AXES_IN, high - low)
    rough = " INDICATION ONLY." if run.indication else ""
    enlarged = "no vertical exaggeration" if times == 1 else f"vertical exaggeration {times} times"
    drawn = sheet(
        f"Ground off {wall_words(run.wall_name)} of '{run.building}'",
        f"{run.verdict.split(':')[0].capitalize()}: {fall_words(run, shown)}. "
        f"{shown.far(station.along_m)} along the wall; {enlarged}.{rough}",
        paper.tall * _AXES_IN,
        [soil_words(site, wall)] if designed else [],
        paper,
    )
    axes = drawn.axes(width_in=wide_in)
    axes.set_xlim(left, right)
    exaggerate(axes, right - left, low, high)
    _earth(axes, profile, scale)
    _soil(axes, wall, scale, soil_height(site, wall.soil_m))
    _wall(axes, wall, scale)
    _required(axes, wall, scale, shown)
    _clear(axes, wall, scale, shown)
    name_axes(axes, site.units, "distance from the wall")
    show_scale(drawn, axes, site.units)
    if paper.bare:
        give_way(axes)
    return drawn.figure


def fall_words(run: WallRun, shown: Shown) -> str:
    """The fall that there is and the one that is required."""
    station = run.worst
    far = shown.far(station.reach_m)
    fall = shown.height(abs(station.fall_m))
    falls = f"falls {fall} in" if station.fall_m >= 0 else f"rises {fall} in"
    if fall == shown.height(0.0):
        falls = "is level over"
    return f"it {falls} {far}{_CUT_WORDS[station.cut_by]}, and must fall " + shown.height(
        station.required_m
    )


def soil_words(site: Site, wall: FailingWall) -> str:
    """What corrects it, or why soil does not."""
    wedge, shown = wall.wedge, Shown.of(site)
    if wedge is None:
        return "No soil is planned here: see what is said of this wall."
    beside = " What is drawn lies along the wall beside it." if wall.soil_m > THIN_M else ""
    if wedge.refused is not None:
        why = refusal_of(site, wedge)
        return f"No soil is placed for this stretch: {why}.{beside}"
    if wedge.short_by_m > 0:
        return (
            f"No soil is placed for this stretch: it would stand {shown.height(wedge.short_by_m)} "
            f"higher than siding, weeps, vents and sills allow.{beside}"
        )
    if not wall.soil_m > THIN_M:
        return "No soil is needed at this place once it lies along the rest of the wall."
    # What the cells beyond its toe share with it is not soil.
    far = min(float(wall.profile.out[wall.raised].max()), wedge.out_m)
    here, most = (soil_height(site, metres) for metres in (wall.soil_m, wedge.height_m))
    along = "" if here == most else f" (up to {most} along this stretch)"
    return (
        f"Corrected by soil {here} deep at the wall here{along}, running out {shown.far(far)} "
        "from it."
    )


def _span(wall: FailingWall) -> tuple[float, float]:
    """The lowest and the highest thing that must be shown, metres."""
    profile = wall.profile
    near = [one.height for one in wall.clearances[:1] if wall.is_near(one)]
    heights = np.r_[profile.now, profile.corrected, wall.limit, profile.level, near]
    return float(np.nanmin(heights)), float(np.nanmax(heights))


def _units(values: NDArray[np.float64], scale: Scale) -> NDArray[np.float64]:
    return values / scale.unit_m


def _earth(axes: Axes, profile: WallProfile, scale: Scale) -> None:
    """The ground as surveyed, and the storm's water on it beside the wall."""
    x, now = _units(profile.out, scale), _units(profile.now, scale)
    low = axes.get_ylim()[0]
    axes.fill_between(x, low, now, **EARTH)
    axes.plot(x, now, label="ground", **GROUND)
    if not math.isfinite(profile.level):
        return
    level = scale.of(profile.level)
    wet = np.logical_and.accumulate(now < level + scale.of(THIN_M))
    axes.fill_between(x, now, np.maximum(now, level), where=wet, **POND)


def _soil(axes: Axes, wall: FailingWall, scale: Scale, words: str) -> None:
    """The soil that is placed, and how deep it lies at the wall."""
    profile = wall.profile
    if not wall.soil_m > THIN_M:
        return
    x, now = _units(profile.out, scale), _units(profile.now, scale)
    made = _units(profile.corrected, scale)
    axes.fill_between(x, now, made, where=made > now, **SOIL)
    end = min(int(np.flatnonzero(wall.raised).max()) + 1, len(x) - 1)
    axes.plot(x[: end + 1], made[: end + 1], label="corrected", zorder=8, **CORRECTED)
    at = scale.of(0.025 * wall.run.worst.reach_m)
    ground, top = float(np.interp(at, x, now)), float(np.interp(at, x, made))
    measure(axes, (at, ground), (at, top), f"soil {words}")
    mid = int(0.55 * end)
    axes.annotate(
        "corrected ground",
        xy=(float(x[mid]), float(made[mid])),
        xytext=(0.48, 0.87),
        textcoords="axes fraction",
        **_POINTING,
    )


def _wall(axes: Axes, wall: FailingWall, scale: Scale) -> None:
    left, (low, high) = axes.get_xlim()[0], axes.get_ylim()
    axes.add_patch(Rectangle((left, low), -left, high - low, **WALL))


def _required(axes: Axes, wall: FailingWall, scale: Scale, shown: Shown) -> None:
    """The line that ground with the required fall keeps, and the reach it is asked over."""
    station = wall.run.worst
    top, end = (scale.of(z) for z in wall.limit)
    reach = scale.of(station.reach_m)
    axes.plot([0.0, reach], [top, end], label="limit", zorder=9, **LIMIT)
    axes.annotate(
        f"least fall: {shown.height(station.required_m)} in {shown.far(station.reach_m)}",
        xy=(0.72 * reach, top + 0.72 * (end - top)),
        xytext=(0.72, 0.76),
        textcoords="axes fraction",
        **_POINTING,
    )
    axes.annotate(
        "ground now",
        xy=(0.62 * reach, scale.of(wall.ground_at(0.62 * station.reach_m))),
        xytext=(0.74, 0.2),
        textcoords="axes fraction",
        gid=GIVES_WAY,
        **_POINTING,
    )
    low, high = axes.get_ylim()
    under = low + 0.05 * (high - low)
    measure(axes, (0.0, under), (reach, under), shown.far(station.reach_m))
    axes.plot([reach, reach], [under, end], color="0.3", linewidth=0.6, zorder=9)


def _clear(axes: Axes, wall: FailingWall, scale: Scale, shown: Shown) -> None:
    """The lowest thing that soil must stay below, and how far it is above the ground."""
    if not wall.clearances:
        return
    lowest = wall.clearances[0]
    over = lowest.height - float(wall.profile.corrected[0])
    words = (
        f"{lowest.kind} {shown.height(abs(over))} {'above' if over >= 0 else 'below'} the ground"
    )
    left = axes.get_xlim()[0]
    if not wall.is_near(lowest):
        low, high = axes.get_ylim()
        write(axes, -0.3 * left, high - 0.03 * (high - low), words, va="top")
        return
    level = scale.of(lowest.height)
    axes.plot([left, -0.25 * left], [level, level], color="black", linewidth=1.6, zorder=9)
    write(axes, -0.3 * left, level, words, va="center")
