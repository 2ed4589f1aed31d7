"""The field sheets: the paper's size, one page, words that can be searched, room for a pencil.

The pages are read back with pypdf. Worked lines are reckoned again here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import get_args

import pytest
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.text import Text
from pypdf import PdfReader

from runoff.cli.status import run
from runoff.quantities import parse_length
from runoff.report import (
    PAPERS,
    ROW_MM,
    FieldSheet,
    Paper,
    PointRow,
    compose_sheet,
    draw_field_sheet,
    in_pages,
    is_own,
    points_of,
)
from runoff.report.field_sheets import field_sheets

MM = 25.4
SHEETS = [(paper, place) for paper in get_args(Paper) for place in range(5)]
# Each too long for its column, one of them by far: cells are cut letter by letter.
LONG = tuple(
    PointRow(f"M{k}", "12 ft 6 in", "-10 ft", "10 ft out from the middle of the wall" + words)
    for k, words in enumerate((" of the house" * 9, *59 * (" of the house" * 2,)))
)


@cache
def pages_of_many(paper: Paper) -> tuple[tuple[FieldSheet, Figure], ...]:
    """The pages of more points than one page holds, each with its drawing."""
    return tuple(
        (page, compose_sheet(page, paper)) for page in in_pages(field_sheets(paper, LONG)[0], paper)
    )


def texts(figure: Figure) -> Iterator[tuple[str, float, float, float, float]]:
    """Every text of the page with its box in mm: left, right, bottom, top."""
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    for text in figure.findobj(Text):
        if text.get_text():
            box = text.get_window_extent(renderer)
            scale = MM / figure.dpi
            yield text.get_text(), box.x0 * scale, box.x1 * scale, box.y0 * scale, box.y1 * scale


@pytest.mark.parametrize(("paper", "place"), SHEETS)
def test_one_page_of_the_papers_size_with_words_to_search(
    tmp_path: Path, paper: Paper, place: int
) -> None:
    sheet = field_sheets(paper)[place]
    path = draw_field_sheet(sheet, tmp_path / "sheet.pdf", paper)
    pages = PdfReader(path).pages
    assert len(pages) == 1
    size = [float(length) / 72 * MM for length in pages[0].mediabox[2:]]
    assert size == pytest.approx(PAPERS[paper], abs=0.2)
    words = " ".join(pages[0].extract_text().split())
    assert sheet.title in words
    for blank in sheet.blanks:
        assert blank in words
    for cells in sheet.worked:
        for cell in cells:
            assert cell in words
    fonts = pages[0]["/Resources"]["/Font"]  # type: ignore[index]
    kinds = {font.get_object()["/Subtype"] for font in fonts.values()}
    assert "/Type3" not in kinds
    assert is_own(path)


@pytest.mark.parametrize(("paper", "place"), SHEETS)
def test_nothing_runs_off_the_page_and_rows_leave_room(paper: Paper, place: int) -> None:
    sheet = field_sheets(paper, LONG)[place]
    figure = pages_of_many(paper)[0][1] if place == 0 else compose_sheet(sheet, paper)
    width, height = PAPERS[paper]
    for words, left, right, bottom, top in texts(figure):
        assert 10 < left < right < width - 9, words
        assert 8 < bottom < top < height - 10, words
    rules = sorted(
        {
            round(float(line.get_ydata()[0]), 3)
            for line in figure.findobj(Line2D)
            if line.get_xdata()[0] == 15.0 and line.get_ydata()[0] == line.get_ydata()[1]
        }
    )
    table = [b - a for a, b in pairwise(rules)][: len(rules) - 3]
    assert min(table) >= 7.0 - 1e-6
    assert len(table) > 15
    assert ROW_MM >= 7.0


@pytest.mark.parametrize("paper", get_args(Paper))
def test_filled_cells_stay_within_their_columns(paper: Paper) -> None:
    figure = pages_of_many(paper)[0][1]
    width = PAPERS[paper][0]
    cut = [box for box in texts(figure) if box[0].endswith("…")]
    assert len(cut) > 15
    assert all(right < width - 15.0 for _, _, right, _, _ in cut)


@pytest.mark.parametrize("paper", get_args(Paper))
def test_points_that_one_page_does_not_hold_go_on_the_next(paper: Paper) -> None:
    pages = pages_of_many(paper)
    assert len({page.file for page, _ in pages}) == len(pages) > 1
    on_pages = [
        {words for words, *_ in texts(figure)} & {p.name for p in LONG} for _, figure in pages
    ]
    assert set.union(*on_pages) == {p.name for p in LONG}
    assert sum(map(len, on_pages)) == len(LONG)


def figures(sheet: FieldSheet, row: int, *columns: int) -> list[float]:
    return [float(sheet.worked[row][column]) for column in columns]


@pytest.mark.parametrize("paper", get_args(Paper))
def test_worked_level_notes_by_height_of_instrument(paper: Paper) -> None:
    sheet = field_sheets(paper)[1]
    backsight, instrument, benchmark = figures(sheet, 0, 1, 4, 5)
    assert instrument == pytest.approx(benchmark + backsight)
    reading, height = figures(sheet, 1, 2, 5)
    assert height == pytest.approx(instrument - reading)
    again, foresight, second, turning = figures(sheet, 2, 1, 3, 4, 5)
    assert turning == pytest.approx(instrument - foresight)
    assert second == pytest.approx(turning + again)


@pytest.mark.parametrize(("paper", "unit", "string"), [("letter", 0.3048, 100), ("a4", 1, 30)])
def test_worked_string_level(paper: Paper, unit: float, string: float) -> None:
    sheet = field_sheets(paper)[2]
    down, turned, mean = (parse_length(cell) for cell in sheet.worked[0][3:6])
    assert mean == pytest.approx((down + turned) / 2)
    assert float(sheet.worked[0][6]) == pytest.approx(string - mean / unit, abs=0.005)
    assert f"string at {string}.00" in sheet.check


@pytest.mark.parametrize(("paper", "per"), [("letter", 0.0254), ("a4", 0.025)])
def test_worked_percolation(paper: Paper, per: float) -> None:
    sheet = field_sheets(paper)[3]
    first, second = (parse_length(row[3]) for row in sheet.worked)
    fall = parse_length(sheet.worked[1][4])
    assert fall == pytest.approx(second - first)
    assert float(sheet.worked[1][5]) == pytest.approx(30 / (fall / per))
    assert (minutes("9:30") - minutes("9:00")) == 30


def minutes(clock: str) -> int:
    hours, rest = clock.split(":")
    return 60 * int(hours) + int(rest)


@pytest.mark.parametrize("paper", get_args(Paper))
def test_worked_trial_pit(paper: Paper) -> None:
    """75 % and 25 % of the depth, to the nearest whole inch or centimeter."""
    _, full, upper, lower, took, remark = field_sheets(paper)[4].worked[0]
    assert minutes(full) < minutes(upper)
    assert minutes(lower) - minutes(upper) == int(took)
    high, low, depth = (int(figure) for figure in re.findall(r"\d+", remark))
    assert high == round(0.75 * depth)
    assert low == round(0.25 * depth)


def test_points_of_a_sheet() -> None:
    text = 'name,x,y,z,remark\nC1,0,-2.5,,"corner; foot"\n,1,2,3,\nC2,1,2\n'
    assert points_of(text) == (
        PointRow("C1", "0", "-2.5", "corner"),
        PointRow("C2", "1", "2", ""),
    )
    # 26.3333 ft is 26 ft and 0.3333 x 12 = 4.0 in; -17.85 ft is -(17 ft 10.2 in).
    in_feet = points_of("name,x,y\nD1,26.3333,-17.85\nC1,40,9 in\n", in_feet=True)
    assert [(p.x, p.y) for p in in_feet] == [("26 ft 4 in", "-17 ft 10 in"), ("40", "9 in")]
    assert points_of("") == ()
    assert points_of("a,b\n1,2\n") == ()


def test_the_command_writes_five_files_again_and_never_over_others(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "spots.csv").write_text("name,x,y,z,remark\nQ17,1,2,,under the maple\n")
    assert run(["sheets", str(tmp_path)]) == 0
    names = sorted(path.name for path in tmp_path.glob("*.pdf"))
    assert names == sorted(f"{sheet.file}.pdf" for sheet in field_sheets())
    said = capsys.readouterr().out
    assert all(name in said for name in names)
    words = PdfReader(tmp_path / "spot_heights.pdf").pages[0].extract_text()
    assert "Q17" in words
    assert "under the maple" in words
    assert run(["sheets", str(tmp_path), "--paper", "a4"]) == 0
    box = PdfReader(tmp_path / "trial_pit.pdf").pages[0].mediabox
    assert float(box[3]) / 72 * MM == pytest.approx(297, abs=0.2)
    (tmp_path / "trial_pit.pdf").write_bytes(b"mine")
    assert run(["sheets", str(tmp_path)]) == 2
    assert (tmp_path / "trial_pit.pdf").read_bytes() == b"mine"
    assert run(["sheets", str(tmp_path), "--paper", "legal"]) == 2
    assert run(["sheets", str(tmp_path / "spots.csv")]) == 2
