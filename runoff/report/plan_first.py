"""What a plan says first: what to do at each downspout, at the walls, and what the proof shows.

In: a plan. Out: blocks.
"""

from __future__ import annotations

from runoff.discharge.ways import Recommendation
from runoff.planning import Plan
from runoff.quantities import Shown
from runoff.report.blocks import Block, Heading, Paragraph, Step, Steps, section, titled_table
from runoff.report.plan_words import stop, way_words
from runoff.site.model import Site
from runoff.words.designs import way_reason
from runoff.words.failures import failure_words
from runoff.words.soil import soil_lines
from runoff.words.wall_lines import wall_lines

NO_DOWNSPOUT = "No downspout is given, so no way for roof water is planned."
NO_SOIL = "The walls need no soil."
NOT_SURE = "No wall is known for certain to need soil; what the heights do not tell stands first."


def recommendations(plan: Plan) -> list[Block]:
    """A downspout a row: the way to take, in one or two sentences, and how it fails if badly."""
    if not plan.recommendations:
        return [Paragraph(NO_DOWNSPOUT, alone=True)]
    steps = [
        Step(
            f"{each.downspout}: {way_words(each.chosen)}",
            [
                sentence(plan.site, each),
                *(
                    f"Mind: {failure_words(plan.site, failure)}"
                    for failure in each.chosen.failures
                    if not failure.is_safe
                ),
            ],
        )
        for each in plan.recommendations
    ]
    return [Heading("What to do with each downspout's water", 3), Steps(steps)]


def sentence(site: Site, each: Recommendation) -> str:
    """What to do, or, where nothing on the lot does, that it is so and where the rest stands."""
    if each.chosen.kind == "refer":
        return f"{stop(each.why)} What is left, and who must be asked, stands below."
    return stop(way_reason(site, each.chosen))


def at_the_walls(plan: Plan) -> list[Block]:
    """The soil that the walls need, whatever is built at the downspouts."""
    lines = []
    if plan.grade is not None:
        shown = Shown.of(plan.site)
        if plan.grade.loose_m3 > 0:
            lines.append(
                f"In all {shown.found_volume(plan.grade.loose_m3)} of soil, loose "
                f"({shown.found_volume(plan.grade.compacted_m3)} compacted)."
            )
        lines += soil_lines(plan.site, plan.grade.wedges)
    lines += [line.text for line in wall_lines(plan.site, plan.walls_left, ())]
    sure = all(run.verdict == "drains away" for run in plan.findings.at_the_wall.runs)
    none = NO_SOIL if sure else NOT_SURE
    return section("At the walls, whatever is built", lines or [none])


def proof(plan: Plan) -> list[Block]:
    """The storm run again with all of it built, beside the storm as it is."""
    shown, found = Shown.of(plan.site), plan.proof
    reach = shown.far(plan.site.rules["foundation_reach"])
    rows = [
        (
            "wall that holds water",
            shown.far(found.wet_wall_before_m),
            shown.far(found.wet_wall_after_m),
        ),
        (
            f"water standing within {reach} of a foundation",
            shown.found_volume(found.standing_before_m3),
            shown.found_volume(found.standing_after_m3),
        ),
    ]
    return [
        *titled_table("What the storm leaves", ("", "as it is now", "with all of it built"), rows),
        *section(
            "Still in trouble", [*(f"{name}: {why}." for name, why in found.trouble), *found.wetter]
        ),
    ]
