"""One downspout's chapter: its water, the ways side by side, the chosen one to dig and to buy by.

In: the plan and its recommendations. Out: blocks.
"""

from __future__ import annotations

from typing import assert_never

from runoff.discharge.as_it_is import AsItIs
from runoff.discharge.extension.way import Extension
from runoff.discharge.line.record import BuriedLine
from runoff.discharge.pit.size import SeepagePit
from runoff.discharge.swale.section import Swale
from runoff.discharge.ways import Recommendation
from runoff.planning import Plan
from runoff.quantities import Shown
from runoff.report.blocks import Block, Bullets, Heading, Notice, section, titled_table
from runoff.report.names import stop, way_words
from runoff.report.plan_attention import ROUGH
from runoff.report.plan_designs import (
    crossing_rows,
    extension_parts,
    fitting_rows,
    line_words,
    pit_body_parts,
    swale_parts,
)
from runoff.report.plan_full import quantity_words, water_lines, ways
from runoff.report.printed.drawn import Drawn
from runoff.site.model import Site
from runoff.words.designs import failure_words, line_cautions
from runoff.words.dig_sheet import DIG_COLUMNS, Style, dig_cells, dig_notes
from runoff.words.walls import soil_lines
from runoff.words.water import downspout_sentence

_RODS = ("rod at invert", "rod at bottom")
SHOPPING = ("what", "how much", "for")


def downspout_blocks(
    plan: Plan, number: int, each: Recommendation, drawn: Drawn, style: Style | None
) -> list[Block]:
    """Everything about one downspout, under its name."""
    chosen = each.chosen
    answer = next(one for one in plan.findings.downspouts if one.name == each.downspout)
    its_water = downspout_sentence(plan.site, answer)
    return [
        Heading(f"{number}  {each.downspout}: {way_words(chosen)}"),
        *section("Its water", [stop(its_water), *water_lines(plan, each)]),
        *ways(plan, each),
        *section("Why this one", [stop(each.why)]),
        *section("Ask first", [stop(who) for who in chosen.asks]),
        *section("When it fails", [failure_words(plan.site, one) for one in chosen.failures]),
        *_design(plan, each, style),
        *titled_table(
            "To buy for this downspout",
            SHOPPING,
            [(item.name, quantity_words(item), item.use) for item in chosen.shopping],
        ),
        *drawn.of_downspout(each.downspout),
    ]


def _design(plan: Plan, each: Recommendation, style: Style | None) -> list[Block]:
    chosen, site, blocks = each.chosen, plan.site, []
    if chosen.correction is not None:
        blocks += section("The soil at the wall", soil_lines(site, chosen.correction.wedges))
    match chosen.design:
        case Extension() as extension:
            blocks += extension_parts(extension, site)
        case Swale() as swale:
            blocks += swale_parts(swale, Shown.of(site))
        case BuriedLine() as line:
            blocks += line_blocks(line, site, style, "The buried line")
        case SeepagePit() as pit:
            blocks += pit_body_parts(site, each.water, pit)
            blocks += line_blocks(pit.line, site, style, "The line to the pit")
        case AsItIs() | None:
            pass
        case unknown:
            assert_never(unknown)
    return blocks


def line_blocks(line: BuriedLine, site: Site, style: Style | None, title: str) -> list[Block]:
    """Pipe, trench, end; the dig table in one piece; fittings, crossings and what to mind."""
    shown = Shown.of(site)
    return [
        *section(title, line_words(line, site)),
        *_dig_table(line, site, style),
        *titled_table("Fittings", ("at", "fitting", "why"), fitting_rows(line, shown)),
        *titled_table("On the way", ("from", "to", "what", "do this"), crossing_rows(line, shown)),
        *section("Mind on this line", [stop(caution) for caution in line_cautions(shown, line)]),
    ]


def _dig_table(line: BuriedLine, site: Site, style: Style | None) -> list[Block]:
    """The rows to dig by; without a level there are no rod readings."""
    left_out = _RODS if line.instrument_m is None else ()
    kept = [k for k, name in enumerate(DIG_COLUMNS) if name not in left_out]
    columns = [DIG_COLUMNS[k] for k in kept]
    rows = [[cells[k] for k in kept] for cells in dig_cells(line, site.units, style)]
    blocks = titled_table("Dig table", columns, rows, columns[:-1])
    rough = [Notice(ROUGH)] if site.height_accuracy.indication_only else []
    return [blocks[0], *rough, Bullets(dig_notes(line, site.units, style)), *blocks[1:]]
