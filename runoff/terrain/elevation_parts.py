"""The part of one elevation file that the lot needs: heights in metres, and how its pixels lie."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from runoff.site.elevation_files import kind_of, opened, read_text_grid
from runoff.site.georeference import MapError, map_to_plan, plan_to_map, read_crs, transform
from runoff.site.model import ElevationSource, Georeference
from runoff.site.problems import InputError, Problem
from runoff.site.vertical_units import unit_of_band
from runoff.terrain.cells import MOST_CELLS
from runoff.terrain.elevation_cloud import read_cloud
from runoff.terrain.extent import Bounds
from runoff.terrain.heights_unit import metres_per_height

if TYPE_CHECKING:
    from affine import Affine

_SPARE_PIXELS = 2
_SQUARE = 1e-6
FARTHEST_FROM_SEA_M = 12_000.0
"""No ground is so high or low: it lies between 8,849 m and -10,935 m. What is, stands for none."""


@dataclass(frozen=True)
class Part:
    """Heights (rows, cols) in metres, NaN where there are none, their pixels in the system `crs`.

    `pixels` takes (column, row), whole numbers at the pixels' corners, to map positions.
    """

    name: str
    heights: NDArray[np.float64]
    pixels: Affine
    crs: Any


def refused(source: ElevationSource, expected: str, entry: str = "elevation") -> InputError:
    """The error that says what is expected of elevation data."""
    written = source.written
    return InputError(
        [Problem(written.file, written.line, f"[terrain] {entry}", source.name, expected)]
    )


def read_part(source: ElevationSource, place: Georeference, wanted: Bounds | None) -> Part | None:
    """Read the pixels of one file that cover the wanted extent; None where it lies elsewhere.

    Parameters
    ----------
    source : ElevationSource
    place : Georeference
    wanted : (left, bottom, right, top) or None
        Plan metres; None for the whole file.

    Raises
    ------
    InputError
        Where the file cannot be read, is too large to be read whole, says nowhere in which unit
        its heights are, or none of these is a height of ground.
    """
    kind = kind_of(source.path)
    read = {"raster": _raster, "text": _text, "cloud": _cloud}[kind]
    try:
        part = read(source, place, wanted)
    except MapError as error:
        raise refused(source, str(error)) from None
    if part is None or np.isnan(part.heights).all():
        return part
    there = np.abs(part.heights) <= FARTHEST_FROM_SEA_M
    if not there.any():
        lowest = np.nanmin(np.abs(part.heights))
        raise refused(
            source,
            f"heights of ground; none of these is less than {lowest:.3g} m from the sea's level: "
            "look at vertical_unit, and at the file's own scale",
        )
    return replace(part, heights=np.where(there, part.heights, np.nan))


def _raster(source: ElevationSource, place: Georeference, wanted: Bounds | None) -> Part | None:
    from rasterio.windows import Window

    with opened(source.path, source.network) as raster:
        if not 1 <= source.band <= raster.count:
            raise refused(source, f"a band from 1 to {raster.count}", "band")
        unit = metres_per_height(source, unit_of_band(raster, source.band))
        crs = _crs(source, raster.crs and raster.crs.to_wkt(), place)
        shape = raster.height, raster.width
        window = _window(raster.transform, shape, around_in(wanted, place, crs))
        if window is None:
            return None
        _refuse_too_large(source, window)
        pixels = raster.read(source.band, window=Window(*window), masked=True)
        heights = np.ma.filled(pixels.astype(np.float64), np.nan)
        scale, offset = raster.scales[source.band - 1], raster.offsets[source.band - 1]
        with np.errstate(over="ignore", invalid="ignore"):
            heights = (heights * scale + offset) * unit + source.shift
        return Part(source.name, heights, shifted(raster.transform, *window[:2]), crs)


def _text(source: ElevationSource, place: Georeference, wanted: Bounds | None) -> Part | None:
    from rasterio.transform import Affine

    grid = read_text_grid(source.path)
    unit = metres_per_height(source, None)
    crs = _crs(source, None, place)
    corner = grid.left - grid.dx / 2, grid.top + grid.dy / 2
    pixels = Affine(grid.dx, 0.0, corner[0], 0.0, -grid.dy, corner[1])
    rows, cols = grid.heights.shape
    window = _window(pixels, (rows, cols), around_in(wanted, place, crs))
    if window is None:
        return None
    left, top, width, height = window
    heights = grid.heights[top : top + height, left : left + width] * unit + source.shift
    return Part(source.name, heights, shifted(pixels, left, top), crs)


def _cloud(source: ElevationSource, place: Georeference, wanted: Bounds | None) -> Part | None:
    cloud = read_cloud(source.path, lambda wkt: _around_cloud(source, wkt, place, wanted))
    if cloud is None:
        return None
    unit = metres_per_height(source, cloud.unit)
    crs = _crs(source, cloud.crs, place)
    return Part(source.name, cloud.heights * unit + source.shift, cloud.pixels, crs)


def _around_cloud(
    source: ElevationSource, wkt: str | None, place: Georeference, wanted: Bounds | None
) -> tuple[Any, NDArray[np.float64] | None]:
    crs = _crs(source, wkt, place)
    return crs, around_in(wanted, place, crs)


def _crs(source: ElevationSource, said: str | None, place: Georeference) -> Any:
    """WKT of the map system of a file: the one it names, else the one to read it in."""
    try:
        if said:
            read_crs(said)
            return said
    except MapError:
        pass
    return source.crs or place.crs


def around_in(wanted: Bounds | None, place: Georeference, crs: Any) -> NDArray[np.float64] | None:
    """Positions in `crs` around the wanted extent; None where all is wanted."""
    if wanted is None:
        return None
    return transform(plan_to_map(place, around(wanted)), place.crs, crs)


def around(bounds: Bounds, points: int = 9) -> NDArray[np.float64]:
    """Positions around a rectangle, so that one bent by a map system is still covered."""
    left, bottom, right, top = bounds
    x, y = np.linspace(left, right, points), np.linspace(bottom, top, points)
    return np.concatenate(
        [
            np.column_stack([x, np.full(points, bottom)]),
            np.column_stack([x, np.full(points, top)]),
            np.column_stack([np.full(points, left), y]),
            np.column_stack([np.full(points, right), y]),
        ]
    )


def _window(
    pixels: Affine, shape: tuple[int, int], corners: NDArray[np.float64] | None
) -> tuple[int, int, int, int] | None:
    """First column and row, columns and rows that the wanted positions need; None for none."""
    rows, cols = shape
    if corners is None:
        return 0, 0, cols, rows
    col, row = apply(~pixels, *corners.T)
    left = max(math.floor(col.min()) - _SPARE_PIXELS, 0)
    top = max(math.floor(row.min()) - _SPARE_PIXELS, 0)
    right = min(math.ceil(col.max()) + _SPARE_PIXELS, cols)
    bottom = min(math.ceil(row.max()) + _SPARE_PIXELS, rows)
    if right <= left or bottom <= top:
        return None
    return left, top, right - left, bottom - top


def _refuse_too_large(source: ElevationSource, window: tuple[int, int, int, int]) -> None:
    width, height = window[2:]
    if width * height > 4 * MOST_CELLS:
        raise refused(
            source,
            f"a smaller area than {width:,} by {height:,} cells; give the [lot] boundary "
            "so that only its surroundings are read",
        )


def shifted(pixels: Affine, col: int, row: int) -> Affine:
    """The matrix of the pixels from a column and a row on."""
    x, y = pixels.a * col + pixels.b * row, pixels.d * col + pixels.e * row
    return type(pixels)(pixels.a, pixels.b, pixels.c + x, pixels.d, pixels.e, pixels.f + y)


def apply(matrix: Affine, x: Any, y: Any) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Positions taken through an affine matrix."""
    return matrix.a * x + matrix.b * y + matrix.c, matrix.d * x + matrix.e * y + matrix.f


def same_map(one: Any, other: Any) -> bool:
    """Whether two map systems (WKT) are the same on the ground."""
    return bool(one == other or read_crs(one) == read_crs(other))


def is_square(part: Part, place: Georeference) -> bool:
    """Whether the pixels are squares along the plan's axes."""
    pixels = part.pixels
    size = abs(pixels.a)
    tilted = max(abs(pixels.b), abs(pixels.d)) > _SQUARE * max(size, abs(pixels.b))
    if tilted or place.rotation != 0.0 or abs(abs(pixels.e) - size) > _SQUARE * size:
        return False
    return same_map(part.crs, place.crs)


def pixel_size(part: Part, place: Georeference) -> float:
    """Side of a square as large as a pixel in the middle of the part, metres."""
    rows, cols = part.heights.shape
    middle = np.array([cols / 2, rows / 2])
    corner = to_plan(part, place, middle + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    across, down = corner[1] - corner[0], corner[2] - corner[0]
    return math.sqrt(abs(across[0] * down[1] - across[1] * down[0]))


def to_plan(part: Part, place: Georeference, pixels: NDArray[np.float64]) -> NDArray[np.float64]:
    """Plan positions of (n, 2) pixel positions, column before row."""
    positions = np.column_stack(apply(part.pixels, *pixels.T))
    return map_to_plan(place, transform(positions, part.crs, place.crs))


def to_pixels(part: Part, place: Georeference, plan: NDArray[np.float64]) -> NDArray[np.float64]:
    """Pixel positions, column before row, of (n, 2) plan positions."""
    on_map = transform(plan_to_map(place, plan), place.crs, part.crs)
    return np.column_stack(apply(~part.pixels, *on_map.T))
