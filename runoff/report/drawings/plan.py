"""The plan of a lot to a stated scale: what was found on it, and what is to be built.

In: findings, and the plan that answers them. Out: sheets whose map is as large as the paper lets it
be at a sensible scale; the layers are those of the map on the screen, without its shading.

In: a site. Out: artists on the plan, and a few words for each downspout.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.legend import Legend as DrawnLegend
from matplotlib.lines import Line2D
from shapely import Polygon, contains_xy

from runoff.inspection import Findings
from runoff.quantities import Shown
from runoff.report.drawings.sheets import DrawingSheet
from runoff.report.maps.frame import (
    Frame,
    Legend,
    draw_downspouts,
    draw_north,
    draw_scale_bar,
    frame_view,
    shown_part,
)
from runoff.report.maps.ground import draw_ground
from runoff.report.maps.labels import Labels
from runoff.report.maps.lot import patch_of
from runoff.report.maps.lot_map import draw_layers
from runoff.report.names import water_phrase, way_words
from runoff.report.sections.sheet import TEXT_AREAS, PaperName, PaperScale, scales
from runoff.roof.catchments import catchments_of
from runoff.site.model import Roof, Site

if TYPE_CHECKING:
    from runoff.planning import Plan

ROOF: dict[str, Any] = {"color": "0.25", "linewidth": 0.8, "linestyle": (0, (7, 2, 1.5, 2))}


def draw_roofs(axes: Axes, findings: Findings, labels: Labels, legend: Legend) -> None:
    """Draw each roof whose outline is known, with the numbers of the downspouts that carry it."""
    site = findings.site
    for roof in site.roofs:
        if roof.outline is None:
            continue
        style = {"edgecolor": ROOF["color"], "facecolor": "none"}
        style |= {key: ROOF[key] for key in ("linewidth", "linestyle")}
        axes.add_patch(patch_of(roof.outline, zorder=7.5, **style))
        legend.add(Line2D([], [], **ROOF), "roof, and the downspouts that carry it")
        labels.add(
            f"{roof.name}: {_carriers(findings, roof)}",
            _places_in(roof.outline),
            urgency=45,
            centered=True,
            leader=False,
            fixed=True,
            inside=roof.outline,
            fontsize=7,
            color="0.15",
        )


def _places_in(roof: Polygon) -> list[tuple[float, float]]:
    """Places for a label in a roof (plan metres): its middle, and a grid over it."""
    middle = roof.representative_point()
    left, bottom, right, top = roof.bounds
    x, y = np.meshgrid(np.linspace(left, right, 9)[1:-1], np.linspace(bottom, top, 9)[1:-1])
    inside = contains_xy(roof, x, y)
    grid = np.column_stack([x[inside], y[inside]])
    nearest = grid[np.argsort(np.hypot(*(grid - (middle.x, middle.y)).T), kind="stable")]
    return [(float(a), float(b)) for a, b in ((middle.x, middle.y), *nearest)]


def roof_words(site: Site) -> dict[str, str]:
    """What roof each downspout carries, in a few words, by its name."""
    shown = Shown.of(site)
    found = {}
    for catchment in catchments_of(site):
        names = " and ".join(f"'{part.roof}'" for part in catchment.parts)
        area = shown.area(catchment.plan_area_m2)
        found[catchment.downspout] = f"{area} of {names}" if names else "no roof that is given"
    return found


def roofs_left_out(site: Site) -> str:
    """A sentence on the roofs that are not drawn; empty where all are."""
    names = [f"'{roof.name}'" for roof in site.roofs if roof.outline is None]
    if not names:
        return ""
    return f" Not drawn, since no outline is given: the roofs {', '.join(names)}."


def _carriers(findings: Findings, roof: Roof) -> str:
    numbers = [
        str(number)
        for number, downspout in enumerate(findings.site.downspouts, start=1)
        if any(name == roof.name for name, _ in downspout.roofs)
    ]
    return f"to {' and '.join(numbers)}" if numbers else "to no downspout"


_EDGE_IN = 0.04
_LEFT_IN = 0.1
# The least that stands under the map, and a height that all of it surely fits.
_FOOT_IN, _SCRATCH_IN = 0.6, 20.0
_SCALE_IN, _COLUMN_IN, _WIDE_IN = 0.55, 2.1, 5.2
_NORTH_IN, _LIST_FROM_IN = 1.95, 3.85
_CHARACTERS = 15.5
_GAP_IN = 0.08
_NARROW_COLUMN_IN = 1.5
# Ground outside the lot is left out but for so much, and for outlets within the second of it.
_AROUND_LOT_M, _OUTLET_M = 1.6, 6.0

_MOST_TRIED = 4
_TITLE = "Downspouts and their roofs"
FOUND, WORK = "plan", "plan of the work"

View = tuple[float, float, float, float]


@dataclass(frozen=True)
class _Drawn:
    """A plan that was tried at one scale, and the height that it takes, inches."""

    figure: Figure
    interval: float | None
    height_in: float


def plan_sheet(findings: Findings, plan: Plan | None, paper: PaperName) -> DrawingSheet:
    """The plan of what was found; with a plan, of what is to be built.

    Parameters
    ----------
    findings : Findings
    plan : Plan or None
    paper : {"letter", "a4"}

    Returns
    -------
    DrawingSheet
        Upright where that serves; lying where it then goes at a larger scale.
    """
    box = _view(findings)
    tried = list(itertools.islice(_fitting(findings, box, paper), _MOST_TRIED))
    # Where the names of the downspouts take too much room, the plan has their numbers alone.
    for listed in (True, False):
        for scale, (width, height) in tried:
            drawn = _draw(findings, plan, box, scale, width, listed)
            if drawn.height_in <= height:
                return _sheet(findings, plan, scale, drawn)
    raise ValueError("the lot is larger than a plan on this paper shows at any sensible scale")


def _fitting(
    findings: Findings, box: View, paper: PaperName
) -> Iterator[tuple[PaperScale, tuple[float, float]]]:
    """Scales and sheets that the map fits, the largest scale first, upright before lying."""
    narrow, tall = TEXT_AREAS[paper]
    for scale in scales(findings.site.units):
        for width, height in ((narrow, tall), (tall, narrow)):
            map_width = (box[1] - box[0]) * scale.inches_per_metre
            map_height = (box[3] - box[2]) * scale.inches_per_metre
            if map_width <= width - 2 * _EDGE_IN and map_height + _FOOT_IN <= height:
                yield scale, (width, height)


def _view(findings: Findings) -> View:
    """What the plan shows, (left, right, bottom, top) plan metres."""
    left, right, bottom, top = shown_part(findings)
    if findings.site.lot is None:
        return left, right, bottom, top
    lot = findings.site.lot.boundary
    boxes = [lot.bounds]
    outlets = [shapely.shortest_line(lot, outlet.place) for outlet in findings.site.outlets]
    boxes += [line.bounds for line in outlets if line.length <= _OUTLET_M]
    boxes += [(*answer.start, *answer.start) for answer in findings.downspouts]
    boxes += [building.outline.bounds for building in findings.site.own_buildings]
    return (
        max(left, min(box[0] for box in boxes) - _AROUND_LOT_M),
        min(right, max(box[2] for box in boxes) + _AROUND_LOT_M),
        max(bottom, min(box[1] for box in boxes) - _AROUND_LOT_M),
        min(top, max(box[3] for box in boxes) + _AROUND_LOT_M),
    )


def _draw(
    findings: Findings,
    plan: Plan | None,
    box: View,
    scale: PaperScale,
    width: float,
    listed: bool,
) -> _Drawn:
    """The plan on a sheet as high as the map and what stands under it need."""
    map_width = (box[1] - box[0]) * scale.inches_per_metre
    map_height = (box[3] - box[2]) * scale.inches_per_metre
    figure = Figure(figsize=(width, map_height + 2 * _EDGE_IN))
    FigureCanvasAgg(figure)
    axes = _map_axes(figure, box, (map_width, map_height))
    labels, legend = Labels(axes), Legend()
    interval = draw_ground(axes, findings, labels, legend, shaded=False)
    draw_roofs(axes, findings, labels, legend)
    draw_layers(axes, findings, plan, labels, legend)
    labels.place()
    about = _About(findings, scale, legend, map_width, map_height, listed)
    scratch = Figure(figsize=(width, map_height + _SCRATCH_IN))
    FigureCanvasAgg(scratch)
    height = map_height + _SCRATCH_IN - about.draw(scratch) + _EDGE_IN
    figure.set_size_inches(width, height)
    _place(axes, (map_width, map_height))
    about.draw(figure)
    return _Drawn(figure, interval, height)


def _map_axes(figure: Figure, box: View, size: tuple[float, float]) -> Axes:
    """Axes in plan metres at the top of the sheet, of a size in inches."""
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    _place(axes, size)
    frame_view(axes, box)
    return axes


def _place(axes: Axes, size: tuple[float, float]) -> None:
    """Put axes at the upper left of their sheet, of a size in inches."""
    width, height = axes.figure.get_size_inches()  # type: ignore[union-attr]
    left, bottom = _EDGE_IN, height - _EDGE_IN - size[1]
    axes.set_position((left / width, bottom / height, size[0] / width, size[1] / height))


@dataclass(frozen=True)
class _About:
    """What stands about the map: its scale under it, north, downspouts and legend beside or under.

    Beside it where the sheet leaves room for a column, since the map then is the larger.
    """

    findings: Findings
    scale: PaperScale
    legend: Legend
    map_width: float
    map_height: float
    listed: bool

    def draw(self, figure: Figure) -> float:
        """Draw it about a map at the sheet's top; returns where it ends below, inches."""
        width, height = (float(side) for side in figure.get_size_inches())
        bottom = height - _EDGE_IN - self.map_height
        self._scale(figure, bottom)
        left = 2 * _EDGE_IN + self.map_width + _GAP_IN
        if width - left < _COLUMN_IN:
            lowest = draw_north(figure, _NORTH_IN, bottom, self.findings.site.north_degrees)
            listed = self._list(figure, _LIST_FROM_IN, bottom - 0.02)
            return _legend(figure, self.legend, _EDGE_IN, min(lowest, listed) - _GAP_IN)
        low = draw_north(figure, left, height - _EDGE_IN, self.findings.site.north_degrees)
        low = self._list(figure, left, low)
        return min(_legend(figure, self.legend, left, low - _GAP_IN), bottom - _SCALE_IN)

    def _scale(self, figure: Figure, bottom: float) -> None:
        # A bar is a share of the map's width; of a wide one it would reach what stands beside it.
        wide = min(self.map_width, _WIDE_IN)
        frame = Frame(_LEFT_IN, bottom, wide, 0.0, 0.0, self.scale.inches_per_metre)
        draw_scale_bar(figure, frame, self.findings.site.units)
        figure.text(
            _LEFT_IN,
            bottom - 0.47,
            f"scale {self.scale.words}",
            transform=figure.dpi_scale_trans,
            parse_math=False,
            fontsize=8,
        )

    def _list(self, figure: Figure, left: float, top: float) -> float:
        """The downspouts and their roofs, in what is left of the sheet's width."""
        if not self.listed:
            return top
        roofs = roof_words(self.findings.site)
        names = [f"{answer.name}: {roofs[answer.name]}" for answer in self.findings.downspouts]
        room = float(figure.get_size_inches()[0]) - left - 0.3
        return draw_downspouts(figure, left, top, names, _TITLE, int(room * _CHARACTERS))


def _downspouts(findings: Findings, plan: Plan | None) -> list[str]:
    """A line for each downspout: the roof it carries, and where its water ends or what is built."""
    roofs = roof_words(findings.site)
    if plan is None:
        ends = [water_phrase(answer) for answer in findings.downspouts]
    else:
        ways = {each.downspout: way_words(each.chosen) for each in plan.recommendations}
        ends = [ways[answer.name] for answer in findings.downspouts]
    return [
        f"{answer.name}: {end}; carries {roofs[answer.name]}"
        for answer, end in zip(findings.downspouts, ends, strict=True)
    ]


def _legend(figure: Figure, legend: Legend, left: float, top: float) -> float:
    """The legend in as many columns as the sheet takes; returns where it ends below, inches."""
    if not legend.handles:
        return top
    width, height = figure.get_size_inches()
    most = max(1, int((width - left) / _NARROW_COLUMN_IN))
    for columns in range(most, 0, -1):
        drawn = figure.legend(
            legend.handles,
            legend.words,
            loc="upper left",
            bbox_to_anchor=(left / width, top / height),
            borderaxespad=0.0,
            frameon=False,
            fontsize=7,
            labelspacing=0.35,
            handlelength=2.4,
            columnspacing=1.2,
            ncols=columns,
        )
        right, bottom = _extent(figure, drawn)
        if columns == 1 or right <= width - _EDGE_IN:
            break
        drawn.remove()
    return bottom


def _extent(figure: Figure, legend: DrawnLegend) -> tuple[float, float]:
    """Right and bottom of a legend on the sheet, inches."""
    box = legend.get_window_extent(figure.canvas.get_renderer())  # type: ignore[attr-defined]
    return box.x1 / figure.dpi, box.y0 / figure.dpi


def _sheet(findings: Findings, plan: Plan | None, scale: PaperScale, drawn: _Drawn) -> DrawingSheet:
    site = findings.site
    contours = "" if drawn.interval is None else f"Contours every {drawn.interval:g} {site.units}. "
    storm = Shown.of(site).rain(site.storm.depth)
    left_out = roofs_left_out(site)
    what = "What was found" if plan is None else "What is to be built"
    names = ", ".join(building.name for building in site.own_buildings)
    return DrawingSheet(
        name=FOUND if plan is None else WORK,
        figure=drawn.figure,
        scale=scale,
        caption=(
            f"{what} on the lot, {scale.words}. {contours}"
            f"Water stands as after a storm of {storm}.{left_out}"
        ),
        alternative=(
            f"Plan of the lot with {_counted(site.own_buildings, 'building')}"
            f"{f' ({names})' if names else ''}, contours, the verdict along each wall, standing "
            f"water and the area where water may be let go. {_listed(findings, plan)}"
        ),
    )


def _listed(findings: Findings, plan: Plan | None) -> str:
    """The downspouts in words, for those who do not see the plan."""
    if not findings.downspouts:
        return "No downspouts are given."
    return " ".join(f"Downspout {words}." for words in _downspouts(findings, plan))


def _counted(things: Sequence[object], name: str) -> str:
    return f"{len(things) or 'no'} {name}{'' if len(things) == 1 else 's'}"
