"""The answer on one screen: short enough, complete, and never rosier than the findings."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from rich.console import Console

import runoff
from runoff.cli.status import run
from runoff.report import (
    NO_WAY,
    NOTHING_LEFT,
    NOTHING_WRONG,
    inspection_answer,
    named_findings,
    named_plan,
    on_screen,
    on_terminal,
)
from runoff.report.plan_answer import plan_answer
from runoff.report.plan_attention import plan_attention
from runoff.sample import sample_folder
from runoff.words import what_fails
from tests.lots.planned import planned

SAMPLE = str(sample_folder() / "site.toml")
LINES, COLUMNS = 24, 80


@pytest.fixture(scope="module", params=["sample", "hillside", "flat_clay", 3, 11, 20, 33])
def plan(request):
    return planned(request.param)


def screen(blocks) -> list[str]:
    """The lines of an answer as a terminal shows them."""
    return [line.plain for line in on_screen(blocks)]


def section(lines: list[str], heading: str) -> list[str]:
    """The lines under the heading that starts so."""
    at = next(n for n, line in enumerate(lines) if line.startswith(heading))
    rest = lines[at + 1 :]
    ends = next((n for n, line in enumerate(rest) if not line.startswith(" ")), len(rest))
    return rest[:ends]


def test_the_sample_is_answered_on_one_screen(capsys, monkeypatch):
    # Typed as in its own folder: the next command is named with the path that was typed.
    monkeypatch.chdir(sample_folder())
    monkeypatch.setattr(runoff, "plan", lambda site: planned("sample"))
    for command in ("inspect", "plan"):
        assert run([command, "site.toml"]) == 1
        lines = capsys.readouterr().out.splitlines()
        assert len(lines) <= LINES
        assert max(map(len, lines)) <= COLUMNS


def test_every_downspout_and_building_has_its_line(plan):
    findings = plan.findings
    inspected = screen(inspection_answer(findings, "site.toml"))
    assert max(map(len, inspected)) <= COLUMNS
    goes = section(inspected, "Where each downspout's water goes")
    built = section(screen(plan_answer(plan, "site.toml")), "At the downspouts")
    for name in [one.name for one in findings.downspouts]:
        assert sum(line.startswith(f" {name} ") for line in goes) == 1
        assert sum(line.startswith(f" {name} ") for line in built) == 1
    walls = section(inspected, "The ground along the walls")
    for building in findings.site.own_buildings:
        assert sum(line.startswith(f" {building.name} ") for line in walls) == 1


def test_what_needs_attention_is_never_told_as_well(plan):
    """Where a command ends in 1, something is told that is wrong or not sure."""
    findings = plan.findings
    lines = screen(inspection_answer(findings, "site.toml"))
    wrong = section(lines, "To put right") != [f" - {NOTHING_WRONG}"]
    unsure = any(line.startswith("Not sure") for line in lines)
    assert findings.needs_attention <= (wrong or unsure)
    text = "\n".join(screen(plan_answer(plan, "site.toml")))
    for one in plan.recommendations:
        assert (one.chosen.kind == "refer") <= (f"'{one.downspout}'" in text and NO_WAY in text)
        for failure in one.chosen.failures:
            assert failure.is_safe or what_fails(failure).split(",")[0] in " ".join(text.split())
    if plan_attention(plan):
        assert "of loose soil" in text or NOTHING_LEFT not in text


def test_water_at_a_wall_and_in_an_opening_stands_first(plan):
    found = plan.findings.at_the_wall
    wrong = "\n".join(section(screen(inspection_answer(plan.findings, "s")), "To put right"))
    for opening in found.openings:
        assert opening.reached == (f"'{opening.name}' from" in " ".join(wrong.split()))
    for water in found.standing:
        assert (water.wetted_m > 0.01) == (f"{water.low_spot.capitalize()}: water" in wrong)


def test_one_name_tells_all_of_it_and_nothing_else(capsys, monkeypatch):
    monkeypatch.setattr(runoff, "plan", lambda site: planned("sample"))
    assert run(["inspect", SAMPLE, "--only", "Rear  Left"]) == 1
    said = capsys.readouterr().out
    assert "'rear left'" in said
    assert "'front left'" not in said
    assert run(["plan", SAMPLE, "--only", "rear right"]) == 1
    said = capsys.readouterr().out
    assert "seepage pit" in said
    assert "rear left" not in said


def test_a_name_that_is_not_there_is_refused_with_those_that_are(capsys):
    assert run(["inspect", SAMPLE, "--only", "rear lefft"]) == 2
    said = capsys.readouterr().err
    for name in ("rear lefft", "rear left", "house rear", "window well", "low spot 1"):
        assert name in said


def test_every_name_of_a_lot_has_something_to_say(plan):
    for named in (named_findings(plan.findings), named_plan(plan, None)):
        for each in named.values():
            page = io.StringIO()
            Console(file=page, width=80).print(on_terminal(each))
            assert page.getvalue().strip()


def test_full_prints_all_that_the_summary_has(capsys):
    assert run(["inspect", SAMPLE, "--full"]) == 1
    said = capsys.readouterr().out
    for heading in ("Grade along the walls", "Low spots on the lot", "Second engine", "Mind"):
        assert heading in said


def test_a_lot_without_downspouts_or_buildings_says_so():
    site = runoff.read_site(SAMPLE)
    bare = replace(site, buildings=(), openings=(), downspouts=(), lot=None)
    lines = screen(inspection_answer(runoff.inspect(bare), "site.toml"))
    assert section(lines, "Where each") == [" No downspout is given."]
    assert section(lines, "The ground along") == [" No building is given."]


def test_every_harm_of_a_failure_and_every_part_too_small_is_told():
    plan = planned("sample")
    one = next(each for each in plan.recommendations if each.chosen.failures)
    for fields, words in (
        ({"over_sidewalk": True}, "over the public sidewalk"),
        ({"onto_neighbor": True, "over_sidewalk": True}, "sidewalk and onto the neighbor"),
    ):
        none = {"onto_neighbor": False, "over_sidewalk": False}
        failure = replace(one.chosen.failures[0], **{**none, **fields})
        assert not failure.is_safe
        bad = replace(one, chosen=replace(one.chosen, failures=(failure,)))
        lines = screen(plan_answer(replace(plan, recommendations=(bad,)), "site.toml"))
        assert words in " ".join(" ".join(section(lines, "What stays wrong")).split())
    drainage = plan.drainage[0]
    leader = replace(drainage.leader, capacity_m3_per_s=0.0, larger=None)
    small = replace(drainage, leader=leader)
    said = " ".join(screen(plan_answer(replace(plan, drainage=(small,)), "site.toml")))
    assert f"'{small.downspout}': A " in said
    assert "leader is not enough; one more downspout is." in " ".join(said.split())
