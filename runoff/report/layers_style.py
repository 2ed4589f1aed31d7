"""Open style files: Styled Layer Descriptor 1.0 of the OGC (02-070), one a layer.

In: rules, each with the features it is for and how they are drawn. Out: XML that programs for maps
read. Only what the standard itself names is used: dashes, widths, and its six marks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from runoff.report.files import TEXT_MARK

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
