"""Layers opened again with the libraries of other programs: places, units, counts, names."""

from __future__ import annotations

import itertools
import sqlite3
from contextlib import closing
from dataclasses import replace
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import rasterio
import shapely
from ezdxf import recover
from pyproj import CRS, Transformer

from runoff.discharge.dig_sheet import dig_cells
from runoff.foundation.model import REASONS
from runoff.inspection import Findings
from runoff.planning import Plan, plan
from runoff.report import layers_dxf
from runoff.report.files import TEXT_MARK, check_free, is_own
from runoff.report.layers import layer_files, write_layers
from runoff.report.layers_looks import LOOKS
from runoff.report.printable import printable
from runoff.sample import sample_folder
from runoff.site import read_site
from runoff.site.model import Georeference, SpotHeight
from tests.report.made_up_lot import HERE
from tests.report.made_up_plan import made_up_pit, made_up_plan, made_up_swale

SLD = {"sld": "http://www.opengis.net/sld", "ogc": "http://www.opengis.net/ogc"}
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


@cache
def sample_plan() -> Plan:
    """The plan of the sample lot."""
    return plan(read_site(sample_folder() / "site.toml"))


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


@pytest.mark.parametrize("place", PLACES, ids=IDS)
def test_layers_lie_on_the_plan_to_a_millimetre(tmp_path: Path, place: Georeference) -> None:
    made = on_map(made_up_plan(), place)
    write_layers(tmp_path, made.findings, made)
    site = made.site
    assert site.lot is not None
    for name, wanted in (
        ("lot", [site.lot.boundary]),
        ("buildings", [each.outline for each in site.buildings]),
        ("downspouts", [shapely.Point(each.start) for each in made.findings.downspouts]),
        ("work_lines", [shapely.LineString(each.route) for each in _laid(made)]),
    ):
        found = layer(tmp_path, name)
        assert len(found) == len(wanted)
        for got, expected in zip(found.geometry, wanted, strict=True):
            there = to_plan(place, shapely.get_coordinates(got))
            np.testing.assert_allclose(
                there, shapely.get_coordinates(expected), rtol=0, atol=MILLIMETRE
            )


def _laid(made: Plan) -> list:
    chosen = [each.chosen for each in made.recommendations]
    return [each.pit.line if each.pit else each.line for each in chosen if each.pit or each.line]


@pytest.mark.parametrize(("name", "place"), ON_MAPS.items())
def test_the_map_system_is_held_by_package_and_grids(
    tmp_path: Path, name: str, place: Georeference
) -> None:
    write_layers(tmp_path, on_map(made_up_plan(), place).findings)
    for each, _ in pyogrio.list_layers(tmp_path / "layers.gpkg"):
        assert layer(tmp_path, each).crs.to_epsg() == CRS(name).to_epsg()
    for grid in ("terrain", "standing_depth", "safe_area"):
        with rasterio.open(tmp_path / f"{grid}.tif") as file:
            assert file.crs.to_epsg() == CRS(name).to_epsg()


def test_without_a_map_the_layers_say_that_they_are_a_local_plan_in_metres(tmp_path: Path) -> None:
    write_layers(tmp_path, made_up_plan().findings)
    crs = layer(tmp_path, "lot").crs
    assert crs.type_name == "Engineering CRS"
    assert crs.name == "Local plan of the lot, metres"
    assert {axis.unit_name for axis in crs.axis_info} == {"metre"}
    with rasterio.open(tmp_path / "terrain.tif") as file:
        assert not file.crs.is_projected
        assert not file.crs.is_geographic
        assert {axis.unit_name for axis in CRS(file.crs.to_wkt()).axis_info} == {"metre"}
        assert "Local plan of the lot" in file.crs.to_wkt()


def test_a_site_on_a_map_comes_out_where_the_library_of_maps_puts_it(tmp_path: Path) -> None:
    """Latitude and longitude of a corner by PROJ, from the package and from the written site."""
    place = ON_MAPS["EPSG:2272"]
    made = on_map(made_up_plan(), replace(place, rotation=0.0))
    write_layers(tmp_path, made.findings)
    spout = made.findings.downspouts[0].start
    typed = [(offset + at) / US_SURVEY_FOOT for offset, at in zip(place.origin, spout, strict=True)]
    wanted = Transformer.from_crs(2272, 4269, always_xy=True).transform(*typed)
    found = layer(tmp_path, "downspouts").to_crs(4269).geometry.iloc[0]
    assert (found.x, found.y) == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize("place", PLACES, ids=IDS)
def test_grids_hold_the_terrain_at_its_own_cells(tmp_path: Path, place: Georeference) -> None:
    findings = on_map(made_up_plan(), place).findings
    write_layers(tmp_path, findings)
    grid, ground = findings.terrain.grid, findings.terrain.ground
    with rasterio.open(tmp_path / "terrain.tif") as file:
        heights = file.read(1, masked=True)
        assert file.units == ("metre",)
        corners = np.array([file.xy(row, col) for row, col in ((0, 0), (200, 3), (7, 150))])
        np.testing.assert_array_equal(heights.mask, np.isnan(ground))
    centers = [grid.center(row, col) for row, col in ((0, 0), (200, 3), (7, 150))]
    np.testing.assert_allclose(to_plan(place, corners), centers, rtol=0, atol=MILLIMETRE)
    np.testing.assert_allclose(heights.compressed(), ground[np.isfinite(ground)], atol=1e-4)
    with rasterio.open(tmp_path / "standing_depth.tif") as file:
        depths = file.read(1, masked=True)
    known = np.isfinite(ground)
    np.testing.assert_allclose(depths.compressed(), findings.standing_depth[known], atol=1e-6)


def test_safe_area_has_codes_their_table_and_colors_apart_in_gray(tmp_path: Path) -> None:
    findings = made_up_plan().findings
    write_layers(tmp_path, findings)
    with rasterio.open(tmp_path / "safe_area.tif") as file:
        assert file.dtypes == ("uint8",)
        np.testing.assert_array_equal(file.read(1), findings.at_the_wall.safe_area.code)
        tags, colors = file.tags(1), file.colormap(1)
    assert [tags[f"code_{code}"] for code in range(len(REASONS))] == list(REASONS)
    # Rec. 601 luma of each color.
    grays = sorted(
        0.299 * red + 0.587 * green + 0.114 * blue
        for red, green, blue, _ in (colors[code] for code in range(len(REASONS)))
    )
    assert min(b - a for a, b in itertools.pairwise(grays)) > 20
    shades = _style(tmp_path / "safe_area.sld").iterfind(".//sld:ColorMapEntry", SLD)
    assert [shade.get("label") for shade in shades] == list(REASONS)


def test_the_sample_comes_out_whole(tmp_path: Path) -> None:
    made = sample_plan()
    written = write_layers(tmp_path, made.findings, made)
    assert sorted(written) == sorted(tmp_path.iterdir())
    assert all(is_own(path) for path in written)
    found, chosen = made.findings, [each.chosen for each in made.recommendations]
    counts = dict.fromkeys(name for name, _ in pyogrio.list_layers(tmp_path / "layers.gpkg"))
    counts = {name: len(layer(tmp_path, name)) for name in counts}
    assert counts["spot_heights"] == len(made.site.spot_heights)
    assert counts["downspouts"] == counts["path_ends"] == 5
    assert counts["wall_runs"] == len(found.at_the_wall.runs)
    assert counts["wall_stations"] == sum(len(run.stations) for run in found.at_the_wall.runs)
    assert counts["openings"] == 3
    assert counts["low_spots"] == len(found.low_spots)
    assert counts["work_extensions"] == sum(way.extension is not None for way in chosen)
    assert counts["work_pits"] == sum(way.pit is not None for way in chosen)
    assert counts["work_lines"] == len(_laid(made))
    assert counts["work_stations"] == sum(len(line.rows) for line in _laid(made))


def test_areas_and_lengths_in_the_fields_are_those_of_the_shapes(tmp_path: Path) -> None:
    made = sample_plan()
    write_layers(tmp_path, made.findings, made)
    spots, runs, lines = (layer(tmp_path, n) for n in ("low_spots", "wall_runs", "work_lines"))
    np.testing.assert_allclose(spots.area, spots["area_m2"], rtol=1e-9)
    np.testing.assert_allclose(runs.length, runs["length_m"], atol=MILLIMETRE)
    np.testing.assert_allclose(lines.length, lines["length_m"], atol=MILLIMETRE)
    soil = layer(tmp_path, "work_soil")
    assert made.grade is not None
    assert soil["loose_m3"].sum() == pytest.approx(made.grade.loose_m3)
    pits = layer(tmp_path, "work_pits")
    np.testing.assert_allclose(pits.area, pits["length_m"] * pits["width_m"], rtol=1e-9)


def test_stations_lie_along_the_line_and_on_the_ground_that_the_profile_has(tmp_path: Path) -> None:
    made = sample_plan()
    write_layers(tmp_path, made.findings, made)
    stations = layer(tmp_path, "work_stations")
    lines = layer(tmp_path, "work_lines").set_index("downspout").geometry
    along = [lines[row.downspout].project(row.geometry) for row in stations.itertuples()]
    np.testing.assert_allclose(along, stations["station_m"], atol=MILLIMETRE)
    np.testing.assert_allclose(
        stations["ground_m"] - stations["trench_bottom_m"], stations["dig_m"], atol=1e-9
    )


def test_endless_and_unknown_numbers_are_no_value(tmp_path: Path) -> None:
    findings = made_up_plan().findings
    spots = tuple(
        replace(each, rain_to_fill=np.inf, wall_distance=None) for each in findings.low_spots
    )
    write_layers(tmp_path, replace(findings, low_spots=spots))
    with closing(sqlite3.connect(tmp_path / "layers.gpkg")) as package:
        rows = package.execute("SELECT rain_to_fill_m, wall_distance_m FROM low_spots").fetchall()
    assert rows == [(None, None)] * 2


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
    for pipe, line in zip(pipes, _laid(made), strict=True):
        there = np.array(pipe.get_points("xy")) * metres
        np.testing.assert_allclose(to_plan(in_metres, there), line.route, rtol=0, atol=MILLIMETRE)


def test_the_drawing_has_every_trade_on_its_layer(tmp_path: Path) -> None:
    made = with_soil(made_up_plan())
    write_layers(tmp_path, made.findings, made)
    document = ezdxf.readfile(tmp_path / "proposed_work.dxf")
    drawn = {entity.dxf.layer for entity in document.modelspace()}
    assert drawn == {each.name for each in layers_dxf.DRAWING_LAYERS}
    assert {"PIPE", "TRENCH", "PIT", "SWALE", "EXTENSION", "GRADE", "BUILDING", "LOT"} < drawn
    # Without color: no two layers of work have the same kind and width of line.
    looks = [(each.line, each.width) for each in layers_dxf.DRAWING_LAYERS if each.name in WORK]
    assert len(set(looks)) == len(WORK) - 1  # the pit is told by its shape from the extension


WORK = ("PIPE", "TRENCH", "PIT", "SWALE", "EXTENSION", "GRADE")


def test_the_drawing_labels_every_station_as_the_dig_table_has_it(tmp_path: Path) -> None:
    made = made_up_plan()
    write_layers(tmp_path, made.findings, made, "tenths")
    words = texts(tmp_path)
    for line in _laid(made):
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
    widths = [each.trench_width_m * each.length_m for each in _laid(made)]
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
    last = replace(last, chosen=replace(last.chosen, pit=pit))
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


def _style(path: Path) -> ElementTree.Element:
    return ElementTree.parse(path).getroot()


def test_every_layer_has_a_style_of_fields_that_it_has(tmp_path: Path) -> None:
    made = sample_plan()
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
    "Rule": (
        "Name",
        "Title",
        "Filter",
        "LineSymbolizer",
        "PolygonSymbolizer",
        "PointSymbolizer",
        "TextSymbolizer",
        "RasterSymbolizer",
    ),
    "PolygonSymbolizer": ("Fill", "Stroke"),
    "Graphic": ("Mark", "Opacity", "Size", "Rotation"),
    "Mark": ("WellKnownName", "Fill", "Stroke"),
    "TextSymbolizer": ("Label", "Font", "LabelPlacement", "Halo", "Fill"),
    "Halo": ("Radius", "Fill"),
}
MARKS = {"square", "circle", "triangle", "star", "cross", "x"}


def test_styles_keep_the_order_and_the_marks_of_the_standard(tmp_path: Path) -> None:
    made = sample_plan()
    write_layers(tmp_path, made.findings, made)
    for path in tmp_path.glob("*.sld"):
        for element in _style(path).iter():
            tag = element.tag.rpartition("}")[2]
            if tag in ORDER:
                places = [ORDER[tag].index(child.tag.rpartition("}")[2]) for child in element]
                symbolizers = 3
                assert places[:symbolizers] == sorted(places[:symbolizers]), (path.name, tag)
            if tag == "WellKnownName":
                assert element.text in MARKS


def test_verdicts_and_ends_differ_without_color(tmp_path: Path) -> None:
    for name, parts in (("wall_runs", ("width", "dashes")), ("path_ends", ("name",))):
        looks = [
            tuple(getattr(symbol, part) for symbol in rule.symbols for part in parts)
            for rule in LOOKS[name]
        ]
        assert len(set(looks)) == len(looks), name


def test_nothing_is_written_over_somebody_elses_file(tmp_path: Path) -> None:
    findings = made_up_plan().findings
    (tmp_path / "lot.sld").write_text("<mine/>")
    with pytest.raises(FileExistsError, match=r"lot\.sld is there already"):
        write_layers(tmp_path, findings)
    assert [path.name for path in tmp_path.iterdir()] == ["lot.sld"]
    write_layers(tmp_path, findings, force=True)
    assert is_own(tmp_path / "lot.sld")


def test_a_layer_that_somebody_added_keeps_the_package(tmp_path: Path) -> None:
    findings = made_up_plan().findings
    write_layers(tmp_path, findings)
    check_free(layer_files(tmp_path))
    own = gpd.GeoDataFrame({"note": ["mine"]}, geometry=[shapely.Point(1, 2)], crs=4326)
    own.to_file(tmp_path / "layers.gpkg", layer="notes", driver="GPKG")
    with pytest.raises(FileExistsError, match=r"layers\.gpkg is there already"):
        write_layers(tmp_path, findings)


@pytest.mark.parametrize("name", ["a.gpkg", "a.tif", "a.dxf", "a.sld"])
def test_an_empty_file_is_not_the_tools(tmp_path: Path, name: str) -> None:
    (tmp_path / name).touch()
    assert not is_own(tmp_path / name)


def test_an_old_drawing_does_not_stay_where_there_is_no_plan_now(tmp_path: Path) -> None:
    made = made_up_plan()
    write_layers(tmp_path, made.findings, made)
    write_layers(tmp_path, made.findings)
    assert not (tmp_path / "proposed_work.dxf").exists()
    assert not list(tmp_path.glob("work_*.sld"))
    names = {name for name, _ in pyogrio.list_layers(tmp_path / "layers.gpkg")}
    assert not any(name.startswith("work_") for name in names)


def test_a_failure_half_way_leaves_the_old_package(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    findings = made_up_plan().findings
    write_layers(tmp_path, findings)
    before = (tmp_path / "layers.gpkg").read_bytes()
    calls = iter(range(100))
    write = gpd.GeoDataFrame.to_file

    def failing(self: gpd.GeoDataFrame, *args: object, **options: object) -> None:
        if next(calls) == 3:
            raise OSError("no space left on the disk")
        write(self, *args, **options)

    monkeypatch.setattr(gpd.GeoDataFrame, "to_file", failing)
    with pytest.raises(OSError, match="no space"):
        write_layers(tmp_path, findings)
    assert (tmp_path / "layers.gpkg").read_bytes() == before
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


def test_a_lot_with_nothing_on_it_has_layers(tmp_path: Path) -> None:
    findings = _bare(made_up_plan().findings)
    write_layers(tmp_path, findings)
    names = {name for name, _ in pyogrio.list_layers(tmp_path / "layers.gpkg")}
    assert names == {"spot_heights"}


def _bare(findings: Findings) -> Findings:
    spot = SpotHeight("S1", 1.0, 2.0, 30.0, "", HERE)
    site = replace(
        findings.site,
        lot=None,
        buildings=(),
        paving=(),
        keep_outs=(),
        outlets=(),
        break_lines=(),
        barriers=(),
        drains=(),
        downspouts=(),
        openings=(),
        spot_heights=(spot,),
    )
    found = replace(findings.at_the_wall, openings=(), runs=(), standing=(), wedges=())
    return replace(findings, site=site, low_spots=(), downspouts=(), at_the_wall=found)


def test_every_layer_says_what_it_is_and_who_wrote_it(tmp_path: Path) -> None:
    made = sample_plan()
    write_layers(tmp_path, made.findings, made)
    with closing(sqlite3.connect(tmp_path / "layers.gpkg")) as package:
        told = package.execute("SELECT description FROM gpkg_contents").fetchall()
    assert all(about.startswith(f"{TEXT_MARK}: ") for (about,) in told)
