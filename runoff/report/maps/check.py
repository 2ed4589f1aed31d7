"""The plan of a site as it was written down: what stands on it, and each point with its height.

In: a checked site. Out: a PNG, SVG or PDF.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from runoff.checking import Checked
from runoff.report.files import save_picture
from runoff.report.maps.frame import Frame, Legend, draw_scale_bar
from runoff.report.maps.labels import Labels
from runoff.report.maps.lot import draw_holes, draw_plan
from runoff.site.model import Site

METRES_PER_FOOT = 0.3048
_LONGEST_IN = 9.5
_LEAST_IN = 5.0
_MARGIN_IN = 0.35
_TITLE_IN = 0.6
_FOOT_IN = 0.6
_LEGEND_IN = 2.2
_SUSPECT = "#b3261e"


def draw_check(checked: Checked, path: Path | str) -> Path:
    """Draw what was written down.

    The file is written whole or not at all.

    Parameters
    ----------
    checked : Checked
    path : Path or str
        The suffix says how: ``.png``, ``.svg`` or ``.pdf``.

    Returns
    -------
    Path
    """
    return save_picture(compose_check(checked), path, checked.site.name)


def compose_check(checked: Checked) -> Figure:
    """The plan as a figure."""
    site = checked.site
    left, right, bottom, top = _view(site)
    scale = _LONGEST_IN / max(right - left, top - bottom)
    map_width, map_height = (right - left) * scale, (top - bottom) * scale
    width = map_width + _LEGEND_IN + 3.0 * _MARGIN_IN
    height = max(map_height, _LEAST_IN) + _TITLE_IN + _FOOT_IN
    figure = Figure(figsize=(width, height))
    FigureCanvasAgg(figure)
    low = height - _TITLE_IN - map_height
    axes = figure.add_axes(
        (_MARGIN_IN / width, low / height, map_width / width, map_height / height)
    )
    axes.set_xlim(left, right)
    axes.set_ylim(bottom, top)
    axes.set_xticks([])
    axes.set_yticks([])
    labels, legend = Labels(axes), Legend()
    draw_holes(axes, checked.holes, labels, legend)
    draw_plan(axes, site, labels, legend)
    _downspouts(axes, site, labels, legend)
    _points(axes, checked, labels, legend)
    labels.place()
    figure.text(
        _MARGIN_IN / width,
        1.0 - 0.38 / height,
        site.name,
        fontsize=14,
        fontweight="bold",
        parse_math=False,
    )
    frame = Frame(_MARGIN_IN, low, map_width, map_height, height - _TITLE_IN, scale)
    draw_scale_bar(figure, frame, site.units)
    figure.legend(
        legend.handles,
        legend.words,
        loc="upper left",
        bbox_to_anchor=(frame.column / width, 1.0 - _TITLE_IN / height),
        borderaxespad=0.0,
        frameon=False,
        fontsize=8,
    )
    return figure


def _view(site: Site) -> tuple[float, float, float, float]:
    """(left, right, bottom, top) of all that is drawn, with a margin."""
    boxes = [(s.x, s.y, s.x, s.y) for s in site.spot_heights]
    boxes += [building.outline.bounds for building in site.own_buildings]
    boxes += [(d.x, d.y, d.x, d.y) for d in site.downspouts]
    if site.lot is not None:
        boxes.append(site.lot.boundary.bounds)
    boxes = boxes or [(0.0, 0.0, 1.0, 1.0)]
    low = np.min([box[:2] for box in boxes], axis=0)
    high = np.max([box[2:] for box in boxes], axis=0)
    pad = max(0.05 * float((high - low).max()), 1.0)
    return (
        float(low[0]) - pad,
        float(high[0]) + pad,
        float(low[1]) - pad,
        float(high[1]) + pad,
    )


def _downspouts(axes: Axes, site: Site, labels: Labels, legend: Legend) -> None:
    for downspout in site.downspouts:
        axes.plot(downspout.x, downspout.y, "o", color="black", markersize=6, zorder=12)
        labels.keep_clear(downspout.x, downspout.y, 5.0)
        labels.add(downspout.name, (downspout.x, downspout.y), urgency=50, fontsize=8)
        legend.add(
            Line2D([], [], marker="o", color="black", markersize=6, linestyle=""), "downspout"
        )


def _points(axes: Axes, checked: Checked, labels: Labels, legend: Legend) -> None:
    site = checked.site
    suspect = {one.name for one in checked.suspects}
    unit, decimals = (METRES_PER_FOOT, 2) if site.units == "ft" else (1.0, 3)
    for spot in site.spot_heights:
        color = _SUSPECT if spot.name in suspect else "0.15"
        axes.plot(spot.x, spot.y, "+", color=color, markersize=6, markeredgewidth=1.2, zorder=13)
        labels.keep_clear(spot.x, spot.y, 3.0)
        words = f"{spot.name} {spot.z / unit:.{decimals}f}"
        urgency = 90 if spot.name in suspect else 70
        labels.add(words, (spot.x, spot.y), urgency=urgency, fontsize=6.5, color=color)
        if spot.name in suspect:
            axes.plot(
                spot.x, spot.y, "o", mec=_SUSPECT, mfc="none", markersize=12, mew=1.4, zorder=13
            )
            ring = Line2D([], [], marker="o", mec=_SUSPECT, mfc="none", mew=1.4, linestyle="")
            legend.add(ring, "height to look at again")
    if site.spot_heights:
        mark = Line2D([], [], marker="+", color="0.15", linestyle="")
        legend.add(mark, "point with its height")
