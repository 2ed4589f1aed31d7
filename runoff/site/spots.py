"""Spot heights from a CSV file, each row checked on its own so that every mistake names its line.

In: rows of name, x, y, z and, if wanted, a remark; comma or semicolon between them. Out: names,
coordinates as typed, heights in metres.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from pydantic_core import PydanticCustomError

from runoff.site.complaints import hint, shorten
from runoff.site.fields import read_coordinate, read_length
from runoff.site.files import read_text
from runoff.site.problems import InputError, Problem

COLUMNS = ("name", "x", "y", "z")
OPTIONAL = ("remark",)
HEADER = "a header row name,x,y,z or name,x,y,z,remark"


@dataclass(frozen=True)
class SpotRow:
    """One row: x and y as typed (`Metres` where a unit is written), z in metres."""

    name: str
    x: float
    y: float
    z: float
    remark: str
    line: int


def read_spots(path: Path, shown: str, units: str) -> tuple[list[SpotRow], list[str]]:
    """Read spot heights.

    Parameters
    ----------
    path : Path
        The CSV file.
    shown : str
        Its name as the user wrote it.
    units : {"ft", "m"}
        Unit of bare heights.

    Returns
    -------
    rows : list of SpotRow
    notices : list of str
        What was taken for granted in reading it.

    Raises
    ------
    InputError
        With one problem for each mistake, naming its line.
    """
    text = read_text(path, shown, "a CSV file of spot heights in UTF-8")
    reader = _SpotReader(shown, units)
    reader.read(text)
    if reader.problems:
        raise InputError(reader.problems)
    return reader.rows, reader.notices


class _SpotReader:
    """Reads one file, collecting rows, problems and notices."""

    def __init__(self, shown: str, units: str) -> None:
        self.shown = shown
        self.units = units
        self.rows: list[SpotRow] = []
        self.problems: list[Problem] = []
        self.notices: list[str] = []
        self._lines: dict[str, int] = {}

    def read(self, text: str) -> None:
        delimiter = self._delimiter(text)
        table = self._table(text, delimiter)
        first = next(table, None)
        if first is None:
            self._complain(1, "", "", f"{HEADER}, then one row for each spot height")
            return
        header_line, cells = first
        columns = self._header(header_line, cells)
        if columns is None:
            return
        for line, row in table:
            self._row(line, row, columns)
        if not self.rows and not self.problems:
            self._complain(header_line, "", "", "at least one row of spot heights under the header")

    def _delimiter(self, text: str) -> str:
        header = next((line for line in text.splitlines() if line.strip(" ,;\t")), "")
        if header.count(";") > header.count(","):
            self.notices.append(f"{self.shown}: read with semicolons between the columns")
            return ";"
        return ","

    def _table(self, text: str, delimiter: str) -> Iterator[tuple[int, list[str]]]:
        """Rows that hold something, each with its first line.

        An inch mark within a cell is text, so quotation marks only quote where a cell starts with
        one.
        """
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        blank, line = 0, 1
        try:
            for row in reader:
                cells = [cell.strip() for cell in row]
                if any(cells):
                    yield line, cells
                else:
                    blank += 1
                line = reader.line_num + 1
        except csv.Error as error:
            self._complain(line, "", "", f"rows that can be read as CSV ({error})")
        if blank:
            rows = "1 blank row" if blank == 1 else f"{blank} blank rows"
            self.notices.append(f"{self.shown}: {rows} passed over")

    def _header(self, line: int, cells: Sequence[str]) -> dict[str, int] | None:
        """Which column stands where; None, and a problem, for a header that is not one."""
        names = [cell.lower() for cell in cells]
        while names and not names[-1]:
            names.pop()
        if tuple(names) in (COLUMNS, COLUMNS + OPTIONAL):
            return {name: place for place, name in enumerate(names)}
        written = shorten(", ".join(cells))
        if set(COLUMNS) <= set(names) <= set(COLUMNS + OPTIONAL) and len(set(names)) == len(names):
            self._complain(line, "header", written, f"the columns in this order: {HEADER}")
        else:
            self._complain(line, "header", written, HEADER)
        return None

    def _row(self, line: int, cells: list[str], columns: dict[str, int]) -> None:
        while len(cells) > len(columns) and not cells[-1]:
            cells = cells[:-1]
        if len(cells) > len(columns):
            self._complain(
                line,
                _spot(cells[0]),
                shorten(", ".join(cells)),
                f"{len(columns)} values, as the header has; text with a comma in it stands in "
                "quotation marks",
            )
            return
        values = {name: cells[at] if at < len(cells) else "" for name, at in columns.items()}
        name = values["name"]
        before = len(self.problems)
        if not name or not name.isprintable():
            self._complain(
                line, "name", shorten(name), "a name for the spot height on one line, such as P1"
            )
        elif name in self._lines:
            self._complain(
                line,
                "name",
                shorten(name),
                f"a name of its own; line {self._lines[name]} has this one already",
            )
        else:
            self._lines[name] = line
        x = self._figure(line, name, "x", values["x"])
        y = self._figure(line, name, "y", values["y"])
        z = self._figure(line, name, "z", values["z"])
        if len(self.problems) == before and x is not None and y is not None and z is not None:
            self.rows.append(SpotRow(name, x, y, z, values.get("remark", ""), line))

    def _figure(self, line: int, name: str, column: str, text: str) -> float | None:
        what = "a height" if column == "z" else "a coordinate"
        expected = f'{what}, such as 12.5 or "12 ft 6 in"'
        try:
            if not text:
                raise PydanticCustomError("expected", "{expected}", {"expected": expected})
            if column == "z":
                return read_length(text, self.units, expected)
            return read_coordinate(text, expected)
        except PydanticCustomError as error:
            entry = f"{_spot(name)} . {column}" if name else column
            self._complain(line, entry, shorten(text), str((error.context or {})["expected"]))
        return None

    def _complain(self, line: int, entry: str, written: str, expected: str) -> None:
        self.problems.append(Problem(self.shown, line, entry, written, expected))


def _spot(name: str) -> str:
    return f"spot height {shorten(name)!r}" if name else ""


def unknown_spot(name: str, known: Sequence[str]) -> str:
    """What is expected in place of a spot height's name that is not in the file."""
    return f"the name of a spot height, {hint(name, known)}"
