"""Draw the figure of docs/paths.md: the same water by cell centers and over the surface."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from runoff.flow import CODE, COL_STEP, ROW_STEP, fill, find_basins, prepare, surface_path

CELL = 0.25  # metres


def tilted_plane() -> tuple[np.ndarray, np.ndarray]:
    """A plane that falls 2 % toward 20 degrees south of east, and no walls."""
    row, col = np.mgrid[0:49, 0:81]
    z = 1.0 - 0.02 * CELL * (np.cos(np.radians(20)) * col + np.sin(np.radians(20)) * row)
    return z, np.zeros(z.shape, dtype=bool)


def yard() -> tuple[np.ndarray, np.ndarray]:
    """An invented yard: it falls toward a swale below a house, and the swale falls to the east."""
    row, col = np.mgrid[0:49, 0:81]
    x, down = CELL * col, CELL * row
    z = 1.0 + 0.06 * np.abs(down - 9.0 - 0.06 * x) - 0.02 * x
    closed = (x > 7.0) & (x < 13.0) & (down > 3.0) & (down < 6.5)
    return z, closed


def center_path(d8: np.ndarray, start: tuple[float, float]) -> np.ndarray:
    """The chain of cell centers from a start to the border, (n, 2) cells."""
    col, row = round(start[0]), round(start[1])
    points = [(col, row)]
    while d8[row, col] < 8:
        code = d8[row, col]
        row, col = row + ROW_STEP[code], col + COL_STEP[code]
        points.append((col, row))
    return np.array(points, dtype=float)


def draw_panel(axes: Axes, ground: tuple[np.ndarray, np.ndarray], starts, title: str) -> None:
    """Contours, walls, and from each start the path by centers and over the surface."""
    z, closed = ground
    filled, code = fill(find_basins(prepare(z, closed)))
    filled, d8 = filled.reshape(z.shape), (code & CODE).reshape(z.shape)
    x, y = CELL * np.arange(z.shape[1]), CELL * np.arange(z.shape[0])
    lines = axes.contour(x, y, np.where(closed, np.nan, z), 14, colors="0.75", linewidths=0.7)
    axes.clabel(lines, fontsize=6, fmt="%.2f m")
    axes.contourf(x, y, closed, [0.5, 1.5], colors=["0.55"])
    for start in starts:
        chain = CELL * center_path(d8, start)
        path = CELL * surface_path(z, closed, d8, filled, start)[0]
        axes.plot(*chain.T, color="tab:orange", lw=1.2, ls="--", label="from center to center")
        axes.plot(*path.T, color="tab:blue", lw=1.6, label="over the surface")
        axes.plot(*path[0], "o", color="black", ms=4)
    axes.set(title=title, xlabel="metres", aspect="equal", xlim=(x[0], x[-1]))
    axes.invert_yaxis()


def draw() -> Figure:
    """The figure, drawn from paths computed now."""
    figure = Figure(figsize=(11, 3.8), layout="constrained")
    left, right = figure.subplots(1, 2)
    draw_panel(left, tilted_plane(), [(6.0, 8.0)], "A plane that falls 20° south of east")
    starts = [(40.0, 4.0), (31.0, 27.5), (12.0, 6.0), (66.0, 12.0)]
    draw_panel(right, yard(), starts, "A house above a swale (invented)")
    handles, labels = left.get_legend_handles_labels()
    left.legend(handles, labels, loc="lower left")
    left.set_ylabel("metres")
    return figure


if __name__ == "__main__":
    draw().savefig(Path(__file__).with_suffix(".png"), dpi=110)
