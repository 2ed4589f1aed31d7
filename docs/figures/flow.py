"""Draw the figure of docs/flow.md: basins and saddles of a yard, and the hierarchy of a valley."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from runoff.flow import Depressions, basins_of, fill, flow_accumulation, measure

CELL = 0.25  # metres
# Heights along an invented valley, metres, 2 m apart; it runs out at the right.
VALLEY = [2.6, 1.9, 0.6, 0.2, 0.7, 1.3, 0.8, 0.5, 0.9, 1.8, 1.2, 0.9, 0.4, 1.0, 2.1, 1.6, 1.0]


def yard() -> np.ndarray:
    """Heights of an invented yard of 20 m x 15 m: hollows on a slope that falls to the right."""
    row, col = np.mgrid[0:61, 0:81] * CELL
    z = 1.2 - 0.03 * col + 0.02 * np.abs(row - 7.5)
    for x, down, depth, reach in [
        (5.0, 5.0, 0.22, 1.8),
        (8.2, 6.2, 0.16, 1.5),
        (8.0, 10.5, 0.20, 1.7),
        (14.0, 7.5, 0.24, 2.2),
    ]:
        z -= depth * np.exp(-((col - x) ** 2 + (row - down) ** 2) / reach**2)
    return z


def valley_section() -> tuple[np.ndarray, Depressions]:
    """The section of the valley every 0.1 m, and its depressions; walls stand on both sides."""
    x = np.arange(0, 2 * (len(VALLEY) - 1) + 0.05, 0.1)
    z = np.interp(x, 2.0 * np.arange(len(VALLEY)), VALLEY)
    sides = np.full(z.size, 9.0)
    return z, measure(basins_of(np.vstack([sides, z, sides])))


def draw_yard(axes: Axes) -> None:
    """Contours, brim-full ponds, pits, pour points and the channels that the counts show."""
    z = yard()
    found = measure(basins_of(z))
    tree = found.hierarchy
    filled = fill(found.basins)[0].reshape(z.shape)
    x, y = CELL * np.arange(z.shape[1]), CELL * np.arange(z.shape[0])
    axes.contour(x, y, z, 22, colors="0.75", linewidths=0.7)
    axes.contourf(x, y, filled - z, [1e-9, 1.0], colors=["tab:blue"], alpha=0.35)
    channel = np.argwhere(flow_accumulation(z) > 150) * CELL
    axes.plot(channel[:, 1], channel[:, 0], ".", ms=2, color="tab:blue", label="over 150 cells")
    pits, spills = tree.pit_cell[1:], tree.spill_cell[1:]
    for cells, mark, label in ((pits, "v", "lowest cell"), (spills, "x", "saddle, pour point")):
        axes.plot(
            cells % z.shape[1] * CELL,
            cells // z.shape[1] * CELL,
            mark,
            color="black",
            ms=6,
            label=label,
        )
    axes.set(title="Four hollows in a yard (invented), brim-full", xlabel="metres", aspect="equal")
    axes.invert_yaxis()
    axes.legend(loc="lower right", fontsize=8)


def draw_hierarchy(axes: Axes) -> None:
    """The valley's depressions, each filled from where its parts join up to where it overflows."""
    z, found = valley_section()
    tree = found.hierarchy
    x = 0.1 * np.arange(z.size)
    axes.fill_between(x, 0, z, color="0.85")
    axes.plot(x, z, color="0.4", lw=1)
    for d in range(1, tree.parent.size):
        cells = np.sort(found.pond_cells(d)) % z.size
        bottom = z[cells]
        if d > tree.leaves:
            bottom = np.maximum(bottom, found.spill_height[tree.left[d]])
        top = found.spill_height[d]
        shade = "tab:blue" if d <= tree.leaves else "tab:cyan"
        axes.fill_between(x[cells], bottom, top, where=bottom < top, color=shade, alpha=0.5, lw=0)
        axes.hlines(top, x[cells[0]], x[cells[-1]], color="tab:blue", lw=1)
        axes.text(x[cells].mean(), top - 0.03, str(d), ha="center", va="top", fontsize=10)
    axes.set(
        title="The hierarchy of a valley (invented)",
        xlabel="metres",
        ylabel="height, metres",
        xlim=(0, x[-1]),
        ylim=(0, 2.7),
    )


def draw() -> Figure:
    """The figure, drawn from what the engine computes now."""
    figure = Figure(figsize=(11, 4.2), layout="constrained")
    left, right = figure.subplots(1, 2)
    draw_yard(left)
    draw_hierarchy(right)
    return figure


if __name__ == "__main__":
    draw().savefig(Path(__file__).with_suffix(".png"), dpi=110)
