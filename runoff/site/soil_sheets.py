"""Field sheets of soil tests, read from CSV: a trial pit, and a percolation test.

In: the sheets that ``[soil]`` names. Out: the tests reduced, every mistake with its row. Depths are
those of the water, or are measured down to it from a mark over the hole, whose distance down to the
bottom stands in the column ``bottom``. Sizes stand once, in the first row.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from runoff.quantities import format_length
from runoff.rules import Rules
from runoff.site.complaints import Complaints
from runoff.site.files import read_text
from runoff.site.model import Soil
from runoff.site.percolation import PercolationTest, WaterReading, reduce_percolation
from runoff.site.problems import InputError
from runoff.site.sheet_times import Times, read_moment, take_time_units
from runoff.site.sheets import Form, Reading, Sheet, SheetRow, parse_sheet
from runoff.site.soil_tables import SoilTable, soil_record
from runoff.site.trial_pits import Filling, TrialPitTest, reduce_trial_pit

_READINGS: Mapping[str, Sequence[str]] = {
    "time": ("time", "clock", "clock time", "minutes", "min", "elapsed", "elapsed time"),
    "depth": ("depth", "water depth", "depth of water", "water"),
    "down": ("down", "down to water", "measured down", "depth to water"),
    "bottom": ("bottom", "down to bottom", "depth to bottom"),
    "refill": ("refill", "refilled"),
    "remark": ("remark", "remarks", "note", "notes"),
}
_PIT_HEADINGS: Mapping[str, Sequence[str]] = {
    "name": ("fill", "filling", "fill no", "filling no"),
    **_READINGS,
    "75 to 25": ("time 75 to 25", "75 to 25", "time 75% to 25%", "75% to 25%"),
    "effective depth": ("effective depth", "full depth"),
    "length": ("length", "pit length"),
    "width": ("width", "pit width"),
}
_HOLE_HEADINGS: Mapping[str, Sequence[str]] = {
    **_READINGS,
    "diameter": ("diameter", "hole diameter", "dia"),
}
_PIT_HEADER = (
    "a header row such as fill,time,depth,length,width or fill,time_75_to_25,effective_depth,"
    "length,width"
)
_HOLE_HEADER = "a header row such as time,depth,refill,diameter"
_YES = ("yes", "y", "x", "refill", "refilled", "true", "1")
_NO = ("", "no", "n", "-", "false", "0")
_SAME_M = 1e-3


def read_soil(
    table: SoilTable | None,
    folder: Path,
    units: str,
    rules: Rules,
    complaints: Complaints,
    notices: list[str],
) -> Soil:
    """What is known of the soil, its sheets read; what is wrong with them goes to `complaints`.

    Parameters
    ----------
    table : SoilTable or None
        What ``[soil]`` says.
    folder : Path
        The site file's, which the sheets' names start from.
    units : {"ft", "m"}
    notices : list of str
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
) -> tuple[TrialPitTest, list[str]]:
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
    notices : list of str
        What was taken for granted in reading it, and the test's warnings.

    Raises
    ------
    InputError
        With one problem for each mistake, naming its line.
    """
    sheet, time_units = _sheet(path, shown, units, "fill", Form(_PIT_HEADINGS, {}, _PIT_HEADER))
    _need(sheet, ("length", "width"), ("75 to 25", "effective depth"), _PIT_HEADER)
    reader = _Water(sheet, time_units)
    fillings = _PitReader(reader, time_units).fillings() if not sheet.problems else []
    length, width = reader.size("length"), reader.size("width")
    depth = reader.size("effective depth", needed="75 to 25" in sheet.columns and not reader.levels)
    if sheet.problems or length is None or width is None:
        raise _refused(sheet)
    try:
        test = reduce_trial_pit(fillings, length, width, depth, rules, _system(units))
    except ValueError as error:
        sheet.complain(
            sheet.rows[0].line,
            "",
            "",
            f"a trial pit with a filling whose water was read from 75 % to 25 % of the effective "
            f"depth ({error})",
        )
        raise InputError(sheet.problems) from None
    return test, [*sheet.notices, *(f"{shown}: {warning}" for warning in test.warnings)]


def read_percolation(
    path: Path, shown: str, units: str, rules: Rules | None = None
) -> tuple[PercolationTest, list[str]]:
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
    notices : list of str
        What was taken for granted in reading it, which falls are used, and the test's warnings.

    Raises
    ------
    InputError
        With one problem for each mistake, naming its line.
    """
    form = Form(_HOLE_HEADINGS, {}, _HOLE_HEADER)
    sheet, time_units = _sheet(path, shown, units, "reading", form)
    _need(sheet, ("diameter",), (), _HOLE_HEADER)
    reader = _Water(sheet, time_units)
    readings = reader.hole() if not sheet.problems else []
    diameter = reader.size("diameter")
    if sheet.problems or diameter is None:
        raise _refused(sheet)
    try:
        test = reduce_percolation(readings, diameter, reader.step, rules, _system(units))
    except ValueError as error:
        sheet.complain(
            sheet.rows[0].line, "", "", f"readings of water that falls in the hole ({error})"
        )
        raise InputError(sheet.problems) from None
    said = [_told(test)] if test.left_out else []
    return test, [*sheet.notices, *(f"{shown}: {line}" for line in (*said, *test.warnings))]


def _sheet(
    path: Path, shown: str, units: str, what: str, form: Form
) -> tuple[Sheet, dict[str, str]]:
    text = read_text(path, shown, "a CSV file of a soil test in UTF-8")
    text, by_heading = take_time_units(text)
    sheet = Sheet(shown, units, what)
    parse_sheet(text, sheet, form)
    by_column = {
        column: by_heading[heading]
        for column, headings in form.headings.items()
        for heading in headings
        if heading in by_heading
    }
    return sheet, by_column


def _need(sheet: Sheet, sizes: Sequence[str], instead: Sequence[str], header: str) -> None:
    """Complain about a header without the columns that the test needs."""
    columns = sheet.columns
    if sheet.problems or not columns:
        return
    read = "time" in columns and ("depth" in columns or {"down", "bottom"} <= set(columns))
    timed = bool(instead) and set(instead) <= set(columns)
    if not (read or timed) or not set(sizes) <= set(columns):
        expected = f"{header}; with down in place of depth, a column bottom"
        sheet.complain(sheet.header_line, "header", ", ".join(columns), expected)
    elif "depth" in columns and "down" in columns:
        expected = "either depth, that of the water, or down, measured down to it"
        sheet.complain(sheet.header_line, "header", ", ".join(columns), expected)


def _refused(sheet: Sheet) -> InputError:
    return InputError(sorted(sheet.problems, key=lambda problem: problem.line or 0))


def _system(units: str) -> str:
    return "us" if units == "ft" else "metric"


def _told(test: PercolationTest) -> str:
    """Which falls are used, in words."""
    used, all_of = len(test.used), len(test.used) + len(test.left_out)
    which = "the one with the least rate" if not test.steady else f"the last {used}, which agree"
    return f"of {all_of} falls of the water {which}, {'are' if used > 1 else 'is'} used"


class _Water:
    """Takes the readings of water of one sheet, row by row."""

    def __init__(self, sheet: Sheet, time_units: Mapping[str, str]) -> None:
        self.sheet = sheet
        self.times = Times(sheet, "time", time_units.get("time", "min"))
        self.step = 0.0
        self.levels = False
        self._bottom = self.size("bottom") if "down" in sheet.columns else None
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
        if found is None and needed and sheet.rows and not sheet.problems:
            self.refuse(sheet.rows[0], column, f'the {column} in the first row, such as "2 ft"')
        return found

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
            self.refuse(
                row,
                column,
                f"water that does not rise, as it does after line {last[1].line}; where it was "
                "filled up write yes in a column refill",
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
            found = self.level(row, filled)
            if found is None:
                continue
            if readings and not filled and found[0] == readings[-1].seconds:
                self.refuse(row, "time", "a time after that of the reading before")
            readings.append(WaterReading(*found, refilled=filled))
        return readings

    def is_empty(self, row: SheetRow) -> bool:
        """Whether a row holds no reading at all, only sizes or a remark."""
        return not any(row[column] for column in ("time", "depth", "down", "75 to 25", "refill"))

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
            bottom = format_length(self._bottom, _system(self.sheet.units))
            self.refuse(row, column, f"no more than the {bottom} down to the bottom")
            return None
        return max(depth, 0.0)


class _PitReader:
    """Gathers the rows of a trial pit into fillings."""

    def __init__(self, water: _Water, time_units: Mapping[str, str]) -> None:
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
        timed = bool(row["75 to 25"])
        name = self._named(row, timed)
        if name is None:
            return
        if timed and (row["time"] or name in self.readings or name in self.timed):
            self.water.refuse(
                row, "75 to 25", "for each fill either that time alone, or readings of the water"
            )
        elif timed:
            moment = read_moment(self.sheet, row, "75 to 25", self.unit)
            if moment is not None and (moment.by_clock or moment.seconds == 0.0):
                self.water.refuse(row, "75 to 25", 'how long it took, above zero, such as "67 min"')
            elif moment is not None:
                self.timed[name] = moment.seconds
        elif name in self.timed:
            self.water.refuse(row, "time", f"no readings; line {self._lines[name]} has its time")
        else:
            found = self.water.level(row, filled=name not in self.readings)
            kept = self.readings.setdefault(name, [])
            if found is not None:
                kept.append(found)

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
