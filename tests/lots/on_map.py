"""Invented lots on a map, written as site files with elevation data beside them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from rasterio.transform import Affine

from runoff import read_site
from runoff.site import Problem
from runoff.terrain import Terrain, build_terrain
from tests.lots.rich import problems_of
from tests.terrain.rasters import heights_of, write_raster

UTM = "EPSG:32616"
EAST, NORTH = 500_000.0, 4_400_000.0
HOUSE = [[0, 0], [12, 0], [12, 8], [0, 8]]
WHOLE = (-40.0, -40.0, 52.0, 48.0)
"""Left, bottom, right, top of the ground that a tile of the whole lot covers, plan metres."""


def plane(x: Any, y: Any) -> Any:
    """3 % up to the right, 1 % down the plan, by plan metres."""
    return 200.0 + 0.03 * x - 0.01 * y


def on_map(x: Any, y: Any) -> Any:
    """The same by map metres."""
    return plane(x - EAST, y - NORTH)


def tile(
    path: Path,
    bounds: tuple[float, float, float, float] = WHOLE,
    cell: float = 0.5,
    surface: Any = on_map,
    crs: Any = UTM,
    **tags: Any,
) -> Path:
    """A tile in UTM whose bounds are given in plan metres."""
    left, bottom, right, top = bounds
    cols, rows = round((right - left) / cell), round((top - bottom) / cell)
    pixels = Affine(cell, 0, EAST + left, 0, -cell, NORTH + top)
    heights = heights_of(surface, pixels, rows, cols)
    return write_raster(path, heights, pixels, crs, tags.pop("unit", "m"), **tags)


def site_file(
    folder: Path,
    terrain: str,
    site: str = f"map_origin = [{EAST}, {NORTH}]",
    house: Any = HOUSE,
    units: str = "m",
    rest: str = "",
) -> Path:
    """A site file whose house has a corner at the plan's 0,0."""
    path = folder / "site.toml"
    path.write_text(
        f'[site]\nname = "invented lot"\nunits = "{units}"\n{site}\n'
        f'[terrain]\n{terrain}\n[[building]]\nname = "house"\n'
        f'walls = ["front", "right", "rear", "left"]\ncorners = {house}\n{rest}\n'
    )
    return path


def terrain_of(path: Path) -> Terrain:
    """The ground of a site file."""
    return build_terrain(read_site(path))


def only_problem(path: Path) -> Problem:
    """The one thing that is wrong with a site file."""
    (problem,) = problems_of(path)
    return problem


def off_by(terrain: Terrain, surface: Any = plane) -> float:
    """The largest difference of the ground from a surface of plan metres, metres."""
    x, y = np.meshgrid(*terrain.grid.centers())
    assert np.isfinite(terrain.ground).sum() > 1000
    return float(np.nanmax(np.abs(terrain.ground - surface(x, y))))


def open_share(terrain: Terrain) -> float:
    """The share of the cells outside the buildings that have ground."""
    return float(np.isfinite(terrain.ground[~terrain.closed]).mean())


def crs_wkt(text: str) -> str:
    """WKT of a map system."""
    return str(rasterio.crs.CRS.from_user_input(text).to_wkt())
