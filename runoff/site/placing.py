"""The elevation raster's own map system, and from it how typed positions lie on the plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from runoff.site.complaints import Complaints
from runoff.site.document import SiteTable, TerrainTable
from runoff.site.fields import METRES_PER_FOOT, METRES_PER_UNIT
from runoff.site.georeference import Frame, MapError, frame_on_map, read_crs, transform
from runoff.site.ground import written
from runoff.site.model import ElevationSource
from runoff.site.spots import SpotRow

if TYPE_CHECKING:
    from pyproj import CRS

# 1200/3937 m: the US survey foot, by definition (US Federal Register, 1959).
METRES_PER_VERTICAL_UNIT = {"m": 1.0, "ft": METRES_PER_FOOT, "us survey ft": 1200.0 / 3937.0}
ELEVATION = ("terrain", "elevation")


@dataclass(frozen=True)
class Elevation:
    """An elevation raster: its source record, map system (None: on the plan), and middle."""

    source: ElevationSource
    crs: CRS | None
    middle: tuple[float, float]


def read_elevation(
    terrain: TerrainTable | None, folder: Path, complaints: Complaints
) -> Elevation | None:
    """Look at the elevation raster; None where none is given or it cannot be read."""
    if terrain is None or terrain.elevation is None:
        return None
    import rasterio
    from rasterio.errors import RasterioError

    path = folder / terrain.elevation
    try:
        present = path.exists()
    except (OSError, ValueError):
        present = False
    if not present:
        complaints.add(ELEVATION, "a raster of heights; there is no such file")
        return None
    try:
        with rasterio.open(path) as raster:
            bands, bounds, held = raster.count, raster.bounds, raster.crs
            wkt = held.to_wkt() if held else None
    except (RasterioError, OSError, ValueError):
        complaints.add(ELEVATION, "a raster of heights, such as a GeoTIFF; it cannot be read")
        return None
    if terrain.band > bands:
        complaints.add(("terrain", "band"), f"a band from 1 to {bands}")
        return None
    middle = ((bounds.left + bounds.right) / 2.0, (bounds.bottom + bounds.top) / 2.0)
    unit = terrain.vertical_unit
    source = ElevationSource(
        path=path,
        band=terrain.band,
        vertical_unit=None if unit is None else METRES_PER_VERTICAL_UNIT[unit],
        written=written(complaints, ELEVATION),
    )
    return Elevation(source, _horizontal(wkt), middle)


def _horizontal(wkt: str | None) -> CRS | None:
    """A raster's map system; None for one that is drawn on the plan."""
    try:
        return None if wkt is None else read_crs(wkt)
    except MapError:
        return None


def place_on_map(
    site: SiteTable | None,
    elevation: Elevation | None,
    rows: Sequence[SpotRow] | None,
    units: str,
    complaints: Complaints,
    notices: list[str],
) -> Frame | None:
    """How typed positions become plan metres; None, and a complaint, where that cannot be told."""
    plan = Frame(METRES_PER_UNIT[units])
    if site is None:
        return plan
    held = None if elevation is None else elevation.crs
    try:
        typed = held if site.crs is None else read_crs(site.crs)
    except MapError as error:
        complaints.add(("site", "crs"), str(error))
        return None
    if typed is None:
        if site.map_origin is None:
            return plan
        complaints.add(
            ("site", "crs"), 'a map system for map_origin, such as crs = "EPSG:26916"', written=""
        )
        return None
    try:
        near = site.map_origin or _near(typed, elevation, rows)
        frame = frame_on_map(typed, near, site.map_origin, plan.unit)
    except MapError as error:
        entry = "crs" if site.map_origin is None else "map_origin"
        complaints.add(("site", entry), str(error))
        return None
    if frame.georeference is not None and read_crs(frame.georeference.crs) != typed:
        if elevation is not None and elevation.crs is None:
            complaints.add(
                ELEVATION,
                f"a raster that names its map system, as {typed.name} is no "
                "system to measure lengths in",
            )
        name = read_crs(frame.georeference.crs).name
        notices.append(f"positions are worked in {name}, as {typed.name} does not keep lengths")
    return frame


def _near(
    typed: CRS, elevation: Elevation | None, rows: Sequence[SpotRow] | None
) -> tuple[float, float]:
    """A position near the lot in the map system of typed positions."""
    if elevation is not None:
        source = elevation.crs or typed
        import numpy as np

        x, y = transform(np.array([elevation.middle]), source, typed)[0]
        return float(x), float(y)
    for row in rows or ():
        if row.x is not None and row.y is not None:
            return float(row.x), float(row.y)
    raise MapError("map_origin, or positions of spot heights, to tell where on the map the lot is")
