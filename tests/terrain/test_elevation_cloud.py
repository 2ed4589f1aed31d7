"""Point clouds that the tests write: the ground back as it was, and outlines of the roofs.

Without laspy these are skipped; the test extra brings it.
"""

import re
import sys

import numpy as np
import pytest
import shapely
from pyproj import CRS

from runoff import read_site
from runoff.site import InputError
from runoff.terrain import build_terrain, buildings_of_cloud, outlines_in_cloud
from tests.lots.on_map import (
    EAST,
    NORTH,
    UTM,
    off_by,
    only_problem,
    open_share,
    plane,
    site_file,
    terrain_of,
)
from tests.told import told

laspy = pytest.importorskip("laspy")

HOUSE_ROOF = shapely.box(-0.4, -0.4, 12.4, 8.4)


def a_cloud(folder, name="lot.laz", crs=UTM, roofs=(HOUSE_ROOF,), unit=1.0, noise=0.0, ground=2):
    """Four points a square metre on the plane, roofs of class 6, and one bird of class 2."""
    random = np.random.default_rng(11)
    xy = random.uniform((-45, -45), (57, 53), (40_000, 2))
    z = plane(*xy.T) + random.normal(0, noise, len(xy)) if noise else plane(*xy.T)
    kind = np.full(len(xy), ground)
    for roof in roofs:
        under = shapely.contains_xy(roof, *xy.T)
        z[under] += 5.0
        kind[under] = 6
    xyz = np.column_stack([xy[:, 0] + EAST, xy[:, 1] + NORTH, z]) / unit
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.offsets, header.scales = np.floor(xyz.min(axis=0)), [1e-4, 1e-4, 1e-5]
    if crs is not None:
        header.add_crs(CRS(crs))
    cloud = laspy.LasData(header)
    cloud.x, cloud.y, cloud.z = xyz.T
    cloud.classification = kind.astype(np.uint8)
    cloud.write(folder / name)
    return folder / name


@pytest.mark.parametrize("name", ["lot.laz", "lot.las"])
def test_ground_points_become_the_ground(tmp_path, name):
    a_cloud(tmp_path, name)
    terrain = terrain_of(site_file(tmp_path, f'elevation = "{name}"\nvertical_unit = "m"'))
    assert off_by(terrain) < 1e-3
    assert open_share(terrain) > 0.99
    assert terrain.grid.cell_size == pytest.approx(0.5)


def test_stray_returns_do_not_count(tmp_path):
    """One point in fifty 2 m under the ground, 3 cm of noise: few cells follow."""
    path = a_cloud(tmp_path, noise=0.03)
    cloud = laspy.read(path)
    z = np.array(cloud.z)
    low = np.flatnonzero(np.random.default_rng(2).random(len(z)) < 0.02)
    z[low] -= 2.0
    cloud.z = z
    cloud.write(path)
    terrain = terrain_of(site_file(tmp_path, 'elevation = "lot.laz"\nvertical_unit = "m"'))
    x, y = np.meshgrid(*terrain.grid.centers())
    off = (terrain.ground - plane(x, y))[np.isfinite(terrain.ground)]
    assert abs(np.median(off)) < 0.02
    assert (np.abs(off) < 0.1).mean() > 0.8


def test_the_unit_is_the_vertical_systems_or_asked_for(tmp_path):
    a_cloud(tmp_path, crs="EPSG:32616+5703")
    assert off_by(terrain_of(site_file(tmp_path, 'elevation = "lot.laz"'))) < 1e-3
    a_cloud(tmp_path)
    problem = only_problem(site_file(tmp_path, 'elevation = "lot.laz"'))
    assert problem.entry == "[terrain] vertical_unit"
    a_cloud(tmp_path, crs=None)
    problem = only_problem(site_file(tmp_path, 'elevation = "lot.laz"\nvertical_unit = "m"', ""))
    assert problem.entry == "[site] crs"


def test_a_cloud_in_feet(tmp_path):
    """The same ground, written in US survey feet on a map of such feet."""
    foot = 1200 / 3937
    in_feet = CRS("+proj=utm +zone=16 +datum=WGS84 +units=us-ft +no_defs")
    a_cloud(tmp_path, crs=in_feet, unit=foot)
    origin = f"map_origin = [{EAST / foot}, {NORTH / foot}]"
    path = site_file(tmp_path, 'elevation = "lot.laz"\nvertical_unit = "us survey ft"', origin)
    assert off_by(terrain_of(path)) < 1e-3


def test_a_cloud_without_ground_is_refused(tmp_path):
    a_cloud(tmp_path, ground=1)
    path = site_file(tmp_path, 'elevation = "lot.laz"\nvertical_unit = "m"')
    with pytest.raises(Exception, match="class 2, ground; this one has none"):
        terrain_of(path)


def test_a_cloud_elsewhere_is_refused(tmp_path):
    a_cloud(tmp_path)
    origin = f"map_origin = [{EAST + 3000}, {NORTH}]"
    path = site_file(tmp_path, 'elevation = "lot.laz"\nvertical_unit = "m"', origin)
    with pytest.raises(Exception, match="lies elsewhere"):
        terrain_of(path)


@pytest.mark.parametrize(
    ("place", "value"),
    # Signature, offset to the points, number of records, number of extended records, point count.
    [(0, b"SALF"), (96, b"\xff" * 4), (100, b"\xff" * 4), (243, b"\xff" * 4), (247, b"\xff" * 8)],
)
@pytest.mark.parametrize("name", ["lot.laz", "lot.las"])
def test_a_damaged_cloud_is_refused_soon(tmp_path, name, place, value):
    content = bytearray(a_cloud(tmp_path, name).read_bytes())
    content[place : place + len(value)] = value
    (tmp_path / name).write_bytes(content)
    path = site_file(tmp_path, f'elevation = "{name}"\nvertical_unit = "m"')
    with pytest.raises(InputError) as caught:
        terrain_of(path)
    (problem,) = caught.value.problems
    assert problem.entry == "[terrain] elevation"


def test_a_file_that_is_no_cloud_is_refused(tmp_path):
    (tmp_path / "lot.laz").write_bytes(b"not a cloud" * 40)
    path = site_file(tmp_path, 'elevation = "lot.laz"\nvertical_unit = "m"')
    assert "a LAS or LAZ file that can be read" in only_problem(path).expected


def test_without_the_extra_it_is_named(tmp_path, monkeypatch):
    a_cloud(tmp_path)
    monkeypatch.setitem(sys.modules, "laspy", None)
    path = site_file(tmp_path, 'elevation = "lot.laz"\nvertical_unit = "m"')
    assert 'pip install "runoff[laz]"' in only_problem(path).expected


def test_roofs_become_outlines_to_correct(tmp_path):
    turned = shapely.affinity.rotate(shapely.box(20, 12, 34, 20), 25)
    ell = shapely.box(-35, 20, -15, 28).union(shapely.box(-35, 28, -25, 40))
    path = a_cloud(tmp_path, roofs=(HOUSE_ROOF, turned, ell))
    found = buildings_of_cloud(path)
    assert len(found) == 3
    for roof in (HOUSE_ROOF, turned, ell):
        on = shapely.affinity.translate(roof, EAST, NORTH)
        (outline,) = [each for each in found if each.intersects(on)]
        assert outline.symmetric_difference(on).area < 0.1 * on.area
        assert outline.hausdorff_distance(on) < 1.0
    square = [each for each in found if len(each.exterior.coords) == 5]
    assert len(square) == 2


def test_a_building_that_nobody_drew_is_named(tmp_path):
    shed = shapely.box(25, 20, 31, 25)
    a_cloud(tmp_path, roofs=(HOUSE_ROOF, shed))
    site = read_site(site_file(tmp_path, 'elevation = "lot.laz"\nvertical_unit = "m"'))
    (outline,) = outlines_in_cloud(site)
    assert outline.symmetric_difference(shed).area < 0.15 * shed.area
    (said,) = [n for n in told(build_terrain(site).notices) if "does not draw" in n]
    assert "1 building" in said
    x, y = (float(v) for v in re.search(r"x ([\d.]+) m, y ([\d.]+) m", said).groups())
    assert np.hypot(x - 28.0, y - 22.5) < 0.4
