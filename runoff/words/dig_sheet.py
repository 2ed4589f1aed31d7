"""The dig table as it is printed and taken to the trench, rounded so that its numbers close.

In: a `BuriedLine`, the site's units, how lengths are written. Out: text. Every number is a whole
count of one step (a quarter inch, a hundredth of a foot, a millimetre or a centimetre): ground,
invert, pipe, bedding and line of sight are rounded once, and all the rest is reckoned from those.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from runoff.discharge.ways import BuriedLine
from runoff.discharge.wording import fitting_name
from runoff.quantities import Shown
from runoff.site.model import Units
from runoff.words.designs import crossing_name

Style = Literal["tape", "tenths", "mm", "cm"]
DIG_COLUMNS = (
    "station",
    "ground",
    "invert",
    "dig",
    "cover",
    "rod at invert",
    "rod at bottom",
    "what is here",
)
_STEP_M = {"tape": 0.0254 / 4, "tenths": 0.3048 / 100, "mm": 0.001, "cm": 0.01}
_STYLES: dict[Units, tuple[Style, ...]] = {"ft": ("tape", "tenths"), "m": ("mm", "cm")}
_NO_ROD = "-"


@dataclass(frozen=True)
class DigSteps:
    """One row of the printed table in whole steps; the rods are None without a level.

    `cut` is from the ground to the trench's bottom.
    """

    station: int
    ground: int
    invert: int
    cut: int
    cover: int
    rod_at_invert: int | None
    rod_at_bottom: int | None
    what: str


@dataclass(frozen=True)
class Grade:
    """A stretch of one grade: from and to station and its fall in whole steps, slope in m/m."""

    start: int
    end: int
    fall: int
    slope: float


def dig_sheet(line: BuriedLine, units: Units, style: Style | None = None) -> list[str]:
    """The dig table as lines of text: what it rests on, its grades, and a row a station.

    Parameters
    ----------
    line : BuriedLine
    units : {"ft", "m"}
    style : {"tape", "tenths", "mm", "cm"}, optional
        Feet and inches to 1/4 in, or hundredths of a foot; metres to a millimetre or a centimetre.
        Where it is None, ``tape`` or ``mm``.

    Returns
    -------
    list of str
        Columns are two spaces or more apart. `dig` is from the ground to the trench's bottom;
        ``dig - cover`` is the pipe and bedding of the first line, ``invert + rod`` the line of
        sight, each exactly as printed.

    Raises
    ------
    ValueError
        Where the style is none of the unit's.
    """
    chosen = _style(units, style)
    cells = [DIG_COLUMNS, *dig_cells(line, units, chosen)]
    widths = [max(len(row[k]) for row in cells) for k in range(len(DIG_COLUMNS))]
    table = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in cells
    ]
    return [*dig_notes(line, units, chosen), "", *table]


def dig_cells(line: BuriedLine, units: Units, style: Style | None = None) -> list[tuple[str, ...]]:
    """The rows of the table as text, in the order of `DIG_COLUMNS`.

    Raises
    ------
    ValueError
        Where the style is none of the unit's.
    """
    chosen = _style(units, style)

    def rod(steps: int | None) -> str:
        return _NO_ROD if steps is None else written(steps, chosen)

    return [
        (
            written(row.station, chosen),
            written(row.ground, chosen),
            written(row.invert, chosen),
            written(row.cut, chosen),
            written(row.cover, chosen),
            rod(row.rod_at_invert),
            rod(row.rod_at_bottom),
            row.what,
        )
        for row in dig_steps(line, chosen)
    ]


def dig_figures(
    line: BuriedLine, units: Units, style: Style | None = None
) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """The same lengths as plain numbers in the site's unit, with the names of their columns.

    Each is the printed one to the fourth decimal; empty where there is none.

    Raises
    ------
    ValueError
        Where the style is none of the unit's.
    """
    chosen = _style(units, style)
    in_unit = _STEP_M[chosen] / (0.3048 if units == "ft" else 1.0)

    def figure(steps: int | None) -> str:
        return "" if steps is None else f"{steps * in_unit:.4f}"

    columns = tuple(f"{name}, {units}" for name in DIG_COLUMNS[:-1])
    rows = []
    for each in dig_steps(line, chosen):
        lengths = (each.station, each.ground, each.invert, each.cut, each.cover)
        rows.append(tuple(map(figure, (*lengths, each.rod_at_invert, each.rod_at_bottom))))
    return columns, rows


def dig_notes(line: BuriedLine, units: Units, style: Style | None = None) -> list[str]:
    """What stands over the table: pipe and bedding, the line of sight, each grade with its fall.

    Raises
    ------
    ValueError
        Where the style is none of the unit's.
    """
    chosen = _style(units, style)
    above, below = _around(line, chosen)
    notes = [f"Dig less cover (pipe and bedding): {written(above + below, chosen)}"]
    if line.instrument_m is not None:
        sight = round(line.instrument_m / _STEP_M[chosen])
        notes.append(f"Line of sight of the level: {written(sight, chosen)}")
    for grade in grades_of(line, chosen):
        notes.append(
            f"From {written(grade.start, chosen)} to {written(grade.end, chosen)} the invert falls "
            f"{written(grade.fall, chosen)}, {_percent(grade)}"
        )
    if line.profile.daylight_m is not None:
        notes.append("Cover below 0 is pipe that shows above the ground")
    return notes


def dig_steps(line: BuriedLine, style: Style) -> list[DigSteps]:
    """The rows of the table in whole steps of a style."""
    step = _STEP_M[style]
    shown = Shown("us" if style in _STYLES["ft"] else "metric")
    above, below = _around(line, style)
    sight = None if line.instrument_m is None else round(line.instrument_m / step)
    found = []
    for row in line.rows:
        ground, invert = round(row.ground_m / step), round(row.invert_m / step)
        found.append(
            DigSteps(
                round(row.station_m / step),
                ground,
                invert,
                ground - invert + below,
                ground - invert - above,
                None if sight is None else sight - invert,
                None if sight is None else sight - invert + below,
                _what(line, row.station_m, shown),
            )
        )
    return found


def grades_of(line: BuriedLine, style: Style) -> list[Grade]:
    """The stretches of one grade, between the rows at which the pipe's grade breaks."""
    rows = dig_steps(line, style)
    ends = [0.0, *line.profile.breaks_m, line.length_m]
    stations = [row.station_m for row in line.rows]
    at = sorted({min(range(len(rows)), key=lambda k: abs(stations[k] - end)) for end in ends})
    return [
        Grade(
            rows[a].station,
            rows[b].station,
            rows[a].invert - rows[b].invert,
            (line.rows[a].invert_m - line.rows[b].invert_m) / (stations[b] - stations[a]),
        )
        for a, b in pairwise(at)
        if rows[b].station > rows[a].station
    ]


def written(steps: int, style: Style) -> str:
    """A whole count of steps as text.

    Examples
    --------
    >>> written(7, "tape"), written(-17, "tape"), written(230, "tenths"), written(2857, "mm")
    ('1 3/4 in', '-4 1/4 in', '2.30 ft', '2.857 m')
    """
    if style == "tape":
        return Shown("us").height(steps * _STEP_M["tape"])
    if style == "tenths":
        return f"{_fixed(steps, 2)} ft"
    return f"{_fixed(steps, 3 if style == 'mm' else 2)} m"


def _fixed(steps: int, decimals: int) -> str:
    whole, part = divmod(abs(steps), 10**decimals)
    return f"{'-' if steps < 0 else ''}{whole}.{part:0{decimals}d}"


def _percent(grade: Grade) -> str:
    """The slope as laid, with so many figures that it gives the fall back to the step."""
    decimals = max(1, math.ceil(math.log10(grade.end - grade.start)) - 1)
    figures = f"{100 * grade.slope:.{decimals}f}".rstrip("0").rstrip(".")
    return f"{figures} %"


def _around(line: BuriedLine, style: Style) -> tuple[int, int]:
    """Steps from the invert up to the pipe's top, and down to the trench's bottom."""
    pipe, step = line.profile.pipe, _STEP_M[style]
    bedding = line.profile.limits.bedding_m
    return round((pipe.bore_m + pipe.wall_m) / step), round((pipe.wall_m + bedding) / step)


def _what(line: BuriedLine, station_m: float, shown: Shown) -> str:
    """Fittings, the ends of crossings, breaks of grade and the deepest place at a station."""

    def here(other: float) -> bool:
        return abs(other - station_m) < 2e-3

    names = [fitting_name(shown, each) for each in line.fittings if here(each.station_m)]
    for crossing in line.crossings:
        names += [f"{crossing_name(crossing)} from here"] if here(crossing.start_m) else []
        names += [f"{crossing_name(crossing)} to here"] if here(crossing.end_m) else []
    if any(here(station) for station in line.profile.breaks_m):
        names.append("grade changes")
    if here(max(line.rows, key=lambda row: row.cut_m).station_m):
        names.append("deepest place")
    return "; ".join(names)


def _style(units: Units, style: Style | None) -> Style:
    """The style asked for, or the unit's own."""
    allowed = _STYLES[units]
    if style is not None and style not in allowed:
        raise ValueError(f"style is {style!r}: expected {' or '.join(allowed)} for units {units!r}")
    return style or allowed[0]
