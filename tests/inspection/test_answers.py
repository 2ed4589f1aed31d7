"""Where each downspout's water goes, on lots simple enough to know the answer."""

import json
from dataclasses import replace

import numpy as np
import pytest

import runoff
from runoff.flow import (
    LetGo,
    answer_moved,
    foot_of,
    low_spots_of,
    prepare_flow,
    roof_water,
    run_storm,
)
from runoff.terrain import build_terrain
from runoff.words import downspout_sentence
from tests.lots.written import building, corners, downspout, lot, read, square
from tests.told import told

STREETS = ("street", "neighbor", "open ground", "alley")


def slope_to_the_front(x, y):
    return 10 + 0.03 * y


def test_a_slope_takes_the_water_over_the_side_below(tmp_path):
    small = [(-10.0, -10.0), (10.0, -10.0), (10.0, 10.0), (-10.0, 10.0)]
    site = read(
        tmp_path, slope_to_the_front, lot(*STREETS, points=small) + downspout("d", 1.0, 5.0)
    )
    (answer,) = runoff.inspect(site).downspouts
    assert (answer.end.kind, answer.end.name, answer.end.neighbor) == (
        "lot side",
        "front",
        "street",
    )
    assert answer.length_m == pytest.approx(15.0, rel=0.01)
    assert answer.path[-1, 1] == pytest.approx(-20.0, abs=0.3)  # the path itself goes on
    assert "street" in downspout_sentence(site, answer)


def test_an_outlet_on_the_way_ends_the_path(tmp_path):
    ditch = (
        '[[outlet]]\nname = "ditch"\nkind = "ditch"\nline = [[-9, -2], [9, -2]]\n'
        'permission = "ours"\n'
    )
    site = read(tmp_path, slope_to_the_front, lot(*STREETS) + ditch + downspout("d", 1.0, 5.0))
    (answer,) = runoff.inspect(site).downspouts
    assert (answer.end.kind, answer.end.name) == ("outlet", "ditch")
    assert answer.length_m == pytest.approx(6.5, abs=0.3)  # to within 0.5 m of the line


def test_without_a_lot_the_survey_s_edge_is_the_end(tmp_path):
    site = read(tmp_path, slope_to_the_front, downspout("d", 1.0, 5.0))
    (answer,) = runoff.inspect(site).downspouts
    assert answer.end.kind == "survey edge"


def bowl(x, y):
    return 10 + 0.002 * (x**2 + y**2)


def test_a_bowl_holds_the_water_and_is_told(tmp_path):
    site = read(tmp_path, bowl, lot(*STREETS) + downspout("d", 8.0, 0.0), spacing=2.0)
    findings = runoff.inspect(site)
    (answer,) = findings.downspouts
    assert answer.end.kind == "low spot"
    assert answer.end.name == findings.low_spots[0].name
    spot = findings.low_spots[0]
    # Brim-full the bowl is a paraboloid cut at the height of the square's mid-sides:
    # volume pi/2 x depth x radius^2 (closed form).
    assert spot.volume_m3 == pytest.approx(np.pi / 2 * 0.8 * 20**2, rel=0.03)
    assert np.hypot(*spot.lowest) < 1.5
    assert spot.rain_to_fill_m > site.storm.depth
    assert not spot.overflows


def test_rain_to_fill_is_the_rain_at_which_it_overflows(tmp_path):
    site = read(
        tmp_path,
        lambda x, y: 10 + 0.03 * y - 0.25 * np.exp(-(x**2 + y**2) / 8),
        downspout("d", 0.0, 12.0),
        spacing=1.0,
        reach=15.0,
    )
    findings = runoff.inspect(site)
    spot = findings.low_spots[0]
    for share, full in ((0.99, False), (1.01, True)):
        storm = replace(site.storm, depth=spot.rain_to_fill_m * share)
        again = runoff.inspect(replace(site, storm=storm)).low_spots[0]
        assert again.overflows is full


def test_a_drain_under_a_drive_carries_the_water_on(tmp_path):
    def valley(x, y):
        return 10 + 0.03 * y + (0.5 if -1 <= y <= 1 else 0.0)

    drain = '[[drain]]\nname = "culvert"\ninlet = [0, 2]\noutlet = [0, -2]\n'
    plain = read(tmp_path, valley, downspout("d", 0.0, 10.0), spacing=1.0)
    stopped = runoff.inspect(plain)
    assert stopped.downspouts[0].end.kind in ("low spot", "survey edge")
    site = read(tmp_path, valley, drain + downspout("d", 0.0, 10.0), spacing=1.0)
    findings = runoff.inspect(site)
    (answer,) = findings.downspouts
    assert answer.end.kind == "survey edge"
    assert answer.path[-1, 1] < -19
    assert abs(findings.balance.error) < 1e-9


def test_a_drain_of_little_capacity_takes_no_more_than_that(tmp_path):
    drain = (
        '[[drain]]\nname = "inlet"\ninlet = [0, 0]\noutlet = "leaves the lot"\n'
        'capacity = "0.1 L/s"\n'
    )
    site = read(tmp_path, bowl, drain + downspout("d", 8.0, 0.0, 200.0), spacing=2.0)
    findings = runoff.inspect(site)
    left = findings.balance.drained_m3["inlet"]
    assert left == pytest.approx(1e-4 * site.storm.duration)
    assert abs(findings.balance.error) < 1e-9
    assert any("takes all it can" in notice for notice in told(findings))


def test_water_that_comes_back_to_a_foundation_is_said(tmp_path):
    # Ground falls to a trough that runs from beyond the house back past its corner.
    def trough(x, y):
        return 10 + 0.05 * y + 0.15 * abs(x - 0.45 * y - 2)

    house = building("house", square(-8, -8, 8))
    site = read(tmp_path, trough, house + downspout("d", 0.5, -0.5), spacing=1.0)
    (answer,) = runoff.inspect(site).downspouts
    assert answer.length_within_reach_m >= answer.length_within_near_m > 0


def test_json_is_plain_and_names_every_unit(tmp_path):
    site = read(tmp_path, bowl, lot(*STREETS) + downspout("d", 8.0, 0.0), spacing=2.0)
    written = json.dumps(runoff.inspect(site).to_dict(), allow_nan=False)
    found = json.loads(written)
    assert found["low_spots"][0]["volume_m3"] > 100
    assert found["second_engine"]["greatest_difference_m"] == 0.0


def test_paving_sheds_more_than_lawn(tmp_path):
    patio = f'[[paving]]\nname = "patio"\nkind = "patio"\ncorners = {corners(square(-5, -5, 10))}\n'
    lawn = runoff.inspect(read(tmp_path, slope_to_the_front, cell_size=0.2))
    paved = runoff.inspect(read(tmp_path, slope_to_the_front, patio, cell_size=0.2))
    # 4 in on soil not stated, group D: TR-55 gives 2.04 in off lawn of curve number 80 and 3.77 in
    # off paving of 98 (computed from its formula); 100 m2 are paved.
    more = (3.768 - 2.042) * 0.0254 * 100.0
    assert paved.balance.rain_m3 - lawn.balance.rain_m3 == pytest.approx(more, rel=0.01)


@pytest.mark.parametrize(
    ("soil", "number", "runoff_in", "said"),
    [
        ("", 80, 2.13, "soil group D, the wettest, as no texture is given; good grass"),
        ('texture = "clay"', 80, 2.13, "soil group D, of clay; good grass"),
        ('texture = "sandy clay loam"', 74, 1.67, "soil group C, of sandy clay loam; good grass"),
        ('group = "C"\ntexture = "clay"', 74, 1.67, "soil group C, given; good grass"),
        ('texture = "sand"\nlawn = "poor"', 68, 1.27, "soil group A, of sand; poor grass"),
    ],
)
def test_rain_on_the_yard_runs_off_by_its_curve_number(tmp_path, soil, number, runoff_in, said):
    """4.1 in off a clay lawn is 1.67 or 2.13 in (TR-55, published; 68 computed), not 0.70 in."""
    body = f'[rain]\nstorm_depth = "4.1 in"\n[soil]\n{soil}\n'
    found = runoff.inspect(read(tmp_path, slope_to_the_front, body))
    area = (~np.isnan(found.terrain.surface)).sum() * found.terrain.grid.cell_area
    assert found.balance.rain_m3 / area / 0.0254 == pytest.approx(runoff_in, abs=0.006)
    (line,) = (n for n in told(found) if n.startswith("Rain on the yard"))
    assert f"curve number {number} ({said})" in line
    assert found.to_dict()["site"]["yard"]["lawn_curve_number"] == number


def test_a_moved_downspout_is_answered_as_a_new_inspection_answers_it(tmp_path):
    body = lot(*STREETS) + downspout("other", 5.0, 3.0) + downspout("d", 8.0, 0.0)
    site = read(tmp_path, bowl, body, spacing=2.0)
    moved = replace(site.downspouts[1], x=-6.0, y=4.0)
    anew = runoff.inspect(replace(site, downspouts=(site.downspouts[0], moved))).downspouts[1]
    flow = prepare_flow(site, build_terrain(site))
    run = run_storm(site, flow)
    other = site.downspouts[0]
    let_go = [LetGo(foot_of(other, flow.terrain), roof_water(site, other, 1.0))]
    spots, _ = low_spots_of(
        *(site, flow.grid, run.ponding, run.ponding.depth()),
        lambda rain: flow.run_as(run, rain, let_go),
    )
    kept = answer_moved(site, flow, let_go, spots, moved)
    assert downspout_sentence(site, kept) == downspout_sentence(site, anew)
    assert kept.on_the_way == anew.on_the_way
    np.testing.assert_allclose(kept.path, anew.path)


def test_a_survey_that_stops_at_the_lot_line_leaves_over_that_side(tmp_path):
    """The usual survey of a homeowner: its last points stand on the lot line."""
    site = read(tmp_path, slope_to_the_front, lot(*STREETS) + downspout("d", 0.0, 5.0))
    (answer,) = runoff.inspect(site).downspouts
    assert (answer.end.kind, answer.end.neighbor) == ("lot side", "street")
    assert answer.length_m == pytest.approx(25.0, abs=0.5)
