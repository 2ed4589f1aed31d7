"""Sheets of the made-up plan for the tests of drawings, and whether their texts are legible."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import cache

from matplotlib.figure import Figure
from matplotlib.text import Text

from runoff.inspection import Findings
from runoff.planning import Plan
from runoff.report import Drawing, sheets_of
from runoff.site import Roof
from tests.lots.made_up import HERE
from tests.report import made_up, made_up_plan


def findings_of(units="ft", north: float | None = 20.0) -> Findings:
    """The made-up findings, with the roof that the downspouts carry."""
    findings = made_up.made_up_findings(units, north)
    roofs = (Roof("roof", 53.0, None, None, HERE),)
    return replace(findings, site=replace(findings.site, roofs=roofs))


def plan_of(units="ft") -> Plan:
    return replace(made_up_plan.made_up_plan(units), findings=findings_of(units))


@cache
def sheets(units: str, paper: str) -> dict:
    """Every sheet of the made-up plan by its name."""
    plan = plan_of(units)
    return {sheet.name: sheet for sheet in sheets_of(plan.findings, plan, paper)}


@cache
def drawings(units: str, paper: str) -> dict[str, Drawing]:
    return {name: sheet.drawing() for name, sheet in sheets(units, paper).items()}


def texts_on(figure: Figure) -> list[tuple[str, object]]:
    """Every text with its box: of an annotation the words alone, its arrow may pass by others."""
    renderer = figure.canvas.get_renderer()
    figure.draw_without_rendering()
    found = [
        text for text in figure.findobj(Text) if text.get_text().strip() and text.get_visible()
    ]
    ticks = {
        label
        for axes in figure.axes
        for axis in (axes.xaxis, axes.yaxis)
        for tick in axis.get_major_ticks() + axis.get_minor_ticks()
        for label in (tick.label1, tick.label2)
        if not _shown(axes, axis, tick)
    }
    return [
        (text.get_text(), Text.get_window_extent(text, renderer))
        for text in found
        if text not in ticks
    ]


def _shown(axes, axis, tick) -> bool:
    low, high = sorted(axes.get_xlim() if axis is axes.xaxis else axes.get_ylim())
    return low <= tick.get_loc() <= high


def legible(name: str, figure: Figure) -> None:
    """No text overlaps another, and none is cut by the sheet's edge."""
    boxes = texts_on(figure)
    assert len(boxes) > 8
    width, height = figure.canvas.get_width_height()
    for (a, first), (b, second) in itertools.combinations(boxes, 2):
        assert not first.overlaps(second), (name, a, b)
    for words, box in boxes:
        assert 0 <= box.x0 <= box.x1 <= width, (name, words)
        assert 0 <= box.y0 <= box.y1 <= height, (name, words)
