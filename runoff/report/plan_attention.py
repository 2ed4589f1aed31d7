"""What in a plan needs a person's attention, a sentence each, the worst first."""

from __future__ import annotations

from runoff.foundation.model import WallRun
from runoff.foundation.walls import wall_words
from runoff.planning import Plan
from runoff.quantities import Shown
from runoff.report.names import stop
from runoff.words.amounts import listed
from runoff.words.attention import engines_note, unanswered_sentence
from runoff.words.choices import trouble_words, wetter_words, why_chosen
from runoff.words.designs import failure_words
from runoff.words.gutters import remedies
from runoff.words.missing import suspect_reason

ROUGH = (
    "These heights are too rough to dig by: every depth, slope and height here is an indication "
    "only. Measure with a level before anything is ordered or dug."
)
NO_LOT = (
    "No lot is given: whether water runs onto a neighbor, or a way ends on the lot, cannot be "
    "told. Give its corners and sides in [lot]."
)


def plan_attention(plan: Plan) -> tuple[str, ...]:
    """Downspouts without a way, failures that are not safe, and what `beyond_the_ways` tells.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    tuple of str
        Empty where the plan can be built as it stands and nothing at the walls needs soil.
    """
    told = [
        f"Downspout '{one.downspout}': {why_chosen(plan.site, one)}"
        for one in plan.recommendations
        if one.chosen.kind == "refer"
    ]
    told += [
        f"Downspout '{one.downspout}': {failure_words(plan.site, failure)}"
        for one in plan.recommendations
        for failure in one.chosen.failures
        if not failure.is_safe
    ]
    return (*told, *beyond_the_ways(plan))


def beyond_the_ways(plan: Plan) -> tuple[str, ...]:
    """Heights that are in doubt, trouble left with all of it built, walls, parts too small."""
    told = []
    findings = plan.findings
    if findings.second_engine.agrees is False:
        told.append(engines_note(findings.second_engine))
    if findings.terrain.accuracy.indication_only:
        told.append(ROUGH)
    if plan.site.lot is None and plan.recommendations:
        told.append(NO_LOT)
    told += [unanswered_sentence(downspout) for downspout in findings.unanswered]
    told += [
        stop(f"Height '{suspect.name}' {suspect_reason(plan.site, suspect)}")
        + " Measure it again before anything is dug."
        for suspect in findings.terrain.suspects
    ]
    told += trouble_with_all_built(plan, "Downspout ")
    if wet := wet_wall_after(plan):
        told.append(f"With all of it built, water still stands along {wet} of wall.")
    told += _walls(plan)
    told += parts_too_small(plan, "Downspout ")
    return tuple(told)


def trouble_with_all_built(plan: Plan, called: str = "") -> list[str]:
    """Whose water is still in trouble where a way was found, and what is wetter than before.

    A downspout is `called` so before its name.
    """
    referred = {one.downspout for one in plan.recommendations if one.chosen.kind == "refer"}
    return [
        *(
            f"{called}'{one.downspout}', with all of it built: {trouble_words(plan.site, one)}."
            for one in plan.proof.trouble
            if one.downspout not in referred
        ),
        *(f"With all of it built: {wetter_words(plan.site, one)}." for one in plan.proof.wetter),
    ]


def wet_wall_after(plan: Plan) -> str:
    """Along how much wall water stands with all of it built; empty where it does along none."""
    wet = plan.proof.wet_wall_after_m
    return Shown.of(plan.site).far(wet) if wet > 0 else ""


def parts_too_small(plan: Plan, called: str = "") -> list[str]:
    """What to put in place of gutters, outlets and leaders that are too small, a sentence each."""
    return [
        f"{called}'{one.downspout}': {remedy}"
        for one in plan.drainage
        for remedy in remedies(plan.site, one)
    ]


def walls_without_soil(plan: Plan) -> list[WallRun]:
    """The stretches of wall that soil cannot put right."""
    wedges = () if plan.grade is None else plan.grade.wedges
    left = [wedge.run for wedge in wedges if wedge.short_by_m > 0 or wedge.refused is not None]
    return [*left, *plan.walls_left]


def _walls(plan: Plan) -> list[str]:
    told = []
    if plan.grade is not None and plan.grade.loose_m3 > 0:
        soil = Shown.of(plan.site).found_volume(plan.grade.loose_m3)
        told.append(f"The walls need {soil} of soil, loose, whatever is built.")
    if left := walls_without_soil(plan):
        names = dict.fromkeys(f"{wall_words(run.wall_name)} of '{run.building}'" for run in left)
        told.append(
            f"Soil cannot put right every part of {listed(list(names))}: see what the walls need."
        )
    return told
