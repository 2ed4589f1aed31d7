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


def test_rain_grows_with_duration_and_return_period():
    lines = {line.get_label(): line.get_ydata() for line in _panels()["Rain"].get_lines()}
    ten, hundred = np.array(lines["10 years"]), np.array(lines["100 years"])
    assert (np.diff(ten) > 0).all()
    assert (hundred > ten).all()
    np.testing.assert_allclose([ten[0], hundred[-1]], [0.822, 12.1])


def test_gutters_carry_more_the_larger_they_are():
    bars = [bar.get_width() for bar in _panels()["Gutters"].patches]
    assert len(bars) == 4
    assert bars == sorted(bars)
