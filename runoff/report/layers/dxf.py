"""The proposed work as a drawing for a contractor's program: DXF, in the site's own unit.

In: a plan. Out: one DXF file of version AC1024, layers named by trade. On a map the drawing lies
in map coordinates. Lines are flat: heights stand in the labels, as the dig table has them.

In: names as the user wrote them, stations of labels. Out: the content of TEXT entities, places.

In: plan metres. Out: entities in the drawing's unit, on the map where the plan lies on one.

In: a plan. Out: entities on the layers of the drawing.
"""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import assert_never

import numpy as np
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace
from numpy.typing import ArrayLike, NDArray
from pyproj import CRS
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from runoff.discharge.ways import AsItIs, BuriedLine, Extension, SeepagePit, Swale
from runoff.planning import Plan
from runoff.quantities import Shown
from runoff.report.files import TEXT_MARK, whole_file
from runoff.report.layers.formats import Place, area_of
from runoff.report.layers.work import pit_area, place_at
from runoff.report.names import printable
from runoff.site.model import Downspout, Site
from runoff.words.dig_sheet import Style, dig_cells
from runoff.words.walls import soil_height

_BACKSLASH = "\\U+005C"


def drawing_text(text: str) -> str:
    r"""The content of a TEXT entity that is shown as `text`.

    In a drawing ``%%d`` is a degree sign, ``^J`` the end of a line and ``\U+0041`` an A; names that
    happen to hold these are written so that they come out as they are.

    Examples
    --------
    >>> drawing_text("50% of 3%%d"), drawing_text("a^Jb"), drawing_text(r"\U+0041")
    ('50% of 3%%%%%%d', 'a^ Jb', '\\U+005CU+0041')
    """
    shown = printable(text)
    shown = re.sub(r"\\(?=[UM]\+)", lambda _: _BACKSLASH, shown)
    shown = re.sub("%{2,}", lambda found: "%%%" * len(found[0]), shown)
    return shown.replace("^", "^ ")


def spread(places: Sequence[float], rooms: Sequence[float]) -> list[float]:
    """Places in rising order, moved up where they lie in the room that those before them take.

    Examples
    --------
    >>> spread([0.0, 0.1, 0.2, 5.0], [1.0, 2.0, 1.0, 1.0])
    [0.0, 1.0, 3.0, 5.0]
    """
    found: list[float] = []
    free = -math.inf
    for place, room in zip(places, rooms, strict=True):
        found.append(max(place, free))
        free = found[-1] + room
    return found


_WIDE, _PITCH = 0.75, 1.5  # heights of text: a letter's width, from line to line
_MOVES = (0, -1, 1, -2, 2, -3, 3)


@dataclass(frozen=True)
class Unit:
    """A unit of length of a drawing: its name, metres in it, and its ``$INSUNITS`` code."""

    name: str
    metres: float
    code: int


@dataclass(frozen=True)
class Sheet:
    """Where entities go; `taken` is the ground under the texts so far."""

    space: Modelspace
    place: Place
    unit: Unit
    text_height_m: float = 0.15
    taken: list[Polygon] = field(default_factory=list)

    def points(self, plan: ArrayLike) -> NDArray[np.float64]:
        """Drawing coordinates, (n, 2), of plan positions in metres."""
        on_map = self.place.points(np.asarray(plan, dtype=np.float64).reshape(-1, 2))
        return on_map * (self.place.metres_per_unit / self.unit.metres)

    def line(self, layer: str, way: ArrayLike, closed: bool = False) -> None:
        """A line through (k, 2) positions."""
        points = [(float(x), float(y)) for x, y in self.points(way)]
        self.space.add_lwpolyline(points, close=closed, dxfattribs={"layer": layer})

    def area(self, layer: str, area: Polygon) -> None:
        """The edges of an area, holes too."""
        for ring in (area.exterior, *area.interiors):
            self.line(layer, np.asarray(ring.coords)[:-1, :2], closed=True)

    def circle(self, layer: str, center: tuple[float, float], radius_m: float) -> None:
        """A circle."""
        x, y = self.points(center)[0]
        radius = radius_m / self.unit.metres
        self.space.add_circle((float(x), float(y)), radius, dxfattribs={"layer": layer})

    def label(
        self,
        words: str,
        at: tuple[float, ...],
        toward: tuple[float, float] = (1.0, 0.0),
        fixed: bool = False,
    ) -> None:
        """A text that starts at a place and runs toward a direction of the plan, never overhead.

        It moves aside where a text stands already, unless it is `fixed`.
        """
        turn, overhead = self._turn(toward)
        x, y = self.points(self._free(words, at, toward, fixed))[0]
        text = self.space.add_text(
            drawing_text(words),
            height=self.text_height_m / self.unit.metres,
            rotation=turn + 180.0 if overhead else turn,
            dxfattribs={"layer": "TEXT"},
        )
        side = TextEntityAlignment.MIDDLE_RIGHT if overhead else TextEntityAlignment.MIDDLE_LEFT
        text.set_placement((float(x), float(y)), align=side)

    def _free(
        self, words: str, at: tuple[float, ...], toward: tuple[float, float], fixed: bool
    ) -> NDArray[np.float64]:
        """The first place beside `at` where the text covers no other."""
        ahead = np.array(toward) / math.hypot(*toward)
        aside = np.array([-ahead[1], ahead[0]])
        long, half = len(words) * _WIDE * self.text_height_m, 0.5 * self.text_height_m
        start = np.array(at[:2])
        for lines in (0,) if fixed else _MOVES:
            moved = start + lines * _PITCH * self.text_height_m * aside
            far = moved + long * ahead
            box = Polygon(
                [moved - half * aside, far - half * aside, far + half * aside, moved + half * aside]
            )
            if not any(box.intersects(other) for other in self.taken):
                break
        else:
            moved = start
        self.taken.append(box)
        return moved

    def reads_to_left(self, toward: tuple[float, float]) -> bool:
        """Whether the lines of labels that run toward a direction follow each other to its left."""
        return self._turn(toward)[1]

    def _turn(self, toward: tuple[float, float]) -> tuple[float, bool]:
        """A direction of the plan in the drawing, degrees, and whether a text would be overhead."""
        start, ahead = self.points([(0.0, 0.0), toward])
        turn = math.degrees(math.atan2(ahead[1] - start[1], ahead[0] - start[0]))
        return turn, not -90.0 < turn <= 90.0


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
        if way.line is not None:
            _line(sheet, way.line, plan.site, style)
    for name, way in chosen:
        match way.design:
            case Extension() as extension:
                _extension(sheet, extension, name, shown)
            case Swale() as swale:
                _swale(sheet, swale, name, shown)
            case SeepagePit() as pit:
                _pit(sheet, pit, name, shown)
            case AsItIs() | BuriedLine() | None:
                pass
            case unknown:
                assert_never(unknown)
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
        f"{shown.slope(swale.slope)}; bottom {shown.height(float(swale.bottom_m[0]))}"
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
        most = soil_height(plan.site, wedge.height_m)
        words = f"soil up to {most} at the wall, {shown.far(wedge.out_m)} out"
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


US_SURVEY_FOOT_M = 1200.0 / 3937.0


@dataclass(frozen=True)
class DrawingLayer:
    """A layer of the drawing: color by number, kind of line, its width in 1/100 mm."""

    name: str
    color: int
    line: str
    width: int


DRAWING_LAYERS = (
    DrawingLayer("LOT", 7, "PHANTOM", 35),
    DrawingLayer("BUILDING", 7, "CONTINUOUS", 50),
    DrawingLayer("PAVING", 8, "CONTINUOUS", 13),
    DrawingLayer("KEEP_OUT", 3, "DASHED2", 25),
    DrawingLayer("DOWNSPOUT", 5, "CONTINUOUS", 35),
    DrawingLayer("PIPE", 1, "DASHED", 50),
    DrawingLayer("TRENCH", 8, "DOT", 18),
    DrawingLayer("PIT", 1, "CONTINUOUS", 70),
    DrawingLayer("SWALE", 4, "DASHDOT", 35),
    DrawingLayer("EXTENSION", 6, "CONTINUOUS", 70),
    DrawingLayer("GRADE", 30, "DIVIDE", 25),
    DrawingLayer("TEXT", 7, "CONTINUOUS", 18),
)

_METRES, _FEET, _US_SURVEY_FEET = 6, 2, 21  # $INSUNITS
_DECIMAL = 2
_NOTE_WIDTH = 100
_DOWNSPOUT_M, _NAME_M = 0.1, 0.4


def write_drawing(path: Path, plan: Plan, place: Place, style: Style | None = None) -> None:
    """Write the proposed work, whole or not at all.

    Parameters
    ----------
    path : Path
    plan : Plan
    place : Place
    style : {"tape", "tenths", "mm", "cm"}, optional
        How the labels of a line write lengths, as in its dig table.
    """
    unit = drawing_unit(plan.site)
    document = _document(plan.site, unit)
    sheet = Sheet(document.modelspace(), place, unit)
    draw_work(sheet, plan, style)
    _site(sheet, plan.site)
    _notes(sheet, plan, place)
    with whole_file(path) as temporary:
        document.saveas(temporary)


def drawing_unit(site: Site) -> Unit:
    """The unit of a site's drawing: its own, and of feet those of its map system.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> drawing_unit(SimpleNamespace(units="m", georeference=None)).name
    'meters'
    >>> on_map = SimpleNamespace(metres_per_unit=1200.0 / 3937.0)
    >>> drawing_unit(SimpleNamespace(units="ft", georeference=on_map)).name
    'US survey feet'
    """
    if site.units == "m":
        return Unit("meters", 1.0, _METRES)
    on_map = site.georeference
    if on_map is not None and abs(on_map.metres_per_unit - US_SURVEY_FOOT_M) < 1e-9:
        return Unit("US survey feet", US_SURVEY_FOOT_M, _US_SURVEY_FEET)
    return Unit("feet", 0.3048, _FEET)


def _document(site: Site, unit: Unit) -> Drawing:
    document = new("R2010", setup=["linetypes"])
    document.header["$INSUNITS"] = unit.code
    document.header["$MEASUREMENT"] = 1 if site.units == "m" else 0
    document.header["$LUNITS"] = _DECIMAL
    document.header["$LTSCALE"] = 0.3048 / unit.metres
    document.header.custom_vars.append(TEXT_MARK, "proposed work")
    # The plain stroke font of drawings holds few scripts; names may be in any.
    document.styles.get("Standard").dxf.font = "arial.ttf"
    for layer in DRAWING_LAYERS:
        document.layers.add(
            layer.name, color=layer.color, linetype=layer.line, lineweight=layer.width
        )
    return document


def _site(sheet: Sheet, site: Site) -> None:
    """What the work must keep clear of, and where it starts."""
    if site.lot is not None:
        sheet.area("LOT", site.lot.boundary)
    for building in site.buildings:
        sheet.area("BUILDING", building.outline)
        sheet.label(building.name, building.outline.representative_point().coords[0])
    for paving in site.paving:
        sheet.area("PAVING", paving.outline)
    for keep_out in site.keep_outs:
        sheet.area("KEEP_OUT", keep_out.area)
        words = f"{keep_out.name} ({keep_out.kind}): {keep_out.allowed} allowed"
        sheet.label(words, keep_out.area.representative_point().coords[0])
    for downspout in site.downspouts:
        sheet.circle("DOWNSPOUT", (downspout.x, downspout.y), _DOWNSPOUT_M)
        _name(sheet, downspout, site)


def _name(sheet: Sheet, downspout: Downspout, site: Site) -> None:
    """A downspout's name, inside its building, where no work lies."""
    at = Point(downspout.x, downspout.y)
    houses: list[BaseGeometry] = [building.outline for building in site.buildings]
    house = min(houses, key=at.distance, default=at)
    way = np.array(house.representative_point().coords[0]) - np.array(at.coords[0])
    length = float(np.hypot(*way))
    inside = way / length if length else np.array([1.0, 0.0])
    start = np.array(at.coords[0]) + _NAME_M * inside
    sheet.label(downspout.name, tuple(start), (1.0, 0.0) if inside[0] >= 0 else (-1.0, 0.0))


def _notes(sheet: Sheet, plan: Plan, place: Place) -> None:
    """Below all of it: what the drawing is, its unit and system, and the cautions."""
    where = f"Map system: {CRS(place.crs).name}" if place.on_map else "Local plan of the lot"
    notes = [
        plan.site.name,
        f"Drawing unit: {sheet.unit.name}. {where}. Heights are on the survey's datum.",
        "Proposed work; dimensions as labelled. Lines are flat: heights stand in the labels.",
        *plan.cautions,
    ]
    left, bottom = _corner(plan)
    for note in notes:
        for line in textwrap.wrap(note, _NOTE_WIDTH):
            bottom -= 2 * sheet.text_height_m
            sheet.label(line, (left, bottom))


def _corner(plan: Plan) -> tuple[float, float]:
    """The lower left corner of all that is drawn, plan metres."""
    site = plan.site
    shapes = [building.outline for building in site.buildings]
    shapes += [paving.outline for paving in site.paving]
    shapes += [] if site.lot is None else [site.lot.boundary]
    corners = [shape.bounds[:2] for shape in shapes] + [(one.x, one.y) for one in site.downspouts]
    left, bottom = np.min(corners, axis=0) if corners else (0.0, 0.0)
    return float(left), float(bottom) - 1.0
