"""The commands for the field: start a lot, check what was written down, sheets to print."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from runoff.cli.status import FINE

if TYPE_CHECKING:
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


def register(app: typer.Typer, statuses: str) -> None:
    """Put the commands of this module on the app."""
    app.command(epilog=statuses, short_help="Ask about a lot, and write its site file.")(start)
