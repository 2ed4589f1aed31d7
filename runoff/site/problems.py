"""The one exception for bad input: it carries every problem found, each mendable from its line.

In: what was wrong, where it stands, what is expected. Out: one readable line a problem.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

_LONGEST_PART = 800
_MOST_ALIKE = 20
_NAME_OR_FIGURE = re.compile(r"""'[^']*'|"[^"]*"|[\d.,]+""")


@dataclass(frozen=True)
class Problem:
    """One mistake in what the user wrote.

    Parameters
    ----------
    file : str
        The file as the user named it.
    line : int or None
        Line in that file, counted from 1; None where the file as a whole is meant.
    entry : str
        The entry concerned, in the file's own words, such as ``downspout 'NE' . at``.
    written : str
        What was written, shortened; empty where something is missing.
    expected : str
        What is expected instead, with an example where that helps.
    column : int or None
        Column counted from 1, for a file that cannot be read at all.
    reason : str
        What is wrong with what is written, where that is not plain from what is expected.

    Examples
    --------
    >>> print(Problem("site.toml", 12, "[rain] storm_depth", "4 lb", 'a length, such as "4 in"'))
    site.toml, line 12: [rain] storm_depth: "4 lb" is written; expected a length, such as "4 in"
    """

    file: str
    line: int | None
    entry: str
    written: str
    expected: str
    column: int | None = None
    reason: str = ""

    def __str__(self) -> str:
        place = self.file
        if self.line is not None:
            place += f", line {self.line}"
        if self.column is not None:
            place += f", column {self.column}"
        said = f'"{self.written}" is written; ' if self.written else ""
        said += f"{self.reason}; " if self.reason else ""
        entry = f"{self.entry}: " if self.entry else ""
        return f"{place}: {entry}{said}expected {self.expected}"


class InputError(Exception):
    """What the user wrote cannot be used; `problems` says all of what is wrong with it.

    Examples
    --------
    >>> error = InputError([Problem("spots.csv", 3, "z", "", "a height, such as 101.25")])
    >>> str(error)
    'spots.csv, line 3: z: expected a height, such as 101.25'
    """

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def printable(text: str) -> str:
    r"""A text with what a terminal would obey, rather than show, written out by its number.

    Escapes, line ends, marks that turn the direction of writing, and half characters.

    Examples
    --------
    >>> printable("P1\x1b[2J"), printable("a\u202eb")
    ('P1\\x1b[2J', 'a\\u202eb')
    """
    return "".join(c if c.isprintable() else escaped(c) for c in text)


def escaped(character: str) -> str:
    r"""A character by its number.

    Examples
    --------
    >>> escaped("\t"), escaped("\u202e")
    ('\\x09', '\\u202e')
    """
    code = ord(character)
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def readable(problem: Problem) -> Problem:
    """A problem on one printable line that can be read, whatever the user's files hold."""
    return Problem(
        short_enough(problem.file),
        problem.line,
        short_enough(problem.entry),
        short_enough(problem.written),
        short_enough(problem.expected),
        problem.column,
        short_enough(problem.reason),
    )


def lines_told(problems: Iterable[Problem]) -> list[str]:
    """A line for each problem; of many alike the first twenty, and how many more there are.

    Alike are those in one file that differ in no more than the names and figures in them, as where
    every row of a sheet has its columns swapped.

    Examples
    --------
    >>> rows = [Problem("spots.csv", row, f"'P{row}' . z", "?", "a height") for row in range(2, 90)]
    >>> told = lines_told(rows)
    >>> len(told), told[-1]
    (21, 'spots.csv: and 68 more like it on lines 22 to 89')
    """
    told: list[str] = []
    alike: defaultdict[tuple[str, ...], list[Problem]] = defaultdict(list)
    for problem in map(readable, problems):
        parts = (problem.entry, problem.expected, problem.reason)
        same = alike[(problem.file, *(_NAME_OR_FIGURE.sub("", part) for part in parts))]
        same.append(problem)
        if len(same) <= _MOST_ALIKE:
            told.append(str(problem))
    several = sum(len(same) > _MOST_ALIKE for same in alike.values()) > 1
    for same in alike.values():
        more = same[_MOST_ALIKE:]
        if more:
            like = f"like that of {more[0].entry}" if several else "like it"
            lines = sorted(problem.line for problem in more if problem.line is not None)
            where = f" on lines {lines[0]} to {lines[-1]}" if lines else ""
            told.append(f"{more[0].file}: and {len(more):,} more {like}{where}")
    return told


def short_enough(text: str) -> str:
    """A printable part of a message, its middle left out where it is longer than anybody reads."""
    half = _LONGEST_PART // 2
    if len(text) > _LONGEST_PART:
        text = f"{text[:half]} ... {text[-half:]}"
    return printable(text)
