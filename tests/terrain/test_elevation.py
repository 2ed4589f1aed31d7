"""The ground from rasters that lie in every way rasters do."""

from __future__ import annotations

import numpy as np
import pytest
from rasterio.transform import Affine
from scipy.ndimage import zoom

from runoff.site import InputError
from runoff.terrain import build_terrain, read_part
from tests.lots.records import a_box, a_site, expected_heights
from tests.terrain.rasters import a_place, a_source, heights_of, write_raster
from tests.told import told

UTM = "EPSG:32616"
EAST, NORTH = 500_000.0, 4_400_000.0
US_FOOT = 1200 / 3937


def on_map(x, y):
    """3 % up to the east, 1 % down to the north, by map metres."""
    return 200.0 + 0.03 * (x - EAST) - 0.01 * (y - NORTH)


def on_plan(x, y):
    """The same on a plan whose 0,0 is the map origin."""
    return 200.0 + 0.03 * x - 0.01 * y


def off_by(terrain, surface=on_plan):
    """The largest difference from a surface, metres."""
    assert np.isfinite(terrain.ground).any()
    return np.nanmax(np.abs(terrain.ground - expected_heights(terrain, surface)))


def test_a_square_raster_is_taken_cell_by_cell(tmp_path):
    pixels = Affine(0.5, 0, EAST, 0, -0.5, NORTH + 40)
    path = write_raster(tmp_path / "dem.tif", heights_of(on_map, pixels, 80, 60), pixels, UTM)
    terrain = build_terrain(
        a_site(elevation=a_source(path), georeference=a_place(UTM, (EAST, NORTH)))
    )
    assert terrain.ground.shape == (80, 60)
    assert terrain.grid.cell_size == pytest.approx(0.5, rel=1e-12)
    assert off_by(terrain) < 1e-9


def test_a_north_down_raster_is_the_same_ground(tmp_path):
    pixels = Affine(0.5, 0, EAST, 0, 0.5, NORTH)
    path = write_raster(tmp_path / "dem.tif", heights_of(on_map, pixels, 80, 60), pixels, UTM)
    terrain = build_terrain(
        a_site(elevation=a_source(path), georeference=a_place(UTM, (EAST, NORTH)))
    )
    assert terrain.ground.shape == (80, 60)
    assert off_by(terrain) < 1e-9


def test_a_rotated_raster_is_interpolated(tmp_path):
    cos, sin = 0.5 * np.cos(np.radians(30)), 0.5 * np.sin(np.radians(30))
    pixels = Affine(cos, sin, EAST + 20, sin, -cos, NORTH + 50)
    path = write_raster(tmp_path / "dem.tif", heights_of(on_map, pixels, 80, 60), pixels, UTM)
    terrain = build_terrain(
        a_site(elevation=a_source(path), georeference=a_place(UTM, (EAST, NORTH)))
    )
    assert terrain.grid.cell_size == pytest.approx(0.5, rel=1e-9)
    assert np.isfinite(terrain.ground).sum() * 0.25 == pytest.approx(80 * 60 * 0.25, rel=0.06)
    assert off_by(terrain) < 1e-6


def test_a_map_in_survey_feet_becomes_metres(tmp_path):
    crs = "EPSG:2263"
    east, north = 1_000_000.0, 200_000.0
    pixels = Affine(2.0, 0, east, 0, -2.0, north + 100)
    heights = heights_of(lambda x, y: 300 + 0.05 * (x - east), pixels, 50, 40)
    path = write_raster(tmp_path / "dem.tif", heights, pixels, crs, unit="US survey foot")
    place = a_place(crs, (east * US_FOOT, north * US_FOOT), US_FOOT)
    terrain = build_terrain(a_site(elevation=a_source(path), georeference=place))
    assert terrain.grid.cell_size == pytest.approx(2 * US_FOOT, rel=1e-9)
    assert off_by(terrain, lambda x, y: 300 * US_FOOT + 0.05 * x) < 1e-6


def test_longitude_and_latitude_are_taken_to_the_working_map(tmp_path):
    pyproj = pytest.importorskip("pyproj")
    to_utm = pyproj.Transformer.from_crs("EPSG:4326", UTM, always_xy=True).transform
    pixels = Affine(1e-5, 0, -87.0, 0, -1e-5, 39.75)

    def surface(lon, lat):
        return on_map(*to_utm(lon, lat))

    path = write_raster(
        tmp_path / "dem.tif", heights_of(surface, pixels, 90, 90), pixels, "EPSG:4326"
    )
    origin = tuple(float(v) for v in to_utm(-87.0, 39.7491))
    terrain = build_terrain(a_site(elevation=a_source(path), georeference=a_place(UTM, origin)))
    rise = on_map(*origin) - 200.0
    assert off_by(terrain, lambda x, y: on_plan(x, y) + rise) < 1e-4


def test_integer_decimeters_with_scale_offset_and_nodata(tmp_path):
    pixels = Affine(1, 0, EAST, 0, -1, NORTH + 20)
    heights = np.full((20, 20), 1234, dtype=np.int16)
    heights[3, 4] = -32768
    path = write_raster(
        tmp_path / "dem.tif", heights, pixels, UTM, scale=0.1, offset=10.0, nodata=-32768
    )
    terrain = build_terrain(
        a_site(elevation=a_source(path), georeference=a_place(UTM, (EAST, NORTH)))
    )
    assert np.isnan(terrain.ground[3, 4])
    assert np.isnan(terrain.ground).sum() == 1
    assert np.nanmax(np.abs(terrain.ground - 133.4)) < 1e-9


def test_the_vertical_unit_is_asked_for_never_guessed(tmp_path):
    crs = "EPSG:2263"
    pixels = Affine(2.0, 0, 1_000_000, 0, -2.0, 200_100)
    path = write_raster(tmp_path / "dem.tif", np.full((9, 9), 30.0), pixels, crs, unit=None)
    place = a_place(crs, (1_000_000 * US_FOOT, 200_000 * US_FOOT), US_FOOT)
    with pytest.raises(InputError, match="vertical_unit"):
        build_terrain(a_site(elevation=a_source(path), georeference=place))
    stated = build_terrain(a_site(elevation=a_source(path, 1.0), georeference=place))
    assert np.nanmax(stated.ground) == 30.0


def test_the_vertical_system_of_the_file_gives_the_unit(tmp_path):
    crs = "EPSG:2263+6360"
    pixels = Affine(2.0, 0, 1_000_000, 0, -2.0, 200_100)
    path = write_raster(tmp_path / "dem.tif", np.full((9, 9), 30.0), pixels, crs, unit=None)
    place = a_place("EPSG:2263", (1_000_000 * US_FOOT, 200_000 * US_FOOT), US_FOOT)
    terrain = build_terrain(a_site(elevation=a_source(path), georeference=place))
    assert terrain.ground == pytest.approx(30 * US_FOOT)
    assert terrain.ground.shape == (9, 9)


def test_coarse_cells_say_nothing_about_grade(tmp_path):
    pixels = Affine(3, 0, EAST, 0, -3, NORTH + 60)
    path = write_raster(tmp_path / "dem.tif", heights_of(on_map, pixels, 20, 20), pixels, UTM)
    terrain = build_terrain(
        a_site(elevation=a_source(path), georeference=a_place(UTM, (EAST, NORTH)))
    )
    assert any("too coarse" in notice for notice in told(terrain))


def test_a_gap_between_buildings_splits_the_cells(tmp_path):
    pixels = Affine(1, 0, EAST, 0, -1, NORTH + 80)
    path = write_raster(tmp_path / "dem.tif", heights_of(on_map, pixels, 80, 80), pixels, UTM)
    houses = (a_box("west", 32, 32, 39.6, 45), a_box("east", 40.4, 32, 48, 45))
    terrain = build_terrain(
        a_site(elevation=a_source(path), georeference=a_place(UTM, (EAST, NORTH)), buildings=houses)
    )
    assert terrain.grid.cell_size == pytest.approx(1 / 4)
    assert off_by(terrain) < 1e-9


def test_a_gap_too_narrow_for_so_large_an_area_is_said(tmp_path):
    pixels = Affine(1, 0, EAST, 0, -1, NORTH + 500)
    path = write_raster(tmp_path / "dem.tif", heights_of(on_map, pixels, 500, 500), pixels, UTM)
    houses = (a_box("west", 50, 50, 99.9, 450), a_box("east", 100.1, 50, 450, 450))
    terrain = build_terrain(
        a_site(elevation=a_source(path), georeference=a_place(UTM, (EAST, NORTH)), buildings=houses)
    )
    assert terrain.ground.size <= 4_000_000
    assert any("narrowest gap" in notice for notice in told(terrain))


def test_a_lot_off_the_raster_is_refused(tmp_path):
    pixels = Affine(1, 0, EAST, 0, -1, NORTH + 20)
    path = write_raster(tmp_path / "dem.tif", np.zeros((20, 20)), pixels, UTM)
    house = a_box("house", 500, 500, 510, 510)
    with pytest.raises(InputError, match="lies elsewhere"):
        build_terrain(
            a_site(
                elevation=a_source(path),
                georeference=a_place(UTM, (EAST, NORTH)),
                buildings=(house,),
            )
        )


def test_a_file_that_is_no_raster_is_refused(tmp_path):
    path = tmp_path / "dem.tif"
    path.write_text("not a raster")
    with pytest.raises(InputError, match=r"a GeoTIFF.*this is none of them"):
        build_terrain(a_site(elevation=a_source(path), georeference=a_place(UTM, (EAST, NORTH))))


def test_of_a_large_raster_only_the_lot_is_read(tmp_path):
    """400 million cells, 1.6 GB if read whole, empty but for the lot's corner of it."""
    import tracemalloc

    import rasterio

    side = 20_000
    pixels = Affine(0.5, 0, EAST, 0, -0.5, NORTH + side / 2)
    path = tmp_path / "dem.tif"
    profile = {"tiled": True, "sparse_ok": True, "compress": "deflate", "nodata": -9999.0}
    with rasterio.open(
        path, "w", "GTiff", side, side, 1, UTM, pixels, "float32", **profile
    ) as raster:
        raster.units = ("m",)
        window = rasterio.windows.Window(10_000, 9_000, 400, 400)
        x = EAST + (10_000 + np.arange(400) + 0.5) * 0.5
        raster.write(
            np.broadcast_to(200.0 + 0.03 * (x - EAST), (400, 400)).astype("float32"),
            1,
            window=window,
        )
    house = a_box("house", 5090, 5420, 5100, 5430)
    site = a_site(
        elevation=a_source(path), georeference=a_place(UTM, (EAST, NORTH)), buildings=(house,)
    )
    tracemalloc.start()
    terrain = build_terrain(site)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 50e6
    assert terrain.ground.shape == (144, 144)
    assert off_by(terrain, lambda x, y: 200.0 + 0.03 * x) < 1e-4


def test_a_coarse_model_resampled_is_said_to_be_one_and_fine_data_is_not(tmp_path):
    pixels = Affine(1, 0, EAST, 0, -1, NORTH + 120)
    coarse = 20 + np.random.default_rng(5).normal(scale=0.3, size=(24, 24))
    for name, heights, said in (
        ("fine.tif", np.tile(coarse, (5, 5)), False),
        ("coarse.tif", zoom(coarse, 5, order=3), True),
    ):
        path = write_raster(tmp_path / name, heights, pixels, UTM)
        site = a_site(elevation=a_source(path), georeference=a_place(UTM, (EAST, NORTH)), units="m")
        notices = [text for text in told(build_terrain(site).notices) if "resampled" in text]
        assert bool(notices) is said
        assert not said or "of 1.00 m: it looks like a model with cells of about 4 m" in notices[0]


@pytest.mark.parametrize("height", [np.inf, -np.inf, 3.4e38, -32768.0, 1e6])
def test_a_height_that_no_ground_has_is_none(tmp_path, height):
    """Fill values that a file does not declare; the earth ends at 8,849 m and at -10,935 m."""
    heights = np.add.outer(np.linspace(30, 31, 40), np.linspace(0, 0.5, 40)).astype("f4")
    odd = heights.copy()
    odd[3, 4] = height
    pixels = Affine(1, 0, EAST, 0, -1, NORTH + 40)
    place = a_place(UTM, (EAST, NORTH))
    whole, holed = (
        read_part(a_source(write_raster(tmp_path / name, each, pixels, UTM)), place, None)
        for name, each in (("whole.tif", heights), ("holed.tif", odd))
    )
    assert np.isnan(holed.heights[3, 4])
    holed.heights[3, 4] = whole.heights[3, 4]
    assert (holed.heights == whole.heights).all()


@pytest.mark.parametrize("tags", [{"offset": 1e308, "scale": 1.0}, {"scale": 1e307}])
def test_heights_that_no_ground_has_are_refused(tmp_path, tags):
    heights = np.full((40, 40), 30.0, dtype="f4")
    pixels = Affine(1, 0, EAST, 0, -1, NORTH + 40)
    source = a_source(write_raster(tmp_path / "dem.tif", heights, pixels, UTM, **tags))
    with pytest.raises(InputError, match="heights of ground; none of these is less than"):
        read_part(source, a_place(UTM, (EAST, NORTH)), None)


def test_a_tile_whose_directory_is_damaged_is_refused(tmp_path):
    """TIFF 6.0, section 2: the first directory lies where bytes 4 to 7 say."""
    pixels = Affine(1, 0, EAST, 0, -1, NORTH + 40)
    path = write_raster(tmp_path / "dem.tif", np.full((40, 40), 30.0), pixels, UTM)
    for at, value in ((4, 255), (5, 255), (8, 255), (9, 40), (20, 255)):
        content = bytearray(path.read_bytes())
        content[at] = value
        (tmp_path / "damaged.tif").write_bytes(bytes(content))
        try:
            read_part(a_source(tmp_path / "damaged.tif"), a_place(UTM, (EAST, NORTH)), None)
        except InputError as error:
            assert "damaged.tif" in str(error)  # noqa: PT017 (it may be read as well)
