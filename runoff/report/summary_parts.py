"""The parts that the summary is made of: lists of lines and tables, each under its title.

In: words. Out: renderables of rich, none where there is nothing to tell.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text


def section(title: str, lines: Sequence[str]) -> list[RenderableType]:
    """Lines under a title, each behind a dash."""
    if not lines:
        return []
    table = Table.grid(padding=(0, 1))
    for line in lines:
        table.add_row("-", Text(line))
    return [Text(f"\n{title}", style="bold"), Padding(table, (0, 0, 0, 1))]


def table_of(
    title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]
) -> list[RenderableType]:
    """A table under a title; what its first column names is kept on one line."""
    if not rows:
        return []
    table = Table(box=None, padding=(0, 1, 0, 0), header_style="bold", pad_edge=False)
    table.add_column(columns[0], no_wrap=True)
    for column in columns[1:]:
        table.add_column(column)
    for row in rows:
        table.add_row(*map(Text, row))
    return [Text(f"\n{title}", style="bold"), Padding(table, (0, 0, 0, 1))]
