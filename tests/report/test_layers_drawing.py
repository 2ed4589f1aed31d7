"""The drawing of the proposed work, opened again with ezdxf: its unit, places, sizes and words."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf import recover

from runoff.report import DRAWING_LAYERS, printable, write_layers
from runoff.site import Georeference
from runoff.words import dig_cells
from tests.report.made_up_layers import (
    HOSTILE,
    IDS,
    MILLIMETRE,
    ON_MAPS,
    PLACES,
    US_SURVEY_FOOT,
    laid,
    layer,
    on_map,
    renamed,
    texts,
    to_plan,
    with_soil,
)
from tests.report.made_up_plan import made_up_pit, made_up_plan, made_up_swale

WORK = ("PIPE", "TRENCH", "PIT", "SWALE", "EXTENSION", "GRADE")


@pytest.mark.parametrize("units", ["ft", "m"])
@pytest.mark.parametrize("place", PLACES, ids=IDS)
def test_the_drawing_is_in_the_sites_own_unit(
    tmp_path: Path, units: str, place: Georeference
) -> None:
    made = on_map(made_up_plan(units), place)
    write_layers(tmp_path, made.findings, made)
    document, auditor = recover.readfile(tmp_path / "proposed_work.dxf")
    assert not auditor.errors
    assert not auditor.fixes
    survey = units == "ft" and place is ON_MAPS["EPSG:2272"]
    code = 6 if units == "m" else 21 if survey else 2
    metres = {6: 1.0, 2: 0.3048, 21: US_SURVEY_FOOT}[code]
    assert document.header["$INSUNITS"] == code
    assert document.header["$MEASUREMENT"] == (1 if units == "m" else 0)
    pipes = document.modelspace().query('LWPOLYLINE[layer=="PIPE"]')
    assert len(pipes) == 2
    in_metres = None if place is None else replace(place, metres_per_unit=1.0)
    for pipe, line in zip(pipes, laid(made), strict=True):
        there = np.array(pipe.get_points("xy")) * metres
        np.testing.assert_allclose(to_plan(in_metres, there), line.route, rtol=0, atol=MILLIMETRE)


def test_the_drawing_has_every_trade_on_its_layer(tmp_path: Path) -> None:
    made = with_soil(made_up_plan())
    write_layers(tmp_path, made.findings, made)
    document = ezdxf.readfile(tmp_path / "proposed_work.dxf")
    drawn = {entity.dxf.layer for entity in document.modelspace()}
    assert drawn == {each.name for each in DRAWING_LAYERS}
    assert {"PIPE", "TRENCH", "PIT", "SWALE", "EXTENSION", "GRADE", "BUILDING", "LOT"} < drawn
    # Without color: no two layers of work have the same kind and width of line.
    looks = [(each.line, each.width) for each in DRAWING_LAYERS if each.name in WORK]
    assert len(set(looks)) == len(WORK) - 1  # the pit is told by its shape from the extension


def test_the_drawing_labels_every_station_as_the_dig_table_has_it(tmp_path: Path) -> None:
    made = made_up_plan()
    write_layers(tmp_path, made.findings, made, "tenths")
    words = texts(tmp_path)
    for line in laid(made):
        for cells in dig_cells(line, "ft", "tenths"):
            assert f"{cells[0]}: invert {cells[2]}, dig {cells[3]}" in words


def test_the_drawing_has_the_sizes_that_are_dug(tmp_path: Path) -> None:
    made = made_up_plan("m")
    write_layers(tmp_path, made.findings, made)
    space = ezdxf.readfile(tmp_path / "proposed_work.dxf").modelspace()

    def outlines(name: str) -> list[shapely.Polygon]:
        found = space.query(f'LWPOLYLINE[layer=="{name}"]')
        return [shapely.Polygon(each.get_points("xy")) for each in found if each.closed]

    assert outlines("PIT")[0].area == pytest.approx(2.8 * 2.8)
    section = made_up_swale().section
    width = section.bottom_m + 2 * section.side_run * section.depth_m
    line = shapely.LineString(made_up_swale().line)
    assert outlines("SWALE")[0].area == pytest.approx(width * line.length)
    widths = [each.trench_width_m * each.length_m for each in laid(made)]
    assert [area.area for area in outlines("TRENCH")] == pytest.approx(widths)


def test_soil_covers_its_cells(tmp_path: Path) -> None:
    made = with_soil(made_up_plan("m"))
    write_layers(tmp_path, made.findings, made)
    (soil,) = layer(tmp_path, "work_soil").geometry
    assert soil.area == pytest.approx(6 * 0.2**2)
    assert soil.contains(shapely.Point(2.0, -0.5))
    space = ezdxf.readfile(tmp_path / "proposed_work.dxf").modelspace()
    (drawn,) = space.query('LWPOLYLINE[layer=="GRADE"]')
    outline = shapely.Polygon(drawn.get_points("xy"))
    assert outline.equals_exact(soil.geoms[0], MILLIMETRE, normalize=True)


def test_a_round_pit_is_a_circle(tmp_path: Path) -> None:
    made = made_up_plan("m")
    body = replace(made_up_pit().governing.pit, kind="cylinder")
    pit = replace(made_up_pit(), governing=replace(made_up_pit().governing, pit=body))
    last = made.recommendations[-1]
    last = replace(last, chosen=replace(last.chosen, design=pit))
    made = replace(made, recommendations=(*made.recommendations[:-1], last))
    write_layers(tmp_path, made.findings, made)
    space = ezdxf.readfile(tmp_path / "proposed_work.dxf").modelspace()
    (circle,) = space.query('CIRCLE[layer=="PIT"]')
    assert circle.dxf.radius == pytest.approx(1.4)
    assert layer(tmp_path, "work_pits").area.iloc[0] == pytest.approx(np.pi * 1.4**2, rel=1e-3)


@pytest.mark.parametrize("names", [HOSTILE[0:4], HOSTILE[4:8], HOSTILE[6:10]])
def test_hostile_names_come_out_as_text(tmp_path: Path, names: tuple[str, ...]) -> None:
    made = renamed(made_up_plan(), names)
    write_layers(tmp_path, made.findings, made)
    shown = [printable(name) for name in names]
    assert layer(tmp_path, "downspouts")["name"].tolist() == shown
    assert layer(tmp_path, "work_lines")["downspout"].tolist() == [shown[0], shown[3]]
    words = texts(tmp_path)
    assert all(name in words for name in shown)


def test_control_characters_are_shown() -> None:
    assert printable("bell\x07 and\ttab\r\nend") == "bell\\x07 and\\x09tab\\x0d\\x0aend"
    assert printable("\ud800\u2028\uffff") == "\\ud800\\u2028\\uffff"
    assert printable(HOSTILE[3]) == HOSTILE[3]
