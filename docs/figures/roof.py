"""Draw the figure of docs/roof.md: leaders beside the tables of codes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from runoff.quantities import parse_flow
from runoff.roof import leader_capacity

GPM = parse_flow("1 gpm")
INCH = 0.0254
# Gallons a minute for 2, 3 and 4 in; the second table is from memory.
TABLES = {
    "NSPC 2006, table 13.6": (23, 67, 144),
    "IPC, table 1106.3 (memory)": (30, 92, 192),
}


def draw_leaders(axes: Axes) -> None:
    """Capacity against diameter at the two fills of codes, and the tables' rows."""
    inches = np.linspace(1.5, 4.5, 61)
    for label, ratio in (("7/24 full", 7 / 24), ("1/3 full", 1 / 3)):
        carried = [leader_capacity(d * INCH, ratio) / GPM for d in inches]
        axes.plot(inches, carried, label=label)
    for (label, rows), marker in zip(TABLES.items(), "os", strict=True):
        axes.plot((2, 3, 4), rows, marker, color="black", mfc="none", label=label)
    axes.set(title="Leaders", xlabel="inside diameter, inches", ylabel="gallons a minute")
    axes.legend()


def draw() -> Figure:
    """The figure, drawn from what the room computes now."""
    figure = Figure(figsize=(6, 4.5), layout="constrained")
    draw_leaders(figure.subplots())
    return figure


if __name__ == "__main__":
    draw().savefig(Path(__file__).with_suffix(".png"), dpi=110)
