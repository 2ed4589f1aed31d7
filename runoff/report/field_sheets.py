"""Sheets to fill in by hand in the field: what stands on each, and how it is worked out.

In: the paper, and points to take heights at where they are known. Out: `FieldSheet`, which
`field_sheet_page` draws. Worked lines are in feet on letter paper and in meters on A4.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from runoff.quantities import format_length

Paper = Literal["letter", "a4"]
_METRES_PER_FOOT = 0.3048
PAPERS: dict[Paper, tuple[float, float]] = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
"""Width and height, mm (ANSI/ASME Y14.1 size A; ISO 216)."""


@dataclass(frozen=True)
class PointRow:
    """A point to take a height at, as it stands in a sheet of spot heights."""

    name: str
    x: str
    y: str
    where: str


@dataclass(frozen=True)
class Column:
    """A column: its heading, and its width as a share beside the others'."""

    heading: str
    width: float


@dataclass(frozen=True)
class FieldSheet:
    """One sheet.

    Parameters
    ----------
    file : str
        Name of its file without the suffix.
    title : str
    how : tuple of str
        What to do, step by step.
    blanks : tuple of str
        What is written once, above the table.
    columns : tuple of Column
    worked : tuple of tuple of str
        Rows that show how it is filled in.
    check : str
        What to reckon or to look at before leaving.
    filled : tuple of tuple of str
        Rows that begin with what is known already.
    """

    file: str
    title: str
    how: tuple[str, ...]
    blanks: tuple[str, ...]
    columns: tuple[Column, ...]
    worked: tuple[tuple[str, ...], ...]
    check: str
    filled: tuple[tuple[str, ...], ...] = ()


def field_sheets(
    paper: Paper = "letter", points: Sequence[PointRow] = ()
) -> tuple[FieldSheet, ...]:
    """The five sheets: spot heights, level notes, string level, percolation test, trial pit.

    Parameters
    ----------
    paper : {"letter", "a4"}
    points : sequence of PointRow
        Points to put on the sheet of spot heights; `field_sheet_page.in_pages` makes room for all.

    Examples
    --------
    >>> [sheet.file for sheet in field_sheets()]
    ['spot_heights', 'level_notes', 'string_level', 'percolation_test', 'trial_pit']
    """
    feet = paper == "letter"
    return (
        _spot_heights(feet, points),
        _level_notes(feet),
        _string_level(feet),
        _percolation(feet),
        _trial_pit(feet),
    )


def points_of(text: str, in_feet: bool = False) -> tuple[PointRow, ...]:
    """The points of a CSV sheet of spot heights, for a sheet to print; none where it is another.

    Where bare figures are `in_feet`, those with a fraction are written in feet and inches, as a
    tape shows them. Of a remark the first part is kept, as there is no room for more.

    Examples
    --------
    >>> points_of("name,x,y,z,remark\\nC1,0,0,,front left corner; downspout")
    (PointRow(name='C1', x='0', y='0', where='front left corner'),)
    >>> points_of("name,x,y,z,remark\\nD1,20,26.3333,,downspout\\n", True)[0].y
    '26 ft 4 in'
    """
    try:
        rows = list(csv.DictReader(io.StringIO(text, newline=""), restval=""))
    except csv.Error:
        return ()
    return tuple(
        PointRow(
            row["name"],
            _on_tape(row.get("x", ""), in_feet),
            _on_tape(row.get("y", ""), in_feet),
            _first_part(row),
        )
        for row in rows
        if row.get("name")
    )


def _on_tape(cell: str, in_feet: bool) -> str:
    try:
        feet = float(cell)
    except ValueError:
        return cell
    if not in_feet or feet.is_integer() or not math.isfinite(feet):
        return cell
    return format_length(feet * _METRES_PER_FOOT, "us", 1)


def _first_part(row: dict[str, str]) -> str:
    return row.get("remark", "").split(";")[0]


def _spot_heights(feet: bool, points: Sequence[PointRow]) -> FieldSheet:
    worked = ("P1", "12 ft 6 in", "-10 ft", "99.42", "lawn, 10 ft off the front wall")
    if not feet:
        worked = ("P1", "3.80", "-3.05", "30.31", "lawn, 3 m off the front wall")
    return FieldSheet(
        file="spot_heights",
        title="Spot heights",
        how=(
            "Name each point. Start with the corners of the house, at the wall and "
            f"{'10 ft' if feet else '3 m'} out.",
            "From the front left corner of the house measure right along the front wall and back "
            "at a right angle to it. To the left and to the front are minus.",
            "Hold the rod on the ground, not on a stone, a step or a tuft. Heights come from the "
            "sheet of level notes or of the string level.",
            "Take more points where the ground bends: top and foot of a bank or curb, along a "
            "swale, at the edge of a drive.",
        ),
        blanks=("Lot", "Date", "Taken by", "Weather, last rain"),
        columns=(
            Column("Point", 1.1),
            Column("Right (x)", 1.7),
            Column("Back (y)", 1.7),
            Column("Height (z)", 1.6),
            Column("What is there", 4.6),
        ),
        worked=(worked,),
        check="Type the rows into spots.csv: name,x,y,z,remark. runoff check then draws them and "
        "names heights to look at again.",
        filled=tuple((p.name, p.x, p.y, "", p.where) for p in points),
    )


def _level_notes(feet: bool) -> FieldSheet:
    worked: tuple[tuple[str, ...], ...] = (
        ("nail", "4.35", "", "", "104.35", "100.00", "benchmark"),
        ("P1", "", "5.10", "", "", "99.25", "lawn"),
        ("T1", "6.02", "", "3.20", "107.17", "101.15", "turning point"),
    )
    if not feet:
        worked = (
            ("nail", "1.326", "", "", "31.326", "30.000", "benchmark"),
            ("P1", "", "1.554", "", "", "29.772", "lawn"),
            ("T1", "1.835", "", "0.975", "32.186", "30.351", "turning point"),
        )
    return FieldSheet(
        file="level_notes",
        title="Level notes",
        how=(
            "Backsight: the rod on a point of known height. Height of instrument = height + "
            "backsight.",
            "Intermediate: the rod on any other point. Foresight: the last one before the level "
            "is moved. Height = height of instrument - reading.",
            "To move the level, read a foresight on a firm turning point, move, and read a "
            "backsight on the same point.",
            "End with a foresight on the benchmark: it shows what the run is worth. Keep back and "
            "fore distances alike.",
        ),
        blanks=("Lot", "Date", "Level, rod", "Benchmark and its height"),
        columns=(
            Column("Point", 1.3),
            Column("Backsight", 1.4),
            Column("Inter-\nmediate", 1.4),
            Column("Foresight", 1.4),
            Column("Height of\ninstrument", 1.5),
            Column("Height", 1.5),
            Column("Remark", 2.6),
        ),
        worked=worked,
        check="Sum of backsights ______ less sum of foresights ______ = ______ must equal the last "
        "height less the first ______. Type the rows into levels.csv.",
    )


def _string_level(feet: bool) -> FieldSheet:
    worked = ("P1", "A", "10 ft", "12 1/2 in", "12 in", "12 1/4 in", "98.98", "lawn")
    if not feet:
        worked = ("P1", "A", "3.05 m", "318 mm", "304 mm", "311 mm", "29.69", "lawn")
    height = "100.00 ft" if feet else "30.00 m"
    return FieldSheet(
        file="string_level",
        title="String level",
        how=(
            "Tie a string at a point of known height, such as a nail in the door frame; pull it "
            "tight and bring it level with the string level hung at mid-length.",
            "At each point measure straight down from the string to the ground.",
            "Hang the level the other way round, bring the string level again and measure again. "
            "The mean is right; half the difference is the level's own error.",
            "Keep strings short: no longer than "
            f"{'25 ft' if feet else '8 m'}. They sag, and the bubble is coarse.",
        ),
        blanks=("Lot", "Date", "String A at height", "String B at height"),
        columns=(
            Column("Point", 1.1),
            Column("String", 0.9),
            Column("Distance\nfrom the end", 1.5),
            Column("Down", 1.4),
            Column("Level\nturned", 1.4),
            Column("Mean", 1.4),
            Column("Height", 1.4),
            Column("Remark", 2.0),
        ),
        worked=(worked,),
        check=f"Height = string - mean; the worked line is for a string at {height}. Where the two "
        "readings of a point differ much more than those of the others, measure it again. Type the "
        "rows into levels.csv: line, point, down, reversed, distance, height.",
    )


def _percolation(feet: bool) -> FieldSheet:
    worked: tuple[tuple[str, ...], ...] = (
        ("1", "9:00", "", "8 in", "", "", "filled to 6 in"),
        ("2", "9:30", "30", "9 1/4 in", "1 1/4 in", "24", ""),
    )
    unit = "Minutes\nper inch"
    if not feet:
        unit = "Minutes\nper 25 mm"
        worked = (
            ("1", "9:00", "", "200 mm", "", "", "filled to 150 mm"),
            ("2", "9:30", "30", "230 mm", "30 mm", "25", ""),
        )
    deep, water = ("6 to 12 in", "6 in") if feet else ("15 to 30 cm", "15 cm")
    return FieldSheet(
        file="percolation_test",
        title="Percolation test",
        how=(
            f"Where a pit may come, bore a hole {deep} across, its bottom as deep as the pit's. "
            "Roughen the sides, take the crumbs out. Have buried utilities marked first.",
            "Soak: fill it and keep it filled for four hours, better overnight. Test the wet hole.",
            f"Fill to {water} above the bottom. From a fixed stick across the hole measure down to "
            "the water, and note the time.",
            "Read every 30 minutes, every 10 where it falls fast; fill up again after each. Go on "
            "until three falls in a row are alike: those count.",
        ),
        blanks=("Lot and hole", "Date", "Hole's diameter", "Stick to bottom"),
        columns=(
            Column("Reading", 1.0),
            Column("Clock\ntime", 1.3),
            Column("Minutes", 1.1),
            Column("Stick to\nwater", 1.5),
            Column("Fall", 1.4),
            Column(unit, 1.3),
            Column("Remark", 2.8),
        ),
        worked=worked,
        check="Type the rows into percolation.csv: time, down (stick to water), refill, and in the "
        "first row diameter and bottom. A test in the wet season says more than one in the dry.",
    )


def _trial_pit(feet: bool) -> FieldSheet:
    worked = ("1", "9:00", "9:14", "10:21", "67", "water 27 in, then 9 in deep of 36 in")
    if not feet:
        worked = ("1", "9:00", "9:14", "10:21", "67", "water 49 cm, then 16 cm deep of 65 cm")
    return FieldSheet(
        file="trial_pit",
        title="Trial pit",
        how=(
            "Where a pit may come, dig a trial pit as deep, with straight sides. Have buried "
            "utilities marked first. Nobody enters a pit that could cave in; spoil stays "
            f"{'2 ft' if feet else '60 cm'} back from the edge.",
            "Note length, width and the depth of the water when full to the inlet's level. Mark "
            "75 % and 25 % of that depth on a stick.",
            "Fill it quickly. Note the time when it is full, and when the water passes 75 % and "
            "25 %.",
            "Fill it three times, on the same day or on days that follow. The slowest counts "
            "(the method of BRE Digest 365).",
        ),
        blanks=("Lot and pit", "Date", "Length x width", "Depth of the water when full"),
        columns=(
            Column("Filling", 1.0),
            Column("Full at", 1.4),
            Column("At 75 %", 1.4),
            Column("At 25 %", 1.4),
            Column("Minutes from\n75 % to 25 %", 1.8),
            Column("Remark", 3.6),
        ),
        worked=(worked,),
        check="Type the rows into trial_pit.csv: fill, time_75_to_25, and in the first row "
        "effective_depth, length and width. Groundwater that comes in is a result too.",
    )
