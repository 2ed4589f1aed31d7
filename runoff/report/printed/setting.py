"""From blocks to a PDF: characters that the fonts have, blocks as plain data, and typst.

In: blocks, and pictures by file. Out: dictionaries that the template ``report.typ`` knows by their
kind; the bytes of a PDF, tagged for screen readers. Nothing is read from the network and no font of
the system's: text and drawings have the fonts that matplotlib brings.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import matplotlib
from matplotlib.ft2font import FT2Font

from runoff.report.blocks import (
    Beside,
    Block,
    Bullets,
    Figure,
    Heading,
    LeftOver,
    NewPage,
    Notice,
    OnePage,
    Pairs,
    Paragraph,
    Photographs,
    Steps,
    Strong,
    Table,
)
from runoff.report.names import printable

if TYPE_CHECKING:
    import typst

_FILES = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")


def font_folder() -> Path:
    """Where matplotlib keeps the fonts that it brings."""
    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


@cache
def known() -> frozenset[int]:
    """The characters that the report's fonts have, upright and bold."""
    charmaps = [set(FT2Font(str(font_folder() / name)).get_charmap()) for name in _FILES]
    return frozenset(set.intersection(*charmaps))


def settable(text: str) -> str:
    r"""Text with the names of signs, and the numbers of letters, that the fonts lack.

    Examples
    --------
    >>> settable("gutter \U0001f44d"), settable("caf\u00e9 \u4e2d")
    ('gutter [thumbs up sign]', 'café \\u4e2d')
    """
    here = known()
    return "".join(letter if ord(letter) in here else _told(letter) for letter in text)


def _told(letter: str) -> str:
    name = unicodedata.name(letter, "").lower()
    if name and unicodedata.category(letter).startswith("S"):
        return f"[{name}]"
    return letter.encode("unicode_escape").decode("ascii")


Set = dict[str, Any]

# What stands in one line of a table set at its own widths; of columns in a wider one those up to
# the second number keep theirs, the others share the rest as they ask, up to the third.
_LINE_CHARACTERS, _SHORT_COLUMN, _WIDEST_COLUMN = 92, 15, 60
# On part of the page's width a quantity keeps its line too, since what is beside it may wrap.
_SHORT_BESIDE = 18
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


def set_for_print(blocks: Iterable[Block], share: float = 1.0) -> list[Set]:
    """Every block as the template takes it, on a share of the page's width.

    Examples
    --------
    >>> falls = Table(["wall", "fall"], [["front", "1 in"]], frozenset(["fall"]))
    >>> set_for_print([falls])[0]["right"]
    [False, True]
    """
    return [_set(block, share) for block in blocks]


def _set(block: Block, share: float) -> Set:
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
            return _table(block, share)
        case Figure():
            return _figure(block)
        case Photographs(figures):
            return {"kind": "photographs", "items": [_figure(each) for each in figures]}
        case Beside(left, right, part):
            return {
                "kind": "beside",
                "left": set_for_print(left, share * part),
                "right": set_for_print(right, share * (1.0 - part)),
                "share": part,
            }
        case OnePage(versions, more, key):
            return {
                "kind": "one page",
                "versions": [set_for_print(each) for each in versions],
                "more": set_for_print(more),
                "key": key,
            }
        case LeftOver(blocks, key):
            return {"kind": "left over", "blocks": set_for_print(blocks), "key": key}


def _table(block: Table, share: float) -> Set:
    """Set small where it is wide; its header repeats on every page that it runs over."""
    asked = [
        max(len(row[k]) for row in (block.columns, *block.rows)) for k in range(len(block.columns))
    ]
    wide = sum(asked) + 2 * len(asked) > share * _LINE_CHARACTERS
    short = _SHORT_COLUMN if share == 1.0 else _SHORT_BESIDE
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
            min(_WIDEST_COLUMN, width) if wide and width > short and not right else 0
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
    return _Levels().leveled(blocks)


class _Levels:
    """The level that the last heading was given, and the one that it has."""

    given, above = 0, 0

    def leveled(self, blocks: Iterable[Block]) -> list[Block]:
        return [self._leveled(block) for block in blocks]

    def _leveled(self, block: Block) -> Block:
        match block:
            case Heading(text, level):
                if level != self.given:
                    lower = level < self.given and level <= self.above
                    self.above = level if lower else min(level, self.above + 1)
                self.given = level
                return Heading(text, self.above)
            case Beside(left, right, share):
                return Beside(self.leveled(left), self.leveled(right), share)
            case OnePage(versions, more, key):
                before, told = (self.given, self.above), []
                for each in versions:
                    self.given, self.above = before
                    told.append(self.leveled(each))
                return OnePage(told, self.leveled(more), key)
            case LeftOver(blocks, key):
                return LeftOver(self.leveled(blocks), key)
        return block


TEMPLATE = "report.typ"
# The last one has a sign for every character that the first lacks; not every matplotlib brings it.
_FAMILIES = ("DejaVu Sans", "Last Resort High-Efficiency")
_ACCESSIBLE: Literal["ua-1"] = "ua-1"


def typeset(data: Mapping[str, Any], pictures: Mapping[str, bytes]) -> bytes:
    """Set a report.

    Parameters
    ----------
    data : mapping
        What the template prints; plain data.
    pictures : mapping of file name to bytes

    Returns
    -------
    bytes
        A PDF after PDF/UA-1. Where a name holds a character that no font here knows, a PDF that is
        tagged all the same but does not claim the standard.
    """
    import typst

    told = {**data, "fonts": [*_FAMILIES]}
    files_of_it = {
        "main": (files("runoff.report.printed") / TEMPLATE).read_bytes(),
        "data.json": json.dumps(told).encode(),
        **pictures,
    }
    fonts = typst.Fonts(
        include_system_fonts=False,
        include_embedded_fonts=False,
        font_paths=[str(font_folder())],
    )
    return _tagged(typst.Compiler(files_of_it, font_paths=fonts))  # type: ignore[type-var]


def _tagged(compiler: typst.Compiler) -> bytes:
    """After the standard where every character has a sign in some font here, else tagged alone."""
    import typst

    try:
        made = compiler.compile(format="pdf", pdf_standards=_ACCESSIBLE)
    except typst.TypstError as error:
        if "glyph" not in str(error) and "font" not in str(error):
            raise
        made = compiler.compile(format="pdf")
    assert isinstance(made, bytes)
    return made
