"""The plan in words, for the terminal and for a text file.

In: a plan. Out: `Item`s with quantities as sold, rows of a table, the text of a CSV file.

In: a plan. Out: blocks, or plain text. What to do comes first; then downspout by
downspout the numbers to dig and buy by; the cautions stand at the end of every plan. Figures come
from the plan alone and are written in the site's own units.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import replace
from typing import assert_never

from runoff.discharge.model import Item
from runoff.discharge.ways import (
    AsItIs,
    BuriedLine,
    Extension,
    Option,
    Recommendation,
    SeepagePit,
    Swale,
)
from runoff.discharge.work import shopping_of
from runoff.planning import Plan
from runoff.quantities import Shown
from runoff.report.blocks import (
    Block,
    Bullets,
    Heading,
    Paragraph,
    Step,
    Steps,
    paired,
    section,
    titled_table,
)
from runoff.report.files import TEXT_MARK
from runoff.report.findings_full import WITHOUT_HEIGHTS, without_heights
from runoff.report.names import (
    NO_WORK,
    csv_note,
    csv_text,
    price_words,
    rule_value,
    safe_words,
    stop,
    way_words,
    work_words,
)
from runoff.report.once import shared, without
from runoff.report.plan_attention import beyond_the_ways
from runoff.report.plan_designs import extension_parts, line_parts, pit_parts, swale_parts
from runoff.report.terminal import as_text
from runoff.roof.drainage import RoofDrainage, with_line
from runoff.roof.takeoff import RunTakeOff
from runoff.site.model import Site
from runoff.words.choices import ask_words, trouble_words, wetter_words, why_chosen
from runoff.words.designs import design_sentence, failure_words, way_reason
from runoff.words.dig_sheet import Style
from runoff.words.gutters import end_words, fall_note, laps_words, remedies
from runoff.words.notices import notices_in_words
from runoff.words.walls import soil_lines, wall_lines

CSV_MARK = f"# {TEXT_MARK}"
ALL, WALLS, ONE = "all", "walls", "downspout"

_ONCE = (
    "The soil along the walls is counted once here, for all walls; a downspout's own list has the "
    "soil of its building again."
)
_PLURAL = re.compile(r"^(length|roll)s of")


def quantity_words(item: Item) -> str:
    """How much of it, with its unit.

    Examples
    --------
    >>> quantity_words(Item("stone", 1.5, "cu yd", ""))
    '1.5 cu yd'
    >>> quantity_words(Item("bend", 3.0, "each", ""))
    '3'
    >>> quantity_words(Item("pipe", 1.0, "lengths of 10 ft", ""))
    '1 length of 10 ft'
    """
    unit = "" if item.unit == "each" else item.unit
    if item.quantity == 1:
        unit = _PLURAL.sub(r"\1 of", unit)
    return f"{item.quantity:g} {unit}".strip()


def shopping(plan: Plan) -> list[Block]:
    """All of it; a downspout's own list stands with the downspout."""
    items = everything(plan)
    if not items:
        return section("Shopping list", ["Nothing is to be bought."])
    notes = [_ONCE] if for_walls(plan) else []
    return [*_to_buy("Shopping list, all of it", items), *section("Note", notes)]


def for_walls(plan: Plan) -> tuple[Item, ...]:
    """The soil that the walls need whatever is built."""
    if plan.grade is None or plan.grade.loose_m3 <= 0:
        return ()
    return shopping_of(plan.site, [Option("refer", False, None, correction=plan.grade)])


def everything(plan: Plan) -> tuple[Item, ...]:
    """What the walls and all recommendations take together, soil along walls once."""
    chosen = [each.chosen for each in plan.recommendations]
    if not for_walls(plan):
        return shopping_of(plan.site, chosen)
    built = [replace(option, correction=None) for option in chosen]
    return shopping_of(plan.site, [*built, Option("refer", False, None, correction=plan.grade)])


def shopping_csv(plan: Plan) -> str:
    """The list as CSV: all of it first, then the walls, then downspout by downspout.

    The first line is the tool's own mark, behind a ``#``. The column `list` says which of the three
    a row belongs to, so that a downspout may have any name.
    """
    page = io.StringIO()
    page.write(f"{CSV_MARK}\n")
    for note in lot_notes(plan.site):
        page.write(f"{csv_note(note)}\n")
    writer = csv.writer(page, lineterminator="\n")
    writer.writerow(("list", "downspout", "item", "quantity", "unit", "use"))
    rows = [(ALL, "", item) for item in everything(plan)]
    rows += [(WALLS, "", item) for item in for_walls(plan)]
    for each in plan.recommendations:
        rows += [(ONE, each.downspout, item) for item in each.chosen.shopping]
    for which, name, item in rows:
        cells = (which, name, item.name, f"{item.quantity:g}", item.unit, item.use)
        writer.writerow(csv_text(cell) for cell in cells)
    return page.getvalue()


def lot_notes(site: Site, downspout: str | None = None) -> list[str]:
    """What a table is of: the lot, the one downspout if any, and when heights were taken."""
    of_one = [] if downspout is None else [f"Downspout: {downspout}"]
    return [f"Lot: {site.name}", *of_one, f"Heights taken: {site.date or 'not noted'}"]


NO_DOWNSPOUT = "No downspout is given, so no way for roof water is planned."
NO_SOIL = "The walls need no soil."
NOT_SURE = "No wall is known for certain to need soil; what the heights do not tell stands first."


def recommendations(plan: Plan) -> list[Block]:
    """A downspout a row: the way to take, in one or two sentences, and how it fails if badly."""
    if not plan.recommendations:
        return [Paragraph(NO_DOWNSPOUT, alone=True)]
    steps, first = [], dict[str, int]()
    for number, each in enumerate(plan.recommendations, start=1):
        told = sentence(plan.site, each)
        at = first.setdefault(told, number)
        mind = [f"Mind: {failure}" for failure in _unsafe(plan.site, each)]
        name = f"{each.downspout}: {way_words(each.chosen)}"
        steps.append(Step(name, [told if at == number else f"As at {at}.", *mind]))
    return [Heading("What to do with each downspout's water", 3), Steps(steps)]


def _unsafe(site: Site, each: Recommendation) -> list[str]:
    """How the way that is taken fails, where that is not safe."""
    return [failure_words(site, one) for one in each.chosen.failures if not one.is_safe]


def sentence(site: Site, each: Recommendation) -> str:
    """What to do, or, where nothing on the lot does, that it is so and where the rest stands."""
    if each.chosen.kind == "refer":
        return f"{stop(why_chosen(site, each))} What is left, and who must be asked, stands below."
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
            "Still in trouble",
            [
                *(f"{one.downspout}: {trouble_words(plan.site, one)}." for one in found.trouble),
                *(wetter_words(plan.site, each) for each in found.wetter),
            ],
        ),
    ]


_NOTHING_M2 = 0.01
CAN = "Ways that can be built here, the simplest first"
CANNOT = "What cannot be built here, and why"
# What is read beside the figures that it belongs to stays there.
_WITH_ITS_TABLE = (CAN, "Dig table")


def downspout_parts(
    plan: Plan, number: int, each: Recommendation, style: Style | None
) -> list[Block]:
    """Everything about one downspout, under its name."""
    return [
        _chapter(number, each),
        *section("What to do", [sentence(plan.site, each)]),
        *section("Water", water_lines(plan, each)),
        *_ways_in_brief(plan, each),
        *section(
            CANNOT,
            [_ways_and_why(reason, names) for reason, names in why_not(plan.site, each).items()],
        ),
        *section("Ask first", [stop(who) for who in ask_words(each.chosen.asks)]),
        *section("When it fails", [failure_words(plan.site, one) for one in each.chosen.failures]),
        *_design(plan, each, style),
        *_to_buy("To buy for this downspout", each.chosen.shopping),
    ]


def _chapter(number: int, each: Recommendation) -> Heading:
    return Heading(f"{number}  {each.downspout}: {way_words(each.chosen)}")


def _each_downspout(plan: Plan, style: Style | None, told: set[str]) -> list[Block]:
    """Every downspout's parts; what is `told` above or holds at several of them is said once."""
    numbered = list(enumerate(plan.recommendations, start=1))
    own = {one.downspout: downspout_parts(plan, number, one, style)[1:] for number, one in numbered}
    reasons = _shared_reasons(plan)
    of_reasons = [each for one in plan.recommendations for each in why_not(plan.site, one).items()]
    told = {*told, *(_ways_and_why(why, names) for why, names in of_reasons if why in reasons)}
    untold = {name: without(parts, told)[0] for name, parts in own.items()}
    at_several, common = shared(untold, _WITH_ITS_TABLE)
    common += section(CANNOT, list(reasons.values()))
    blocks: list[Block] = [Heading("What holds at several downspouts"), *common] if common else []
    for number, one in numbered:
        kept, lost = without(own[one.downspout], {*told, *at_several})
        blocks.append(_chapter(number, one))
        if lost:
            titles = "; ".join(dict.fromkeys(f"{each[:1].lower()}{each[1:]}" for each in lost))
            blocks.append(Paragraph(f"Told above of '{one.downspout}': {titles}."))
        blocks += kept
    return blocks


def _ways_and_why(reason: str, names: list[str]) -> str:
    return f"{', '.join(names)}: {reason}"


def _shared_reasons(plan: Plan) -> dict[str, str]:
    """Why ways cannot be built, where the same holds at several downspouts: a line a reason."""
    found: dict[str, list[str]] = {}
    for one in plan.recommendations:
        for reason, names in why_not(plan.site, one).items():
            found.setdefault(reason, []).append(f"{one.downspout} ({', '.join(names)})")
    return {why: f"{', '.join(at)}: {why}" for why, at in found.items() if len(at) > 1}


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
    return [*lines, weakest_words(drainage, each.chosen, shown), *remedies(plan.site, drainage)]


def weakest_words(drainage: RoofDrainage, chosen: Option, shown: Shown) -> str:
    """Which part limits the way from the gutter to the end of the line, and whether it carries."""
    if chosen.line is not None:
        drainage = with_line(drainage, chosen.line.flow.full_flow_m3_per_s)
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
    can = _can(each)
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
    cannot = [_ways_and_why(reason, names) for reason, names in why_not(plan.site, each).items()]
    return [*titled_table(CAN, columns, rows), *section(CANNOT, cannot)]


def _ways_in_brief(plan: Plan, each: Recommendation) -> list[Block]:
    """The ways that can be built, a line each; of the one taken it is said elsewhere what it is."""
    site, shown = plan.site, Shown.of(plan.site)
    lines, designs = [], []
    for option in _can(each):
        parts = [work_words(option.work, shown), price_words(option.work, site.prices)]
        if option.failures:
            parts.append(f"fails {safe_words(option)}")
        told = f"{'; '.join(part for part in parts if part not in ('', NO_WORK)) or 'no work'}."
        name = way_words(option)
        said = stop(way_reason(site, option))
        if option is each.chosen:
            name, said = f"{name} (taken, the simplest of them)", ""
        elif option.design is not None:
            design = design_sentence(site, option.design)
            said = "The same, with the soil at the wall put right." if design in designs else said
        lines.append(" ".join((f"{name}:", *filter(None, (said, stop(told))))))
        designs += [] if option.design is None else [design_sentence(site, option.design)]
    return section(CAN, lines)


def _can(each: Recommendation) -> list[Option]:
    return [option for option in each.options if option.feasible and option.kind != "refer"]


def why_not(site: Site, each: Recommendation) -> dict[str, list[str]]:
    """Why ways cannot be built, with the ways that a reason holds for."""
    # A way that is dug for says nothing new with corrected grade where it works without.
    works = {option.way for option in _can(each) if not option.graded} - {"as it is"}
    found: dict[str, list[str]] = {}
    for option in each.options:
        if not option.feasible and option.way not in works:
            found.setdefault(stop(way_reason(site, option)), []).append(way_words(option))
    return found


def _design(plan: Plan, each: Recommendation, style: Style | None) -> list[Block]:
    chosen, parts = each.chosen, []
    if chosen.correction is not None:
        parts += section("The soil at the wall", soil_lines(plan.site, chosen.correction.wedges))
    match chosen.design:
        case Extension() as extension:
            parts += extension_parts(extension, plan.site)
        case Swale() as swale:
            parts += swale_parts(swale, Shown.of(plan.site))
        case BuriedLine() as line:
            parts += line_parts(line, plan.site, style)
        case SeepagePit() as pit:
            parts += pit_parts(plan.site, each.water, pit, style)
        case AsItIs() | None:
            pass
        case unknown:
            assert_never(unknown)
    return parts


def _to_buy(title: str, items: Sequence[Item]) -> list[Block]:
    """How much of what, and what it is for."""
    return paired(title, [(quantity_words(item), f"{item.name}: {item.use}") for item in items])


_TEXT_WIDTH = 110


def plan_summary(plan: Plan, style: Style | None = None) -> list[Block]:
    """Everything of a plan that a person should read.

    Parameters
    ----------
    plan : Plan
    style : {"tape", "tenths", "mm", "cm"}, optional
        How the dig tables are written, as `runoff.words.dig_sheet.dig_sheet` takes it.

    Returns
    -------
    list of Block
    """
    walls = at_the_walls(plan)
    told = {line for block in walls if isinstance(block, Bullets) for line in block.lines}
    for each in plan.recommendations:
        told |= {sentence(plan.site, each), *_unsafe(plan.site, each)}
    return [
        *_heading(plan),
        *recommendations(plan),
        *section("Needs attention too", list(beyond_the_ways(plan))),
        *section(WITHOUT_HEIGHTS, without_heights(plan.findings)),
        *walls,
        *proof(plan),
        *_each_downspout(plan, style, told),
        *_gutters(plan),
        *shopping(plan),
        *section("Taken for granted", _granted(plan)),
        *section("Rules that the site file overrides", _overridden(plan)),
        *section("Mind, always", list(plan.cautions)),
    ]


def plan_text(plan: Plan, style: Style | None = None, width: int = _TEXT_WIDTH) -> str:
    """The same as plain text, without colors, lines no longer than `width`."""
    return as_text(plan_summary(plan, style), width)


def _heading(plan: Plan) -> list[Block]:
    storm = Shown.of(plan.site).rain(plan.site.storm.depth)
    method = plan.findings.terrain.accuracy.method
    return [
        Heading(f"{plan.site.name}: what to build", 1),
        Paragraph(f"storm of {storm}; heights by {method}"),
    ]


def _gutters(plan: Plan) -> list[Block]:
    """The take-off of each gutter, and what was assumed for it."""
    shown = Shown.of(plan.site)
    lines = []
    for one in plan.take_offs:
        lines += [_gutter(one, shown), *end_words(one)]
        if note := fall_note(plan.site, one):
            lines.append(f"{one.run.name}: {note}")
    lines += dict.fromkeys(stop(laps_words(shown, one.take_off)) for one in plan.take_offs)
    return section("Gutters to hang", lines)


def _gutter(one: RunTakeOff, shown: Shown) -> str:
    taken = one.take_off
    pieces = [
        f"one of {shown.far(stock)} cut to {shown.height(cut)}"
        if cut < stock
        else f"one of {shown.far(stock)}"
        for stock, cut in zip(taken.stock_m, taken.cut_m, strict=True)
    ]
    high = "its high end" if taken.outlets == 1 else "its middle"
    outlets = "1 outlet" if taken.outlets == 1 else f"{taken.outlets} outlets"
    return (
        f"{one.run.name} ({one.name}): {shown.height(taken.length_m)} long, from the outlet up "
        f"{', '.join(pieces)}; falling {shown.fine(taken.fall_m)}, {high} hung "
        f"{shown.fine(taken.high_end_m)} higher; {taken.hangers} hangers, {outlets}, end caps "
        f"{taken.end_caps_left} left and {taken.end_caps_right} right, {taken.sealant_seams} seams "
        "to seal."
    )


def _granted(plan: Plan) -> list[str]:
    """What the plan and the inspection took for want of better, each once."""
    return list(
        dict.fromkeys([*plan.assumptions, *notices_in_words(plan.site, plan.findings.notices)])
    )


def _overridden(plan: Plan) -> list[str]:
    """Each rule that the site file overrides: its value here and the table's own."""
    site, rules = plan.site, plan.site.rules
    told = []
    for name in rules.overridden:
        rule = rules.rule(name)
        here, default = (rule_value(site, rule, value) for value in (rules[name], rule.value))
        told.append(f"{name}: {here} here; the default is {default} ({rule.source}).")
    return told
