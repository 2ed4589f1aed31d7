"""Draw the map of the sample lot that the README shows."""

from __future__ import annotations

from pathlib import Path

import runoff
from runoff.report import draw_map
from runoff.sample import sample_folder


def draw(path: Path) -> None:
    """Inspect the sample lot and draw its map."""
    draw_map(runoff.inspect(runoff.read_site(sample_folder() / "site.toml")), path)


if __name__ == "__main__":
    draw(Path(__file__).with_suffix(".png"))
