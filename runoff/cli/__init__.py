"""The commands. Everything heavy is imported inside them, so that ``--help`` is quick.

`main` is what the ``runoff`` command starts.
"""

from __future__ import annotations

import gc
import signal
import sys

__all__ = ["main"]


def main() -> None:
    """Run the command line and leave with its exit status."""
    # A command makes what it shows and ends: looking for rings of garbage meanwhile, mostly among
    # the imports, takes a fifth of its time and frees next to nothing.
    gc.disable()
    # A request to end is taken as Ctrl-C is: what was being written is taken away first.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    from runoff.cli.status import run

    sys.exit(run(sys.argv[1:]))
