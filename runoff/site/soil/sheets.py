"""Field sheets of soil tests, read from CSV: their rows, sizes, times, readings, fillings.

In: the cells of a column, one after another. Out: seconds on one line, past noon and midnight, or
one problem for each cell that is no time or goes back.

In: a sheet whose header fits. Out: metres and seconds for
`runoff.site.soil.tests`; one problem for each cell that is wrong goes to the sheet.

In: the sheets that ``[soil]`` names. Out: the tests reduced, every mistake with its row. Depths are
those of the water, or are measured down to it from a mark over the hole, whose distance down to the
bottom stands in the column ``bottom``. Sizes stand once, in the first row.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from runoff.quantities import QuantityError, format_length, parse_duration, system_of
from runoff.rules import Rules
from runoff.site.files import read_text
from runoff.site.model import Soil
from runoff.site.notices import Notice, SheetCode
from runoff.site.problems import Complaints, InputError
from runoff.site.soil.tables import SoilTable, soil_record
from runoff.site.soil.tests import (
    Filling,
    PercolationTest,
    TrialPitTest,
    WaterReading,
    reduce_percolation,
    reduce_trial_pit,
)
from runoff.site.survey.sheets import Form, Reading, Sheet, SheetRow, parse_sheet

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
        taken: SheetCode = "next day" if step == day else "past noon"
        self.sheet.notice(taken, line=row.line, text=row[self.column])
        return later

    def _refuse(self, row: SheetRow, expected: str) -> None:
        self.sheet.complain(
            row.line, self.sheet.entry(row, self.column), row[self.column], expected
        )


def _is_past_noon(text: str) -> bool:
    """Whether a clock time is written as only a clock of 24 hours has it."""
    clock = _CLOCK.fullmatch(text)
    return clock is not None and not clock[4] and not 1 <= int(clock[1]) <= 12


_YES = ("yes", "y", "x", "refill", "refilled", "true", "1")
_NO = ("", "no", "n", "-", "false", "0")
_READ = ("time", "depth", "down", "75 to 25", "at 75", "at 25", "refill")
_SAME_M = 1e-3


class WaterRows:
    """Takes the readings of water of one sheet, row by row."""

    def __init__(self, sheet: Sheet, time_units: Mapping[str, str]) -> None:
        self.sheet = sheet
        self.times = Times(sheet, "time", time_units.get("time", "min"))
        self.step = 0.0
        self.levels = False
        self._all_rows = not sheet.problems
        self._bottom = self._to_bottom() if "down" in sheet.columns else None
        self._last: tuple[float, SheetRow] | None = None

    def size(self, column: str, needed: bool = True) -> float | None:
        """A length (m) that stands once, in the first row that holds it."""
        sheet = self.sheet
        found: float | None = None
        if column not in sheet.columns:
            return None
        for row in sheet.rows:
            reading = sheet.reading(row, column, f"the {column}")
            if reading is None:
                needed = needed and not row[column]
            elif reading.metres == 0.0:
                self.refuse(row, column, f"the {column} above zero")
                needed = False
            elif found is None:
                found = reading.metres
            elif abs(reading.metres - found) > _SAME_M:
                self.refuse(row, column, f"one {column} for the whole test, once in the first row")
        if found is None and needed and sheet.rows and self._all_rows:
            self.refuse(sheet.rows[0], column, f'the {column} in the first row, such as "2 ft"')
        return found

    def _to_bottom(self) -> float | None:
        """How far down the bottom is (m), as noted or by the first depth of the water."""
        if "first depth" not in self.sheet.columns:
            return self.size("bottom")
        depth = self.size("first depth")
        first = next((row for row in self.sheet.rows if row["down"]), None)
        down = None if first is None else self.sheet.reading(first, "down", "how far down it is")
        return None if depth is None or down is None else depth + down.metres

    def restart(self) -> None:
        """Begin another filling."""
        self.times.restart()
        self._last = None

    def level(self, row: SheetRow, filled: bool) -> tuple[float, float] | None:
        """Seconds and the depth of the water (m); None, and a problem, where one is wrong."""
        seconds = self.times.next(row)
        depth = self._depth(row)
        if depth is None or seconds is None:
            return None
        self.levels = True
        last, self._last = self._last, (depth, row)
        if last is not None and not filled and depth > last[0]:
            column = "down" if "down" in self.sheet.columns else "depth"
            remedy = (
                "give it the number of the next fill"
                if "name" in self.sheet.columns
                else "write yes in a column refill"
            )
            self.refuse(
                row,
                column,
                f"water that does not rise, as it does after line {last[1].line}; where it was "
                f"filled up {remedy}",
            )
            return None
        return seconds, depth

    def refilled(self, row: SheetRow) -> bool:
        """Whether the water was filled up just before this reading."""
        said = row["refill"].lower()
        if said not in _YES and said not in _NO:
            self.refuse(row, "refill", "yes where it was filled up, and nothing elsewhere")
        return said in _YES or row["remark"].lower().startswith("refill")

    def hole(self) -> list[WaterReading]:
        """All rows as readings of one hole."""
        readings: list[WaterReading] = []
        for row in self.sheet.rows:
            if self.is_empty(row):
                continue
            filled = self.refilled(row)
            fall = self.sheet.reading(row, "fall", "a fall of the water")
            found = self.level(row, filled or fall is not None)
            if found is None:
                continue
            if readings and not filled and found[0] == readings[-1].seconds:
                self.refuse(row, "time", "a time after that of the reading before")
            if readings and not filled and fall is not None:
                readings += self._filled_before(row, readings[-1], found[1] + fall.metres)
            readings.append(WaterReading(*found, refilled=filled))
        return readings

    def _filled_before(self, row: SheetRow, last: WaterReading, start: float) -> list[WaterReading]:
        """The refill after the last reading, to where the fall noted began (m), if there was."""
        if abs(start - last.depth) <= max(self.step, _SAME_M):
            return []
        if start < last.depth:
            self.refuse(
                row, "fall", "the fall since the reading before, or since the hole was filled up"
            )
            return []
        self.sheet.notice("filled up between")
        return [WaterReading(last.seconds, start, refilled=True)]

    def is_empty(self, row: SheetRow) -> bool:
        """Whether a row holds no reading at all, only sizes or a remark."""
        return not any(row[column] for column in _READ)

    def refuse(self, row: SheetRow, column: str, expected: str) -> None:
        """Complain about a cell."""
        self.sheet.complain(row.line, self.sheet.entry(row, column), row[column], expected)

    def _depth(self, row: SheetRow) -> float | None:
        column = "down" if "down" in self.sheet.columns else "depth"
        what = "how far down the water is" if column == "down" else "a depth of the water"
        reading: Reading | None = self.sheet.reading(row, column, what)
        if reading is None:
            if not row[column]:
                self.refuse(row, column, f"{what}, such as 14 1/2 in")
            return None
        self.step = max(self.step, reading.step)
        if column == "depth":
            return reading.metres
        if self._bottom is None:
            return None
        depth = self._bottom - reading.metres
        if depth < -_SAME_M:
            bottom = format_length(self._bottom, system_of(self.sheet.units))
            self.refuse(row, column, f"no more than the {bottom} down to the bottom")
            return None
        return max(depth, 0.0)


class PitRows:
    """Gathers the rows of a trial pit into fillings."""

    def __init__(self, water: WaterRows, time_units: Mapping[str, str]) -> None:
        self.water = water
        self.sheet = water.sheet
        self.unit = time_units.get("75 to 25", "min")
        self.readings: dict[str, list[tuple[float, float]]] = {}
        self.timed: dict[str, float] = {}
        self._lines: dict[str, int] = {}
        self._name = ""

    def fillings(self) -> list[Filling]:
        """The fillings in order."""
        for row in self.sheet.rows:
            if not self.water.is_empty(row):
                self._take(row)
        return [
            Filling(name, tuple(self.readings.get(name, ())), self.timed.get(name))
            for name in self._lines
        ]

    def _take(self, row: SheetRow) -> None:
        timed = bool(row["75 to 25"] or row["at 75"] or row["at 25"])
        name = self._named(row, timed)
        if name is None:
            return
        if timed and (row["time"] or name in self.readings or name in self.timed):
            self.water.refuse(
                row, "75 to 25", "for each fill either that time alone, or readings of the water"
            )
        elif timed:
            seconds = self._noted(row) if row["75 to 25"] else self._passed(row)
            if seconds is not None:
                self.timed[name] = seconds
        elif name in self.timed:
            self.water.refuse(row, "time", f"no readings; line {self._lines[name]} has its time")
        else:
            found = self.water.level(row, filled=name not in self.readings)
            kept = self.readings.setdefault(name, [])
            if found is not None:
                kept.append(found)

    def _noted(self, row: SheetRow) -> float | None:
        """Seconds from 75 % to 25 % as noted."""
        moment = read_moment(self.sheet, row, "75 to 25", self.unit)
        if moment is not None and (moment.by_clock or moment.seconds == 0.0):
            self.water.refuse(row, "75 to 25", 'how long it took, above zero, such as "67 min"')
            return None
        return None if moment is None else moment.seconds

    def _passed(self, row: SheetRow) -> float | None:
        """Seconds between the times at which the water passed 75 % and 25 %."""
        clock = Times(self.sheet, "at 75", "min")
        start = clock.next(row)
        clock.column = "at 25"
        end = clock.next(row)
        if start is None or end is None:
            return None
        if end == start:
            self.water.refuse(row, "at 25", "a time after that at 75 %")
            return None
        return end - start

    def _named(self, row: SheetRow, timed: bool) -> str | None:
        """The filling that a row belongs to; None, and a problem, where its rows lie apart."""
        filled = self.water.refilled(row)
        if "name" in self.sheet.columns:
            name = row["name"] or self._name
        else:
            name = str(len(self._lines) + 1) if filled or timed or not self._name else self._name
        if not name:
            self.water.refuse(row, "fill", "the number of the filling, such as 1")
            return None
        if name != self._name:
            if name in self._lines:
                self.water.refuse(
                    row, "fill", f"the rows of a fill together; line {self._lines[name]} begins it"
                )
                return None
            self._lines[name] = row.line
            self._name = name
            self.water.restart()
        return name


_READINGS: Mapping[str, Sequence[str]] = {
    "time": ("time", "clock", "clock time", "minutes", "min", "elapsed", "elapsed time"),
    "depth": ("depth", "water depth", "depth of water", "water"),
    "down": ("down", "down to water", "measured down", "depth to water", "stick to water"),
    "bottom": ("bottom", "down to bottom", "depth to bottom"),
    "refill": ("refill", "refilled"),
    "remark": ("remark", "remarks", "note", "notes"),
}
_PIT_HEADINGS: Mapping[str, Sequence[str]] = {
    "name": ("fill", "filling", "fill no", "filling no"),
    **_READINGS,
    "75 to 25": (
        "time 75 to 25",
        "75 to 25",
        "time 75% to 25%",
        "75% to 25%",
        "minutes from 75 % to 25 %",
    ),
    "full at": ("full at",),
    "at 75": ("at 75", "at 75 %", "at 75%"),
    "at 25": ("at 25", "at 25 %", "at 25%"),
    "effective depth": ("effective depth", "full depth", "depth of the water when full"),
    "length": ("length", "pit length"),
    "width": ("width", "pit width"),
}
_HOLE_HEADINGS: Mapping[str, Sequence[str]] = {
    **_READINGS,
    "number": ("reading", "no", "number"),
    "fall": ("fall", "drop"),
    "first depth": ("first depth", "first water depth"),
    "diameter": ("diameter", "hole diameter", "hole's diameter", "dia"),
}
_RECKONED = {"reckoned": ("minutes per inch", "minutes per 25 mm", "rate", "interval")}
# Beside the time by the clock, minutes are those since the reading before.
_MINUTES = ("minutes", "min")
_PIT_HEADER = (
    "a header row such as fill,time,depth,length,width or fill,time_75_to_25,effective_depth,"
    "length,width"
)
_HOLE_HEADER = "a header row such as time,depth,refill,diameter"


def read_soil(
    table: SoilTable | None,
    folder: Path,
    units: str,
    rules: Rules,
    complaints: Complaints,
    notices: list[Notice],
) -> Soil:
    """What is known of the soil, its sheets read; what is wrong with them goes to `complaints`.

    Parameters
    ----------
    table : SoilTable or None
        What ``[soil]`` says.
    folder : Path
        The site file's, which the sheets' names start from.
    units : {"ft", "m"}
    notices : list of Notice
        Takes what the sheets are to be warned of.
    """
    if table is None:
        return soil_record(None)
    pit = percolation = None
    try:
        if isinstance(table.trial_pit, str):
            test, said = read_trial_pit(folder / table.trial_pit, table.trial_pit, units, rules)
            pit = test.record
            notices += said
        elif isinstance(table.percolation, str):
            hole, said = read_percolation(
                folder / table.percolation, table.percolation, units, rules
            )
            percolation = hole.record
            notices += said
    except InputError as error:
        entry = "percolation" if table.trial_pit is None else "trial_pit"
        for problem in error.problems:
            if problem.line is None:
                complaints.add(("soil", entry), problem.expected)
            else:
                complaints.problems.append(problem)
    return soil_record(table, pit, percolation)


def read_trial_pit(
    path: Path, shown: str, units: str, rules: Rules | None = None
) -> tuple[TrialPitTest, list[Notice]]:
    """Read and reduce the sheet of a trial pit.

    Parameters
    ----------
    path : Path
        A CSV file with the columns fill, time and depth, or fill and time_75_to_25; and length,
        width and, where wanted, effective_depth.
    shown : str
        Its name as the user wrote it.
    units : {"ft", "m"}
        Unit of bare lengths, and of what messages show. Bare times are minutes.
    rules : Rules
        As `reduce_trial_pit` takes them.

    Returns
    -------
    test : TrialPitTest
    notices : list of Notice
        What was taken for granted in reading it, and the test's warnings.

    Raises
    ------
    InputError
        With one problem for each mistake, naming its line.
    """
    sheet, time_units = _sheet(path, shown, units, "fill", Form(_PIT_HEADINGS, {}, _PIT_HEADER))
    _need(sheet, ("length", "width"), _PIT_HEADER)
    reader = WaterRows(sheet, time_units)
    fillings = PitRows(reader, time_units).fillings() if not sheet.problems else []
    length, width = reader.size("length"), reader.size("width")
    depth = reader.size("effective depth", needed=not reader.levels)
    if sheet.problems or length is None or width is None:
        raise _refused(sheet)
    try:
        test = reduce_trial_pit(fillings, length, width, depth, rules)
    except ValueError as error:
        sheet.complain(
            sheet.rows[0].line,
            "",
            "",
            f"a trial pit with a filling whose water was read from 75 % to 25 % of the effective "
            f"depth ({error})",
        )
        raise InputError(sheet.problems) from None
    return test, [*sheet.notices, *(replace(told, file=shown) for told in test.warnings)]


def read_percolation(
    path: Path, shown: str, units: str, rules: Rules | None = None
) -> tuple[PercolationTest, list[Notice]]:
    """Read and reduce the sheet of a percolation test.

    Parameters
    ----------
    path : Path
        A CSV file with the columns time, depth (or down and bottom), diameter and, where the hole
        was refilled, refill.
    shown, units, rules
        As `read_trial_pit` has them.

    Returns
    -------
    test : PercolationTest
    notices : list of Notice
        What was taken for granted in reading it, which falls are used, and the test's warnings.

    Raises
    ------
    InputError
        With one problem for each mistake, naming its line.
    """
    form = Form(_HOLE_HEADINGS, _RECKONED, _HOLE_HEADER)
    sheet, time_units = _sheet(path, shown, units, "reading", form)
    _need(sheet, ("diameter",), _HOLE_HEADER)
    reader = WaterRows(sheet, time_units)
    readings = reader.hole() if not sheet.problems else []
    diameter = reader.size("diameter")
    if sheet.problems or diameter is None:
        raise _refused(sheet)
    try:
        test = reduce_percolation(readings, diameter, reader.step, rules)
    except ValueError as error:
        sheet.complain(
            sheet.rows[0].line, "", "", f"readings of water that falls in the hole ({error})"
        )
        raise InputError(sheet.problems) from None
    used = len(test.used)
    falls = {"falls": used + len(test.left_out), "used": used}
    which = [Notice("falls used" if test.steady else "one fall used", figures=falls)]
    told = (*(which if test.left_out else ()), *test.warnings)
    return test, [*sheet.notices, *(replace(each, file=shown) for each in told)]


def _sheet(
    path: Path, shown: str, units: str, what: str, form: Form
) -> tuple[Sheet, dict[str, str]]:
    text = read_text(path, shown, "a CSV file of a soil test in UTF-8")
    text, by_heading = take_time_units(text)
    sheet = Sheet(shown, units, what)
    header = next((line.lower() for line in text.splitlines() if line.strip(" ,;\t")), "")
    if "clock" in header and any(word in header for word in _MINUTES):
        clock = [name for name in form.headings["time"] if name not in _MINUTES]
        reckoned = (*form.ignored.get("reckoned", ()), *_MINUTES)
        form = Form({**form.headings, "time": clock}, {"reckoned": reckoned}, form.header)
    parse_sheet(text, sheet, form)
    by_column = {
        column: by_heading[heading]
        for column, headings in form.headings.items()
        for heading in headings
        if heading in by_heading
    }
    return sheet, by_column


def _need(sheet: Sheet, sizes: Sequence[str], header: str) -> None:
    """Complain about a header without the columns that the test needs."""
    columns = sheet.columns
    if sheet.problems or not columns:
        return
    down = "down" in columns and ("bottom" in columns or "first depth" in columns)
    read = "time" in columns and ("depth" in columns or down)
    passed = "75 to 25" in columns or {"at 75", "at 25"} <= set(columns)
    timed = passed and "effective depth" in columns
    if not (read or timed) or not set(sizes) <= set(columns):
        expected = f"{header}; with down in place of depth, a column bottom"
        sheet.complain(sheet.header_line, "header", ", ".join(columns), expected)
    elif "depth" in columns and "down" in columns:
        expected = "either depth, that of the water, or down, measured down to it"
        sheet.complain(sheet.header_line, "header", ", ".join(columns), expected)


def _refused(sheet: Sheet) -> InputError:
    return InputError(sorted(sheet.problems, key=lambda problem: problem.line or 0))
