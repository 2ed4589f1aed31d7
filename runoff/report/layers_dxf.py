"""The proposed work as a drawing for a contractor's program: DXF, in the site's own unit.

In: a plan. Out: one DXF file of version AC1024, layers named by trade. On a map the drawing lies
in map coordinates. Lines are flat: heights stand in the labels, as the dig table has them.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from pathlib import Path

import ezdxf
import numpy as np
from ezdxf.document import Drawing
from pyproj import CRS
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from runoff.planning import Plan
from runoff.report.files import TEXT_MARK, whole_file
from runoff.report.layers_dxf_sheet import Sheet, Unit
from runoff.report.layers_dxf_work import draw_work
from runoff.report.layers_place import Place
from runoff.site.model import Downspout, Site
from runoff.words.dig_sheet import Style

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
    document = ezdxf.new("R2010", setup=["linetypes"])
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
