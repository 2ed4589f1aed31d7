"""The printed report of a plan or of an inspection, as one PDF.

In: findings, and the plan where there is one. Out: a file, written whole or not at all.
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from runoff.inspection import Findings
from runoff.planning import Plan
from runoff.report.blocks import Block, LeftOver, OnePage
from runoff.report.drawings.all import drawings_of
from runoff.report.drawings.sheets import Drawing
from runoff.report.files import TEXT_MARK, whole_file
from runoff.report.names import printable
from runoff.report.printed.first_page import ROOMS, inspection_page, plan_page
from runoff.report.printed.jobs import Drawn, choices, job_sheets, shopping_blocks
from runoff.report.printed.method import appendix_blocks, method_blocks
from runoff.report.printed.observations import found_blocks, observations_of, wall_blocks
from runoff.report.printed.photographs import photographs_of
from runoff.report.printed.setting import leveled, set_for_print, typeset, words
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
_BOUGHT = "all that is bought"
_FORM_TITLES = {"plan": "drainage plan", "inspection": "inspection of the ground's drainage"}


@dataclass(frozen=True)
class _Content:
    """What is set: blocks, and pictures by file."""

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
        "blocks": set_for_print(leveled(content.blocks)),
    }


def _plan(findings: Findings, plan: Plan, paper: Paper, style: Style | None) -> _Content:
    drawn = Drawn(_drawings(findings, plan, paper))
    photographs = photographs_of(findings.site)
    sheets = job_sheets(plan, drawn, style)
    bought = shopping_blocks(plan)
    blocks = [
        OnePage([plan_page(findings, plan, room, drawn) for room in ROOMS], bought, _BOUGHT),
        *drawn.show("plan of the work", captioned=True),
        *sheets,
        LeftOver(bought, _BOUGHT),
        *choices(plan),
        *wall_blocks(plan, drawn),
        *photographs.blocks,
        *method_blocks(findings, plan),
        *appendix_blocks(findings.site),
    ]
    return _Content(blocks, {**drawn.pictures, **photographs.pictures})


def _drawings(findings: Findings, plan: Plan | None, paper: Paper) -> tuple[Drawing, ...]:
    with warnings.catch_warnings():
        # A sign that the font lacks takes another font's place for it; nothing to tell the user.
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        return drawings_of(findings, plan, paper)


def _inspection(findings: Findings, paper: Paper) -> _Content:
    observed = observations_of(findings)
    drawn = Drawn(_drawings(findings, None, paper))
    photographs = photographs_of(findings.site)
    blocks = [
        OnePage([inspection_page(findings, observed, room) for room in ROOMS]),
        *found_blocks(findings, observed, drawn),
        *photographs.blocks,
        *method_blocks(findings, None),
        *appendix_blocks(findings.site),
    ]
    return _Content(blocks, {**drawn.pictures, **photographs.pictures})
