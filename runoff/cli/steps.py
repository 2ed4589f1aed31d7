"""The steps that commands share, each saying what is being done where it takes long."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from runoff.cli.progress import step

if TYPE_CHECKING:
    from runoff.inspection import Findings
    from runoff.planning import Plan
    from runoff.site.model import Site


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
    from runoff.flow.compiled import needs_preparing

    return f"preparing, first run only, and {words}" if needs_preparing() else words
