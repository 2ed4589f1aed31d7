"""Opening elevation data as it comes: rasters, grids in text, point clouds; files and addresses.

In: a file or an address, and whether the network may be used. Out: what the file says of itself,
or an open raster. Nothing is fetched unless the user allowed it.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from runoff.site.files import read_text
from runoff.site.map_error import MapError
from runoff.site.problems import InputError
from runoff.site.safe_files import raster_driver
from runoff.site.vertical_units import unit_of_band, unit_of_vertical
from runoff.site.xyz_grid import XyzGrid, read_xyz

if TYPE_CHECKING:
    from numpy.typing import NDArray

Kind = Literal["raster", "text", "cloud"]
_KINDS: dict[str, Kind] = {
    ".xyz": "text",
    ".txt": "text",
    ".csv": "text",
    ".las": "cloud",
    ".laz": "cloud",
}
_ADDRESS = re.compile(r"https?://", re.I)
NEEDS_NETWORK = (
    "a file beside the site file; to read it over the network, write network = true in [terrain]"
)
NEEDS_LAZ = 'point clouds to be readable; install runoff with its extra, pip install "runoff[laz]"'
# One request at a time, only the ranges that are needed, and no listing of the folder on the way.
_ADDRESS_OPTIONS = {
    "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",
    "GDAL_HTTP_CONNECTTIMEOUT": "10",
    "GDAL_HTTP_TIMEOUT": "60",
    "GDAL_HTTP_MAX_RETRY": "2",
    "GDAL_HTTP_RETRY_DELAY": "1",
}
_CHUNK = 2_000_000
_NO_NETWORK = {"CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ".none"}


@dataclass(frozen=True)
class Look:
    """What an elevation file says of itself.

    Parameters
    ----------
    crs : str or None
        WKT of its map system, its vertical part included.
    middle : (x, y)
        Middle of what it covers, in units of its map system.
    bands : int
    unit : float or None
        Metres in a unit of its heights.
    """

    crs: str | None
    middle: tuple[float, float]
    bands: int
    unit: float | None


def is_address(location: Path | str) -> bool:
    """Whether elevation data lies on the network.

    Examples
    --------
    >>> is_address("https://example.org/dem.tif"), is_address("dem.tif")
    (True, False)
    """
    return isinstance(location, str) and _ADDRESS.match(location) is not None


def kind_of(location: Path | str) -> Kind:
    """Which kind of file elevation data is, by how its name ends."""
    return _KINDS.get(Path(str(location)).suffix.lower(), "raster")


def look_at(location: Path | str, network: bool, band: int = 1) -> Look:
    """Look at elevation data without reading its heights, where it is no text.

    Raises
    ------
    MapError
        Where it cannot be used; the text says what is expected.
    """
    kind = kind_of(location)
    if is_address(location) and kind != "raster":
        raise MapError("a raster, such as a cloud-optimized GeoTIFF; download other files first")
    if kind == "text":
        grid = read_text_grid(location)
        rows, cols = grid.heights.shape
        middle = (grid.left + grid.dx * (cols - 1) / 2, grid.top - grid.dy * (rows - 1) / 2)
        return Look(None, middle, 1, None)
    if kind == "cloud":
        return _look_at_cloud(location)
    with opened(location, network) as raster:
        if raster.crs is None and raster.transform.is_identity:
            raise MapError("a raster that says where it lies; this one is a mere picture")
        wkt = raster.crs.to_wkt() if raster.crs else None
        pixels, col, row = raster.transform, raster.width / 2, raster.height / 2
        x = pixels.a * col + pixels.b * row + pixels.c
        y = pixels.d * col + pixels.e * row + pixels.f
        unit = unit_of_band(raster, band) if band <= raster.count else None
        return Look(wkt, (float(x), float(y)), raster.count, unit)


@contextmanager
def opened(location: Path | str, network: bool) -> Iterator[Any]:
    """A raster, open for reading: ``with opened("dem.tif", network=False) as raster``.

    Raises
    ------
    MapError
        Where it cannot be read, or lies on the network and that is not allowed.
    """
    import rasterio
    from rasterio.errors import NotGeoreferencedWarning, RasterioError

    if not network and is_address(location):
        raise MapError(NEEDS_NETWORK)
    options = _ADDRESS_OPTIONS if network else _NO_NETWORK
    with rasterio.Env(**options), warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        try:
            driver = raster_driver(location) if isinstance(location, Path) else "GTiff"
            with rasterio.open(location, driver=driver) as raster:
                yield raster
        except (RasterioError, OSError, ValueError) as error:
            if isinstance(error, MapError):
                raise
            what = "a raster of heights that can be read, such as a GeoTIFF"
            raise MapError(f"{what} ({_reason(error, location)})") from None


def _reason(error: Exception, location: Path | str) -> str:
    """Why a raster cannot be read, on one line and without the way to it."""
    name = Path(str(location)).name
    text = str(error).replace(f"'{location}'", name).replace(str(location), name)
    return " ".join(text.split())[:160] or type(error).__name__


def read_text_grid(location: Path | str) -> XyzGrid:
    """The grid of heights in a text file.

    Raises
    ------
    MapError
        Where it cannot be read or holds no grid.
    """
    path = Path(location)
    try:
        return read_xyz(read_text(path, path.name, "text with a row x y z for each point"))
    except InputError as error:
        raise MapError(error.problems[0].expected) from None


def _look_at_cloud(location: Path | str) -> Look:
    with _reading_cloud(location) as laspy, laspy.open(location) as cloud:
        header = cloud.header
        middle = (header.mins[:2] + header.maxs[:2]) / 2
        crs = header.parse_crs()
        wkt = None if crs is None else crs.to_wkt()
        if not np.isfinite(middle).all():
            raise ValueError("its bounds are no numbers")
        return Look(wkt, (float(middle[0]), float(middle[1])), 1, unit_of_vertical(wkt))


def cloud_points(location: Path | str, of_class: int) -> Iterator[NDArray[np.float64]]:
    """The x, y, z (n, 3) of the points of a class in a point cloud, some at a time.

    Raises
    ------
    MapError
        Where laspy is not installed or the file cannot be read.
    """
    with _reading_cloud(location) as laspy, laspy.open(location) as cloud:
        missing = cloud.header.point_count
        for chunk in cloud.chunk_iterator(_CHUNK):
            missing -= len(chunk)
            wanted = np.asarray(chunk.classification) == of_class
            yield np.column_stack(
                [np.asarray(axis)[wanted] for axis in (chunk.x, chunk.y, chunk.z)]
            )
        if missing:
            raise ValueError("it ends too soon")


@contextmanager
def _reading_cloud(location: Path | str) -> Iterator[Any]:
    """The library to read a point cloud by; whatever it stumbles over becomes one line."""
    try:
        import laspy
    except ImportError:
        raise MapError(NEEDS_LAZ) from None
    try:
        _check_counts(Path(location))
        yield laspy
    except MapError:
        raise
    except Exception as error:
        raise MapError(f"a LAS or LAZ file that can be read ({_reason(error, location)})") from None


def _check_counts(path: Path) -> None:
    """Refuse a damaged file that promises more records than it has room for.

    Places in the header after the LAS specification 1.4 (ASPRS, from memory): variable length
    records at 100, at least 54 bytes each; extended ones at 243, at least 60 bytes each.
    """
    size = path.stat().st_size
    with path.open("rb") as file:
        header = file.read(247)
    if not header.startswith(b"LASF") or len(header) < 227:
        raise ValueError("it does not start like one")
    records = int.from_bytes(header[100:104], "little")
    version_4 = header[25] >= 4 and len(header) == 247
    extended = int.from_bytes(header[243:247], "little") if version_4 else 0
    if records * 54 + extended * 60 > size:
        raise ValueError("it promises more than it holds")
