"""Plans on maps, hostile names, and the layers opened again, for the tests of layers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
from ezdxf import recover
from pyproj import CRS

from runoff.discharge import BuriedLine
from runoff.planning import Plan
from runoff.site import Georeference

US_SURVEY_FOOT = 1200 / 3937
MILLIMETRE = 0.001
# Pennsylvania South in US survey feet, Arizona Central in international feet, and UTM 16N.
ON_MAPS = {
    "EPSG:2272": Georeference(
        CRS("EPSG:2272").to_wkt(), US_SURVEY_FOOT, (820000.0, 83000.0), rotation=0.4
    ),
    "EPSG:2223": Georeference(CRS("EPSG:2223").to_wkt(), 0.3048, (213000.0, 280000.0)),
    "EPSG:26916": Georeference(CRS("EPSG:26916").to_wkt(), 1.0, (500000.0, 4400000.0), -2.0),
}
HOSTILE = (
    '#"[x]$',
    "front left " * 40,
    "מרזב קדמי שמאלי",
    "🏠 gutter 👩‍👩‍👧",
    "bell\x07 and\ttab\r\nend",
    "50%%d %%u 100% ^J ^ {\\P} \\U+0041",
    "rear left",
    "rear left",
    "'; DROP TABLE lot; --",
    "<b>&amp;</b> ]]> -->",
)


def on_map(made: Plan, place: Georeference | None) -> Plan:
    """The plan on a map."""
    site = replace(made.site, georeference=place)
    return replace(made, findings=replace(made.findings, site=site))


def renamed(made: Plan, names: tuple[str, ...]) -> Plan:
    """The plan with other names of its downspouts, openings and site."""
    findings = made.findings
    answers = tuple(
        replace(each, name=name) for each, name in zip(findings.downspouts, names, strict=False)
    )
    spouts = tuple(
        replace(each, name=name) for each, name in zip(made.site.downspouts, names, strict=False)
    )
    ways = tuple(
        replace(each, downspout=name)
        for each, name in zip(made.recommendations, names, strict=False)
    )
    site = replace(made.site, name=names[0], downspouts=spouts)
    found = replace(findings, site=site, downspouts=answers)
    return replace(made, findings=found, recommendations=ways)


def with_soil(made: Plan) -> Plan:
    """The plan with one wedge that covers six cells in front of the house."""
    assert made.grade is not None
    row, col = made.findings.terrain.grid.cell(2.0, -0.5)
    cells = np.array([(row + down, col + right) for down in range(2) for right in range(3)])
    wedge = replace(made.grade.wedges[0], cells=cells, raised=np.full(6, 0.1))
    return replace(made, grade=replace(made.grade, wedges=(wedge,)))


def layer(folder: Path, name: str) -> gpd.GeoDataFrame:
    """A layer of the package, opened again."""
    return gpd.read_file(folder / "layers.gpkg", layer=name)


def to_plan(place: Georeference | None, coordinates: np.ndarray) -> np.ndarray:
    """Plan metres of map coordinates, with complex numbers and not as the tool does it."""
    if place is None:
        return coordinates
    metres = (coordinates * place.metres_per_unit) @ [1, 1j] - complex(*place.origin)
    turned = metres * np.exp(-1j * place.rotation)
    return np.column_stack([turned.real, turned.imag])


def texts(folder: Path) -> list[str]:
    """The words of the drawing."""
    document, auditor = recover.readfile(folder / "proposed_work.dxf")
    assert not auditor.errors
    return [text.plain_text() for text in document.modelspace().query("TEXT")]


PLACES = [None, *ON_MAPS.values()]
IDS = ["plan", *ON_MAPS]


def laid(made: Plan) -> list[BuriedLine]:
    """The lines that the plan lays, pits' own too."""
    chosen = [each.chosen for each in made.recommendations]
    return [each.line for each in chosen if each.line]
