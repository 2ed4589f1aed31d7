"""The printed report of a plan or of an inspection, as one PDF.

In: findings, and the plan where there is one. Out: a file, written whole or not at all.
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any, Literal

from runoff.inspection import Findings
from runoff.planning import Plan
from runoff.report.blocks import Block, Heading, NewPage, Paragraph, table
from runoff.report.drawings.all import drawings_of
from runoff.report.drawings.sheets import Drawing
from runoff.report.files import TEXT_MARK, whole_file
from runoff.report.findings_full import low_spots
from runoff.report.names import printable
from runoff.report.plan_full import everything, quantity_words
from runoff.report.printed.appendix import appendix_blocks
from runoff.report.printed.downspouts import SHOPPING, downspout_blocks
from runoff.report.printed.drawn import Drawn
from runoff.report.printed.first_page import ROOMS, inspection_page, plan_page
from runoff.report.printed.method import method_blocks
from runoff.report.printed.observations import (
    NOTHING_GIVEN,
    Observation,
    action_words,
    observations_of,
)
from runoff.report.printed.photographs import photographs_of
from runoff.report.printed.setting import leveled, set_for_print, words
from runoff.report.printed.typesetting import typeset
from runoff.report.printed.walls import wall_blocks
from runoff.words.dig_sheet import Style

Form = Literal["plan", "inspection"]
Paper = Literal["letter", "a4"]
FORMS: tuple[Form, ...] = ("plan", "inspection")
PAPERS: tuple[Paper, ...] = ("letter", "a4")
DISCLAIMER = (
    "Reckoned from the heights and notes of the survey; no survey by a licensed surveyor and no "
    "engineer's design. The local code and a licensed professional decide."
)
_PAPER_NAMES = {"letter": "us-letter", "a4": "a4"}
# Margins that leave the width that drawings are made for.
_MARGINS_MM = {"letter": 19.05, "a4": 18.0}
_FORM_TITLES = {"plan": "drainage plan", "inspection": "inspection of the ground's drainage"}
_ACTIONS = (
    "Correct: it is wrong now and can be put right. Monitor: look at it in heavy rain, or measure "
    "it better. Refer: somebody else must look at it, such as a surveyor, an engineer or the town."
)


@dataclass(frozen=True)
class _Content:
    """What is set: the first page from full to short, the pages behind it, pictures by file."""

    first: list[list[Block]]
    blocks: list[Block]
    pictures: Mapping[str, bytes]


def write_report(
    path: Path | str,
    findings: Findings,
    plan: Plan | None = None,
    form: Form = "plan",
    paper: Paper = "letter",
    style: Style | None = None,
) -> Path:
    """Print a report.

    Parameters
    ----------
    path : Path or str
        A ``.pdf`` file; an older one stays as it is unless the new one is whole.
    findings : Findings
    plan : Plan, optional
        That answers the findings; the plan's form needs it, the inspection's leaves it out.
    form : {"plan", "inspection"}
    paper : {"letter", "a4"}
    style : {"tape", "tenths", "mm", "cm"}, optional
        How dig tables are written.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    ValueError
        Where the suffix, form or paper is none of these, or a plan's form is given no plan.

    Examples
    --------
    >>> write_report("report.txt", None)
    Traceback (most recent call last):
    ValueError: report.txt: a report is a .pdf file
    """
    path = Path(path)
    if path.suffix.lower() != ".pdf":
        raise ValueError(f"{path.name}: a report is a .pdf file")
    if form not in FORMS or paper not in PAPERS:
        raise ValueError(f"form {form!r} on paper {paper!r}: expected {FORMS} on {PAPERS}")
    if form == "inspection":
        content = _inspection(findings, paper)
    elif plan is None:
        raise ValueError("the form 'plan' prints a plan: give one, or take the form 'inspection'")
    else:
        content = _plan(findings, plan, paper, style)
    printed = typeset(_data(findings, form, paper, content), content.pictures)
    with whole_file(path) as temporary:
        temporary.write_bytes(printed)
    return path


def _data(findings: Findings, form: Form, paper: Paper, content: _Content) -> dict[str, Any]:
    name = printable(findings.site.name)
    return {
        "title": f"{name}: {_FORM_TITLES[form]}",
        "running": f"{words(findings.site.name)}: {_FORM_TITLES[form]}",
        "author": printable(findings.site.observer),
        "mark": TEXT_MARK,
        "form": form,
        "paper": _PAPER_NAMES[paper],
        "margin": _MARGINS_MM[paper],
        "disclaimer": DISCLAIMER,
        "first": [set_for_print(page) for page in content.first],
        "blocks": set_for_print(leveled(content.blocks)),
    }


def _plan(findings: Findings, plan: Plan, paper: Paper, style: Style | None) -> _Content:
    names = [one.downspout for one in plan.recommendations]
    drawn = Drawn(_drawings(findings, plan, paper), names)
    photographs = photographs_of(findings.site)
    chapters = [
        downspout_blocks(plan, number, each, drawn, style)
        for number, each in enumerate(plan.recommendations, start=1)
    ]
    blocks = [
        *drawn.plan(),
        NewPage(),
        Heading("Downspout by downspout", 1),
        *([] if names else [Paragraph("No downspout is given.")]),
        *(block for chapter in chapters for block in chapter),
        *_shopping(plan),
        *wall_blocks(plan, drawn),
        *photographs.blocks,
        *method_blocks(findings, plan),
        *appendix_blocks(findings.site),
    ]
    pictures = {**drawn.pictures, **photographs.pictures}
    first = [plan_page(findings, plan, room) for room in ROOMS]
    return _Content(first, blocks, pictures)


def _drawings(findings: Findings, plan: Plan | None, paper: Paper) -> tuple[Drawing, ...]:
    with warnings.catch_warnings():
        # A sign that the font lacks takes another font's place for it; nothing to tell the user.
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        return drawings_of(findings, plan, paper)


def _shopping(plan: Plan) -> list[Block]:
    rows = [(item.name, quantity_words(item), item.use) for item in everything(plan)]
    title = Heading("Shopping list, all of it", 1)
    return [title, *(table(SHOPPING, rows) or [Paragraph("Nothing is to be bought.")])]


def _inspection(findings: Findings, paper: Paper) -> _Content:
    observed = observations_of(findings)
    drawn = Drawn(_drawings(findings, None, paper), ())
    photographs = photographs_of(findings.site)
    blocks = [
        *drawn.plan(),
        NewPage(),
        Heading("What was found", 1),
        Paragraph(_ACTIONS),
        *_observed(observed),
        *low_spots(findings),
        *drawn.walls(),
        *photographs.blocks,
        *method_blocks(findings, None),
        *appendix_blocks(findings.site),
    ]
    pictures = {**drawn.pictures, **photographs.pictures}
    first = [inspection_page(findings, observed, room) for room in ROOMS]
    return _Content(first, blocks, pictures)


def _observed(observed: tuple[Observation, ...]) -> list[Block]:
    """A table for each kind of thing looked at."""
    columns = ("where", "observed and measured", "verdict", "what it implies", "do")
    blocks: list[Block] = []
    for chapter, group in groupby(observed, key=lambda one: one.chapter):
        rows = [
            (one.where, one.measured, one.verdict, one.implies, action_words(one.action))
            for one in group
        ]
        blocks += [Heading(chapter), *table(columns, rows)]
    return blocks or [Paragraph(NOTHING_GIVEN)]
