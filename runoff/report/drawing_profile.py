"""The profile of a buried line to a stated scale."""

from __future__ import annotations

from runoff.discharge.ways import BuriedLine
from runoff.quantities import Shown, format_slope
from runoff.report.drawing_scale import PaperName
from runoff.report.drawing_sheets import DrawingSheet, paper_of
from runoff.report.plan_words import stop
from runoff.report.profile_figure import compose_profile
from runoff.report.section_sheet import heights_words, scale_shown
from runoff.site.model import Site
from runoff.words.lines import line_ends


def profile_sheet(line: BuriedLine, site: Site, name: str, paper: PaperName) -> DrawingSheet:
    """The profile of the line that serves a downspout.

    Parameters
    ----------
    line : BuriedLine
    site : Site
    name : str
        The downspout's.
    paper : {"letter", "a4"}

    Returns
    -------
    DrawingSheet
    """
    figure = compose_profile(line, site, name, paper_of(paper))
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
            f"{format_slope(line.flow.slope)}: its invert starts at "
            f"{shown.height(float(profile.invert_m[0]))} and ends at "
            f"{shown.height(float(profile.invert_m[-1]))}; the trench is up to "
            f"{shown.height(line.greatest_cut_m)} deep. {stop(line_ends(line.ends))}"
        ),
    )
