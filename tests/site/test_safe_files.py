"""No file that a site file names leads to the network, or out of its folder, without leave.

A server on the loopback counts what it is asked for: it must be asked for nothing.
"""

import json
import os
import shutil
import sqlite3

import pytest

from runoff import read_site
from runoff.site import InputError
from tests.lots.on_map import EAST, HOUSE, NORTH, UTM, only_problem, site_file, tile
from tests.lots.rich import problems_of
from tests.terrain.served import served
from tests.terrain.test_elevation_forms import vrt
from tests.told import told

OUTLINE = {
    "type": "FeatureCollection",
    "features": [
        {
            "type": "Feature",
            "properties": {},
            "geometry": {"type": "Polygon", "coordinates": [[*HOUSE, HOUSE[0]]]},
        }
    ],
}


@pytest.fixture(autouse=True)
def _no_proxy(monkeypatch):
    for name in ("http_proxy", "HTTP_PROXY", "https_proxy", "all_proxy", "ALL_PROXY"):
        monkeypatch.delenv(name, raising=False)


def wms(address):
    """A request to a map server, as GDAL describes one in its documentation."""
    return (
        f'<GDAL_WMS><Service name="TMS"><ServerUrl>{address}/${{z}}/${{x}}/${{y}}.png</ServerUrl>'
        "</Service><DataWindow><UpperLeftX>-20</UpperLeftX><UpperLeftY>20</UpperLeftY>"
        "<LowerRightX>20</LowerRightX><LowerRightY>-20</LowerRightY><TileLevel>2</TileLevel>"
        "</DataWindow><Projection>EPSG:3857</Projection><BandsCount>1</BandsCount></GDAL_WMS>"
    )


def ogr_vrt(source, where="SrcDataSource"):
    return (
        f'<OGRVRTDataSource><OGRVRTLayer name="a"><{where}>{source}</{where}>'
        "</OGRVRTLayer></OGRVRTDataSource>"
    )


def entity(address):
    """An address that is written with character entities."""
    return vrt("/vsicurl/" + "".join(f"&#{ord(c)};" for c in f"{address}/dem.tif"))


def declared(address):
    return f'<!DOCTYPE a [<!ENTITY b SYSTEM "{address}/x">]>' + vrt("&b;")


def derived(address):
    return (
        vrt("dem.tif")
        .replace('band="1"', 'band="1" subClass="VRTDerivedRasterBand"')
        .replace("<UnitType>", "<PixelFunctionType>a</PixelFunctionType><UnitType>")
    )


def warped(address):
    return vrt("dem.tif").replace("<VRTDataset", '<VRTDataset subClass="VRTWarpedDataset"')


RASTERS = {
    "a virtual raster": lambda at: vrt(f"/vsicurl/{at}/dem.tif"),
    "a plain address in one": lambda at: vrt(f"{at}/dem.tif"),
    "character entities": entity,
    "a declared entity": declared,
    "a remote folder by another way": lambda at: vrt("/vsis3/bucket/dem.tif"),
    "a virtual raster in a virtual raster": lambda at: vrt("inner.vrt"),
    "an address within an archive": lambda at: vrt(f"/vsizip//vsicurl/{at}/a.zip/dem.tif"),
    "a map server": wms,
    "a coverage server": lambda at: (
        f"<WCS_GDAL><ServiceURL>{at}/wcs?</ServiceURL><CoverageName>a</CoverageName></WCS_GDAL>"
    ),
    "a map server as a source": lambda at: vrt("inner.xml"),
    "a driver's prefix": lambda at: vrt(f"WCS:{at}/wcs"),
    "a computed band": derived,
    "a warped raster": warped,
}
VECTORS = {
    "an outline by a virtual layer": lambda at: ogr_vrt(f"/vsicurl/{at}/a.geojson"),
    "a feature server": lambda at: f"<OGRWFSDataSource><URL>{at}/wfs</URL></OGRWFSDataSource>",
    "a pipeline": lambda at: json.dumps(
        {
            "type": "gdal_streamed_alg",
            "command_line": f"gdal vector pipeline read {at}/a.geojson ! write a.json",
        }
    ),
    "a service's answer that goes on": lambda at: json.dumps(
        {"geometryType": "esriGeometryPolygon", "features": [], "next": f"{at}/more"}
    ),
}


@pytest.mark.parametrize("name", ["dem.vrt", "dem.tif", "dem.xml", "dem.asc"])
@pytest.mark.parametrize("kind", RASTERS)
def test_no_raster_leads_to_the_network(tmp_path, kind, name):
    (tmp_path / "data").mkdir()
    tile(tmp_path / "data" / "dem.tif")
    lot = tmp_path / "lot"
    lot.mkdir()
    tile(lot / "plain.tif")
    with served(tmp_path / "data") as (address, server):
        (lot / "inner.vrt").write_text(vrt(f"/vsicurl/{address}/dem.tif"))
        (lot / "inner.xml").write_text(wms(address))
        (lot / name).write_text(RASTERS[kind](address))
        path = site_file(lot, f'elevation = "{name}"')
        assert only_problem(path).entry == "[terrain] elevation"
        assert server.requests == 0


@pytest.mark.parametrize("sidecar", ["dem.tif.ovr", "dem.tif.aux.xml", "dem.tif.msk", "dem.prj"])
def test_no_file_beside_a_raster_leads_to_the_network(tmp_path, sidecar):
    """A smaller copy, or notes, beside a raster that is a map server's address in truth."""
    tile(tmp_path / "dem.tif")
    with served(tmp_path) as (address, server):
        notes = (
            '<PAMDataset><Metadata domain="OVERVIEWS"><MDI key="OVERVIEW_FILE">'
            f"/vsicurl/{address}/dem.tif</MDI></Metadata></PAMDataset>"
        )
        (tmp_path / sidecar).write_text(notes if sidecar.endswith("xml") else wms(address))
        from runoff.terrain import build_terrain

        build_terrain(read_site(site_file(tmp_path, 'elevation = "dem.tif"')))
        assert server.requests == 0


@pytest.mark.parametrize("name", ["house.vrt", "house.geojson", "house.json", "house.shp"])
@pytest.mark.parametrize("kind", VECTORS)
def test_no_outline_leads_to_the_network(tmp_path, kind, name):
    tile(tmp_path / "dem.tif")
    (tmp_path / "a.geojson").write_text(json.dumps(OUTLINE))
    with served(tmp_path) as (address, server):
        (tmp_path / name).write_text(VECTORS[kind](address))
        path = site_file(tmp_path, 'elevation = "dem.tif"')
        path.write_text(
            path.read_text().replace(f"corners = {HOUSE}", f'outline = {{ file = "{name}" }}')
        )
        problem = only_problem(path)
        assert "GeoJSON, a shapefile or a GeoPackage" in problem.expected
        assert server.requests == 0


def with_outline(folder, name):
    """A lot whose house's outline is read from a file."""
    path = site_file(folder, 'elevation = "dem.tif"')
    path.write_text(
        path.read_text().replace(f"corners = {HOUSE}", f'outline = {{ file = "{name}" }}')
    )
    return path


@pytest.mark.parametrize("name", ["house.geojson", "house.gpkg", "house.shp"])
def test_outlines_of_the_kinds_named_are_read(tmp_path, name):
    import geopandas
    from shapely.geometry import Polygon

    tile(tmp_path / "dem.tif")
    house = Polygon([(EAST + x, NORTH + y) for x, y in HOUSE])
    geopandas.GeoDataFrame(geometry=[house], crs=UTM).to_file(tmp_path / name)
    site = read_site(with_outline(tmp_path, name))
    assert site.buildings[0].outline.area == pytest.approx(96.0)


def test_a_database_of_another_kind_is_no_outline(tmp_path):
    tile(tmp_path / "dem.tif")
    sqlite3.connect(tmp_path / "house.gpkg").execute("create table a (b)").connection.close()
    assert problems_of(with_outline(tmp_path, "house.gpkg"))


# Files outside the folder of the site file.


def elsewhere(tmp_path, way):
    """A lot whose heights lie outside its folder: by dots, by a whole path, by a link, by parts."""
    tile(tmp_path / "dem.tif")
    lot = tmp_path / "lot"
    lot.mkdir()
    if way == "a link":
        os.symlink(tmp_path / "dem.tif", lot / "dem.tif")
        return lot, "dem.tif"
    if way == "parts of a virtual raster":
        (lot / "lot.vrt").write_text(vrt("../dem.tif"))
        return lot, "lot.vrt"
    return lot, "../dem.tif" if way == "dots" else str(tmp_path / "dem.tif")


@pytest.mark.parametrize("way", ["dots", "a whole path", "a link", "parts of a virtual raster"])
def test_a_file_outside_the_folder_is_read_only_with_leave_and_then_said(tmp_path, way):
    lot, name = elsewhere(tmp_path, way)
    path = site_file(lot, f"elevation = '{name}'")
    problem = only_problem(path)
    assert problem.entry == "[terrain] elevation"
    assert "files_elsewhere = true in [site]" in problem.expected
    path.write_text(path.read_text().replace("[site]\n", "[site]\nfiles_elsewhere = true\n"))
    site = read_site(path)
    if way != "parts of a virtual raster":
        (said,) = [each for each in told(site) if "outside the site file's folder" in each]
        assert name in said


@pytest.mark.parametrize(
    "entry", ['spot_heights = "../spots.csv"', 'levels = "../a.csv"', 'ties = "/etc/hostname"']
)
def test_sheets_are_read_from_the_folder_alone(tmp_path, entry):
    (tmp_path / "spots.csv").write_text("name,x,y,z\nA,0,0,1\n")
    lot = tmp_path / "lot"
    lot.mkdir()
    with pytest.raises(InputError) as caught:
        read_site(site_file(lot, entry))
    assert any("files_elsewhere" in each.expected for each in caught.value.problems)
    assert not any("hostname" in each.expected for each in caught.value.problems)


def test_a_lot_that_is_moved_as_a_whole_reads_as_before(tmp_path):
    lot = tmp_path / "lot"
    (lot / "data").mkdir(parents=True)
    tile(lot / "data" / "dem.tif")
    (lot / "data" / "lot.vrt").write_text(vrt("dem.tif"))
    path = site_file(lot, 'elevation = "data/lot.vrt"')
    before = read_site(path).elevation.crs
    shutil.move(lot, tmp_path / "moved")
    assert read_site(tmp_path / "moved" / path.name).elevation.crs == before
