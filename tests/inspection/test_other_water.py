"""Water that no downspout brings: eaves without a gutter, roofs onto roofs, sumps, and run-on."""

from dataclasses import replace

import numpy as np
import pytest

import runoff
from runoff.flow import eaves_water, prepare_flow, sumps_water
from runoff.terrain import build_terrain
from tests.lots.written import building, downspout, lot, read, square
from tests.told import told

HOUSE = building("house", square(-5, -4, 8))
STREETS = ("street", "neighbor", "open ground", "alley")
SMALL = [(-10.0, -10.0), (10.0, -10.0), (10.0, 10.0), (-10.0, 10.0)]


def fall(x, y):
    return 10 + 0.03 * y


def bowl(x, y):
    return 10 + 0.002 * (x**2 + y**2)


def roof(name: str, area: float, more: str = "") -> str:
    return f'[[roof]]\nname = "{name}"\nplan_area = "{area} m2"\n{more}\n'


def sump(x: float, y: float, rate: str = "20 gpm") -> str:
    return f'[[sump]]\nname = "pump"\noutlet = [{x}, {y}]\nrate = "{rate}"\n'


ALONG_THE_FRONT = 'eave = { building = "house", wall = 1, from = 1, to = 7 }'


def test_an_eave_s_water_lands_along_its_drip_line(tmp_path):
    site = read(tmp_path, fall, HOUSE + roof("front", 40, ALONG_THE_FRONT), spacing=2.0)
    terrain = build_terrain(site)
    drops = eaves_water(site, terrain)
    total = 40 * site.rules["runoff_coefficient_roof"]
    assert sum(drop.per_rain for drop in drops) == pytest.approx(total, rel=1e-12)
    cell = terrain.grid.cell_size
    x, y = np.array([terrain.grid.center(*drop.cell) for drop in drops]).T
    # Wall 1 runs from (-5, -4) to (3, -4): the line from x = -4 to 2, 1 ft in front of it.
    assert len(drops) == pytest.approx(6 / cell, abs=2)
    assert np.all(np.abs(y - (-4 - 0.3048)) <= cell / 2 + 1e-9)
    assert x.min() == pytest.approx(-4, abs=cell)
    assert x.max() == pytest.approx(2, abs=cell)
    # Evenly: up to any place along it, as much as the line is long up to there.
    order = np.argsort(x)
    landed = np.cumsum([drops[k].per_rain for k in order]) / total
    assert np.allclose(landed, np.clip((x[order] + cell / 2 + 4) / 6, 0, 1), atol=cell / 4 / 6)


def test_an_eave_takes_what_downspouts_leave(tmp_path):
    body = (
        HOUSE
        + roof("front", 40, ALONG_THE_FRONT)
        + ('[[downspout]]\nname = "d"\nat = [-6, -6]\nroofs = [{ roof = "front", share = 0.25 }]\n')
    )
    site = read(tmp_path, fall, body, spacing=2.0)
    findings = runoff.inspect(site)
    shed = 40 * site.rules["runoff_coefficient_roof"] * site.storm.depth
    assert findings.balance.roofs_m3 == pytest.approx(0.25 * shed)
    assert findings.balance.eaves_m3 == pytest.approx(0.75 * shed)
    assert not any("left out" in notice or "not counted" in notice for notice in told(findings))


def test_an_upper_roof_drains_onto_a_lower_one(tmp_path):
    upper = roof("dormer", 10, 'onto = "upper"') + roof("upper", 30, 'onto = "roof of d"')
    site = read(tmp_path, fall, HOUSE + upper + downspout("d", -6.0, -6.0, 50.0), spacing=2.0)
    findings = runoff.inspect(site)
    (answer,) = findings.downspouts
    assert answer.roof_area_m2 == pytest.approx(90.0)
    assert findings.balance.roofs_m3 == pytest.approx(answer.roof_volume_m3)
    assert not any("No downspout carries" in notice for notice in told(findings))
    assert abs(findings.balance.error) < 1e-9


def test_an_upper_roof_onto_one_with_an_eave(tmp_path):
    body = HOUSE + roof("dormer", 10, 'onto = "front"') + roof("front", 40, ALONG_THE_FRONT)
    balance = runoff.inspect(site := read(tmp_path, fall, body, spacing=2.0)).balance
    coefficient = site.rules["runoff_coefficient_roof"]
    assert balance.eaves_m3 == pytest.approx(50 * coefficient * site.storm.depth)
    assert balance.roofs_m3 == 0.0


def test_what_an_upper_roof_s_own_downspout_carries_does_not_reach_the_lower_one(tmp_path):
    body = HOUSE + roof("dormer", 8, 'onto = "upper"') + roof("upper", 30, 'onto = "front"')
    body += roof("front", 40, ALONG_THE_FRONT)
    body += '[[downspout]]\nname = "d"\nat = [-6, -6]\nroofs = [{ roof = "upper", share = 0.5 }]\n'
    balance = runoff.inspect(site := read(tmp_path, fall, body, spacing=2.0)).balance
    per_area = site.rules["runoff_coefficient_roof"] * site.storm.depth
    # Half of 8 + 30 goes down the spout; the other half joins the 40 of the lower roof.
    assert balance.roofs_m3 == pytest.approx(19 * per_area)
    assert balance.eaves_m3 == pytest.approx(59 * per_area)


def test_only_roofs_whose_water_is_lost_are_named(tmp_path):
    body = HOUSE + roof("idle", 20) + roof("dormer", 10, 'onto = "idle"')
    findings = runoff.inspect(read(tmp_path, fall, body, spacing=2.0))
    (said,) = [notice for notice in told(findings) if "No downspout carries" in notice]
    assert "'idle'" in said
    assert "'dormer'" not in said


def test_a_sump_fills_a_bowl_whatever_the_rain(tmp_path):
    site = read(tmp_path, bowl, sump(6, 0, "5 L/s"), spacing=2.0)
    rain = runoff.inspect(replace(site, sumps=()))
    findings = runoff.inspect(site)
    # 5 L/s for the storm's duration.
    assert findings.balance.sumps_m3 == pytest.approx(0.005 * site.storm.duration)
    assert findings.balance.standing_m3 - rain.balance.standing_m3 == pytest.approx(
        findings.balance.sumps_m3
    )
    flow = prepare_flow(site, findings.terrain)
    dry = flow.run(0.0, sumps_water(site, findings.terrain)).ponding
    assert dry.standing * flow.grid.cell_area == pytest.approx(findings.balance.sumps_m3)
    assert abs(findings.balance.error) < 1e-9


@pytest.mark.parametrize("ground", [fall, bowl])
def test_every_source_together_is_conserved(tmp_path, ground):
    body = (
        lot(*STREETS)
        + HOUSE
        + downspout("d", -6.0, -6.0, 50.0)
        + roof("dormer", 10, 'onto = "roof of d"')
        + roof("front", 40, ALONG_THE_FRONT)
        + roof("shed", 15, "eave = [[8, 8], [12, 8], [12, 11]]")
        + sump(6, -6)
        + '[[drain]]\nname = "inlet"\ninlet = [2, -8]\noutlet = "leaves the lot"\n'
        'capacity = "0.1 L/s"\n'
    )
    balance = runoff.inspect(read(tmp_path, ground, body, spacing=2.0)).balance
    assert min(balance.rain_m3, balance.roofs_m3, balance.eaves_m3, balance.sumps_m3) > 0
    assert abs(balance.error) < 1e-9


@pytest.mark.parametrize(
    ("body", "named"),
    [
        (sump(60, 0), "sump 'pump'"),
        (roof("far", 9, "eave = [[0, 10], [0, 60]]"), "roof 'far'"),
        (roof("in", 9, "eave = [[-4, 0], [2, 0]]"), "roof 'in'"),
    ],
)
def test_water_let_go_where_there_is_no_ground_is_refused(tmp_path, body, named):
    site = read(tmp_path, fall, HOUSE + body, spacing=2.0)
    with pytest.raises(runoff.InputError) as caught:
        runoff.inspect(site)
    (problem,) = caught.value.problems
    assert problem.entry == named
    assert problem.line is not None


def run_on(findings) -> list[str]:
    return [notice for notice in told(findings) if notice.startswith("run-on")]


def test_run_on_is_told_where_the_survey_stops_and_the_ground_falls_inward(tmp_path):
    # The ground falls toward smaller y, so that only the rear side, at y = 20, lies uphill.
    findings = runoff.inspect(read(tmp_path, fall, lot(*STREETS)))
    assert run_on(findings) == [
        "run-on over the rear side not counted: the survey stops at the lot line"
    ]


def test_run_on_over_surveyed_ground_is_counted_and_not_told(tmp_path):
    findings = runoff.inspect(read(tmp_path, fall, lot(*STREETS, points=SMALL)))
    assert run_on(findings) == []


def test_in_a_bowl_every_side_lies_uphill_whichever_way_the_lot_is_walked(tmp_path):
    body = lot(*STREETS, points=[(20, 20), (20, -20), (-20, -20), (-20, 20)])
    assert len(run_on(runoff.inspect(read(tmp_path, bowl, body, spacing=2.0)))) == 4
