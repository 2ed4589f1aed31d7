"""The shopping list: what each downspout takes, and all of it together.

In: a plan. Out: `Item`s with quantities as sold, rows of a table, the text of a CSV file.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from rich.console import RenderableType

from runoff.discharge.ways import Item
from runoff.planning import Plan
from runoff.report.files import TEXT_MARK
from runoff.report.summary_parts import section, table_of

CSV_MARK = f"# {TEXT_MARK}"
ALL = "all"


def summed(items: Iterable[Item]) -> tuple[Item, ...]:
    """Items of one name and unit together, in the order in which they first come.

    Examples
    --------
    >>> pipe, stone = Item("pipe", 2, "pieces", "line"), Item("stone", 1.5, "cu yd", "pit")
    >>> [(item.name, item.quantity) for item in summed([pipe, stone, pipe])]
    [('pipe', 4), ('stone', 1.5)]
    """
    found: dict[tuple[str, str], Item] = {}
    for item in items:
        key = item.name, item.unit
        before = found.get(key)
        if before is None:
            found[key] = item
            continue
        uses = list(dict.fromkeys([*before.use.split("; "), *item.use.split("; ")]))
        found[key] = Item(item.name, before.quantity + item.quantity, item.unit, "; ".join(uses))
    return tuple(found.values())


def quantity_words(item: Item) -> str:
    """How much of it, with its unit.

    Examples
    --------
    >>> quantity_words(Item("stone", 1.5, "cu yd", "")), quantity_words(Item("elbow", 3.0, "", ""))
    ('1.5 cu yd', '3')
    """
    return f"{item.quantity:g} {item.unit}".strip()


def shopping(plan: Plan) -> list[RenderableType]:
    """All of it, as a table; a downspout's own list stands with the downspout."""
    items = everything(plan)
    rows = [(item.name, quantity_words(item), item.use) for item in items]
    if not rows:
        return section("Shopping list", ["Nothing is to be bought."])
    return table_of("Shopping list, all of it", ("what", "how much", "for"), rows)


def everything(plan: Plan) -> tuple[Item, ...]:
    """What all recommendations take together."""
    return summed(item for each in plan.recommendations for item in each.chosen.shopping)


def shopping_csv(plan: Plan) -> str:
    """The list as CSV: all of it first, then downspout by downspout.

    The first line is the tool's own mark, behind a ``#``.
    """
    page = io.StringIO()
    page.write(f"{CSV_MARK}\n")
    writer = csv.writer(page, lineterminator="\n")
    writer.writerow(("downspout", "item", "quantity", "unit", "use"))
    for item in everything(plan):
        writer.writerow((ALL, item.name, f"{item.quantity:g}", item.unit, item.use))
    for each in plan.recommendations:
        for item in each.chosen.shopping:
            writer.writerow((each.downspout, item.name, f"{item.quantity:g}", item.unit, item.use))
    return page.getvalue()
