"""The figure of docs/grade.md is made anew and shows what its page says."""

from __future__ import annotations

import runpy
from pathlib import Path

import numpy as np

SCRIPT = Path(__file__).parents[2] / "docs" / "figures" / "grade.py"


def test_the_front_wall_goes_from_good_to_bad_and_the_soil_falls_away():
    made = runpy.run_path(str(SCRIPT))
    _, _, runs, _ = made["judged"]()
    front = [run for run in runs if run.wall_name == "front"]
    assert [run.verdict for run in front] == ["drains away", "too flat"]
    # The close call between them is shorter than the shots are apart.
    verdicts = [station.verdict for run in front for station in run.stations]
    assert list(dict.fromkeys(verdicts)) == ["drains away", "too close to call", "too flat"]
    plan, profile = made["draw"]().axes
    shown = {text.get_text() for text in plan.get_legend().get_texts()}
    assert shown == {station.verdict for run in runs for station in run.stations}
    lines = {line.get_label(): line.get_data() for line in profile.get_lines()}
    out, after = lines["with the soil"]
    assert np.all(np.diff(after) < 0)
    # 6 in in 10 ft, on the page's axes of feet and inches.
    assert (after[0] - after[-1]) / (out[-1] - out[0]) >= 0.6 - 1e-9
