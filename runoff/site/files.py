"""Text files as the user named them: read whole, or refused in one line.

In: a path and the name to show for it. Out: text without a byte-order mark, or `InputError`.
"""

from __future__ import annotations

from pathlib import Path

from runoff.site.problems import InputError, Problem

LARGEST_BYTES = 50_000_000


def read_text(path: Path, shown: str, expected: str) -> str:
    """The text of a UTF-8 file.

    Parameters
    ----------
    path : Path
        The file.
    shown : str
        Its name as the user wrote it.
    expected : str
        What kind of file it should be, for the message.

    Raises
    ------
    InputError
        Where there is no such file, it cannot be read, or it is not UTF-8.
    """
    try:
        if path.is_dir():
            raise _refused(shown, None, f"{expected}, but it is a folder")
        if path.stat().st_size > LARGEST_BYTES:
            raise _refused(shown, None, f"{expected}, but it has more than 50 MB")
        content = path.read_bytes()
    except FileNotFoundError:
        raise _refused(shown, None, f"{expected}, but there is no such file") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a name of a file"
        raise _refused(shown, None, f"{expected}, but it cannot be read ({reason})") from None
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise _refused(shown, line, f"{expected}; this line is not UTF-8 text") from None


def _refused(shown: str, line: int | None, expected: str) -> InputError:
    return InputError([Problem(shown, line, "", "", expected)])
