"""The figures of docs/flow.md and docs/ponding.md are made anew and show what their pages say."""

import runpy
from pathlib import Path

import numpy as np

FIGURES = Path(__file__).parents[2] / "docs" / "figures"


def test_flow_figure_marks_four_hollows_and_names_five_depressions():
    yard, valley = runpy.run_path(str(FIGURES / "flow.py"))["draw"]().axes
    marks = {line.get_label(): line for line in yard.get_lines()}
    assert len(marks["lowest cell"].get_xdata()) == 4
    assert len(marks["saddle, pour point"].get_xdata()) == 4
    heights = {text.get_text(): text.get_position()[1] for text in valley.texts}
    assert sorted(heights) == ["1", "2", "3", "4", "5"]
    assert heights["1"] == heights["2"] < heights["3"] == heights["4"] < heights["5"]


def test_ponding_figure_loses_no_water():
    *sections, balance = runpy.run_path(str(FIGURES / "ponding.py"))["draw"]().axes
    lines = {line.get_label(): line.get_ydata() for line in balance.get_lines()}
    given = balance.get_lines()[0].get_xdata()
    np.testing.assert_allclose(lines["together"], given, rtol=0, atol=1e-9)
    assert (np.diff(lines["stands"]) >= -1e-9).all()
    assert (np.diff(lines["has left"]) >= -1e-9).all()
    assert len(sections) == 3
