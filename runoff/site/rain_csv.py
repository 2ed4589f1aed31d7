"""Rain tables as a plain CSV file: a row a duration, a column a return period.

In: lines such as ``5 min,in,0.62,0.82`` under ``duration,unit,2,10``. Out: `Rows`.
"""

from __future__ import annotations

import csv
import re

from runoff.quantities import QuantityError, parse_duration
from runoff.site.rain_rows import Rows, unit_of

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
    found.return_periods = _return_periods(line, header[2:], found)
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


def _return_periods(line: int, cells: list[str], found: Rows) -> tuple[float, ...]:
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
