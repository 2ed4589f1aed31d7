"""The interview in a terminal: questions on the screen, answers from the keyboard."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from runoff.start.questions import Question

HELP = (
    "A few questions about the lot. Lengths as on a tape: 24 ft 7 in, 24' 7\" or 7.49 m.\n"
    'Blank or "skip" leaves a question out, "back" goes to the one before; Ctrl-C stops and '
    "writes nothing."
)


class TerminalTalk:
    """Asks, repeats what was understood, and says what is expected after a wrong answer."""

    def __init__(self) -> None:
        self._again = False
        typer.echo(HELP)

    def ask(self, question: Question, number: int) -> str:
        """Ask on the terminal; Ctrl-C and the end of the input stop the command."""
        if self._again:
            self._again = False
        elif number == 0:
            typer.echo(f"\n{question.ask}")
            typer.echo(f"  such as {question.example}")
            if question.why:
                typer.echo(f"  {question.why}")
        else:
            typer.echo('Another one? Blank or "done" when there is none.')
        hint = f" [{question.default}]" if question.default else ""
        try:
            return input(f"{hint.strip()}> ")
        except EOFError:
            raise typer.Abort from None

    def understood(self, words: str) -> None:
        """Repeat what was understood."""
        typer.echo(f"  = {words}")

    def wrong(self, question: Question, number: int, text: str, expected: str) -> bool:
        """Say what is expected, and have it asked again."""
        said = f'"{text}" cannot be used; ' if text else ""
        typer.echo(f"  {said}expected {expected}")
        self._again = True
        return True
