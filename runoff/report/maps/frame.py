"""What surrounds the map: title, scale bar, north, legend and the list of downspouts."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon, Rectangle

from runoff.inspection import Findings
from runoff.quantities import Shown
from runoff.site.model import Site, Units

METRES_PER_FOOT = 0.3048

_COLUMN_GAP_IN = 0.25
_LINE_IN = 0.165
_LEGEND_LINE_IN = 0.205
_TITLE_CHARACTER_IN = 0.13
_SUBTITLE_CHARACTER_IN = 0.075
_LIST_WIDTH = 40
_LEAST_PAD_M = 1.0
_AROUND_M = 6.0


@dataclass(frozen=True)
class Frame:
    """Where the map lies on the sheet, inches, and how many inches one metre of it takes."""

    left: float
    bottom: float
    map_width: float
    map_height: float
    top_of_column: float
    inches_per_metre: float

    @property
    def column(self) -> float:
        """Left edge of the column beside the map."""
        return self.left + self.map_width + _COLUMN_GAP_IN


class Legend:
    """Entries of the legend: each thing that is on the map, once."""

    def __init__(self) -> None:
        self.handles: list[Any] = []
        self.words: list[str] = []

    def add(self, handle: Any, words: str) -> None:
        """Add an entry unless it is there."""
        if words not in self.words:
            self.handles.append(handle)
            self.words.append(words)


def shown_part(findings: Findings) -> tuple[float, float, float, float]:
    """(left, right, bottom, top) of the map in plan metres: the known ground, the lot, a margin.

    Elevation data goes on far beyond the lot: of it no more than the lot's surroundings are shown.
    """
    site, grid = findings.site, findings.terrain.grid
    known = np.argwhere(np.isfinite(findings.terrain.ground) | findings.terrain.closed)
    boxes = []
    drawn = [each.outline.bounds for each in site.own_buildings]
    drawn += [] if site.lot is None else [site.lot.boundary.bounds]
    if site.elevation is not None and drawn:
        spots = [(x, y, x, y) for x, y in site.spot_array[:, :2].tolist()]
        boxes = [
            (box[0] - _AROUND_M, box[1] - _AROUND_M, box[2] + _AROUND_M, box[3] + _AROUND_M)
            for box in (*drawn, *spots)
        ]
    elif len(known):
        (top, left), (bottom, right) = known.min(axis=0), known.max(axis=0)
        size = grid.cell_size
        boxes.append(
            (
                grid.x0 + left * size,
                grid.y0 + (grid.rows - 1 - bottom) * size,
                grid.x0 + (right + 1) * size,
                grid.y0 + (grid.rows - top) * size,
            )
        )
    if site.lot is not None:
        boxes.append(site.lot.boundary.bounds)
    boxes.extend((*answer.start, *answer.start) for answer in findings.downspouts)
    boxes = boxes or [(grid.extent[0], grid.extent[2], grid.extent[1], grid.extent[3])]
    left, bottom = (min(box[i] for box in boxes) for i in (0, 1))
    right, top = (max(box[i] for box in boxes) for i in (2, 3))
    pad = max(0.03 * max(right - left, top - bottom), _LEAST_PAD_M)
    return left - pad, right + pad, bottom - pad, top + pad


def frame_view(axes: Axes, shown: tuple[float, float, float, float]) -> None:
    """Set axes to (left, right, bottom, top) plan metres, framed and without ticks."""
    axes.set_xlim(shown[0], shown[1])
    axes.set_ylim(shown[2], shown[3])
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_linewidth(0.8)
        spine.set_color("0.35")


def draw_title(figure: Figure, findings: Findings, interval: float | None, added: str = "") -> None:
    """The site's name with what is `added`, the storm that water stands for, the contours."""
    width, height = figure.get_size_inches()
    site = findings.site
    name = fitted(f"{site.name}{added}", (width - 0.7) / _TITLE_CHARACTER_IN)
    _text(figure, 0.35, height - 0.36, name, fontsize=14, fontweight="bold")
    parts = [f"storm of {Shown.of(site).rain(site.storm.depth)}"]
    if interval is not None:
        parts.append(f"contours every {interval:g} {site.units}")
    parts.append(f"heights by {findings.terrain.accuracy.method}")
    if site.date:
        parts.append(site.date)
    words = fitted(" · ".join(parts), (width - 0.7) / _SUBTITLE_CHARACTER_IN)
    _text(figure, 0.35, height - 0.60, words, fontsize=8.5, color="0.25")


def scale_bar_length(map_width_m: float, units: Units) -> float:
    """A round length, in the site's units, of about a quarter of the map's width.

    Examples
    --------
    >>> scale_bar_length(30.0, "ft"), scale_bar_length(30.0, "m")
    (20.0, 5.0)
    """
    longest = map_width_m / (METRES_PER_FOOT if units == "ft" else 1.0) * 0.3
    power = 10.0 ** math.floor(math.log10(longest))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= longest)


def draw_scale_bar(figure: Figure, frame: Frame, units: Units) -> float:
    """A bar of four parts under the map; returns its length, inches."""
    length = scale_bar_length(frame.map_width / frame.inches_per_metre, units)
    metres = length * (METRES_PER_FOOT if units == "ft" else 1.0)
    bar = metres * frame.inches_per_metre
    y = frame.bottom - 0.30
    for part in range(4):
        _add(
            figure,
            Rectangle(
                (frame.left + part * bar / 4.0, y),
                bar / 4.0,
                0.07,
                facecolor="black" if part % 2 == 0 else "white",
                edgecolor="black",
                linewidth=0.7,
            ),
        )
    for share in (0.0, 0.5, 1.0):
        label = f"{length * share:g}" + (f" {units}" if share == 1.0 else "")
        _text(figure, frame.left + share * bar, y + 0.11, label, fontsize=7.5, ha="center")
    return bar


def draw_column(
    figure: Figure, frame: Frame, site: Site, downspouts: Sequence[str], legend: Legend
) -> float:
    """North, the list of downspouts and the legend, down to the height that is returned, inches."""
    y = frame.top_of_column - 0.02
    y = draw_north(figure, frame.column, y, site.north_degrees)
    y = draw_downspouts(figure, frame.column, y, downspouts)
    if not legend.handles:
        return y
    width, height = figure.get_size_inches()
    figure.legend(
        legend.handles,
        legend.words,
        loc="upper left",
        bbox_to_anchor=(frame.column / width, y / height),
        borderaxespad=0.0,
        frameon=False,
        fontsize=8,
        labelspacing=0.55,
        handlelength=2.4,
        title="Legend",
        alignment="left",
        title_fontproperties={"weight": "bold", "size": 9},
    )
    return y - _LEGEND_LINE_IN * (len(legend.handles) + 1.5)


def draw_north(figure: Figure, x: float, y: float, north: float | None) -> float:
    """An arrow that points north on the plan, or up where north is not known, which it then says.

    Parameters
    ----------
    figure : Figure
    x, y : float, inches
        Where its upper left corner lies on the sheet.
    north : float or None, degrees clockwise from straight up

    Returns
    -------
    float, inches
        Where it ends below.
    """
    center = (x + 0.24, y - 0.3)
    angle = math.radians(90.0 - (north or 0.0))
    ahead = np.array([math.cos(angle), math.sin(angle)])
    aside = np.array([-ahead[1], ahead[0]])
    middle = np.array(center)
    tip, tail = middle + 0.24 * ahead, middle - 0.2 * ahead
    left = [tip, tail + 0.1 * aside, middle - 0.12 * ahead]
    right = [tip, tail - 0.1 * aside, middle - 0.12 * ahead]
    _add(figure, Polygon(left, closed=True, facecolor="black", edgecolor="black", linewidth=0.7))
    _add(figure, Polygon(right, closed=True, facecolor="white", edgecolor="black", linewidth=0.7))
    if north is None:
        _text(figure, x + 0.62, y - 0.26, "plan north (up)", fontsize=8)
        _text(figure, x + 0.62, y - 0.42, "north is not known", fontsize=8)
    else:
        _text(figure, x + 0.62, y - 0.34, "north", fontsize=9)
    return y - 0.78


def draw_downspouts(
    figure: Figure,
    x: float,
    y: float,
    downspouts: Sequence[str],
    title: str = "Downspouts",
    characters: int = _LIST_WIDTH,
) -> float:
    """The list of downspouts by their numbers, wrapped; returns where it ends below, inches."""
    if not downspouts:
        return y
    if title:
        _text(figure, x, y - 0.12, title, fontsize=9, fontweight="bold")
        y -= 0.20
    y -= 0.14
    for number, words in enumerate(downspouts, start=1):
        _add(
            figure,
            Line2D(
                [x + 0.09], [y + 0.045], marker="o", color="black", markersize=10.5, linestyle=""
            ),
        )
        _text(
            figure,
            x + 0.09,
            y + 0.045,
            str(number),
            fontsize=7,
            fontweight="bold",
            color="white",
            ha="center",
            va="center_baseline",
        )
        for line in textwrap.wrap(words, characters):
            _text(figure, x + 0.26, y, line, fontsize=8)
            y -= _LINE_IN
        y -= 0.05
    return y - 0.05


def fitted(words: str, characters: float) -> str:
    """The words on one line, cut short where they are too long for it.

    Examples
    --------
    >>> fitted("a  long name", 8)
    'a long …'
    """
    line = " ".join(words.split())
    return line if len(line) <= characters else f"{line[: int(characters) - 1]}…"


def _add(figure: Figure, artist: Any) -> None:
    """Put an artist, given in inches, on the sheet."""
    artist.set_transform(figure.dpi_scale_trans)
    figure.add_artist(artist)


def _text(figure: Figure, x: float, y: float, text: str, **style: Any) -> None:
    # Names are the user's own: a dollar sign in one is no formula.
    figure.text(x, y, text, transform=figure.dpi_scale_trans, parse_math=False, **style)
