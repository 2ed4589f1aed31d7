"""A metric lot is told in metric everywhere, a US one in feet and inches; rain as rain is told."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path
from typing import Literal

import pytest
from rich.console import Console

import runoff
from runoff.flow import PathEnd
from runoff.inspection import Findings
from runoff.planning import Plan
from runoff.quantities import Shown
from runoff.report import (
    PaperName,
    end_phrase,
    method_blocks,
    on_terminal,
    plan_text,
    sheets_of,
    summary_text,
    write_report,
)
from runoff.report.check_summary import check_summary
from runoff.rules import RULES
from runoff.words import drainage_basis, run_length, storm_basis
from tests.lots.metric import metric_sample
from tests.lots.planned import planned, planned_from
from tests.report.drawn_sheets import texts_on
from tests.report.printed_pages import pages, squeezed

IMPERIAL = re.compile(
    r"\d[ -]?(?:ft|in|gal|gpm|psi|yd|cfs)\b|\b(?:feet|inch(?:es)?|gallons?|psi|sq ft|cu ft)\b"
)
METRIC = re.compile(r"\d ?(?:mm|cm|m|m2|m3|L/s)\b")


@pytest.fixture(scope="module")
def metric():
    plan = planned_from(metric_sample)
    return plan.findings, plan


def lines_of(findings: Findings, plan: Plan) -> list[str]:
    """What the terminal says of a lot: `check`, `inspect`, and `plan` with its dig tables."""
    console = Console(width=400, file=io.StringIO(), record=True)
    console.print(on_terminal(check_summary(runoff.check(findings.site))))
    texts = [console.export_text(), summary_text(findings, 400), plan_text(plan, width=400)]
    return [line for text in texts for line in without_sources(text).splitlines()]


def without_sources(text: str) -> str:
    """A text without the sources of rules, which keep their own figures."""
    for source in sorted({squeezed(rule.source) for rule in RULES.values()}, key=len, reverse=True):
        # A source may be broken anywhere over lines.
        text = re.sub(r"\s*".join(map(re.escape, source)), "", text)
    return text


def words_drawn(findings: Findings, plan: Plan, paper: PaperName) -> list[str]:
    """Every text of every drawing but its ticks."""
    return [
        words for sheet in sheets_of(findings, plan, paper) for words, _ in texts_on(sheet.figure)
    ]


def printed_pages(path: Path, findings: Findings, plan: Plan | None) -> list[str]:
    """The pages of a report without the sources of rules, which keep their own figures."""
    form: Literal["plan", "inspection"] = "inspection" if plan is None else "plan"
    write_report(path, findings, plan, form, "a4")
    return [without_sources(page) for page in pages(path)]


def foreign(texts: list[str], units: re.Pattern[str]) -> list[str]:
    """Where a text speaks in the other system's units, with what stands around it."""
    return [
        text[max(0, hit.start() - 60) : hit.end() + 30]
        for text in texts
        for hit in units.finditer(text)
    ]


def test_a_metric_lot_is_told_in_metric(metric):
    assert foreign(lines_of(*metric), IMPERIAL) == []


def test_a_metric_lot_is_drawn_in_metric(metric):
    assert foreign(words_drawn(*metric, "a4"), IMPERIAL) == []


@pytest.mark.parametrize("form", ["plan", "inspection"])
def test_every_page_of_a_metric_lot_s_report_is_metric(metric, form, tmp_path):
    findings, plan = metric
    path = tmp_path / "report.pdf"
    found = printed_pages(path, findings, plan if form == "plan" else None)
    assert len(found) > 5
    assert foreign(found, IMPERIAL) == []


def test_a_us_lot_is_told_and_drawn_in_feet_and_inches():
    plan = planned("sample")
    findings = plan.findings
    assert foreign(lines_of(findings, plan), METRIC) == []
    assert foreign(words_drawn(findings, plan, "letter"), METRIC) == []


def test_a_length_is_spelled_one_way(metric):
    """Millimeters below a meter, else meters to the centimeter; places on the plan in meters."""
    place = r"\(-?[\d.]+ m, -?[\d.]+ m\)|\b[xy] -?[\d.]+ m"
    lines = [re.sub(place, "", line) for line in lines_of(*metric)]
    assert foreign(lines, re.compile(r"\d cm\b|\b0\.\d\d m\b(?!/s)")) == []
    far = metric[0].site.rules["foundation_reach"]
    assert run_length(metric[0].site, far) == Shown("metric").far(far) == "3.05 m"


@pytest.mark.parametrize(("inches", "said"), [(4.1, "4.1 in"), (4.0, "4 in"), (39.37, "39.4 in")])
def test_a_storm_is_told_in_decimals(inches, said):
    findings = planned("sample").findings
    storm = replace(findings.site.storm, depth=inches * 0.0254)
    there = replace(findings, site=replace(findings.site, storm=storm))
    assert f"storm of {said};" in summary_text(there)


def test_what_is_assumed_of_rain_is_in_the_lot_s_units(tmp_path):
    path = metric_sample(tmp_path)
    text = path.read_text(encoding="utf-8").replace('[rain]\ntable = "rain.csv"\n', "")
    path.write_text(text, encoding="utf-8")
    site = runoff.read_site(path)
    assert "depth 102 mm assumed" in storm_basis(site)
    assert "203 mm/h assumed" in drainage_basis(site, site.rains.gutter)


def test_a_rule_set_by_the_user_is_told_as_it_is_written():
    plan = planned("sample")
    findings = plan.findings
    assert plan.site.rules["runoff_coefficient_roof"] == 0.95
    rules = plan.site.rules.with_overrides({"runoff_coefficient_roof": 0.9})
    assert rules["runoff_coefficient_roof"] == 0.9
    there = replace(findings, site=replace(findings.site, rules=rules))
    blocks = " ".join(str(block) for block in method_blocks(there, None))
    assert "0.9 (set in the site file; default 0.95)" in blocks


def test_a_side_without_a_name_is_said_once():
    end = PathEnd("lot side", "side 1", 0.0, 0.0, "street")
    assert end_phrase(end) == "over side 1, into the street"
