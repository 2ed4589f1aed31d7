"""Files that the tool writes: whole or not at all, and never over somebody else's.

Each kind of file carries a mark by which the tool knows its own again: a field of JSON, the first
line of text, the metadata of a picture, the description of a layer.
"""

from __future__ import annotations

import mmap
import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

MARK = "runoff"
TEXT_MARK = "Written by runoff"
_HEAD_BYTES = 65536
_SIGNS = {
    ".json": (b'"written_by": "runoff"',),
    ".txt": (TEXT_MARK.encode(),),
    ".csv": (f"# {TEXT_MARK}".encode(),),
    ".png": (b"Software\x00runoff",),
    ".svg": (b"<dc:title>runoff",),
    ".pdf": (b"/Creator (runoff", f"/Subject({TEXT_MARK})".encode()),
    ".tif": (TEXT_MARK.encode(),),
    ".sld": (f"<!-- {TEXT_MARK} -->".encode(),),
    ".dxf": (TEXT_MARK.encode(),),
}
_PACKAGE, _PAGES = ".gpkg", ".pdf"


def is_own(path: Path) -> bool:
    """Whether a file carries the tool's mark.

    Parameters
    ----------
    path : Path
        The file, of a kind that the tool writes, told by its suffix.
    """
    if path.suffix.lower() == _PACKAGE:
        return _is_own_package(path)
    signs = _SIGNS.get(path.suffix.lower(), ())
    size = path.stat().st_size
    with path.open("rb") as file:
        if path.suffix.lower() == _PAGES and size:
            # What a PDF says of itself stands before its index, which is as long as it is.
            with mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as pages:
                return any(pages.find(sign) >= 0 for sign in signs)
        head = file.read(_HEAD_BYTES)
        file.seek(max(0, size - _HEAD_BYTES))
        tail = file.read()
    return any(sign in head or sign in tail for sign in signs)


def _is_own_package(path: Path) -> bool:
    """Whether every layer of a GeoPackage is the tool's: one that somebody added is not."""
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as package:
            found = package.execute("SELECT description FROM gpkg_contents").fetchall()
    except sqlite3.Error:
        return False
    return bool(found) and all((about or "").startswith(TEXT_MARK) for (about,) in found)


def check_free(paths: list[Path], force: bool = False) -> None:
    """Refuse to write over what the tool did not write, before anything is written.

    Raises
    ------
    FileExistsError
        With one line that names the file in the way.
    """
    for path in paths:
        if path.is_dir():
            raise FileExistsError(f"{path} is a folder; name a file")
        if path.exists() and not force and not is_own(path):
            raise FileExistsError(
                f"{path} is there already and was not written by runoff; "
                "name another, or use --force to write over it"
            )


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A temporary file that takes the place of `path` once the block ends well."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=path.suffix, dir=path.parent)
    os.close(handle)
    temporary = Path(name)
    try:
        yield temporary
        mask = os.umask(0)
        os.umask(mask)
        temporary.chmod(0o666 & ~mask)
        os.replace(temporary, path)
    finally:
        temporary.unlink(missing_ok=True)


def write_text(path: Path, text: str) -> None:
    """Write UTF-8 text, whole or not at all."""
    with whole_file(path) as temporary:
        temporary.write_text(text, encoding="utf-8")
