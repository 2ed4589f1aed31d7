"""What commands write, checked before anything is computed: findings, plans, maps, the user's
new files.
"""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from runoff.cli.progress import step
from runoff.cli.status import Refusal

if TYPE_CHECKING:
    from runoff.inspection import Findings
    from runoff.planning import Plan
    from runoff.site.model import Site
    from runoff.words.dig_sheet import Style


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
        from runoff.report.findings_full import summary_text

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
    from runoff.data import as_text

    return as_text(findings.to_dict())


def _draw(findings: Findings, path: Path) -> None:
    with step("drawing the map"):
        from runoff.report.maps.lot_map import draw_map

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


@dataclass(frozen=True)
class PlanOutputs:
    """The folder that a plan is written into, None for none, and every file it may write there."""

    folder: Path | None
    paths: tuple[Path, ...]

    @classmethod
    def in_folder(cls, folder: Path | None, site: Site) -> PlanOutputs:
        """Every file that a plan of this site may have."""
        if folder is None:
            return cls(None, ())
        from runoff.report.plan_files import plan_files

        return cls(folder, plan_files(folder, (spout.name for spout in site.downspouts)).every)

    def check(self, force: bool) -> None:
        """Refuse what cannot be written before any work is done.

        Raises
        ------
        Refusal, FileExistsError
            With one line.
        """
        from runoff.report.files import check_free

        if self.folder is not None:
            check_folder(self.folder)
            check_free(list(self.paths), force)

    def write(self, plan: Plan, style: Style | None) -> list[Path]:
        """Write them, each whole or not at all; those that were written."""
        if self.folder is None:
            return []
        from runoff.report.plan_files import write_plan

        with step("drawing the plan"), writing(self.folder):
            return write_plan(plan, self.folder, style)


def dig_style(site: Site, tenths: bool) -> Style | None:
    """How dig tables are written: None for the usual way of the site's units.

    Raises
    ------
    Refusal
        Where tenths of a foot are asked for and the site is in metres.
    """
    if not tenths:
        return None
    if site.units != "ft":
        raise Refusal('--tenths: tenths of a foot; the site file has units = "m"')
    return "tenths"


def plan_json(plan: Plan) -> str:
    """The plan as JSON text."""
    from runoff.data import as_text

    return as_text(plan.to_dict())
