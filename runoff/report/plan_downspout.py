"""One downspout of a plan in words: its water, the ways side by side, the chosen one in numbers.

In: the plan and one recommendation. Out: blocks.
"""

from __future__ import annotations

from runoff.discharge.ways import Option, Recommendation
from runoff.planning import Plan
from runoff.quantities import Shown
from runoff.report.blocks import Block, Heading, section, titled_table
from runoff.report.plan_designs import extension_parts, line_parts, pit_parts, swale_parts
from runoff.report.plan_shopping import quantity_words
from runoff.report.plan_words import (
    price_words,
    safe_words,
    stop,
    way_words,
    work_words,
)
from runoff.roof.drainage import RoofDrainage, with_line
from runoff.words.designs import way_reason
from runoff.words.dig_sheet import Style
from runoff.words.failures import failure_words
from runoff.words.soil import soil_sentence

_NOTHING_M2 = 0.01
# A way with corrected grade says nothing new where it works without.
_WITH_GRADE = "corrected grade and "


def downspout_parts(
    plan: Plan, number: int, each: Recommendation, style: Style | None
) -> list[Block]:
    """Everything about one downspout, under its name."""
    shown = Shown.of(plan.site)
    heading = f"{number}  {each.downspout}: {way_words(each.chosen)}"
    return [
        Heading(heading),
        *section("Water", water_lines(plan, each)),
        *ways(plan, each),
        *section("Why this one", [stop(each.why)]),
        *section("Ask first", [stop(who) for who in each.chosen.asks]),
        *section("When it fails", [failure_words(plan.site, one) for one in each.chosen.failures]),
        *_design(plan, each, shown, style),
        *_shopping(each),
    ]


def water_lines(plan: Plan, each: Recommendation) -> list[str]:
    """The roof and the flows of a downspout, its weakest link, and what is too small."""
    shown, water = Shown.of(plan.site), each.water
    area = f"It carries {shown.area(water.plan_area_m2)} of roof"
    if abs(water.design_area_m2 - water.plan_area_m2) > _NOTHING_M2:
        area += f", counted as {shown.area(water.design_area_m2)} for wind-blown rain"
    flows = (
        f"Design flow {shown.flow(water.gutter_flow_m3_per_s)} in gutter and leader, "
        f"{shown.flow(water.line_flow_m3_per_s)} in a buried line; the ponding storm brings "
        f"{shown.volume(water.storm_m3)}"
    )
    lines = [f"{area}.", f"{flows}."]
    drainage = next(one for one in plan.drainage if one.downspout == each.downspout)
    return [*lines, weakest_words(drainage, each.chosen, shown), *drainage.remedies]


def weakest_words(drainage: RoofDrainage, chosen: Option, shown: Shown) -> str:
    """Which part limits the way from the gutter to the end of the line, and whether it carries."""
    line = chosen.line or (chosen.pit.line if chosen.pit is not None else None)
    if line is not None:
        drainage = with_line(drainage, line.flow.full_flow_m3_per_s)
    weakest = drainage.weakest_link
    verdict = "it carries that" if weakest.carries else "that is TOO MUCH for it"
    return (
        f"Weakest link: the {weakest.link.name}, good for "
        f"{shown.flow(weakest.link.capacity_m3_per_s)}; the design flow takes "
        f"{100 * weakest.share_used:.0f} % of it: {verdict}."
    )


def ways(plan: Plan, each: Recommendation) -> list[Block]:
    """The ways that can be built side by side, and why the others cannot."""
    shown, prices = Shown.of(plan.site), plan.site.prices
    can = [option for option in each.options if option.feasible and option.kind != "refer"]
    columns = ["way", "what it is", "work in it", "fails"]
    rows = [
        [
            way_words(option) + (" (this)" if option is each.chosen else ""),
            stop(way_reason(plan.site, option)),
            work_words(option.work, shown),
            safe_words(option),
        ]
        for option in can
    ]
    if prices is not None:
        columns.insert(3, "price")
        for row, option in zip(rows, can, strict=True):
            row.insert(3, price_words(option.work, prices))
    simpler = {option.kind for option in can}
    why_not: dict[str, list[str]] = {}
    for option in each.options:
        if not option.feasible and option.kind.removeprefix(_WITH_GRADE) not in simpler:
            why_not.setdefault(stop(option.reason), []).append(way_words(option))
    cannot = [f"{', '.join(names)}: {reason}" for reason, names in why_not.items()]
    return [
        *titled_table("Ways that can be built here, the simplest first", columns, rows),
        *section("What cannot be built here, and why", cannot),
    ]


def _design(plan: Plan, each: Recommendation, shown: Shown, style: Style | None) -> list[Block]:
    chosen, parts = each.chosen, []
    if chosen.correction is not None:
        told = [soil_sentence(plan.site, wedge) for wedge in chosen.correction.wedges]
        parts += section("The soil at the wall", told)
    if chosen.extension is not None:
        parts += extension_parts(chosen.extension, plan.site)
    if chosen.swale is not None:
        parts += swale_parts(chosen.swale, shown)
    if chosen.line is not None:
        parts += line_parts(chosen.line, plan.site, style)
    if chosen.pit is not None:
        parts += pit_parts(plan.site, each.water, chosen.pit, style)
    return parts


def _shopping(each: Recommendation) -> list[Block]:
    rows = [(item.name, quantity_words(item), item.use) for item in each.chosen.shopping]
    return titled_table("To buy for this downspout", ("what", "how much", "for"), rows)
