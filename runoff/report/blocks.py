"""The blocks that every text of the tool is made of, the same for a terminal and for paper.

In: words. Out: plain records. `runoff.report.terminal` and `runoff.report.printed.setting` set
them, and neither adds a word.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Heading:
    """A heading; 1 is the title of a text or begins a chapter."""

    text: str
    level: int = 2


@dataclass(frozen=True)
class Paragraph:
    """A paragraph; `alone` is one that stands where a section would, saying that there is none."""

    text: str
    alone: bool = False


@dataclass(frozen=True)
class Strong:
    """A paragraph in bold."""

    text: str


@dataclass(frozen=True)
class Notice:
    """A sentence for what must not be passed over."""

    text: str


@dataclass(frozen=True)
class NewPage:
    """What follows begins on a page of its own."""


@dataclass(frozen=True)
class Bullets:
    """Lines, each behind a dash."""

    lines: Sequence[str]


@dataclass(frozen=True)
class Step:
    """A numbered entry: a name in bold (none where the first line says it), lines, an aside."""

    name: str
    lines: Sequence[str]
    aside: str = ""


@dataclass(frozen=True)
class Steps:
    """Entries, numbered from 1."""

    steps: Sequence[Step]


@dataclass(frozen=True)
class Pairs:
    """What, and its words beside it."""

    rows: Sequence[tuple[str, str]]


@dataclass(frozen=True)
class Table:
    """Rows under a header; `numbers` are the columns that are set flush right."""

    columns: Sequence[str]
    rows: Sequence[Sequence[str]]
    numbers: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Figure:
    """A picture of a size (mm), with what stands under it and what it shows in words."""

    file: str
    size_mm: tuple[float, float]
    caption: str
    alternative: str


@dataclass(frozen=True)
class Photographs:
    """Pictures side by side."""

    figures: Sequence[Figure]


@dataclass(frozen=True)
class Beside:
    """Blocks to the left of others, on a share of the width."""

    left: Sequence[Block]
    right: Sequence[Block]
    share: float = 0.5


@dataclass(frozen=True)
class OnePage:
    """A page of its own: the first of its versions that fits, set as large as it fits.

    Where none fits, the last one goes on over the next page. What is `more` stands at the end of
    the first version where all of that fits; else in a `LeftOver` of the same key.
    """

    versions: Sequence[Sequence[Block]]
    more: Sequence[Block] = ()
    key: str = ""


@dataclass(frozen=True)
class LeftOver:
    """Blocks that a page of their key had no room for; nothing where it had."""

    blocks: Sequence[Block]
    key: str


Block = (
    Heading
    | Paragraph
    | Strong
    | Notice
    | NewPage
    | Bullets
    | Steps
    | Pairs
    | Table
    | Figure
    | Photographs
    | Beside
    | OnePage
    | LeftOver
)


def section(title: str, lines: Sequence[str], level: int = 3) -> list[Block]:
    """Lines under a heading, each behind a dash; nothing where there are none.

    Examples
    --------
    >>> section("Mind", ["Call first."])
    [Heading(text='Mind', level=3), Bullets(lines=['Call first.'])]
    >>> section("Mind", [])
    []
    """
    return [Heading(title, level), Bullets(lines)] if lines else []


def paired(title: str, rows: Sequence[tuple[str, str]]) -> list[Block]:
    """Names and what is told of each under a heading; nothing where there are none."""
    return [Heading(title, 3), Pairs(rows)] if rows else []


def table(
    columns: Sequence[str], rows: Sequence[Sequence[str]], numbers: Iterable[str] = ()
) -> list[Block]:
    """A table; nothing without rows."""
    return [Table(columns, rows, frozenset(numbers))] if rows else []


def titled_table(
    title: str, columns: Sequence[str], rows: Sequence[Sequence[str]], numbers: Iterable[str] = ()
) -> list[Block]:
    """A table under a heading; nothing without rows."""
    return [Heading(title, 3), *table(columns, rows, numbers)] if rows else []
