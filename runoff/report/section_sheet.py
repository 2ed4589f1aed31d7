"""The sheet that sections are drawn on: axes in the reader's units, a title, lines of text below.

In: metres. Out: figures whose axes hold feet or metres. Everything must be legible in gray.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from runoff.report.map_labels import HALO
from runoff.site.model import Units

METRES_PER_FOOT = 0.3048
EARTH: dict[str, Any] = {"facecolor": "0.90", "edgecolor": "none", "zorder": 1}
GROUND: dict[str, Any] = {"color": "black", "linewidth": 2.2, "zorder": 6}
WATER: dict[str, Any] = {"facecolor": "#9cc4e4", "edgecolor": "none", "zorder": 3}
DIMENSION: dict[str, Any] = {"arrowstyle": "<|-|>", "linewidth": 0.8, "color": "black"}

_WIDTH_IN = 10.0
_LEFT_IN, _RIGHT_IN = 0.85, 0.35
_TITLE_IN, _AXIS_IN, _FOOT_IN = 0.85, 0.6, 0.2
_LINE_IN = 0.175
_LIST_WIDTH = 140
# Exaggerations that a reader can take off with a rule.
_TIMES = (20, 15, 10, 8, 5, 4, 3, 2, 1)


@dataclass(frozen=True)
class Scale:
    """Metres to the unit of the axes.

    Examples
    --------
    >>> Scale("ft").of(0.3048), Scale("m").of(2.0)
    (1.0, 2.0)
    """

    units: Units

    def of(self, metres: float) -> float:
        """A length in the unit of the axes."""
        return metres / (METRES_PER_FOOT if self.units == "ft" else 1.0)


def sheet(title: str, subtitle: str, axes_height_in: float, below: Sequence[str]) -> Figure:
    """A figure with room for axes and, under them, lines of text.

    The caller places axes by `axes_on`; the text is on the sheet already.
    """
    lines = [
        part
        for line in below
        for part in textwrap.wrap(line, _LIST_WIDTH, subsequent_indent="      ")
    ]
    height = _TITLE_IN + axes_height_in + _AXIS_IN + len(lines) * _LINE_IN + _FOOT_IN
    figure = Figure(figsize=(_WIDTH_IN, height))
    FigureCanvasAgg(figure)
    _put(figure, _LEFT_IN, height - 0.34, title, fontsize=13, fontweight="bold")
    _put(figure, _LEFT_IN, height - 0.60, subtitle, fontsize=8.5, color="0.25")
    for number, line in enumerate(lines):
        y = height - _TITLE_IN - axes_height_in - _AXIS_IN - (number + 0.6) * _LINE_IN
        _put(figure, _LEFT_IN, y, line, fontsize=8)
    return figure


def axes_on(figure: Figure, axes_height_in: float, share: tuple[float, float] = (0.0, 1.0)) -> Axes:
    """Axes under the title; `share` is the part of the sheet's width that they take."""
    width, height = figure.get_size_inches()
    whole = _WIDTH_IN - _LEFT_IN - _RIGHT_IN
    return figure.add_axes(
        (
            (_LEFT_IN + share[0] * whole) / width,
            (height - _TITLE_IN - axes_height_in) / height,
            (share[1] - share[0]) * whole / width,
            axes_height_in / height,
        )
    )


def name_axes(axes: Axes, units: Units, along: str, up: str = "height") -> None:
    """Name both axes with their unit, and thin the frame."""
    axes.set_xlabel(f"{along} ({units})", fontsize=9)
    axes.set_ylabel(f"{up} ({units})", fontsize=9)
    axes.tick_params(labelsize=8)
    axes.ticklabel_format(useOffset=False)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def exaggerate(axes: Axes, wide: float, low: float, high: float) -> int:
    """Set the limits of the axes so that heights are a whole number of times as large.

    Parameters
    ----------
    wide : float
        What the x axis must show from its set left limit, in the unit of the axes.
    low, high : float
        What the y axis must show.

    Returns
    -------
    int
        How many times as large as distances heights are drawn.
    """
    box = axes.get_position()
    width, height = axes.figure.get_size_inches()  # type: ignore[union-attr]
    unit = box.width * width / wide
    tall = box.height * height
    times = next((t for t in _TIMES if t * unit * (high - low) <= tall), 1)
    spare = tall / (times * unit) - (high - low)
    axes.set_ylim(low - 0.5 * spare, high + 0.5 * spare)
    return times


def write(axes: Axes, x: float, y: float, text: str, **style: Any) -> None:
    """Text with a white halo at a place of the axes; names are the user's own, no formulas."""
    given: dict[str, Any] = {"fontsize": 8, "path_effects": HALO, "parse_math": False, "zorder": 20}
    axes.text(x, y, text, **(given | style))


def measure(
    axes: Axes,
    start: tuple[float, float],
    end: tuple[float, float],
    text: str,
    below: bool = False,
) -> None:
    """A dimension: an arrow between two places with its length in words beside or `below` it."""
    axes.annotate("", xy=end, xytext=start, arrowprops=DIMENSION, zorder=15)
    upright = abs(start[0] - end[0]) < abs(start[1] - end[1])
    offset = (4.0, 0.0) if upright else (0.0, -4.0 if below else 3.0)
    aside = "center" if upright else "top" if below else "bottom"
    axes.annotate(
        text,
        xy=((start[0] + end[0]) / 2, (start[1] + end[1]) / 2),
        xytext=offset,
        textcoords="offset points",
        ha="left" if upright else "center",
        va=aside,
        fontsize=8,
        path_effects=HALO,
        parse_math=False,
        zorder=20,
    )


def _put(figure: Figure, x: float, y: float, text: str, **style: Any) -> None:
    figure.text(x, y, text, transform=figure.dpi_scale_trans, parse_math=False, **style)
