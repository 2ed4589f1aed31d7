"""Odd lots: an answer or a clear error, never a traceback."""

import numpy as np
import pytest

import runoff
from runoff.report.plan_attention import plan_attention
from runoff.words import downspout_sentence
from tests.lots.written import building, corners, downspout, read, square, write
from tests.told import told


def flat(x, y):
    return 10.0


def fall(x, y):
    return 10 + 0.02 * y


def refused(path) -> str:
    with pytest.raises(runoff.InputError) as caught:
        runoff.inspect(runoff.read_site(path))
    return str(caught.value)


def test_dead_flat_ground_drains_and_balances(tmp_path):
    findings = runoff.inspect(read(tmp_path, flat, downspout("d", 3.0, 0.0)))
    assert findings.low_spots == ()
    assert findings.downspouts[0].end.kind == "survey edge"
    assert abs(findings.balance.error) < 1e-9


def test_a_downspout_outside_the_survey(tmp_path):
    said = refused(write(tmp_path, fall, downspout("far", 60.0, 0.0)))
    assert "'far'" in said
    assert "survey" in said


def test_a_survey_too_small_for_one_downspout_answers_the_others_and_says_so(tmp_path):
    """The one that is answered is answered as on the lot without the other."""
    near, far = downspout("near", 3.0, 0.0), downspout("far", 60.0, 0.0)
    findings = runoff.inspect(read(tmp_path, fall, near + far))
    alone = runoff.inspect(read(tmp_path, fall, near))
    assert [answer.name for answer in findings.downspouts] == ["near"]
    beside, as_alone = (downspout_sentence(f.site, f.downspouts[0]) for f in (findings, alone))
    assert beside == as_alone
    (said,) = [each for each in findings.attention if "'far'" in each]
    assert "no height was taken around its foot" in said
    assert findings.to_dict()["unanswered_downspouts"] == ["far"]
    assert not any("No downspout carries" in notice for notice in told(findings))
    plan = runoff.plan(runoff.read_site(write(tmp_path, fall, near + far)))
    assert [one.downspout for one in plan.recommendations] == ["near"]
    assert any("'far'" in each for each in plan_attention(plan))
    refused(
        write(
            tmp_path,
            fall,
            near + far + downspout("too", 0.0, 0.0) + building("shed", square(-2, -2, 4)),
        )
    )


def test_a_downspout_inside_a_building(tmp_path):
    body = building("house", square(-5, -5, 10)) + downspout("in", 0.0, 0.0)
    assert "'in'" in refused(write(tmp_path, fall, body))


def test_a_building_that_fills_the_survey(tmp_path):
    said = refused(write(tmp_path, fall, building("all", square(-25, -25, 50))))
    assert "outside the buildings" in said


def test_a_courtyard_is_a_terminal_basin(tmp_path):
    ring = building("house", square(-8, -8, 16))
    court = ring + f"courtyards = [{corners(square(-4, -4, 8))}]\n"
    body = court + downspout("court", 0.0, 2.0, 30.0)
    findings = runoff.inspect(read(tmp_path, fall, body, spacing=2.0))
    (answer,) = findings.downspouts
    assert answer.end.kind == "terminal basin"
    spot = next(s for s in findings.low_spots if s.terminal)
    assert spot.pour_point is None
    assert np.isinf(spot.rain_to_fill_m)
    assert spot.storm_volume_m3 >= answer.roof_volume_m3
    assert abs(findings.balance.error) < 1e-9
    assert findings.needs_attention


def test_two_buildings_a_foot_apart_leave_a_way(tmp_path):
    foot = 0.3048
    body = (
        building("one", square(-8, -4, 8))
        + building("two", square(foot, -4, 8))
        + downspout("between", foot / 2, 3.9, 20.0)
    )
    findings = runoff.inspect(read(tmp_path, fall, body))
    (answer,) = findings.downspouts
    assert answer.end.kind == "survey edge"
    assert answer.path[-1, 1] < -19


def test_a_hole_in_the_survey_ends_the_path(tmp_path):
    """A round hole too wide to be told from its rim; the ground ends where the rule puts its end.

    A height on the rim, at radius R, sees those within the survey's reach B on both sides of it.
    The chord between the outermost two passes R - B^2 / (2 R) from the middle, by plain geometry.
    """
    hole, reach = 16.0, 45 * 0.3048
    path = write(tmp_path, fall, downspout("d", 0.0, 20.0), spacing=1.0, reach=24.0)
    rows = (tmp_path / "spots.csv").read_text().splitlines()
    kept = [
        r for r in rows if r.startswith("name") or np.hypot(*map(float, r.split(",")[1:3])) > hole
    ]
    (tmp_path / "spots.csv").write_text("\n".join(kept) + "\n")
    findings = runoff.inspect(runoff.read_site(path))
    (answer,) = findings.downspouts
    assert answer.end.kind == "survey edge"
    assert answer.path[-1, 1] == pytest.approx(hole - reach**2 / (2 * hole), abs=1.0)


def test_crossing_break_lines_are_refused_by_name(tmp_path):
    body = (
        '[[break_line]]\nname = "one"\nthrough = ["p1_1", "p8_8"]\n'
        '[[break_line]]\nname = "two"\nthrough = ["p1_8", "p8_2"]\n'
    )
    said = refused(write(tmp_path, fall, body))
    assert "one" in said
    assert "two" in said


def test_a_diagonal_barrier_holds(tmp_path):
    body = (
        '[[barrier]]\nname = "edging"\npoints = [[-12, -2], [0, -10], [12, -2]]\nheight = 0.3\n'
        + downspout("d", 0.0, 8.0, 5.0)
        + '[rain]\nstorm_depth = "5 mm"\n'
    )
    findings = runoff.inspect(read(tmp_path, fall, body))
    (answer,) = findings.downspouts
    assert answer.end.kind == "low spot"
    assert findings.low_spots[0].lowest[1] > -10.5


def test_a_lot_of_one_triangle(tmp_path):
    (tmp_path / "spots.csv").write_text("name,x,y,z\na,0,0,1\nb,10,0,1\nc,0,10,2\n")
    (tmp_path / "site.toml").write_text(
        '[site]\nname = "t"\nunits = "m"\n[terrain]\nspot_heights = "spots.csv"\n'
        + downspout("d", 2.0, 3.0)
    )
    (answer,) = runoff.inspect(runoff.read_site(tmp_path / "site.toml")).downspouts
    assert answer.end.kind == "survey edge"


def test_no_ground_at_all(tmp_path):
    (tmp_path / "spots.csv").write_text("name,x,y,z\na,0,0,1\nb,10,0,1\n")
    (tmp_path / "site.toml").write_text(
        '[site]\nname = "t"\nunits = "m"\n[terrain]\nspot_heights = "spots.csv"\n'
    )
    assert "spots.csv" in refused(tmp_path / "site.toml")
