"""What `runoff plan` writes, checked before anything is computed."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from runoff.cli.outputs import check_folder, writing
from runoff.cli.progress import step
from runoff.cli.status import Refusal

if TYPE_CHECKING:
    from runoff.planning import Plan
    from runoff.site.model import Site
    from runoff.words.dig_sheet import Style


@dataclass(frozen=True)
class PlanOutputs:
    """The folder that a plan is written into, None for none, and every file it may write there."""

    folder: Path | None
    paths: tuple[Path, ...]

    @classmethod
    def in_folder(cls, folder: Path | None, site: Site) -> PlanOutputs:
        """Every file that a plan of this site may have."""
        if folder is None:
            return cls(None, ())
        from runoff.report.plan_files import plan_files

        return cls(folder, plan_files(folder, (spout.name for spout in site.downspouts)).every)

    def check(self, force: bool) -> None:
        """Refuse what cannot be written before any work is done.

        Raises
        ------
        Refusal, FileExistsError
            With one line.
        """
        from runoff.report.files import check_free

        if self.folder is not None:
            check_folder(self.folder)
            check_free(list(self.paths), force)

    def write(self, plan: Plan, style: Style | None) -> list[Path]:
        """Write them, each whole or not at all; those that were written."""
        if self.folder is None:
            return []
        from runoff.report.plan_files import write_plan

        with step("drawing the plan"), writing(self.folder):
            return write_plan(plan, self.folder, style)


def dig_style(site: Site, tenths: bool) -> Style | None:
    """How dig tables are written: None for the usual way of the site's units.

    Raises
    ------
    Refusal
        Where tenths of a foot are asked for and the site is in metres.
    """
    if not tenths:
        return None
    if site.units != "ft":
        raise Refusal('--tenths: tenths of a foot; the site file has units = "m"')
    return "tenths"


def plan_json(plan: Plan) -> str:
    """The plan as JSON text."""
    from runoff.report.plan_files import plan_json as written

    return written(plan)
