"""The README's picture can be drawn again by its script."""

from __future__ import annotations

import runpy
from pathlib import Path

from runoff.report.files import is_own

SCRIPT = Path(__file__).parents[2] / "docs" / "figures" / "sample_map.py"


def test_script_draws_the_picture(tmp_path: Path) -> None:
    draw = runpy.run_path(str(SCRIPT))["draw"]
    draw(tmp_path / "map.png")
    assert is_own(tmp_path / "map.png")
    assert is_own(SCRIPT.with_suffix(".png"))
