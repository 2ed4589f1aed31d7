"""The figure of docs/terrain.md is made anew and shows what its page says."""

from __future__ import annotations

import runpy
from pathlib import Path

import numpy as np

SCRIPT = Path(__file__).parents[2] / "docs" / "figures" / "terrain.py"


def test_the_section_follows_the_swale_only_with_its_break_line():
    made = runpy.run_path(str(SCRIPT))
    section = made["draw"]().axes[1]
    lines = {line.get_label(): line.get_data() for line in section.get_lines()}

    def worst(label):
        x, z = lines[label]
        shown = (x > 17.0) & (x < 27.0)
        row = made["build_terrain"](made["invented_lot"]()).grid
        y = row.center(row.cell(0.0, made["SECTION_Y"])[0], 0)[1]
        return np.abs(z - made["surface"](x, np.full_like(x, y)))[shown].max()

    assert worst("with the break line") < 1e-9
    assert worst("plain triangulation") > 0.08
