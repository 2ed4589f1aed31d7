"""Opening elevation data as it comes: rasters, grids in text, point clouds; files and addresses;
their tables.

In: the text. Out: heights on rows and columns along the map's axes, NaN where a point is missing.
Points that lie on no grid are refused: what lies between them is for the survey to say.

The horizontal unit says nothing of it: maps in feet carry heights in metres, and the other way.

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
from typing import Annotated, Any, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Discriminator, Field, Tag

from runoff.site.files import raster_driver, read_text
from runoff.site.problems import InputError, MapError
from runoff.site.written.entries import Table
from runoff.site.written.fields import FileName, MapPosition, Point

VerticalUnit = Literal["m", "ft", "us survey ft"]


def _one_or_each(value: Any) -> str:
    return "<each>" if isinstance(value, list) else "<one>"


Tiles = Annotated[
    Annotated[Annotated[list[FileName], Field(min_length=1)], Tag("<each>")]
    | Annotated[FileName, Tag("<one>")],
    Discriminator(_one_or_each),
]
VerticalUnits = Annotated[
    Annotated[Annotated[list[VerticalUnit], Field(min_length=1)], Tag("<each>")]
    | Annotated[VerticalUnit, Tag("<one>")],
    Discriminator(_one_or_each),
]


class TiePointTable(Table):
    """A point whose position is known on the plan and on the map."""

    plan: Point = Field(description="Its position on the plan, such as [0, 0].")
    map: MapPosition = Field(
        description="Its position on the map in the units of crs, such as [500120.0, 4410080.0]."
    )


TiePoints = Annotated[list[TiePointTable], Field(min_length=2)]


NO_DATA = (-9999.0, -99999.0, -32768.0)
_OFF_GRID = 0.02
_SPARSEST = 0.1
_SCATTERED = (
    "points of a grid in rows along the map's axes; scattered points are given as "
    'spot_heights = "spots.csv" with a header name,x,y,z'
)


@dataclass(frozen=True)
class XyzGrid:
    """Heights, top row first, and the position and spacing of their points in map units."""

    heights: NDArray[np.float64]
    left: float
    top: float
    dx: float
    dy: float


def read_xyz(text: str) -> XyzGrid:
    """Read a regular grid of points.

    Parameters
    ----------
    text : str
        Rows of x, y and z between blanks, tabs, commas or semicolons; a header may stand above.

    Raises
    ------
    MapError
        Where rows are not three numbers, or the points lie on no grid.

    Examples
    --------
    >>> grid = read_xyz("x y z\\n0 0 1.5\\n2 0 2.5\\n0 2 3.5\\n")
    >>> grid.heights.tolist()
    [[3.5, nan], [1.5, 2.5]]
    >>> grid.left, grid.top, grid.dx, grid.dy
    (0.0, 2.0, 2.0, 2.0)
    """
    points = _points(text)
    columns, dx = _places(points[:, 0])
    rows, dy = _places(points[:, 1])
    shape = int(rows.max()) + 1, int(columns.max()) + 1
    if shape[0] * shape[1] > max(len(points) / _SPARSEST, 9):
        raise MapError(_SCATTERED)
    cells = rows * shape[1] + columns
    if len(np.unique(cells)) < len(cells):
        raise MapError("one height for each point of the grid; two rows have one position")
    heights = np.full(shape, np.nan)
    heights[shape[0] - 1 - rows, columns] = points[:, 2]
    heights[np.isin(heights, NO_DATA)] = np.nan
    return XyzGrid(heights, float(points[:, 0].min()), float(points[:, 1].max()), dx, dy)


def _points(text: str) -> NDArray[np.float64]:
    lines = [line for line in text.splitlines() if line.strip() and line.lstrip()[0] != "#"]
    if lines and any(mark.isalpha() and mark not in "eE" for mark in lines[0]):
        lines = lines[1:]
    if len(lines) < 3:
        raise MapError("rows of x, y and z, such as 500120.5 4410080.5 201.37")
    between = next((mark for mark in ";\t" if mark in lines[0]), None)
    if between is None and "," in lines[0] and len(lines[0].split(",")) >= 3:
        between = ","
    if between != ",":
        lines = [line.replace(",", ".") for line in lines]
    try:
        points = np.loadtxt(lines, delimiter=between, usecols=(0, 1, 2), ndmin=2)
    except ValueError as error:
        reason = str(error).split(";")[0].splitlines()[0]
        raise MapError(f"rows of three numbers, x, y and z ({reason})") from None
    if not np.isfinite(points[:, :2]).all():
        raise MapError("positions that are numbers in every row")
    return points


def _places(values: NDArray[np.float64]) -> tuple[NDArray[np.int64], float]:
    """Each coordinate's place, from 0, on evenly spaced lines, and how far these are apart."""
    lines = np.unique(values)
    steps = np.diff(lines)
    steps = steps[steps > 1e-6 * max(np.ptp(lines), 1e-12)]
    if not len(steps):
        raise MapError(_SCATTERED)
    spacing = float(np.median(steps[steps < 1.5 * steps.min()]))
    place = (values - lines[0]) / spacing
    whole = np.rint(place)
    if whole.max() > 1e6:
        raise MapError(_SCATTERED)
    spacing = float(np.ptp(lines) / whole.max())
    place = (values - lines[0]) / spacing
    if np.abs(place - np.rint(place)).max() > _OFF_GRID:
        raise MapError(_SCATTERED)
    return np.rint(place).astype(np.int64), spacing


US_SURVEY_FOOT = 1200 / 3937
"""Metres, by definition (US Federal Register, 1959)."""
METRES_PER_VERTICAL_UNIT = {"m": 1.0, "ft": 0.3048, "us survey ft": US_SURVEY_FOOT}
_NAMES = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), 1.0),
    **dict.fromkeys(("ft", "foot", "feet", "international foot"), 0.3048),
    **dict.fromkeys(
        ("us-ft", "us ft", "ftus", "sft", "us survey foot", "us survey feet", "survey foot"),
        US_SURVEY_FOOT,
    ),
    **dict.fromkeys(("dm", "decimetre", "decimeter"), 0.1),
    **dict.fromkeys(("cm", "centimetre", "centimeter", "centimetres", "centimeters"), 0.01),
    **dict.fromkeys(("mm", "millimetre", "millimeter"), 0.001),
}


def unit_by_name(name: str) -> float | None:
    """Metres in a unit of length by the names that rasters use; None for any other.

    Examples
    --------
    >>> unit_by_name("Feet"), unit_by_name("fathom")
    (0.3048, None)
    """
    return _NAMES.get(name.strip().lower().replace("_", " "))


def unit_name(metres: float) -> str:
    """The name, as site files write it, of a unit of so many metres.

    Examples
    --------
    >>> unit_name(1200 / 3937), unit_name(0.1)
    ('us survey ft', '0.1 m')
    """
    for name, size in METRES_PER_VERTICAL_UNIT.items():
        if abs(metres / size - 1.0) < 1e-7:
            return name
    return f"{metres:g} m"


def unit_of_band(raster: Any, band: int) -> float | None:
    """Metres in a unit of the heights in a band (from 1) of a rasterio dataset; None if unsaid."""
    named = unit_by_name(raster.units[band - 1] or "")
    return named if named is not None else unit_of_vertical(raster.crs and raster.crs.to_wkt())


def unit_of_vertical(wkt: str | None) -> float | None:
    """Metres in a unit of the heights, by the vertical part of a map system; None if it has none.

    Examples
    --------
    >>> unit_name(unit_of_vertical("EPSG:2263+6360")), unit_of_vertical("EPSG:2263")
    ('us survey ft', None)
    """
    part = _vertical(wkt)
    return None if part is None else float(part.axis_info[0].unit_conversion_factor)


def vertical_datum(wkt: str | None) -> str | None:
    """The name of the datum that heights stand on; None where the map system does not say it.

    Examples
    --------
    >>> vertical_datum("EPSG:2263+6360")
    'North American Vertical Datum 1988'
    """
    part = _vertical(wkt)
    return None if part is None or part.datum is None else str(part.datum.name)


def _vertical(wkt: str | None) -> Any:
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    if not wkt:
        return None
    try:
        crs = CRS.from_user_input(wkt)
    except CRSError:
        return None
    parts = [crs, *crs.sub_crs_list]
    return next((part for part in parts if part.is_vertical and not part.is_compound), None)


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
