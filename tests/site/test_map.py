"""Sites that lie on a map: lengths on the plan are lengths on the ground.

The outside reference is pyproj's geodesic (Karney 2013, Journal of Geodesy 87, 43-55), which knows
nothing of the plan.
"""

import numpy as np
import pytest
import rasterio
from numpy.testing import assert_allclose
from pyproj import CRS, Geod, Transformer
from rasterio.transform import from_origin

from runoff import read_site
from runoff.site import map_to_plan, metres_per_unit, plan_to_map, working_crs
from tests.lots.rich import line_of, problems_of, write_lot
from tests.told import told

INDIANA_EAST_FT = "EPSG:2965"  # US survey feet
MERCATOR = "EPSG:3857"
UTM = "EPSG:26916"

ON_MAP = """\
[site]
name = "map lot"
units = "ft"
{site}
[terrain]
elevation = "dem.tif"
vertical_unit = "{unit}"
band = {band}
[[building]]
name = "house"
corners = {corners}
"""


def lot_on_map(folder, crs, corners, site="", origin=None, band=1, unit="us survey ft"):
    """A site whose raster of 40 x 40 cells of one unit has its lower-left corner at `origin`."""
    left, bottom = origin if origin is not None else np.floor(np.asarray(corners)[0]) - 5
    with rasterio.open(
        folder / "dem.tif", "w", driver="GTiff", width=40, height=40, count=1, dtype="float32",
        crs=crs, transform=from_origin(left, bottom + 40, 1, 1),
    ) as raster:  # fmt: skip
        raster.write(np.zeros((40, 40), dtype=np.float32), 1)
    text = ON_MAP.format(site=site, corners=np.asarray(corners).tolist(), band=band, unit=unit)
    return write_lot(folder, text, None)


def map_square(crs, longitude=-86.15, latitude=39.77, side=12.0):
    """A triangle of corners near a place in Indiana, in the units of `crs`."""
    x, y = Transformer.from_crs("EPSG:4326", crs, always_xy=True).transform(longitude, latitude)
    return np.array([[x, y], [x + side, y], [x + side, y + side], [x, y + side]])


def geodesic_sides(crs, corners):
    to_degrees = Transformer.from_crs(crs, CRS(crs).geodetic_crs, always_xy=True)
    longitude, latitude = to_degrees.transform(*np.vstack([corners, corners[:1]]).T)
    return Geod(ellps="WGS84").line_lengths(longitude, latitude)


@pytest.mark.parametrize("crs", [INDIANA_EAST_FT, MERCATOR, UTM])
def test_typed_map_positions_keep_their_lengths(tmp_path, crs):
    corners = map_square(crs)
    site = read_site(lot_on_map(tmp_path, crs, corners))
    placed = np.array(site.buildings[0].outline.exterior.coords)
    sides = np.hypot(*np.diff(placed, axis=0).T)
    assert_allclose(sides, geodesic_sides(crs, corners), rtol=1e-3)


def test_true_scale_is_used_as_it_is(tmp_path):
    corners = map_square(INDIANA_EAST_FT)
    site = read_site(lot_on_map(tmp_path, INDIANA_EAST_FT, corners))
    # 1200/3937 m: the US survey foot, by definition.
    assert site.georeference.metres_per_unit == pytest.approx(1200 / 3937, rel=1e-12)
    assert site.georeference.origin == (0.0, 0.0)
    assert CRS(site.georeference.crs) == CRS(INDIANA_EAST_FT)
    placed = np.array(site.buildings[0].outline.exterior.coords)[:4]
    assert_allclose(placed, corners * 1200 / 3937, rtol=1e-12)
    assert_allclose(plan_to_map(site.georeference, placed), corners, rtol=1e-12)
    assert_allclose(map_to_plan(site.georeference, corners), placed, rtol=1e-12)
    assert site.elevation.vertical_unit == pytest.approx(1200 / 3937)
    assert site.notices[-1].code == "heights_by assumed"
    assert site.height_accuracy.indication_only


def test_stretched_map_is_left_for_the_utm_zone(tmp_path):
    site = read_site(lot_on_map(tmp_path, MERCATOR, map_square(MERCATOR)))
    assert CRS(site.georeference.crs).to_epsg() == 32616
    assert any("UTM" in notice for notice in told(site))


@pytest.mark.parametrize(
    ("place", "zone"), [((-86.1, 39.8), 32616), ((151.2, -33.9), 32756), ((180.0, 10.0), 32601)]
)
def test_utm_zone_of_longitude_and_latitude(place, zone):
    assert working_crs(CRS("EPSG:4326"), place).to_epsg() == zone


def test_map_origin_puts_the_plan_on_the_map(tmp_path):
    corners = [[0, 0], [30, 0], [30, 20]]
    line = "map_origin = [573000.0, 4402000.0]\n"
    site = read_site(lot_on_map(tmp_path, UTM, corners, line, origin=(573000, 4402000)))
    assert site.georeference.origin == (573000.0, 4402000.0)
    assert_allclose(site.buildings[0].outline.bounds, (0, 0, 30 * 0.3048, 20 * 0.3048))


def test_map_origin_in_another_map_system(tmp_path):
    line = 'crs = "EPSG:4326"\nmap_origin = [-86.15, 39.77]\n'
    corners = [[0, 0], [30, 0], [30, 20]]
    site = read_site(lot_on_map(tmp_path, UTM, corners, line, origin=(573000, 4402000)))
    crs = CRS(site.georeference.crs)
    assert metres_per_unit(crs) == 1.0
    back = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    place = back.transform(*plan_to_map(site.georeference, [[0.0, 0.0]])[0])
    assert_allclose(place, (-86.15, 39.77), atol=1e-9)


def test_mistakes_about_the_map(tmp_path):
    corners = [[0, 0], [30, 0], [30, 20]]

    def only_problem(crs, line, **more):
        path = lot_on_map(tmp_path, crs, corners, line, origin=(573000, 4402000), **more)
        (problem,) = problems_of(path)
        return problem

    assert "map system" in only_problem(None, "map_origin = [1.0, 2.0]").expected
    assert "EPSG" in only_problem(UTM, 'crs = "nowhere"').expected
    assert only_problem(UTM, 'crs = "nowhere"').line == 4
    assert "an easting" in only_problem(UTM, "map_origin = [1.0]").expected
    assert "band from 1 to 1" in only_problem(UTM, "", band=2).expected
    assert "84 degrees" in only_problem(UTM, "map_origin = [1e9, 1e9]").expected


def test_degrees_are_no_lengths(tmp_path):
    corners = [["12 ft", 39.77], [-86.1501, 39.77], [-86.1501, 39.7701]]
    path = lot_on_map(tmp_path, UTM, corners, 'crs = "EPSG:4326"', origin=(573000, 4402000))
    (problem,) = problems_of(path)
    assert problem.entry == "building 'house' . corners"
    assert "longitude and latitude" in problem.expected


def test_a_raster_that_is_none(tmp_path):
    path = lot_on_map(tmp_path, UTM, [[0, 0], [30, 0], [30, 20]], origin=(573000, 4402000))
    (tmp_path / "dem.tif").write_bytes(b"not a raster")
    (problem,) = problems_of(path)
    assert problem.line == line_of("elevation", path.read_text())
    (tmp_path / "dem.tif").unlink()
    (problem,) = problems_of(path)
    assert "no such file" in problem.expected


def test_the_map_system_of_a_raster_that_names_none_is_asked_for(tmp_path):
    path = lot_on_map(tmp_path, None, [[0, 0], [30, 0], [30, 20]], origin=(0, 0))
    (problem,) = problems_of(path)
    assert problem.entry == "[site] crs"
    assert "dem.tif" in problem.expected
    assert "EPSG:26916" in problem.expected


def test_an_outline_kilometres_off_the_heights_is_refused_before_ground_is_made(tmp_path):
    """Map coordinates where positions are counted from the plan's 0,0, and the other way around."""
    corners = map_square(UTM, side=12.0)
    x, y = corners[0]
    site = f"map_origin = [{x}, {y}]"
    on_plan = [[1.0, 1.0], [13.0, 1.0], [13.0, 13.0], [1.0, 13.0]]
    path = lot_on_map(tmp_path, UTM, on_plan, site, origin=(x, y), unit="m")
    assert read_site(path).buildings
    for typed, more in ((corners, site), (np.array(on_plan), "")):
        path = lot_on_map(tmp_path, UTM, typed, more, origin=(x, y), unit="m")
        (problem,) = problems_of(path)
        assert problem.entry == "building 'house'"
        assert "km off: map coordinates need their map system" in problem.expected


def test_on_the_plan_too_heights_and_outlines_lie_together(tmp_path):
    spots = "name,x,y,z\n" + "".join(f"P{k},{k},{k * k % 7},100\n" for k in range(9))
    far = "[[500000, 4400000], [500040, 4400000], [500040, 4400030]]"
    text = f"""[site]
name = "lot"
units = "ft"
[terrain]
spot_heights = "spots.csv"
[[building]]
name = "house"
corners = {far}
"""
    path = write_lot(tmp_path, text, spots)
    (problem,) = problems_of(path)
    assert (problem.entry, problem.line) == ("building 'house'", 6)
    assert "these lie 1350 km off" in problem.expected
