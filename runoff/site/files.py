"""Files as the user named them: read whole, or refused in one line.

In: a path and the name to show for it. Out: text without a byte-order mark, or `InputError`.
"""

from __future__ import annotations

import stat
from pathlib import Path

from runoff.site.problems import InputError, Problem

LARGEST_BYTES = 50_000_000
_PACKED = (b"PK\x03\x04", b"\x1f\x8b", b"7z\xbc\xaf", b"BZh", b"\xfd7zXZ")
"""How zip, gzip, 7z, bzip2 and xz files begin; spreadsheets' own files are zips."""


def check_regular(path: Path) -> None:
    """Refuse what is no ordinary file before it is opened: a pipe or a device may never end.

    Raises
    ------
    FileNotFoundError
        Where nothing is there.
    ValueError
        With what it is.

    Examples
    --------
    >>> check_regular(Path("/"))
    Traceback (most recent call last):
    ...
    ValueError: it is a folder
    """
    mode = path.stat().st_mode
    if stat.S_ISDIR(mode):
        raise ValueError("it is a folder")
    if not stat.S_ISREG(mode):
        raise ValueError("it is a pipe or a device, not a file")


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
        check_regular(path)
        if path.stat().st_size > LARGEST_BYTES:
            raise _refused(shown, None, f"{expected}, but it has more than 50 MB")
        content = path.read_bytes()
    except FileNotFoundError:
        raise _refused(shown, None, f"{expected}, but there is no such file") from None
    except OSError as error:
        reason = error.strerror or "not a name of a file"
        raise _refused(shown, None, f"{expected}, but it cannot be read ({reason})") from None
    except ValueError as error:
        said = str(error) if str(error).startswith("it is") else "it has no name of a file"
        raise _refused(shown, None, f"{expected}, but {said}") from None
    if content.startswith(_PACKED):
        packed = "it is packed, or a spreadsheet's own file: unpack it, or save it as text"
        raise _refused(shown, None, f"{expected}, but {packed}")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise _refused(shown, line, f"{expected}; this line is not UTF-8 text") from None


def _refused(shown: str, line: int | None, expected: str) -> InputError:
    return InputError([Problem(shown, line, "", "", expected)])
