"""Labels on the map: off the lines, and in the area that they name."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure
from shapely import LineString, Polygon, box

from runoff.report import Labels, Legend, compose, draw_roofs
from runoff.site import Roof
from tests.lots.planned import planned
from tests.report.made_up import made_up_findings


def text_boxes(figure: Figure) -> dict[str, Polygon]:
    """The labels on the map by their words, as boxes in pixels; numbers in marks left out."""
    renderer = figure.canvas.get_renderer()
    texts = [t for t in figure.axes[0].texts if len(t.get_text()) > 2 and t.get_zorder() >= 19.5]
    return {t.get_text(): box(*t.get_window_extent(renderer).extents) for t in texts}


@pytest.mark.parametrize("lot", ["sample", "made up"])
def test_no_label_lies_on_a_line(lot: str) -> None:
    """Ways of water, walls, lot lines, break lines: no word stands across one."""
    findings = planned("sample").findings if lot == "sample" else made_up_findings()
    figure = compose(findings)
    axes = figure.axes[0]
    drawn = [
        line
        for line in axes.lines
        if 5 <= line.get_zorder() <= 12 and line.get_linestyle() != "None"
    ]
    lines = [
        LineString(axes.transData.transform(np.column_stack(line.get_data())))
        for line in drawn
        if len(line.get_xdata()) > 1 and len(set(zip(*line.get_data(), strict=True))) > 1
    ]
    boxes = text_boxes(figure)
    assert len(boxes) > 12
    assert len(lines) > 8
    for words, area in boxes.items():
        for line in lines:
            assert not line.crosses(area.buffer(-1.0)), words


def test_a_roof_is_named_in_its_own_outline() -> None:
    """Two halves of one house, and a lean-to too small for any name."""
    findings = made_up_findings()
    house = findings.site.buildings[0].outline
    left, bottom, right, top = house.bounds
    middle = (bottom + top) / 2.0
    outlines = {
        "front half": box(left, bottom, right, middle),
        "rear half": box(left, middle, right, top),
        "lean-to": box(right, bottom, right + 0.3, bottom + 0.3),
    }
    written = findings.site.buildings[0].written
    roofs = tuple(Roof(n, o.area, 0.5, o, written) for n, o in outlines.items())
    findings = replace(findings, site=replace(findings.site, roofs=roofs))
    figure = compose(findings)
    axes = figure.axes[0]
    labels = Labels(axes)
    before = set(axes.texts)
    draw_roofs(axes, findings, labels, Legend())
    labels.place()
    renderer = figure.canvas.get_renderer()
    said = {}
    for text in set(axes.texts) - before:
        corners = text.get_window_extent(renderer).corners()
        said[text.get_text().split(":")[0]] = Polygon(
            axes.transData.inverted().transform(corners[[0, 1, 3, 2]])
        )
    assert set(said) == {"front half", "rear half"}
    for name, area in said.items():
        assert outlines[name].contains(area)


def test_labels_keep_clear_of_each_other_on_the_sample() -> None:
    figure = compose(planned("sample").findings)
    boxes = text_boxes(figure)
    for (a, one), (b, other) in itertools.combinations(boxes.items(), 2):
        assert not one.intersects(other), (a, b)


def test_no_thin_line_of_a_label_runs_across_a_building() -> None:
    """The sample's window well has downspouts, walls and words all around it."""
    plan = planned("sample")
    for figure in (compose(plan.findings), compose(plan.findings, plan)):
        assert "window well" in text_boxes(figure)
        leaders = [line for line in figure.axes[0].lines if line.get_zorder() == 19]
        assert leaders
        for building in plan.site.buildings:
            within = building.outline.buffer(-0.1)  # along a wall is not across the house
            for line in leaders:
                assert not LineString(np.column_stack(line.get_data())).intersects(within)


@pytest.mark.parametrize("gap", [0.0, 0.1])
def test_two_downspouts_at_one_corner_both_show_their_numbers(gap: float) -> None:
    findings = made_up_findings()
    first, second = findings.downspouts[:2]
    beside = (first.start[0] + gap, first.start[1])
    told = (first, replace(second, start=beside), *findings.downspouts[2:])
    figure = compose(replace(findings, downspouts=told))
    axes = figure.axes[0]
    discs = [line for line in axes.lines if line.get_zorder() == 16]
    at = axes.transData.transform([line.get_xydata()[0] for line in discs[:2]])
    wide = discs[0].get_markersize() * figure.dpi / 72.0
    assert np.hypot(*(at[1] - at[0])) >= wide
    # Each stays beside its own foot.
    feet = axes.transData.transform([first.start, beside])
    assert np.hypot(*(at - feet).T).max() < wide


def test_no_map_of_work_is_drawn_where_nothing_is_built() -> None:
    from runoff.discharge import Option
    from runoff.report import sheets_of

    plan = planned("sample")
    ask = Option("refer", True, None)
    none = replace(
        plan,
        grade=None,
        recommendations=tuple(replace(r, chosen=ask) for r in plan.recommendations),
    )
    for given, built in ((plan, True), (none, False)):
        assert given.builds == built
        titles = " ".join(text.get_text() for text in compose(given.findings, given).texts)
        assert ("what to build" in titles) == built
        captions = [sheet.caption for sheet in sheets_of(given.findings, given)]
        assert any("What is to be built" in caption for caption in captions) == built
