"""The figure of docs/paths.md is made anew and shows what its page says."""

import runpy
from pathlib import Path

import numpy as np

SCRIPT = Path(__file__).parents[2] / "docs" / "figures" / "paths.py"


def bearing(line):
    """Degrees clockwise from east on a plan whose rows run down."""
    x, y = line.get_data()
    return np.degrees(np.arctan2(y[-1] - y[0], x[-1] - x[0]))


def test_figure_shows_the_plane_missed_by_centers_and_met_by_the_surface():
    plane, yard = runpy.run_path(str(SCRIPT))["draw"]().axes
    lines = {line.get_label(): line for line in plane.get_lines()}
    assert abs(bearing(lines["over the surface"]) - 20.0) < 1e-6
    assert abs(bearing(lines["from center to center"]) - 20.0) > 15.0
    assert len(yard.get_lines()) == 4 * len(plane.get_lines())
