"""The one exception for bad input: it carries every problem found, each mendable from its line.

In: what was wrong, where it stands, what is expected. Out: one readable line a problem.

In: pydantic's errors, the raw tables, and the positions of their entries. Out: one `Problem` for
each mistake, in the order of the lines.
"""

from __future__ import annotations

import difflib
import re
import typing
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from runoff.site.written.entry_lines import Path, Positions


class MapError(ValueError):
    """A map system or a position on it that cannot be used; its text says what is expected."""


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


LONGEST_WRITTEN = 60


@dataclass
class Complaints:
    """Collects the problems of one site file, each with its line and entry.

    Parameters
    ----------
    file : str
        The site file as the user named it.
    raw : dict
        What tomllib read.
    positions : Positions
        Lines of its entries.
    elsewhere : list of str
        Files named in it that lie outside its folder and may be read.
    """

    file: str
    raw: Mapping[str, Any]
    positions: Positions
    problems: list[Problem] = field(default_factory=list)
    elsewhere: list[str] = field(default_factory=list)

    def add(self, path: Sequence[str | int], expected: str, written: str | None = None) -> None:
        """Complain about the entry at `path`; `written` where it is not the entry as a whole."""
        path = tuple(path)
        shown = written if written is not None else shorten(_summary(self._value(path)))
        self.problems.append(
            Problem(self.file, self.positions.line(path), self.entry(path), shown, expected)
        )

    def add_validation(self, error: ValidationError, within: Path, model: type[BaseModel]) -> None:
        """Complain about all that pydantic found in the part of the file at `within`."""
        for found in error.errors(include_url=False):
            path, missing = self._real_path(within, found["loc"])
            expected = _expected(found, model, path[len(within) :])
            if found["type"] == "missing":
                self.add(path, expected, written="" if missing else None)
            elif found["type"] == "extra_forbidden":
                self.add(path, expected, written=str(path[-1]))
            else:
                self.add(path, expected)

    def line(self, path: Sequence[str | int]) -> int | None:
        """Line of the entry at `path`."""
        return self.positions.line(path)

    def entry(self, path: Sequence[str | int]) -> str:
        """An entry in the file's own words, such as ``downspout 'NE' . at``."""
        if not path:
            return ""
        head, rest = str(path[0]), list(path[1:])
        if rest and isinstance(rest[0], int):
            name = self._value((head, rest[0], "name"))
            number = rest.pop(0)
            head += f" {name!r}" if isinstance(name, str) else f", number {int(number) + 1}"
        elif rest:
            head = f"[{head}] {rest.pop(0)}"
        elif isinstance(self.raw.get(head, {}), dict):
            head = f"[{head}]"
        for part in rest:
            head += f" . item {part + 1}" if isinstance(part, int) else f" . {part}"
        return shorten(head)

    def _value(self, path: Sequence[str | int]) -> Any:
        value: Any = self.raw
        for part in path:
            try:
                value = value[part]
            except (KeyError, IndexError, TypeError):
                return None
        return value

    def _real_path(self, within: Path, loc: Iterable[str | int]) -> tuple[Path, bool]:
        """The path that pydantic means, its tags left out; whether its last key is missing."""
        path = within
        for part in loc:
            if isinstance(part, str) and part.startswith("<"):
                continue
            path += (part,)
        return path, self._value(path) is None


def _summary(value: Any) -> Any:
    """A table by its keys, since what is wrong with it as a whole lies in those."""
    return ", ".join(map(str, value)) if isinstance(value, Mapping) else value


def shorten(value: Any) -> str:
    """A value as it might stand in the file, on one line and short enough to read.

    Examples
    --------
    >>> shorten(["P1", 2.5, True, {"x": 1}])
    '["P1", 2.5, true, {x = 1}]'
    """
    text = printable(_shown(value, 0))
    return text if len(text) <= LONGEST_WRITTEN else text[: LONGEST_WRITTEN - 3] + "..."


def _shown(value: Any, depth: int) -> str:
    if value is None:
        return ""
    if depth > 3:
        return "..."
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return value if depth == 0 else f'"{value}"'
    if isinstance(value, Mapping):
        pairs = [f"{key} = {_shown(item, depth + 1)}" for key, item in list(value.items())[:8]]
        return "{" + ", ".join(pairs) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_shown(item, depth + 1) for item in value[:8]) + "]"
    if isinstance(value, int) and abs(value) > 10**40:
        return "a number of more than 40 digits"
    return str(value)


def hint(written: str, known: Iterable[str]) -> str:
    """What is expected in place of an unknown name, the nearest known one first.

    Examples
    --------
    >>> hint("heigt", ["name", "height"])
    'such as "height"'
    >>> hint("zzz", ["name", "height"])
    'one of height, name'
    """
    names = sorted(set(known))
    near = difflib.get_close_matches(written, names, n=1, cutoff=0.6)
    if near:
        return f'such as "{near[0]}"'
    return "one of " + ", ".join(names) if names else "none, as there are none yet"


def _expected(found: Mapping[str, Any], model: type[BaseModel], path: Path) -> str:
    """What is expected instead, from the kind of pydantic's error."""
    kind, context = found["type"], found.get("ctx") or {}
    if kind == "expected":
        return str(context["expected"])
    if kind == "missing":
        return f"this entry, which is missing{_description(model, path)}"
    if kind == "extra_forbidden":
        return f"an entry known here, {hint(str(path[-1]), _keys_at(model, path[:-1]))}"
    if kind == "literal_error":
        return str(context["expected"]).replace("'", '"') + _description(model, path)
    if kind == "too_short":
        least = context["min_length"]
        items = "item" if least == 1 else "items"
        return f"at least {least} {items}{_description(model, path)}"
    return _BY_KIND.get(kind, "something else") + _description(model, path)


_BY_KIND = {
    "string_type": "text in quotation marks",
    "bool_type": "true or false",
    "list_type": "a list in brackets",
    "dict_type": "a table of keys and values",
    "model_type": "a table of keys and values",
    "model_attributes_type": "a table of keys and values",
    "float_type": "a number",
    "int_type": "a whole number",
    "union_tag_not_found": "an entry of another kind",
    "union_tag_invalid": "an entry of another kind",
    "missing_argument": "an entry",
}


def _description(model: type[BaseModel], path: Path) -> str:
    """The description of a field, to be put behind what is expected."""
    keys = [part for part in path if isinstance(part, str)]
    if not keys:
        return ""
    owner = _model_at(model, keys[:-1])
    known = _entries(owner).get(keys[-1])
    if known is None or not known.description:
        return ""
    text = known.description.rstrip(".")
    return f": {text[0].lower()}{text[1:]}"


def _keys_at(model: type[BaseModel], path: Path) -> list[str]:
    owner = _model_at(model, [part for part in path if isinstance(part, str)])
    return list(_entries(owner))


def _model_at(model: type[BaseModel], keys: Sequence[str]) -> type[BaseModel] | None:
    owner: type[BaseModel] | None = model
    for key in keys:
        known = _entries(owner).get(key)
        owner = model_within(known.annotation) if known is not None else None
    return owner


def _entries(owner: type[BaseModel] | None) -> dict[str, FieldInfo]:
    """A table's fields by the names that they have in the file."""
    fields = {} if owner is None else owner.model_fields
    return {known.alias or name: known for name, known in fields.items()}


def model_within(annotation: Any) -> type[BaseModel] | None:
    """The table that a field's type holds, through lists, unions and annotations."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for part in typing.get_args(annotation):
        inner = model_within(part)
        if inner is not None:
            return inner
    return None
