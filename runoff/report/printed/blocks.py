"""The blocks that a printed report is made of: plain data, every word fit for print.

In: words, numbers as words, drawings. Out: dictionaries that the template knows by their kind.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any

from runoff.report.printable import printable
from runoff.report.printed.letters import settable

Block = dict[str, Any]

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


def heading(text: str, level: int = 2) -> Block:
    """A heading; 1 begins a chapter."""
    return {"kind": "heading", "level": level, "text": words(text)}


def paragraph(text: str) -> Block:
    """A paragraph."""
    return {"kind": "paragraph", "text": words(text)}


def strong(text: str) -> Block:
    """A paragraph in bold."""
    return {"kind": "strong", "text": words(text)}


def notice(text: str) -> Block:
    """A sentence in a frame, for what must not be passed over."""
    return {"kind": "notice", "text": words(text)}


def new_page() -> Block:
    """What follows begins on a page of its own."""
    return {"kind": "new page"}


def titled(title: str, lines: Sequence[str], level: int = 3) -> list[Block]:
    """Lines under a heading, each behind a dash; nothing where there are none."""
    if not lines:
        return []
    return [heading(title, level), bullets(lines)]


def bullets(lines: Iterable[str]) -> Block:
    """Lines, each behind a dash."""
    return {"kind": "bullets", "items": [words(line) for line in lines]}


def steps(items: Iterable[tuple[str, Sequence[str]]]) -> Block:
    """Numbered entries: a name in bold, and lines under it."""
    return {
        "kind": "steps",
        "items": [
            {"name": words(name), "lines": [words(line) for line in lines]} for name, lines in items
        ],
    }


def pairs(rows: Iterable[tuple[str, str]]) -> Block:
    """What, and its words beside it; a row without words is left out."""
    return {"kind": "pairs", "rows": [[words(a), words(b)] for a, b in rows if b]}


def table(
    columns: Sequence[str], rows: Sequence[Sequence[str]], numbers: Iterable[str] = ()
) -> list[Block]:
    """A table whose header repeats on every page that it runs over; nothing without rows.

    Parameters
    ----------
    columns : sequence of str
    rows : sequence of sequence of str
    numbers : iterable of str
        The columns that are set flush right.

    Examples
    --------
    >>> table(["wall", "fall"], [["front", "1 in"]], ["fall"])[0]["right"]
    [False, True]
    >>> table(["wall"], [])
    []
    """
    if not rows:
        return []
    asked = [max(len(row[k]) for row in (columns, *rows)) for k in range(len(columns))]
    wide = sum(asked) + 2 * len(asked) > _LINE_CHARACTERS
    flush_right = [name in set(numbers) for name in columns]
    return [
        {
            "kind": "table",
            "columns": [words(name) for name in columns],
            "rows": [
                [
                    _number(cell) if right else words(cell)
                    for cell, right in zip(row, flush_right, strict=True)
                ]
                for row in rows
            ],
            "widths": [
                min(_WIDEST_COLUMN, width) if wide and width > _SHORT_COLUMN and not right else 0
                for width, right in zip(asked, flush_right, strict=True)
            ],
            "right": flush_right,
            "size": _WIDE_TABLE_POINTS if wide else _TABLE_POINTS,
        }
    ]


def _number(cell: str) -> str:
    """A number with its unit on one line."""
    return words(cell).replace(" ", _NO_BREAK)


def titled_table(
    title: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    numbers: Iterable[str] = (),
) -> list[Block]:
    """A table under a heading; nothing without rows."""
    return [heading(title, 3), *table(columns, rows, numbers)] if rows else []


def figure(file: str, size_mm: tuple[float, float], caption: str, alternative: str) -> Block:
    """A picture at a size (mm), with what stands under it and what it shows in words."""
    return {
        "kind": "figure",
        "file": file,
        "width": size_mm[0],
        "height": size_mm[1],
        "caption": words(caption),
        "alternative": printable(alternative),
    }


def verbatim(lines: Iterable[str]) -> Block:
    """Lines as they are written, in letters of one width."""
    return {"kind": "verbatim", "lines": [_spaced(words(line)) for line in lines]}


def _spaced(line: str) -> str:
    """Spaces at its beginning kept."""
    body = line.lstrip(" ")
    return _NO_BREAK * (len(line) - len(body)) + body


def leveled(blocks: Iterable[Block]) -> list[Block]:
    """The same with no heading more than one level under the one before it, as PDF/UA asks.

    Examples
    --------
    >>> [block["level"] for block in leveled([heading("a", 1), heading("b", 3), heading("c", 3)])]
    [1, 2, 2]
    """
    found, given, above = [], 0, 0
    for block in blocks:
        if block["kind"] == "heading":
            level = block["level"]
            if level != given:
                above = level if level < given and level <= above else min(level, above + 1)
            given = level
            block = {**block, "level": above}
        found.append(block)
    return found
