"""The parts of the terminal's texts as blocks for print, so that the two cannot disagree.

In: renderables of rich as `summary_parts` makes them. Out: blocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from runoff.report.printed.blocks import Block, bullets, heading, paragraph, table


def blocks_of(parts: Iterable[RenderableType], numbers: Sequence[str] = ()) -> list[Block]:
    """Titles to headings, lists to lists, tables to tables.

    Parameters
    ----------
    parts : iterable of renderables
    numbers : sequence of str
        Columns of tables that are set flush right.

    Examples
    --------
    >>> from runoff.report.summary_parts import section
    >>> [block["kind"] for block in blocks_of(section("Water", ["It stands."]))]
    ['heading', 'bullets']
    """
    found: list[Block] = []
    for part in parts:
        inner = part.renderable if isinstance(part, Padding) else part
        if isinstance(inner, Table):
            found += _table(inner, numbers)
        elif isinstance(inner, Text):
            title = inner.plain.strip()
            found.append(heading(title, 3) if not title.endswith(".") else paragraph(title))
    return found


def _table(rich_table: Table, numbers: Sequence[str]) -> list[Block]:
    """A table with a header, or the grid of a list, whose last column holds the lines."""
    columns = [_plain(column.header) for column in rich_table.columns]
    cells = [[_plain(cell) for cell in column.cells] for column in rich_table.columns]
    rows = list(zip(*cells, strict=True))
    if any(columns):
        return table(columns, rows, numbers)
    return [bullets(row[-1] for row in rows)]


def _plain(cell: RenderableType) -> str:
    return cell.plain if isinstance(cell, Text) else str(cell)
