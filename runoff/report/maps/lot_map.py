"""The map of one lot: its ground, what stands on it, and where each downspout's water goes.

In: findings. Out: a PNG, SVG or PDF. Everything drawn comes from the findings; nothing is computed
again here.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from runoff.inspection import Findings
from runoff.report.files import SUFFIXES, save_picture
from runoff.report.maps.frame import (
    Frame,
    Legend,
    draw_column,
    draw_scale_bar,
    draw_title,
    frame_view,
    shown_part,
)
from runoff.report.maps.ground import draw_ground, draw_shots
from runoff.report.maps.labels import Labels
from runoff.report.maps.lot import draw_holes, draw_plan
from runoff.report.maps.walls import draw_safe_area, draw_walls
from runoff.report.maps.water import draw_downspouts, draw_paths, draw_standing_water
from runoff.report.names import water_phrase, way_words

if TYPE_CHECKING:
    from runoff.planning import Plan

__all__ = ["SUFFIXES", "compose", "draw_layers", "draw_map"]

_LONGEST_IN = 9.0
_LEAST_HEIGHT_IN = 5.6
_COLUMN_IN = 3.1
_MARGIN_IN = 0.35
_TITLE_IN = 0.75
_FOOT_IN = 0.6


@dataclass(frozen=True)
class _Sheet:
    """Sizes on paper: the map's width and height and the whole sheet's, inches."""

    map_width: float
    map_height: float
    width: float
    height: float


def draw_map(findings: Findings, path: Path | str, plan: Plan | None = None) -> Path:
    """Draw the map of an inspection, or of the plan that answers it.

    The file is written whole or not at all.

    Parameters
    ----------
    findings : Findings
        What the inspection found.
    path : Path or str
        Where to write it; the suffix says how: ``.png``, ``.svg`` or ``.pdf``.
    plan : Plan, optional
        What is then drawn besides: the work at each downspout, and the soil along the walls. Where
        nothing is to be built the map is that of the inspection.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    ValueError
        Where the suffix is none of the three.

    Examples
    --------
    >>> from runoff.report.maps.lot_map import SUFFIXES
    >>> SUFFIXES
    ('.png', '.svg', '.pdf')
    """
    path = Path(path)
    if path.suffix.lower() not in SUFFIXES:
        raise ValueError(f"{path.name}: a map is a .png, .svg or .pdf file")
    return save_picture(compose(findings, plan), path, findings.site.name)


def compose(findings: Findings, plan: Plan | None = None) -> Figure:
    """The map as a figure, its sheet long enough for all that stands beside the map."""
    figure, missing = _compose(findings, plan, _LEAST_HEIGHT_IN)
    if missing > 0.0:
        height = float(figure.get_size_inches()[1]) - _TITLE_IN - _FOOT_IN
        figure, _ = _compose(findings, plan, height + missing)
    return figure


def _compose(findings: Findings, plan: Plan | None, least_height: float) -> tuple[Figure, float]:
    """The figure, from the ground up, and by how much its sheet is too short, inches."""
    if plan is not None and not plan.builds:
        plan = None
    view = shown_part(findings)
    sheet = _sheet(view, least_height)
    figure = Figure(figsize=(sheet.width, sheet.height))
    FigureCanvasAgg(figure)
    axes = _map_axes(figure, sheet, view)
    labels = Labels(axes)
    legend = Legend()
    interval = draw_ground(axes, findings, labels, legend)
    draw_layers(axes, findings, plan, labels, legend)
    labels.place()

    frame = Frame(
        left=_MARGIN_IN,
        bottom=sheet.height - _TITLE_IN - sheet.map_height,
        map_width=sheet.map_width,
        map_height=sheet.map_height,
        top_of_column=sheet.height - _TITLE_IN,
        inches_per_metre=sheet.map_width / (view[1] - view[0]),
    )
    draw_title(figure, findings, interval, "" if plan is None else ": what to build")
    draw_scale_bar(figure, frame, findings.site.units)
    lowest = draw_column(figure, frame, findings.site, _list(findings, plan), legend)
    return figure, _MARGIN_IN / 2.0 - lowest


def draw_layers(
    axes: Axes, findings: Findings, plan: Plan | None, labels: Labels, legend: Legend
) -> None:
    """Draw all that lies on the ground, from below up; the labels are left to be placed.

    Parameters
    ----------
    axes : Axes
        Of a map, in plan metres.
    findings : Findings
    plan : Plan or None
        With one, what it builds stands in place of the ways that water takes today.
    labels, legend
        What the layers add their names and entries to.
    """
    draw_safe_area(axes, findings, legend)
    draw_holes(axes, findings.terrain.holes, labels, legend)
    draw_plan(axes, findings.site, labels, legend)
    draw_walls(axes, findings, labels, legend)
    draw_standing_water(axes, findings, labels, legend)
    if plan is None:
        draw_paths(axes, findings, labels, legend)
    else:
        from runoff.report.maps.work import draw_work

        draw_downspouts(axes, findings, labels)
        draw_work(axes, plan, labels, legend)
    draw_shots(axes, findings, labels, legend)


def _sheet(view: tuple[float, float, float, float], least_height: float) -> _Sheet:
    width, height = view[1] - view[0], view[3] - view[2]
    scale = _LONGEST_IN / max(width, height)
    map_width, map_height = width * scale, height * scale
    return _Sheet(
        map_width,
        map_height,
        map_width + _COLUMN_IN + 2.0 * _MARGIN_IN,
        max(map_height, least_height) + _TITLE_IN + _FOOT_IN,
    )


def _map_axes(figure: Figure, sheet: _Sheet, view: tuple[float, float, float, float]) -> Axes:
    bottom = sheet.height - _TITLE_IN - sheet.map_height
    axes = figure.add_axes(
        (
            _MARGIN_IN / sheet.width,
            bottom / sheet.height,
            sheet.map_width / sheet.width,
            sheet.map_height / sheet.height,
        )
    )
    frame_view(axes, view)
    return axes


def _list(findings: Findings, plan: Plan | None) -> list[str]:
    """A line for each downspout: where its water ends, or what is built there."""
    if plan is None:
        return [f"{answer.name}: {water_phrase(answer)}" for answer in findings.downspouts]
    return [f"{each.downspout}: {way_words(each.chosen)}" for each in plan.recommendations]
