"""The plan in words, for the terminal and for a text file.

In: a plan. Out: blocks, or plain text. What to do comes first; then downspout by
downspout the numbers to dig and buy by; the cautions stand at the end of every plan. Figures come
from the plan alone and are written in the site's own units.
"""

from __future__ import annotations

from runoff.planning import Plan
from runoff.quantities import Shown
from runoff.report.blocks import Block, Heading, Paragraph, section
from runoff.report.plan_attention import beyond_the_ways
from runoff.report.plan_downspout import downspout_parts
from runoff.report.plan_first import at_the_walls, proof, recommendations
from runoff.report.plan_shopping import shopping
from runoff.report.plan_words import rule_value, stop
from runoff.report.summary import WITHOUT_HEIGHTS, without_heights
from runoff.report.terminal import as_text
from runoff.roof.run_takeoffs import RunTakeOff
from runoff.words.dig_sheet import Style

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
    parts: list[Block] = [
        *_heading(plan),
        *recommendations(plan),
        *section("Needs attention too", list(beyond_the_ways(plan))),
        *section(WITHOUT_HEIGHTS, without_heights(plan.findings)),
        *at_the_walls(plan),
        *proof(plan),
    ]
    for number, each in enumerate(plan.recommendations, start=1):
        parts += downspout_parts(plan, number, each, style)
    return [
        *parts,
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
        lines += [_gutter(one, shown), *one.assumptions]
        if one.fall_note:
            lines.append(f"{one.run.name}: {one.fall_note}")
    lines += dict.fromkeys(stop(one.take_off.laps) for one in plan.take_offs)
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
    return list(dict.fromkeys([*plan.assumptions, *plan.findings.notices]))


def _overridden(plan: Plan) -> list[str]:
    """Each rule that the site file overrides: its value here and the table's own."""
    site, rules = plan.site, plan.site.rules
    told = []
    for name in rules.overridden:
        rule = rules.rule(name)
        here, default = (rule_value(site, rule, value) for value in (rules[name], rule.value))
        told.append(f"{name}: {here} here; the default is {default} ({rule.source}).")
    return told
