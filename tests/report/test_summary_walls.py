"""The house in the summary: first of all, ranked as found, and the numbers behind it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon

from runoff.foundation import Refusal, Remark, walls_of
from runoff.inspection import Findings
from runoff.report import NO_WALLS, NOTHING_FOUND, ROUGH, Paragraph, from_left, house, summary_text
from runoff.site import HeightAccuracy
from runoff.words import clearance_caution, downspout_sentence, headlines_of
from tests.report.made_up import made_up_findings
from tests.report.test_summary import flowed


def with_walls(findings: Findings, **changed) -> Findings:
    return replace(findings, at_the_wall=replace(findings.at_the_wall, **changed))


def row(text: str, *starts: str) -> str:
    """The line of a table that starts with these words, its gaps closed."""
    lines = (flowed(line) for line in text.splitlines())
    return next(line for line in lines if all(line.startswith(start) for start in starts))


def test_the_house_comes_first_and_in_its_rank() -> None:
    findings = made_up_findings()
    text = flowed(summary_text(findings))
    places = [text.index(line) for line in headlines_of(findings)]
    assert places == sorted(places)
    assert places[-1] < text.index(downspout_sentence(findings.site, findings.downspouts[0]))


def test_nothing_at_the_walls_is_said() -> None:
    findings = made_up_findings()
    runs = tuple(run for run in findings.at_the_wall.runs if run.verdict == "drains away")
    kept = tuple(answer for answer in findings.downspouts if not answer.returns)
    nothing = with_walls(findings, runs=runs, openings=(), standing=(), wedges=())
    clean = replace(nothing, downspouts=kept)
    assert NOTHING_FOUND in summary_text(clean)
    bare = replace(with_walls(clean, runs=()), site=replace(clean.site, buildings=()))
    assert house(bare) == [Paragraph(NO_WALLS, alone=True)]


def test_run_of_wall_shows_fall_over_reach_and_what_was_asked() -> None:
    text = summary_text(made_up_findings(), width=140)
    assert "house, front 12 ft to 22 ft too flat 3 in over 10 ft 6 in" in flowed(text)
    assert "house, right 0 to 16 ft cut short: needs a drain or swale 1 in over 4 ft 6 in" in (
        flowed(text)
    )
    assert "slopes back 2 in back over 10 ft, rises 2 in 6 in" in flowed(text)
    assert "house, right 16 ft to 28 ft not surveyed - -" in flowed(text)


def test_a_fall_that_is_written_as_0_has_no_way() -> None:
    findings = made_up_findings()
    (first, *_) = findings.at_the_wall.runs
    for fall in (-1e-4, 0.0, 1e-4):
        level = replace(first, worst=replace(first.worst, fall_m=fall))
        text = flowed(summary_text(with_walls(findings, runs=(level,)), width=140))
        assert "0 in over 10 ft" in text
        assert "0 in back" not in text


def test_openings_show_the_rain_that_reaches_them_and_freeboard() -> None:
    text = summary_text(made_up_findings(), width=140)
    # 30 m is 98 ft 5.1 in; 63.5 mm 2 1/2 in; 38.1 mm 1 1/2 in; 203.2 mm 8 in.
    assert row(text, "east well") == (
        "east well window well 98 ft 5 in 2.5 in of rain over its edge by 1 1/2 in"
    )
    assert row(text, "back door") == "back door door 98 ft 5 in no storm tried 8 in"
    assert row(text, "garage door") == "garage door garage door not known not judged -"


def test_pond_shows_what_feeds_it_most() -> None:
    text = summary_text(made_up_findings(), width=160)
    # 0.12 and 0.03 m3 of 0.15 m3.
    assert "downspout 'rear left' 80 %, yard 20 %" in flowed(text)


def test_the_caution_on_clearance_is_told_once() -> None:
    findings = made_up_findings()
    caution = clearance_caution(findings.site)
    (wedge,) = findings.at_the_wall.wedges
    wedges = [replace(wedge, loose_m3=float(k)) for k in (1, 2, 3)]
    refused = replace(wedge, refused=Refusal("never passes"))
    text = flowed(summary_text(with_walls(findings, wedges=(*wedges, refused))))
    assert text.count(caution) == 1
    assert text.count("Clearance not known.") == 3
    assert text.rindex("Clearance not known.") < text.index(caution)
    assert caution not in flowed(summary_text(with_walls(findings, wedges=(refused,))))


def test_rough_heights_are_said_to_be_rough_once() -> None:
    findings = made_up_findings()
    assert ROUGH not in flowed(summary_text(findings))
    rough = HeightAccuracy(0.1, "lidar", True)
    terrain = replace(findings.terrain, accuracy=rough)
    assert flowed(summary_text(replace(findings, terrain=terrain))).count(ROUGH) == 1


def test_remark_that_no_headline_tells_is_told_once() -> None:
    findings = made_up_findings()
    remark = "The walk 'walk' traps water against the wall."
    by_verdict = {run.verdict: run for run in findings.at_the_wall.runs if run.building == "house"}
    passes, flat = (
        replace(by_verdict[v], remarks=(Remark("traps water", "walk"),))
        for v in ("drains away", "too flat")
    )
    untold = with_walls(findings, runs=(passes,))
    assert flowed(summary_text(untold)).count(remark) == 1
    assert f"{passes.wall_name}: {remark}" in flowed(summary_text(untold))
    told = with_walls(findings, runs=(flat,))
    assert flowed(summary_text(told)).count(remark) == 1
    assert f"{flat.wall_name}: {remark}" not in flowed(summary_text(told))


def test_metric_site_has_no_inches() -> None:
    findings = made_up_findings(units="m")
    lines = summary_text(findings, width=140).splitlines()
    start = next(i for i, line in enumerate(lines) if line == "Grade along the walls")
    end = next(i for i, line in enumerate(lines) if line == "Soil to bring in")
    part = " ".join(lines[start:end])
    assert " ft" not in part
    assert " in " not in part
    assert "76 mm over 3.05 m" in part


@pytest.mark.parametrize("turned", [False, True])
def test_runs_are_told_from_the_left_corner_as_one_faces_the_wall(turned: bool) -> None:
    """A run by the front wall's left end is told so whichever way the corners were written."""
    findings = made_up_findings()
    corners = [(0.0, 0.0), (12.0, 0.0), (12.0, 8.0), (0.0, 8.0)]
    if turned:
        corners = [corners[1], corners[0], corners[3], corners[2]]
    house = replace(findings.site.buildings[0], outline=Polygon(corners))
    wall = walls_of([house])[0]
    start, end = (9.0, 12.0) if turned else (0.0, 3.0)
    run = replace(findings.at_the_wall.runs[0], start_m=start, end_m=end)
    near, far = from_left(wall, run)
    # The front wall faces down the plan: its left corner is the one at x = 0.
    ends = wall.point(np.array([run.start_m, run.end_m]), np.zeros(2))[:, 0]
    assert sorted(ends) == pytest.approx([0.0, 3.0])
    assert (near, far) == pytest.approx((0.0, 3.0))
