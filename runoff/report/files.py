"""Files that the tool writes, pictures too: whole or not at all, and never over somebody else's.

Each kind of file carries a mark by which the tool knows its own again: a field of JSON, the first
line of text, the metadata of a picture, the description of a layer. The files of one run take their
places together, so that nobody digs by an old table beside a new plan; what a killed run left half
done is put right by the next.
"""

from __future__ import annotations

import io
import json
import mmap
import os
import re
import secrets
import shutil
import signal
import sqlite3
import threading
import time
import warnings
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

from matplotlib.figure import Figure

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


# What a run is writing lies beside its place under the number of the run's process.
_UNFINISHED = re.compile(r"\.runoff-(\d+)-[0-9a-f]+")
_LONGEST_RUN_S = 86400.0
_NEW, _OLD, _LIST = "new", "old", "files.json"


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A temporary file that takes the place of `path` once the block ends well."""
    path.parent.mkdir(parents=True, exist_ok=True)
    clear_unfinished(path.parent)
    temporary = _unfinished_beside(path.parent, path.suffix)
    try:
        yield temporary
        os.replace(temporary, path)
    finally:
        temporary.unlink(missing_ok=True)


@contextmanager
def whole_folder(folder: Path, every: Iterable[Path]) -> Iterator[Path]:
    """A folder for the files of one run, which take their places together once the block ends well.

    Parameters
    ----------
    folder : Path
        Where they belong; made where it is missing. Files of others in it stay as they are.
    every : iterable of Path
        All files in `folder` that such a run may write. Those of an older run that this one did
        not write go, where they carry the tool's mark.

    Yields
    ------
    Path
        Where to write them, under their own names.

    Raises
    ------
    OSError
        Where one cannot take its place; then all are as they were.
    """
    made = [part for part in (folder, *folder.parents) if not part.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    clear_unfinished(folder)
    unfinished = _unfinished_beside(folder, "")
    try:
        (unfinished / _NEW).mkdir(parents=True)
        (unfinished / _OLD).mkdir()
        yield unfinished / _NEW
        written = sorted(path.name for path in (unfinished / _NEW).iterdir())
        stale = [p.name for p in every if p.name not in written and p.is_file() and is_own(p)]
        (unfinished / _LIST).write_text(json.dumps(written), encoding="utf-8")
        with _uninterrupted():
            _take_places(folder, unfinished, written, stale)
    finally:
        shutil.rmtree(unfinished, ignore_errors=True)
        for part in made:
            with suppress(OSError):  # holds what was written, or was never made
                part.rmdir()


def _take_places(folder: Path, unfinished: Path, written: list[str], stale: list[str]) -> None:
    try:
        for name in (*written, *stale):
            if (folder / name).exists():
                os.replace(folder / name, unfinished / _OLD / name)
        for name in written:
            os.replace(unfinished / _NEW / name, folder / name)
    except OSError:
        _put_back(folder, unfinished)
        raise


def _put_back(folder: Path, unfinished: Path) -> None:
    """Have the files of `folder` as they were before a run began to put its own there."""
    try:
        written = json.loads((unfinished / _LIST).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return  # the run had put nothing anywhere yet
    for name in written:
        if not (unfinished / _NEW / name).exists():
            (folder / name).unlink(missing_ok=True)
    for old in (unfinished / _OLD).iterdir():
        os.replace(old, folder / old.name)


def clear_unfinished(folder: Path) -> None:
    """Take away what killed runs left half written in a folder, and put back what they moved."""
    for path in folder.glob(".runoff-*"):
        run = _UNFINISHED.match(path.name)
        if run is None or _may_still_run(int(run[1]), path):
            continue
        with suppress(OSError):
            if path.is_dir():
                _put_back(folder, path)
                shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink()


def _may_still_run(process: int, path: Path) -> bool:
    """Whether the run that writes here may still be at it."""
    if process == os.getpid():
        return True
    if time.time() - path.stat().st_mtime > _LONGEST_RUN_S:
        return False
    if os.name != "posix":
        return True  # there asking after a process ends it
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


def _unfinished_beside(folder: Path, suffix: str) -> Path:
    return folder / f".runoff-{os.getpid()}-{secrets.token_hex(6)}{suffix}"


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """Hold back Ctrl-C and requests to end until the block is done, a few thousandths of a second.

    Signals reach the main thread alone, and not every system can hold them.
    """
    main = threading.current_thread() is threading.main_thread()
    if not main or not hasattr(signal, "pthread_sigmask"):
        yield
        return
    held = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM, signal.SIGHUP})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, held)


def write_text(path: Path, text: str) -> None:
    """Write UTF-8 text, whole or not at all."""
    with whole_file(path) as temporary:
        temporary.write_text(text, encoding="utf-8")


SUFFIXES = (".png", ".svg", ".pdf")

_PNG_DOTS_PER_IN = 140


def save_picture(figure: Figure, path: Path | str, title: str) -> Path:
    """Write a figure as the suffix says.

    Parameters
    ----------
    figure : Figure
    path : Path or str
        ``.png``, ``.svg`` or ``.pdf``.
    title : str
        Goes into the file's own data.

    Raises
    ------
    ValueError
        Where the suffix is none of the three.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        raise ValueError(f"{path.name}: a picture is a .png, .svg or .pdf file")
    # Drawn in memory first: on a full disk the library's own writers end in errors of theirs.
    picture = io.BytesIO()
    with warnings.catch_warnings():
        # A name in a script that the font lacks is drawn as boxes; that is all there is to say.
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        figure.savefig(
            picture,
            format=suffix[1:],
            dpi=_PNG_DOTS_PER_IN,
            facecolor="white",
            metadata=_metadata(suffix, title),
        )
    with whole_file(path) as temporary:
        temporary.write_bytes(picture.getbuffer())
    return path


def _metadata(suffix: str, title: str) -> dict[str, str | None]:
    if suffix == ".png":
        return {"Software": MARK, "Title": title}
    if suffix == ".svg":
        return {"Title": f"{MARK}: {title}", "Date": None}
    return {"Creator": MARK, "Title": title, "CreationDate": None}
