"""Standard streams whose reader may go away: the command then goes on, and ends as it would have.

In: the standard streams where they are pipes or files. Out: the same, on which writing to a pipe
that nobody reads any more does nothing, and a full disk is one line.
"""

from __future__ import annotations

import errno
import io
import os
import sys
from typing import Any

from runoff.cli.status import Refusal

# Windows says of a pipe without a reader that the argument is invalid.
_GONE = {errno.EPIPE, errno.ESHUTDOWN, *([errno.EINVAL] if os.name == "nt" else [])}


class _Outlet(io.RawIOBase):
    """What a standard stream writes to, as long as that takes it."""

    def __init__(self, raw: io.RawIOBase, must_arrive: bool) -> None:
        self._raw = raw
        self._must_arrive = must_arrive
        self._open = True

    def writable(self) -> bool:
        return True

    def fileno(self) -> int:
        return self._raw.fileno()

    def isatty(self) -> bool:
        return self._raw.isatty()

    def write(self, content: Any) -> int:
        """Write, or drop it where nobody is there to read it.

        Raises
        ------
        Refusal
            Where what must arrive cannot be written for another reason; once, for what follows is
            dropped.
        """
        if self._open:
            try:
                return self._raw.write(content) or 0
            except OSError as error:
                self._open = False
                if self._must_arrive and error.errno not in _GONE:
                    why = error.strerror or error
                    raise Refusal(f"what is printed cannot be written ({why})") from error
        return len(content)


def outlive_readers() -> None:
    """Have the standard streams take whatever is written, also when nobody reads it any more."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        buffer = getattr(stream, "buffer", None)
        raw = getattr(buffer, "raw", buffer)  # Python that is told not to buffer has the one alone
        if not isinstance(raw, io.RawIOBase) or isinstance(raw, _Outlet) or raw.isatty():
            continue
        stream.flush()
        # That messages cannot be written has no place to be said.
        outlet = _Outlet(raw, must_arrive=name == "stdout")
        text = io.TextIOWrapper(
            outlet if raw is buffer else io.BufferedWriter(outlet),  # type: ignore[type-var]
            encoding=stream.encoding,
            errors=stream.errors,
            line_buffering=stream.line_buffering,
            write_through=stream.write_through,
        )
        setattr(sys, name, text)
