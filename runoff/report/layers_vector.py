"""Layers of points, lines and areas, and the GeoPackage that holds them.

In: layers in plan metres. Out: one file, each layer with a table of its own. Fields are SI with the
unit in the name; text fields are the user's words and the sentences of the summary.
"""

from __future__ import annotations

import math
import os
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import geopandas as gpd
import numpy as np
import pyogrio
from numpy.typing import NDArray
from pyogrio.errors import DataLayerError, DataSourceError, FeatureError
from rasterio.features import shapes
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, shape
from shapely.geometry.base import BaseGeometry

from runoff.report.files import TEXT_MARK, whole_file
from runoff.report.layers_place import Place
from runoff.report.printable import printable
from runoff.terrain.model import Grid

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
