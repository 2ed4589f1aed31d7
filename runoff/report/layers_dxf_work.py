"""What a plan builds, drawn: pipe and trench with every station, pits, swales, extensions, soil.

In: a plan. Out: entities on the layers of the drawing.
"""

from __future__ import annotations

import textwrap

import numpy as np
from shapely.geometry import LineString, Polygon
from shapely.ops import unary_union

from runoff.discharge.ways import BuriedLine, Extension, SeepagePit, Swale
from runoff.planning import Plan
from runoff.quantities import Shown, format_slope
from runoff.report.layers_dxf_sheet import Sheet
from runoff.report.layers_dxf_text import spread
from runoff.report.layers_vector import area_of
from runoff.report.layers_work import pit_area, place_at
from runoff.report.plan_files import line_of
from runoff.site.model import Site
from runoff.words.dig_sheet import Style, dig_cells
from runoff.words.soil import soil_height

_LEADER_M = 0.6
_LABEL_REACH_M = 5.0
_WHAT_WIDTH = 40
_LABELS_APART = 1.5  # heights of text


def draw_work(sheet: Sheet, plan: Plan, style: Style | None = None) -> None:
    """Draw everything that is recommended; lengths in a line's labels as its dig table has them.

    Stations have their labels first; the others keep clear of those.
    """
    shown = Shown.of(plan.site)
    chosen = [(each.downspout, each.chosen) for each in plan.recommendations]
    for _, way in chosen:
        line = line_of(way)
        if line is not None:
            _line(sheet, line, plan.site, style)
    for name, way in chosen:
        if way.pit is not None:
            _pit(sheet, way.pit, name, shown)
        if way.extension is not None:
            _extension(sheet, way.extension, name, shown)
        if way.swale is not None:
            _swale(sheet, way.swale, name, shown)
    _soil(sheet, plan, shown)


def _extension(sheet: Sheet, extension: Extension, name: str, shown: Shown) -> None:
    sheet.line("EXTENSION", [extension.start, extension.end])
    words = f"{name}: extension {shown.far(extension.length_m)}"
    sheet.label(f"{words}, falls {shown.height(extension.fall_m)}", extension.end)


def _swale(sheet: Sheet, swale: Swale, name: str, shown: Shown) -> None:
    """Its bottom's middle line and its edges at full depth; heights of the bottom at both ends."""
    section = swale.section
    half = section.bottom_m / 2 + section.side_run * section.depth_m
    sheet.line("SWALE", swale.line)
    sheet.area("SWALE", _strip(swale.line, half))
    long = shown.far(float(swale.stations_m[-1]))
    first = (
        f"{name}: swale {long}, {shown.height(section.depth_m)} deep, bottom "
        f"{shown.height(section.bottom_m)} wide, sides {section.side_run:g}:1, "
        f"{format_slope(swale.slope)}; bottom {shown.height(float(swale.bottom_m[0]))}"
    )
    sheet.label(first, tuple(swale.line[0]))
    sheet.label(f"bottom {shown.height(float(swale.bottom_m[-1]))}", tuple(swale.line[-1]))


def _line(sheet: Sheet, line: BuriedLine, site: Site, style: Style | None) -> None:
    """Pipe and trench, and across them a mark and a label at every station of the dig table."""
    sheet.line("PIPE", line.route)
    sheet.area("TRENCH", _strip(line.route, line.trench_width_m / 2))
    pitch = _LABELS_APART * sheet.text_height_m
    labels = [_station(cells) for cells in dig_cells(line, site.units, style)]
    stations = [row.station_m for row in line.rows]
    places = spread(stations, [len(words) * pitch for words in labels])
    side = _free_side(line, site)
    half = line.trench_width_m / 2
    for station, place, words in zip(stations, places, labels, strict=True):
        at, ahead = np.array(place_at(line, station)), _direction(line, station)
        aside = side * np.array([ahead[1], -ahead[0]])
        foot = at + half * aside
        tip = foot + _LEADER_M * aside + (place - station) * ahead
        sheet.line("TEXT", [at - half * aside, foot, tip])
        toward = (float(aside[0]), float(aside[1]))
        # From one line of a label to the next is along the pipe; they are to be read downward.
        downward = sheet.reads_to_left(toward) == (side > 0)
        start = tip + 0.5 * sheet.text_height_m * aside
        for number, text in enumerate(words if downward else reversed(words)):
            sheet.label(text, tuple(start + number * pitch * ahead), toward, fixed=True)


def _station(cells: tuple[str, ...]) -> list[str]:
    """The lines of a station's label: its heights, then what is there."""
    what = textwrap.wrap(cells[-1], _WHAT_WIDTH)
    return [f"{cells[0]}: invert {cells[2]}, dig {cells[3]}", *what]


def _free_side(line: BuriedLine, site: Site) -> int:
    """The side of a line with less building on it: 1 for its right, -1 for its left."""
    house = unary_union([building.outline for building in site.buildings])
    way = LineString(line.route)
    left, right = (
        way.buffer(reach, single_sided=True).intersection(house).area
        for reach in (_LABEL_REACH_M, -_LABEL_REACH_M)
    )
    return 1 if right <= left else -1


def _pit(sheet: Sheet, pit: SeepagePit, name: str, shown: Shown) -> None:
    body = pit.governing.pit
    if body.kind == "cylinder":
        sheet.circle("PIT", pit.center, body.length_m / 2)
        plan = f"{shown.far(body.length_m)} across"
    else:
        sheet.area("PIT", pit_area(pit))
        plan = f"{shown.far(body.length_m)} by {shown.far(body.width_m)}"
    lines = (
        f"{name}: seepage pit (dry well), roof water only",
        f"{plan}, dig {shown.far(pit.dig_depth_m)} deep",
        f"inlet's invert {shown.height(pit.inlet_m)}",
        f"bottom {shown.height(pit.ground_m - pit.dig_depth_m)}",
    )
    x, y = pit.center
    for number, words in enumerate(lines):
        sheet.label(words, (x, y - number * _LABELS_APART * sheet.text_height_m), fixed=True)


def _soil(sheet: Sheet, plan: Plan, shown: Shown) -> None:
    if plan.grade is None:
        return
    grid = plan.findings.terrain.grid
    for wedge in plan.grade.wedges:
        if not len(wedge.cells):
            continue
        area = area_of(wedge.cells, grid)
        for part in area.geoms:
            sheet.area("GRADE", part)
        most = soil_height(plan.site, wedge.height)
        words = f"soil up to {most} at the wall, {shown.far(wedge.out)} out"
        sheet.label(words, area.representative_point().coords[0])


def _strip(way: np.ndarray, half_m: float) -> Polygon:
    """The ground within half a width of a line, square at its ends."""
    return LineString(way).buffer(half_m, cap_style="flat", join_style="mitre")


def _direction(line: BuriedLine, station: float) -> np.ndarray:
    """The unit vector along a line at a station; at a bend that of the part before it."""
    steps = np.diff(line.route, axis=0)
    lengths = np.hypot(*steps.T)
    part = int(np.searchsorted(np.cumsum(lengths), station - 1e-6))
    kept = min(part, len(steps) - 1)
    return steps[kept] / lengths[kept]
