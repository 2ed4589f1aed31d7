"""The file formats of rain tables, NOAA Atlas 14 point estimates and plain CSV: a reader each.

In: the text of a file. Out: `Rows`, whose rows give depths in metres by duration in seconds, or
problems with their lines; `Rows.check` holds for every format. `runoff.site.rain.table` picks the
reader by the text.

NOAA Atlas 14 is read as it is served, in inches or millimeters, as depths or intensities, of
partial durations or annual maxima; its header says which and is believed. The upper and lower
bounds that may follow under the same labels are not taken. CSV has lines such as
``5 min,in,0.62,0.82`` under ``duration,unit,2,10``.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from runoff.quantities import QuantityError, parse_duration
from runoff.quantities.reading import HOUR, LENGTHS, RATES
from runoff.site.problems import Problem

_NUMBER = re.compile(r"\d+(\.\d*)?|\.\d+")


@dataclass(frozen=True)
class Unit:
    """A unit of depth, or of intensity; `size` in metres, or metres an hour."""

    size: float
    is_intensity: bool


@dataclass(frozen=True)
class Row:
    """One duration: its line and label in the file, seconds, and values in `unit`."""

    line: int
    label: str
    duration: float
    values: tuple[float, ...]
    unit: Unit

    def depths(self) -> tuple[float, ...]:
        """The values as depths in metres."""
        hours = self.duration / float(HOUR) if self.unit.is_intensity else 1.0
        return tuple(value * self.unit.size * hours for value in self.values)


@dataclass
class Rows:
    """What a reader has found so far, with all that is wrong in it."""

    file: str
    return_periods: tuple[float, ...] = ()
    rows: list[Row] = field(default_factory=list)
    basis: str = ""
    problems: list[Problem] = field(default_factory=list)

    def complain(self, line: int | None, entry: str, written: str, expected: str) -> None:
        """Keep one problem."""
        self.problems.append(Problem(self.file, line, entry, written, expected))

    def take(
        self, line: int, label: str, duration: float, cells: Sequence[str], unit: Unit
    ) -> None:
        """Keep a row, or complain about each cell that is not a rain."""
        if len(cells) != len(self.return_periods):
            count = len(self.return_periods)
            self.complain(line, label, ", ".join(cells), f"{count} values, one a return period")
            return
        values = [_number(cell) for cell in cells]
        for cell, value in zip(cells, values, strict=True):
            if value is None:
                self.complain(line, label, cell, "a number above 0, such as 0.82")
        good = tuple(value for value in values if value is not None)
        if len(good) == len(values):
            self.rows.append(Row(line, label, duration, good, unit))

    def check(self) -> None:
        """Complain where longer or rarer rain is less than shorter or more frequent rain."""
        for row in self.rows:
            if any(after < before for before, after in pairwise(row.values)):
                self.complain(row.line, row.label, "", "values that grow with the return period")
        for before, after in pairwise(self.rows):
            if after.duration <= before.duration:
                self.complain(
                    after.line, after.label, "", "durations from short to long, each once"
                )
            elif _shrinks(before, after):
                self.complain(
                    after.line,
                    after.label,
                    "",
                    "depths that grow, or intensities that fall, from one duration to the next",
                )


def unit_of(written: str) -> Unit | None:
    """The unit that a file writes; None where it is none of depth or intensity.

    Examples
    --------
    >>> unit_of("in/h").is_intensity, unit_of("mm").size, unit_of("gal")
    (True, 0.001, None)
    """
    key = written.strip().lower().replace(" ", "")
    if key in LENGTHS:
        return Unit(float(LENGTHS[key]), False)
    if key in RATES:
        return Unit(float(RATES[key] * HOUR), True)
    length, _, per = key.partition("/")
    if length in LENGTHS and per in ("h", "hr", "hour"):
        return Unit(float(LENGTHS[length]), True)
    return None


def _shrinks(before: Row, after: Row) -> bool:
    """Compared as written: depths reckoned from rounded intensities may shrink by rounding."""
    pairs = list(zip(before.values, after.values, strict=True))
    if before.unit != after.unit:
        return any(a < b for b, a in zip(before.depths(), after.depths(), strict=True))
    if after.unit.is_intensity:
        return any(a > b for b, a in pairs)
    return any(a < b for b, a in pairs)


def _number(cell: str) -> float | None:
    if not _NUMBER.fullmatch(cell):
        return None
    value = float(cell)
    return value if 0 < value < 1e6 else None


_TITLE = re.compile(r"point precipitation frequency estimates\s*\((.+)\)", re.IGNORECASE)
_ESTIMATES = "PRECIPITATION FREQUENCY ESTIMATES"
_LABEL = re.compile(r"(\d+)-(min|hr|day)")
_PERIODS = re.compile(r"by duration for (ari|aep)[^:]*:\s*,?(.*)", re.IGNORECASE)
_SERIES = {"partial duration": "ari", "annual maximum": "aep"}
_TYPES = {"precipitation depth": False, "precipitation intensity": True}


def is_atlas_text(text: str) -> bool:
    """Tell whether a text begins as point estimates do.

    Examples
    --------
    >>> is_atlas_text("Point precipitation frequency estimates (inches)")
    True
    """
    return text.lstrip().lower().startswith("point precipitation frequency estimates")


def read_atlas(text: str, found: Rows) -> None:
    """Read the text into `found`, complaining there of all that is wrong."""
    lines = [(n, line.strip()) for n, line in enumerate(text.splitlines(), 1) if line.strip()]
    at = next((i for i, (_, line) in enumerate(lines) if line.upper() == _ESTIMATES), None)
    if at is None:
        found.complain(lines[0][0], "", "", f'a line "{_ESTIMATES}" above the table')
        return
    header = {}
    for number, line in lines[1:at]:
        name, _, value = line.partition(":")
        header[name.strip().lower()] = (number, value.strip())
    unit = _unit(lines[0], header, found)
    series = _series(header, found)
    body = lines[at + 1 :]
    if not body:
        found.complain(lines[at][0], "", "", "a table under this line")
        return
    found.return_periods = _return_periods(*body[0], series, found)
    if unit is None or found.problems:
        return
    _rows(body[1:], unit, found)
    if not found.rows and not found.problems:
        found.complain(body[0][0], "", "", "rows such as 5-min:, 0.553,0.620 under this line")
    place = ", ".join(f"{n} {header[n][1]}" for n in ("latitude", "longitude") if n in header)
    named = {False: "depths", True: "intensities"}[unit.is_intensity]
    kind = {"ari": "partial duration", "aep": "annual maximum"}[series]
    volume = lines[1][1] if ":" not in lines[1][1] else "NOAA Atlas 14"
    found.basis = ", ".join(part for part in (volume, kind, named, place) if part)


def _unit(title: tuple[int, str], header: dict[str, tuple[int, str]], found: Rows) -> Unit | None:
    line, written = title
    match = _TITLE.match(written)
    unit = unit_of(match[1]) if match else None
    if match is None or unit is None:
        found.complain(line, "title", written, "its unit in brackets, such as (inches)")
        return None
    line, kind = header.get("data type", (line, ""))
    if _TYPES.get(kind.lower()) is not unit.is_intensity:
        fits = "Precipitation intensity" if unit.is_intensity else "Precipitation depth"
        found.complain(line, "Data type", kind, f"{fits}, as the title's unit is {match[1]}")
    return unit


def _series(header: dict[str, tuple[int, str]], found: Rows) -> str:
    line, written = header.get("time series type", (1, ""))
    series = _SERIES.get(written.lower(), "")
    if not series:
        found.complain(line, "Time series type", written, "Partial duration or Annual maximum")
    return series


def _return_periods(line: int, written: str, series: str, found: Rows) -> tuple[float, ...]:
    """Years; of annual maxima, one over the chance in a year."""
    match = _PERIODS.fullmatch(written)
    if match is None or (series and match[1].lower() != series):
        wanted = {"aep": "AEP:, '1/2,'1/5", "ari": "ARI (years):, 1,2,5"}.get(series, "ARI or AEP")
        found.complain(line, "", written, f'a line "by duration for {wanted}"')
        return ()
    pattern = r"'?1/(\d+)" if match[1].lower() == "aep" else r"(\d+)"
    cells = [cell.strip() for cell in match[2].split(",")]
    years = [re.fullmatch(pattern, cell) for cell in cells]
    periods = tuple(float(year[1]) for year in years if year)
    if len(periods) < len(cells) or list(periods) != sorted(set(periods)) or periods[0] <= 0:
        found.complain(line, "", written, "return periods, rising, with commas between them")
        return ()
    return periods


def _rows(body: list[tuple[int, str]], unit: Unit, found: Rows) -> None:
    """Take rows up to the first line that is none, or whose label stood before: other tables."""
    taken: set[str] = set()
    for line, written in body:
        label, colon, rest = written.partition(":")
        match = _LABEL.fullmatch(label.strip())
        if match is None:
            if colon and label[:1].isdigit():
                found.complain(line, "", label, "a duration such as 5-min, 2-hr or 7-day")
                continue
            return
        if label in taken:
            return
        taken.add(label)
        cells = [cell.strip() for cell in rest.strip().lstrip(",").split(",")]
        size = {"min": "min", "hr": "h", "day": "day"}[match[2]]
        found.take(line, label, parse_duration(f"{match[1]} {size}"), cells, unit)


HEADER = "a header row such as duration,unit,2,10,100 (return periods in years)"
_YEARS = re.compile(r"(\d+(?:\.\d+)?)(?: ?(?:years?|yr))?")


def read_csv(text: str, found: Rows) -> None:
    """Read the text of a CSV file into `found`, complaining there of all that is wrong."""
    lines = [(n, _cells(line)) for n, line in enumerate(text.splitlines(), 1) if line.strip(" ,\t")]
    if not lines or [cell.lower() for cell in lines[0][1][:2]] != ["duration", "unit"]:
        line, cells = lines[0] if lines else (1, [])
        found.complain(line, "header", ", ".join(cells)[:60], HEADER)
        return
    line, header = lines[0]
    found.return_periods = _periods_of_header(line, header[2:], found)
    if found.problems:
        return
    for number, cells in lines[1:]:
        _row(number, cells, found)
    if not found.rows and not found.problems:
        found.complain(line, "", "", "at least one row under the header, such as 5 min,in,0.82")
    found.basis = f"rain table {found.file}"


def _cells(line: str) -> list[str]:
    """The cells of one line; a line that is no CSV is one cell, and refused as such."""
    try:
        return [cell.strip() for cell in next(csv.reader([line]))]
    except csv.Error:
        return [line[:60]]


def _periods_of_header(line: int, cells: list[str], found: Rows) -> tuple[float, ...]:
    years: list[float] = []
    for cell in cells:
        match = _YEARS.fullmatch(cell.lower())
        if match is None or float(match[1]) <= (years[-1] if years else 0.0):
            found.complain(line, "header", cell, "return periods in years, rising: 2,10,100")
            return ()
        years.append(float(match[1]))
    if not years:
        found.complain(line, "header", "duration, unit", HEADER)
    return tuple(years)


def _row(line: int, cells: list[str], found: Rows) -> None:
    label, unit_cell = cells[0], cells[1] if len(cells) > 1 else ""
    unit = unit_of(unit_cell)
    try:
        duration = parse_duration(label)
    except QuantityError:
        duration = 0.0
    if duration <= 0:
        found.complain(line, "duration", label, "a duration above 0, such as 5 min")
    if unit is None:
        found.complain(line, "unit", unit_cell, "in, mm, in/h or mm/h")
    if duration > 0 and unit is not None:
        found.take(line, label, duration, cells[2:], unit)
