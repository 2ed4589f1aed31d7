"""The printed reports of odd lots, hostile names and photographs, read back."""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

import runoff
from runoff.inspection import Findings
from runoff.quantities import format_length
from runoff.report import ROOMS, Drawn, plan_page, write_report
from runoff.report.plan_attention import plan_attention
from runoff.report.printed import report as printed
from runoff.sample import copy_sample
from runoff.words import ask_words, why_chosen
from tests.lots import printed as printed_lots
from tests.lots.planned import planned, planned_from
from tests.report.printed_pages import pages, squeezed, tags

# How characters are told that print nothing, or that no font of the report has.
_TOLD = {
    "\x07": "\\x07",
    "\t": "\\x09",
    "\x1b": "\\x1b",
    "🏠": "[house building]",
    "👍": "[thumbs up sign]",
    "🏽": "[emoji modifier fitzpatrick type-4]",
}


def test_hostile_names_come_out_as_text(tmp_path: Path) -> None:
    plan = planned_from(printed_lots.hostile_names)
    path = write_report(tmp_path / "a.pdf", plan.findings, plan)
    text = squeezed(" ".join(pages(path)))
    for name in printed_lots.HOSTILE:
        shown = name
        for hidden, told in _TOLD.items():
            shown = shown.replace(hidden, told)
        if any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in name):
            # Words from right to left may be read back in the order in which they are seen.
            for word in name.split():
                assert word in text or word[::-1] in text
        else:
            assert squeezed(shown) in text
    assert b"<pdfuaid:part>1</pdfuaid:part>" in path.read_bytes()
    assert "What stays wrong" in pages(path)[0]


def test_thirty_downspouts_of_long_names_leave_the_verdicts_on_one_page(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan, names = planned("sample"), [f"{n} {'downspout ' * 12}" for n in range(30)]
    monkeypatch.setattr(printed, "drawings_of", lambda *_: ())

    def renamed(records: tuple[Any, ...], field: str) -> tuple[Any, ...]:
        return tuple(
            replace(record, **{field: name})
            for name, record in zip(names, records * 6, strict=True)
        )

    site = replace(plan.site, name="lot " * 60, weather="rain " * 300)
    answers = renamed(plan.findings.downspouts, "name")
    findings = replace(plan.findings, site=site, downspouts=answers)
    longer = replace(
        plan,
        findings=findings,
        recommendations=renamed(plan.recommendations, "downspout"),
        drainage=renamed(plan.drainage, "downspout"),
    )
    first, second = pages(write_report(tmp_path / "a.pdf", findings, longer))[:2]
    assert re.search(r"And [12]\d more: see .Why these ways", first)
    assert "What stays wrong" in first
    assert "Job 1" in second
    first = pages(write_report(tmp_path / "b.pdf", findings, form="inspection"))[0]
    assert "To monitor" in first


def test_where_nothing_is_wrong_nothing_is_said_to_be(tmp_path: Path) -> None:
    plan = planned_from(printed_lots.nothing_wrong)
    assert plan_attention(plan) == ()
    path = write_report(tmp_path / "a.pdf", plan.findings, plan)
    first = pages(path)[0]
    assert "Every downspout's water may be left as it is." in first
    assert "Nothing found at the walls." in first
    assert "What stays wrong" not in first
    inspected = write_report(tmp_path / "b.pdf", plan.findings, form="inspection")
    assert "Of 5 things looked at, none needs correction." in pages(inspected)[0]


def test_a_survey_without_a_building_is_a_report_all_the_same(tmp_path: Path) -> None:
    findings = runoff.inspect(runoff.read_site(printed_lots.bare_ground(tmp_path)))
    first = pages(write_report(tmp_path / "a.pdf", findings, form="inspection"))[0]
    assert "Nothing was given to look at" in first
    plan = runoff.plan(findings.site)
    first = pages(write_report(tmp_path / "b.pdf", plan.findings, plan))[0]
    assert "No downspout is given, so no way for roof water is planned." in first
    assert "No building is given." in first
    assert "no water stands against a wall" not in first


def test_where_nothing_can_be_built_the_reader_is_referred(tmp_path: Path) -> None:
    plan = planned_from(printed_lots.nothing_possible)
    path = write_report(tmp_path / "a.pdf", plan.findings, plan)
    found = pages(path)
    assert "Nothing that was tried takes the water of the one downspout: draw a route" in found[0]
    text = " ".join(found)
    assert "What cannot be built here, and why" in text
    for who in ask_words(plan.recommendations[0].chosen.asks):
        assert squeezed(who[1:]) in squeezed(text)


def test_a_survey_too_coarse_gives_no_verdict_and_says_so_first(tmp_path: Path) -> None:
    plan = planned_from(printed_lots.too_coarse)
    path = write_report(tmp_path / "a.pdf", plan.findings, plan)
    first = pages(path)[0]
    assert first.index("Indication only") < first.index("In short")
    assert "as far as these heights tell" in first
    inspected = write_report(tmp_path / "b.pdf", plan.findings, form="inspection")
    text = " ".join(pages(inspected))
    assert "To correct" not in text
    assert "too rough for a verdict" in text


def test_the_inspections_form_has_observations_and_no_design(tmp_path: Path) -> None:
    findings = planned("sample").findings
    path = write_report(tmp_path / "a.pdf", findings, planned("sample"), "inspection")
    text = " ".join(pages(path))
    for words in ("observed and measured", "what it implies", "correct", "monitor"):
        assert words in text
    for words in ("Dig table", "Shopping list", "Bring ", "Lay ", "soil, loose"):
        assert words not in text
    window = next(each for each in findings.at_the_wall.openings if each.name == "window well")
    assert f"{format_length(-window.freeboard_m, 'us', 4)} over its edge" in text
    close = squeezed(text)
    for run in findings.to_dict()["at_the_wall"]["wall_runs"]:
        worst = run["worst_station"]
        fall, asked = (format_length(abs(worst[k]), "us", 4) for k in ("fall_m", "required_fall_m"))
        way = " toward the wall" if worst["fall_m"] < 0 else ""
        told = f"{fall} of fall{way} over {format_length(worst['reach_m'], 'us', 1)}"
        assert squeezed(f"{told}, where {asked} of fall are asked for. {run['verdict']}") in close


def with_photographs(folder: Path, lines: str) -> Findings:
    """The sample's findings with photographs, each a line of the site file."""
    copy_sample(folder)
    site = folder / "site.toml"
    text = site.read_text(encoding="utf-8").replace("weather =", 'hidden = "deck"\nweather =')
    site.write_text(f"{text}\n{lines}", encoding="utf-8")
    return runoff.inspect(runoff.read_site(site))


def test_photographs_are_placed_made_small_and_missed(tmp_path: Path) -> None:
    lines = "".join(
        f'[[photograph]]\nfile = "{name}"\ncaption = "the {name[:-4]} one"\n'
        for name in ("huge.jpg", "flat.png", "lost.jpg", "text.jpg")
    )
    Image.effect_noise((5000, 4000), 90).convert("RGB").save(tmp_path / "huge.jpg", quality=95)
    Image.new("RGBA", (40, 90), (0, 0, 0, 0)).save(tmp_path / "flat.png")
    (tmp_path / "text.jpg").write_text("no picture")
    findings = with_photographs(tmp_path, lines)
    path = write_report(tmp_path / "a.pdf", findings, form="inspection")
    text = " ".join(pages(path))
    assert "Hidden from view deck" in text
    assert "Photograph 1: the huge one" in text
    assert "Photograph 2: the flat one" in text
    assert "Photograph 3, lost.jpg (the lost one): the file is not there." in text
    assert "Photograph 4, text.jpg (the text one): it is not a picture that can be read (" in text
    assert path.stat().st_size < 2_000_000 < (tmp_path / "huge.jpg").stat().st_size
    alternatives = {str(tag.get("/Alt")) for tag in tags(path) if tag["/S"] == "/Figure"}
    assert "Photograph 1: the huge one" in alternatives


def test_a_wall_whose_ground_is_known_in_part_is_told_in_every_form(tmp_path: Path) -> None:
    """The survey ends 1 m before the right wall, less than half of what a verdict needs."""
    rows = ["name,x,y,z"]
    for x in (-6, -3, 0, 3, 6, 9, 12, 13):
        for y in (-6, -3, 0, 3, 6, 9, 12, 15):
            if not (0 < x < 12 and 0 < y < 9):
                rows.append(f"p{len(rows)},{x},{y},{10 - 0.03 * x:.3f}")
    (tmp_path / "spots.csv").write_text("\n".join(rows) + "\n")
    (tmp_path / "site.toml").write_text(
        '[site]\nname = "half a wall"\nunits = "m"\n'
        '[terrain]\nspot_heights = "spots.csv"\nheights_by = "laser level"\n'
        '[[building]]\nname = "house"\ncorners = [[0, 0], [12, 0], [12, 9], [0, 9]]\n'
        '[[roof]]\nname = "r"\nplan_area = "100 m2"\n'
        '[[downspout]]\nname = "front"\nat = [4, 0]\nroofs = ["r"]\n'
    )
    plan = runoff.plan(runoff.read_site(tmp_path / "site.toml"))
    part = [run for run in plan.findings.at_the_wall.runs if run.verdict == "not surveyed"]
    assert any(math.isfinite(run.worst.fall_m) for run in part)
    told = {}
    for form in ("inspection", "plan"):
        path = write_report(tmp_path / f"{form}.pdf", plan.findings, plan, form)
        told[form] = " ".join(" ".join(pages(path)).split())
        assert "nan" not in told[form].split()
    assert re.search(r"Heights over (1(\.0+)? m|\d{3} mm) only", told["inspection"])


def test_the_first_page_ends_no_sentence_in_the_middle_of_a_word(tmp_path: Path) -> None:
    """Where nothing was found the reader is still told where to read on."""
    plan = planned_from(printed_lots.nothing_possible)
    path = write_report(tmp_path / "a.pdf", plan.findings, plan)
    first = pages(path)[0]
    assert 'What is left, and whom to ask: see "Why these ways".' in first
    (one,) = plan.recommendations
    for kept in re.findall(r"(\S+) \.\.\.", first):
        assert f"{kept} " in f"{why_chosen(plan.site, one)} "
    whole = " ".join(pages(path))
    assert not re.search(r"\b0\.0000\d* cu ft", whole)
    assert "differ by 0 m" not in whole


def test_what_is_the_same_for_several_downspouts_is_said_once() -> None:
    plan = planned_from(printed_lots.nothing_possible)
    (one,) = plan.recommendations
    three = tuple(replace(one, downspout=name) for name in ("front", "side", "back"))
    told = str(plan_page(plan.findings, replace(plan, recommendations=three), ROOMS[0], Drawn(())))
    assert told.count("Nothing that was tried keeps the water away") == 1
    assert told.count("As for number 1.") == 2
