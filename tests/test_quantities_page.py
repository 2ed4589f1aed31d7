"""What the page on quantities says is what the parser does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from runoff import quantities
from runoff.quantities import QuantityError, parse_length

PAGE = (Path(__file__).parents[1] / "docs" / "quantities.md").read_text(encoding="utf-8")


def _rows(heading: str) -> list[tuple[str, str]]:
    table = PAGE.split(f"| {heading} |\n|---|---|\n")[1].split("\n\n")[0]
    return [tuple(cell.strip() for cell in row.strip("|").split("|")) for row in table.splitlines()]


@pytest.mark.parametrize(("text", "inches"), _rows("written | in inches"))
def test_lengths_on_the_page(text, inches):
    assert parse_length(text.strip("`")) == pytest.approx(float(inches) * 0.0254, abs=1e-12)


@pytest.mark.parametrize(("text", "reason"), _rows("written | reason"))
def test_refusals_on_the_page(text, reason):
    with pytest.raises(QuantityError) as refused:
        parse_length(text.strip("`"))
    assert reason in refused.value.reason


@pytest.mark.parametrize(("kind", "examples"), _rows("kind | such as"))
def test_other_quantities_on_the_page(kind, examples):
    word = kind.split(",")[0].replace("rain", "rate")
    parse = getattr(quantities, f"parse_{word}")
    for text in re.findall(r"`([^`]+)`", examples):
        assert parse(text if text[0].isdigit() else f"1 {text}") > 0
