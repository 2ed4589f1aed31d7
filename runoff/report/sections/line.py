"""A buried line in profile: ground, pipe with its bore, trench, cover, fittings, where it ends.

In: a `BuriedLine`. Out: a picture. Everything drawn is of the record; both axes are in the
reader's units, and the sheet says how many times heights are enlarged.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from runoff.discharge.line.record import Crossing
from runoff.discharge.ways import BuriedLine
from runoff.discharge.wording import fitting_name
from runoff.quantities import Shown
from runoff.report.files import save_picture
from runoff.report.maps.frame import fitted
from runoff.report.maps.labels import HALO
from runoff.report.sections.sheet import (
    EARTH,
    GIVES_WAY,
    GROUND,
    SCREEN,
    Paper,
    Scale,
    exaggerate,
    exaggeration,
    give_way,
    measure,
    name_axes,
    sheet,
    show_scale,
)
from runoff.site.model import Site
from runoff.words.designs import crossing_action, crossing_name, crossing_words, line_ends

PIPE: dict[str, Any] = {"facecolor": "white", "edgecolor": "black", "linewidth": 1.1, "zorder": 5}
TRENCH: dict[str, Any] = {"facecolor": "0.97", "edgecolor": "0.35", "linewidth": 0.9, "zorder": 2}
BED: dict[str, Any] = {"facecolor": "0.80", "edgecolor": "0.5", "hatch": "...", "linewidth": 0.3}
SHALLOW: dict[str, Any] = {"facecolor": "none", "edgecolor": "0.25", "hatch": "///", "zorder": 4}
SURFACES: dict[str, Any] = {"facecolor": "0.55", "edgecolor": "black", "linewidth": 0.8}

_AXES_IN = 3.5
_SAME_M = 0.02
# Inches along the line that a label takes, that the last one takes, and between two numbers.
_LABEL_IN, _LAST_IN, _NUMBER_IN = 1.3, 2.7, 0.27
# Characters of a name on the axes.
_NAME = 30
_BEFORE, _BEYOND = 0.05, 0.07
_PAVED = ("drive", "walk", "patio", "public sidewalk")


def draw_profile(line: BuriedLine, site: Site, name: str, path: Path | str) -> Path:
    """Draw a buried line in profile.

    Parameters
    ----------
    line : BuriedLine
    site : Site
        Its units are those of the figure.
    name : str
        What the line serves, such as the downspout's name.
    path : Path or str
        ``.png``, ``.svg`` or ``.pdf``.

    Raises
    ------
    ValueError
        Where the suffix is none of the three.
    """
    return save_picture(compose_profile(line, site, name), path, f"profile, {name}")


def compose_profile(line: BuriedLine, site: Site, name: str, paper: Paper = SCREEN) -> Figure:
    """The profile as a figure."""
    shown, scale, profile = Shown.of(site), Scale(site.units), line.profile
    groups = _stops(line, shown)
    below = [*fittings_listed(line, shown), *crossings_listed(line, shown)]
    length = scale.of(line.length_m)
    left, right = -_BEFORE * length, (1.0 + _BEYOND) * length
    low = scale.of(float(profile.bottom_m.min()))
    crown = float((profile.invert_m + profile.pipe.bore_m).max())
    high = scale.of(max(float(profile.ground_m.max()), crown))
    room = high - low
    wide_in = paper.axes_in * (right - left) / paper.fitted(right - left, paper.axes_in, site.units)
    times = exaggeration(wide_in / (right - left), paper.tall * _AXES_IN, 1.95 * room)
    pipe = profile.pipe
    rough = "; INDICATION ONLY, not to dig by" if site.height_accuracy.indication_only else ""
    drawn = sheet(
        f"Buried line in profile: {name}",
        f"{shown.far(line.length_m)} of {pipe.size} pipe, least slope "
        f"{shown.slope(line.flow.slope)}; trench up to {shown.height(line.greatest_cut_m)} deep; "
        + ("no vertical exaggeration" if times == 1 else f"vertical exaggeration {times} times")
        + rough,
        paper.tall * _AXES_IN,
        below,
        paper,
    )
    axes = drawn.axes(width_in=wide_in)
    axes.set_xlim(left, right)
    exaggerate(axes, right - left, low - 0.45 * room, high + 0.5 * room)
    _earth(axes, line, scale, (left, right))
    _pipe(axes, line, scale)
    _shallow(axes, line, scale, shown)
    _crossings(axes, line, scale)
    _levels(axes, line, scale, shown)
    _cover(axes, line, scale, shown)
    _numbers(axes, line, scale, groups)
    name_axes(axes, site.units, "station, distance along the line")
    show_scale(drawn, axes, site.units)
    if paper.bare:
        give_way(axes)
    return drawn.figure


def fittings_listed(line: BuriedLine, shown: Shown) -> list[str]:
    """What stands at each number of the profile."""
    return [
        f"({number}) at {shown.far(station)}: {'; '.join(names)}"
        for number, (station, names) in enumerate(_stops(line, shown), start=1)
    ]


def crossings_listed(line: BuriedLine, shown: Shown) -> list[str]:
    """What the line passes, from where to where, and what to do there."""
    return [
        f"{crossing_name(one)}, {shown.far(one.start_m)} to {shown.far(one.end_m)}: "
        f"{crossing_action(shown, one)}"
        for one in line.crossings
    ]


def _stops(line: BuriedLine, shown: Shown) -> list[tuple[float, list[str]]]:
    """Fittings gathered by station, metres."""
    found: list[tuple[float, list[str]]] = []
    for fitting in sorted(line.fittings, key=lambda one: one.station_m):
        if found and fitting.station_m - found[-1][0] < _SAME_M:
            found[-1][1].append(fitting_name(shown, fitting))
        else:
            found.append((fitting.station_m, [fitting_name(shown, fitting)]))
    return found


def _along(line: BuriedLine, scale: Scale) -> np.ndarray:
    return np.array([scale.of(float(x)) for x in line.profile.stations_m])


def _heights(values: np.ndarray, scale: Scale) -> np.ndarray:
    return np.array([scale.of(float(z)) for z in values])


def _earth(axes: Axes, line: BuriedLine, scale: Scale, view: tuple[float, float]) -> None:
    """The ground, level beyond both ends of the line, the trench in it and the bedding."""
    profile, x = line.profile, _along(line, scale)
    ground, bottom = _heights(profile.ground_m, scale), _heights(profile.bottom_m, scale)
    lowest = axes.get_ylim()[0]
    wide = np.r_[view[0], x, view[1]]
    slope = (ground[-1] - ground[-2]) / (x[-1] - x[-2])
    beyond = ground[-1] + slope * (view[1] - x[-1])
    over = np.r_[ground[0], ground, beyond]
    axes.fill_between(wide, lowest, over, **EARTH)
    axes.plot(wide, over, label="ground", **GROUND)
    axes.fill_between(x, bottom, np.maximum(ground, bottom), **TRENCH)
    pipe_under = _heights(profile.invert_m - profile.pipe.wall_m, scale)
    axes.fill_between(x, bottom, pipe_under, zorder=3, **BED)
    axes.plot(x, bottom, color="0.2", linewidth=1.1, linestyle=(0, (5, 2)), zorder=4)


def _pipe(axes: Axes, line: BuriedLine, scale: Scale) -> None:
    profile, x = line.profile, _along(line, scale)
    invert = _heights(profile.invert_m, scale)
    axes.fill_between(x, invert, invert + scale.of(profile.pipe.bore_m), **PIPE)


def _shallow(axes: Axes, line: BuriedLine, scale: Scale, shown: Shown) -> None:
    """Hatch where the last stretch has less than the least cover."""
    profile = line.profile
    if profile.exempt_from_m is None or profile.daylight_m is None:
        return
    stations = profile.stations_m
    part = (stations >= profile.exempt_from_m - 1e-9) & (stations <= profile.daylight_m + 1e-9)
    x = _along(line, scale)[part]
    top = _heights(profile.invert_m + profile.pipe.bore_m, scale)[part]
    ground = _heights(profile.ground_m, scale)[part]
    axes.fill_between(x, np.minimum(top, ground), ground, linewidth=0.0, **SHALLOW)
    axes.annotate(
        f"less than {shown.far(profile.limits.cover_m)} of cover",
        xy=(float(x.mean()), float(np.interp(x.mean(), x, ground))),
        xytext=(0, 30),
        textcoords="offset points",
        ha="center",
        fontsize=8,
        arrowprops={"arrowstyle": "-", "linewidth": 0.7},
        gid=GIVES_WAY,
        zorder=20,
    )


def _crossings(axes: Axes, line: BuriedLine, scale: Scale) -> None:
    """A bar on the ground for each thing that the line passes, its name over it."""
    thick = 0.02 * (axes.get_ylim()[1] - axes.get_ylim()[0])
    x, ground = _along(line, scale), _heights(line.profile.ground_m, scale)
    passed = [one for one in line.crossings if one.kind != "less than least cover"]
    for row, one in enumerate(passed):
        start, end = scale.of(one.start_m), scale.of(one.end_m)
        inside = x[(x > start) & (x < end)]
        along = np.r_[start, inside, end]
        over = np.interp(along, x, ground)
        hatch = {} if one.kind in _PAVED else {"hatch": "xxx", "facecolor": "white"}
        axes.fill_between(along, over, over + thick, zorder=7, **(SURFACES | hatch))
        axes.annotate(
            _crossing_name(one),
            xy=((start + end) / 2, float(np.interp((start + end) / 2, x, ground)) + thick),
            xytext=(0, 48 * _closer(axes) + 13 * (row % 3)),
            textcoords="offset points",
            ha="center",
            fontsize=8,
            arrowprops={"arrowstyle": "-", "linewidth": 0.7},
            parse_math=False,
            gid=GIVES_WAY,
            zorder=20,
        )


def _crossing_name(one: Crossing) -> str:
    return fitted(crossing_words(one), _NAME)


def _levels(axes: Axes, line: BuriedLine, scale: Scale, shown: Shown) -> None:
    """The invert's height at both ends and at each break of grade, under the trench."""
    profile = line.profile
    marks, whole = [0.0], _closer(axes) == 1.0
    label_m, last_m = (inches * scale.unit_m / _inches(axes) for inches in (_LABEL_IN, _LAST_IN))
    for station in profile.breaks_m:
        if station - marks[-1] > label_m and station < line.length_m - last_m:
            marks.append(station)
    for station in [*marks, line.length_m]:
        invert = float(np.interp(station, profile.stations_m, profile.invert_m))
        bottom = float(np.interp(station, profile.stations_m, profile.bottom_m))
        last = station == line.length_m
        over = profile.stations_m + label_m * last - station
        lowest = profile.bottom_m[(over >= 0.0) & (over <= label_m)].min(initial=bottom)
        words = f"invert {shown.height(invert)}\ndig {shown.height(_cut(line, station))}"
        axes.annotate(
            f"{words}\n{_end(line, shown)}" if last and whole else words,
            xy=(scale.of(station), scale.of(bottom)),
            xytext=(
                -2 if last else 2,
                -30 * _closer(axes) - _points(axes) * scale.of(bottom - float(lowest)),
            ),
            textcoords="offset points",
            ha="right" if last else "left",
            va="top",
            fontsize=8,
            parse_math=False,
            arrowprops={"arrowstyle": "-", "linewidth": 0.7, "relpos": (1.0 if last else 0.0, 1.0)},
            path_effects=HALO,
            gid="" if last else GIVES_WAY,
            zorder=20,
        )


def _cut(line: BuriedLine, station: float) -> float:
    return float(np.interp(station, line.profile.stations_m, line.profile.cut_m))


def _cover(axes: Axes, line: BuriedLine, scale: Scale, shown: Shown) -> None:
    """The cover as a dimension where the line has its full cover, past its start."""
    profile = line.profile
    end = profile.exempt_from_m if profile.exempt_from_m is not None else line.length_m
    station = 0.45 * end
    cover = float(np.interp(station, profile.stations_m, profile.cover_m))
    if cover <= 0.0:
        return
    ground = float(np.interp(station, profile.stations_m, profile.ground_m))
    x = scale.of(station)
    measure(
        axes,
        (x, scale.of(ground)),
        (x, scale.of(ground - cover)),
        f"cover {shown.height(cover)}",
    )


def _numbers(
    axes: Axes, line: BuriedLine, scale: Scale, groups: list[tuple[float, list[str]]]
) -> None:
    """A numbered mark over the ground at each fitting; the list under the picture names it."""
    profile = line.profile
    row, last = 0, -np.inf
    for number, (station, _) in enumerate(groups, start=1):
        x = scale.of(station)
        row = row + 1 if (x - last) * _inches(axes) < _NUMBER_IN else 0
        last = x
        ground = float(np.interp(station, profile.stations_m, profile.ground_m))
        middle = float(np.interp(station, profile.stations_m, profile.invert_m))
        middle += profile.pipe.bore_m / 2
        axes.plot([x], [scale.of(middle)], "o", color="black", markersize=3.5, zorder=12)
        axes.annotate(
            str(number),
            xy=(x, scale.of(middle)),
            xytext=(0, 22 + 18 * row + _points(axes) * scale.of(max(ground - middle, 0.0))),
            textcoords="offset points",
            ha="center",
            va="center",
            fontsize=8,
            fontweight="bold",
            bbox={"boxstyle": "circle,pad=0.25", "facecolor": "white", "edgecolor": "black"},
            arrowprops={"arrowstyle": "-", "linewidth": 0.7},
            zorder=21,
        )


def _inches(axes: Axes) -> float:
    """Inches of paper for one unit of distance."""
    left, right = axes.get_xlim()
    width = axes.get_position().width * axes.figure.get_size_inches()[0]  # type: ignore[union-attr]
    return float(width / (right - left))


def _points(axes: Axes) -> float:
    """Points of paper for one unit of height."""
    low, high = axes.get_ylim()
    height = axes.get_position().height * axes.figure.get_size_inches()[1]  # type: ignore[union-attr]
    return float(72.0 * height / (high - low))


def _closer(axes: Axes) -> float:
    """How much closer to the line words stand on axes that are lower than usual."""
    height = axes.get_position().height * axes.figure.get_size_inches()[1]  # type: ignore[union-attr]
    return min(1.0, float(height) / _AXES_IN)


def _end(line: BuriedLine, shown: Shown) -> str:
    """Where the line comes out, or that it does not, in a few words."""
    if line.profile.daylight_m is None:
        return line_ends(line.ends)
    return f"daylight at {shown.far(line.profile.daylight_m)}"
