"""What layers are made of: their place on the map; points, lines and areas in a GeoPackage;
grids as GeoTIFF.

In: plan positions, geometries and the terrain's grid. Out: the same in the units of the map system,
with its WKT. A plan that lies on no map keeps its metres, in a system that says so.

In: layers in plan metres. Out: one file, each layer with a table of its own. Fields are SI with the
unit in the name; text fields are the user's words and the sentences of the summary.

In: findings. Out: one file a grid on the terrain's own cells, never resampled: where the plan is
turned on the map, so is the grid. Heights and depths are metres whatever the map's unit.
"""

from __future__ import annotations

import math
import os
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, TypeVar

import geopandas as gpd
import numpy as np
import pyogrio
from affine import Affine
from numpy.typing import NDArray
from pyogrio.errors import DataLayerError, DataSourceError, FeatureError
from rasterio.crs import CRS
from rasterio.features import shapes
from rasterio.io import DatasetWriter, MemoryFile
from shapely import transform
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, shape
from shapely.geometry.base import BaseGeometry

from runoff.foundation.model import REASONS
from runoff.inspection import Findings
from runoff.report.files import TEXT_MARK, whole_file
from runoff.report.names import printable
from runoff.site.elevation.georeference import plan_to_map
from runoff.site.model import Georeference, Site
from runoff.terrain.model import Grid

LOCAL_PLAN = (
    'ENGCRS["Local plan of the lot, metres",EDATUM["0,0 of the plan"],CS[Cartesian,2],'
    'AXIS["x",unspecified,ORDER[1]],AXIS["y",unspecified,ORDER[2]],LENGTHUNIT["metre",1]]'
)
_ON_PLAN = Georeference(LOCAL_PLAN, 1.0, (0.0, 0.0))
Shape = TypeVar("Shape", bound=BaseGeometry)


@dataclass(frozen=True)
class Place:
    """How the plan lies in the layers; `georeference` is None where they are on the plan itself.

    Examples
    --------
    >>> Place(None).points(np.array([[1.0, 2.0]])).tolist(), Place(None).on_map
    ([[1.0, 2.0]], False)
    >>> feet = Georeference("", metres_per_unit=0.3048, origin=(304.8, 609.6))
    >>> Place(feet).points(np.array([[3.048, 0.0]])).tolist()
    [[1010.0, 2000.0]]
    """

    georeference: Georeference | None

    @classmethod
    def of(cls, site: Site) -> Place:
        """Where a site lies."""
        return cls(site.georeference)

    @property
    def on_map(self) -> bool:
        """Whether the layers are in a map system."""
        return self.georeference is not None

    @property
    def crs(self) -> str:
        """WKT of the map system, or of the local plan."""
        return self._used.crs

    @property
    def metres_per_unit(self) -> float:
        """Metres in one unit of the coordinates."""
        return self._used.metres_per_unit

    def points(self, plan: NDArray[np.float64]) -> NDArray[np.float64]:
        """Coordinates, (n, 2), of plan positions in metres."""
        return plan_to_map(self._used, plan)

    def shape(self, plan: Shape) -> Shape:
        """A geometry of plan metres in the layers' coordinates."""
        return transform(plan, self.points)

    def affine(self, grid: Grid) -> Affine:
        """From (column, row) of a grid's cell corners to coordinates; turned as the plan is."""
        cell = grid.cell_size / self.metres_per_unit
        cos, sin = math.cos(self._used.rotation), math.sin(self._used.rotation)
        left, _, _, top = grid.extent
        x, y = self.points(np.array([[left, top]]))[0]
        return Affine(cos * cell, sin * cell, x, sin * cell, -cos * cell, y)

    @property
    def _used(self) -> Georeference:
        return self.georeference or _ON_PLAN


Kind = Literal["Point", "LineString", "Polygon", "MultiPolygon"]
Value = str | int | float | None
Fields = dict[str, Value]

_SYNC = "OGR_SQLITE_SYNCHRONOUS"


@dataclass(frozen=True)
class Feature:
    """One feature: its geometry in plan metres, and its fields by name."""

    geometry: BaseGeometry
    fields: Fields


@dataclass(frozen=True)
class Layer:
    """Features of one kind; `about` is one sentence on what they are."""

    name: str
    kind: Kind
    about: str
    features: tuple[Feature, ...]


def points(
    name: str, about: str, entries: Iterable[tuple[tuple[float, float] | None, Fields]]
) -> Layer:
    """A layer of points; an entry without a place is left out."""
    found = (Feature(Point(at), fields) for at, fields in entries if at is not None)
    return Layer(name, "Point", about, tuple(found))


def lines(name: str, about: str, entries: Iterable[tuple[NDArray[np.float64], Fields]]) -> Layer:
    """A layer of lines through (k, 2) positions; one that is a single place is left out."""
    found = (
        Feature(LineString(way), fields)
        for way, fields in entries
        if len(way) > 1 and np.ptp(way, axis=0).any()
    )
    return Layer(name, "LineString", about, tuple(found))


def areas(name: str, about: str, entries: Iterable[tuple[Polygon, Fields]]) -> Layer:
    """A layer of areas."""
    found = (Feature(area, fields) for area, fields in entries)
    return Layer(name, "Polygon", about, tuple(found))


def yes_no(value: bool) -> str:
    """A yes or no that every program shows alike."""
    return "yes" if value else "no"


def area_of(cells: NDArray[np.int64], grid: Grid) -> MultiPolygon:
    """The ground that cells cover, (k, 2) rows and columns, along their edges.

    Examples
    --------
    >>> grid = Grid(rows=2, cols=3, cell_size=0.5, x0=10.0, y0=0.0)
    >>> area_of(np.array([[0, 0], [0, 1]]), grid).bounds
    (10.0, 0.5, 11.0, 1.0)
    """
    mask = np.zeros((grid.rows, grid.cols), dtype=np.uint8)
    mask[tuple(cells.T)] = 1
    found = shapes(mask, mask=mask.astype(bool), connectivity=4, transform=Place(None).affine(grid))
    return MultiPolygon([Polygon(shape(area)) for area, _ in found])


def write_package(path: Path, layers: Sequence[Layer], place: Place) -> None:
    """Write the layers that have features, whole or not at all.

    Raises
    ------
    OSError
        Where the disk does not take it.
    """
    with whole_file(path) as temporary, _written_in_one_go():
        try:
            for layer in layers:
                if layer.features:
                    _append(temporary, layer, place)
        except (DataSourceError, DataLayerError, FeatureError) as reason:
            raise OSError(f"{path} cannot be written: {reason}") from reason
        with temporary.open("rb+") as file:
            os.fsync(file.fileno())


def _append(path: Path, layer: Layer, place: Place) -> None:
    names = list(layer.features[0].fields)
    columns = {name: _column([one.fields[name] for one in layer.features]) for name in names}
    table = gpd.GeoDataFrame(
        columns,
        geometry=[place.shape(one.geometry) for one in layer.features],
        crs=place.crs,
    )
    table.to_file(
        path,
        layer=layer.name,
        driver="GPKG",
        engine="pyogrio",
        geometry_type=layer.kind,
        promote_to_multi=layer.kind == "MultiPolygon",
        DESCRIPTION=f"{TEXT_MARK}: {layer.about}",
    )


def _column(values: list[Value]) -> NDArray[np.float64] | list[Value]:
    """Numbers with NaN, which the file holds as *no value*, for what is unknown or endless."""
    if any(isinstance(value, str) for value in values):
        return [printable(value) if isinstance(value, str) else value for value in values]
    if all(isinstance(value, int) for value in values):
        return values
    numbers = [math.nan if value is None else float(value) for value in values]
    return np.where(np.isfinite(numbers), numbers, np.nan)


@contextmanager
def _written_in_one_go() -> Iterator[None]:
    """The disk is asked once, at the end, and not after each statement of each layer."""
    before = pyogrio.get_gdal_config_option(_SYNC)
    pyogrio.set_gdal_config_options({_SYNC: "OFF"})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({_SYNC: before})


NO_GROUND = -9999.0
# Each apart from the next in gray too; what is safe is the lightest but for no ground at all.
CODE_COLORS: tuple[tuple[int, int, int], ...] = (
    (222, 243, 208),
    (255, 255, 255),
    (64, 0, 18),
    (214, 190, 130),
    (140, 38, 30),
    (20, 45, 95),
    (150, 110, 160),
    (252, 205, 140),
    (100, 100, 100),
    (160, 160, 160),
)


def write_terrain(path: Path, findings: Findings, place: Place) -> None:
    """Write the heights of the ground, metres on the survey's datum."""
    ground = findings.terrain.ground
    values = np.where(np.isfinite(ground), ground, NO_GROUND)
    _write_metres(path, findings, place, values, "height of the ground, on the survey's datum")


def write_standing_depth(path: Path, findings: Findings, place: Place) -> None:
    """Write how deep water stands once the storm has run, metres; 0 is dry ground."""
    known = np.isfinite(findings.terrain.ground)
    values = np.where(known, findings.standing_depth, NO_GROUND)
    _write_metres(path, findings, place, values, "depth of the water that the storm leaves")


def write_safe_area(path: Path, findings: Findings, place: Place) -> None:
    """Write for each cell whether water may be let go there, and why not: codes with a table."""
    code = findings.at_the_wall.safe_area.code
    with _opened(path, code, findings, place) as file:
        file.set_band_description(1, "where water may be let go, and why not elsewhere")
        file.update_tags(1, **{f"code_{index}": words for index, words in enumerate(REASONS)})
        file.write_colormap(1, {code: (*color, 255) for code, color in enumerate(CODE_COLORS)})
        file.write(code, 1)


def _write_metres(
    path: Path, findings: Findings, place: Place, values: NDArray[np.float64], about: str
) -> None:
    stored = values.astype(np.float32)
    with _opened(path, stored, findings, place) as file:
        file.set_band_description(1, f"{about}, metres")
        file.set_band_unit(1, "metre")
        file.write(stored, 1)


@contextmanager
def _opened(
    path: Path, values: NDArray[Any], findings: Findings, place: Place
) -> Iterator[DatasetWriter]:
    """A grid to fill in memory; the file is written once the block ends well.

    The library keeps a full disk to itself, so the disk is left to Python.
    """
    rows, cols = values.shape
    profile: dict[str, Any] = {"nodata": NO_GROUND, "predictor": 3}
    if values.dtype == np.uint8:
        profile = {"photometric": "palette"}
    with MemoryFile() as memory:
        with memory.open(
            driver="GTiff",
            width=cols,
            height=rows,
            count=1,
            dtype=values.dtype,
            crs=CRS.from_wkt(place.crs),
            transform=place.affine(findings.terrain.grid),
            compress="deflate",
            **profile,
        ) as file:
            file.update_tags(TIFFTAG_SOFTWARE=TEXT_MARK)
            yield file
        with whole_file(path) as temporary:
            temporary.write_bytes(memory.read())
