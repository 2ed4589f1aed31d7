"""Elevation rasters that the tests write themselves."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio.transform import Affine

from runoff.site import ElevationSource, Georeference
from tests.lots.records import WRITTEN


def write_raster(
    path: Path, heights: NDArray[Any], pixels: Affine, crs: Any, unit: str | None = "m", **tags: Any
) -> Path:
    """Write one band of heights; `tags` may set nodata, scale and offset."""
    scale, offset = tags.pop("scale", None), tags.pop("offset", None)
    rows, cols = heights.shape
    profile = {"driver": "GTiff", "height": rows, "width": cols, "count": 1, **tags}
    with rasterio.open(
        path, "w", dtype=heights.dtype, transform=pixels, crs=crs, **profile
    ) as raster:
        raster.write(heights, 1)
        if unit is not None:
            raster.units = (unit,)
        if scale is not None:
            raster.scales = (scale,)
            raster.offsets = (offset or 0.0,)
    return path


def heights_of(surface: Any, pixels: Affine, rows: int, cols: int) -> NDArray[np.float64]:
    """A surface of map coordinates at the pixel centers."""
    col, row = np.meshgrid(np.arange(cols) + 0.5, np.arange(rows) + 0.5)
    x = pixels.a * col + pixels.b * row + pixels.c
    y = pixels.d * col + pixels.e * row + pixels.f
    return surface(x, y)


def a_source(path: Path, vertical_unit: float | None = None) -> ElevationSource:
    """Band 1 of a raster."""
    return ElevationSource(path, 1, vertical_unit, WRITTEN)


def a_place(crs: Any, origin: tuple[float, float], metres_per_unit: float = 1.0) -> Georeference:
    """Plan 0,0 at `origin`, metres along the axes of `crs`."""
    return Georeference(rasterio.crs.CRS.from_user_input(crs).to_wkt(), metres_per_unit, origin)
