"""All drawings of a report, each to a stated scale: plans, profiles, sections, walls.

In: findings, and the plan that answers them. Out: `Drawing` records.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from typing import TYPE_CHECKING, assert_never

from runoff.discharge.ways import AsItIs, BuriedLine, Extension, Recommendation, SeepagePit, Swale
from runoff.foundation.model import SoilWedge
from runoff.inspection import Findings
from runoff.report.drawings.job import home_sheet, job_sheet, soil_sheet
from runoff.report.drawings.plan import plan_sheet
from runoff.report.drawings.sections import (
    pit_sheet,
    profile_sheet,
    swale_profile_sheet,
    swale_section_sheet,
    wall_sheets,
)
from runoff.report.drawings.sheets import Drawing, DrawingSheet
from runoff.report.sections.sheet import TEXT_AREAS, PaperName
from runoff.site.model import Building

if TYPE_CHECKING:
    from runoff.planning import Plan

WIDE, HALF = 0.605, 0.495
"""Shares of the text area's width: of a drawing beside words, and of one of two side by side."""
_HOME_IN, _PLACE_IN = 5.0, 2.85
_TALL, _TALL_PIT, _TALL_SWALE, _TALL_WALL = 0.52, 0.34, 0.55, 0.82


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
        The plans first, then downspout by downspout, then the soil and the ground off the walls,
        the worst first.

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
    if plan is not None and plan.builds:
        yield plan_sheet(findings, plan, paper)
        width = TEXT_AREAS[paper][0]
        yield home_sheet(plan, (HALF * width, _HOME_IN))
        yield from _designs(plan, paper)
        for building, wedges in soil_jobs(plan):
            yield soil_sheet(plan, building, wedges, (WIDE * width, _PLACE_IN))
    yield from wall_sheets(findings, plan, paper, HALF, _TALL_WALL)


def _designs(plan: Plan, paper: PaperName) -> Iterator[DrawingSheet]:
    for each in plan.recommendations:
        chosen, name = each.chosen, each.downspout
        if not is_job(each):
            continue
        yield job_sheet(plan, each, (WIDE * TEXT_AREAS[paper][0], _PLACE_IN))
        match chosen.design:
            case BuriedLine() as line:
                yield profile_sheet(line, plan.site, name, paper, WIDE, _TALL)
            case SeepagePit() as pit:
                yield pit_sheet(pit, plan.site, name, paper, WIDE, _TALL_PIT)
            case Swale() as swale:
                yield swale_profile_sheet(swale, plan.site, name, paper, WIDE, _TALL_SWALE)
                yield swale_section_sheet(swale, plan.site, name, paper, WIDE, _TALL_SWALE)
            case Extension() | AsItIs() | None:
                pass
            case unknown:
                assert_never(unknown)


def is_job(each: Recommendation) -> bool:
    """Whether anything is built for a downspout, the soil at its walls aside."""
    return each.chosen.way not in ("as it is", "refer")


def soil_jobs(plan: Plan) -> list[tuple[Building, tuple[SoilWedge, ...]]]:
    """The buildings along whose walls soil is laid, and every stretch that wants some."""
    wedges = () if plan.grade is None else plan.grade.wedges
    found = []
    for building in plan.site.own_buildings:
        own = tuple(wedge for wedge in wedges if wedge.run.building == building.name)
        if any(wedge.loose_m3 > 0 for wedge in own):
            found.append((building, own))
    return found
