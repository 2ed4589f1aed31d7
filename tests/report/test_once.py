"""Full texts say one thing once, and all that a downspout's own text says is in them."""

from __future__ import annotations

from collections import Counter

import pytest

import runoff
from runoff.report import Bullets, Heading, Paragraph, Steps, plan_summary, summary
from runoff.report.check_summary import check_summary
from runoff.report.once import without
from runoff.report.only import named_plan
from tests.lots.planned import planned, site_of

FEW_WORDS = 6
# Figures that stand beside each way and each dig table, as cells do in a table.
FIGURES = ("Ways that can be built here, the simplest first", "Dig table")
LOTS = ("sample", "hillside", "flat_clay", 11, 20)


def told(blocks) -> list[str]:
    """The lines that are no heading and no row of a table."""
    lines, heading = [], ""
    for block in blocks:
        match block:
            case Heading(text):
                heading = text
            case Bullets(own) if heading not in FIGURES:
                lines += own
            case Paragraph(text):
                lines.append(text)
            case Steps(steps):
                lines += [line for step in steps for line in step.lines]
    return lines


@pytest.mark.parametrize("lot", LOTS)
def test_no_line_of_more_than_a_few_words_is_said_twice(lot) -> None:
    plan = planned(lot)
    for blocks in (
        plan_summary(plan),
        summary(plan.findings),
        check_summary(runoff.check(site_of(lot))),
    ):
        counted = Counter(line for line in told(blocks) if len(line.split()) > FEW_WORDS)
        assert [line for line, times in counted.items() if times > 1] == []


@pytest.mark.parametrize("lot", LOTS)
def test_all_that_is_told_of_one_downspout_stands_in_the_full_text(lot) -> None:
    plan = planned(lot)
    full = " ".join(told(plan_summary(plan)))
    alone = named_plan(plan, None)
    for one in plan.recommendations:
        for line in told(alone[one.downspout]):
            # Behind the names of the ways, which may stand with those of other downspouts.
            _, colon, reason = line.partition(": ")
            assert line in full or (colon and reason in full)


def test_lines_without_a_heading_that_are_told_elsewhere_leave_nothing() -> None:
    line = "Dig it by hand where the roots of the old tree lie."
    assert without([Bullets([line])], {line}) == ([], [""])
    assert without([Heading("Mind"), Bullets([line])], {line}) == ([], ["Mind"])
