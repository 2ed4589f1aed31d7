"""All drawings of a report, each to a stated scale: plans, profiles, sections, walls.

In: findings, and the plan that answers them. Out: `Drawing` records.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from typing import TYPE_CHECKING

from runoff.discharge.pit.size import SeepagePit
from runoff.discharge.swale.section import Swale
from runoff.inspection import Findings
from runoff.report.drawings.plan import plan_sheet
from runoff.report.drawings.sections import (
    pit_sheet,
    profile_sheet,
    swale_profile_sheet,
    swale_section_sheet,
    wall_sheets,
)
from runoff.report.drawings.sheets import Drawing, DrawingSheet
from runoff.report.sections.sheet import PaperName

if TYPE_CHECKING:
    from runoff.planning import Plan


def drawings_of(
    findings: Findings, plan: Plan | None = None, paper: PaperName = "letter"
) -> tuple[Drawing, ...]:
    """The drawings of a lot: of what was found alone, or with what is to be built.

    Parameters
    ----------
    findings : Findings
    plan : Plan, optional
        The plan that answers them. Without one there is no design: the plan of what was found and
        the ground off the walls that fail are all.
    paper : {"letter", "a4"}
        Whose text area every drawing fits, upright or lying.

    Returns
    -------
    tuple of Drawing
        The plans first, then downspout by downspout, then the walls, the worst first.

    Examples
    --------
    >>> from runoff.inspection import inspect
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> drawings = drawings_of(inspect(read_site(sample_folder() / "site.toml")))
    >>> drawings[0].name, drawings[0].scale
    ('plan', '1 in = 20 ft (1:240)')
    """
    with warnings.catch_warnings():
        # A name in a script that the font lacks is drawn as boxes; that is all there is to say.
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        return tuple(sheet.drawing() for sheet in sheets_of(findings, plan, paper))


def sheets_of(
    findings: Findings, plan: Plan | None = None, paper: PaperName = "letter"
) -> Iterator[DrawingSheet]:
    """The same as figures, before they are written."""
    yield plan_sheet(findings, None, paper)
    if plan is not None:
        if plan.builds:
            yield plan_sheet(findings, plan, paper)
        yield from _designs(plan, paper)
    yield from wall_sheets(findings, plan, paper)


def _designs(plan: Plan, paper: PaperName) -> Iterator[DrawingSheet]:
    for each in plan.recommendations:
        chosen, name = each.chosen, each.downspout
        if chosen.line is not None:
            yield profile_sheet(chosen.line, plan.site, name, paper)
        if isinstance(chosen.design, SeepagePit):
            yield pit_sheet(chosen.design, plan.site, name, paper)
        if isinstance(chosen.design, Swale):
            yield swale_profile_sheet(chosen.design, plan.site, name, paper)
            yield swale_section_sheet(chosen.design, plan.site, name, paper)
