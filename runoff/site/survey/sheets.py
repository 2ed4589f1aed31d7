"""Field sheets as CSV files: headings as people write them, every row with its line.

In: the text of a sheet, or rows typed in a program. Out: rows of cells by column, lengths in metres
with the step they were read to, and problems that name row and remedy.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from runoff.quantities import QuantityError, parse_length
from runoff.site.notices import Notation, Notice, SheetCode
from runoff.site.problems import Problem, hint, printable, shorten
from runoff.site.written.fields import LARGEST, METRES_PER_FOOT

# Names of a column by the name that the code has for it.
Headings = Mapping[str, Sequence[str]]

_INCH = METRES_PER_FOOT / 12.0
_UNIT_WORDS = {
    "ft": "ft", "feet": "ft", "foot": "ft", "'": "ft", "in": "in", "inch": "in", "inches": "in",
    '"': "in", "m": "m", "meters": "m", "metres": "m", "cm": "cm", "mm": "mm",
}  # fmt: skip
_METRES = {"ft": METRES_PER_FOOT, "in": _INCH, "m": 1.0, "cm": 0.01, "mm": 0.001}
_HEADING = re.compile(r"(.*?)\s*[(\[,]\s*([a-z'\"]+)\s*[)\]]?")
_FIGURE = re.compile(r"(\d+)\s*/\s*(\d+)|(\d*\.\d+|\d+\.?)")
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+(?:\s*(?:m|cm|mm|ft|in))?", re.I)
_DECIMAL_POINT = re.compile(r"[+-]?\d*\.\d+(?:\s*(?:m|cm|mm|ft|in))?", re.I)
_LOOSE_FEET = re.compile(r"\d+\s*['’′]\s*-?\s*\d+(?:\s+\d+/\d+)?")
_FRACTION_SIGNS = {"½": 2, "¼": 4, "¾": 4, "⅛": 8, "⅜": 8, "⅝": 8, "⅞": 8, "⅓": 3, "⅔": 3}


@dataclass(frozen=True)
class Form:
    """What the columns of a kind of sheet are called.

    `headings` gives for each column the headings it may have, in lower case without full stops;
    `ignored` likewise those passed over with a notice; `header` says what a header row looks like.
    """

    headings: Headings
    ignored: Headings
    header: str


@dataclass(frozen=True)
class Reading:
    """A length that was read off: metres, the step it was read to (m), and how it was written."""

    metres: float
    step: float
    text: str


@dataclass(frozen=True)
class SheetRow:
    """One row: its line in the file, and its cells by column, empty where nothing is written."""

    line: int
    cells: Mapping[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")


@dataclass
class Sheet:
    """A field sheet, with what is wrong with it and what was taken for granted in reading it.

    Parameters
    ----------
    file : str
        Its name as the user wrote it.
    units : {"ft", "m"}
        Unit of bare numbers, where a heading does not name another.
    what : str
        What a row describes, for messages.
    """

    file: str
    units: str
    what: str = "point"
    header_line: int = 1
    columns: tuple[str, ...] = ()
    column_units: dict[str, str] = field(default_factory=dict)
    rows: list[SheetRow] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)

    def complain(self, line: int | None, entry: str, written: str, expected: str) -> None:
        """Add a problem."""
        self.problems.append(Problem(self.file, line, entry, shorten(written), expected))

    def notice(
        self,
        code: SheetCode,
        *names: str,
        line: int | None = None,
        text: str = "",
        notation: Notation = "",
        **figures: float,
    ) -> None:
        """Add a notice of this sheet, once."""
        told = Notice(code, names, figures, self.file, line, text, notation)
        if told not in self.notices:
            self.notices.append(told)

    def entry(self, row: SheetRow, column: str) -> str:
        """A cell in words, such as ``point 'TP1' . foresight``."""
        name = row["name"]
        return f"{self.what} {shorten(name)!r} . {column}" if name else column

    def reading(self, row: SheetRow, column: str, what: str) -> Reading | None:
        """A length of zero or more; None where nothing, or nothing usable, is written."""
        found = self.length(row, column, what)
        if found is not None and found.metres < 0.0:
            self.complain(row.line, self.entry(row, column), row[column], f"{what} of zero or more")
            return None
        return found

    def length(self, row: SheetRow, column: str, what: str) -> Reading | None:
        """A length; None, and a problem, where what is written is none."""
        text = row[column]
        if not text:
            return None
        unit = self.column_units.get(column, self.units)
        expected = f'{what}, such as 4.35 or "4 ft 3 1/2 in"'
        try:
            metres = parse_length(text, unit=unit)
        except QuantityError as error:
            self.complain(row.line, self.entry(row, column), text, f"{expected} ({error.reason})")
            return None
        if not abs(metres) <= LARGEST:
            self.complain(row.line, self.entry(row, column), text, expected)
            return None
        if _LOOSE_FEET.fullmatch(text):
            self.notice("loose feet", line=row.line, text=text, length_m=metres)
        return Reading(metres, step_of(text, unit), text)


def step_of(text: str, unit: str) -> float:
    """The step that a reading was taken to, metres: its last decimal, fraction or whole unit.

    Examples
    --------
    >>> round(step_of("4.35", "ft") / 0.3048, 6), round(step_of("4 ft 3 1/8 in", "ft") / 0.0254, 6)
    (0.01, 0.125)
    """
    for sign, below in _FRACTION_SIGNS.items():
        if sign in text:
            return _INCH / below
    figures = list(_FIGURE.finditer(text))
    if not figures:
        return _METRES[unit]
    last = figures[-1]
    after = text[last.end() :].strip().rstrip(".").lower()
    if after in _UNIT_WORDS:
        own = _UNIT_WORDS[after]
    else:
        own = "in" if len(figures) > 1 and re.search("['’′]|ft|f", text, re.I) else unit
    if last[2] is not None:
        return _METRES[own] / max(int(last[2]), 1)
    decimals = len(last[3].partition(".")[2])
    return float(_METRES[own] * 10.0**-decimals)


def style(texts: Iterable[str], units: str) -> tuple[Notation, int]:
    """How to show lengths to whoever wrote these: `format_length`'s system and denominator.

    Examples
    --------
    >>> style(["4.35"], "ft"), style(["4' 3"], "ft"), style(["1.25"], "m")
    (('us decimal', 100), ('us', 16), ('metric', 16))
    """
    joined = " ".join(texts).lower()
    if any(mark in joined for mark in ("in", '"', "'", "’", "/")):
        return "us", 16
    return ("metric", 16) if units == "m" or "m" in joined else ("us decimal", 100)


def parse_sheet(text: str, sheet: Sheet, form: Form) -> None:
    """Fill a sheet with the rows of a CSV file; what is wrong goes to its `problems`.

    Parameters
    ----------
    text : str
        The file's text. Commas, semicolons or tabs stand between the columns; rows may be blank.
    sheet : Sheet
        Without rows yet.
    form : Form
        What the columns are called.
    """
    lines = _rows(text, sheet)
    if not lines:
        sheet.complain(1, "", "", f"{form.header}, then one row for each {sheet.what}")
        return
    line, cells = lines[0]
    sheet.header_line = line
    places = _places(cells, line, form, sheet)
    if sheet.problems:
        return
    for number, row in lines[1:]:
        _take(number, row, places, len(cells), sheet)
    if not sheet.rows and not sheet.problems:
        sheet.complain(line, "", "", f"at least one row, for a {sheet.what}, under the header")
    _decimal_commas(sheet)


def typed_sheet(rows: Iterable[Mapping[str, object]], units: str, headings: Headings) -> Sheet:
    """A sheet from rows typed in a program, each a mapping of headings to text or numbers."""
    sheet = Sheet("level notes", units)
    taken: list[str] = []
    for line, row in enumerate(rows, 1):
        cells: dict[str, str] = {}
        if not isinstance(row, Mapping):
            example = (
                'a mapping of headings to readings, such as {"point": "BM", "backsight": 4.35}'
            )
            sheet.complain(line, "", str(row), example)
            continue
        for key, value in row.items():
            column = _column(_plain(str(key)), headings)
            if column is None:
                known = [name for names in headings.values() for name in names]
                sheet.complain(line, "", str(key), f"a heading known here, {hint(str(key), known)}")
            elif value is not None and value == value and value != "":
                cells[column] = str(value).strip()
                taken.append(column)
        sheet.rows.append(SheetRow(line, cells))
    if not sheet.rows:
        sheet.complain(None, "", "", "at least one row of readings")
    sheet.columns = tuple(column for column in headings if column in taken)
    return sheet


def _rows(text: str, sheet: Sheet) -> list[tuple[int, list[str]]]:
    """Rows that hold something, each with its first line."""
    header = next((line for line in text.splitlines() if line.strip(" ,;\t")), "")
    delimiter = max(",;\t", key=header.count) if header else ","
    if delimiter == ";":
        sheet.notice("semicolons")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    found: list[tuple[int, list[str]]] = []
    blank, line = 0, 1
    try:
        for row in reader:
            cells = [cell.strip() for cell in row]
            if any(cells):
                found.append((line, cells))
            else:
                blank += 1
            line = reader.line_num + 1
    except csv.Error as error:
        sheet.complain(line, "", "", f"rows that can be read as CSV ({error})")
    if blank:
        sheet.notice("blank rows", rows=blank)
    return found


def _plain(heading: str) -> str:
    return " ".join(heading.lower().replace(".", "").replace("_", " ").replace("-", " ").split())


def _column(heading: str, headings: Headings) -> str | None:
    return next((name for name, known in headings.items() if heading in known), None)


def _places(cells: Sequence[str], line: int, form: Form, sheet: Sheet) -> dict[str, int]:
    """Where each column stands; problems for headings that are not known or come twice."""
    headings, ignored = form.headings, form.ignored
    places: dict[str, int] = {}
    unknown: list[str] = []
    if not any(
        _column(_plain(cell), headings) or _HEADING.fullmatch(_plain(cell)) for cell in cells
    ):
        sheet.complain(line, "header", ", ".join(cells), form.header)
        return places
    for place, cell in enumerate(cells):
        heading, unit = _plain(cell), None
        match = _HEADING.fullmatch(heading)
        if match and match[2] in _UNIT_WORDS:
            heading, unit = match[1], _UNIT_WORDS[match[2]]
        if not heading:
            continue
        column = _column(heading, headings)
        if column is None and _column(heading, ignored) is not None:
            sheet.notice("column reckoned anew", text=cell)
            continue
        if column is None:
            unknown.append(cell)
            continue
        if column in places:
            sheet.complain(line, f"header, column {place + 1}", cell, "each column once")
            continue
        places[column] = place
        if unit is not None:
            sheet.column_units[column] = unit
    if len(unknown) == 1:
        known = [name for names in headings.values() for name in names]
        near = hint(_plain(unknown[0]), known)
        said = near if near.startswith("such") else form.header
        sheet.complain(line, "header", unknown[0], f"a heading known here, {said}")
    elif unknown:
        sheet.complain(line, "header", ", ".join(unknown), f"headings known here: {form.header}")
    sheet.columns = tuple(places)
    return places


def _take(line: int, cells: list[str], places: Mapping[str, int], width: int, sheet: Sheet) -> None:
    while len(cells) > width and not cells[-1]:
        cells = cells[:-1]
    if len(cells) > width:
        sheet.complain(
            line,
            "",
            ", ".join(cells),
            f"{width} values, as the headings are; decimals have a point, and text with a comma "
            "in it stands in quotation marks",
        )
        return
    row = {column: cells[at] if at < len(cells) else "" for column, at in places.items()}
    remark = row.get("remark", "")
    if remark and re.fullmatch(r"[+-]?\d*\.?\d+", remark):
        sheet.complain(
            line,
            "remark",
            remark,
            "words as a remark; a figure there often means a comma within another figure (write "
            "24.7, or 24 ft 7 in)",
        )
        return
    if remark:
        row["remark"] = printable(remark)
    sheet.rows.append(SheetRow(line, row))


def _decimal_commas(sheet: Sheet) -> None:
    """Take ``24,7`` for 24.7 where no figure of the sheet has a point, and say so.

    Cells hold a comma unquoted only where semicolons or tabs stand between the columns.
    """
    measured = [
        (number, column)
        for number, row in enumerate(sheet.rows)
        for column in row.cells
        if column not in ("name", "remark", "side")
        and _DECIMAL_COMMA.fullmatch(row[column])
        and not column.startswith("from")
    ]
    pointed = any(
        _DECIMAL_POINT.fullmatch(cell) for row in sheet.rows for cell in row.cells.values()
    )
    separated = any(told.code == "semicolons" for told in sheet.notices)
    if not measured or pointed or not separated:
        return
    sheet.notice("decimal commas")
    for number, column in measured:
        row = sheet.rows[number]
        cells = {**row.cells, column: row[column].replace(",", ".")}
        sheet.rows[number] = SheetRow(row.line, cells)
