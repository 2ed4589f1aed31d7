"""The house on the map: the verdict along each wall, openings, and where water may be let go.

In: what was found at the walls. Out: lines along the inside of the walls, where neither paths nor
water hide them, marks on the walls, and a quiet tint. Each verdict keeps apart by the width and
kind of its line and by a letter, so that gray paper will do.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from shapely.geometry import Polygon

from runoff.flow.downspouts import ICY
from runoff.foundation.model import REASONS, AtTheWall, OpeningFinding, Verdict, WallRun
from runoff.foundation.walls import Wall, walls_of
from runoff.inspection import Findings
from runoff.report.maps.frame import Legend
from runoff.report.maps.labels import Labels
from runoff.report.maps.lot import patch_of
from runoff.site.model import Site

RUN_LINES: dict[Verdict, dict[str, Any]] = {
    "holds water": {"color": "#0a2a66", "linewidth": 4.6},
    "slopes back": {"color": "#b3001b", "linewidth": 4.0},
    "too flat": {"color": "#a35200", "linewidth": 2.6},
    "cut short: needs a drain or swale": {
        "color": "#a35200",
        "linewidth": 2.6,
        "linestyle": (0, (3.0, 0.8)),
    },
    "too close to call": {"color": "0.25", "linewidth": 2.2, "linestyle": (0, (0.9, 0.9))},
    "not surveyed": {
        "color": "white",
        "linewidth": 2.0,
        "path_effects": [withStroke(linewidth=3.2, foreground="0.5")],
    },
    "drains away": {"color": "#2f6b3a", "linewidth": 0.9},
}
LETTERS: dict[Verdict, str] = {
    "holds water": "W",
    "slopes back": "B",
    "too flat": "F",
    "cut short: needs a drain or swale": "C",
    "too close to call": "?",
}
SAFE: dict[str, Any] = {"facecolor": "#dcecd2", "edgecolor": "#a5c394", "hatch": "/"}
OPENING: dict[str, Any] = {"facecolor": "white", "edgecolor": "black", "linewidth": 0.9}
REACHED: dict[str, Any] = OPENING | {"facecolor": "#0a2a66"}

# The water against the wall in the darkest, widest line, and that line alone is split in two.
_SPLIT: dict[str, Any] = {"color": "white", "linewidth": 1.2, "linestyle": (0, (2.5, 1.5))}
_IN_FROM_WALL_PT = 3.4
_LETTER_IN_FROM_WALL_PT = 11.5
_TICK_PT = 6.6
_LEAST_OPENING_PT = (6.0, 4.0)
_LETTER_APART_PT = 40.0
_LETTER_PLACES = (0.5, 0.35, 0.65, 0.2, 0.8)
_SMOOTHED_CELLS = 1.0
# Where there is room for one letter only, the worse verdict has it: they stand in that order.
_MOST_URGENT = 99


def draw_safe_area(axes: Axes, findings: Findings, legend: Legend) -> None:
    """Tint the ground of the lot on which water may be let go."""
    found = findings.at_the_wall
    safe = (found.safe_area.code == REASONS.index("safe")).astype(np.float64)
    if not safe.any() or min(safe.shape) < 2:
        return
    # Cells make steps; smoothed, the outline stays quiet under paths and contours.
    smooth = gaussian_filter(safe, _SMOOTHED_CELLS, mode="nearest")
    x, y = findings.terrain.grid.centers()
    tint = axes.contourf(
        x, y, smooth, levels=[0.5, 1.5], colors=[SAFE["facecolor"]], alpha=0.65, zorder=2.2
    )
    lines = axes.contourf(x, y, smooth, levels=[0.5, 1.5], colors="none", zorder=2.3)
    lines.set_hatch(SAFE["hatch"])
    lines.set_edgecolor(SAFE["edgecolor"])
    lines.set_linewidth(0.0)
    if findings.site.lot is not None:
        lot = axes.add_patch(
            patch_of(findings.site.lot.boundary, facecolor="none", edgecolor="none")
        )
        for drawn in (tint, lines):
            drawn.set_clip_path(lot)
    legend.add(Patch(**SAFE, linewidth=0.0), _safe_words(findings.site))


def _safe_words(site: Site) -> str:
    """What the tint says; where there are walks or drives, that ice is to be minded."""
    words = "water may be let go"
    icy = any(each.kind in ICY for each in site.paving)
    return f"{words} (mind ice)" if icy else f"{words} here"


def draw_walls(axes: Axes, findings: Findings, labels: Labels, legend: Legend) -> None:
    """Draw the verdict along each wall, and the openings in it."""
    found = findings.at_the_wall
    walls = {(wall.building, wall.number): wall for wall in walls_of(findings.site.buildings)}
    lettered = _lettered(found.runs, _LETTER_APART_PT * labels.metres_per_point)
    for run, letter in zip(found.runs, lettered, strict=True):
        _run(axes, run, walls[run.building, run.wall], labels, letter)
    _runs_in_legend(found, legend)
    _openings(axes, findings, found, walls, labels, legend)


def run_line(wall: Wall, run: WallRun, inward: float) -> NDArray[np.float64]:
    """The run's two ends, (2, 2) plan metres, `inward` metres inside its wall."""
    return wall.point(np.array([run.start_m, run.end_m]), np.array([-inward, -inward]))


def _lettered(runs: Sequence[WallRun], long: float) -> list[bool]:
    """Which runs have their letter: long ones, and of each wall's verdicts the longest run."""
    longest: dict[tuple[str, int, Verdict], float] = {}
    for run in runs:
        key = (run.building, run.wall, run.verdict)
        longest[key] = max(longest.get(key, 0.0), run.end_m - run.start_m)
    return [
        run.end_m - run.start_m >= min(long, longest[run.building, run.wall, run.verdict])
        for run in runs
    ]


def _run(axes: Axes, run: WallRun, wall: Wall, labels: Labels, lettered: bool) -> None:
    point = labels.metres_per_point
    line = run_line(wall, run, _IN_FROM_WALL_PT * point)
    axes.plot(
        *line.T, zorder=8, solid_capstyle="butt", dash_capstyle="butt", **RUN_LINES[run.verdict]
    )
    if run.verdict == "holds water":
        axes.plot(*line.T, zorder=8, dash_capstyle="butt", **_SPLIT)
    if run.verdict not in LETTERS:
        return
    labels.avoid(line)
    inside = run_line(wall, run, _TICK_PT * point)
    for foot, tip in zip(run_line(wall, run, 0.0), inside, strict=True):
        axes.plot(*np.array([foot, tip]).T, color="0.1", linewidth=0.8, zorder=8)
    if not lettered:
        return
    start, end = run_line(wall, run, _LETTER_IN_FROM_WALL_PT * point)
    labels.add(
        LETTERS[run.verdict],
        [tuple(start + (end - start) * share) for share in _LETTER_PLACES],
        urgency=_MOST_URGENT - list(LETTERS).index(run.verdict),
        centered=True,
        leader=False,
        fixed=True,
        color=RUN_LINES[run.verdict]["color"],
        fontsize=8,
        fontweight="bold",
    )


def _runs_in_legend(found: AtTheWall, legend: Legend) -> None:
    present = {run.verdict for run in found.runs}
    for verdict, style in RUN_LINES.items():
        if verdict not in present:
            continue
        letter = f"  {LETTERS[verdict]}" if verdict in LETTERS else ""
        line = Line2D([], [], solid_capstyle="butt", **style)
        split = (line, Line2D([], [], **_SPLIT)) if verdict == "holds water" else line
        rough = any(run.indication for run in found.runs if run.verdict == verdict)
        sure = " (indication)" if rough and verdict != "not surveyed" else ""
        legend.add(split, f"wall: {_short(verdict)}{sure}{letter}")


def _short(verdict: Verdict) -> str:
    return verdict.split(":")[0]


def _openings(
    axes: Axes,
    findings: Findings,
    found: AtTheWall,
    walls: dict[tuple[str, int], Wall],
    labels: Labels,
    legend: Legend,
) -> None:
    written = {opening.name: opening for opening in findings.site.openings}
    for finding in found.openings:
        opening = written[finding.name]
        wall = walls[opening.building, opening.wall]
        box = _box(wall, opening.distance, opening.width, opening.projection, labels)
        style = REACHED if finding.reached else OPENING
        # Over the ways of water: a well is to be seen where one runs across it.
        axes.add_patch(patch_of(box, zorder=12.5, **style))
        _label_opening(finding, box, labels)
        legend.add(
            Patch(**style), "opening: water gets in" if finding.reached else "opening: window, door"
        )


def _box(wall: Wall, at: float, width: float, projection: float, labels: Labels) -> Polygon:
    """The opening's outline on the plan, never too small to be seen."""
    least_width, least_depth = (pt * labels.metres_per_point for pt in _LEAST_OPENING_PT)
    half = max(width, least_width) / 2.0
    out = max(projection, least_depth)
    along = np.array([at - half, at + half, at + half, at - half])
    return Polygon(wall.point(along, np.array([-least_depth / 2, -least_depth / 2, out, out])))


def _label_opening(finding: OpeningFinding, box: Polygon, labels: Labels) -> None:
    middle = (float(box.centroid.x), float(box.centroid.y))
    labels.keep_clear(*middle, 3.0)
    labels.avoid(np.asarray(box.exterior.coords))
    labels.add(
        finding.name,
        middle,
        urgency=86 if finding.reached else 72,
        fontsize=7.5,
        fontweight="bold" if finding.reached else "normal",
        color="#0a2a66" if finding.reached else "black",
    )
