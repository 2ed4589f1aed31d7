"""What a command writes: findings, map and summary, checked before anything is computed."""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from runoff.cli.progress import step
from runoff.cli.status import Refusal

if TYPE_CHECKING:
    from runoff.inspection import Findings

MAP_SUFFIXES = (".png", ".svg", ".pdf")
_LONGEST_NAME, _LONGEST_PATH = 255, 3900
"""Bytes: what the usual systems of files take, with room for the names of a folder's files."""


@dataclass(frozen=True)
class Outputs:
    """Where an inspection is written: a folder for all of it, a map of the user's own naming."""

    folder: Path | None = None
    map_file: Path | None = None

    @property
    def in_the_folder(self) -> list[Path]:
        """The files of the folder, in the order in which they are written."""
        names = ("findings.json", "map.png", "summary.txt")
        return [self.folder / name for name in names] if self.folder is not None else []

    @property
    def paths(self) -> list[Path]:
        """Every file, in the order in which they are written."""
        own = [self.map_file] if self.map_file is not None else []
        return list(dict.fromkeys([*self.in_the_folder, *own]))

    def check(self, force: bool) -> None:
        """Refuse what cannot be written before any work is done.

        Raises
        ------
        Refusal, FileExistsError
            With one line.
        """
        from runoff.report.files import check_free

        if self.map_file is not None and self.map_file.suffix.lower() not in MAP_SUFFIXES:
            raise Refusal(
                f'--map: "{self.map_file}" is written; '
                "expected a .png, .svg or .pdf file, such as map.png"
            )
        for path in self.paths:
            check_file(path)
        check_free(self.paths, force)

    def write(self, findings: Findings) -> None:
        """Write them: the folder's together or not at all, and then the map beside."""
        from runoff.report.files import TEXT_MARK, whole_folder, write_text
        from runoff.report.summary import summary_text

        if self.folder is not None:
            with writing(self.folder), whole_folder(self.folder, self.in_the_folder) as there:
                data, drawn, summary = (there / path.name for path in self.in_the_folder)
                write_text(data, findings_json(findings))
                _draw(findings, drawn)
                write_text(summary, f"{TEXT_MARK}\n\n{summary_text(findings)}")
        if self.map_file is not None and self.map_file not in self.in_the_folder:
            with writing(self.map_file):
                _draw(findings, self.map_file)


@contextmanager
def writing(path: Path) -> Iterator[None]:
    """Refuse, in one line, what the file system does not let us write."""
    try:
        yield
    except FileExistsError:
        raise
    except OSError as error:
        raise Refusal(f"{path}: cannot be written ({error.strerror or error})") from error


def findings_json(findings: Findings) -> str:
    """The findings as JSON text."""
    text = json.dumps(findings.to_dict(), indent=2, allow_nan=False, ensure_ascii=False)
    return f"{text}\n"


def _draw(findings: Findings, path: Path) -> None:
    with step("drawing the map"):
        from runoff.report.map import draw_map

        draw_map(findings, path)


def check_file(path: Path) -> None:
    """Refuse a file that cannot be written, for its name or its folder, before any work is done.

    Raises
    ------
    Refusal
    """
    check_folder(path.parent)
    _check_length(path)


def check_folder(folder: Path) -> None:
    """Refuse a folder that cannot be made or written in, before any work is done.

    Raises
    ------
    Refusal
        Where a file stands in its way, its name is too long, or the user may not write there.
    """
    _check_length(folder)
    try:
        part = next(part for part in (folder, *folder.parents) if part.exists())
    except OSError as error:
        raise Refusal(f"{folder}: cannot be written ({error.strerror or error})") from error
    if not part.is_dir():
        raise Refusal(f"{part} is a file; expected a folder to write in")
    if not os.access(part, os.W_OK | os.X_OK):
        raise Refusal(f"{folder}: cannot be written (you may not write in {part})")


def _check_length(path: Path) -> None:
    """Refuse a path with a part, or in all, longer than systems of files hold."""
    whole = os.fsencode(path.absolute())
    longest = max((len(os.fsencode(part)) for part in path.parts), default=0)
    if longest > _LONGEST_NAME or len(whole) > _LONGEST_PATH:
        raise Refusal(f"{path}: cannot be written ({os.strerror(errno.ENAMETOOLONG)})")
