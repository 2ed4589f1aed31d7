"""A metric lot is told in metric everywhere, a US one in feet and inches; rain as rain is told."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

import runoff
from runoff.flow.model import PathEnd
from runoff.inspection import Findings
from runoff.planning import Plan
from runoff.report.plan_summary import plan_text
from runoff.report.printed.method import method_blocks
from runoff.report.summary import summary_text
from runoff.report.words import end_phrase
from runoff.rules import RULES
from runoff.sample import sample_folder
from tests.report.metric_sample import metric_sample

IMPERIAL = re.compile(
    r"\d[ -]?(?:ft|in|gal|gpm|psi|yd|cfs)\b|\b(?:feet|inch(?:es)?|gallons?|psi|sq ft|cu ft)\b"
)
METRIC = re.compile(r"\d ?(?:mm|cm|m|m2|m3|L/s)\b")


@cache
def planned(folder: Path | None) -> tuple[Findings, Plan]:
    path = sample_folder() / "site.toml" if folder is None else metric_sample(folder)
    plan = runoff.plan(runoff.read_site(path))
    return plan.findings, plan


@pytest.fixture(scope="module")
def metric(tmp_path_factory):
    return planned(tmp_path_factory.mktemp("metric"))


def told(findings: Findings, plan: Plan) -> str:
    """What the terminal says, and how the printed report says that it was made."""
    blocks = [str(block) for block in method_blocks(findings, plan)]
    # Sources and what rules govern are quoted with their own figures.
    quoted = [text for rule in RULES.values() for text in (rule.governs, rule.source)]
    printed = "\n".join(blocks)
    for text in sorted(quoted, key=len, reverse=True):
        printed = printed.replace(text, "")
    return "\n".join([summary_text(findings, 400), plan_text(plan, width=400), printed])


def test_a_metric_lot_is_told_in_metric(metric):
    found = [line for line in told(*metric).splitlines() if IMPERIAL.search(line)]
    assert not found, "\n".join(found[:5])[:2000]


def test_a_us_lot_is_told_in_feet_and_inches():
    findings, plan = planned(None)
    texts = [summary_text(findings, 400), plan_text(plan, width=400)]
    found = [line for text in texts for line in text.splitlines() if METRIC.search(line)]
    assert not found, "\n".join(found[:5])[:2000]


@pytest.mark.parametrize(("inches", "said"), [(4.1, "4.1 in"), (4.0, "4 in"), (39.37, "39.4 in")])
def test_a_storm_is_told_in_decimals(inches, said):
    findings, _ = planned(None)
    storm = replace(findings.site.storm, depth=inches * 0.0254)
    there = replace(findings, site=replace(findings.site, storm=storm))
    assert f"storm of {said};" in summary_text(there)


def test_what_is_assumed_of_rain_is_in_the_lot_s_units(tmp_path):
    path = metric_sample(tmp_path)
    text = path.read_text(encoding="utf-8").replace('[rain]\ntable = "rain.csv"\n', "")
    path.write_text(text, encoding="utf-8")
    site = runoff.read_site(path)
    assert "depth 102 mm assumed" in site.storm.basis
    assert "203 mm/h assumed" in site.rains.gutter.basis


def test_a_rule_set_by_the_user_is_told_as_it_is_written():
    findings, plan = planned(None)
    assert plan.site.rules["runoff_coefficient_roof"] == 0.95
    rules = plan.site.rules.with_overrides({"runoff_coefficient_roof": 0.9})
    assert rules["runoff_coefficient_roof"] == 0.9
    there = replace(findings, site=replace(findings.site, rules=rules))
    blocks = " ".join(str(block) for block in method_blocks(there, None))
    assert "0.9 (set in the site file; default 0.95)" in blocks


def test_a_side_without_a_name_is_said_once():
    end = PathEnd("lot side", "side 1", 0.0, 0.0, "street")
    assert end_phrase(end) == "over side 1, into the street"
