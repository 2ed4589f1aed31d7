"""The shopping list: what each downspout takes, and all of it together.

In: a plan. Out: `Item`s with quantities as sold, rows of a table, the text of a CSV file.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace

from runoff.discharge.ways import Item, Option
from runoff.discharge.work import shopping_of
from runoff.planning import Plan
from runoff.report.blocks import Block, section, titled_table
from runoff.report.files import TEXT_MARK
from runoff.report.printable import csv_note, csv_text
from runoff.site.model import Site

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
    """All of it, as a table; a downspout's own list stands with the downspout."""
    items = everything(plan)
    rows = [(item.name, quantity_words(item), item.use) for item in items]
    if not rows:
        return section("Shopping list", ["Nothing is to be bought."])
    notes = [_ONCE] if for_walls(plan) else []
    columns = ("what", "how much", "for")
    return [*titled_table("Shopping list, all of it", columns, rows), *section("Note", notes)]


def for_walls(plan: Plan) -> tuple[Item, ...]:
    """The soil that the walls need whatever is built."""
    if plan.grade is None or plan.grade.loose_m3 <= 0:
        return ()
    return shopping_of(plan.site, [Option("refer", False, "", correction=plan.grade)])


def everything(plan: Plan) -> tuple[Item, ...]:
    """What the walls and all recommendations take together, soil along walls once."""
    chosen = [each.chosen for each in plan.recommendations]
    if not for_walls(plan):
        return shopping_of(plan.site, chosen)
    built = [replace(option, correction=None) for option in chosen]
    return shopping_of(plan.site, [*built, Option("refer", False, "", correction=plan.grade)])


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
