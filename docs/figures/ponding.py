"""Draw the figure of docs/ponding.md: a valley in three storms, and where the water of any is."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from runoff.flow import Ponding, arrivals, basins_of, measure, pond

# Heights along an invented valley, metres, 2 m apart; it runs out at the right.
VALLEY = [2.6, 1.9, 0.6, 0.2, 0.7, 1.3, 0.8, 0.5, 0.9, 1.8, 1.2, 0.9, 0.4, 1.0, 2.1, 1.6, 1.0]
STEP = 0.1  # metres from cell to cell
STORMS = (0.05, 0.5, 1.4)  # metres of water over the valley


def valley() -> np.ndarray:
    """The valley as one row of cells between two rows of high ground."""
    x = np.arange(0, 2 * (len(VALLEY) - 1) + STEP / 2, STEP)
    z = np.interp(x, 2.0 * np.arange(len(VALLEY)), VALLEY)
    return np.vstack([np.full(z.size, 9.0), z, np.full(z.size, 9.0)])


def storm(water: float) -> Ponding:
    """What `water` metres over the valley's floor leave behind."""
    z = valley()
    given = np.zeros(z.shape)
    given[1] = water
    found = measure(basins_of(z))
    return pond(found, arrivals(found, given.ravel()))


def draw_section(axes: Axes, water: float) -> None:
    """The valley after one storm."""
    z, depth = valley()[1], storm(water).depth()[1]
    x = STEP * np.arange(z.size)
    axes.fill_between(x, z, z + depth, where=depth > 0, color="tab:blue", alpha=0.5, lw=0)
    axes.fill_between(x, 0, z, color="0.85")
    axes.plot(x, z, color="0.4", lw=1)
    axes.set(title=f"{water * 1000:.0f} mm", xlabel="metres", xlim=(0, x[-1]), ylim=(0, 2.7))


def draw_balance(axes: Axes) -> None:
    """Water given, standing and gone, as depth over the valley."""
    given = np.linspace(0.0, 1.6, 81)
    runs = [storm(water) for water in given]
    cells = valley().shape[1]
    standing = np.array([run.depth().sum() for run in runs]) / cells
    gone = np.array([run.left.sum() for run in runs]) / cells
    axes.plot(1000 * given, 1000 * standing, color="tab:blue", label="stands")
    axes.plot(1000 * given, 1000 * gone, color="tab:orange", label="has left")
    axes.plot(1000 * given, 1000 * (standing + gone), color="black", ls=":", label="together")
    for water in STORMS:
        axes.axvline(1000 * water, color="0.8", lw=1, zorder=0)
    axes.set(title="The balance of any storm", xlabel="water given, mm", ylabel="mm")
    axes.legend()


def draw() -> Figure:
    """The figure, drawn from what the engine computes now."""
    figure = Figure(figsize=(11, 6), layout="constrained")
    axes = figure.subplots(2, 2)
    for each, water in zip(axes.flat, STORMS, strict=False):
        draw_section(each, water)
    axes[0, 0].set_ylabel("height, metres")
    axes[1, 0].set_ylabel("height, metres")
    draw_balance(axes[1, 1])
    return figure


if __name__ == "__main__":
    draw().savefig(Path(__file__).with_suffix(".png"), dpi=110)
