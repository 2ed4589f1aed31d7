"""What an inspection says of walks, drives and sidewalks that a downspout's water crosses.

The ground falls straight to the front, so that water crosses what lies before its downspout.
"""

from __future__ import annotations

import pytest

from runoff.discharge import Grounds, WaterToMove, compare_ways, lot_ground
from runoff.inspection import inspect
from runoff.report import inspection_answer, observations_of, on_screen, summary_text, water_phrase
from runoff.terrain import build_terrain
from runoff.words import downspout_sentence, way_reason
from tests.lots.written import building, corners, downspout, lot, read, square

HOUSE = building("house", square(-4.0, 0.0, 8.0)) + 'kind = "slab"\n'
LOT = [(-12.0, -12.0), (12.0, -12.0), (12.0, 14.0), (-12.0, 14.0)]
SIDES = ("street", "neighbor", "neighbor", "neighbor")
WALK = ("walk", [(-3.0, -6.0), (3.0, -6.0), (3.0, -5.0), (-3.0, -5.0)])
ASIDE = ("drive", [(6.0, -12.0), (9.0, -12.0), (9.0, 0.0), (6.0, 0.0)])
PUBLIC = ("public sidewalk", [(-12.0, -14.0), (12.0, -14.0), (12.0, -12.6), (-12.0, -12.6)])


def a_lot(folder, *paving, reach: float = 20.0, sides=SIDES):
    drawn = "".join(
        f'[[paving]]\nname = "my {kind}"\nkind = "{kind}"\ncorners = {corners(points)}\n'
        for kind, points in paving
    )
    body = HOUSE + downspout("a", 0.3, -0.1) + lot(*sides, points=LOT) + drawn
    return read(folder, lambda x, y: 10.0 + 0.05 * y, body, reach=reach, spacing=2.0)


def printed(findings) -> str:
    return summary_text(findings, width=400)


def test_a_walk_on_the_way_is_named_with_ice_everywhere(tmp_path):
    findings = inspect(a_lot(tmp_path, WALK, ASIDE))
    (answer,) = findings.downspouts
    ice = "on its way it crosses the walk 'my walk': ice in winter"
    assert downspout_sentence(findings.site, answer).endswith(f"into the street; {ice}.")
    assert ice in printed(findings)
    screen = " ".join(
        " ".join(map(str, on_screen(inspection_answer(findings, "site.toml")))).split()
    )
    assert "over walk 'my walk' (ice in winter)" in screen
    assert findings.to_dict()["downspouts"][0]["crosses"] == [{"kind": "walk", "name": "my walk"}]
    assert any(ice in each.measured for each in observations_of(findings))
    assert water_phrase(answer).endswith("crossing walk 'my walk' (ice)")
    assert not any("walk" in told for told in findings.attention)


def test_water_that_crosses_nothing_says_no_ice(tmp_path):
    findings = inspect(a_lot(tmp_path, ASIDE))
    assert findings.downspouts[0].crosses == ()
    assert "ice in winter" not in printed(findings)


@pytest.mark.parametrize("reach", [20.0, 12.0])
def test_a_public_sidewalk_needs_attention_where_the_survey_ends_before_it_too(tmp_path, reach):
    findings = inspect(a_lot(tmp_path, PUBLIC, reach=reach))
    told = "over the public sidewalk 'my public sidewalk', which city codes commonly forbid"
    assert f"Downspout 'a': its water runs {told}." in findings.attention
    assert findings.to_dict()["downspouts"][0]["implies"] == ["over a public sidewalk"]


def test_an_inspection_and_a_plan_name_the_same(tmp_path):
    site = a_lot(tmp_path, WALK, PUBLIC)
    (answer,) = inspect(site).downspouts
    assert [each.name for each in answer.crosses] == ["my walk", "my public sidewalk"]
    ground = lot_ground(site, build_terrain(site))
    water = WaterToMove("a", 50.0, 50.0, 0.003, 0.003, 3.0)
    options = compare_ways(Grounds(ground), site.downspouts[0], water).options
    (left,) = [option for option in options if option.kind == "as it is"]
    assert not left.feasible
    assert "over the public sidewalk 'my public sidewalk'" in way_reason(site, left)
