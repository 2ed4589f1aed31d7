"""Files as the user named them: which may be read, read whole or refused in one line.

In: a path and the name to show for it. Out: text without a byte-order mark, or `InputError`.

In: a file that a site file names. Out: nothing, or why it is not read. The libraries that read
rasters and outlines know a hundred formats, some of which are no more than an address on the
network, a database or a program's command; so a file is looked at first, by what it holds and not
by its name.
"""

from __future__ import annotations

import json
import re
import stat
from pathlib import Path
from xml.etree import ElementTree

from runoff.site.problems import InputError, MapError, Problem

LARGEST_BYTES = 50_000_000
_PACKED = (b"PK\x03\x04", b"\x1f\x8b", b"7z\xbc\xaf", b"BZh", b"\xfd7zXZ")
"""How zip, gzip, 7z, bzip2 and xz files begin; spreadsheets' own files are zips."""


def check_regular(path: Path) -> None:
    """Refuse what is no ordinary file before it is opened: a pipe or a device may never end.

    Raises
    ------
    FileNotFoundError
        Where nothing is there.
    ValueError
        With what it is.

    Examples
    --------
    >>> check_regular(Path("/"))
    Traceback (most recent call last):
    ...
    ValueError: it is a folder
    """
    mode = path.stat().st_mode
    if stat.S_ISDIR(mode):
        raise ValueError("it is a folder")
    if not stat.S_ISREG(mode):
        raise ValueError("it is a pipe or a device, not a file")


def read_text(path: Path, shown: str, expected: str) -> str:
    """The text of a UTF-8 file.

    Parameters
    ----------
    path : Path
        The file.
    shown : str
        Its name as the user wrote it.
    expected : str
        What kind of file it should be, for the message.

    Raises
    ------
    InputError
        Where there is no such file, it cannot be read, or it is not UTF-8.
    """
    try:
        check_regular(path)
        if path.stat().st_size > LARGEST_BYTES:
            raise _refused(shown, None, f"{expected}, but it has more than 50 MB")
        content = path.read_bytes()
    except FileNotFoundError:
        raise _refused(shown, None, f"{expected}, but there is no such file") from None
    except OSError as error:
        reason = error.strerror or "not a name of a file"
        raise _refused(shown, None, f"{expected}, but it cannot be read ({reason})") from None
    except ValueError as error:
        said = str(error) if str(error).startswith("it is") else "it has no name of a file"
        raise _refused(shown, None, f"{expected}, but {said}") from None
    if content.startswith(_PACKED):
        packed = "it is packed, or a spreadsheet's own file: unpack it, or save it as text"
        raise _refused(shown, None, f"{expected}, but {packed}")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise _refused(shown, line, f"{expected}; this line is not UTF-8 text") from None


def _refused(shown: str, line: int | None, expected: str) -> InputError:
    return InputError([Problem(shown, line, "", "", expected)])


RASTER_KINDS = "a GeoTIFF, a virtual raster, an ASCII grid or an .img file"
VECTOR_KINDS = "GeoJSON, a shapefile or a GeoPackage"
ELSEWHERE = "files_elsewhere = true in [site]"
_TIFF = (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")
_IMAGINE = b"EHFA_HEADER_TAG"
_SQLITE, _SHAPE = b"SQLite format 3\x00", b"\x00\x00\x27\x0a"
_ASCII_GRID = re.compile(rb"\s*(ncols|nrows)\s", re.I)
_ADDRESS = re.compile(r"(/vsicurl/)?https?://", re.I)
_LARGEST_TEXT = 50_000_000
_DEEPEST = 4
# What a virtual raster may be made of: pieces of files, as they are or scaled.
_VIRTUAL_PARTS = frozenset(
    """
    VRTDataset SRS GeoTransform Metadata MDI VRTRasterBand Description UnitType Offset Scale
    NoDataValue HideNoDataValue ColorInterp ColorTable Entry SimpleSource ComplexSource
    SourceFilename SourceBand SourceProperties SrcRect DstRect NODATA ScaleOffset ScaleRatio
    BlockXSize BlockYSize UseMaskBand Histograms HistItem HistMin HistMax BucketCount
    IncludeOutOfRange Approximate HistCounts OverviewList
    """.split()  # noqa: SIM905 (forty lines with a word each say no more)
)


def is_within(folder: Path, path: Path) -> bool:
    """Whether a file lies in a folder or below it, links followed to where they lead.

    Examples
    --------
    >>> is_within(Path("/lot"), Path("/lot/data/dem.tif"))
    True
    >>> is_within(Path("/lot"), Path("/lot/../dem.tif"))
    False
    """
    try:
        return path.resolve().is_relative_to(folder.resolve())
    except (OSError, ValueError, RuntimeError):
        return True  # no such place: whoever opens it says so


def raster_driver(path: Path) -> str:
    """The name by which the raster library knows a file of a kind that is read.

    Raises
    ------
    MapError
        Where it is none of these kinds.
    """
    with path.open("rb") as file:
        head = file.read(4096)
    if head.startswith(_TIFF):
        return "GTiff"
    if head.startswith(_IMAGINE):
        return "HFA"
    if _ASCII_GRID.match(head):
        return "AAIGrid"
    if head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<VRTDataset"):
        return "VRT"
    raise MapError(f"{RASTER_KINDS}; this is none of them")


def check_raster(path: Path, folder: Path | None, network: bool, depth: int = 0) -> None:
    """Refuse a raster of a kind that is not read, or that leads where it may not.

    Parameters
    ----------
    path : Path
    folder : Path or None
        The folder that all of it must lie in; None where it may lie anywhere.
    network : bool
        Whether it may lead to addresses.

    Raises
    ------
    MapError
        With what is expected.
    """
    if raster_driver(path) != "VRT":
        return
    for name, beside in _sources(path):
        if _ADDRESS.match(name):
            if not network:
                raise MapError(
                    "a virtual raster of files beside it; to read what lies on the network, write "
                    "network = true in [terrain]"
                )
            continue
        source = path.parent / name if beside else Path(name)
        if name.startswith("/vsi") or not source.is_file():
            raise MapError(f"a virtual raster of files that are there; it names {name[:80]}")
        if folder is not None and not is_within(folder, source):
            raise MapError(
                f"files in the site file's folder; {path.name} leads to {name[:80]}. To read files "
                f"from elsewhere, write {ELSEWHERE}"
            )
        if depth >= _DEEPEST:
            raise MapError("a virtual raster that does not lead on and on")
        check_raster(source, folder, network, depth + 1)


def _sources(path: Path) -> list[tuple[str, bool]]:
    """The files that a virtual raster names, and whether from its own folder.

    Raises
    ------
    MapError
        Where it holds more than pieces of files, or is no good XML.
    """
    content = path.read_bytes() if path.stat().st_size <= _LARGEST_TEXT else b"<!"
    if re.search(rb"<!(?!--)", content):
        raise MapError("a virtual raster without declarations of its own")
    try:
        parts = list(ElementTree.fromstring(content).iter())
    except (ElementTree.ParseError, ValueError, LookupError):
        raise MapError("a virtual raster that is sound XML") from None
    odd = [part.tag for part in parts if part.tag not in _VIRTUAL_PARTS or part.get("subClass")]
    if odd:
        raise MapError(f"a virtual raster that is made of pieces of files alone, without {odd[0]}")
    named = [each for each in parts if each.tag == "SourceFilename"]
    return [((each.text or "").strip(), each.get("relativeToVRT") == "1") for each in named]


def check_vector(path: Path) -> None:
    """Refuse a vector file of a kind that is not read.

    Raises
    ------
    ValueError
        With what is expected.
    """
    if path.is_dir():
        raise ValueError(f"a file, {VECTOR_KINDS}")
    with path.open("rb") as file:
        head = file.read(64)
    if head.startswith((_SQLITE, _SHAPE)):
        return
    if head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{") and _is_geojson(path):
        return
    raise ValueError(f"{VECTOR_KINDS}; this is none of them")


def _is_geojson(path: Path) -> bool:
    """Whether a text is GeoJSON by RFC 7946: an object whose type is one of its nine."""
    try:
        if path.stat().st_size > _LARGEST_TEXT:
            return False
        held = json.loads(path.read_bytes().decode("utf-8-sig"))
    except (ValueError, RecursionError):
        return False
    kinds = ("FeatureCollection", "Feature", "Polygon", "MultiPolygon", "GeometryCollection")
    return isinstance(held, dict) and held.get("type") in kinds
