"""Every block is set for print, every block of a text on a terminal too, and no word is lost."""

from __future__ import annotations

import json
import re
from typing import get_args

import pytest

from runoff.report import (
    Beside,
    Block,
    Bullets,
    Figure,
    Heading,
    LeftOver,
    NewPage,
    Notice,
    OnePage,
    Pairs,
    Paragraph,
    Photographs,
    Step,
    Steps,
    Strong,
    Table,
    as_text,
    on_terminal,
    set_for_print,
)

PICTURE = Figure("w1.svg", (10.0, 20.0), "w2", "w3")
EVERY = [
    Heading("w4"),
    Paragraph("w5"),
    Strong("w6"),
    Notice("w7"),
    NewPage(),
    Bullets(["w8", "w9"]),
    Steps([Step("w10", ["w11", "w12"])]),
    Pairs([("w13", "w14")]),
    Table(["w15", "w16"], [("w17", "w18")], frozenset(["w16"])),
    PICTURE,
    Photographs([PICTURE]),
    Beside([Paragraph("w19")], [Paragraph("w20")]),
    OnePage([[Paragraph("w21")]], [Paragraph("w22")], "key"),
    LeftOver([Paragraph("w23")], "key"),
]
ON_PAPER_ALONE = (NewPage, Figure, Photographs, Beside, OnePage, LeftOver)


def test_there_is_one_of_each():
    assert {type(block) for block in EVERY} == set(get_args(Block))


def test_print_keeps_every_word():
    said = json.dumps(set_for_print(EVERY))
    assert set(re.findall(r"w\d+", said)) >= {f"w{n}" for n in range(1, 24)}


def test_a_terminal_keeps_every_word_and_refuses_what_only_paper_shows():
    told = [block for block in EVERY if not isinstance(block, ON_PAPER_ALONE)]
    assert set(re.findall(r"w\d+", as_text(told, 80))) == {f"w{n}" for n in range(4, 19)}
    for block in EVERY:
        if isinstance(block, ON_PAPER_ALONE):
            with pytest.raises(TypeError):
                on_terminal([block])


def test_markup_and_colors_stay_text():
    assert "[bold]x[/bold]" in as_text([Bullets(["[bold]x[/bold]"])], 80)


def test_numbers_are_never_cut():
    """A column of numbers is broken where there is no room for it, and loses no sign."""
    table = Table(["at", "dig"], [("100 ft 3 1/2 in", "1 ft 2 in")], frozenset(["at", "dig"]))
    for width in (12, 16, 30):
        said = as_text([table], width)
        assert "…" not in said
        assert sorted(re.sub(r"\s", "", said)) == sorted("atdig100ft31/2in1ft2in")
