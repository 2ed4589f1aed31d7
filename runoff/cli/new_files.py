"""New files of the user's own, written all or none and never over one that is there."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path

from runoff.cli.outputs import check_folder
from runoff.cli.status import Refusal


def check_new(folder: Path, names: Iterable[str]) -> None:
    """Refuse a folder that cannot be written in, or that holds one of the files already.

    Raises
    ------
    Refusal
        With one line that names what is in the way.
    """
    check_folder(folder)
    for name in names:
        if (folder / name).exists() or (folder / name).is_symlink():
            raise Refusal(f"{folder / name} is there already; name another folder, or move it away")


def write_new(folder: Path, files: Mapping[str, str]) -> None:
    """Write all of the files into a folder, made where it is missing, or none.

    Raises
    ------
    Refusal
        Where the file system does not let us, or a file has come into the way.
    """
    check_new(folder, files)
    made = [part for part in (folder, *folder.parents) if not part.exists()]
    placed: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".start-", dir=folder) as holding:
            for name, text in files.items():
                (Path(holding) / name).write_text(text, encoding="utf-8")
            for name in files:
                _place(Path(holding) / name, folder / name)
                placed.append(folder / name)
    except BaseException as error:
        _take_back(placed, made)
        if isinstance(error, OSError):
            raise Refusal(
                f"{folder}: cannot be written ({error.strerror or error}); nothing was"
            ) from error
        raise


def write_own(path: Path, text: str) -> None:
    """Write a file of the tool's own over the one before, whole at every moment.

    Raises
    ------
    Refusal
        Where the file system does not let us.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        beside = path.with_name(f".{path.name}.new")
        with beside.open("w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(beside, path)
    except OSError as error:
        raise Refusal(f"{path}: cannot be written ({error.strerror or error})") from error


def _place(source: Path, target: Path) -> None:
    """Give a file its place; a link, unlike a move, fails where somebody else's file stands."""
    try:
        os.link(source, target)
    except FileExistsError:
        raise
    except OSError:
        # Some file systems know no links.
        with target.open("xb") as file:
            file.write(source.read_bytes())


def _take_back(placed: Iterable[Path], made: Iterable[Path]) -> None:
    """Take away files and then folders that were made, the innermost folder first."""
    for path in placed:
        path.unlink(missing_ok=True)
    for part in made:
        try:
            part.rmdir()
        except OSError:
            return
