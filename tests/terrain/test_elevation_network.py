"""Elevation data at an address: read in ranges, and only where the site file allows it.

The server runs in the test, on the loopback; nothing leaves the machine.
"""

import numpy as np
import pytest
import rasterio
from rasterio.shutil import copy

from tests.lots.on_map import off_by, on_map, only_problem, site_file, terrain_of, tile
from tests.terrain.served import served
from tests.terrain.test_elevation_forms import vrt

ALLOWED = "network = true"


@pytest.fixture(autouse=True)
def _no_proxy(monkeypatch):
    for name in ("http_proxy", "HTTP_PROXY", "all_proxy", "ALL_PROXY"):
        monkeypatch.delenv(name, raising=False)


def rough(x, y):
    """The plane near the lot, and beyond it heights that do not compress."""
    noise = np.random.default_rng(1).uniform(0, 50, x.shape)
    near = np.hypot(x - 500_006, y - 4_400_004) < 70
    return np.where(near, on_map(x, y), noise)


def cloud_optimized(folder):
    """A cloud-optimized GeoTIFF of 1.5 by 1.5 km in tiles of 256 by 256."""
    folder.mkdir()
    plain = tile(folder / "plain.tif", (-740, -750, 760, 750), 0.5, rough)
    copy(plain, folder / "dem.tif", driver="COG", BLOCKSIZE="256", COMPRESS="DEFLATE")
    plain.unlink()
    with rasterio.open(folder / "dem.tif", "r") as raster:
        assert raster.profile["tiled"]
        assert raster.units == ("m",)
    return folder


def test_only_the_ranges_that_the_lot_needs_are_read(tmp_path):
    folder = cloud_optimized(tmp_path / "data")
    size = (folder / "dem.tif").stat().st_size
    with served(folder) as (address, server):
        path = site_file(tmp_path, f'elevation = "{address}/dem.tif"\n{ALLOWED}')
        terrain = terrain_of(path)
        assert off_by(terrain) < 1e-9
        # 90 m are 180 pixels: at most four of the file's tiles, of 0.5 MB each, and its head.
        assert size > 40e6
        assert 0 < server.sent < 3e6
        assert server.requests < 40


def test_the_network_is_not_touched_unless_allowed(tmp_path):
    folder = tmp_path / "data"
    folder.mkdir()
    tile(folder / "dem.tif")
    with served(folder) as (address, server):
        problem = only_problem(site_file(tmp_path, f'elevation = "{address}/dem.tif"'))
        assert "write network = true in [terrain]" in problem.expected
        (tmp_path / "lot.vrt").write_text(vrt(f"/vsicurl/{address}/dem.tif"))
        problem = only_problem(site_file(tmp_path, 'elevation = "lot.vrt"'))
        assert "network = true" in problem.expected
        (tmp_path / "outer.vrt").write_text(vrt("lot.vrt"))
        assert only_problem_of_reading(site_file(tmp_path, 'elevation = "outer.vrt"'))
        assert server.requests == 0


def only_problem_of_reading(path):
    """What is said of a virtual raster that leads to the network through another."""
    from runoff.site import InputError

    with pytest.raises(InputError) as caught:
        terrain_of(path)
    (problem,) = caught.value.problems
    return problem


def test_a_virtual_raster_may_lead_there_where_allowed(tmp_path):
    folder = tmp_path / "data"
    folder.mkdir()
    tile(folder / "dem.tif")
    with served(folder) as (address, server):
        (tmp_path / "lot.vrt").write_text(vrt(f"/vsicurl/{address}/dem.tif"))
        terrain = terrain_of(site_file(tmp_path, f'elevation = "lot.vrt"\n{ALLOWED}'))
        assert off_by(terrain) < 1e-9
        assert server.requests > 0


@pytest.mark.parametrize("ranges", [True, False])
def test_an_address_without_a_raster_is_refused_in_one_line(tmp_path, ranges):
    folder = tmp_path / "data"
    folder.mkdir()
    (folder / "page.tif").write_text("<html>not found</html>" * 50)
    with served(folder, ranges) as (address, _):
        for name in ("page.tif", "missing.tif"):
            path = site_file(tmp_path, f'elevation = "{address}/{name}"\n{ALLOWED}')
            problem = only_problem(path)
            assert problem.entry == "[terrain] elevation"
            assert "\n" not in problem.expected


def test_nobody_at_the_address(tmp_path):
    with served(tmp_path) as (address, _):
        pass
    problem = only_problem(site_file(tmp_path, f'elevation = "{address}/dem.tif"\n{ALLOWED}'))
    assert "a raster of heights that can be read" in problem.expected


def test_text_and_clouds_are_to_be_downloaded(tmp_path):
    problem = only_problem(
        site_file(tmp_path, f'elevation = "http://127.0.0.1:9/tile.laz"\n{ALLOWED}')
    )
    assert "download" in problem.expected


@pytest.mark.parametrize("written", ['"yes"', "1", "[]"])
def test_allowing_is_true_or_false(tmp_path, written):
    tile(tmp_path / "dem.tif")
    problem = only_problem(site_file(tmp_path, f'elevation = "dem.tif"\nnetwork = {written}'))
    assert problem.entry == "[terrain] network"
    assert "true or false" in problem.expected
