"""What stands and lies on the lot, on the map: boundary, paving, buildings, lines, outlets."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, PathPatch
from matplotlib.path import Path as Outline
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from runoff.report.maps.frame import Legend
from runoff.report.maps.labels import Labels
from runoff.site.model import BreakLine, LotSide, Site
from runoff.terrain.model import Hole

NEIGHBORS: dict[str, Any] = {"facecolor": "0.9", "edgecolor": "0.5", "linewidth": 0.7}
BUILDING: dict[str, Any] = {"facecolor": "0.78", "edgecolor": "0.1", "linewidth": 1.3}
PAVING: dict[str, Any] = {
    "facecolor": "0.93",
    "edgecolor": "0.45",
    "linewidth": 0.7,
    "hatch": "....",
}
KEEP_OUT: dict[str, Any] = {
    "facecolor": "none",
    "edgecolor": "#5b6b2f",
    "linewidth": 0.9,
    "hatch": "xx",
}
EASEMENT: dict[str, Any] = {
    "facecolor": "none",
    "edgecolor": "0.4",
    "linewidth": 0.9,
    "linestyle": (0, (5, 3)),
}
WITHOUT_HEIGHTS: dict[str, Any] = {
    "facecolor": "none",
    "edgecolor": "0.55",
    "linewidth": 0.8,
    "linestyle": (0, (2, 2)),
    "hatch": "\\\\",
}
BEND: dict[str, Any] = {"color": "#7a5c3a", "linewidth": 1.2, "linestyle": (0, (6, 2))}
STEP: dict[str, Any] = {"color": "0.15", "linewidth": 1.8}
BARRIER: dict[str, Any] = {"color": "0.1", "linewidth": 2.4, "linestyle": (0, (1.2, 0.8))}
OUTLET: dict[str, Any] = {"color": "#00607a", "linewidth": 2.6, "alpha": 0.6}
LOT: dict[str, Any] = {"color": "0.05", "linewidth": 1.4, "linestyle": (0, (9, 2, 2, 2))}

_SIDE_PLACES = (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9)


def draw_plan(axes: Axes, site: Site, labels: Labels, legend: Legend) -> None:
    """Draw everything of the site that is not ground or water."""
    _areas(axes, site, labels, legend)
    _buildings(axes, site, labels, legend)
    _lines(axes, site, labels, legend)
    _drains(axes, site, labels, legend)
    _outlets(axes, site, labels, legend)
    _lot(axes, site, labels, legend)


def draw_holes(axes: Axes, holes: Sequence[Hole], labels: Labels, legend: Legend) -> None:
    """Hatch the ground that no height tells, and name it where there is room."""
    for hole in holes:
        axes.add_patch(patch_of(hole.outline, zorder=1.5, **WITHOUT_HEIGHTS))
        legend.add(Patch(**WITHOUT_HEIGHTS), "no heights: ground not known")
        labels.add(
            "no heights",
            hole.at,
            urgency=15,
            centered=True,
            leader=False,
            color="0.3",
            fontsize=7,
        )


def patch_of(polygon: Polygon, **style: Any) -> PathPatch:
    """A polygon with its holes as a patch.

    A path is filled wherever its rings' turns do not cancel, so the holes are made to turn against
    the outline, however they were written.
    """
    polygon = orient(polygon)
    rings = [np.asarray(ring.coords) for ring in (polygon.exterior, *polygon.interiors)]
    outline = Outline.make_compound_path(*(Outline(ring, closed=True) for ring in rings))
    return PathPatch(outline, **style)


def _middle(area: BaseGeometry) -> tuple[float, float]:
    point = area.representative_point()
    center = area.centroid
    chosen = center if area.contains(center) else point
    return float(chosen.x), float(chosen.y)


def _areas(axes: Axes, site: Site, labels: Labels, legend: Legend) -> None:
    for paving in site.paving:
        axes.add_patch(patch_of(paving.outline, zorder=2, **PAVING))
        labels.add(
            paving.name,
            _along(paving.outline),
            urgency=20,
            centered=True,
            leader=False,
            color="0.25",
            fontsize=7,
            style="italic",
        )
        legend.add(Patch(**PAVING), "paving")
    for keep_out in site.keep_outs:
        axes.add_patch(patch_of(keep_out.area, zorder=4, **KEEP_OUT))
        labels.add(
            f"{keep_out.name} ({keep_out.kind})",
            _middle(keep_out.area),
            urgency=25,
            centered=True,
            color="#46521f",
            fontsize=7,
        )
        legend.add(Patch(**KEEP_OUT), "not to be dug freely")
    for easement in site.easements:
        axes.add_patch(patch_of(easement.area, zorder=4, **EASEMENT))
        labels.add(
            easement.name,
            _middle(easement.area),
            urgency=22,
            centered=True,
            color="0.3",
            fontsize=7,
        )
        legend.add(Patch(**EASEMENT), "easement")


def _along(area: Polygon) -> list[tuple[float, float]]:
    """The middle of an area, and places up and down its longer way where there is room too."""
    x, y = _middle(area)
    left, bottom, right, top = area.bounds
    dx, dy = (0.0, top - bottom) if top - bottom > right - left else (right - left, 0.0)
    return [(x + t * dx, y + t * dy) for t in (0.0, 0.15, -0.15, 0.3, -0.3)]


def _buildings(axes: Axes, site: Site, labels: Labels, legend: Legend) -> None:
    for building in site.buildings:
        looks = NEIGHBORS if building.neighbor else BUILDING
        axes.add_patch(patch_of(building.outline, zorder=7, **looks))
        if building.neighbor:
            continue
        labels.avoid_area(building.outline)
        labels.lead_around(building.outline)
        labels.avoid(np.asarray(building.outline.exterior.coords))
        labels.add(
            building.name,
            _middle(building.outline),
            urgency=60,
            centered=True,
            fontsize=9.5,
            fontweight="bold",
        )
    if site.own_buildings:
        legend.add(Patch(**BUILDING), "building")
    if any(each.neighbor for each in site.buildings):
        legend.add(Patch(**NEIGHBORS), "neighbor's building")


def _lines(axes: Axes, site: Site, labels: Labels, legend: Legend) -> None:
    for line in site.break_lines:
        style, name = (BEND, "break line: bend") if line.foot is None else (STEP, "curb or wall")
        axes.plot(*line.line.T, zorder=5, **style)
        if line.foot is not None:
            _ticks(axes, line)
        legend.add(Line2D([], [], **style), name)
        _label_line(labels, line.name, line.line, urgency=18)
    for barrier in site.barriers:
        axes.plot(*barrier.line.T, zorder=6, **BARRIER)
        legend.add(Line2D([], [], **BARRIER), "barrier")
        _label_line(labels, barrier.name, barrier.line, urgency=19)


def _ticks(axes: Axes, line: BreakLine) -> None:
    """Short strokes on the low side of a step."""
    for (x, y), (dx, dy) in _stations(line.line, spacing=0.6):
        side = 1.0 if line.foot_side == "left" else -1.0
        end = (x - side * dy * 0.25, y + side * dx * 0.25)
        axes.plot([x, end[0]], [y, end[1]], color=STEP["color"], linewidth=0.7, zorder=5)


def _stations(
    line: NDArray[np.float64], spacing: float
) -> Iterator[tuple[tuple[float, float], tuple[float, float]]]:
    """Points at a spacing (m) along a line with the unit direction there."""
    for a, b in itertools.pairwise(line):
        length = float(np.hypot(*(b - a)))
        if length == 0.0:
            continue
        direction = (b - a) / length
        for at in np.arange(spacing / 2.0, length, spacing):
            point = a + direction * at
            yield (float(point[0]), float(point[1])), (float(direction[0]), float(direction[1]))


def _label_line(labels: Labels, name: str, line: NDArray[np.float64], urgency: int) -> None:
    labels.avoid(line)
    lengths = np.r_[0.0, np.cumsum(np.hypot(*np.diff(line, axis=0).T))]
    places = [
        (
            float(np.interp(t * lengths[-1], lengths, line[:, 0])),
            float(np.interp(t * lengths[-1], lengths, line[:, 1])),
        )
        for t in _SIDE_PLACES
    ]
    labels.add(name, places, urgency=urgency, leader=False, fontsize=7, color="0.2", style="italic")


def _drains(axes: Axes, site: Site, labels: Labels, legend: Legend) -> None:
    mark: dict[str, Any] = {
        "marker": "s",
        "markersize": 6,
        "markerfacecolor": "white",
        "markeredgecolor": "black",
    }
    for drain in site.drains:
        axes.plot(*drain.inlet, linestyle="", zorder=14, **mark)
        axes.plot(*drain.inlet, "x", color="black", markersize=4, zorder=14)
        labels.keep_clear(*drain.inlet, 4.5)
        if drain.outlet is not None:
            axes.plot(*zip(drain.inlet, drain.outlet, strict=True), "k:", linewidth=1.2, zorder=6)
        labels.add(drain.name, drain.inlet, urgency=40, fontsize=7.5)
    if site.drains:
        legend.add(Line2D([], [], linestyle="", **mark), "drain inlet")


def _outlets(axes: Axes, site: Site, labels: Labels, legend: Legend) -> None:
    for outlet in site.outlets:
        for part in getattr(outlet.place, "geoms", [outlet.place]):
            if isinstance(part, Polygon):
                axes.add_patch(
                    patch_of(part, zorder=4, facecolor=OUTLET["color"], alpha=0.25, linewidth=0)
                )
                labels.add(outlet.name, _middle(part), urgency=35, centered=True, fontsize=7.5)
                continue
            coordinates = np.asarray(part.coords)
            axes.plot(*coordinates.T, zorder=4, marker="o", markersize=3, **OUTLET)
            if len(coordinates) > 1:
                _label_line(labels, outlet.name, coordinates, urgency=35)
            else:
                labels.add(outlet.name, tuple(coordinates[0]), urgency=35, fontsize=7.5)
    if site.outlets:
        legend.add(Line2D([], [], marker="o", markersize=3, **OUTLET), "outlet")


def _lot(axes: Axes, site: Site, labels: Labels, legend: Legend) -> None:
    if site.lot is None:
        return
    axes.plot(*np.asarray(site.lot.boundary.exterior.coords).T, zorder=8, **LOT)
    labels.avoid(np.asarray(site.lot.boundary.exterior.coords))
    for side in site.lot.sides:
        _label_side(labels, side, site.lot.boundary)
    legend.add(Line2D([], [], **LOT), "lot line")


def _label_side(labels: Labels, side: LotSide, boundary: Polygon) -> None:
    """Its name and what lies beyond it, along its outside."""
    a, b = side.line
    length = float(np.hypot(*(b - a)))
    if length == 0.0:
        return
    direction = (b - a) / length
    outward = np.array([direction[1], -direction[0]])
    probe = (a + b) / 2.0 + outward * 1e-3 * length
    if boundary.contains(Point(*probe)):
        outward = -outward
    angle = float(np.degrees(np.arctan2(direction[1], direction[0])))
    angle = (angle + 90.0) % 180.0 - 90.0
    size = labels.metres_per_point
    places = [tuple(a + (b - a) * t + outward * 8.0 * size) for t in _SIDE_PLACES]
    labels.add(
        f"{side.words.removeprefix('the ')}: {side.neighbor}",
        places,
        urgency=80,
        centered=True,
        leader=False,
        rotation=90.0 if abs(angle + 90.0) < 1e-6 else angle,
        fontsize=8,
        color="0.05",
    )
