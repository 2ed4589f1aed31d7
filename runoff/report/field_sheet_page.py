"""One page for each field sheet: vector, with room for a pencil.

In: a `FieldSheet` and the paper. Out: a figure, or a PDF written whole. Everything is placed in mm
from the lower left corner.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import matplotlib
import matplotlib.transforms
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from matplotlib.textpath import text_to_path

from runoff.report.field_sheets import PAPERS, FieldSheet, Paper
from runoff.report.pictures import save_picture

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
