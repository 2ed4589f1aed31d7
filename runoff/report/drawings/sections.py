"""Profiles of lines, sections of what is dug, and the ground off walls, each to a stated scale.

In: what was found at the walls, and the plan that answers it. Out: sheets to a stated scale.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from runoff.discharge.ways import BuriedLine, SeepagePit, Swale
from runoff.foundation.walls import wall_words
from runoff.inspection import Findings
from runoff.quantities import Shown
from runoff.report.drawings.sheets import DrawingSheet, paper_of
from runoff.report.names import stop
from runoff.report.plan_designs import plan_words
from runoff.report.sections.line import compose_profile
from runoff.report.sections.pit import compose_pit
from runoff.report.sections.sheet import Paper, PaperName, heights_words, scale_shown
from runoff.report.sections.swale import compose_swale_profile, compose_swale_section
from runoff.report.sections.wall import (
    FailingWall,
    compose_wall,
    fall_words,
    soil_words,
    walls_that_fail,
)
from runoff.site.model import Site
from runoff.words.designs import line_ends, swale_ends

if TYPE_CHECKING:
    from runoff.planning import Plan


def profile_sheet(
    line: BuriedLine, site: Site, name: str, paper: PaperName, share: float = 1.0, tall: float = 1.0
) -> DrawingSheet:
    """The profile of the line that serves a downspout.

    Parameters
    ----------
    line : BuriedLine
    site : Site
    name : str
        The downspout's.
    paper : {"letter", "a4"}
    share, tall : float
        Of the text area's width, and of the usual height, that it takes.

    Returns
    -------
    DrawingSheet
    """
    figure = compose_profile(line, site, name, paper_of(paper, share, tall))
    scale, times = scale_shown(figure, site.units)
    shown, profile = Shown.of(site), line.profile
    return DrawingSheet(
        name=f"profile of '{name}'",
        figure=figure,
        scale=scale,
        caption=(
            f"Buried line of downspout '{name}' in profile, {scale.words}, {heights_words(times)}."
        ),
        alternative=(
            f"Profile of a {profile.pipe.size} line {shown.far(line.length_m)} long at "
            f"{shown.slope(line.flow.slope)}: its invert starts at "
            f"{shown.height(float(profile.invert_m[0]))} and ends at "
            f"{shown.height(float(profile.invert_m[-1]))}; the trench is up to "
            f"{shown.height(line.greatest_cut_m)} deep. {stop(line_ends(line.ends))}"
        ),
    )


def pit_sheet(
    pit: SeepagePit, site: Site, name: str, paper: PaperName, share: float = 1.0, tall: float = 1.0
) -> DrawingSheet:
    """The section of the pit that serves a downspout, one scale up and along."""
    figure = compose_pit(pit, site, name, paper_of(paper, share, tall))
    scale, _ = scale_shown(figure, site.units)
    shown, body = Shown.of(site), pit.governing.pit
    return DrawingSheet(
        name=f"pit of '{name}'",
        figure=figure,
        scale=scale,
        caption=f"Seepage pit of downspout '{name}' in section, {scale.words}.",
        alternative=(
            f"Section of a {body.kind} {plan_words(pit.governing, shown)}, dug "
            f"{shown.height(pit.dig_depth_m)} deep; the inlet's invert is at "
            f"{shown.height(pit.inlet_m)}, and {shown.height(body.depth_m)} below it count. Stone "
            "wrapped in filter fabric, a silt trap before it, an observation pipe in it."
        ),
    )


def swale_profile_sheet(
    swale: Swale, site: Site, name: str, paper: PaperName, share: float = 1.0, tall: float = 1.0
) -> DrawingSheet:
    """The bottom of a swale along its line."""
    figure = compose_swale_profile(swale, site, name, paper_of(paper, share, tall))
    scale, times = scale_shown(figure, site.units)
    shown = Shown.of(site)
    return DrawingSheet(
        name=f"swale of '{name}' along its line",
        figure=figure,
        scale=scale,
        caption=(
            f"Swale of downspout '{name}' along its line, {scale.words}, {heights_words(times)}."
        ),
        alternative=(
            f"The ground and the swale's bottom over {shown.far(float(swale.stations_m[-1]))} at "
            f"{shown.slope(swale.slope)}: the bottom starts at "
            f"{shown.height(float(swale.bottom_m[0]))} and ends at "
            f"{shown.height(float(swale.bottom_m[-1]))}. {stop(swale_ends(swale.ends))}"
        ),
    )


def swale_section_sheet(
    swale: Swale, site: Site, name: str, paper: PaperName, share: float = 1.0, tall: float = 1.0
) -> DrawingSheet:
    """The section of a swale with the water in it."""
    figure = compose_swale_section(swale, site, name, paper_of(paper, share, tall))
    scale, times = scale_shown(figure, site.units)
    shown, body = Shown.of(site), swale.section
    return DrawingSheet(
        name=f"swale of '{name}' in section",
        figure=figure,
        scale=scale,
        caption=f"Swale of downspout '{name}' in section, {scale.words}, {heights_words(times)}.",
        alternative=(
            f"Section of a swale {shown.height(body.bottom_m)} wide at its bottom and "
            f"{shown.height(body.depth_m)} deep, sides {body.side_run:g} to 1; the design flow "
            f"stands {shown.height(swale.flow.water_m)} deep in it."
        ),
    )


MOST_WALLS = 5


def wall_sheets(
    findings: Findings, plan: Plan | None, paper: PaperName, share: float = 1.0, tall: float = 1.0
) -> Iterator[DrawingSheet]:
    """The ground off each wall that fails, at its worst station; the worst walls first.

    Parameters
    ----------
    findings : Findings
    plan : Plan or None
        With one, the soil that it places is drawn.
    paper : {"letter", "a4"}
    share, tall : float
        Of the text area's width, and of the usual height, that each takes.

    Yields
    ------
    DrawingSheet
        At most five.
    """
    for wall in walls_that_fail(findings, plan, MOST_WALLS):
        yield _sheet(findings.site, wall, plan is not None, paper_of(paper, share, tall))


def _sheet(site: Site, wall: FailingWall, designed: bool, paper: Paper) -> DrawingSheet:
    shown, run = Shown.of(site), wall.run
    where = f"{wall_words(run.wall_name)} of '{run.building}'"
    figure = compose_wall(site, wall, designed, paper)
    scale, times = scale_shown(figure, site.units)
    soil = f" {soil_words(site, wall)}" if designed else ""
    return DrawingSheet(
        name=f"ground off {where}",
        figure=figure,
        scale=scale,
        caption=(
            f"The ground off {where} at its worst place, {shown.far(run.worst.along_m)} along it, "
            f"{scale.words}, {heights_words(times)}: {fall_words(run, shown)}.{soil}"
        ),
        alternative=f"Profile of the ground away from {where}: {fall_words(run, shown)}.{soil}",
        building=run.building,
    )
