"""How each layer looks, and the open style files that say so: Styled Layer Descriptor 1.0 of the
OGC (02-070), one a layer.

In: rules, each with the features it is for and how they are drawn. Out: XML that programs for maps
read. Only what the standard itself names is used: dashes, widths, and its six marks.

In: the names of layers, and the heights of the ground. Out: the text of their style files.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

import numpy as np
from numpy.typing import NDArray

from runoff.foundation.model import REASONS
from runoff.report.files import TEXT_MARK
from runoff.report.layers.formats import CODE_COLORS

MarkName = Literal["square", "circle", "triangle", "star", "cross", "x"]

_SLD, _OGC = "http://www.opengis.net/sld", "http://www.opengis.net/ogc"
_LABEL_SIZE, _HALO = 11, 1.5


@dataclass(frozen=True)
class Pen:
    """A line: color, width and dashes in pixels."""

    color: str
    width: float
    dashes: tuple[float, ...] = ()


@dataclass(frozen=True)
class Area:
    """An area: its color (None for none) and how opaque, its edge, and marks strewn over it."""

    color: str | None
    edge: Pen
    opacity: float = 1.0
    strewn: MarkName | None = None


@dataclass(frozen=True)
class Mark:
    """A point: mark, size in pixels, inside and edge."""

    name: MarkName
    size: float
    color: str
    edge: Pen


@dataclass(frozen=True)
class Label:
    """The text of a field, a little beside a point or on a line or area."""

    field: str


Symbol = Pen | Area | Mark | Label


@dataclass(frozen=True)
class Rule:
    """How some features are drawn: those whose `field` holds `value`, or all where it is None."""

    title: str
    symbols: tuple[Symbol, ...]
    field: str | None = None
    value: str = ""


@dataclass(frozen=True)
class Shade:
    """One color of a grid: the value it is for, its words, and how opaque it is."""

    value: float
    color: str
    words: str
    opacity: float = 1.0


def vector_style(layer: str, title: str, rules: Sequence[Rule]) -> str:
    """The style file of a layer of points, lines or areas.

    Examples
    --------
    >>> text = vector_style("lot", "lot", [Rule("lot line", (Pen("#000000", 1.4, (9, 2)),))])
    >>> "stroke-dasharray" in text
    True
    """
    root, style = _document(layer, title)
    for number, rule in enumerate(rules, start=1):
        found = _add(style, "Rule")
        _add(found, "Name", f"rule {number}")
        _add(found, "Title", rule.title)
        if rule.field is not None:
            _filter(found, rule.field, rule.value)
        for symbol in rule.symbols:
            _symbol(found, symbol)
    return _text(root)


def raster_style(layer: str, title: str, shades: Sequence[Shade]) -> str:
    """The style file of a grid.

    Examples
    --------
    >>> "ColorMapEntry" in raster_style("depth", "depth", [Shade(0.0, "#ffffff", "dry", 0.0)])
    True
    """
    root, style = _document(layer, title)
    rule = _add(style, "Rule")
    _add(rule, "Name", "rule 1")
    _add(rule, "Title", title)
    colors = _add(_add(rule, "RasterSymbolizer"), "ColorMap")
    for shade in shades:
        entry = _add(colors, "ColorMapEntry")
        entry.attrib = {
            "color": shade.color,
            "quantity": f"{shade.value:.6g}",
            "label": shade.words,
            "opacity": f"{shade.opacity:g}",
        }
    return _text(root)


def _document(layer: str, title: str) -> tuple[Element, Element]:
    root = Element(f"{{{_SLD}}}StyledLayerDescriptor", {"version": "1.0.0"})
    named = _add(root, "NamedLayer")
    _add(named, "Name", layer)
    style = _add(named, "UserStyle")
    _add(style, "Name", layer)
    _add(style, "Title", title)
    return root, _add(style, "FeatureTypeStyle")


def _text(root: Element) -> str:
    ElementTree.register_namespace("", _SLD)
    ElementTree.register_namespace("ogc", _OGC)
    ElementTree.indent(root)
    body = ElementTree.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n<!-- {TEXT_MARK} -->\n{body}\n'


def _add(parent: Element, tag: str, text: str | None = None) -> Element:
    child = SubElement(parent, f"{{{_SLD}}}{tag}")
    child.text = text
    return child


def _css(parent: Element, name: str, value: str) -> None:
    _add(parent, "CssParameter", value).set("name", name)


def _filter(rule: Element, field: str, value: str) -> None:
    found = SubElement(rule, f"{{{_OGC}}}Filter")
    equal = SubElement(found, f"{{{_OGC}}}PropertyIsEqualTo")
    SubElement(equal, f"{{{_OGC}}}PropertyName").text = field
    SubElement(equal, f"{{{_OGC}}}Literal").text = value


def _symbol(rule: Element, symbol: Symbol) -> None:
    if isinstance(symbol, Pen):
        _stroke(_add(rule, "LineSymbolizer"), symbol)
    elif isinstance(symbol, Mark):
        graphic = _add(_add(rule, "PointSymbolizer"), "Graphic")
        _mark(graphic, symbol)
    elif isinstance(symbol, Area):
        _area(rule, symbol)
    else:
        _label(rule, symbol)


def _stroke(parent: Element, pen: Pen) -> None:
    stroke = _add(parent, "Stroke")
    _css(stroke, "stroke", pen.color)
    _css(stroke, "stroke-width", f"{pen.width:g}")
    if pen.dashes:
        _css(stroke, "stroke-dasharray", " ".join(f"{dash:g}" for dash in pen.dashes))


def _mark(graphic: Element, mark: Mark) -> None:
    drawn = _add(graphic, "Mark")
    _add(drawn, "WellKnownName", mark.name)
    _css(_add(drawn, "Fill"), "fill", mark.color)
    _stroke(drawn, mark.edge)
    _add(graphic, "Size", f"{mark.size:g}")


def _area(rule: Element, area: Area) -> None:
    found = _add(rule, "PolygonSymbolizer")
    if area.color is not None:
        fill = _add(found, "Fill")
        _css(fill, "fill", area.color)
        _css(fill, "fill-opacity", f"{area.opacity:g}")
    _stroke(found, area.edge)
    if area.strewn is not None:
        over = _add(rule, "PolygonSymbolizer")
        graphic = _add(_add(_add(over, "Fill"), "GraphicFill"), "Graphic")
        _mark(graphic, Mark(area.strewn, 5, area.edge.color, Pen(area.edge.color, 0.7)))


def _label(rule: Element, label: Label) -> None:
    found = _add(rule, "TextSymbolizer")
    SubElement(_add(found, "Label"), f"{{{_OGC}}}PropertyName").text = label.field
    font = _add(found, "Font")
    _css(font, "font-family", "SansSerif")
    _css(font, "font-size", str(_LABEL_SIZE))
    beside = _add(_add(_add(found, "LabelPlacement"), "PointPlacement"), "Displacement")
    _add(beside, "DisplacementX", "6")
    _add(beside, "DisplacementY", "6")
    halo = _add(found, "Halo")
    _add(halo, "Radius", f"{_HALO:g}")
    _css(_add(halo, "Fill"), "fill", "#ffffff")
    _css(_add(found, "Fill"), "fill", "#000000")


_INK, _WATER, _WORK, _GREEN = "#101010", "#0b3d91", "#9c3300", "#46521f"
_THIN = Pen(_INK, 0.8)
_DEPTHS_M = ((0.0, "dry", 0.0), (0.005, "5 mm", 0.5), (0.05, "50 mm", 0.8), (0.3, "300 mm", 1.0))


def _each(field: str, looks: dict[str, tuple[Symbol, ...]]) -> tuple[Rule, ...]:
    """A rule for each value of a field, its words in the legend."""
    return tuple(Rule(value, symbols, field, value) for value, symbols in looks.items())


def _names(field: str = "name") -> Rule:
    return Rule("name", (Label(field),))


_VERDICTS: dict[str, tuple[Symbol, ...]] = {
    "holds water": (Pen(_WATER, 7.0), Pen("#ffffff", 1.6, (4, 3))),
    "slopes back": (Pen("#b3001b", 5.5),),
    "too flat": (Pen("#a35200", 3.5),),
    "cut short: needs a drain or swale": (Pen("#a35200", 3.5, (9, 3)),),
    "too close to call": (Pen("#404040", 3.0, (3, 3)),),
    "not surveyed": (Pen("#808080", 2.0, (1, 4)),),
    "drains away": (Pen("#2f6b3a", 1.2),),
}
_ENDS: dict[str, tuple[Symbol, ...]] = {
    "lot side": (Mark("square", 9, "#ffffff", Pen(_WATER, 1.6)),),
    "outlet": (Mark("circle", 9, _WATER, Pen(_WATER, 1.6)),),
    "drain": (Mark("cross", 9, "#ffffff", Pen(_WATER, 1.6)),),
    "low spot": (Mark("triangle", 10, "#ffffff", Pen(_WATER, 1.6)),),
    "terminal basin": (Mark("star", 11, _WATER, Pen(_WATER, 1.6)),),
    "survey edge": (Mark("x", 9, _WATER, Pen(_WATER, 1.6)),),
}
_OPENING = (Mark("square", 8, "#ffffff", Pen(_INK, 1.2)),)
_OUTLET_PEN = Pen("#00607a", 3.0, (2, 2))

LOOKS: dict[str, tuple[Rule, ...]] = {
    "lot": (Rule("lot line", (Area(None, Pen(_INK, 1.6, (12, 3, 3, 3))),)),),
    "lot_sides": (Rule("side of the lot", (Pen(_INK, 0.8), Label("beyond"))),),
    "buildings": (Rule("building", (Area("#c7c7c7", Pen(_INK, 1.4)),)), _names()),
    "paving": (Rule("paving", (Area("#eeeeee", Pen("#707070", 0.8)),)),),
    "keep_outs": (
        Rule("not to be dug freely", (Area(None, Pen(_GREEN, 1.0, (4, 2)), strewn="x"),)),
        _names(),
    ),
    "easements": (Rule("easement", (Area(None, Pen("#555555", 1.0, (6, 4))),)), _names()),
    "outlet_points": (
        Rule("outlet", (Mark("circle", 9, "#00607a", Pen("#ffffff", 1.0)),)),
        _names(),
    ),
    "outlet_lines": (Rule("outlet", (_OUTLET_PEN,)), _names()),
    "outlet_areas": (Rule("outlet", (Area("#00607a", _OUTLET_PEN, 0.25),)), _names()),
    "break_lines": _each(
        "kind", {"bend": (Pen("#7a5c3a", 1.2, (7, 3)),), "step": (Pen(_INK, 2.0),)}
    ),
    "barriers": (Rule("barrier", (Pen(_INK, 3.0, (2, 1)),)), _names()),
    "drains": (Rule("inlet of a drain", (Mark("cross", 10, "#ffffff", _THIN),)), _names()),
    "spot_heights": (Rule("spot height", (Mark("x", 5, _INK, _THIN), Label("name"))),),
    "low_spots": (
        Rule("low spot, brim-full", (Area(_WATER, Pen(_WATER, 1.0, (1, 2)), 0.2),)),
        _names(),
    ),
    "low_spot_points": _each(
        "kind",
        {
            "lowest": (Mark("x", 8, _WATER, Pen(_WATER, 1.2)),),
            "overflows": (Mark("triangle", 8, "#ffffff", Pen(_WATER, 1.2)),),
        },
    ),
    "wall_runs": _each("verdict", _VERDICTS),
    "wall_stations": (Rule("station along a wall", (Mark("circle", 3, "#ffffff", _THIN),)),),
    "openings": (
        *_each(
            "reached",
            {"yes": (Mark("square", 11, _WATER, Pen(_INK, 1.6)),), "no": _OPENING},
        ),
        _names(),
    ),
    "paths": _each(
        "part", {"to its end": (Pen(_WATER, 2.4),), "beyond": (Pen(_WATER, 1.2, (2, 3)),)}
    ),
    "path_ends": _each("kind", _ENDS),
    "downspouts": (
        Rule("downspout", (Mark("circle", 12, "#000000", Pen("#ffffff", 1.2)),)),
        _names(),
    ),
    "work_soil": (
        Rule("soil to bring in", (Area("#c9a36b", Pen("#7a5c3a", 0.6), 0.55, strewn="cross"),)),
    ),
    "work_extensions": (Rule("extension on the ground", (Pen(_WORK, 4.5),)), _names("downspout")),
    "work_swales": (Rule("swale to cut", (Pen(_WORK, 3.0, (2, 2)),)), _names("downspout")),
    "work_lines": (Rule("buried line to lay", (Pen(_WORK, 3.5, (10, 3)),)), _names("downspout")),
    "work_stations": (Rule("station of a line", (Mark("cross", 6, _WORK, Pen(_WORK, 0.8)),)),),
    "work_pits": (
        Rule("seepage pit (dry well) to dig", (Area("#ffffff", Pen(_WORK, 2.0), strewn="circle"),)),
        _names("downspout"),
    ),
    "work_onward": (Rule("then over the ground", (Pen(_WORK, 1.2, (2, 4)),)),),
}


def layer_style(name: str, about: str) -> str:
    """The style file of a layer of the GeoPackage."""
    return vector_style(name, about, LOOKS[name])


def terrain_style(ground: NDArray[np.float64]) -> str:
    """Heights from dark to light; the darkest is the lowest."""
    known = ground[np.isfinite(ground)]
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    shades = [
        Shade(low + share * (high - low), color, f"{low + share * (high - low):.2f} m")
        for share, color in ((0.0, "#4a4a4a"), (0.5, "#a0a0a0"), (1.0, "#f5f5f5"))
    ]
    return raster_style("terrain", "height of the ground", shades)


def depth_style() -> str:
    """Standing water, the deeper the darker; dry ground is clear."""
    colors = ("#ffffff", "#c6dbef", "#4a80c0", "#08306b")
    shades = [
        Shade(depth, color, words, opacity)
        for (depth, words, opacity), color in zip(_DEPTHS_M, colors, strict=True)
    ]
    return raster_style("standing_depth", "depth of standing water", shades)


def safe_style() -> str:
    """Where water may be let go, and why not."""
    shades = [
        Shade(code, "#{:02x}{:02x}{:02x}".format(*color), words)
        for code, (words, color) in enumerate(zip(REASONS, CODE_COLORS, strict=True))
    ]
    return raster_style("safe_area", "where water may be let go", shades)
