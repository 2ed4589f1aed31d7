"""Elevation data in every form that people get it in: the right ground, or a clear refusal.

Each file is written here from a known plane. Lengths on a map are checked against pyproj's
geodesic (Karney 2013, Journal of Geodesy 87, 43-55), which knows nothing of the plan.
"""

import numpy as np
import pytest
from pyproj import CRS, Geod, Transformer
from rasterio.transform import Affine

from runoff import read_site
from runoff.terrain import build_terrain
from tests.lots.on_map import (
    EAST,
    NORTH,
    UTM,
    crs_wkt,
    off_by,
    on_map,
    only_problem,
    open_share,
    plane,
    site_file,
    terrain_of,
    tile,
)
from tests.terrain.rasters import heights_of, write_raster
from tests.told import told

US_FOOT = 1200 / 3937
FOOT = 0.3048


def feet_lot(folder, crs, east, north, foot, terrain="elevation = 'dem.tif'", unit=None):
    """A 1 ft tile in a map of feet, heights in the same feet, the house 40 by 26 of them."""
    pixels = Affine(1.0, 0, east - 100, 0, -1.0, north + 130)
    heights = heights_of(
        lambda x, y: 650 + 0.03 * (x - east) - 0.01 * (y - north), pixels, 240, 240
    )
    write_raster(folder / "dem.tif", heights, pixels, crs, unit=unit)
    house = [[0, 0], [40 * foot, 0], [40 * foot, 26 * foot], [0, 26 * foot]]
    return site_file(folder, terrain, f"map_origin = [{east}, {north}]", house)


@pytest.mark.parametrize(
    ("crs", "foot", "name"),
    # Indiana East in US survey feet, Arizona East in international feet.
    [("EPSG:2965", US_FOOT, "us survey ft"), ("EPSG:2222", FOOT, "ft")],
)
def test_feet_of_both_kinds(tmp_path, crs, foot, name):
    to_map = Transformer.from_crs("EPSG:4269", crs, always_xy=True).transform
    east, north = (round(v) for v in to_map(*((-86, 40) if foot == US_FOOT else (-110, 34))))
    stated = f'elevation = "dem.tif"\nvertical_unit = "{name}"'
    terrain = terrain_of(feet_lot(tmp_path, crs, east, north, foot, stated))
    assert terrain.grid.cell_size == pytest.approx(foot, rel=1e-9)
    assert off_by(terrain, lambda x, y: 650 * foot + 0.03 * x - 0.01 * y) < 1e-6


def test_a_map_of_feet_does_not_tell_the_unit_of_heights(tmp_path):
    problem = only_problem(feet_lot(tmp_path, "EPSG:2965", 200_000, 1_600_000, US_FOOT))
    assert problem.entry == "[terrain] vertical_unit"
    assert "dem.tif" in problem.expected
    assert '"us survey ft"' in problem.expected


def test_a_stated_unit_that_the_file_gainsays_is_said(tmp_path):
    tile(tmp_path / "dem.tif", unit="ft")
    path = site_file(tmp_path, 'elevation = "dem.tif"\nvertical_unit = "m"')
    assert off_by(terrain_of(path)) < 1e-9
    assert any("in ft; they are read in m" in notice for notice in told(read_site(path)))


def test_longitude_and_latitude(tmp_path):
    to_utm = Transformer.from_crs("EPSG:4326", UTM, always_xy=True).transform
    back = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True).transform
    lon, lat = back(EAST, NORTH)
    pixels = Affine(6e-6, 0, lon - 6e-4, 0, -5e-6, lat + 5e-4)
    heights = heights_of(lambda a, b: on_map(*to_utm(a, b)), pixels, 200, 200)
    write_raster(tmp_path / "dem.tif", heights, pixels, "EPSG:4326")
    path = site_file(tmp_path, 'elevation = "dem.tif"', f"map_origin = [{lon}, {lat}]")
    terrain = terrain_of(path)
    assert CRS(read_site(path).georeference.crs).to_epsg() == 32616
    assert off_by(terrain) < 1e-4


def test_a_web_map_keeps_true_lengths_and_slopes(tmp_path):
    """EPSG:3857 is stretched by 1 / cos(latitude): 3 % on it would be 2.3 % at 40 degrees."""
    to_web = Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)
    to_utm = Transformer.from_crs("EPSG:3857", UTM, always_xy=True).transform
    east, north = to_web.transform(*Transformer.from_crs(UTM, "EPSG:4326", always_xy=True)
                                   .transform(EAST, NORTH))  # fmt: skip
    pixels = Affine(0.65, 0, east - 65, 0, -0.65, north + 65)
    heights = heights_of(lambda a, b: on_map(*to_utm(a, b)), pixels, 200, 200)
    write_raster(tmp_path / "dem.tif", heights, pixels, "EPSG:3857")
    path = site_file(tmp_path, 'elevation = "dem.tif"', f"map_origin = [{east}, {north}]")
    terrain = terrain_of(path)
    assert off_by(terrain) < 1e-4
    row, col = terrain.grid.cell(-10.0, 4.0)
    place = read_site(path).georeference
    ends = [terrain.grid.center(row, col), terrain.grid.center(row, col + 12)]
    to_degrees = Transformer.from_crs(place.crs, "EPSG:4326", always_xy=True).transform
    lon, lat = to_degrees(*(np.array(ends) + place.origin).T)
    along = Geod(ellps="WGS84").line_length(lon, lat)
    assert along == pytest.approx(12 * terrain.grid.cell_size, rel=1e-3)
    rise = terrain.ground[row, col + 12] - terrain.ground[row, col]
    assert rise / along == pytest.approx(0.03, rel=2e-3)


def test_a_plan_that_common_points_turn(tmp_path):
    """0,0 at a corner of the house, x along its front, 40 degrees off the map's east."""
    tile(tmp_path / "dem.tif", (-60, -60, 60, 60))
    cos, sin = np.cos(np.radians(40)), np.sin(np.radians(40))
    corner = [float(EAST + 12 * cos), float(NORTH + 12 * sin)]
    ties = f"[{{ plan = [0, 0], map = [{EAST}, {NORTH}] }}, {{ plan = [12, 0], map = {corner} }}]"
    path = site_file(tmp_path, 'elevation = "dem.tif"', f"tie_points = {ties}")
    terrain = terrain_of(path)
    assert off_by(terrain, lambda x, y: plane(cos * x - sin * y, sin * x + cos * y)) < 1e-6
    assert terrain.grid.cell_size == pytest.approx(0.5, rel=1e-9)


def test_rotated_pixels(tmp_path):
    cos, sin = 0.5 * np.cos(np.radians(25)), 0.5 * np.sin(np.radians(25))
    pixels = Affine(cos, sin, EAST - 70, sin, -cos, NORTH + 45)
    heights = heights_of(on_map, pixels, 300, 300)
    write_raster(tmp_path / "dem.tif", heights, pixels, UTM)
    terrain = terrain_of(site_file(tmp_path, 'elevation = "dem.tif"'))
    assert off_by(terrain) < 1e-6
    assert terrain.grid.cell_size == pytest.approx(0.5, rel=1e-9)


def test_integer_decimeters(tmp_path):
    """Heights of 0.1 m steps: right to half a step, scale and offset from the band."""
    pixels = Affine(0.5, 0, EAST - 40, 0, -0.5, NORTH + 48)
    heights = np.rint((heights_of(on_map, pixels, 176, 184) - 100) * 10).astype(np.int16)
    write_raster(tmp_path / "dem.tif", heights, pixels, UTM, scale=0.1, offset=100.0)
    assert off_by(terrain_of(site_file(tmp_path, 'elevation = "dem.tif"'))) <= 0.05 + 1e-9


def with_hole(surface, left, bottom, right, top):
    """A surface without heights over a rectangle of the plan."""

    def holed(x, y):
        inside = (x > EAST + left) & (x < EAST + right) & (y > NORTH + bottom) & (y < NORTH + top)
        return np.where(inside, -9999.0, surface(x, y))

    return holed


def test_no_data_under_the_house_is_no_loss(tmp_path):
    tile(tmp_path / "dem.tif", surface=with_hole(on_map, 0, 0, 12, 8), nodata=-9999.0)
    terrain = terrain_of(site_file(tmp_path, 'elevation = "dem.tif"'))
    assert off_by(terrain) < 1e-9
    assert open_share(terrain) == 1.0
    assert not any("no heights on" in notice for notice in told(terrain))


def test_no_data_beside_the_house_is_said_and_never_filled(tmp_path):
    tile(tmp_path / "dem.tif", surface=with_hole(on_map, -2, 0, 12, 8), nodata=-9999.0)
    terrain = terrain_of(site_file(tmp_path, 'elevation = "dem.tif"'))
    row, col = terrain.grid.cell(-1.0, 4.0)
    assert np.isnan(terrain.ground[row, col])
    assert any("no heights on 16 m2" in notice for notice in told(terrain))


def test_an_ascii_grid_says_neither_map_nor_unit(tmp_path):
    rows, cols = 92, 96
    pixels = Affine(1.0, 0, EAST - 42, 0, -1.0, NORTH + 50)
    heights = heights_of(on_map, pixels, rows, cols)
    lines = [f"ncols {cols}", f"nrows {rows}", f"xllcorner {EAST - 42}", f"yllcorner {NORTH - 42}"]
    lines += ["cellsize 1", "NODATA_value -9999"]
    lines += [" ".join(f"{z:.4f}" for z in row) for row in heights]
    (tmp_path / "dem.asc").write_text("\n".join(lines) + "\n")
    path = site_file(tmp_path, 'elevation = "dem.asc"\nvertical_unit = "m"', "")
    assert only_problem(path).entry == "[site] crs"
    origin = f'crs = "{UTM}"\nmap_origin = [{EAST}, {NORTH}]'
    path = site_file(tmp_path, 'elevation = "dem.asc"', origin)
    assert only_problem(path).entry == "[terrain] vertical_unit"
    path = site_file(tmp_path, 'elevation = "dem.asc"\nvertical_unit = "m"', origin)
    assert off_by(terrain_of(path)) < 1e-3
    assert any("dem.asc names no map system" in notice for notice in told(read_site(path)))


def xyz_rows(step=1.0):
    x, y = np.meshgrid(EAST + np.arange(-42, 54, step), NORTH + np.arange(-42, 50, step))
    return np.column_stack([x.ravel(), y.ravel(), on_map(x, y).ravel()])


@pytest.mark.parametrize(
    ("name", "between", "header", "comma"),
    [
        ("dem.xyz", " ", "", False),
        ("dem.txt", "\t", "x\ty\tz", False),
        ("dem.csv", ",", "X,Y,Z", False),
        ("dem.csv", ";", "x;y;z", True),
    ],
)
def test_points_of_a_grid_in_any_order(tmp_path, name, between, header, comma):
    rows = np.random.default_rng(3).permutation(xyz_rows())
    text = "\n".join(between.join(f"{v:.3f}" for v in row) for row in rows)
    text = (f"{header}\n" if header else "") + (text.replace(".", ",") if comma else text)
    (tmp_path / name).write_text(text + "\n")
    site = f'crs = "{UTM}"\nmap_origin = [{EAST}, {NORTH}]'
    path = site_file(tmp_path, f'elevation = "{name}"\nvertical_unit = "m"', site)
    terrain = terrain_of(path)
    assert off_by(terrain) < 1e-3
    assert terrain.grid.cell_size == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (lambda rows: rows + np.random.default_rng(5).normal(0, 0.3, rows.shape), "spot_heights"),
        (lambda rows: np.vstack([rows, rows[:1]]), "one height for each point"),
        (lambda rows: rows[:2], "rows of x, y and z"),
        (lambda rows: np.where(rows > 1e6, np.nan, rows), "positions that are numbers"),
    ],
)
def test_points_of_no_grid_are_refused(tmp_path, change, expected):
    np.savetxt(tmp_path / "dem.xyz", change(xyz_rows(4.0)))
    site = f'crs = "{UTM}"\nmap_origin = [{EAST}, {NORTH}]'
    problem = only_problem(site_file(tmp_path, 'elevation = "dem.xyz"\nvertical_unit = "m"', site))
    assert problem.entry == "[terrain] elevation"
    assert expected in problem.expected


def test_a_row_of_text_among_points_is_refused(tmp_path):
    (tmp_path / "dem.xyz").write_text("0 0 1\n0 1 fence\n1 0 1\n1 1 1\n")
    site = f'crs = "{UTM}"\nmap_origin = [{EAST}, {NORTH}]'
    path = site_file(tmp_path, 'elevation = "dem.xyz"\nvertical_unit = "m"', site)
    assert "fence" in only_problem(path).expected


def vrt(source):
    """A virtual raster of the whole lot's tile."""
    return f"""<VRTDataset rasterXSize="184" rasterYSize="176">
<SRS>{crs_wkt(UTM).replace("&", "&amp;").replace('"', "&quot;")}</SRS>
<GeoTransform>{EAST - 40}, 0.5, 0, {NORTH + 48}, 0, -0.5</GeoTransform>
<VRTRasterBand dataType="Float64" band="1"><UnitType>m</UnitType>
<SimpleSource><SourceFilename relativeToVRT="1">{source}</SourceFilename>
<SourceBand>1</SourceBand></SimpleSource></VRTRasterBand></VRTDataset>"""


def test_a_virtual_raster(tmp_path):
    tile(tmp_path / "dem.tif")
    (tmp_path / "lot.vrt").write_text(vrt("dem.tif"))
    assert off_by(terrain_of(site_file(tmp_path, 'elevation = "lot.vrt"'))) < 1e-9


def test_a_virtual_raster_that_leads_to_the_network_is_refused(tmp_path):
    (tmp_path / "lot.vrt").write_text(vrt("/vsicurl/http://127.0.0.1:9/dem.tif"))
    problem = only_problem(site_file(tmp_path, 'elevation = "lot.vrt"'))
    assert "network = true" in problem.expected


def test_a_picture_is_no_elevation_data(tmp_path):
    write_raster(tmp_path / "dem.tif", np.zeros((9, 9)), Affine.identity(), None)
    path = site_file(tmp_path, 'elevation = "dem.tif"', f'crs = "{UTM}"\nmap_origin = [0, 0]')
    assert "mere picture" in only_problem(path).expected


def two_tiles(folder, seam=6.25, gap=0.0, right=on_map, cell=0.5, **tags):
    """Two tiles whose seam runs up the plan through the house."""
    tile(folder / "a.tif", (-40, -40, seam - 0.25, 48))
    return tile(folder / "b.tif", (seam - 0.25 + gap, -40, 52, 48), cell, right, **tags)


BOTH = 'elevation = ["a.tif", "b.tif"]'


def test_two_tiles_are_one_ground(tmp_path):
    two_tiles(tmp_path)
    terrain = terrain_of(site_file(tmp_path, BOTH))
    assert off_by(terrain) < 1e-9
    assert open_share(terrain) == 1.0
    assert terrain.grid.cell_size == 0.5
    assert not any("stands" in notice for notice in told(terrain))


def test_two_tiles_in_two_map_systems_leave_no_seam(tmp_path):
    """The second in another zone, 6 degrees off: its pixels lie turned and stretched."""
    tile(tmp_path / "a.tif", (-40, -40, 6, 48))
    other = Transformer.from_crs(UTM, "EPSG:32615", always_xy=True)
    back = Transformer.from_crs("EPSG:32615", UTM, always_xy=True).transform
    x, y = other.transform(EAST + 29, NORTH + 4)
    east, north = other.transform(EAST + 30, NORTH + 4)
    turn = np.arctan2(north - y, east - x)
    cos, sin = 0.5 * np.cos(turn), 0.5 * np.sin(turn)
    # Square to the first zone's axes, with its left edge on the seam.
    corner = other.transform(EAST + 6, NORTH + 48)
    pixels = Affine(cos, sin, corner[0], sin, -cos, corner[1])
    heights = heights_of(lambda a, b: on_map(*back(a, b)), pixels, 178, 94)
    write_raster(tmp_path / "b.tif", heights, pixels, "EPSG:32615")
    terrain = terrain_of(site_file(tmp_path, BOTH))
    assert off_by(terrain) < 2e-3
    assert open_share(terrain) > 0.995
    left, right = terrain.grid.cell(5.0, 20.0)[1], terrain.grid.cell(7.0, 20.0)[1]
    row = terrain.grid.cell(6.0, 20.0)[0]
    assert np.isfinite(terrain.ground[row, left : right + 1]).all()


def test_two_tiles_with_two_cell_sizes_leave_no_seam(tmp_path):
    two_tiles(tmp_path, cell=1.0)
    terrain = terrain_of(site_file(tmp_path, BOTH))
    assert off_by(terrain) < 1e-9
    assert open_share(terrain) == 1.0


def test_a_gap_between_tiles_is_no_ground(tmp_path):
    two_tiles(tmp_path, gap=2.0)
    terrain = terrain_of(site_file(tmp_path, BOTH))
    row, col = terrain.grid.cell(7.0, 20.0)
    assert np.isnan(terrain.ground[row, col])
    assert off_by(terrain) < 1e-9
    assert any("no heights on" in notice for notice in told(terrain))


def test_tiles_in_two_units_each_say_theirs(tmp_path):
    two_tiles(tmp_path, right=lambda x, y: on_map(x, y) / FOOT, unit="ft")
    assert off_by(terrain_of(site_file(tmp_path, BOTH))) < 1e-9


def test_tiles_in_two_units_that_the_user_states(tmp_path):
    two_tiles(tmp_path, right=lambda x, y: on_map(x, y) / FOOT, unit=None)
    path = site_file(tmp_path, f'{BOTH}\nvertical_unit = ["m", "ft"]')
    assert off_by(terrain_of(path)) < 1e-9
    wrong = only_problem_of_ground(site_file(tmp_path, f'{BOTH}\nvertical_unit = "m"'))
    assert "b.tif stands" in wrong
    assert "vertical_unit, one for each tile" in wrong
    path = site_file(tmp_path, f'{BOTH}\nvertical_unit = ["m"]')
    assert "one vertical_unit for each tile (2)" in only_problem(path).expected


def only_problem_of_ground(path):
    from runoff.site import InputError

    with pytest.raises(InputError) as caught:
        build_terrain(read_site(path))
    (problem,) = caught.value.problems
    return problem.expected


def test_a_step_at_the_seam_is_said_with_its_size(tmp_path):
    two_tiles(tmp_path, right=lambda x, y: on_map(x, y) + 0.21)
    terrain = terrain_of(site_file(tmp_path, BOTH))
    (said,) = [notice for notice in told(terrain) if "stands" in notice]
    assert "b.tif stands 210 mm above a.tif" in said


def test_tiles_that_overlap_are_compared(tmp_path):
    two_tiles(tmp_path, gap=-5.0, right=lambda x, y: on_map(x, y) - 0.4)
    terrain = terrain_of(site_file(tmp_path, BOTH))
    assert any("a.tif stands 400 mm above b.tif" in notice for notice in told(terrain))


def test_tiles_on_two_datums_are_refused(tmp_path):
    tile(tmp_path / "a.tif", (-40, -40, 6, 48), crs="EPSG:32616+5703", unit=None)
    tile(tmp_path / "b.tif", (6, -40, 52, 48), crs="EPSG:32616+5702", unit=None)
    problem = only_problem(site_file(tmp_path, BOTH))
    assert "one datum" in problem.expected
    assert "1929" in problem.expected


def test_a_missing_tile_is_named_by_its_place(tmp_path):
    tile(tmp_path / "a.tif")
    problem = only_problem(site_file(tmp_path, BOTH))
    assert problem.entry == "[terrain] elevation . item 2"
    assert problem.written == "b.tif"


def test_a_missing_file_brings_no_other_complaint(tmp_path):
    """Neither of the map system, which it would have named, nor of where the lot is."""
    for site in ("", f'crs = "{UTM}"', f"map_origin = [{EAST}, {NORTH}]"):
        problem = only_problem(site_file(tmp_path, 'elevation = "dem.tif"', site))
        assert "no such file" in problem.expected


def test_a_tile_that_does_not_reach_the_lot_is_left_out(tmp_path):
    tile(tmp_path / "a.tif")
    tile(tmp_path / "b.tif", (500, 500, 520, 520))
    terrain = terrain_of(site_file(tmp_path, BOTH))
    assert off_by(terrain, plane) < 1e-9
    assert "b.tif does not reach the lot." in told(terrain)
