"""Nothing that fails goes untold: each wall that soil is no answer to, each harm of a downspout.

Held against the plain findings of the inspection, by the verdicts and ends alone.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

import runoff
from runoff.planning import Plan, plan
from runoff.report import at_the_walls, plan_text
from runoff.report.plan_attention import plan_attention
from runoff.site import Clearance
from runoff.words import ask_words, refusal_of, way_reason
from tests.lots.generated import a_generated_lot
from tests.lots.planned import planned
from tests.lots.small import SITE, write_small_lot

FAILS = ("too flat", "slopes back", "holds water", "cut short: needs a drain or swale")


@pytest.fixture(params=(62, 7))
def made(request) -> Plan:
    """A lot where most of the soil may not be placed, and one whose water does two harms."""
    return planned(request.param)


def test_every_wall_that_fails_and_cannot_be_corrected_is_told_with_its_reason(made) -> None:
    wedges = () if made.grade is None else made.grade.wedges
    told_of = {(r.building, r.wall_name) for r in made.walls_left}
    refused = [w for w in wedges if w.refused or w.short_by_m > 0]
    told_of |= {(w.run.building, w.run.wall_name) for w in refused}
    placed = {(w.run.building, w.run.wall_name) for w in wedges if w.loose_m3 > 0}
    failing = [run for run in made.findings.at_the_wall.runs if run.verdict in FAILS]
    assert failing
    for run in failing:
        assert (run.building, run.wall_name) in told_of | placed
    page = " ".join(plan_text(made).split())
    for wedge in refused:
        assert (refusal_of(made.site, wedge) or "higher than") in page
    assert bool(at_the_walls(made))
    for building, wall in told_of:
        line = next(t for t in plan_attention(made) if t.startswith("Soil cannot put right"))
        assert f"the {wall} wall of '{building}'" in line
    data = made.to_dict()
    assert len(data["walls_left"]) == len(made.walls_left)


def test_where_no_soil_may_be_placed_each_wall_still_has_its_reason() -> None:
    # Siding down to the ground along every wall.
    site = a_generated_lot(62)
    siding = tuple(Clearance(k, 0.0, 99.0, "siding", -99.0) for k in range(4))
    buildings = tuple(replace(each, clearances=siding) for each in site.buildings)
    found = plan(replace(site, buildings=buildings))
    assert found.grade is not None
    assert found.grade.loose_m3 == 0
    assert len({(w.run.building, w.run.wall) for w in found.grade.wedges}) > 1
    assert all(w.refused or w.short_by_m > 0 for w in found.grade.wedges)


def test_water_that_comes_back_and_ends_on_a_neighbor_is_told_as_both() -> None:
    found = planned(7)
    answers = {each.name: each for each in found.findings.downspouts}
    answer = answers["D3"]
    assert answer.returns
    assert (answer.end.kind, answer.end.neighbor) == ("lot side", "neighbor")
    mine = [told for told in found.findings.attention if told.startswith("Downspout 'D3'")]
    assert any("comes back" in told for told in mine)
    assert any("runs onto a neighbor's ground over the" in told for told in mine)
    (data,) = [d for d in found.to_dict()["findings"]["downspouts"] if d["name"] == "D3"]
    assert {"comes back", "onto a neighbor"} <= set(data["implies"])
    (one,) = [each for each in found.recommendations if each.downspout == "D3"]
    as_it_is = one.options[0]
    assert (as_it_is.kind, as_it_is.feasible) == ("as it is", False)
    said = way_reason(found.site, as_it_is)
    assert "comes to a foundation" in said
    assert "it runs onto a neighbor's ground" in said


def test_nothing_is_planned_for_a_downspout_without_a_roof_and_its_water_is_asked_for(tmp_path):
    """It is neither called safe as it is nor given a pipe; the other one is planned as ever."""
    more = '[[downspout]]\nname = "E"\nat = { building = "house", wall = 1, distance = "5 ft" }\n'
    made = plan(runoff.read_site(write_small_lot(tmp_path, more, SITE)))
    known, unknown = made.recommendations
    assert known.downspout == "D"
    assert known.chosen.kind != "refer"
    assert (unknown.chosen.kind, unknown.water.storm_m3) == ("refer", 0.0)
    assert not any(option.feasible for option in unknown.options[:-1])
    (asked,) = ask_words(unknown.chosen.asks)
    assert "point of release, a [[sump]] with its rate" in asked
    page = " ".join(plan_text(made).split())
    assert "No roof is given for it, so that how much water comes here is not known" in page
