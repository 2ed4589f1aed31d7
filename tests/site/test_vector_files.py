"""Outlines from vector files, with and without a map system."""

import json

import geopandas
import numpy as np
import pytest
from numpy.testing import assert_allclose
from shapely import LineString, MultiPolygon, Polygon, box

from runoff import read_site
from tests.lots.rich import problems_of, write_lot
from tests.site.test_map import UTM, map_square
from tests.told import told

SITE = """\
[site]
name = "lot"
units = "ft"
{site}
[terrain]
spot_heights = "spots.csv"
[[building]]
name = "house"
outline = {{ {outline} }}
"""
FT = 0.3048
HOUSE = box(0, 0, 30, 24)


def write(folder, outline, site=""):
    return write_lot(folder, SITE.format(outline=outline, site=site))


def geojson(folder, *shapes, **fields):
    """A GeoJSON file without a map system, drawn on the plan."""
    features = [
        {
            "type": "Feature",
            "properties": {name: values[number] for name, values in fields.items()},
            "geometry": shape.__geo_interface__,
        }
        for number, shape in enumerate(shapes)
    ]
    document = {"type": "FeatureCollection", "features": features}
    (folder / "a.geojson").write_text(json.dumps(document))


def outline_of(path):
    return read_site(path).buildings[0].outline


def test_drawn_on_the_plan_in_the_site_s_units(tmp_path):
    geojson(tmp_path, HOUSE.difference(box(5, 5, 10, 10)))
    outline = outline_of(write(tmp_path, 'file = "a.geojson"'))
    assert_allclose(outline.area, (30 * 24 - 25) * FT**2)
    assert len(outline.interiors) == 1


@pytest.mark.parametrize(
    "pick", ["2", '{ kind = "house" }', "{ id = 7 }", '{ id = 7, kind = "house" }']
)
def test_picks(tmp_path, pick):
    geojson(tmp_path, box(50, 0, 60, 10), HOUSE, kind=["shed", "house"], id=[6, 7])
    outline = outline_of(write(tmp_path, f'file = "a.geojson", pick = {pick}'))
    assert_allclose(outline.bounds, (0, 0, 30 * FT, 24 * FT))


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ("", "2 features"),
        (", pick = 3", "from 1 to 2"),
        (", pick = { kind = 'barn' }", "0 fit"),
        (", pick = { sort = 'barn' }", "kind"),
        (", pick = 'house'", "another kind"),
        (", pick = { kind = ['house'] }", "a value of the field"),
        (", layer = 'none', pick = 1", "a layer"),
    ],
)
def test_picks_that_fit_none(tmp_path, more, expected):
    geojson(tmp_path, box(50, 0, 60, 10), HOUSE, kind=["shed", "house"])
    (problem,) = problems_of(write(tmp_path, f'file = "a.geojson"{more}'))
    assert problem.line == 9
    assert expected in problem.expected


@pytest.mark.parametrize(
    ("shape", "expected"),
    [
        (LineString([(0, 0), (3, 0)]), "one polygon"),
        (MultiPolygon([box(0, 0, 1, 1), box(2, 2, 3, 3)]), "one polygon"),
        (Polygon([(0, 0), (30, 0), (0, 24), (30, 24)]), "cross itself"),
        (Polygon([(0, 0), (30, 0), (40, 0)]), "cross itself"),
    ],
)
def test_shapes_that_are_no_outline(tmp_path, shape, expected):
    geojson(tmp_path, shape)
    (problem,) = problems_of(write(tmp_path, 'file = "a.geojson"'))
    assert expected in problem.expected
    assert problem.entry == "building 'house' . outline"


def test_single_part_of_a_multipolygon(tmp_path):
    geojson(tmp_path, MultiPolygon([HOUSE]))
    assert_allclose(outline_of(write(tmp_path, 'file = "a.geojson"')).area, 720 * FT**2)


@pytest.mark.parametrize("content", [None, b"", b"\x00\x01", b"{}", b'{"type": "Feature'])
def test_files_that_are_none(tmp_path, content):
    if content is not None:
        (tmp_path / "a.geojson").write_bytes(content)
    (problem,) = problems_of(write(tmp_path, 'file = "a.geojson"'))
    assert "vector file" in problem.expected


def on_map(folder, crs, name="a.gpkg", **more):
    corners = map_square(UTM)
    table = geopandas.GeoDataFrame({"id": [1]}, geometry=[Polygon(corners)], crs=UTM)
    table.to_crs(crs).to_file(folder / name, **more)
    return corners


@pytest.mark.parametrize("crs", [UTM, "EPSG:4326", "EPSG:2965", "EPSG:3857"])
@pytest.mark.parametrize("name", ["a.gpkg", "a.shp", "a.geojson"])
def test_reprojected_to_the_plan(tmp_path, crs, name):
    corners = on_map(tmp_path, crs, name)
    x, y = corners[0]
    path = write(
        tmp_path, f'file = "{name}"', f'crs = "{UTM}"\nmap_origin = [{float(x)}, {float(y)}]'
    )
    placed = np.array(outline_of(path).exterior.coords)
    sides = np.hypot(*np.diff(placed, axis=0).T)
    assert_allclose(sides, 12.0, rtol=1e-6)
    assert_allclose(np.sort(placed[:, 0]), [0, 0, 0, 12, 12], atol=1e-3)


def test_layers(tmp_path):
    corners = on_map(tmp_path, UTM, layer="roads")
    on_map(tmp_path, UTM, layer="houses")
    x, y = corners[0]
    site = f'crs = "{UTM}"\nmap_origin = [{float(x)}, {float(y)}]'
    assert outline_of(write(tmp_path, 'file = "a.gpkg", layer = "houses"', site)).area > 100
    (problem,) = problems_of(write(tmp_path, 'file = "a.gpkg"', site))
    assert "roads, houses" in problem.expected
    (problem,) = problems_of(write(tmp_path, 'file = "a.gpkg", layer = "none"', site))
    assert "a layer" in problem.expected


def test_a_map_file_on_a_plan_that_lies_on_no_map(tmp_path):
    on_map(tmp_path, UTM)
    (problem,) = problems_of(write(tmp_path, 'file = "a.gpkg"'))
    assert "map_origin" in problem.expected


def test_an_outline_that_touches_itself_is_read_as_the_ground_it_encloses(tmp_path):
    # One ring that runs in to a courtyard at a corner and out again, as real outlines are drawn.
    touching = Polygon([(0, 0), (30, 0), (30, 24), (0, 24), (0, 0), (5, 10), (10, 5), (0, 0)])
    assert not touching.is_valid
    geojson(tmp_path, touching)
    site = read_site(write(tmp_path, 'file = "a.geojson"'))
    assert_allclose(site.buildings[0].outline.area, (30 * 24 - 37.5) * FT**2)
    assert any("touches itself" in notice for notice in told(site))


def test_an_outline_that_crosses_itself_is_refused(tmp_path):
    geojson(tmp_path, Polygon([(0, 0), (30, 24), (30, 0), (0, 24)]))
    (problem,) = problems_of(write(tmp_path, 'file = "a.geojson"'))
    assert "cross" in problem.expected
