"""The commands for the field: start a lot, check what was written down, sheets to print."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from runoff.cli.new_files import check_folder
from runoff.cli.status import FINE, Refusal

if TYPE_CHECKING:
    from runoff.report.field_sheets import PointRow
    from runoff.start.files import Started


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

    Answers are in tape notation. "skip" or a blank line leaves a question out, "back" goes to the
    one before, Ctrl-C stops and nothing is written. No file is written over.
    """
    from runoff.cli.new_files import check_new, write_new
    from runoff.cli.terminal_talk import TerminalTalk
    from runoff.start.answers_file import read_answers
    from runoff.start.files import FILES, make_files
    from runoff.start.interview import interview

    check_new(folder, FILES)
    draft = interview(TerminalTalk()) if answers is None else read_answers(answers)
    started = make_files(draft)
    write_new(folder, started.files)
    _print_started(folder, started)
    return FINE


def _print_started(folder: Path, started: Started) -> None:
    from runoff.start.files import LIST_FILE, SITE_FILE, SPOTS_FILE

    typer.echo("\nFiles")
    for name in started.files:
        typer.echo(f"  {folder / name}")
    typer.echo("\n" + started.files[LIST_FILE])
    typer.echo(
        f"Next: take heights and fill them into {folder / SPOTS_FILE} (runoff sheets prints sheets "
        f"for the field), then\n  runoff check {folder / SITE_FILE}"
    )


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
    from runoff.report.field_sheets import PAPERS, field_sheets
    from runoff.report.files import check_free

    if paper not in PAPERS:
        raise Refusal(f'--paper: "{paper}" is written; expected letter or a4, such as letter')
    made = field_sheets(paper, _points_in(folder))
    paths = [folder / f"{sheet.file}.pdf" for sheet in made]
    check_folder(folder)
    check_free(paths, force)
    from runoff.report.field_sheet_page import draw_field_sheet

    typer.echo("Files")
    for sheet, path in zip(made, paths, strict=True):
        with writing(path):
            draw_field_sheet(sheet, path, paper)
        typer.echo(f"  {path}")
    return FINE


def _points_in(folder: Path) -> tuple[PointRow, ...]:
    """The points of the folder's spots.csv, where there is one."""
    from runoff.report.field_sheets import points_of
    from runoff.site.files import read_text

    path = folder / "spots.csv"
    return points_of(read_text(path, str(path), "a CSV file")) if path.is_file() else ()


def register(app: typer.Typer, statuses: str) -> None:
    """Put the commands of this module on the app."""
    app.command(epilog=statuses, short_help="Ask about a lot, and write its site file.")(start)
    app.command(epilog=statuses, short_help="Write field sheets to print.")(sheets)
