"""Water on the map: where it stands and how deep, and the way of each downspout's water."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from numpy.typing import NDArray

from runoff.flow.model import DownspoutAnswer, LowSpot
from runoff.inspection import Findings
from runoff.quantities import Shown, system_of
from runoff.report.maps.frame import Legend
from runoff.report.maps.ground import draw_cells
from runoff.report.maps.labels import HALO, Labels
from runoff.site.model import Units

PATH_COLOR = "#0b3d91"
DEPTH_COLORS = ("#d3e6f5", "#a3cbe8", "#6aa6d6", "#3478b8", "#124a80")
DEPTHS_M = {
    "ft": tuple(inches * 0.0254 for inches in (0.1, 1.0, 3.0, 6.0, 12.0)),
    "m": (0.0025, 0.025, 0.075, 0.15, 0.30),
}
DEPTH_WORDS = {
    "ft": ("under 1 in", "1 to 3 in", "3 to 6 in", "6 to 12 in", "over 12 in"),
    "m": ("under 25 mm", "25 to 75 mm", "75 to 150 mm", "150 to 300 mm", "over 300 mm"),
}
END_MARKS = {
    "lot side": ("D", "crosses a lot side"),
    "outlet": ("s", "reaches an outlet"),
    "drain": ("P", "enters a drain"),
    "low spot": ("o", "stays in a low spot"),
    "terminal basin": ("p", "stays: no way out"),
    "survey edge": ("X", "leaves the survey"),
}

_ARROW_EVERY_PT = 42.0
# A downspout's disc with its rim is this wide; how often discs are moved apart at most.
_DISC_PT, _PUSHES = 13.0, 50


def draw_standing_water(axes: Axes, findings: Findings, labels: Labels, legend: Legend) -> None:
    """Tint standing water by its depth, outline the low spots brim-full and name them."""
    units = findings.site.units
    depth = np.digitize(np.nan_to_num(findings.standing_depth), DEPTHS_M[units])
    for index, (color, words) in enumerate(zip(DEPTH_COLORS, DEPTH_WORDS[units], strict=True)):
        chosen = depth == index + 1
        if not chosen.any():
            continue
        style: dict[str, Any] = {"facecolor": color, "linewidth": 0.0, "alpha": 0.88, "zorder": 4}
        draw_cells(axes, findings.terrain.grid, chosen, **style)
        legend.add(Patch(facecolor=color, edgecolor="0.4", linewidth=0.4), f"water, {words}")
    for low_spot in findings.low_spots:
        _low_spot(axes, findings, low_spot, labels, legend)


def _low_spot(
    axes: Axes, findings: Findings, low_spot: LowSpot, labels: Labels, legend: Legend
) -> None:
    if not (low_spot.on_lot or low_spot.storm_depth_m > DEPTHS_M[findings.site.units][0]):
        return
    grid = findings.terrain.grid
    style: dict[str, Any] = {"colors": PATH_COLOR, "linewidths": 0.9, "linestyles": "dotted"}
    rows, cols = low_spot.cells.T
    pond = np.zeros((grid.rows, grid.cols))
    pond[rows, cols] = 1.0
    x, y = grid.centers()
    top, bottom = max(rows.min() - 1, 0), rows.max() + 2
    left, right = max(cols.min() - 1, 0), cols.max() + 2
    window = pond[top:bottom, left:right]
    if min(window.shape) >= 2 and window.min() < 0.5:
        axes.contour(
            x[left:right][: window.shape[1]],
            y[top:bottom][: window.shape[0]],
            window,
            levels=[0.5],
            zorder=5,
            **style,
        )
        legend.add(
            Line2D([], [], color=PATH_COLOR, linewidth=0.9, linestyle="dotted"),
            "low spot, brim-full",
        )
    if low_spot.pour_point is not None:
        axes.plot(
            *low_spot.pour_point,
            marker="v",
            color="white",
            markeredgecolor=PATH_COLOR,
            markersize=5,
            zorder=11,
        )
        mark = Line2D([], [], marker="v", linestyle="", color="white", markersize=5)
        mark.set_markeredgecolor(PATH_COLOR)
        legend.add(mark, "where it overflows")
        labels.keep_clear(*low_spot.pour_point, 3.0)
    if not _named(findings, low_spot):
        return
    labels.add(
        f"{low_spot.name}\n{_depth_words(low_spot.storm_depth_m, findings.site.units)}",
        low_spot.lowest,
        urgency=65,
        color=PATH_COLOR,
        fontsize=7.5,
        fontweight="bold",
        linespacing=1.05,
    )


def _named(findings: Findings, low_spot: LowSpot) -> bool:
    """Whether it is on the lot or on a downspout's way; other low spots are a neighbor's."""
    ways = {spot.name for answer in findings.downspouts for spot in answer.on_the_way}
    ends = {answer.end.name for answer in findings.downspouts}
    return low_spot.on_lot or low_spot.name in ways | ends


def _depth_words(depth: float, units: Units) -> str:
    if depth < DEPTHS_M[units][0]:
        return "dry after the storm"
    return f"{Shown(system_of(units)).height(depth)} of water"


def draw_paths(axes: Axes, findings: Findings, labels: Labels, legend: Legend) -> None:
    """Draw each downspout with its number, the way of its water, and the mark of its end."""
    discs = disc_places([answer.start for answer in findings.downspouts], labels.metres_per_point)
    for number, answer in enumerate(findings.downspouts, start=1):
        before, beyond = split_path(answer)
        _way(axes, before, labels)
        if len(beyond) > 1:
            axes.plot(
                *beyond.T, color=PATH_COLOR, linewidth=1.2, linestyle=(0, (1.5, 1.5)), zorder=9
            )
        marker, words = END_MARKS[answer.end.kind]
        style: dict[str, Any] = {
            "marker": marker,
            "markersize": 8,
            "markerfacecolor": "white",
            "markeredgecolor": PATH_COLOR,
            "mew": 1.6,
        }
        axes.plot(answer.end.x, answer.end.y, linestyle="", zorder=13, **style)
        labels.keep_clear(answer.end.x, answer.end.y, 5.0)
        legend.add(Line2D([], [], linestyle="", **style), words)
        _downspout(axes, number, answer, discs[number - 1], labels)
    if findings.downspouts:
        legend.add(
            Line2D([], [], color=PATH_COLOR, linewidth=2.0, marker=">", markersize=6),
            "way of a downspout's water",
        )


def draw_downspouts(axes: Axes, findings: Findings, labels: Labels) -> None:
    """Draw each downspout with its number and name alone."""
    discs = disc_places([answer.start for answer in findings.downspouts], labels.metres_per_point)
    for number, answer in enumerate(findings.downspouts, start=1):
        _downspout(axes, number, answer, discs[number - 1], labels)


def disc_places(
    feet: Sequence[tuple[float, float]], metres_per_point: float
) -> NDArray[np.float64]:
    """Where the discs of downspouts stand, (n, 2) plan metres: at their feet, moved apart.

    Two at one corner are pushed off each other until neither hides the other's number.

    Examples
    --------
    >>> disc_places([(0.0, 0.0), (30.0, 0.0)], 1.0).tolist()
    [[0.0, 0.0], [30.0, 0.0]]
    >>> (disc_places([(0.0, 0.0), (3.0, 0.0)], 1.0) / _DISC_PT).round(2).tolist()
    [[-0.38, 0.0], [0.62, 0.0]]
    """
    at = np.array(feet, dtype=np.float64).reshape(-1, 2)
    least = _DISC_PT * metres_per_point
    for _ in range(_PUSHES):
        moved = False
        for a, b in itertools.combinations(range(len(at)), 2):
            apart = at[b] - at[a]
            far = float(np.hypot(*apart))
            if far < least * (1.0 - 1e-9):
                way = apart / far if far > 0.0 else np.array([1.0, 0.0])
                push = (least - far) / 2.0 * way
                at[a], at[b], moved = at[a] - push, at[b] + push, True
        if not moved:
            break
    return at


def split_path(answer: DownspoutAnswer) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The path up to where the water ends, and the rest of it, each (k, 2) plan metres."""
    path = answer.path
    if len(path) < 2:
        return path, path[:0]
    along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(path, axis=0).T))]
    if answer.length_m >= along[-1] * (1.0 - 1e-9):
        return path, path[:0]
    cut = np.array([[np.interp(answer.length_m, along, path[:, axis]) for axis in (0, 1)]])
    first = along < answer.length_m
    return np.vstack([path[first], cut]), np.vstack([cut, path[~first]])


def _way(axes: Axes, path: NDArray[np.float64], labels: Labels) -> None:
    if len(path) < 2:
        return
    axes.plot(*path.T, color="white", linewidth=4.0, zorder=9, solid_capstyle="round")
    axes.plot(*path.T, color=PATH_COLOR, linewidth=2.0, zorder=10, solid_capstyle="round")
    labels.avoid(path)
    draw_arrows(axes, path, labels, PATH_COLOR, 9.0)


def draw_arrows(
    axes: Axes, path: NDArray[np.float64], labels: Labels, color: str, size: float
) -> None:
    """Draw arrows along a (k, 2) way, their size in points."""
    spacing = _ARROW_EVERY_PT * labels.metres_per_point
    along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(path, axis=0).T))]
    places = np.arange(0.6 * spacing, along[-1], spacing)
    for at in places if len(places) else [0.6 * along[-1]]:
        x, y = (float(np.interp(at, along, path[:, axis])) for axis in (0, 1))
        behind = [float(np.interp(at - 0.2 * spacing, along, path[:, axis])) for axis in (0, 1)]
        angle = math.degrees(math.atan2(y - behind[1], x - behind[0]))
        axes.plot(
            x,
            y,
            marker=(3, 0, angle - 90.0),
            markersize=size,
            color=color,
            markeredgecolor="white",
            mew=0.6,
            zorder=11,
        )


def _downspout(
    axes: Axes, number: int, answer: DownspoutAnswer, disc: NDArray[np.float64], labels: Labels
) -> None:
    x, y = float(disc[0]), float(disc[1])
    if math.dist(disc, answer.start) > 0.0:
        axes.plot(*np.array([answer.start, disc]).T, color="black", linewidth=1.4, zorder=15)
    axes.plot(x, y, "o", color="black", markersize=12, mec="white", mew=1.0, zorder=16)
    axes.text(
        x,
        y,
        str(number),
        color="white",
        fontsize=8,
        fontweight="bold",
        ha="center",
        va="center_baseline",
        zorder=17,
    )
    labels.keep_clear(x, y, 6.5)
    labels.add(answer.name, (x, y), urgency=90, fontsize=8, fontweight="bold", path_effects=HALO)
