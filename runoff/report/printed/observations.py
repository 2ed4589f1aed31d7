"""The inspector's part: what was seen and measured, what it implies, what to do about it.

In: findings. Out: one `Observation` a thing looked at: openings, stretches of wall, standing water,
downspouts, heights in doubt; tables of them, or, beside a plan, the figures at the walls alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

from runoff.flow.model import DownspoutAnswer
from runoff.foundation.model import OpeningFinding, StandingWater, Verdict, WallRun
from runoff.foundation.walls import Wall, from_left, wall_words, walls_of
from runoff.inspection import Findings
from runoff.planning import Plan
from runoff.quantities import Shown, parse_length
from runoff.report.blocks import Block, Heading, NewPage, Pairs, Paragraph, section, table
from runoff.report.drawings.all import soil_jobs
from runoff.report.findings_full import low_spots, wall_tables
from runoff.report.names import end_phrase, stop
from runoff.report.plan_full import proof
from runoff.report.printed.jobs import Drawn
from runoff.site.model import Site
from runoff.words.amounts import found_rain, height, main_sources, run_length
from runoff.words.attention import downspout_attention
from runoff.words.missing import suspect_reason
from runoff.words.rains import storm_basis
from runoff.words.walls import remark_words, settle_words, soil_lines, wall_lines
from runoff.words.water import ice_words

Action = Literal["", "correct", "monitor", "refer"]

# As in the inspection's own headlines: an opening with less to spare is told, and damp is no water.
_SMALL_FREEBOARD = parse_length("4 in")
_DAMP = parse_length("1/4 in")
_CORNER_M = 0.01
# A fall smaller than this over a whole profile is level ground (1/16 in).
_LEVEL_M = 0.0016
NOTHING_GIVEN = "Nothing was given to look at: no wall, opening or downspout."
_ROUGH = "The heights are too rough for a verdict; a survey by level gives one."

# What a verdict at a wall implies, and what to do about it.
_WALLS: dict[Verdict, tuple[str, Action]] = {
    "drains away": ("Water at the wall runs away from the foundation.", ""),
    "too flat": ("Water is slow to leave the wall and soaks in beside the foundation.", "correct"),
    "cut short: needs a drain or swale": (
        "There is no room for the fall that is asked for; the ground alone does not take water "
        "away from the wall.",
        "correct",
    ),
    "slopes back": ("Water runs toward the foundation.", "correct"),
    "holds water": ("Water stands against the foundation in such a storm.", "correct"),
    "too close to call": (
        "It may pass or fail; the heights are not good enough to say.",
        "monitor",
    ),
    "not surveyed": ("Nothing is known of the ground here.", "refer"),
}


@dataclass(frozen=True)
class Observation:
    """One thing that was looked at.

    Parameters
    ----------
    chapter, where : str
        Among which things it stands, and which it is.
    measured : str
        What was observed and measured.
    verdict : str
        In a few words.
    implies : str
        What it means for the building.
    action : {"", "correct", "monitor", "refer"}
        Empty where there is nothing to do.
    """

    chapter: str
    where: str
    measured: str
    verdict: str
    implies: str
    action: Action


def observations_of(findings: Findings) -> tuple[Observation, ...]:
    """Everything that was looked at: openings, walls, standing water, downspouts, heights."""
    return (
        *_openings(findings),
        *_walls(findings),
        *_standing(findings),
        *_downspouts(findings),
        *_heights(findings),
    )


def _openings(findings: Findings) -> Iterator[Observation]:
    site = findings.site
    for each in findings.at_the_wall.openings:
        verdict, implies, action = _opening(site, each)
        yield Observation(
            "Openings",
            f"{each.kind} '{each.name}', {wall_words(each.wall_name)} of '{each.building}'",
            _opening_measured(site, each),
            verdict,
            implies,
            _unless_rough(findings, action),
        )


def _opening(site: Site, each: OpeningFinding) -> tuple[str, str, Action]:
    if each.reached:
        return "water gets in", "Water gets in here in the storm looked at.", "correct"
    if math.isnan(each.freeboard_m):
        return "not judged", "Its height, or the ground's beside it, is not known.", "refer"
    if each.freeboard_m < _SMALL_FREEBOARD:
        spare = f"{height(site, each.freeboard_m)} to spare"
        return spare, "Water stays out of it, with little to spare.", "monitor"
    return "water stays out", "Water stays out of it in the storm looked at.", ""


def _opening_measured(site: Site, each: OpeningFinding) -> str:
    told = []
    if not math.isnan(each.edge_m):
        told.append(f"Edge at a height of {datum_height(site, each.edge_m)}")
    if not math.isnan(each.freeboard_m):
        side = "over" if each.freeboard_m < 0 else "below"
        told.append(f"water or ground {height(site, each.freeboard_m)} {side} its edge")
    if math.isfinite(each.rain_to_reach_m):
        told.append(f"reached at {found_rain(site, each.rain_to_reach_m)} of rain")
    elif not math.isnan(each.rain_to_reach_m):
        told.append("no storm that was tried reaches it")
    return stop("; ".join(told)) if told else "Not measured."


def datum_height(site: Site, metres: float) -> str:
    """A height of the survey's datum, with its sign."""
    return f"{'-' if metres < 0 else ''}{height(site, metres)}"


def _walls(findings: Findings) -> Iterator[Observation]:
    site = findings.site
    walls = {(wall.building, wall.number): wall for wall in walls_of(site.buildings)}
    for run in findings.at_the_wall.runs:
        implies, action = _WALLS[run.verdict]
        more = [settle_words(site, run), *map(remark_words, run.remarks)]
        yield Observation(
            "Ground along the walls",
            _stretch(site, walls[run.building, run.wall], run),
            _run_measured(site, run),
            run.verdict,
            " ".join([_ROUGH if run.indication else implies, *filter(None, more)]),
            _unless_rough(findings, action) if not run.indication else "refer",
        )


def _stretch(site: Site, wall: Wall, run: WallRun) -> str:
    start, end = from_left(wall, run.start_m, run.end_m)
    whole = start < _CORNER_M and end > wall.length - _CORNER_M
    part = "" if whole else f", {_distance(site, start)} to {_distance(site, end)} from its left"
    return f"{wall_words(run.wall_name)} of '{run.building}'{part}"


def _distance(site: Site, metres: float) -> str:
    return "0" if metres < _CORNER_M else run_length(site, metres)


def _run_measured(site: Site, run: WallRun) -> str:
    worst = run.worst
    if not math.isfinite(worst.fall_m):
        return "No heights."
    if not math.isfinite(worst.required_m):
        return f"Heights over {run_length(site, worst.reach_m)} only."
    way = " toward the wall" if worst.fall_m < 0 else ""
    fall = "level" if abs(worst.fall_m) < _LEVEL_M else f"{height(site, worst.fall_m)} of fall{way}"
    told = (
        f"At its worst {fall} over {run_length(site, worst.reach_m)}, where "
        f"{height(site, worst.required_m)} of fall are asked for"
    )
    if run.verdict == "slopes back":
        told += f"; it rises {height(site, worst.rise_m)} above its low point"
    return stop(told)


def _standing(findings: Findings) -> Iterator[Observation]:
    site = findings.site
    for water in findings.at_the_wall.standing:
        if water.storm_depth_m < _DAMP:
            continue
        wets = water.wetted_m > 0
        implies = (
            "Water stands against the wall and can reach what lies behind it."
            if wets
            else "Water stands near the wall and wets the soil beside it."
        )
        yield Observation(
            "Standing water near walls",
            water.low_spot,
            _pond_measured(site, water),
            "wets a wall" if wets else "near a wall",
            implies,
            _unless_rough(findings, "correct" if wets else "monitor"),
        )


def _pond_measured(site: Site, water: StandingWater) -> str:
    place = (
        f"against {run_length(site, water.wetted_m)} of wall of '{water.building}'"
        if water.wetted_m > 0
        else f"{run_length(site, water.distance_m)} from '{water.building}'"
    )
    good_to = water.area_m2 * site.height_accuracy.sigma
    volume = Shown.of(site).volume_as_good(water.storm_volume_m3, good_to)
    sources = main_sources(water.feeds_m3)
    told = f"{height(site, water.storm_depth_m)} deep ({volume}) {place}"
    return stop(f"{told}; from {sources}" if sources else told)


def _downspouts(findings: Findings) -> Iterator[Observation]:
    for answer in findings.downspouts:
        told = downspout_attention(findings.site, answer)
        action: Action = "correct" if told else ""
        if answer.end.kind in ("survey edge", "terminal basin"):
            action = action or "refer"
        yield Observation(
            "Downspouts",
            f"downspout '{answer.name}'",
            _way(findings.site, answer),
            end_phrase(answer.end),
            " ".join(told) or _harmless(answer),
            _unless_rough(findings, action),
        )


def _way(site: Site, answer: DownspoutAnswer) -> str:
    near, reach = site.rules["near_foundation"], site.rules["foundation_reach"]
    ice = ice_words(answer.crosses)
    return stop(
        f"Its water runs {run_length(site, answer.length_m)}, "
        f"{run_length(site, answer.length_within_near_m)} of it within "
        f"{run_length(site, near)} and "
        f"{run_length(site, answer.length_within_reach_m)} within {run_length(site, reach)} of a "
        f"foundation{f'; {ice}' if ice else ''}"
    )


def _harmless(answer: DownspoutAnswer) -> str:
    if answer.end.kind == "survey edge":
        return "Where it goes beyond the survey is not known."
    if answer.end.kind == "terminal basin":
        return "It is shut in by walls and has no way out over the ground."
    return "It does not come back to a foundation, stand near one, or run onto a neighbor."


def _heights(findings: Findings) -> Iterator[Observation]:
    for suspect in findings.terrain.suspects:
        yield Observation(
            "Heights in doubt",
            f"height '{suspect.name}'",
            stop(f"It {suspect_reason(findings.site, suspect)}"),
            "in doubt",
            "What rests on it is in doubt until it is measured again.",
            "refer",
        )


def _unless_rough(findings: Findings, action: Action) -> Action:
    """Rough heights show where to measure; what they show is referred, not corrected by them."""
    rough = findings.terrain.accuracy.indication_only
    return "refer" if rough and action == "correct" else action


def action_words(action: Action) -> str:
    """What stands in the report's own column.

    Examples
    --------
    >>> action_words("correct"), action_words("")
    ('correct', 'nothing')
    """
    return action or "nothing"


ACTIONS = (
    "Correct: it is wrong now and can be put right. Monitor: look at it in heavy rain, or measure "
    "it better. Refer: somebody else must look at it, such as a surveyor, an engineer or the town."
)


def found_blocks(
    findings: Findings, observed: tuple[Observation, ...], drawn: Drawn
) -> list[Block]:
    """All of an inspection: the survey, a table for each kind of thing looked at, drawings."""
    columns = ("where", "observed and measured", "verdict", "what it implies", "do")
    blocks: list[Block] = []
    for chapter, group in groupby(observed, key=lambda one: one.chapter):
        rows = [
            (one.where, one.measured, one.verdict, one.implies, action_words(one.action))
            for one in group
        ]
        blocks += [Heading(chapter), *table(columns, rows)]
    return [
        *drawn.show("plan", captioned=True),
        NewPage(),
        Heading("What was found", 1),
        Paragraph(ACTIONS),
        *(blocks or [Paragraph(NOTHING_GIVEN)]),
        *low_spots(findings),
        *drawn.walls(),
    ]


def wall_blocks(plan: Plan, drawn: Drawn) -> list[Block]:
    """The inspector's part of a plan: figures at the walls, what soil cannot do, the proof."""
    found = plan.findings
    with_sheet = {building.name for building, _ in soil_jobs(plan)}
    wedges = () if plan.grade is None else plan.grade.wedges
    left = soil_lines(plan.site, [one for one in wedges if one.run.building not in with_sheet])
    left += [line.text for line in wall_lines(plan.site, plan.walls_left, ())]
    return [
        Heading("What was found", 1),
        Pairs(title_rows(found)),
        *wall_tables(found, ()),
        *low_spots(found),
        *section("Walls that soil does not put right", left),
        *proof(plan),
        *drawn.walls(),
        *drawn.show("plan", captioned=True),
    ]


NOT_NOTED = "not noted"
_SURE = 1.96
# Accuracy from here on is told less finely, metres.
_COARSE_M = 0.02


def title_rows(findings: Findings) -> list[tuple[str, str]]:
    """The title block; what the site file leaves out is said to be not noted."""
    site, shown = findings.site, Shown.of(findings.site)
    return [
        ("Lot", site.name),
        ("Address", site.address or NOT_NOTED),
        ("Date of the survey", site.date or NOT_NOTED),
        ("Observer", site.observer or NOT_NOTED),
        ("Weather and rain before", site.weather or NOT_NOTED),
        ("Hidden from view", site.hidden or f"{NOT_NOTED} (snow, plants, decks, stored things)"),
        ("Survey", survey_words(findings)),
        ("Storm looked at", f"{shown.rain(site.storm.depth)} of rain: {storm_basis(site)}"),
    ]


def survey_words(findings: Findings) -> str:
    """What the heights are from, how many, and how good one is."""
    accuracy, shown = findings.terrain.accuracy, Shown.of(findings.site)
    within = _SURE * accuracy.sigma
    told = shown.at_least_a_step(within) if within < _COARSE_M else shown.height(within)
    good = f"each good to within {told}, 19 times in 20"
    parts = [f"{_sources(findings.site)} by {accuracy.method}; {good}"]
    if accuracy.indication_only:
        parts.append("too rough for a verdict on grade: an indication only")
    suspects = len(findings.terrain.suspects)
    if suspects:
        heights = "1 height is" if suspects == 1 else f"{suspects} heights are"
        parts.append(f"{heights} in doubt")
    return "; ".join(parts)


def _sources(site: Site) -> str:
    """How many spot heights, and the elevation data by its name."""
    count = len(site.spot_heights)
    told = [f"{count} spot heights"] if count else []
    told += [f"elevation data ({site.elevation.name})"] if site.elevation is not None else []
    return " and ".join(told) or "heights"
