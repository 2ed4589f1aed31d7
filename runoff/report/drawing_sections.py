"""Sections of what is dug, seepage pits and swales, to a stated scale."""

from __future__ import annotations

from runoff.discharge.ways import SeepagePit, Swale
from runoff.quantities import Shown, format_slope
from runoff.report.drawing_scale import PaperName
from runoff.report.drawing_sheets import DrawingSheet, paper_of
from runoff.report.pit_figure import compose_pit
from runoff.report.plan_designs import plan_words
from runoff.report.plan_words import stop
from runoff.report.section_sheet import heights_words, scale_shown
from runoff.report.swale_figure import compose_swale_profile, compose_swale_section
from runoff.site.model import Site
from runoff.words.swales import swale_ends


def pit_sheet(pit: SeepagePit, site: Site, name: str, paper: PaperName) -> DrawingSheet:
    """The section of the pit that serves a downspout, one scale up and along."""
    figure = compose_pit(pit, site, name, paper_of(paper))
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


def swale_profile_sheet(swale: Swale, site: Site, name: str, paper: PaperName) -> DrawingSheet:
    """The bottom of a swale along its line."""
    figure = compose_swale_profile(swale, site, name, paper_of(paper))
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
            f"{format_slope(swale.slope)}: the bottom starts at "
            f"{shown.height(float(swale.bottom_m[0]))} and ends at "
            f"{shown.height(float(swale.bottom_m[-1]))}. {stop(swale_ends(swale.ends))}"
        ),
    )


def swale_section_sheet(swale: Swale, site: Site, name: str, paper: PaperName) -> DrawingSheet:
    """The section of a swale with the water in it."""
    figure = compose_swale_section(swale, site, name, paper_of(paper))
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
