"""Field sheets of soil tests, read from CSV: a trial pit, and a percolation test.

In: the sheets that ``[soil]`` names. Out: the tests reduced, every mistake with its row. Depths are
those of the water, or are measured down to it from a mark over the hole, whose distance down to the
bottom stands in the column ``bottom``. Sizes stand once, in the first row.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from runoff.quantities import system_of
from runoff.rules import Rules
from runoff.site.complaints import Complaints
from runoff.site.files import read_text
from runoff.site.model import Soil
from runoff.site.percolation import PercolationTest, reduce_percolation
from runoff.site.problems import InputError
from runoff.site.sheet_times import take_time_units
from runoff.site.sheets import Form, Sheet, parse_sheet
from runoff.site.soil_rows import PitRows, WaterRows
from runoff.site.soil_tables import SoilTable, soil_record
from runoff.site.trial_pits import TrialPitTest, reduce_trial_pit

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
    _need(sheet, ("length", "width"), _PIT_HEADER)
    reader = WaterRows(sheet, time_units)
    fillings = PitRows(reader, time_units).fillings() if not sheet.problems else []
    length, width = reader.size("length"), reader.size("width")
    depth = reader.size("effective depth", needed=not reader.levels)
    if sheet.problems or length is None or width is None:
        raise _refused(sheet)
    try:
        test = reduce_trial_pit(fillings, length, width, depth, rules, system_of(units))
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
    form = Form(_HOLE_HEADINGS, _RECKONED, _HOLE_HEADER)
    sheet, time_units = _sheet(path, shown, units, "reading", form)
    _need(sheet, ("diameter",), _HOLE_HEADER)
    reader = WaterRows(sheet, time_units)
    readings = reader.hole() if not sheet.problems else []
    diameter = reader.size("diameter")
    if sheet.problems or diameter is None:
        raise _refused(sheet)
    try:
        test = reduce_percolation(readings, diameter, reader.step, rules, system_of(units))
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


def _told(test: PercolationTest) -> str:
    """Which falls are used, in words."""
    used, all_of = len(test.used), len(test.used) + len(test.left_out)
    if not test.steady:
        return f"of {all_of} falls of the water the one with the least rate is used"
    return f"of {all_of} falls of the water the last {used}, which agree, are used"
