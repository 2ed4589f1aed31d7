"""Tables in print: each row in its own place, over as many pages as it takes."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pypdfium2
import pytest

from runoff.report import Block, OnePage, Paragraph, Table, set_for_print, typeset
from tests.report.printed_pages import tags


def set_alone(folder: Path, blocks: list[Block]) -> Path:
    """A report of these blocks and nothing else."""
    data = {
        "title": "tables",
        "running": "tables",
        "author": "",
        "mark": "",
        "form": "plan",
        "paper": "us-letter",
        "margin": 20,
        "disclaimer": "",
        "blocks": set_for_print([OnePage([[Paragraph("first page")]]), *blocks]),
    }
    path = folder / "tables.pdf"
    path.write_bytes(typeset(data, {}))
    return path


def places(path: Path, mark: str) -> list[tuple[int, float]]:
    """Page and height (points) of every word that begins with a mark."""
    found = []
    with pypdfium2.PdfDocument(path) as document:
        for number, page in enumerate(document):
            text = page.get_textpage()
            whole = text.get_text_range()
            begins = [i for i in range(len(whole)) if whole.startswith(mark, i)]
            found += [(number, round(text.get_charbox(i)[1], 1)) for i in begins]
    return found


@pytest.mark.parametrize("rows", [1, 20, 100, 200])
@pytest.mark.parametrize("words", [3, 60, 400])
def test_every_row_has_its_own_place(tmp_path: Path, rows: int, words: int) -> None:
    long = "word " * (words // 5) + "end"
    block = Table(["wall", "found", "do"], [(f"@{n}", long, "monitor") for n in range(rows)])
    path = set_alone(tmp_path, [*[Paragraph("text before")] * 25, block])
    found = places(path, "@")
    assert len(found) == rows
    assert max(Counter(found).values()) == 1
    assert all(y > 20 for _, y in found), "no row below the foot of its page"


def test_a_short_table_is_not_parted(tmp_path: Path) -> None:
    block = Table(["wall", "found"], [(f"@{n}", "falls") for n in range(12)])
    for lines in range(20, 40, 4):
        path = set_alone(tmp_path, [*[Paragraph("text before")] * lines, block])
        assert len({page for page, _ in places(path, "@")}) == 1


def test_the_head_of_a_table_is_said_again_on_every_page(tmp_path: Path) -> None:
    block = Table(["wall", "%found"], [(f"@{n}", "falls well " * 20) for n in range(60)])
    path = set_alone(tmp_path, [block])
    pages = {page for page, _ in places(path, "@")}
    assert len(pages) > 1
    assert {page for page, _ in places(path, "%")} == pages
    assert sum(each["/S"] == "/Table" for each in tags(path)) == 1
