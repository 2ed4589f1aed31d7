"""Sheets to fill in by hand in the field: what stands on each, and its page with room for a
pencil.

In: a `FieldSheet` and the paper. Out: a figure, or a PDF written whole. Everything is placed in mm
from the lower left corner.

In: the paper, and points to take heights at where they are known. Out: `FieldSheet`, which
`field_sheet_page` draws. Worked lines are in feet on letter paper and in meters on A4.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import matplotlib
import matplotlib.transforms
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from matplotlib.textpath import text_to_path

from runoff.quantities import Shown
from runoff.report.files import save_picture

ROW_MM = 7.6
"""A pencil writes in rows of 7 mm or more."""

_MM_PER_IN = 25.4
_POINTS_PER_IN = 72.0
_MARGIN = 15.0
_TEXT = 8.5
_SMALL = 7.5
_LINE = 4.0
_HEADING_MM = 10.0
_BLANK_MM = 9.0
_CELL_PAD = 1.2
_GAP_MM = 3.0
_WORKED_COLOR = "0.35"


def draw_field_sheet(sheet: FieldSheet, path: Path, paper: Paper = "letter") -> Path:
    """Write a sheet as a PDF of one page.

    Parameters
    ----------
    sheet : FieldSheet
    path : Path
        A ``.pdf`` file; a ``.png`` or ``.svg`` shows the same page.
    paper : {"letter", "a4"}

    Returns
    -------
    Path
    """
    # TrueType, so that its words can be searched and copied.
    with matplotlib.rc_context({"pdf.fonttype": 42}):
        return save_picture(compose_sheet(sheet, paper), path, sheet.title)


def in_pages(sheet: FieldSheet, paper: Paper = "letter") -> tuple[FieldSheet, ...]:
    """A sheet whose filled rows are more than one page holds, as several; else itself alone.

    Parameters
    ----------
    sheet : FieldSheet
    paper : {"letter", "a4"}

    Returns
    -------
    tuple of FieldSheet
        From the second on, file and title have a number.

    Examples
    --------
    >>> from runoff.report.field_sheets import field_sheets
    >>> [len(in_pages(sheet)) for sheet in field_sheets()]
    [1, 1, 1, 1, 1]
    """
    page, top = _begin(sheet, paper)
    lowest = _draw_check(page, sheet.check)
    room = _rows_between(top, lowest + _GAP_MM) - len(sheet.worked)
    starts = range(0, max(len(sheet.filled), 1), room)
    return tuple(
        replace(
            sheet,
            file=f"{sheet.file}_{number}" if start else sheet.file,
            title=f"{sheet.title}, page {number}" if start else sheet.title,
            filled=sheet.filled[start : start + room],
        )
        for number, start in enumerate(starts, start=1)
    )


def compose_sheet(sheet: FieldSheet, paper: Paper = "letter") -> Figure:
    """The page as a figure of the paper's size."""
    page, top = _begin(sheet, paper)
    lowest = _draw_check(page, sheet.check)
    _draw_table(page, top, lowest + _GAP_MM, sheet)
    return page.figure


def _begin(sheet: FieldSheet, paper: Paper) -> tuple[_Page, float]:
    """A page with all that stands over its table, and the height of the table's top."""
    width, height = PAPERS[paper]
    figure = Figure(figsize=(width / _MM_PER_IN, height / _MM_PER_IN))
    FigureCanvasAgg(figure)
    page = _Page(figure, width)
    y = height - _MARGIN
    page.text(_MARGIN, y - 5.0, sheet.title, fontsize=17, fontweight="bold")
    y = _draw_how(page, y - 11.5, sheet.how)
    return page, _draw_blanks(page, y - 2.0, sheet.blanks) - 4.0


def _rows_between(top: float, bottom: float) -> int:
    return int((top - bottom - _HEADING_MM) / ROW_MM)


class _Page:
    """Puts text, lines and boxes on a page, in mm."""

    def __init__(self, figure: Figure, width: float) -> None:
        self.figure = figure
        self.left, self.right = _MARGIN, width - _MARGIN
        self.mm = matplotlib.transforms.Affine2D().scale(1.0 / _MM_PER_IN) + figure.dpi_scale_trans

    def text(self, x: float, y: float, words: str, **style: Any) -> Text:
        return self.figure.text(x, y, words, transform=self.mm, parse_math=False, **style)

    def line(self, x: Sequence[float], y: Sequence[float], width: float = 0.5) -> None:
        self.figure.add_artist(
            Line2D(x, y, transform=self.mm, color="black", linewidth=width, solid_capstyle="butt")
        )

    def box(self, x: float, y: float, width: float, height: float, shade: str) -> None:
        self.figure.add_artist(
            Rectangle((x, y), width, height, transform=self.mm, facecolor=shade, edgecolor="none")
        )

    def width_of(self, words: str, size: float) -> float:
        """How wide words come out, mm."""
        width, _, _ = text_to_path.get_text_width_height_descent(
            words, FontProperties(size=size), ismath=False
        )
        return float(width) * _MM_PER_IN / _POINTS_PER_IN

    def wrapped(self, words: str, width: float, size: float) -> list[str]:
        """Words in lines that are no wider than so many mm."""
        lines = [""]
        for word in words.split():
            longer = f"{lines[-1]} {word}".strip()
            if lines[-1] and self.width_of(longer, size) > width:
                lines.append(word)
            else:
                lines[-1] = longer
        return lines


def _draw_how(page: _Page, y: float, steps: Sequence[str]) -> float:
    for number, step in enumerate(steps, start=1):
        page.text(page.left, y, f"{number}", fontsize=_TEXT, fontweight="bold", va="top")
        for line in page.wrapped(step, page.right - page.left - 5.0, _TEXT):
            page.text(page.left + 5.0, y, line, fontsize=_TEXT, va="top")
            y -= _LINE
        y -= 0.6
    return y


def _draw_blanks(page: _Page, y: float, blanks: Sequence[str]) -> float:
    """Two blanks to a line, each with a rule to write on."""
    half = (page.right - page.left) / 2.0
    for place, words in enumerate(blanks):
        x = page.left + (place % 2) * half
        if place % 2 == 0:
            y -= _BLANK_MM
        page.text(x, y, words, fontsize=_TEXT)
        start = x + page.width_of(words, _TEXT) + 2.0
        page.line([start, x + half - (4.0 if place % 2 == 0 else 0.0)], [y - 0.8, y - 0.8])
    return y


def _draw_check(page: _Page, words: str) -> float:
    """What to do at the end, along the foot of the page; the height of its top."""
    lines = page.wrapped(words, page.right - page.left, _TEXT)
    y = _MARGIN + _LINE * len(lines)
    for place, line in enumerate(lines):
        page.text(page.left, y - _LINE * place, line, fontsize=_TEXT, va="top")
    return y


def _draw_table(page: _Page, top: float, bottom: float, sheet: FieldSheet) -> None:
    edges = _edges(page, sheet)
    rows = _rows_between(top, bottom)
    page.box(page.left, top - _HEADING_MM, page.right - page.left, _HEADING_MM, "0.90")
    for column, left, right in zip(sheet.columns, edges[:-1], edges[1:], strict=True):
        page.text(
            (left + right) / 2.0,
            top - _HEADING_MM / 2.0,
            column.heading,
            fontsize=_SMALL,
            fontweight="bold",
            ha="center",
            va="center",
            linespacing=1.0,
        )
    y = top - _HEADING_MM
    count = len(sheet.worked)
    page.box(page.left, y - count * ROW_MM, page.right - page.left, count * ROW_MM, "0.97")
    for cells in sheet.worked:
        _draw_row(page, edges, y, cells, style="italic", color=_WORKED_COLOR)
        y -= ROW_MM
    page.text(
        page.right + 1.0,
        top - _HEADING_MM - count * ROW_MM / 2.0,
        "example",
        fontsize=6.5,
        rotation=90,
        va="center",
        color=_WORKED_COLOR,
    )
    for cells in sheet.filled[: rows - count]:
        _draw_row(page, edges, y, cells)
        y -= ROW_MM
    _draw_rules(page, edges, top, rows)


def _edges(page: _Page, sheet: FieldSheet) -> list[float]:
    """Where the columns begin, and the last one's end."""
    whole = sum(column.width for column in sheet.columns)
    edges = [page.left]
    for column in sheet.columns:
        edges.append(edges[-1] + column.width / whole * (page.right - page.left))
    return edges


def _draw_row(
    page: _Page, edges: Sequence[float], top: float, cells: Sequence[str], **style: Any
) -> None:
    for cell, left, right in zip(cells, edges[:-1], edges[1:], strict=True):
        if not cell:
            continue
        words = _fitted(page, cell, right - left - 2.0 * _CELL_PAD)
        page.text(
            left + _CELL_PAD, top - ROW_MM / 2.0, words, fontsize=_SMALL, va="center", **style
        )


def _fitted(page: _Page, words: str, width: float) -> str:
    """The words on one line, cut short where they are too long for it."""
    if page.width_of(words, _SMALL) <= width:
        return words
    while words and page.width_of(f"{words}…", _SMALL) > width:
        words = words[:-1]
    return f"{words.rstrip()}…"


def _draw_rules(page: _Page, edges: Sequence[float], top: float, rows: int) -> None:
    heights = [top, *(top - _HEADING_MM - row * ROW_MM for row in range(rows + 1))]
    for place, y in enumerate(heights):
        page.line([edges[0], edges[-1]], [y, y], 1.0 if place in (0, 1, rows + 1) else 0.4)
    for place, x in enumerate(edges):
        outer = place in (0, len(edges) - 1)
        page.line([x, x], [heights[-1], top], 1.0 if outer else 0.4)


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
    return Shown("us").far(feet * _METRES_PER_FOOT)


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
