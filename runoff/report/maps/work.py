"""What a plan builds, on the map: extensions, lines, swales, pits and soil.

In: a plan. Out: artists on the map's axes. Routes and outlines are those of the records.
"""

from __future__ import annotations

import math
from typing import Any, assert_never

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, Patch, Polygon
from numpy.typing import NDArray
from shapely import Polygon as Outline

from runoff.discharge.ways import AsItIs, BuriedLine, Extension, SeepagePit, Swale
from runoff.planning import Plan
from runoff.quantities import Shown
from runoff.report.maps.frame import Legend
from runoff.report.maps.ground import draw_cells
from runoff.report.maps.labels import Labels
from runoff.report.maps.water import draw_arrows

COLOR = "#b03a00"
EXTENSION: dict[str, Any] = {"color": COLOR, "linewidth": 3.2}
LINE: dict[str, Any] = {"color": COLOR, "linewidth": 2.6, "linestyle": (0, (4, 1.2))}
SWALE: dict[str, Any] = {"color": COLOR, "linewidth": 2.2, "linestyle": (0, (1, 1))}
ONWARD: dict[str, Any] = {"color": COLOR, "linewidth": 1.0, "linestyle": (0, (1.5, 2.5))}
PIT: dict[str, Any] = {"facecolor": "white", "edgecolor": COLOR, "linewidth": 1.6, "hatch": "oo"}
SOIL: dict[str, Any] = {
    "facecolor": "#c9a36b",
    "edgecolor": "#6b4a1f",
    "hatch": "\\\\\\",
    "alpha": 0.55,
    "linewidth": 0,
}
_END: dict[str, Any] = {"marker": "o", "markersize": 6, "markerfacecolor": "white", "mew": 1.8}
_URGENCY = 95
_ARROW_PT = 6.0


def draw_work(axes: Axes, plan: Plan, labels: Labels, legend: Legend) -> None:
    """Draw everything that is recommended, each kind with its entry in the legend."""
    _soil(axes, plan, legend)
    shown = Shown.of(plan.site)
    for each in plan.recommendations:
        match each.chosen.design:
            case Extension() as extension:
                _extension(axes, extension, shown, labels, legend)
            case Swale() as swale:
                _swale(axes, swale, shown, labels, legend)
            case BuriedLine() as line:
                _line(axes, line, shown, labels, legend)
            case SeepagePit() as pit:
                _pit(axes, pit, shown, labels, legend)
            case AsItIs() | None:
                pass
            case unknown:
                assert_never(unknown)


def pit_outline(pit: SeepagePit) -> NDArray[np.float64]:
    """Corners of a pit's plan, (4, 2) metres; of a cylinder those of the square about it.

    Examples
    --------
    A pit 2 m by 1 m about the origin, unturned:

    >>> from types import SimpleNamespace
    >>> body = SimpleNamespace(pit=SimpleNamespace(length_m=2.0, width_m=1.0))
    >>> pit_outline(SimpleNamespace(center=(0.0, 0.0), angle=0.0, governing=body))[0].tolist()
    [-1.0, -0.5]
    """
    body, turn = pit.governing.pit, math.radians(pit.angle)
    half = np.array([body.length_m, body.width_m]) / 2
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    cos, sin = math.cos(turn), math.sin(turn)
    return corners @ np.array([[cos, sin], [-sin, cos]]) + np.asarray(pit.center)


def _extension(
    axes: Axes, extension: Extension, shown: Shown, labels: Labels, legend: Legend
) -> None:
    way = np.array([extension.start, extension.end])
    _onward(axes, extension.path, labels, legend)
    _way(axes, way, EXTENSION, labels)
    _label(labels, f"extension, {shown.far(extension.length_m)}", way)
    legend.add(Line2D([], [], **EXTENSION), "extension on the ground")


def _swale(axes: Axes, swale: Swale, shown: Shown, labels: Labels, legend: Legend) -> None:
    _onward(axes, swale.path, labels, legend)
    _way(axes, swale.line, SWALE, labels)
    _label(labels, f"swale, {shown.far(float(swale.stations_m[-1]))}", swale.line)
    legend.add(Line2D([], [], **SWALE), "swale to cut")


def _line(axes: Axes, line: BuriedLine, shown: Shown, labels: Labels, legend: Legend) -> None:
    _way(axes, line.route, LINE, labels)
    size = line.profile.pipe.size
    _label(labels, f"{size} line, {shown.far(line.length_m)}", line.route)
    legend.add(Line2D([], [], **LINE), "buried line to lay")


def _pit(axes: Axes, pit: SeepagePit, shown: Shown, labels: Labels, legend: Legend) -> None:
    _way(axes, pit.line.route, LINE, labels, end=False)
    _onward(axes, pit.overflow.path, labels, legend)
    body = pit.governing.pit
    patch: Circle | Polygon
    if body.kind == "cylinder":
        patch = Circle(pit.center, body.length_m / 2, zorder=12, **PIT)
    else:
        patch = Polygon(pit_outline(pit), closed=True, zorder=12, **PIT)
    axes.add_patch(patch)
    labels.avoid_area(Outline(pit_outline(pit)))
    labels.add(
        f"seepage pit, {shown.far(pit.dig_depth_m)} deep",
        pit.center,
        urgency=_URGENCY,
        fontsize=8,
        color=COLOR,
    )
    legend.add(Line2D([], [], **LINE), "buried line to lay")
    legend.add(Patch(**PIT), "seepage pit (dry well) to dig")


def _onward(axes: Axes, path: NDArray[np.float64], labels: Labels, legend: Legend) -> None:
    """Where the water runs from there."""
    if len(path) < 2:
        return
    axes.plot(*path.T, zorder=9, **ONWARD)
    draw_arrows(axes, path, labels, COLOR, _ARROW_PT)
    legend.add(Line2D([], [], marker=">", markersize=4, **ONWARD), "then over the ground")


def _way(
    axes: Axes, way: NDArray[np.float64], style: dict[str, Any], labels: Labels, end: bool = True
) -> None:
    axes.plot(*way.T, color="white", linewidth=style["linewidth"] + 2.0, zorder=11)
    axes.plot(*way.T, zorder=12, **style)
    labels.avoid(way)
    if end:
        x, y = way[-1]
        axes.plot(x, y, linestyle="", markeredgecolor=COLOR, zorder=14, **_END)
        labels.keep_clear(float(x), float(y), 4.0)


def _label(labels: Labels, words: str, way: NDArray[np.float64]) -> None:
    """A label by the middle of a way or, where there is no room, near either end."""
    along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(way, axis=0).T))]
    places = [
        tuple(float(np.interp(part * along[-1], along, way[:, axis])) for axis in (0, 1))
        for part in (0.5, 0.75, 0.25, 1.0)
    ]
    labels.add(words, places, urgency=_URGENCY, fontsize=8, color=COLOR)  # type: ignore[arg-type]


def _soil(axes: Axes, plan: Plan, legend: Legend) -> None:
    """Tint the cells that soil raises."""
    if plan.grade is None:
        return
    grid = plan.findings.terrain.grid
    raised = np.zeros(plan.findings.terrain.ground.shape, dtype=bool)
    for wedge in plan.grade.wedges:
        if len(wedge.cells):
            raised[tuple(wedge.cells.T)] = True
    if not raised.any():
        return
    draw_cells(axes, grid, raised, zorder=3, **SOIL)
    legend.add(Patch(**SOIL), "soil to bring in")
