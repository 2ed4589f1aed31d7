"""Rain tables as the text of NOAA Atlas 14 point estimates.

In: the text as it is served, in inches or millimeters, as depths or intensities, of partial
durations or annual maxima; its header says which and is believed. Out: `Rows`. The upper and lower
bounds that may follow under the same labels are not taken.
"""

from __future__ import annotations

import re

from runoff.quantities import parse_duration
from runoff.site.rain_rows import Rows, Unit, unit_of

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
