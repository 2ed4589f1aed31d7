"""The interview in a terminal: questions on the screen, answers from the keyboard, each kept."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from runoff.cli.outputs import write_own

if TYPE_CHECKING:
    from runoff.start.interview import Typed
    from runoff.start.lot_answers import Expected
    from runoff.start.questions import Question

HELP = (
    "A few questions about the lot. Lengths as on a tape: 24 ft 7 in, 24' 7\" or 7.49 m.\n"
    'Blank, "skip" or "do not know" leaves a question out, "back" goes to the one before.\n'
    "Ctrl-C stops: each answer is kept at once in\n"
    "  {path}\n"
    "and the same command goes on from there."
)


class TerminalTalk:
    """Asks, repeats what was understood, says why an answer cannot be used, and keeps them all."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._asked: tuple[str, int] | None = None
        typer.echo(HELP.format(path=path))

    def ask(self, question: Question, number: int) -> str:
        """Ask on the terminal; Ctrl-C and the end of the input stop the command."""
        if self._asked == (question.key, number):
            pass
        elif number == 0 or self._asked is None:
            typer.echo(f"\n{question.ask}")
            if question.why:
                typer.echo(f"  {question.why}")
            typer.echo(f"  Such as {question.example}")
            if number:
                typer.echo(f'  {number} so far. Another one? Blank or "done" when there is none.')
        else:
            typer.echo('Another one? Blank or "done" when there is none.')
        self._asked = (question.key, number)
        hint = f" [{question.default}]" if question.default else ""
        try:
            return input(f"{hint.strip()}> ")
        except EOFError:
            raise typer.Abort from None

    def understood(self, words: str) -> None:
        """Repeat what was understood."""
        typer.echo(f"  = {words}")
        if self._asked is not None:
            self._asked = (self._asked[0], -1)

    def wrong(self, question: Question, number: int, text: str, error: Expected) -> bool:
        """Say why, and what is expected, and have it asked again."""
        if self._asked is None or self._asked[0] != question.key:
            typer.echo(f"\n{question.ask}")
            self._asked = (question.key, number)
        said = f'"{text}" cannot be used; ' if text else ""
        why = f"{error.reason}\n  " if error.reason else ""
        typer.echo(f"  {said}{why}expected {error.expected}")
        return True

    def keep(self, typed: Typed) -> None:
        """Keep the answers so far in the file, whole at every moment."""
        from runoff.start.interview import answers_text

        write_own(self.path, answers_text(typed))
