"""The figure of docs/roof.md is made anew and shows what its page says."""

import runpy
from pathlib import Path

import numpy as np

FIGURE = Path(__file__).parents[2] / "docs" / "figures" / "roof.py"


def _panels() -> dict:
    return {axes.get_title(): axes for axes in runpy.run_path(str(FIGURE))["draw"]().axes}


def test_leaders_of_the_standard_code_lie_on_its_curve():
    lines = {line.get_label(): line for line in _panels()["Leaders"].get_lines()}
    curve, table = lines["7/24 full"], lines["NSPC 2006, table 13.6"]
    ours = np.interp(table.get_xdata(), curve.get_xdata(), curve.get_ydata())
    np.testing.assert_allclose(ours, table.get_ydata(), atol=1)
