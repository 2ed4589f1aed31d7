"""Draw the figures of docs/pipes.md."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.figure import Figure

from runoff.discharge import part_full

HERE = Path(__file__).parent


def draw_pipes() -> Figure:
    """The part-full circle: depth against area, velocity and flow."""
    figure = Figure(figsize=(6, 4.5), layout="constrained")
    axes = figure.subplots()
    depths = np.linspace(0, 1, 201)
    states = [part_full(depth) for depth in depths]
    axes.plot([s.area_ratio for s in states], depths, color="0.5", ls="--", label="area")
    axes.plot([s.velocity_ratio for s in states], depths, color="tab:orange", label="velocity")
    axes.plot([s.flow_ratio for s in states], depths, color="tab:blue", label="flow")
    axes.axvline(1, color="0.8", lw=1, zorder=0)
    axes.set(xlabel="share of the full pipe's", ylabel="depth / diameter", ylim=(0, 1))
    axes.set(xlim=(0, 1.2), title="A part-full pipe, the same slope and roughness")
    axes.legend(loc="upper left")
    return figure


FIGURES = {"pipes": draw_pipes}

if __name__ == "__main__":
    for name, draw in FIGURES.items():
        draw().savefig(HERE / f"discharge_{name}.png", dpi=110)
