"""The part of the plan that one job lies in, to a scale, with the tapes by which it is staked out.

In: findings and the plan that answers them. Out: sheets: where a downspout's work lies, where soil
lies along a building's walls, and the small plan of a report's first page.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.transforms import Bbox
from numpy.typing import NDArray
from shapely import LineString, box

from runoff.discharge.ways import Recommendation
from runoff.foundation.model import SoilWedge
from runoff.foundation.walls import walls_of
from runoff.inspection import Findings
from runoff.quantities import Shown
from runoff.report.drawings.sheets import DrawingSheet
from runoff.report.drawings.staking import Corner, Stake, stakes_of
from runoff.report.maps.frame import Frame, Legend, draw_scale_bar, frame_view
from runoff.report.maps.labels import HALO, Labels
from runoff.report.maps.lot import draw_plan
from runoff.report.maps.water import draw_downspouts
from runoff.report.maps.work import draw_work
from runoff.report.names import way_words
from runoff.report.sections.sheet import PaperScale, scales
from runoff.site.model import Building, Site

if TYPE_CHECKING:
    from runoff.planning import Plan

View = tuple[float, float, float, float]
Point = tuple[float, float]

_FOOT_IN, _EDGE_IN = 0.46, 0.04
_AROUND_M, _OF_SIDE = 1.0, 0.06
_LEAST_VIEW_M = 4.0
# So much larger a plan has to become for a tape to run out of it.
_TWICE = 2.0
TAPE: dict[str, Any] = {"color": "0.1", "linewidth": 0.7, "linestyle": (0, (6, 2)), "zorder": 16}
_ON_TAPE: dict[str, Any] = {
    "fontsize": 6.5,
    "ha": "center",
    "va": "center",
    "path_effects": HALO,
    "parse_math": False,
    "zorder": 22,
}
_SHARES = (0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74, 0.18, 0.82)
_ROUND: dict[str, Any] = {"boxstyle": "circle,pad=0.2", "facecolor": "white", "edgecolor": "black"}
_SQUARE: dict[str, Any] = {"boxstyle": "square,pad=0.2", "facecolor": "black", "edgecolor": "black"}


class _Within(Labels):
    """Labels of what is in view alone; a `muted` one is left out, with its marks kept clear."""

    muted = False

    def add(
        self, text: str, at: Point | list[Point], urgency: int, *args: Any, **style: Any
    ) -> None:
        """As `Labels.add`, for the anchors that are in view."""
        (left, right), (low, high) = self.axes.get_xlim(), self.axes.get_ylim()
        anchors = at if isinstance(at, list) else [at]
        seen = [(x, y) for x, y in anchors if left < x < right and low < y < high]
        if seen and not self.muted:
            super().add(text, seen, urgency, *args, **style)


def job_sheet(plan: Plan, each: Recommendation, room_in: tuple[float, float]) -> DrawingSheet:
    """Where the work of a downspout lies, with the tapes to every point that it is staked out by.

    Parameters
    ----------
    plan : Plan
    each : Recommendation
    room_in : (float, float), inches
        The width that the drawing takes, and the most that it may be high.

    Returns
    -------
    DrawingSheet
        At the largest scale at which all points and the corners of their tapes are on it.
    """
    site, shown = plan.site, Shown.of(plan.site)
    stakes = stakes_of(site, each.chosen)
    figure, axes, scale = _sheet(plan.findings, _to_show(site, stakes, room_in), room_in)
    labels = _drawn(axes, plan.findings, _only(plan, each))
    for number, stake in enumerate(stakes, start=1):
        _mark(axes, stake.at, str(number))
        labels.keep_clear(stake.at[0], stake.at[1], 7.0)
    _corners(axes, _of_stakes(stakes))
    _tapes(axes, stakes, labels, shown)
    labels.place()
    name = each.downspout
    told = "; ".join(
        f"{number} {stake.name}: {', '.join(filter(None, stake.words(shown)))}"
        for number, stake in enumerate(stakes, start=1)
    )
    return DrawingSheet(
        name=f"place of '{name}'",
        figure=figure,
        scale=scale,
        caption=f"Where the work of downspout '{name}' lies, {scale.words}.",
        alternative=f"Part of the plan with the {way_words(each.chosen)} of '{name}': {told}.",
    )


def _to_show(site: Site, stakes: Sequence[Stake], room_in: tuple[float, float]) -> list[Point]:
    """The points and the corners of their tapes; the nearer corners alone where that is larger."""
    points = [stake.at for stake in stakes]
    every = points + [corner.at for stake in stakes for corner, _ in stake.tapes]
    near = [min(stake.tapes, key=lambda tape: tape[1]) for stake in stakes if stake.tapes]
    nearer = points + [corner.at for corner, _ in near]
    ratio, larger = (_fitting(site, _box(some), room_in).ratio for some in (every, nearer))
    return nearer if ratio >= _TWICE * larger else every


def soil_sheet(
    plan: Plan, building: Building, wedges: Sequence[SoilWedge], room_in: tuple[float, float]
) -> DrawingSheet:
    """Where soil lies along the walls of a building; each stretch has its number in the list."""
    findings, site = plan.findings, plan.site
    left, bottom, right, top = building.outline.bounds
    grid = findings.terrain.grid
    cells = [wedge.cells for wedge in wedges if len(wedge.cells)]
    points = [(left, bottom), (right, top)]
    if cells:
        rows, columns = np.vstack(cells).T
        x = grid.x0 + (columns + 0.5) * grid.cell_size
        y = grid.y0 + (grid.rows - rows - 0.5) * grid.cell_size
        points += [(float(x.min()), float(y.min())), (float(x.max()), float(y.max()))]
    figure, axes, scale = _sheet(findings, points, room_in)
    labels = _drawn(axes, findings, _only(plan, None))
    walls = {(wall.building, wall.number): wall for wall in walls_of(site.buildings)}
    for number, wedge in enumerate(wedges, start=1):
        wall = walls[wedge.run.building, wedge.run.wall]
        ends = wall.point(np.array([wedge.run.start_m, wedge.run.end_m]), np.zeros(2))
        axes.plot(*ends.T, color="black", linewidth=3.0, solid_capstyle="butt", zorder=15)
        middle = ends.mean(axis=0) - 0.6 * np.array(wall.outward) * scale.ratio / 150
        _mark(axes, (float(middle[0]), float(middle[1])), str(number))
        labels.keep_clear(float(middle[0]), float(middle[1]), 7.0)
    labels.place()
    return DrawingSheet(
        name=f"soil at '{building.name}'",
        figure=figure,
        scale=scale,
        caption=f"Where soil lies along the walls of '{building.name}', {scale.words}.",
        alternative=(
            f"Plan of '{building.name}' with the soil along its walls; the numbers are those of "
            "the stretches in the table."
        ),
    )


def home_sheet(plan: Plan, room_in: tuple[float, float]) -> DrawingSheet:
    """The whole lot, small: the buildings, the downspouts by their numbers, what is to be built."""
    findings = plan.findings
    site = findings.site
    if site.lot is not None:
        left, bottom, right, top = site.lot.boundary.bounds
        points = [(left, bottom), (right, top)]
    else:
        boxes = [building.outline.bounds for building in site.own_buildings]
        points = [(bounds[k], bounds[k + 1]) for bounds in boxes for k in (0, 2)]
        points += [answer.start for answer in findings.downspouts]
        points += [
            stake.at for each in plan.recommendations for stake in stakes_of(site, each.chosen)
        ]
    figure, axes, scale = _sheet(findings, points, room_in, whole=True)
    _drawn(axes, findings, plan, numbered=True).place()
    return DrawingSheet(
        name="small plan",
        figure=figure,
        scale=scale,
        caption=f"The lot and what is to be built on it, {scale.words}.",
        alternative="The lot from above with its buildings, and what is to be built: "
        + "; ".join(
            f"{number} {each.downspout}, {way_words(each.chosen)}"
            for number, each in enumerate(plan.recommendations, start=1)
        )
        + ".",
    )


def _box(
    points: Sequence[Point], share: float = _OF_SIDE
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lower left and upper right of what is shown, with ground around the points."""
    array = np.array(points, dtype=np.float64).reshape(-1, 2)
    low, high = (array.min(axis=0), array.max(axis=0)) if len(array) else (np.zeros(2), np.ones(2))
    pad = _AROUND_M + share * float((high - low).max())
    short = np.maximum(_LEAST_VIEW_M - (high - low + 2 * pad), 0.0) / 2
    return low - pad - short, high + pad + short


def _fitting(
    site: Site,
    ground: tuple[NDArray[np.float64], NDArray[np.float64]],
    room_in: tuple[float, float],
) -> PaperScale:
    """The largest scale at which a piece of ground, by two corners, fits its room."""
    room = np.array(room_in) - (2 * _EDGE_IN, _FOOT_IN + _EDGE_IN)
    every = scales(site.units)
    size = ground[1] - ground[0]
    fits = (one for one in every if (size * one.inches_per_metre <= room + 1e-9).all())
    return next(fits, every[-1])


def _sheet(
    findings: Findings,
    points: Sequence[Point],
    room_in: tuple[float, float],
    whole: bool = False,
) -> tuple[Figure, Axes, PaperScale]:
    """A figure with axes in plan metres that show some points, at the largest scale that does.

    It is as wide as its room, but a `whole` plan, which has nothing beside it, is as wide as it is.
    """
    site = findings.site
    low, high = _box(points, 0.0 if whole else _OF_SIDE)
    width = room_in[0] - 2 * _EDGE_IN
    scale = _fitting(site, (low, high), room_in)
    size = (high - low) * scale.inches_per_metre
    if not whole:
        wider = max(width - float(size[0]), 0.0) / scale.inches_per_metre / 2
        low, high = low - np.array([wider, 0.0]), high + np.array([wider, 0.0])
        size = (high - low) * scale.inches_per_metre
    wide_in, tall_in = float(size[0]) + 2 * _EDGE_IN, float(size[1]) + _FOOT_IN + _EDGE_IN
    figure = Figure(figsize=(wide_in, tall_in))
    FigureCanvasAgg(figure)
    axes = figure.add_axes(
        (_EDGE_IN / wide_in, _FOOT_IN / tall_in, size[0] / wide_in, size[1] / tall_in)
    )
    frame_view(axes, (float(low[0]), float(high[0]), float(low[1]), float(high[1])))
    bar_room = min(float(size[0]), 4.0)
    frame = Frame(0.1, _FOOT_IN, bar_room, 0.0, 0.0, scale.inches_per_metre)
    bar = draw_scale_bar(figure, frame, site.units)
    words = f"scale {scale.words}"
    figure.text(
        0.1 + bar + 0.35,
        _FOOT_IN - 0.33,
        words,
        transform=figure.dpi_scale_trans,
        parse_math=False,
        fontsize=7,
    )
    _north(axes, site)
    return figure, axes, scale


def _north(axes: Axes, site: Site) -> None:
    """An arrow in the upper right corner; where north is not known it is the plan's up."""
    turn = math.radians(site.north_degrees or 0.0)
    x, y = axes.transAxes.transform((1.0, 1.0))
    inch = axes.figure.dpi
    tip = (
        x - 0.22 * inch + 0.16 * inch * math.sin(turn),
        y - 0.26 * inch + 0.16 * inch * math.cos(turn),
    )
    tail = (
        x - 0.22 * inch - 0.16 * inch * math.sin(turn),
        y - 0.26 * inch - 0.16 * inch * math.cos(turn),
    )
    tip, tail = (tuple(axes.transData.inverted().transform(point)) for point in (tip, tail))
    axes.annotate(
        "N" if site.north_degrees is not None else "up",
        xy=tip,
        xytext=tail,
        arrowprops={"arrowstyle": "-|>", "linewidth": 1.1, "color": "black"},
        ha="center",
        va="center",
        fontsize=7,
        fontweight="bold",
        path_effects=HALO,
        zorder=25,
    )


def _drawn(axes: Axes, findings: Findings, plan: Plan, numbered: bool = False) -> _Within:
    """The lot and what is built on it; with `numbered` downspouts nothing of that is named."""
    labels, legend = _Within(axes), Legend()
    draw_plan(axes, findings.site, labels, legend)
    labels.muted = numbered
    if numbered:
        draw_downspouts(axes, findings, labels)
    draw_work(axes, plan, labels, legend)
    right, top = axes.transAxes.transform((1.0, 1.0))
    inch = axes.figure.dpi
    x, y = axes.transData.inverted().transform((right - 0.22 * inch, top - 0.26 * inch))
    labels.keep_clear(float(x), float(y), 14.0)
    return labels


def _only(plan: Plan, each: Recommendation | None) -> Plan:
    """The same plan with one downspout's work alone, or with the soil at the walls alone."""
    if each is None:
        return replace(plan, recommendations=())
    return replace(plan, recommendations=(each,), grade=each.chosen.correction)


def _of_stakes(stakes: Sequence[Stake]) -> list[Corner]:
    found = {corner.letter: corner for stake in stakes for corner, _ in stake.tapes}
    return [found[letter] for letter in sorted(found, key=lambda letter: (len(letter), letter))]


def _corners(axes: Axes, corners: Sequence[Corner]) -> None:
    """The letters of corners, in the building, so that they hide nothing that stands at it."""
    for corner in corners:
        axes.annotate(
            corner.letter,
            xy=corner.at,
            xytext=(-7.0 * corner.outward[0], -7.0 * corner.outward[1]),
            textcoords="offset points",
            annotation_clip=True,
            ha="center",
            va="center",
            fontsize=6.5,
            fontweight="bold",
            color="white",
            bbox=_SQUARE,
            zorder=23,
        )


def _mark(axes: Axes, at: Point, words: str) -> None:
    axes.annotate(
        words,
        xy=at,
        ha="center",
        va="center",
        fontsize=6.5,
        fontweight="bold",
        bbox=_ROUND,
        zorder=24,
    )


def _tapes(axes: Axes, stakes: Sequence[Stake], labels: Labels, shown: Shown) -> None:
    """A line for each tape with its length on it; of points at a wall none: they are listed."""
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    window = box(left, low, right, high)
    taken: list[Bbox] = [_about(axes, stake.at) for stake in stakes]
    for stake in stakes:
        if stake.wall or not stake.is_drawn:
            continue
        for corner, far in stake.tapes:
            seen = LineString([corner.at, stake.at]).intersection(window)
            if seen.is_empty:
                continue
            ends = np.asarray(seen.coords)
            axes.plot(*ends.T, **TAPE)
            labels.avoid(ends)
            _along(axes, ends, f"{corner.letter} {shown.far(far)}", labels, taken)


def _about(axes: Axes, at: Point) -> Bbox:
    """What a numbered mark takes, pixels."""
    x, y = axes.transData.transform(at)
    reach = 8.0 * axes.figure.dpi / 72.0
    return Bbox.from_extents(x - reach, y - reach, x + reach, y + reach)


def _along(
    axes: Axes, ends: NDArray[np.float64], words: str, labels: Labels, taken: list[Bbox]
) -> None:
    """Words upon a line, turned with it, never upside down, where they hide nothing; else none."""
    dx, dy = ends[1] - ends[0]
    turn = (math.degrees(math.atan2(dy, dx)) + 90.0) % 180.0 - 90.0
    frame = axes.get_window_extent()
    for share in _SHARES:
        x, y = ends[0] + share * (ends[1] - ends[0])
        text = axes.text(float(x), float(y), words, rotation=turn, **_ON_TAPE)
        here = text.get_window_extent(axes.figure.canvas.get_renderer())  # type: ignore[attr-defined]
        inside = frame.x0 < here.x0 and here.x1 < frame.x1 and frame.y0 < here.y0
        if inside and here.y1 < frame.y1 and not any(here.overlaps(other) for other in taken):
            taken.append(here)
            _keep_off(labels, here)
            return
        text.remove()


def _keep_off(labels: Labels, here: Bbox) -> None:
    """Keep labels off a box of pixels, as off squares along its longer side."""
    axes = labels.axes
    radius = max(min(here.width, here.height) / 2, 3.0)
    steps = max(1, math.ceil(max(here.width, here.height) / (2 * radius)))
    for share in (np.arange(steps) + 0.5) / steps:
        across = here.width > here.height
        px = here.x0 + share * here.width if across else (here.x0 + here.x1) / 2
        py = (here.y0 + here.y1) / 2 if across else here.y0 + share * here.height
        x, y = axes.transData.inverted().transform((px, py))
        labels.keep_clear(float(x), float(y), radius * 72.0 / axes.figure.dpi)
