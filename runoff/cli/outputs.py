"""What a command writes: findings, map and summary, checked before anything is computed."""

from __future__ import annotations

import json
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


@dataclass(frozen=True)
class Outputs:
    """The files to be written; None for one that is not asked for."""

    findings: Path | None = None
    summary: Path | None = None
    maps: tuple[Path, ...] = ()

    @classmethod
    def in_folder(cls, folder: Path | None, map_file: Path | None) -> Outputs:
        """All of them in a folder, and a map of the user's own naming."""
        own = (map_file,) if map_file is not None else ()
        if folder is None:
            return cls(maps=own)
        maps = (folder / "map.png", *own)
        return cls(folder / "findings.json", folder / "summary.txt", tuple(dict.fromkeys(maps)))

    @property
    def paths(self) -> list[Path]:
        """Every file, in the order in which they are written."""
        return [path for path in (self.findings, *self.maps, self.summary) if path is not None]

    def check(self, force: bool) -> None:
        """Refuse what cannot be written before any work is done.

        Raises
        ------
        Refusal, FileExistsError
            With one line.
        """
        from runoff.report.files import check_free

        for path in self.maps:
            if path.suffix.lower() not in MAP_SUFFIXES:
                raise Refusal(
                    f'--map: "{path}" is written; '
                    "expected a .png, .svg or .pdf file, such as map.png"
                )
        for folder in {path.parent for path in self.paths}:
            check_folder(folder)
        check_free(self.paths, force)

    def write(self, findings: Findings) -> None:
        """Write them, each whole or not at all."""
        from runoff.report.files import TEXT_MARK, write_text
        from runoff.report.summary import summary_text

        if self.findings is not None:
            with writing(self.findings):
                write_text(self.findings, findings_json(findings))
        for path in self.maps:
            with writing(path):
                _draw(findings, path)
        if self.summary is not None:
            with writing(self.summary):
                write_text(self.summary, f"{TEXT_MARK}\n\n{summary_text(findings)}")


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


def check_folder(folder: Path) -> None:
    """Refuse a folder that cannot be made because a file stands in its way."""
    for part in (folder, *folder.parents):
        if part.exists():
            if not part.is_dir():
                raise Refusal(f"{part} is a file; expected a folder to write in")
            return
