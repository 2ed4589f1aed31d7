"""The sheet that sections are drawn on: axes in the reader's units, a title, lines of text below.

In: metres. Out: figures whose axes hold feet or metres. Everything must be legible in gray.

In: how much ground must go on how much paper. Out: the largest sensible scale at which it does.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from runoff.report.maps.frame import Frame, draw_scale_bar, fitted
from runoff.report.maps.labels import HALO
from runoff.site.model import Units

PaperName = Literal["letter", "a4"]
METRES_PER_INCH = 0.0254
MM_PER_INCH = 25.4

# Between margins of 0.75 in and 18 mm, a heading and a caption left out; upright, inches.
TEXT_AREAS: dict[PaperName, tuple[float, float]] = {
    "letter": (7.0, 9.25),
    "a4": (174.0 / MM_PER_INCH, 250.0 / MM_PER_INCH),
}

# Feet to the inch are those of an engineer's and an architect's rule; the metric ratios are those
# of ISO 5455 with 1:25 and 1:250, which are common practice.
_FEET_TO_THE_INCH = (0.5, 1, 2, 3, 4, 5, 10, 20, 30, 40, 50, 60, 100, 200, 300, 400, 500, 1000)
_RATIOS = (5, 10, 20, 25, 50, 100, 200, 250, 500, 1000, 2000, 5000, 10000, 20000)
_SLACK = 1e-9


@dataclass(frozen=True)
class PaperScale:
    """A scale: `ratio` is length on the ground over length on paper, `words` as it is read."""

    ratio: float
    words: str

    @property
    def inches_per_metre(self) -> float:
        """Inches of paper that one metre of ground takes."""
        return 1.0 / (METRES_PER_INCH * self.ratio)


def scales(units: Units) -> tuple[PaperScale, ...]:
    """The sensible scales in a site's units, the largest first.

    Examples
    --------
    >>> [scale.words for scale in scales("m")[3:5]]
    ['1:25', '1:50']
    """
    if units == "m":
        return tuple(PaperScale(float(ratio), f"1:{ratio}") for ratio in _RATIOS)
    return tuple(
        PaperScale(12.0 * feet, f"1 in = {_feet(feet)} (1:{12 * feet:g})")
        for feet in _FEET_TO_THE_INCH
    )


def scale_for(ground_m: float, paper_in: float, units: Units) -> PaperScale:
    """The largest sensible scale at which a length of ground fits a length of paper.

    Parameters
    ----------
    ground_m : float, metres
    paper_in : float, inches
    units : {"ft", "m"}

    Returns
    -------
    PaperScale
        The smallest of all where even it is too large.

    Examples
    --------
    35 m on 6 in want 1:230, so feet take 1 in = 20 ft and metres 1:250.

    >>> scale_for(35.0, 6.0, "ft").words, scale_for(35.0, 6.0, "m").words
    ('1 in = 20 ft (1:240)', '1:250')
    """
    least = ground_m / (paper_in * METRES_PER_INCH)
    every = scales(units)
    return next((one for one in every if one.ratio >= least * (1.0 - _SLACK)), every[-1])


def _feet(feet: float) -> str:
    return f"{feet:g} ft" if feet >= 1 else f"{12 * feet:g} in"


METRES_PER_FOOT = 0.3048
_METRES = {"ft": METRES_PER_FOOT, "m": 1.0}
EARTH: dict[str, Any] = {"facecolor": "0.90", "edgecolor": "none", "zorder": 1}
GROUND: dict[str, Any] = {"color": "black", "linewidth": 2.2, "zorder": 6}
WATER: dict[str, Any] = {"facecolor": "#9cc4e4", "edgecolor": "none", "zorder": 3}
DIMENSION: dict[str, Any] = {"arrowstyle": "<|-|>", "linewidth": 0.8, "color": "black"}

_MARGIN_IN, _TITLE_IN, _AXIS_IN, _FOOT_IN = 0.18, 0.67, 0.6, 0.2
_SCALE_IN, _BARE_SCALE_IN, _PAPER_FOOT_IN, _BARE_TOP_IN = 0.42, 0.28, 0.06, 0.06
_LINE_IN = 0.175
# A bar of a quarter of less would set its numbers upon each other.
_LEAST_BAR_IN = 3.3
# Characters of text to an inch, of the list below and of the line under the title.
_CHARACTERS = 15.9
# Width of a wide bold character, inches for each point of its size.
_TITLE_CHARACTER_IN = 0.0105
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

    @property
    def unit_m(self) -> float:
        """The unit of the axes, metres."""
        return _METRES[self.units]

    def of(self, metres: float) -> float:
        """A length in the unit of the axes."""
        return metres / self.unit_m


@dataclass(frozen=True)
class Paper:
    """What a section is drawn on.

    Parameters
    ----------
    width_in, left_in, right_in : float, inches
        Of the sheet, and of the margins beside the axes.
    to_scale : bool
        Whether distances are drawn to a sensible scale, and a bar shows it; else as large as fits.
    bare : bool
        Whether title and list are left to the page that the section stands on.
    tall : float
        Share of the usual height that axes have.
    """

    width_in: float = 10.0
    left_in: float = 0.85
    right_in: float = 0.35
    to_scale: bool = False
    bare: bool = False
    tall: float = 1.0

    @property
    def axes_in(self) -> float:
        """The greatest width of axes, inches."""
        return self.width_in - self.left_in - self.right_in

    def characters(self, width_in: float) -> int:
        """Characters of text that a width takes."""
        return int(_CHARACTERS * width_in)

    def fitted(self, least: float, axes_in: float, units: Units) -> float:
        """A length in the axes' unit, made so much longer that axes so wide show it to scale."""
        if not self.to_scale:
            return least
        scale = scale_for(least * _METRES[units], axes_in, units)
        return axes_in / scale.inches_per_metre / _METRES[units]


SCREEN = Paper()
GIVES_WAY = "gives way"
"""Marks texts that are left out of a bare section where there is no room for them."""


@dataclass(frozen=True)
class Sheet:
    """A figure with its text on it and room for axes, whose height and top are in inches."""

    figure: Figure
    paper: Paper
    axes_in: float
    top_in: float

    def axes(self, left_in: float = 0.0, width_in: float | None = None) -> Axes:
        """Axes under the title, from `left_in` past the left margin, as wide as there is room."""
        width, height = self.figure.get_size_inches()
        wide = self.paper.axes_in - left_in if width_in is None else width_in
        return self.figure.add_axes(
            (
                (self.paper.left_in + left_in) / width,
                (height - self.top_in - self.axes_in) / height,
                wide / width,
                self.axes_in / height,
            )
        )


def sheet(
    title: str,
    subtitle: str,
    axes_height_in: float,
    below: Sequence[str],
    paper: Paper = SCREEN,
) -> Sheet:
    """A figure with room for axes and, under them, lines of text, which are on it already."""
    room = paper.characters(paper.axes_in)
    listed = () if paper.bare else below
    lines = [
        part for line in listed for part in textwrap.wrap(line, room, subsequent_indent="      ")
    ]
    under = textwrap.wrap(subtitle, room)
    # On paper the margin is the page's own.
    margin = _MARGIN_IN if not paper.to_scale else 0.0
    top = margin + _TITLE_IN + max(len(under) - 1, 0) * _LINE_IN if not paper.bare else _BARE_TOP_IN
    foot = _AXIS_IN + (_BARE_SCALE_IN if paper.bare else _SCALE_IN if paper.to_scale else 0.0)
    end = _FOOT_IN if not paper.to_scale else _PAPER_FOOT_IN
    height = top + axes_height_in + foot + len(lines) * _LINE_IN + end
    figure = Figure(figsize=(paper.width_in, height))
    FigureCanvasAgg(figure)
    size = 11 if paper.to_scale else 13
    if paper.bare:
        return Sheet(figure, paper, axes_height_in, top)
    head = fitted(title, paper.axes_in / (_TITLE_CHARACTER_IN * size))
    _put(figure, paper.left_in, height - margin - 0.16, head, fontsize=size, fontweight="bold")
    for number, line in enumerate(under):
        y = height - margin - 0.42 - number * _LINE_IN
        _put(figure, paper.left_in, y, line, fontsize=8, color="0.25")
    for number, line in enumerate(lines):
        y = height - top - axes_height_in - foot - (number + 0.6) * _LINE_IN
        _put(figure, paper.left_in, y, line, fontsize=8)
    return Sheet(figure, paper, axes_height_in, top)


def show_scale(drawn: Sheet, axes: Axes, units: Units) -> None:
    """Put the scale of axes, whose limits are set, under them with a bar, where they have one."""
    if not drawn.paper.to_scale:
        return
    width, height = drawn.figure.get_size_inches()
    box, (scale, times) = axes.get_position(), scale_of(axes, units)
    bottom = box.y0 * height - _AXIS_IN
    frame = Frame(
        box.x0 * width,
        bottom + 0.16,
        max(box.width * width, _LEAST_BAR_IN),
        0.0,
        0.0,
        scale.inches_per_metre,
    )
    bar = draw_scale_bar(drawn.figure, frame, units)
    words = f"{scale.words}, {heights_words(times)}"
    beside = frame.left + bar + 0.4
    if drawn.paper.bare:
        _put(drawn.figure, frame.left, bottom - 0.27, words, fontsize=7)
    else:
        _put(drawn.figure, beside, bottom - 0.14, words, fontsize=8)


def scale_shown(figure: Figure, units: Units) -> tuple[PaperScale, int]:
    """The scale that a figure's axes are drawn to, as `scale_of`."""
    return scale_of(figure.axes[0], units)


def scale_of(axes: Axes, units: Units) -> tuple[PaperScale, int]:
    """The scale of axes in the unit of `units`, and how many times as large heights are drawn."""
    width, height = axes.figure.get_size_inches()  # type: ignore[union-attr]
    box, (left, right), (low, high) = axes.get_position(), axes.get_xlim(), axes.get_ylim()
    wide, tall = box.width * width, box.height * height
    times = round(tall / (high - low) / (wide / (right - left)))
    return scale_for((right - left) * _METRES[units], wide, units), times


def heights_words(times: int) -> str:
    """How heights are drawn beside distances.

    Examples
    --------
    >>> heights_words(1), heights_words(5)
    ('heights to the same scale', 'heights 5 times as large')
    """
    return "heights to the same scale" if times == 1 else f"heights {times} times as large"


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
    times = exaggeration(unit, tall, high - low)
    spare = tall / (times * unit) - (high - low)
    axes.set_ylim(low - 0.5 * spare, high + 0.5 * spare)
    return times


def exaggeration(unit_in: float, tall_in: float, span: float) -> int:
    """How many times as large heights can be drawn: a whole number that a rule takes off.

    Parameters
    ----------
    unit_in : float, inches
        Of paper that one unit of distance takes.
    tall_in : float, inches
    span : float
        The heights to be shown, in that unit.

    Examples
    --------
    >>> exaggeration(0.1, 4.0, 6.0)
    5
    """
    return next((t for t in _TIMES if t * unit_in * span <= tall_in), 1)


def write(axes: Axes, x: float, y: float, text: str, **style: Any) -> None:
    """Text with a white halo at a place of the axes; names are the user's own, no formulas."""
    given: dict[str, Any] = {"fontsize": 8, "path_effects": HALO, "parse_math": False, "zorder": 20}
    axes.text(x, y, text, **(given | style))


def give_way(axes: Axes) -> None:
    """Leave out the texts marked to give way that would hide others: the page tells them too."""
    axes.figure.draw_without_rendering()  # type: ignore[union-attr]
    renderer = axes.figure.canvas.get_renderer()  # type: ignore[attr-defined]
    texts = [text for text in axes.texts if text.get_text()]
    texts.sort(key=lambda text: text.get_gid() == GIVES_WAY)
    page = axes.figure.bbox
    boxes: list[Bbox] = []
    for text in texts:
        here = Text.get_window_extent(text, renderer)
        inside = page.x0 < here.x0 and here.x1 < page.x1 and page.y0 < here.y0 and here.y1 < page.y1
        hides = not inside or any(here.overlaps(other) for other in boxes)
        if hides and text.get_gid() == GIVES_WAY:
            text.remove()
        else:
            boxes.append(here)


def measure(
    axes: Axes,
    start: tuple[float, float],
    end: tuple[float, float],
    text: str,
    below: bool = False,
    points: float = 8.0,
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
        fontsize=points,
        path_effects=HALO,
        parse_math=False,
        zorder=20,
    )


def _put(figure: Figure, x: float, y: float, text: str, **style: Any) -> None:
    figure.text(x, y, text, transform=figure.dpi_scale_trans, parse_math=False, **style)
