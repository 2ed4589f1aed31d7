"""A local survey tied to a map by common points.

The outside references are scipy's `Rotation.align_vectors` (Kabsch's algorithm) and pyproj's
geodesic.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from pyproj import CRS, Geod, Transformer
from scipy.spatial.transform import Rotation

from runoff import read_site
from runoff.site import Georeference, MapError, map_to_plan, plan_to_map, tie_plan
from tests.lots.rich import line_of, problems_of, write_lot
from tests.told import told

UTM = "EPSG:26916"
FOOT = 0.3048
LOT = """\
[site]
name = "tied lot"
units = "ft"
crs = "{crs}"
tie_points = {ties}
{more}
[terrain]
spot_heights = "spots.csv"
[[building]]
name = "house"
corners = [[0, 0], [40, 0], [40, 26], [0, 26]]
"""
SPOTS = "name,x,y,z\nA,-5,-5,100\nB,45,-5,100.5\nC,45,31,101\nD,-5,31,100\n"


def turned(plan, degrees, origin):
    """Plan metres on the map."""
    turn = np.radians(degrees)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return np.asarray(plan, dtype=float) @ matrix.T + origin


def tied_lot(folder, on_map, plan=((0, 0), (40, 0)), crs=UTM, more=""):
    """A lot whose common points are given on the plan in feet and on the map."""
    pairs = [
        f"{{ plan = {list(p)}, map = [{m[0]:.4f}, {m[1]:.4f}] }}"
        for p, m in zip(plan, on_map, strict=True)
    ]
    text = LOT.format(crs=crs, ties=f"[{', '.join(pairs)}]", more=more)
    return write_lot(folder, text, SPOTS)


@pytest.mark.parametrize("degrees", [0.0, 30.0, -75.0, 180.0])
def test_two_corners_put_the_house_on_the_map(tmp_path, degrees):
    origin = (573_000.0, 4_402_000.0)
    corners = np.array([[0, 0], [40, 0], [40, 26], [0, 26]]) * FOOT
    path = tied_lot(tmp_path, turned(corners[:2], degrees, origin))
    site = read_site(path)
    placed = plan_to_map(site.georeference, corners)
    assert_allclose(placed, turned(corners, degrees, origin), atol=1e-3)
    assert_allclose(map_to_plan(site.georeference, placed), corners, atol=1e-9)
    assert site.north_degrees == pytest.approx(degrees % 360, abs=1e-3)
    (said,) = [n for n in told(site) if n.startswith("tie_points")]
    assert f"turned {abs(degrees):.1f} degrees" in said


def test_north_on_the_plan_points_where_the_map_says(tmp_path):
    """Plan axes 30 degrees counterclockwise of the map's: north is 30 degrees right of plan up."""
    path = tied_lot(tmp_path, turned([(0, 0), (12.192, 0)], 30.0, (573_000, 4_402_000)))
    site = read_site(path)
    ahead = plan_to_map(site.georeference, [[0.0, 0.0]]) + np.array([0.0, 10.0])
    (north,) = map_to_plan(site.georeference, ahead)
    assert np.degrees(np.arctan2(north[0], north[1])) == pytest.approx(site.north_degrees, abs=1e-6)


def test_a_stated_north_that_differs_is_said(tmp_path):
    path = tied_lot(
        tmp_path, turned([(0, 0), (12.192, 0)], 30.0, (573_000, 4_402_000)), more="north = 90"
    )
    site = read_site(path)
    assert site.north_degrees == 90
    assert any("by tie_points it is 30" in n for n in told(site))


def test_common_points_in_longitude_and_latitude(tmp_path):
    """12 m apart along a geodesic, so 12 m apart on the plan."""
    lon, lat = -86.15, 39.77
    east, north, _ = Geod(ellps="WGS84").fwd(lon, lat, 57.0, 40 * FOOT)
    pairs = [(lon, lat), (east, north)]
    plan = ((0, 0), (40, 0))
    text = "[" + ", ".join(
        f"{{ plan = {list(p)}, map = [{x:.9f}, {y:.9f}] }}"
        for p, (x, y) in zip(plan, pairs, strict=True)
    ) + "]"  # fmt: skip
    path = write_lot(tmp_path, LOT.format(crs="EPSG:4326", ties=text, more=""), SPOTS)
    site = read_site(path)
    assert CRS(site.georeference.crs).to_epsg() == 32616
    back = Transformer.from_crs(site.georeference.crs, "EPSG:4326", always_xy=True).transform
    assert_allclose(back(*plan_to_map(site.georeference, [[0.0, 0.0]])[0]), (lon, lat), atol=1e-7)


@settings(deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=3, max_size=8, unique=True
    ),
    st.floats(-180, 180),
    st.integers(0, 10_000),
)
def test_the_rotation_is_that_of_kabsch(points, degrees, seed):
    plan = np.array(points)
    if np.hypot(*(plan - plan.mean(axis=0)).T).max() < 5.0:
        return
    noise = np.random.default_rng(seed).normal(0, 0.02, plan.shape)
    on_map = turned(plan, degrees, (500_000.0, 4_400_000.0)) + noise
    tie = tie_plan(plan, on_map)
    flat = np.zeros((len(plan), 1))
    kabsch, _ = Rotation.align_vectors(
        np.hstack([on_map - on_map.mean(axis=0), flat]), np.hstack([plan - plan.mean(axis=0), flat])
    )
    matrix = kabsch.as_matrix()[:2, :2]
    ours = np.array(
        [
            [np.cos(tie.rotation), -np.sin(tie.rotation)],
            [np.sin(tie.rotation), np.cos(tie.rotation)],
        ]
    )
    if np.linalg.svd(plan - plan.mean(axis=0), compute_uv=False)[1] > 1.0:
        assert_allclose(ours, matrix, atol=1e-6)
    fitted = plan_to_map(Georeference("", 1.0, tie.origin, tie.rotation), plan)
    assert np.hypot(*(fitted - on_map).T).max() == pytest.approx(tie.misfit, abs=1e-6)
    assert tie.misfit < 0.2


def test_the_misfit_and_the_scale_are_stated(tmp_path):
    """40 ft taped, 12.25 m on the map: 5.8 cm too much, half of it at each end."""
    path = tied_lot(tmp_path, [(573_000.0, 4_402_000.0), (573_012.25, 4_402_000.0)])
    (said,) = [n for n in told(read_site(path)) if n.startswith("tie_points")]
    assert "1.0048 times" in said
    assert "fit to 1 1/8 in" in said


def refusal(path):
    (problem,) = problems_of(path)
    assert problem.entry == "[site] tie_points"
    assert problem.line == line_of("tie_points", path.read_text())
    return problem.expected


def test_distances_that_disagree_are_refused(tmp_path):
    path = tied_lot(tmp_path, [(573_000.0, 4_402_000.0), (573_013.5, 4_402_000.0)])
    assert "1.107 times as far apart" in refusal(path)


def test_common_points_too_near_each_other_are_refused(tmp_path):
    path = tied_lot(
        tmp_path, [(573_000.0, 4_402_000.0), (573_000.3, 4_402_000.0)], ((0, 0), (1, 0))
    )
    assert "at least 10 ft" in refusal(path)


def test_a_mirror_image_is_refused():
    plan = np.array([[0.0, 0.0], [12.0, 0.0], [0.0, 8.0]])
    with pytest.raises(MapError, match="mirror image"):
        tie_plan(plan, plan * [1.0, -1.0] + 500.0)


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("tie_points = [", "map_origin = [1.0, 2.0]\ntie_points = [", "one of the two"),
        ('crs = "EPSG:26916"\n', "", "a map system for tie_points"),
        ("plan = [40, 0], ", "", "this entry, which is missing"),
        ("map = [573000.0000", 'map = ["573000 m"', "an easting and a northing"),
        (", { plan = [40, 0], map = [573012.1920, 4402000.0000] }", "", "at least 2 items"),
    ],
)
def test_mistakes_in_tie_points(tmp_path, old, new, expected):
    path = tied_lot(tmp_path, turned([(0, 0), (40 * FOOT, 0)], 0, (573_000.0, 4_402_000.0)))
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))
    (problem,) = problems_of(path)
    assert expected in problem.expected
