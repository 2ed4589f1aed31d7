"""Contours on the map with their heights, which keep off steps and apart from each other.

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
from matplotlib.contour import QuadContourSet
from matplotlib.path import Path
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from runoff.report.map_labels import HALO, Labels
from runoff.site.model import BreakLine

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
