"""The ground on the map: a light shading, contours at a round interval, and the spot heights."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LightSource
from matplotlib.lines import Line2D
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from runoff import quantities
from runoff.inspection import Findings
from runoff.quantities import system_of
from runoff.report.map_contours import CONTOUR_COLOR, draw_contours
from runoff.report.map_frame import Legend
from runoff.report.map_labels import Labels
from runoff.site.model import Units

METRES_PER_FOOT = 0.3048
SUSPECT_COLOR = "#b3001b"

_INTERVALS = {
    "ft": (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0),
    "m": (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0),
}
_MOST_CONTOURS = 28
_MOST_CELLS = 900
_SHADE_EXAGGERATION = 4.0


def contour_interval(relief_m: float, units: Units) -> float:
    """The finest round interval, in the site's units, that gives at most 28 contours.

    Parameters
    ----------
    relief_m : float, metres
        Highest ground less lowest.
    units : {"ft", "m"}

    Examples
    --------
    >>> contour_interval(1.5, "ft"), contour_interval(1.5, "m")
    (0.2, 0.1)
    """
    relief = relief_m / METRES_PER_FOOT if units == "ft" else relief_m
    for interval in _INTERVALS[units]:
        if relief / interval <= _MOST_CONTOURS:
            return interval
    return 10.0 ** math.ceil(math.log10(relief / _MOST_CONTOURS))


def draw_ground(
    axes: Axes, findings: Findings, labels: Labels, legend: Legend, shaded: bool = True
) -> float | None:
    """Draw the ground's contours, over a shading if asked; their interval in the site's units."""
    x, y, ground = _thinned(axes, findings)
    known = np.isfinite(ground)
    if not known.any():
        return None
    if shaded:
        _shade(axes, x, y, ground)
    relief = float(ground[known].max() - ground[known].min())
    if relief <= 0.0 or min(ground.shape) < 2:
        return None
    units = findings.site.units
    interval = contour_interval(relief, units)
    to_units = 1.0 / METRES_PER_FOOT if units == "ft" else 1.0
    steps = [line for line in findings.site.break_lines if line.foot is not None]
    draw_contours(axes, (x, y, ground * to_units), interval, steps, labels)
    legend.add(Line2D([], [], color=CONTOUR_COLOR, linewidth=1.1), "contour of the ground")
    return interval


def draw_shots(axes: Axes, findings: Findings, labels: Labels, legend: Legend) -> None:
    """Mark the spot heights, and those to look at again."""
    spots = findings.site.spot_array
    if len(spots):
        axes.plot(spots[:, 0], spots[:, 1], "+", color="0.3", markersize=3.5, mew=0.6, zorder=6)
        legend.add(
            Line2D([], [], color="0.3", marker="+", linestyle="", markersize=5), "spot height"
        )
    system = system_of(findings.site.units)
    for suspect in findings.terrain.suspects:
        axes.plot(
            suspect.x,
            suspect.y,
            marker="^",
            markersize=9,
            markerfacecolor="white",
            markeredgecolor=SUSPECT_COLOR,
            mew=1.4,
            zorder=15,
        )
        labels.keep_clear(suspect.x, suspect.y, 5.5)
        misfit = quantities.format_length(abs(suspect.misfit), system, 2)
        way = "high" if suspect.misfit > 0 else "low"
        labels.add(
            f"{suspect.name}: {misfit} {way}?",
            (suspect.x, suspect.y),
            urgency=70,
            color=SUSPECT_COLOR,
            fontsize=7.5,
        )
    if findings.terrain.suspects:
        mark = Line2D([], [], marker="^", linestyle="", markersize=8, mew=1.4)
        mark.set_markerfacecolor("white")
        mark.set_markeredgecolor(SUSPECT_COLOR)
        legend.add(mark, "spot height to look at again")


def _thinned(
    axes: Axes, findings: Findings
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """The ground that the map shows, thinned to what a sheet of paper can show."""
    x, y = findings.terrain.grid.centers()
    size = findings.terrain.grid.cell_size
    left, right, bottom, top = (*axes.get_xlim(), *axes.get_ylim())
    cols = np.flatnonzero((x > left - size) & (x < right + size))
    rows = np.flatnonzero((y > bottom - size) & (y < top + size))
    step = max(1, math.ceil(max(len(rows), len(cols)) / _MOST_CELLS))
    cols, rows = cols[::step], rows[::step]
    return x[cols], y[rows], findings.terrain.ground[np.ix_(rows, cols)]


def _shade(
    axes: Axes, x: NDArray[np.float64], y: NDArray[np.float64], ground: NDArray[np.float64]
) -> None:
    known = np.isfinite(ground)
    if min(ground.shape) < 2:
        return
    # Where there is no ground the nearest height stands in, so that its edge casts no shade.
    nearest = distance_transform_edt(~known, return_distances=False, return_indices=True)
    filled = ground[tuple(nearest)]
    spacing = float(x[1] - x[0])
    light = LightSource(azdeg=315, altdeg=45)
    shade = light.hillshade(filled, vert_exag=_SHADE_EXAGGERATION, dx=spacing, dy=spacing)
    low, high = np.percentile(shade[known], (1, 99))
    tint = 0.86 + 0.13 * np.clip((shade - low) / max(high - low, 1e-9), 0.0, 1.0)
    picture = np.ones((*ground.shape, 4))
    picture[..., 0] = picture[..., 1] = tint
    picture[..., 2] = tint - 0.03
    picture[..., 3] = known
    half = spacing / 2
    extent = (float(x[0]) - half, float(x[-1]) + half, float(y[-1]) - half, float(y[0]) + half)
    axes.imshow(picture, extent=extent, origin="upper", zorder=1, interpolation="nearest")
