"""Exit statuses: whatever a command ends in becomes one number and, if need be, one line.

0 fine, 1 findings that need attention, 2 bad input, 3 an internal failure, 130 stopped by Ctrl-C.
"""

from __future__ import annotations

import sys
import tempfile
import traceback
from collections.abc import Sequence

from runoff.cli.encoding import write_on_any_terminal

FINE = 0
NEEDS_ATTENTION = 1
BAD_INPUT = 2
INTERNAL_FAILURE = 3
STOPPED = 130


class Refusal(Exception):
    """What was asked for cannot be done as asked: one line says why."""


def run(arguments: Sequence[str]) -> int:
    """Run one command line.

    Parameters
    ----------
    arguments : sequence of str
        What stands after ``runoff``.

    Returns
    -------
    int
        The exit status.
    """
    from runoff.cli.streams import outlive_readers

    outlive_readers()
    write_on_any_terminal()
    try:
        return _ended(arguments)
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        return STOPPED
    except Exception as error:
        print(_failure(error), file=sys.stderr)
        return INTERNAL_FAILURE


def _ended(arguments: Sequence[str]) -> int:
    """How a command ended whose end is one of those that are foreseen."""
    import typer

    from runoff.cli.commands import app
    from runoff.site.problems import InputError, lines_told, short_enough

    try:
        status = _status(typer.main.get_command(app), arguments)
        if sys.stdout is not None:
            sys.stdout.flush()
        return status
    except InputError as error:
        print("\n".join(lines_told(error.problems)), file=sys.stderr)
        return BAD_INPUT
    except (Refusal, FileExistsError) as error:
        print(short_enough(str(error)), file=sys.stderr)
        return BAD_INPUT
    except typer.Abort:
        print("stopped", file=sys.stderr)
        return STOPPED


def _status(command: object, arguments: Sequence[str]) -> int:
    """The status of a command that ran, or that was asked for in a way it does not know."""
    try:
        result = command(  # type: ignore[operator]
            args=list(arguments), prog_name="runoff", standalone_mode=False
        )
    except Exception as error:
        show = getattr(error, "show", None)
        if show is None:
            raise
        show()
        return BAD_INPUT
    if result == STOPPED:
        # So does the command library tell an interruption that it caught itself.
        print("stopped", file=sys.stderr)
    return result if isinstance(result, int) else FINE


def _failure(error: Exception) -> str:
    """One line about a failure of our own, and the file where its details lie."""
    from runoff.site.problems import printable

    said = " ".join(str(error).split()) or "no message"
    line = f"runoff failed: {type(error).__name__}: {printable(said[:200])}"
    try:
        # The temporary folder, or the working folder where there is no other to write in.
        with tempfile.NamedTemporaryFile(
            "w", prefix="runoff-failure-", suffix=".txt", delete=False, encoding="utf-8"
        ) as file:
            file.write("".join(traceback.format_exception(error)))
    except OSError:
        return f"{line} (its details could not be written)"
    return f"{line}; details in {file.name}"
