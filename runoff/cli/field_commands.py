"""The commands for the field: start a lot, check what was written down, sheets to print."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from runoff.cli.outputs import check_folder
from runoff.cli.status import FINE, NEEDS_ATTENTION, Refusal
from runoff.site.problems import printable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from runoff.checking import Checked
    from runoff.report.field_sheets import PointRow
    from runoff.site.problems import Problem
    from runoff.start.files import Started

KEPT_FILE = "start_answers.toml"
_MANY_EMPTY = 3


def start(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where to put the files.")],
    answers: Annotated[
        Path | None,
        typer.Option(
            "--answers",
            metavar="FILE",
            help="Take the answers from a .toml file, or from text with one answer a line.",
        ),
    ] = None,
) -> int:
    """Ask about a lot, and write its site file with sheets to fill in.

    Answers are in tape notation. "skip", "do not know" or a blank line leaves a question out,
    "back" goes to the one before. Each answer is kept at once in DIR/start_answers.toml; after
    Ctrl-C the same command goes on from there. No file is written over.
    """
    from runoff.cli.outputs import check_new, write_new
    from runoff.start.files import FILES, make_files
    from runoff.start.interview import read_answers

    check_new(folder, FILES)
    draft = _asked(folder / KEPT_FILE) if answers is None else read_answers(answers)
    started = make_files(draft)
    write_new(folder, started.files)
    _print_started(folder, started)
    if answers is None:
        typer.echo(
            f"\nYour answers, as typed, stay in {folder / KEPT_FILE}: to change one, change it\n"
            "there, and have runoff start make another folder from them with --answers."
        )
    return FINE


def _asked(path: Path) -> dict[str, Any]:
    """The answers of the interview in the terminal, those kept from before taken up on wish."""
    from runoff.cli.terminal_talk import TerminalTalk
    from runoff.start.files import make_files
    from runoff.start.interview import interview

    try:
        kept = _kept(path)
        return interview(TerminalTalk(path), make_files, kept)
    except (KeyboardInterrupt, typer.Abort):
        if path.exists():
            typer.echo(
                f"\nThe answers so far are kept in {path}; the same command goes on from there.",
                err=True,
            )
        raise


def _kept(path: Path) -> dict[str, Any]:
    """The answers kept from before, where there are any and they are wanted."""
    from runoff.start.interview import read_kept

    if not path.exists():
        return {}
    kept = read_kept(path)
    count = sum(len(value) if isinstance(value, list) else value != "" for value in kept.values())
    typer.echo(f"{printable(str(path))} holds {count} answers from before. Go on with them?")
    try:
        said = input("yes or no [yes]> ").strip().lower()
    except EOFError:
        raise typer.Abort from None
    if not said.startswith("n"):
        return kept
    aside = path.with_name(f"{path.stem}_before{path.suffix}")
    path.replace(aside)
    typer.echo(f"They are put aside as {aside}.")
    return {}


def _print_started(folder: Path, started: Started) -> None:
    from runoff.start.files import LIST_FILE, SITE_FILE
    from runoff.start.site_text import SPOTS_FILE

    typer.echo("\nFiles")
    for name in started.files:
        typer.echo(printable(f"  {folder / name}"))
    typer.echo("\n" + started.files[LIST_FILE])
    heights, site = printable(str(folder / SPOTS_FILE)), printable(str(folder / SITE_FILE))
    typer.echo(
        f"Next: take heights and fill them into {heights} (runoff sheets prints sheets "
        f"for the field), then\n  runoff check {site}"
    )


def check(
    site: Annotated[Path, typer.Argument(metavar="SITE", help="The site file, such as site.toml.")],
    map_file: Annotated[
        Path | None,
        typer.Option(
            "--map",
            metavar="FILE",
            help="Draw the plan with each point and its height: a .png, .svg or .pdf file.",
        ),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Write over files that runoff did not write.")
    ] = False,
) -> int:
    """Read all that was written down about a lot, and say what stands out and what is missing.

    Nothing is computed about where water runs. Without --map nothing is written.
    """
    from runoff.cli.outputs import Outputs, writing

    outputs = Outputs(map_file=map_file)
    outputs.check(force)
    checked = _checked(site)
    from rich.console import Console

    from runoff.report.check_summary import check_summary
    from runoff.report.terminal import on_terminal

    Console(highlight=False).print(on_terminal(check_summary(checked)))
    for path in outputs.paths:
        with writing(path):
            _draw_check(checked, path)
        typer.echo(f"\nFiles\n  {printable(str(path))}")
    return NEEDS_ATTENTION if checked.needs_attention else FINE


def _checked(path: Path) -> Checked:
    """Read and check a site; heights still to be filled in are told in one line."""
    from runoff.cli.progress import step

    with step(f"reading {path}"):
        import runoff
        from runoff.site.problems import InputError

        try:
            site = runoff.read_site(path)
        except InputError as error:
            raise InputError(_told_together(error.problems)) from None
    with step("looking the lot through"):
        return runoff.check(site)


def _told_together(problems: Sequence[Problem]) -> list[Problem]:
    """The same problems, those about empty heights of one sheet as one."""
    from runoff.site.problems import Problem

    empty = [p for p in problems if _is_empty_height(p)]
    if len(empty) < _MANY_EMPTY:
        return list(problems)
    first = empty[0]
    expected = (
        f"{len(empty)} more heights, on lines {first.line} to {empty[-1].line}; fill them in, or "
        "take out the rows of points that were not taken"
    )
    one = Problem(first.file, first.line, "z", "", expected)
    return [one if p is first else p for p in problems if p is first or not _is_empty_height(p)]


def _is_empty_height(problem: Problem) -> bool:
    return problem.entry.endswith(". z") and not problem.written


def _draw_check(checked: Checked, path: Path) -> None:
    from runoff.cli.progress import step

    with step("drawing the plan"):
        from runoff.report.maps.check import draw_check

        draw_check(checked, path)


def sheets(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Where to put them; a lot's own folder.")
    ],
    paper: Annotated[
        str, typer.Option("--paper", metavar="letter|a4", help="The paper to print on.")
    ] = "letter",
    force: Annotated[
        bool, typer.Option("--force", help="Write over files that runoff did not write.")
    ] = False,
) -> int:
    """Write field sheets to print: PDF, one page each, with a worked line.

    Spot heights, level notes, string level, percolation test, trial pit. Where the folder holds a
    spots.csv its points stand on the sheet of spot heights.
    """
    from runoff.cli.outputs import writing
    from runoff.report.field_sheets import PAPERS, draw_field_sheet, field_sheets, in_pages
    from runoff.report.files import check_free, whole_folder

    if paper not in PAPERS:
        raise Refusal(f'--paper: "{paper}" is written; expected letter or a4, such as letter')
    check_folder(folder)
    sheets_to_fill = field_sheets(paper, _points_in(folder))
    made = [page for sheet in sheets_to_fill for page in in_pages(sheet, paper)]
    paths = [folder / f"{sheet.file}.pdf" for sheet in made]
    check_free(paths, force)
    with writing(folder), whole_folder(folder, paths) as there:
        for sheet, path in zip(made, paths, strict=True):
            draw_field_sheet(sheet, there / path.name, paper)
    typer.echo("\n".join(["Files", *(printable(f"  {path}") for path in paths)]))
    return FINE


def _points_in(folder: Path) -> tuple[PointRow, ...]:
    """The points of the folder's spots.csv, where there is one."""
    from runoff.report.field_sheets import points_of
    from runoff.site.files import read_text

    path = folder / "spots.csv"
    if not path.is_file():
        return ()
    return points_of(read_text(path, str(path), "a CSV file"), _in_feet(folder / "site.toml"))


def _in_feet(site: Path) -> bool:
    """Whether bare figures of a lot are in feet; a site file that cannot be read does not say."""
    import tomllib

    try:
        units = tomllib.loads(site.read_text(encoding="utf-8"))["site"]["units"]
    except (OSError, ValueError, KeyError, TypeError):
        return False
    return bool(units == "ft")


def register(app: typer.Typer, statuses: str) -> None:
    """Put the commands of this module on the app."""
    app.command(epilog=statuses, short_help="Ask about a lot, and write its site file.")(start)
    app.command(epilog=statuses, short_help="Say what stands out and what is missing.")(check)
    app.command(epilog=statuses, short_help="Write field sheets to print.")(sheets)
