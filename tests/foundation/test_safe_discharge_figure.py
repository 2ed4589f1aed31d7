"""The figure of docs/safe_discharge.md is made anew and shows what its page says."""

import runpy
from pathlib import Path

SCRIPT = Path(__file__).parents[2] / "docs" / "figures" / "safe_discharge.py"


def test_the_figure_shows_one_path_back_one_onto_the_neighbor_and_one_into_the_street():
    (axes,) = runpy.run_path(str(SCRIPT))["draw"]().axes
    paths = axes.get_lines()
    starts = [line.get_label() for line in paths[1::2]]
    assert starts == ["comes back to a foundation", "onto a neighbor", "safe"]
    assert abs(paths[2].get_ydata()[-1]) > 17.9
    assert abs(paths[4].get_xdata()[-1] - 18.0) < 0.1
