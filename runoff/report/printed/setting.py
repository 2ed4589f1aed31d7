"""Blocks as the template of the printed report takes them: plain data, every word fit for print.

In: blocks. Out: dictionaries that the template knows by their kind.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from runoff.report.blocks import (
    Block,
    Bullets,
    Figure,
    Heading,
    NewPage,
    Notice,
    Pairs,
    Paragraph,
    Photographs,
    Steps,
    Strong,
    Table,
)
from runoff.report.names import printable
from runoff.report.printed.letters import settable

Set = dict[str, Any]

# What stands in one line of a table set at its own widths; of columns in a wider one those up to
# the second number keep theirs, the others share the rest as they ask, up to the third.
_LINE_CHARACTERS, _SHORT_COLUMN, _WIDEST_COLUMN = 92, 15, 60
_TABLE_POINTS, _WIDE_TABLE_POINTS = 8.0, 7.0
# A word longer than this may be broken: after a mark, or anywhere in what is longer still.
_LONG_WORD = re.compile(r"\S{25,}")
_MARKS = re.compile(r"(?<=[_/\\.,:;-])(?=\w)")
# Words of scripts that run from right to left are set apart from the figures that follow them.
_RIGHT_TO_LEFT = re.compile(
    "[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc]+(?: +[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc]+)*"
)
_MAY_BREAK, _NO_BREAK = "\u200b", "\u00a0"


def words(text: str) -> str:
    r"""Text as it is printed: controls written out, and places to break in words without any.

    Examples
    --------
    >>> words("front\tleft")
    'front\\x09left'
    >>> words("a" * 30).count("\u200b")
    29
    """
    return _RIGHT_TO_LEFT.sub(_apart, _LONG_WORD.sub(_breakable, settable(printable(text))))


def _apart(found: re.Match[str]) -> str:
    return f"\u2068{found[0]}\u2069"


def _breakable(found: re.Match[str]) -> str:
    parts = _MARKS.sub(_MAY_BREAK, found[0]).split(_MAY_BREAK)
    return _MAY_BREAK.join(
        _LONG_WORD.sub(lambda rest: _MAY_BREAK.join(rest[0]), part) for part in parts
    )


def set_for_print(blocks: Iterable[Block]) -> list[Set]:
    """Every block as the template takes it.

    Examples
    --------
    >>> falls = Table(["wall", "fall"], [["front", "1 in"]], frozenset(["fall"]))
    >>> set_for_print([falls])[0]["right"]
    [False, True]
    """
    return [_set(block) for block in blocks]


def _set(block: Block) -> Set:
    match block:
        case Heading(text, level):
            return {"kind": "heading", "level": level, "text": words(text)}
        case Paragraph(text):
            return {"kind": "paragraph", "text": words(text)}
        case Strong(text):
            return {"kind": "strong", "text": words(text)}
        case Notice(text):
            return {"kind": "notice", "text": words(text)}
        case NewPage():
            return {"kind": "new page"}
        case Bullets(lines):
            return {"kind": "bullets", "items": [words(line) for line in lines]}
        case Steps(steps):
            items = [
                {"name": words(step.name), "lines": [words(line) for line in step.lines]}
                for step in steps
            ]
            return {"kind": "steps", "items": items}
        case Pairs(rows):
            return {"kind": "pairs", "rows": [[words(a), words(b)] for a, b in rows if b]}
        case Table():
            return _table(block)
        case Figure():
            return _figure(block)
        case Photographs(figures):
            return {"kind": "photographs", "items": [_figure(each) for each in figures]}


def _table(block: Table) -> Set:
    """Set small where it is wide; its header repeats on every page that it runs over."""
    asked = [
        max(len(row[k]) for row in (block.columns, *block.rows)) for k in range(len(block.columns))
    ]
    wide = sum(asked) + 2 * len(asked) > _LINE_CHARACTERS
    flush_right = [name in block.numbers for name in block.columns]
    return {
        "kind": "table",
        "columns": [words(name) for name in block.columns],
        "rows": [
            [
                _number(cell) if right else words(cell)
                for cell, right in zip(row, flush_right, strict=True)
            ]
            for row in block.rows
        ],
        "widths": [
            min(_WIDEST_COLUMN, width) if wide and width > _SHORT_COLUMN and not right else 0
            for width, right in zip(asked, flush_right, strict=True)
        ],
        "right": flush_right,
        "size": _WIDE_TABLE_POINTS if wide else _TABLE_POINTS,
    }


def _number(cell: str) -> str:
    """A number with its unit on one line."""
    return words(cell).replace(" ", _NO_BREAK)


def _figure(block: Figure) -> Set:
    return {
        "kind": "figure",
        "file": block.file,
        "width": block.size_mm[0],
        "height": block.size_mm[1],
        "caption": words(block.caption),
        "alternative": printable(block.alternative),
    }


def leveled(blocks: Iterable[Block]) -> list[Block]:
    """The same with no heading more than one level under the one before it, as PDF/UA asks.

    Examples
    --------
    >>> [block.level for block in leveled([Heading("a", 1), Heading("b", 3), Heading("c", 3)])]
    [1, 2, 2]
    """
    found: list[Block] = []
    given, above = 0, 0
    for block in blocks:
        if isinstance(block, Heading):
            level = block.level
            if level != given:
                above = level if level < given and level <= above else min(level, above + 1)
            given = level
            block = Heading(block.text, above)
        found.append(block)
    return found
