"""Any lot goes through `inspect`, `plan` and both forms of the report, and each page reads well.

`RUNOFF_GENERATED_LOTS=200` in the environment prints more generated lots than a usual run does.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
import shapely

import runoff
from runoff.planning import Plan
from runoff.report import plan_text, summary_text, write_report
from runoff.site import Site
from tests.lots import pits
from tests.lots.planned import planned
from tests.lots.records import grid_positions, spots_at
from tests.lots.surveys import a_listed_lot
from tests.report.printed_pages import pages

COUNT = int(os.environ.get("RUNOFF_GENERATED_LOTS", "2"))
# What no reader should meet: a missing number, Python's own words, an amount of nothing.
ABSURD = re.compile(
    r"\b(nan|inf|None|True|False|0 in back|along 0 (in|mm)|side \d side|\de-\d\d"
    r"|0\.0000\d* (cu ft|m3|in|ft|m)(?!/))\b|\?[.:]"
)
HALF_WORD = re.compile(r"(\w+) \.\.\.")


def on_level_sand() -> Site:
    """Dead level ground around a slab: nothing falls, nothing ponds, a pit takes the water."""
    site = pits.sandy_site()
    at = grid_positions(36.0, 30.0, 4.0) - [18.0, 15.0]
    free = ~shapely.contains_xy(site.buildings[0].outline, *at.T)
    return replace(site, spot_heights=spots_at(at[free], lambda x, y: 0.0 * x))


def without_heights_behind(seed: int) -> Site:
    """A lot on which nobody measured behind the house."""
    site = a_listed_lot(seed)
    rear = site.buildings[0].outline.bounds[3]
    measured = tuple(each for each in site.spot_heights if each.y < rear + 1.0)
    return replace(site, spot_heights=measured)


LOTS: dict[str, Callable[[], Plan]] = {
    **{f"generated {seed}": lambda seed=seed: planned(seed) for seed in range(COUNT)},
    "level sand": lambda: runoff.plan(on_level_sand()),
    "listed": lambda: runoff.plan(a_listed_lot(1)),
    "nothing behind": lambda: runoff.plan(without_heights_behind(0)),
}


@pytest.mark.parametrize("name", LOTS)
def test_a_lot_is_inspected_planned_and_printed_in_both_forms(name: str, tmp_path: Path) -> None:
    plan = LOTS[name]()
    findings = plan.findings
    json.dumps([findings.to_dict(), plan.to_dict()], allow_nan=False)
    whole = plan_text(plan) + summary_text(findings)
    for form in ("plan", "inspection"):
        path = write_report(tmp_path / f"{form}.pdf", findings, plan, form=form)
        printed = pages(path)
        assert len(printed) >= 3
        for page in printed:
            assert not ABSURD.search(page), ABSURD.search(page)
        for word in HALF_WORD.findall(printed[0]):
            assert re.search(rf"\b{word}\b", whole), word
        assert_on_the_page(path)


def assert_on_the_page(path: Path) -> None:
    """No character that is printed lies off its sheet."""
    with pypdfium2.PdfDocument(path) as document:
        for page in document:
            text = page.get_textpage()
            boxes = np.array([text.get_charbox(k) for k in range(text.count_chars())])
            boxes = boxes[np.ptp(boxes[:, [0, 2]], axis=1) > 0]
            assert (boxes[:, :2] > 0).all()
            assert (boxes[:, 2:] < page.get_size()).all()
