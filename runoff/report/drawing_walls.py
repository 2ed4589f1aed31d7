"""Drawings of the ground off the walls that fail, one a wall, at the worst place of each.

In: what was found at the walls, and the plan that answers it. Out: sheets to a stated scale.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from runoff.foundation.walls import wall_words
from runoff.inspection import Findings
from runoff.quantities import Shown
from runoff.report.drawing_scale import PaperName
from runoff.report.drawing_sheets import DrawingSheet, paper_of
from runoff.report.section_sheet import Paper, heights_words, scale_shown
from runoff.report.wall_figure import compose_wall, fall_words, soil_words
from runoff.report.wall_ground import FailingWall, walls_that_fail
from runoff.site.model import Site

if TYPE_CHECKING:
    from runoff.planning import Plan

MOST_WALLS = 5


def wall_sheets(findings: Findings, plan: Plan | None, paper: PaperName) -> Iterator[DrawingSheet]:
    """The ground off each wall that fails, at its worst station; the worst walls first.

    Parameters
    ----------
    findings : Findings
    plan : Plan or None
        With one, the soil that it places is drawn.
    paper : {"letter", "a4"}

    Yields
    ------
    DrawingSheet
        At most five.
    """
    for wall in walls_that_fail(findings, plan, MOST_WALLS):
        yield _sheet(findings.site, wall, plan is not None, paper_of(paper))


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
            f"The ground off {where} at its worst place, {scale.words}, {heights_words(times)}."
        ),
        alternative=f"Profile of the ground away from {where}: {fall_words(run, shown)}.{soil}",
    )
