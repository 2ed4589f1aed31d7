"""How the report was made: methods, rules with their sources, limits, cautions, the heights.

In: findings, and the plan where there is one. Out: blocks.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from runoff.discharge.ways import BuriedLine, Extension, Option, SeepagePit, Swale
from runoff.foundation.soil_fill import clearance_known
from runoff.inspection import Findings
from runoff.planning import Plan
from runoff.quantities import Shown
from runoff.report.blocks import Block, Bullets, Heading, Paragraph, section, table
from runoff.report.findings_full import WITHOUT_HEIGHTS, without_heights
from runoff.report.names import rule_value, stop
from runoff.report.printed.observations import survey_words
from runoff.rules import RULES, Rule
from runoff.site.model import Site, SpotHeight
from runoff.words.amounts import run_length
from runoff.words.attention import engines_note
from runoff.words.cautions import cautions_for
from runoff.words.missing import suspect_reason
from runoff.words.notices import notices_in_words

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
    'Those that decided something here. "Read": the source was read; "recalled": it is cited '
    'from memory; "common practice": the trade\'s usual figure. The site file can set another '
    "value for any of them; the command `runoff rules` shows every one."
)
_COLUMNS = ("rule", "value", "source")
_METRES = {"ft": 0.3048, "m": 1.0}
_DECIMALS = {"ft": 2, "m": 3}
_MOST_HEIGHTS = 1200
_ABREAST = 3
"""Heights in a row of the table: their remarks are short."""
_HAIR = 0.02
"""A figure of a design that is so near a rule, as a share, is the rule's."""


def _walls(site: Site) -> str:
    spacing, reach = (site.rules[name] for name in ("station_spacing", "foundation_reach"))
    return WALLS.format(spacing=run_length(site, spacing), reach=run_length(site, reach))


def method_blocks(findings: Findings, plan: Plan | None) -> list[Block]:
    """Method, survey, second engine, what was taken for granted, cautions, rules."""
    site = findings.site
    design = DESIGN if plan is not None else ()
    granted = [
        *(plan.assumptions if plan is not None else ()),
        *notices_in_words(findings.site, findings.notices),
    ]
    return [
        Heading("Method, limits and rules", 1),
        *section("Method", [*_ground(site), *GROUND, _walls(site), *design]),
        *section("Two engines", [engines_note(findings.second_engine), _volumes(findings)]),
        *section(
            "Limits of the survey", [f"{survey_words(findings)}.", *_doubts(findings), *LIMITS]
        ),
        *section(WITHOUT_HEIGHTS, without_heights(findings)),
        *section("Taken for granted", list(dict.fromkeys(granted))),
        Heading("Cautions", 3),
        Bullets(cautions_for(site.units)),
        Heading("Rules and their sources", 3),
        Paragraph(_RULES),
        *table(_COLUMNS, [_row(site, rule) for rule in deciding(findings, plan)]),
    ]


def deciding(findings: Findings, plan: Plan | None) -> list[Rule]:
    """The rules that decided a verdict or a design of this lot, in the order of the table.

    They follow from the records alone: a rule is among them where a verdict was made by it, a way
    was built to it or refused by it, or where the site file sets it.
    """
    rules = findings.site.rules
    names = {*rules.overridden, *_at_walls(findings)}
    if findings.downspouts:
        names |= {"near_foundation", "discharge_grade"}
    if plan is not None:
        for wedge in () if plan.grade is None else plan.grade.wedges:
            names |= {"soil_grade", "soil_settlement"}
            if wedge.short_by_m > 0 or not clearance_known(findings.site, wedge.run):
                names |= {"siding_clearance", "foundation_above_grade_veneer"}
        for each in plan.recommendations:
            names |= set(_of_way(findings.site, each.chosen))
            for option in each.options:
                if not option.feasible:
                    names |= _REFUSE.get(option.kind.removeprefix("corrected grade and "), set())
    return [rule for name, rule in RULES.items() if name in names]


_REFUSE = {
    "extension": {"extension_length", "extension_slope"},
    "swale": {"swale_grade", "swale_grade_beyond"},
    "buried line": {"line_cover", "line_slope"},
    "seepage pit": {"pit_foundation_distance", "pit_lot_line_distance"},
}
"""What keeps a way off most lots, where no place or no route was found for it."""


def _at_walls(findings: Findings) -> Iterator[str]:
    """The rules by which the worst place of each stretch of wall was judged."""
    rules = findings.site.rules
    for run in findings.at_the_wall.runs:
        worst = run.worst
        if not math.isfinite(worst.required_m):
            continue
        yield "foundation_reach"
        if math.isclose(
            worst.required_m, rules["soil_grade_to_drain"] * worst.reach_m, rel_tol=1e-9
        ):
            yield "soil_grade_to_drain"
            continue
        if worst.paved_m > 0:
            yield "paving_grade"
        if worst.paved_m < worst.reach_m:
            yield "cut_short_fall" if worst.cut_by else "soil_grade"
        if run.verdict == "slopes back":
            yield "rise_against_wall"
    for water in findings.at_the_wall.standing:
        if water.distance_m > 0:
            yield "pond_foundation_distance"


def _of_way(site: Site, chosen: Option) -> Iterator[str]:
    """The rules that the way chosen was built to."""
    design = chosen.design
    if isinstance(design, Extension):
        yield from _of_extension(site, design)
    if isinstance(design, Swale):
        yield from ("swale_freeboard", "swale_side_run", "roughness_grass_swale")
        if _is_at(site, "swale_grade", design.slope):
            yield "swale_grade"
        if _is_at(site, "swale_bottom_width", design.section.bottom_m):
            yield "swale_bottom_width"
    if chosen.line is not None:
        yield from _of_line(site, chosen.line)
    if isinstance(design, SeepagePit):
        yield from _of_pit(site, design)


def _of_extension(site: Site, extension: Extension) -> Iterator[str]:
    if extension.props:
        yield "extension_support_spacing"
    if extension.apron is not None:
        yield "extension_apron_flow"
    if _is_at(site, "extension_length", extension.length_m):
        yield "extension_length"
    if _is_at(site, "extension_slope", extension.fall_m / extension.length_m):
        yield "extension_slope"


def _of_line(site: Site, line: BuriedLine) -> Iterator[str]:
    limits = line.profile.limits
    yield from ("line_size", "bedding_depth", "trench_width_addition")
    if _is_at(site, "line_slope", line.flow.slope):
        yield "line_slope"
    if _is_at(site, "line_cover", limits.cover_m):
        yield "line_cover"
    why = {fitting.why for fitting in line.fittings if fitting.kind == "cleanout"}
    if "spacing" in why:
        yield "cleanout_spacing"
    if "sharp bend" in why:
        yield "cleanout_bend"


def _of_pit(site: Site, pit: SeepagePit) -> Iterator[str]:
    metric = site.units == "m"
    yield from (
        f"pit_foundation_distance{'_metric' * metric}",
        f"pit_lot_line_distance{'_metric' * metric}",
    )
    if any(building.kind == "basement" for building in site.own_buildings):
        yield "pit_basement_distance"
    yield from ("pit_safety_factor", "pit_stone_over_inlet", "pit_soil_over_stone")
    yield "pit_half_empty_time" if pit.governing is pit.by_durations else "pit_drain_time"
    yield "chamber_voids" if pit.governing.pit.kind == "chamber" else "stone_voids"
    if _is_at(site, "pit_greatest_dig", pit.dig_depth_m):
        yield "pit_greatest_dig"


def _is_at(site: Site, name: str, value: float) -> bool:
    """Whether a figure of a design is the rule's own."""
    return math.isclose(value, site.rules[name], rel_tol=_HAIR)


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
        stop(f"Height '{suspect.name}' {suspect_reason(findings.site, suspect)}")
        + " Measure it again."
        for suspect in findings.terrain.suspects
    ]


def _row(site: Site, rule: Rule) -> tuple[str, str, str]:
    """The value in force; one that the site file sets stands beside the table's own."""
    value = rule_value(site, rule, rule.value)
    if rule.name in site.rules.overridden:
        here = rule_value(site, rule, site.rules[rule.name])
        value = f"{here} (set in the site file; default {value})"
    return rule.name, value, f"{rule.source} ({rule.standing})"


def appendix_blocks(site: Site) -> list[Block]:
    """A table of spot heights; nothing where there are none."""
    if not site.spot_heights:
        return []
    unit = site.units
    columns = ("height", f"x ({unit})", f"y ({unit})", f"z ({unit})")
    cells = [_cells(spot, site) for spot in site.spot_heights[:_MOST_HEIGHTS]]
    down = -(-len(cells) // _ABREAST)
    blank = ("",) * len(columns)
    rows = [
        tuple(
            cell
            for k in range(row, down * _ABREAST, down)
            for cell in (cells[k] if k < len(cells) else blank)
        )
        for row in range(down)
    ]
    left = len(site.spot_heights) - len(cells)
    more = [Paragraph(f"And {left} heights more.")] if left else []
    return [
        Heading("Appendix: the heights that this was made from", 1),
        Paragraph(f"As the site file {site.path.name} has them; keep it and its sheets with this."),
        *table(columns * _ABREAST, rows, columns[1:]),
        *more,
    ]


def _cells(spot: SpotHeight, site: Site) -> tuple[str, ...]:
    def shown(metres: float) -> str:
        return f"{metres / _METRES[site.units]:.{_DECIMALS[site.units]}f}"

    name = f"{spot.name}  {spot.remark}" if spot.remark else spot.name
    return name, shown(spot.x), shown(spot.y), shown(spot.z)
