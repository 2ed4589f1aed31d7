"""Layers opened again with the libraries of other programs: places, units, counts, names."""

from __future__ import annotations

import itertools
import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import rasterio
import shapely
from pyproj import CRS, Transformer

from runoff.discharge import Extension, SeepagePit
from runoff.foundation import REASONS
from runoff.inspection import Findings, inspect
from runoff.report import (
    TEXT_MARK,
    Place,
    check_free,
    found_layers,
    is_own,
    layer_files,
    work_layers,
    write_drawing,
    write_layers,
    write_package,
    write_safe_area,
    write_terrain,
)
from runoff.sample import copy_sample, sample_folder
from runoff.site import Georeference, SpotHeight, read_site
from tests.lots.made_up import HERE
from tests.lots.planned import planned
from tests.report.made_up_layers import (
    IDS,
    MILLIMETRE,
    ON_MAPS,
    PLACES,
    US_SURVEY_FOOT,
    laid,
    layer,
    on_map,
    to_plan,
)
from tests.report.made_up_plan import made_up_plan


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
        ("work_lines", [shapely.LineString(each.route) for each in laid(made)]),
    ):
        found = layer(tmp_path, name)
        assert len(found) == len(wanted)
        for got, expected in zip(found.geometry, wanted, strict=True):
            there = to_plan(place, shapely.get_coordinates(got))
            np.testing.assert_allclose(
                there, shapely.get_coordinates(expected), rtol=0, atol=MILLIMETRE
            )


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


def test_a_county_raster_lot_has_its_buildings_where_the_county_has_them(tmp_path: Path) -> None:
    """Outlines as the vector file of the sample has them, read by another library."""
    findings = inspect(read_site(sample_folder() / "site_from_elevation.toml"))
    write_layers(tmp_path, findings)
    found = layer(tmp_path, "buildings").set_index("name")
    wanted = gpd.read_file(sample_folder() / "outlines.geojson").to_crs(found.crs)
    for building in ("house", "garage"):
        outline = wanted[wanted["building"] == building].geometry.iloc[0]
        got = found.geometry[building]
        assert got.hausdorff_distance(outline) < MILLIMETRE
    with rasterio.open(sample_folder() / "lot.tif") as source:
        assert found.crs == CRS(source.crs)


def test_a_written_site_in_survey_feet_has_its_lot_where_it_was_typed(tmp_path: Path) -> None:
    copy_sample(tmp_path)
    path = tmp_path / "site.toml"
    text = path.read_text(encoding="utf-8")
    on_map = 'units = "ft"\ncrs = "EPSG:2272"\nmap_origin = [2690000, 230000]\n'
    path.write_text(text.replace('units = "ft"\n', on_map, 1), encoding="utf-8")
    write_layers(tmp_path / "out", inspect(read_site(path)))
    lot = layer(tmp_path / "out", "lot")
    assert lot.crs.to_epsg() == 2272
    typed = np.array([(-18, -40), (62, -40), (62, 80), (-18, 80)]) * (0.3048 / US_SURVEY_FOOT)
    wanted = shapely.Polygon(typed + np.array([2690000, 230000]))
    assert lot.geometry.iloc[0].hausdorff_distance(wanted) < MILLIMETRE


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


def test_the_sample_comes_out_whole(tmp_path: Path) -> None:
    made = planned("sample")
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
    assert counts["work_extensions"] == sum(isinstance(way.design, Extension) for way in chosen)
    assert counts["work_pits"] == sum(isinstance(way.design, SeepagePit) for way in chosen)
    assert counts["work_lines"] == len(laid(made))
    assert counts["work_stations"] == sum(len(line.rows) for line in laid(made))


def test_areas_and_lengths_in_the_fields_are_those_of_the_shapes(tmp_path: Path) -> None:
    made = planned("sample")
    write_layers(tmp_path, made.findings, made)
    spots, runs, lines = (layer(tmp_path, n) for n in ("low_spots", "wall_runs", "work_lines"))
    # A low spot is drawn by its cells and told by the survey: half a cell along its rim apart.
    half_cell = made.findings.terrain.grid.cell_size / 2
    assert (np.abs(spots.area - spots["area_m2"]) <= half_cell * spots.length).all()
    np.testing.assert_allclose(runs.length, runs["length_m"], atol=MILLIMETRE)
    np.testing.assert_allclose(lines.length, lines["length_m"], atol=MILLIMETRE)
    soil = layer(tmp_path, "work_soil")
    assert made.grade is not None
    assert soil["loose_m3"].sum() == pytest.approx(made.grade.loose_m3)
    pits = layer(tmp_path, "work_pits")
    np.testing.assert_allclose(pits.area, pits["length_m"] * pits["width_m"], rtol=1e-9)


def test_runs_and_stations_lie_on_their_walls_and_paths_where_the_water_runs(
    tmp_path: Path,
) -> None:
    made = planned("sample")
    write_layers(tmp_path, made.findings, made)
    outlines = layer(tmp_path, "buildings").set_index("name").geometry.exterior
    for run in layer(tmp_path, "wall_runs").itertuples():
        assert outlines[run.building].buffer(MILLIMETRE).covers(run.geometry)
    # Beside a window well a station stands at the well's outer rim, 2 ft 6 in out.
    out = {
        round(outlines[station.building].distance(station.geometry), 4)
        for station in layer(tmp_path, "wall_stations").itertuples()
    }
    assert out == {0.0, 0.762}
    paths = layer(tmp_path, "paths").groupby("downspout").geometry
    for answer in made.findings.downspouts:
        drawn = shapely.line_merge(paths.get_group(answer.name).union_all())
        assert drawn.hausdorff_distance(shapely.LineString(answer.path)) < MILLIMETRE


def test_stations_lie_along_the_line_and_on_the_ground_that_the_profile_has(tmp_path: Path) -> None:
    made = planned("sample")
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
        replace(each, rain_to_fill_m=np.inf, wall_distance_m=None) for each in findings.low_spots
    )
    write_layers(tmp_path, replace(findings, low_spots=spots))
    with closing(sqlite3.connect(tmp_path / "layers.gpkg")) as package:
        rows = package.execute("SELECT rain_to_fill_m, wall_distance_m FROM low_spots").fetchall()
    assert rows == [(None, None)] * 2


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


@pytest.mark.skipif(sys.platform == "win32", reason="no limit on the size of files to set")
@pytest.mark.parametrize("share", [0.0, 0.3, 0.9])
@pytest.mark.parametrize(
    "name", ["layers.gpkg", "terrain.tif", "safe_area.tif", "proposed_work.dxf"]
)
def test_a_disk_that_is_full_leaves_the_old_file_and_says_so(
    tmp_path: Path, name: str, share: float
) -> None:
    """A file may not grow beyond a share of its size: what a full disk answers, at that place."""
    made = made_up_plan()
    write_layers(tmp_path, made.findings, made)
    path, place = tmp_path / name, Place(None)
    before = path.read_bytes()
    layers = (*found_layers(made.findings, made), *work_layers(made))
    write: dict[str, Callable[[], None]] = {
        "layers.gpkg": lambda: write_package(path, layers, place),
        "terrain.tif": lambda: write_terrain(path, made.findings, place),
        "safe_area.tif": lambda: write_safe_area(path, made.findings, place),
        "proposed_work.dxf": lambda: write_drawing(path, made, place),
    }
    with largest_file(int(share * len(before))), pytest.raises(OSError):
        write[name]()
    assert path.read_bytes() == before
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


@contextmanager
def largest_file(size: int) -> Iterator[None]:
    """No file grows beyond a size, bytes."""
    import resource
    import signal

    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    old = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, old)


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
    made = planned("sample")
    write_layers(tmp_path, made.findings, made)
    with closing(sqlite3.connect(tmp_path / "layers.gpkg")) as package:
        told = package.execute("SELECT description FROM gpkg_contents").fetchall()
    assert all(about.startswith(f"{TEXT_MARK}: ") for (about,) in told)
