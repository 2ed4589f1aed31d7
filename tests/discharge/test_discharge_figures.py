"""The figures of the pages on taking water away are made anew and show what the pages say."""

import runpy
from pathlib import Path

import numpy as np
import pytest

FIGURES = Path(__file__).parents[2] / "docs" / "figures"


def drawn(name):
    return runpy.run_path(str(FIGURES / "discharge.py"))["FIGURES"][name]()


def test_the_pipe_s_flow_is_greatest_short_of_full():
    (axes,) = drawn("pipes").axes
    flow = {line.get_label(): line for line in axes.get_lines()}["flow"]
    assert flow.get_ydata()[np.argmax(flow.get_xdata())] == pytest.approx(0.938, abs=0.005)
    assert flow.get_xdata()[-1] == pytest.approx(1)


def test_the_pit_s_storage_is_inflow_less_outflow_and_marks_its_peak():
    (axes,) = drawn("pits").axes
    lines = {line.get_label(): np.asarray(line.get_ydata()) for line in axes.get_lines()}
    np.testing.assert_allclose(lines["to be stored"], lines["inflow"] - lines["outflow"])
    (mark,) = (line for line in axes.get_lines() if line.get_linestyle() == ":")
    assert mark.get_ydata()[0] == max(lines["to be stored"]) == pytest.approx(22.8, abs=0.05)


def test_the_line_s_invert_meets_the_ground_at_its_mark():
    (axes,) = drawn("lines").axes
    lines = {line.get_label(): line.get_xydata() for line in axes.get_lines()}
    (mark,) = lines["daylight"]
    assert np.interp(mark[0], *lines["ground"].T) == pytest.approx(mark[1])
    assert lines["below cover"][-1] == pytest.approx(mark)
    assert 12 < mark[0] < 26


def test_the_swale_s_flow_grows_as_a_triangle_s_does():
    # A triangle's flow grows with the depth to the power 8/3, and with the root of the slope.
    (axes,) = drawn("outlets").axes
    lines = {line.get_label(): line.get_xydata().T for line in axes.get_lines()}
    depth, flow = lines["2%"]
    np.testing.assert_allclose(flow / flow[-1], (depth / depth[-1]) ** (8 / 3))
    np.testing.assert_allclose(lines["1%"][1] * np.sqrt(2), flow)
