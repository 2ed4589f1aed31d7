"""The steps that commands share, and progress on stderr for whatever takes longer than a second.

On a terminal a line that moves; elsewhere one plain line for each step, so that logs stay readable.
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from runoff.site.problems import printable

if TYPE_CHECKING:
    from rich.status import Status

    from runoff.inspection import Findings
    from runoff.planning import Plan
    from runoff.site.model import Site

_PATIENCE_S = 1.0


@contextmanager
def step(words: str, patience: float = _PATIENCE_S) -> Iterator[None]:
    """Say what is being done once it has taken longer than `patience` seconds.

    Parameters
    ----------
    words : str
        What is being done, such as ``reading site.toml``.
    patience : float, seconds
    """
    notice = _Notice(words)
    timer = threading.Timer(patience, notice.show)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        timer.join()
        notice.clear()


class _Notice:
    """A line on stderr that says what is being done, and goes away on a terminal."""

    def __init__(self, words: str) -> None:
        self._words = printable(words)
        self._status: Status | None = None

    def show(self) -> None:
        if not sys.stderr.isatty():
            # Nobody may be there to read it, or the disk that it goes to may be full.
            with suppress(OSError, ValueError):
                print(f"{self._words} ...", file=sys.stderr, flush=True)
            return
        from rich.console import Console
        from rich.text import Text

        self._status = Console(stderr=True).status(Text(f"{self._words} ..."))
        self._status.start()

    def clear(self) -> None:
        if self._status is not None:
            self._status.stop()


def read(path: Path) -> Site:
    """Read a site file."""
    import logging

    # Drawing says on stderr where it keeps its fonts; that is no concern of the user's.
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    with step(f"reading {path}"):
        import runoff

        return runoff.read_site(path)


def inspect_site(site: Site) -> Findings:
    """Inspect a site."""
    with step(_doing("inspecting the lot")):
        import runoff

        return runoff.inspect(site)


def plan_site(site: Site) -> Plan:
    """Plan a site."""
    with step(_doing("planning the lot")):
        import runoff

        return runoff.plan(site)


def _doing(words: str) -> str:
    """What is being done, and that the first run takes longer."""
    from runoff.flow.engine.compiled import needs_preparing

    return f"preparing, first run only, and {words}" if needs_preparing() else words
