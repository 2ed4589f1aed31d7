"""The ground on the map: cells, a light shading, contours with their heights, and the spot
heights.

In: a grid and which of its cells. Out: patches on the map.

In: the ground as drawn, the contours' interval, and where the ground steps. Out: lines and texts on
the map. Along a step all contours between its foot and its top run side by side, and a height
written there says nothing; so each contour is labelled where it crosses open ground.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.colors import LightSource
from matplotlib.contour import QuadContourSet
from matplotlib.lines import Line2D
from matplotlib.path import Path
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from shapely.geometry.base import BaseGeometry

from runoff.inspection import Findings
from runoff.quantities import Shown, system_of
from runoff.report.maps.frame import Legend
from runoff.report.maps.labels import HALO, Labels
from runoff.report.maps.lot import patch_of
from runoff.site.model import BreakLine, Units
from runoff.terrain.model import Grid


def area_of_cells(grid: Grid, chosen: NDArray[np.bool_]) -> shapely.Geometry:
    """The area that cells cover together, plan metres.

    Examples
    --------
    Three cells of 1 m2, two of them side by side:

    >>> grid = Grid(rows=2, cols=3, cell_size=1.0, x0=0.0, y0=0.0)
    >>> area_of_cells(grid, np.array([[True, True, False], [False, False, True]])).area
    3.0
    """
    edges = np.diff(np.pad(chosen, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    (row, start), (_, end) = np.nonzero(edges == 1), np.nonzero(edges == -1)
    size = grid.cell_size
    low = grid.y0 + (grid.rows - 1 - row) * size
    left, right = grid.x0 + start * size, grid.x0 + end * size
    return shapely.union_all(shapely.box(left, low, right, low + size))


def draw_cells(axes: Axes, grid: Grid, chosen: NDArray[np.bool_], **style: Any) -> None:
    """Draw the area that cells cover together."""
    area = area_of_cells(grid, chosen)
    for part in getattr(area, "geoms", [area]):
        axes.add_patch(patch_of(part, **style))


CONTOUR_COLOR = "#7a5c3a"

_INDEX_EVERY = 5
_SAMPLE_PT = 4.0
_CLEAR_OF_STEP_PT = 11.0
_CLEAR_OF_STEP_CELLS = 1.5
_LEAST_RUN_PT = 28.0
_APART_PT = 48.0
_TRIED = (0.5, 0.3, 0.7, 0.15, 0.85)
# In the unit of the heights: ground at a contour's very height, to rounding, would come out now
# above it and now below, and the contour along an edge between two such spot heights as dots.
_HAIR = 1e-6
# Of a cell: the contour about a point of the ground that reaches a height and no more is a dot.
_DOT_CELLS = 0.25

Surface = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]


def draw_contours(
    axes: Axes,
    surface: Surface,
    interval: float,
    steps: Sequence[BreakLine],
    labels: Labels,
) -> None:
    """Draw contours at an interval, every fifth heavier, and label them.

    Parameters
    ----------
    axes : Axes
        Of the map, in plan metres.
    surface : (x, y, heights)
        Columns and rows in plan metres; heights in the unit of `interval`, NaN where not known.
    interval : float
    steps : sequence of BreakLine
        Those with a foot: walls, curbs.
    labels : Labels
        To which the heights give way.
    """
    x, y, heights = surface
    known = np.ma.masked_invalid(heights)
    first = math.ceil(float(known.min()) / interval)
    numbers = np.arange(first, math.floor(float(known.max()) / interval) + 1)
    decimals = max(0, -math.floor(math.log10(interval)))
    places = _Places(axes, steps, abs(float(x[1] - x[0])))
    drawn = known + _HAIR
    # The heavier ones first: where there is room for one height, it is theirs.
    for index in (True, False):
        chosen = numbers[(numbers % _INDEX_EVERY == 0) == index]
        if not len(chosen):
            continue
        lines = axes.contour(
            x,
            y,
            drawn,
            levels=chosen * interval,
            colors=CONTOUR_COLOR,
            linewidths=1.1 if index else 0.45,
            alpha=0.9 if index else 0.75,
            zorder=3,
        )
        lines.set_paths([_without_dots(level, places.cell_m) for level in lines.allsegs])
        _label(axes, lines, places, decimals, labels)


def _without_dots(level: Sequence[NDArray[np.float64]], cell_m: float) -> Path:
    """The pieces of one height's contours, without those that are too small to be seen as lines."""
    seen = [Path(p) for p in level if len(p) and np.ptp(p, axis=0).max() > _DOT_CELLS * cell_m]
    return Path.make_compound_path(*seen)


def _label(
    axes: Axes, lines: QuadContourSet, places: _Places, decimals: int, labels: Labels
) -> None:
    chosen = [place for level in lines.allsegs for part in level for place in places.along(part)]
    if not chosen:
        return
    settings: dict[str, Any] = {"fontsize": 6.5, "inline": False, "colors": CONTOUR_COLOR}
    texts = axes.clabel(lines, fmt=f"%.{decimals}f", manual=chosen, **settings)
    for text in texts:
        text.set_path_effects(HALO)
        text.set_zorder(18)
    labels.add_loose(list(texts))


@dataclass
class _Places:
    """Finds places for heights, clear of steps and of the places found before.

    `cell_m` is the ground's cell as drawn: a step's contours lie within one of it.
    """

    axes: Axes
    steps: Sequence[BreakLine]
    cell_m: float
    taken: list[NDArray[np.float64]] = field(default_factory=list)

    def along(self, part: NDArray[np.float64]) -> list[tuple[float, float]]:
        """Places (plan metres) on one piece of a contour: one for each run clear of steps."""
        if len(part) < 2:  # level ground at a contour's own height
            return []
        samples = self._samples(part)
        clear = self._clear(samples)
        edges = np.flatnonzero(np.diff(np.r_[False, clear, False].astype(int)))
        found = []
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            place = self._place(samples[start:end])
            if place is not None:
                self.taken.append(place)
                x, y = self.axes.transData.inverted().transform(place)
                found.append((float(x), float(y)))
        return found

    @property
    def _px_per_pt(self) -> float:
        figure: Any = self.axes.figure
        return float(figure.dpi) / 72.0

    def _samples(self, part: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points along a piece at an even spacing, (n, 2) pixels."""
        points = self.axes.transData.transform(part)
        lengths = np.r_[0.0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
        count = 1 + int(lengths[-1] / (_SAMPLE_PT * self._px_per_pt))
        at = np.linspace(0.0, lengths[-1], count + 1)
        return np.column_stack([np.interp(at, lengths, points[:, k]) for k in (0, 1)])

    def _clear(self, samples: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Which samples are clear of every step."""
        (x0, _), (x1, _) = self.axes.transData.transform([(0.0, 0.0), (self.cell_m, 0.0)])
        reach = max(_CLEAR_OF_STEP_PT * self._px_per_pt, _CLEAR_OF_STEP_CELLS * (x1 - x0))
        away = shapely.distance(shapely.points(samples), self._drawn_steps())
        return np.isnan(away) | (away > reach)

    def _drawn_steps(self) -> BaseGeometry:
        lines = [self.axes.transData.transform(step.line) for step in self.steps]
        return shapely.MultiLineString(lines)

    def _place(self, run: NDArray[np.float64]) -> NDArray[np.float64] | None:
        """The first place tried on a run that is far enough from the others; None without one."""
        length = (len(run) - 1) * _SAMPLE_PT
        if length < _LEAST_RUN_PT:
            return None
        for share in _TRIED:
            place = run[round(share * (len(run) - 1))]
            apart = _APART_PT * self._px_per_pt
            if all(np.hypot(*(place - other)) >= apart for other in self.taken):
                return place
        return None


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
        misfit = Shown(system).length(abs(suspect.misfit), 2)
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
