"""How the report was made: methods, rules with their sources, the second engine, limits, cautions.

In: findings, and the plan where there is one. Out: blocks.
"""

from __future__ import annotations

from runoff.discharge.cautions import cautions_for
from runoff.inspection import Findings
from runoff.planning import Plan
from runoff.quantities import Shown
from runoff.report.blocks import Block, Bullets, Heading, Paragraph, section, table
from runoff.report.findings_full import WITHOUT_HEIGHTS, without_heights
from runoff.report.names import rule_value, stop
from runoff.report.printed.title import survey_words
from runoff.rules import Rule
from runoff.site.model import Site
from runoff.words.amounts import run_length

_ALIKE = 1e-4
"""Meters: two computed heights that differ by less are alike to any tape."""
SPOTS = (
    "Ground: from spot heights by a constrained triangulation in which break lines and building "
    "outlines are edges."
)
CELLS = (
    "Ground: from elevation data, its cells as they are; heights between them are interpolated and "
    "give an indication only."
)
GROUND = (
    "Low spots: filled from the edge inward by priority-flood (Barnes, Lehman and Mulla 2014, "
    "Computers & Geosciences 62).",
    "Flow paths: D-infinity directions (Tarboton 1997, Water Resources Research 33(2)).",
    "Standing water: a storm is moved through the hierarchy of depressions (Barnes, Callaghan and "
    "Wickert 2020, Earth Surface Dynamics 8; 2021, Earth Surface Dynamics 9).",
)
WALLS = (
    "Walls: at stations at most {spacing} apart the ground's fall over {reach} is compared with "
    "what is asked for; a call closer than the heights are good is left open."
)
DESIGN = (
    "Roof flow: rational method, Q = C i A, on the roof's plan area.",
    "Leaders: Wyly and Eaton (1961); gutters: EN 12056-3; pipes and swales: Manning's formula.",
    "Seepage pits: the method of BRE Digest 365 where a rain table is given, and beside it a whole "
    "storm's depth with drain-down through the bottom.",
    "Each way is proved by running the storm again on the ground as it would be built, and each is "
    "made to fail once to see where its water then goes.",
)
LIMITS = (
    "The ground between measured heights is interpolated: a hump, a hole or a ridge that nobody "
    "shot is not in it.",
    "What lies under the ground was not looked at: pipes, footings, fill, roots, old drains.",
    "Water that comes from the ground itself (springs, a high water table) is not in it.",
    "It holds for the day of the survey: ground settles, and paving and planting change it.",
)
_RULES = (
    "The limits that the verdicts here and the ways chosen were held to, and those that the site "
    'file sets. "Read": the source was read; "recalled": it is cited from memory; "common '
    "practice\": the trade's usual figure. The site file can set another value for any of them."
)
_COLUMNS = ("rule", "value", "source")
_OF_THE_GROUND = frozenset(
    (
        "near_foundation",
        "foundation_reach",
        "soil_grade",
        "soil_grade_to_drain",
        "paving_grade",
        "cut_short_fall",
        "rise_against_wall",
        "siding_clearance",
        "foundation_above_grade_veneer",
        "pond_foundation_distance",
        "discharge_grade",
    )
)
_OF_WAYS = {
    "extension": ("extension_",),
    "swale": ("swale_",),
    "line": ("line_",),
    "pit": ("pit_", "line_"),
}
"""What the names of a way's own limits begin with."""


def _walls(site: Site) -> str:
    spacing, reach = (site.rules[name] for name in ("station_spacing", "foundation_reach"))
    return WALLS.format(spacing=run_length(site, spacing), reach=run_length(site, reach))


def method_blocks(findings: Findings, plan: Plan | None) -> list[Block]:
    """Method, survey, second engine, what was taken for granted, cautions, rules."""
    site = findings.site
    design = DESIGN if plan is not None else ()
    granted = [*(plan.assumptions if plan is not None else ()), *findings.notices]
    return [
        Heading("Method, limits and rules", 1),
        *section("Method", [*_ground(site), *GROUND, _walls(site), *design]),
        *section("Two engines", [findings.second_engine.note, _volumes(findings)]),
        *section(
            "Limits of the survey", [f"{survey_words(findings)}.", *_doubts(findings), *LIMITS]
        ),
        *section(WITHOUT_HEIGHTS, without_heights(findings)),
        *section("Taken for granted", list(dict.fromkeys(granted))),
        Heading("Cautions", 3),
        Bullets(cautions_for(site.units)),
        Heading("Rules and their sources", 3),
        Paragraph(_RULES),
        *table(_COLUMNS, [_row(site, rule) for rule in _deciding(site, plan)]),
        Paragraph(_others(site, plan)),
    ]


def _deciding(site: Site, plan: Plan | None) -> list[Rule]:
    """Of the limits that were looked up: set by the lot, of the ground, or of a way chosen."""
    chosen = [one.chosen for one in plan.recommendations] if plan is not None else []
    begins = tuple(
        begin
        for way, begins in _OF_WAYS.items()
        if any(getattr(option, way) is not None for option in chosen)
        for begin in begins
    )
    return [
        rule
        for rule in site.rules.looked_up
        if rule.name in site.rules.overridden
        or rule.name in _OF_THE_GROUND
        or (begins and rule.name.startswith(begins))
    ]


def _others(site: Site, plan: Plan | None) -> str:
    count = len(site.rules.looked_up) - len(_deciding(site, plan))
    return (
        f"Looked up as well, at their defaults: {count} more. The command `runoff rules` shows "
        "every one with its value, what it governs, and its source."
    )


def _ground(site: Site) -> list[str]:
    told = [SPOTS] if site.spot_heights else []
    return [*told, CELLS] if site.elevation is not None else told


def _volumes(findings: Findings) -> str:
    engines, shown = findings.second_engine, Shown.of(findings.site)
    ours = (
        f"All low ground together holds {shown.volume(engines.our_volume_m3)} by the tool's engine"
    )
    if engines.agrees is None:
        return f"{ours}."
    return (
        f"{ours} and {shown.volume(engines.their_volume_m3)} by richdem, both by cells; heights "
        f"{_apart(engines.greatest_difference_m, shown)}. The storm leaves "
        f"{shown.volume(engines.standing_m3)} standing where drains are left out; its depths "
        f"{_apart(engines.depth_difference_m, shown)}."
    )


def _apart(metres: float, shown: Shown) -> str:
    """How far the two engines are apart, in words where no tape would show it."""
    if metres < _ALIKE:
        return f"are alike to {'1/64 in' if shown.system == 'us' else '0.1 mm'}"
    return f"differ by {shown.at_least_a_step(metres)} at most"


def _doubts(findings: Findings) -> list[str]:
    return [
        stop(f"Height '{suspect.name}' {suspect.reason}") + " Measure it again."
        for suspect in findings.terrain.suspects
    ]


def _row(site: Site, rule: Rule) -> tuple[str, str, str]:
    """The value in force; one that the site file sets stands beside the table's own."""
    value = rule_value(site, rule, rule.value)
    if rule.name in site.rules.overridden:
        here = rule_value(site, rule, site.rules[rule.name])
        value = f"{here} (set in the site file; default {value})"
    return rule.name, value, f"{rule.source} ({rule.standing})"
