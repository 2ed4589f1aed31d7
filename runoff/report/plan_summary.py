"""The plan in words, for the terminal and for a text file.

In: a plan. Out: renderables of rich, or plain text. What to do comes first; then downspout by
downspout the numbers to dig and buy by; the cautions stand at the end of every plan. Figures come
from the plan alone and are written in the site's own units.
"""

from __future__ import annotations

import io

from rich.console import Console, Group, RenderableType
from rich.text import Text

from runoff import quantities
from runoff.discharge.dig_sheet import Style
from runoff.planning import Plan
from runoff.report.plan_attention import plan_attention
from runoff.report.plan_downspout import downspout_parts
from runoff.report.plan_first import at_the_walls, proof, recommendations
from runoff.report.plan_shopping import shopping
from runoff.report.plan_words import Shown
from runoff.report.summary_parts import section, table_of
from runoff.roof.run_takeoffs import RunTakeOff

_TEXT_WIDTH = 110


def plan_summary(plan: Plan, style: Style | None = None) -> Group:
    """Everything of a plan that a person should read, as renderables of rich.

    Parameters
    ----------
    plan : Plan
    style : {"tape", "tenths", "mm", "cm"}, optional
        How the dig tables are written, as `runoff.discharge.dig_sheet.dig_sheet` takes it.

    Returns
    -------
    rich.console.Group
    """
    parts: list[RenderableType] = [
        _heading(plan),
        *recommendations(plan),
        *section("Needs attention", list(plan_attention(plan))),
        *at_the_walls(plan),
        *proof(plan),
    ]
    for number, each in enumerate(plan.recommendations, start=1):
        parts += downspout_parts(plan, number, each, style)
    return Group(
        *parts,
        *_gutters(plan),
        *shopping(plan),
        *section("Taken for granted", list(plan.assumptions)),
        *section("Rules that the site file overrides", _overridden(plan)),
        *section("Mind, always", list(plan.cautions)),
    )


def plan_text(plan: Plan, style: Style | None = None, width: int = _TEXT_WIDTH) -> str:
    """The same as plain text, without colors, lines no longer than `width`."""
    page = io.StringIO()
    console = Console(
        file=page, width=width, color_system=None, force_terminal=False, legacy_windows=False
    )
    console.print(plan_summary(plan, style))
    return "\n".join(line.rstrip() for line in page.getvalue().splitlines()) + "\n"


def _heading(plan: Plan) -> Text:
    site, shown = plan.site, Shown.of(plan.site)
    heading = Text(f"{site.name}: what to build", style="bold")
    heading.append(
        f"\nstorm of {shown.height(site.storm.depth)} in "
        f"{quantities.format_duration(site.storm.duration)}; heights by "
        f"{plan.findings.terrain.accuracy.method}",
        style="not bold",
    )
    return heading


def _gutters(plan: Plan) -> list[RenderableType]:
    """The take-off of each gutter, and what was assumed for it."""
    shown = Shown.of(plan.site)
    rows = [_gutter_row(one, shown) for one in plan.take_offs]
    columns = ("gutter", "length", "pieces, cut to", "fall", "hangers", "caps", "outlets", "seams")
    notes = [f"{one.run.name}: {one.take_off.laps}" for one in plan.take_offs]
    for one in plan.take_offs:
        notes += [
            *one.assumptions,
            *([f"{one.run.name}: {one.fall_note}"] if one.fall_note else []),
        ]
    return [
        *table_of("Gutters", columns, rows),
        *section("On the gutters", list(dict.fromkeys(notes))),
    ]


def _gutter_row(one: RunTakeOff, shown: Shown) -> tuple[str, ...]:
    taken = one.take_off
    pieces = (
        f"{shown.far(stock)} to {shown.height(cut)}" if cut < stock else shown.far(stock)
        for stock, cut in zip(taken.stock_m, taken.cut_m, strict=True)
    )
    return (
        f"{one.run.name} ({one.name})",
        shown.height(taken.length_m),
        ", ".join(pieces),
        f"{shown.height(taken.fall_m)}, high end up {shown.height(taken.high_end_m)}",
        str(taken.hangers),
        f"{taken.end_caps_left} left, {taken.end_caps_right} right",
        str(taken.outlets),
        str(taken.sealant_seams),
    )


def _overridden(plan: Plan) -> list[str]:
    rules = plan.site.rules
    return [
        f"{name} = {rules[name]:g} (SI); the default is {rules.rule(name).written}"
        for name in rules.overridden
    ]
