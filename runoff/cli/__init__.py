"""The commands. Everything heavy is imported inside them, so that ``--help`` is quick.

`main` is what the ``runoff`` command starts.
"""

from __future__ import annotations

import sys

__all__ = ["main"]


def main() -> None:
    """Run the command line and leave with its exit status."""
    from runoff.cli.status import run

    sys.exit(run(sys.argv[1:]))
