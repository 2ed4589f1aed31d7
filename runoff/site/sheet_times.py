"""Times on a field sheet: clock times such as 9:05 and times since the start such as 12 min.

In: the cells of a column, one after another. Out: seconds on one line, past noon and midnight, or
one problem for each cell that is no time or goes back.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from runoff.quantities import QuantityError, parse_duration
from runoff.site.sheets import Sheet, SheetRow

TIME_EXAMPLE = "9:05, 1:20 pm, 35 (minutes) or 1 h 5 min"
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?\s*([ap])?\.?\s*(?:m\.?)?", re.I)
_UNITS = {
    "min": "min", "mins": "min", "minute": "min", "minutes": "min", "s": "s", "sec": "s",
    "secs": "s", "second": "s", "seconds": "s", "h": "h", "hr": "h", "hrs": "h", "hour": "h",
    "hours": "h",
}  # fmt: skip
_HEADED = re.compile(r"([^,;\t(\[]*?)\s*[(\[]\s*([a-z]+)\.?\s*[)\]]", re.I)
_HALF_DAY = 12 * 3600.0
_LONGEST_STEP = 6 * 3600.0


@dataclass(frozen=True)
class Moment:
    """A time as written: seconds, whether by the clock, and whether am or pm stands with it."""

    seconds: float
    by_clock: bool
    half: str = ""


def take_time_units(text: str) -> tuple[str, dict[str, str]]:
    """A sheet's text with the units of time taken out of its header, and those by heading.

    Examples
    --------
    >>> take_time_units("time (s),depth (in)\\n0,6\\n")
    ('time,depth (in)\\n0,6\\n', {'time': 's'})
    """
    lines = text.splitlines(keepends=True)
    at = next((k for k, line in enumerate(lines) if line.strip(" ,;\t\r\n")), None)
    units: dict[str, str] = {}
    if at is None:
        return text, units

    def taken(match: re.Match[str]) -> str:
        unit = _UNITS.get(match[2].lower())
        if unit is None:
            return match[0]
        units[" ".join(match[1].strip(' "').lower().replace("_", " ").split())] = unit
        return match[1]

    lines[at] = _HEADED.sub(taken, lines[at])
    return "".join(lines), units


def read_moment(sheet: Sheet, row: SheetRow, column: str, unit: str = "min") -> Moment | None:
    """The time in a cell; None, and a problem, where it is none."""
    text = row[column]
    clock = _CLOCK.fullmatch(text)
    if clock:
        hours, minutes, seconds = (int(part or 0) for part in clock.group(1, 2, 3))
        half = (clock[4] or "").lower()
        if minutes < 60 and seconds < 60 and (1 <= hours <= 12 if half else hours < 24):
            hours = hours % 12 + (12 if half == "p" else 0) if half else hours
            return Moment(hours * 3600.0 + minutes * 60.0 + seconds, True, half)
    reason = ""
    try:
        return Moment(parse_duration(text, unit=unit), False)
    except QuantityError as error:
        reason = "" if clock or not text else f" ({error.reason})"
    sheet.complain(
        row.line, sheet.entry(row, column), text, f"a time, such as {TIME_EXAMPLE}{reason}"
    )
    return None


class Times:
    """Lays the times of one test on one line, past noon and midnight."""

    def __init__(self, sheet: Sheet, column: str, unit: str) -> None:
        self.sheet, self.column, self.unit = sheet, column, unit
        self._last: tuple[Moment, float, int] | None = None
        self._past_noon = any(_is_past_noon(row[column]) for row in sheet.rows)

    def restart(self) -> None:
        """Forget the time before: another fill begins, whose time may count from zero."""
        self._last = None

    def next(self, row: SheetRow) -> float | None:
        """Seconds of the next time; None, and a problem, where it is none or goes back."""
        moment = read_moment(self.sheet, row, self.column, self.unit)
        if moment is None:
            return None
        seconds = moment.seconds
        if self._last is not None:
            before, last, line = self._last
            if before.by_clock != moment.by_clock:
                self._refuse(
                    row, f"clock times or times since the start throughout, as line {line} has"
                )
                return None
            if moment.by_clock:
                seconds = self._carried(row, moment, last)
            if seconds < last:
                self._refuse(
                    row,
                    f"a time that is not before that of line {line}, or the time since the start, "
                    "such as 15 h",
                )
                return None
        self._last = (moment, seconds, row.line)
        return seconds

    def _carried(self, row: SheetRow, moment: Moment, last: float) -> float:
        """A clock time after the last: past noon where nothing tells the halves of a day apart."""
        day = 2 * _HALF_DAY
        seconds = moment.seconds + day * (last // day)
        if seconds >= last:
            return seconds
        step = day if moment.half or self._past_noon else _HALF_DAY
        later = seconds
        while later < last:
            later += step
        if later - last > _LONGEST_STEP:
            return seconds
        what = "the next day" if step == day else "past twelve o'clock"
        self.sheet.notice(f"line {row.line}: {row[self.column]} is taken as {what}")
        return later

    def _refuse(self, row: SheetRow, expected: str) -> None:
        self.sheet.complain(
            row.line, self.sheet.entry(row, self.column), row[self.column], expected
        )


def _is_past_noon(text: str) -> bool:
    """Whether a clock time is written as only a clock of 24 hours has it."""
    clock = _CLOCK.fullmatch(text)
    return clock is not None and not clock[4] and not 1 <= int(clock[1]) <= 12
