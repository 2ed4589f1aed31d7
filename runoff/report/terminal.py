"""Blocks on a terminal, or as plain text.

In: blocks. Out: renderables of rich, or text without colors.
"""

from __future__ import annotations

import io
import textwrap
from collections.abc import Iterable, Iterator

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table as Grid
from rich.text import Text

from runoff.report.blocks import (
    Block,
    Bullets,
    Heading,
    Notice,
    Pairs,
    Paragraph,
    Steps,
    Strong,
    Table,
)

_STYLES = {1: "bold", 2: "bold underline", 3: "bold"}
_CHAPTER = 1
_SCREEN = 80


def on_terminal(blocks: Iterable[Block]) -> Group:
    """Blocks as rich sets them.

    Raises
    ------
    TypeError
        For a block that only paper shows, such as a picture.
    """
    return Group(*(_set(block) for block in blocks))


def as_text(blocks: Iterable[Block], width: int) -> str:
    """Blocks as plain text, without colors, lines no longer than `width` and none that end blank.

    Examples
    --------
    >>> print(as_text([Heading("Lot", 1), Paragraph("Dry."), Heading("Mind", 3)], 20))
    Lot
    Dry.
    <BLANKLINE>
    Mind
    <BLANKLINE>
    """
    page = io.StringIO()
    console = Console(
        file=page, width=width, color_system=None, force_terminal=False, legacy_windows=False
    )
    console.print(on_terminal(blocks))
    return "\n".join(line.rstrip() for line in page.getvalue().splitlines()) + "\n"


def on_screen(blocks: Iterable[Block]) -> list[Text]:
    """Blocks as lines of one screen: no blank ones, names in a column of their own.

    Raises
    ------
    TypeError
        For a block that does not stand on a screen, such as a table.

    Examples
    --------
    >>> for line in on_screen([Heading("Lot", 1), Bullets(["Dry."]), Pairs([("rear", "flat")])]):
    ...     print(line)
    Lot
     - Dry.
     rear flat
    """
    return [line for block in blocks for line in _lines(block)]


def _lines(block: Block) -> Iterator[Text]:
    match block:
        case Heading(text) | Paragraph(text, False):
            yield from (Text(line, style="bold") for line in textwrap.wrap(text, _SCREEN))
        case Paragraph(text):
            yield from _hanging(" ", text, 1)
        case Bullets(lines):
            for text in lines:
                yield from _hanging(" - ", text, 3)
        case Pairs(rows):
            wide = min(max(len(name) for name, _ in rows), _SCREEN // 3)
            for name, text in rows:
                yield from _hanging(f" {name:{wide}} ", text, wide + 2)
        case _:
            raise TypeError(f"{type(block).__name__} is not for one screen")


def _hanging(first: str, text: str, indent: int) -> Iterator[Text]:
    wrapped = textwrap.wrap(text, _SCREEN, initial_indent=first, subsequent_indent=" " * indent)
    return map(Text, wrapped)


def _set(block: Block) -> RenderableType:
    match block:
        case Heading(text, level):
            before = "" if level == _CHAPTER else "\n"
            return Text(f"{before}{text}", style=_STYLES[level])
        case Paragraph(text, alone):
            return Text(f"\n{text}", style="bold") if alone else Text(text)
        case Strong(text) | Notice(text):
            return Text(text, style="bold")
        case Bullets(lines):
            return _grid(("-", line) for line in lines)
        case Pairs(rows):
            return _grid(rows)
        case Steps():
            return _steps(block)
        case Table():
            return _table(block)
    raise TypeError(f"{type(block).__name__} is not for a terminal")


def _grid(rows: Iterable[tuple[str | Text, str | Text]]) -> RenderableType:
    """Two columns, one row a pair; a text is taken as it is, and not for a markup."""
    grid = Grid.grid(padding=(0, 1))
    for row in rows:
        grid.add_row(*(Text(cell) if isinstance(cell, str) else cell for cell in row))
    return Padding(grid, (0, 0, 0, 1))


def _steps(block: Steps) -> RenderableType:
    rows: list[tuple[str | Text, str | Text]] = []
    for number, step in enumerate(block.steps, start=1):
        told: list[str | Text] = [Text(step.name, style="bold")] if step.name else []
        told += [*step.lines, *([Text(step.aside, style="dim")] if step.aside else [])]
        numbers = [Text(str(number), style="bold"), *[Text("")] * (len(told) - 1)]
        rows += zip(numbers, told, strict=True)
    return _grid(rows)


def _table(block: Table) -> RenderableType:
    """What the first column names stays on one line; numbers wrap where they must, uncut."""
    table = Grid(box=None, padding=(0, 1, 0, 0), header_style="bold", pad_edge=False)
    for number, name in enumerate(block.columns):
        if name in block.numbers:
            table.add_column(name, justify="right", overflow="fold")
        else:
            table.add_column(name, no_wrap=number == 0)
    for row in block.rows:
        table.add_row(*map(Text, row))
    return Padding(table, (0, 0, 0, 1))
