"""The style files of layers: fields, order and marks of the standard, and meaning without color."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args
from xml.etree import ElementTree

import numpy as np
import pyogrio
import pytest

from runoff.flow import EndKind
from runoff.foundation import REASONS, Verdict
from runoff.report import LOOKS, write_layers
from tests.lots.planned import planned
from tests.report.made_up_layers import layer
from tests.report.made_up_plan import made_up_plan

SLD = {"sld": "http://www.opengis.net/sld", "ogc": "http://www.opengis.net/ogc"}


def _style(path: Path) -> ElementTree.Element:
    return ElementTree.parse(path).getroot()


def test_every_layer_has_a_style_of_fields_that_it_has(tmp_path: Path) -> None:
    made = planned("sample")
    write_layers(tmp_path, made.findings, made)
    for name, _ in pyogrio.list_layers(tmp_path / "layers.gpkg"):
        table = layer(tmp_path, name)
        style = _style(tmp_path / f"{name}.sld")
        assert style.get("version") == "1.0.0"
        assert style.findtext("./sld:NamedLayer/sld:Name", None, SLD) == name
        named = {each.text for each in style.iterfind(".//ogc:PropertyName", SLD)}
        assert named <= set(table.columns), name
        for field, values in _filters(style).items():
            assert set(table[field]) <= values, (name, field)


def _filters(style: ElementTree.Element) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for each in style.iterfind(".//ogc:PropertyIsEqualTo", SLD):
        field, value = (
            each.findtext("ogc:PropertyName", "", SLD),
            each.findtext("ogc:Literal", "", SLD),
        )
        found.setdefault(field, set()).add(value)
    return found


# Order of children in the schema of the standard (OGC 02-070, annex A).
ORDER = {
    "UserStyle": ("Name", "Title", "Abstract", "IsDefault", "FeatureTypeStyle"),
    "Rule": ("Name", "Title", "Filter", "Symbolizer"),
    "PolygonSymbolizer": ("Fill", "Stroke"),
    "Graphic": ("Mark", "Opacity", "Size", "Rotation"),
    "Mark": ("WellKnownName", "Fill", "Stroke"),
    "TextSymbolizer": ("Label", "Font", "LabelPlacement", "Halo", "Fill"),
    "Halo": ("Radius", "Fill"),
}
SYMBOLIZER = re.compile("(Line|Polygon|Point|Text|Raster)Symbolizer")
MARKS = {"square", "circle", "triangle", "star", "cross", "x"}


def test_styles_keep_the_order_and_the_marks_of_the_standard(tmp_path: Path) -> None:
    made = planned("sample")
    write_layers(tmp_path, made.findings, made)
    for path in tmp_path.glob("*.sld"):
        for element in _style(path).iter():
            tag = element.tag.rpartition("}")[2]
            if tag in ORDER:
                children = [child.tag.rpartition("}")[2] for child in element]
                if tag == "Rule":  # symbolizers of any kind follow in any order
                    children = [SYMBOLIZER.sub("Symbolizer", name) for name in children]
                places = [ORDER[tag].index(name) for name in children]
                assert places == sorted(places), (path.name, tag)
            if tag == "WellKnownName":
                assert element.text in MARKS


def test_every_verdict_and_every_end_has_its_rule() -> None:
    assert {rule.value for rule in LOOKS["wall_runs"]} == set(get_args(Verdict))
    assert {rule.value for rule in LOOKS["path_ends"]} == set(get_args(EndKind))


def test_verdicts_and_ends_differ_without_color() -> None:
    for name, parts in (("wall_runs", ("width", "dashes")), ("path_ends", ("name",))):
        looks = [
            tuple(getattr(symbol, part) for symbol in rule.symbols for part in parts)
            for rule in LOOKS[name]
        ]
        assert len(set(looks)) == len(looks), name


def test_the_grids_styles_name_every_code_and_span_the_heights(tmp_path: Path) -> None:
    findings = made_up_plan().findings
    write_layers(tmp_path, findings)
    codes = list(_style(tmp_path / "safe_area.sld").iterfind(".//sld:ColorMapEntry", SLD))
    assert [entry.get("label") for entry in codes] == list(REASONS)
    assert [entry.get("quantity") for entry in codes] == [str(code) for code in range(len(REASONS))]
    heights = _style(tmp_path / "terrain.sld").iterfind(".//sld:ColorMapEntry", SLD)
    values = [float(entry.get("quantity", "nan")) for entry in heights]
    ground = findings.terrain.ground[np.isfinite(findings.terrain.ground)]
    assert (values[0], values[-1]) == pytest.approx((ground.min(), ground.max()), abs=1e-3)
