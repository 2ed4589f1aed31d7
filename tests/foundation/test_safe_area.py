"""The safe discharge area against traced paths, and on lots whose answer is known by reasoning."""

from collections import Counter

import numpy as np
import pytest

import runoff
from runoff.flow import prepare_flow, run_storm
from runoff.foundation import REASONS, limits_of, safe_discharge_area
from runoff.terrain import build_terrain
from runoff.words import reason_at
from tests.foundation.traced_paths import Tracer, confirm
from tests.lots.written import building, corners, lot, read, square

LOT = [(-18.0, -18.0), (18.0, -18.0), (18.0, 18.0), (-18.0, 18.0)]
HOUSE = building("house", square(-4.0, -3.0, 7.0))
# Heights taken by string level: sigma 1/2 in, a rule of this project (common practice).
STRING = 'heights_by = "string level"'


def a_plane(x, y):
    return 10.0 - 0.03 * x - 0.012 * y


def a_bowl_beside_the_house(x, y):
    return 10.0 - 0.04 * x - 0.6 * np.exp(-((x - 9.0) ** 2 + (y - 6.0) ** 2) / 12.0)


def rough_ground(x, y):
    return 10.0 - 0.03 * x - 0.01 * y + 0.05 * np.sin(1.1 * x + 0.5) * np.cos(0.9 * y)


def answer(folder, ground, body, **net):
    """The site, its ground, the storm and the safe area."""
    site = read(folder, ground, body, **{"spacing": 4.0, "cell_size": 0.25, **net})
    return judged(site)


def judged(site):
    flow = prepare_flow(site, build_terrain(site))
    run = run_storm(site, flow)
    return site, flow, run, safe_discharge_area(site, flow, run, run.ponding.depth())


def reasons(area) -> Counter:
    codes, counts = np.unique(area.code, return_counts=True)
    return Counter({REASONS[code]: int(n) for code, n in zip(codes, counts, strict=True)})


def at(flow, area, x, y) -> str:
    return area.reason(*flow.grid.cell(x, y))


@pytest.mark.parametrize("ground", [a_plane, a_bowl_beside_the_house, rough_ground])
def test_the_map_agrees_with_traced_paths(tmp_path, ground):
    body = HOUSE + lot("street", "alley", "neighbor", "neighbor", points=LOT)
    site, flow, run, area = answer(tmp_path, ground, body, spacing=1.0)
    assert len(reasons(area)) >= 5
    found = confirm(site, flow, run, area, 900)
    assert found.traced == 900
    assert found.agreed >= 0.97 * found.traced
    # In the midst of one reason they differ only where the fall is within 3 mm of the limit, or
    # where water that reaches a foundation drifts over level ground on its way back to it.
    tracer = Tracer(site, flow, run)
    for row, col in found.against:
        start = flow.grid.center(row, col)
        told = {area.reason(row, col), tracer.reason(*start)}
        if told == {"comes back to a foundation", "stands near a foundation"}:
            continue
        assert "too flat to leave" in told
        assert abs(tracer.fall_missing(tracer.trace(*start))) < 0.003


def test_every_cell_of_a_small_lot_agrees_with_its_trace(tmp_path):
    small = [(-7.0, -7.0), (7.0, -7.0), (7.0, 7.0), (-7.0, 7.0)]
    body = building("house", square(-3.0, -1.0, 2.0)) + lot(
        "street", "neighbor", "alley", "neighbor", points=small
    )
    site, flow, run, area = answer(tmp_path, a_plane, body, reach=8.0, spacing=2.0)
    found = confirm(site, flow, run, area, 10**6)
    assert found.traced == (area.code != REASONS.index("off the lot")).sum() - np.sum(
        area.code == REASONS.index("no ground")
    )
    assert len(found.against) == 0
    assert found.agreed >= 0.97 * found.traced


def test_a_dead_flat_lot_has_no_safe_ground(tmp_path):
    body = HOUSE + lot("street", "street", "street", "street", points=LOT)
    *_, area = answer(tmp_path, lambda x, y: 5.0, body)
    found = reasons(area)
    assert found["safe"] == 0
    assert found["too flat to leave"] > 10_000


@pytest.mark.parametrize(
    ("beyond", "expected"),
    [("street", "safe"), ("alley", "safe"), ("open ground", "safe"), ("neighbor", REASONS[6])],
)
def test_the_side_decides_for_the_same_path(tmp_path, beyond, expected):
    body = HOUSE + lot("neighbor", beyond, "neighbor", "neighbor", points=LOT)
    _, flow, _, area = answer(tmp_path, lambda x, y: 10.0 - 0.04 * x, body)
    assert at(flow, area, 10.0, 0.0) == expected
    assert at(flow, area, 5.5, 2.0) == expected


def test_ground_above_the_house_sends_water_back_to_it(tmp_path):
    body = HOUSE + lot("street", "street", "street", "street", points=LOT)
    _, flow, _, area = answer(tmp_path, lambda x, y: 10.0 - 0.04 * x, body)
    assert at(flow, area, -12.0, 0.0) == "comes back to a foundation"
    assert at(flow, area, -5.0, 0.0) == "too near a foundation"
    assert at(flow, area, 0.0, 0.0) == "no ground"
    assert at(flow, area, 19.0, 0.0) == "off the lot"
    # The house reaches from y = -3 to 4; 5 ft beyond it, and a cell, the path passes by.
    assert at(flow, area, -12.0, 4.0 + 1.524 - 0.3) == "comes back to a foundation"
    assert at(flow, area, -12.0, 4.0 + 1.524 + 0.4) == "safe"


def test_a_permitted_easement_or_an_outlet_takes_what_a_neighbor_may_not_get(tmp_path):
    strip = "[[easement]]\nname = 'rear drain'\ncorners = [[14, 2], [17, 2], [17, 12], [14, 12]]\n"
    inlet = "[[outlet]]\nname = 'inlet'\nkind = 'storm inlet'\npoint = [15, -10]\n"
    sides = lot("neighbor", "neighbor", "neighbor", "neighbor", points=LOT)
    body = HOUSE + sides + strip + "may_take_water = true\n" + inlet
    _, flow, _, area = answer(tmp_path, lambda x, y: 10.0 - 0.04 * x, body)
    assert at(flow, area, 10.0, 7.0) == "safe"
    assert at(flow, area, 10.0, -10.0) == "safe"
    assert at(flow, area, 10.0, -12.0) == "onto a neighbor"
    body = HOUSE + sides + strip + "may_take_water = false\n"
    _, flow, _, area = answer(tmp_path, lambda x, y: 10.0 - 0.04 * x, body)
    assert at(flow, area, 10.0, 7.0) == "onto a neighbor"


def test_a_bowl_near_the_house_is_not_safe_and_one_far_from_it_is(tmp_path):
    def ground(x, y):
        near = np.exp(-((x - 7.0) ** 2 + y**2) / 6.0)
        far = np.exp(-((x - 7.0) ** 2 + (y + 14.0) ** 2) / 4.0)
        return 10.0 - 2.0 * near - 2.0 * far

    body = building("house", square(-4.0, -3.0, 7.0)) + '[rain]\nstorm_depth = "1 mm"\n'
    _, flow, _, area = answer(tmp_path, ground, body, spacing=1.0)
    assert at(flow, area, 8.0, 1.0) == "stands near a foundation"
    assert at(flow, area, 8.2, -13.0) == "safe"


def test_a_courtyard_is_never_safe(tmp_path):
    # A U closed by a second house: its court is ground that walls alone enclose.
    walls = building(
        "house", [(-10, -8), (10, -8), (10, 8), (7, 8), (7, -5), (-7, -5), (-7, 8), (-10, 8)]
    )
    walls += building("shed", [(-7, 6), (7, 6), (7, 8), (-7, 8)])
    body = walls + lot("street", "street", "street", "street", points=LOT)
    _, flow, _, area = answer(tmp_path, lambda x, y: 10.0 - 0.05 * x, body)
    court = [at(flow, area, x, y) for x in np.arange(-6, 6.1, 0.5) for y in np.arange(-4, 5.1, 0.5)]
    assert "safe" not in court
    assert at(flow, area, -5.0, 0.5) in ("comes back to a foundation", "stands near a foundation")


def test_without_a_lot_water_that_reaches_the_edge_leaves_the_survey(tmp_path):
    _, flow, _, area = answer(tmp_path, lambda x, y: 10.0 - 0.04 * x, HOUSE)
    assert at(flow, area, 12.0, 0.0) == "leaves the survey"
    assert reasons(area)["off the lot"] == 0


def test_a_survey_that_stops_inside_the_lot_leaves_its_end_unknown(tmp_path):
    wide = [(-40.0, -40.0), (40.0, -40.0), (40.0, 40.0), (-40.0, 40.0)]
    body = HOUSE + lot("street", "street", "street", "street", points=wide)
    _, flow, _, area = answer(tmp_path, lambda x, y: 10.0 - 0.04 * x, body)
    assert at(flow, area, 12.0, 0.0) == "leaves the survey"


def a_sidewalk(*points, kind="public sidewalk") -> str:
    return f'[[paving]]\nname = "it"\nkind = "{kind}"\ncorners = {corners(points)}\n'


ACROSS = [(12.0, -18.0), (13.5, -18.0), (13.5, 18.0), (12.0, 18.0)]
BEYOND = [(19.0, -18.0), (20.5, -18.0), (20.5, 5.0), (19.0, 5.0)]  # up to y = 5


@pytest.mark.parametrize("reach", [24.0, 18.0])
def test_water_whose_way_crosses_a_public_sidewalk_is_never_safe(tmp_path, reach):
    """On the lot or beyond it, where the survey ends before it too; over one's own walk it is."""

    def ground(x, y):
        return 10.0 - 0.04 * x

    sides = HOUSE + lot("neighbor", "street", "neighbor", "neighbor", points=LOT)
    public, net = "over a public sidewalk", {"reach": reach, "spacing": 3.0}
    *_, area = found = answer(tmp_path, ground, sides + a_sidewalk(*ACROSS), **net)
    assert at(found[1], area, 10.0, 0.0) == public
    assert at(found[1], area, 13.0, 0.0) == public
    assert at(found[1], area, 14.5, 0.0) == "safe"
    site, flow, run, area = answer(tmp_path, ground, sides + a_sidewalk(*BEYOND), **net)
    assert at(flow, area, 10.0, 0.0) == public
    assert at(flow, area, 10.0, 7.0) == "safe"
    assert "city codes commonly forbid" in reason_at(site, flow, area, 10.0, 0.0)
    agreed = confirm(site, flow, run, area, 400)
    assert len(agreed.against) == 0
    *_, area = answer(tmp_path, ground, sides + a_sidewalk(*ACROSS, kind="walk"), **net)
    assert at(flow, area, 10.0, 0.0) == "safe"


def test_water_that_turns_to_a_public_sidewalk_beyond_open_ground_is_not_safe(tmp_path):
    """Beyond the right side it runs on 5 m over open ground, then comes to the sidewalk."""
    body = HOUSE + lot("neighbor", "open ground", "neighbor", "neighbor", points=LOT)
    far = [(23.0, -30.0), (24.5, -30.0), (24.5, 5.0), (23.0, 5.0)]
    inlet = "[[outlet]]\nname = 'inlet'\nkind = 'storm inlet'\npoint = [20, -8]\n"
    body += a_sidewalk(*far) + inlet
    site, flow, run, area = answer(tmp_path, lambda x, y: 10.0 - 0.04 * x, body, reach=30.0)
    assert at(flow, area, 10.0, 0.0) == "over a public sidewalk"
    assert at(flow, area, 10.0, 7.0) == "safe"
    assert at(flow, area, 10.0, -8.0) == "safe"  # the inlet takes it before
    assert Tracer(site, flow, run).reason(10.0, -8.0) == "safe"
    assert len(confirm(site, flow, run, area, 400).against) == 0


def test_a_coarser_level_tells_less_ground_from_flat(tmp_path):
    # 1.05 % over 10 ft falls 32.0 mm; 1.96 sqrt(2) sigma is 8.3 mm by laser level (3 mm) and
    # 35.2 mm by string level (12.7 mm).
    body = HOUSE + lot("street", "street", "street", "street", points=LOT)
    site, flow, _, area = answer(tmp_path, lambda x, y: 10.0 - 0.0105 * x, body)
    assert at(flow, area, 8.0, 0.0) == "safe"
    assert limits_of(site, flow.grid).grade == pytest.approx(0.01)
    file = tmp_path / "site.toml"
    file.write_text(file.read_text().replace('heights_by = "laser level"', STRING))
    site, flow, _, area = judged(runoff.read_site(file))
    assert limits_of(site, flow.grid).grade == pytest.approx(0.0352 / 3.048, rel=1e-3)
    assert at(flow, area, 8.0, 0.0) == "too flat to leave"


@pytest.mark.parametrize(("slope", "expected"), [(0.0098, REASONS[3]), (0.0102, REASONS[0])])
@pytest.mark.parametrize("bearing", [0.0, 20.0, 45.0, 70.0])
def test_one_percent_is_told_at_any_bearing(tmp_path, slope, expected, bearing):
    turn = np.radians(bearing)
    body = lot("street", "street", "street", "street", points=LOT)
    _, flow, _, area = answer(
        tmp_path, lambda x, y: 10.0 - slope * (x * np.cos(turn) + y * np.sin(turn)), body
    )
    assert at(flow, area, 0.0, 0.0) == expected
    assert at(flow, area, -9.0, 3.0) == expected


@pytest.mark.parametrize(
    ("starts", "along", "rise", "beyond", "expected"),
    [
        (15.5, 0.001, 0.0, "neighbor", "onto a neighbor"),
        (15.5, 0.005, 0.0, "neighbor", "safe"),  # it falls on: 15 mm in 10 ft
        (15.5, 0.001, 0.05, "neighbor", "safe"),  # a low bank keeps it
        (13.5, 0.001, 0.0, "neighbor", "safe"),  # 4.5 m away
        (15.5, 0.001, 0.0, "alley", "safe"),
    ],
)
def test_level_ground_beside_a_neighbor_is_onto_the_neighbor(
    tmp_path, starts, along, rise, beyond, expected
):
    """3 % down to a strip that a path follows to the street, falling less than 8.3 mm in 10 ft."""

    def ground(x, y):
        return 10.0 - 0.03 * min(x, starts) + along * y + rise * np.clip(2 * x - 33.5, 0, 1)

    body = HOUSE + lot("street", beyond, "open ground", "open ground", points=LOT)
    site, flow, run, area = answer(tmp_path, ground, body, spacing=0.5, rows_apart=5.0)
    assert at(flow, area, 10.0, 0.0) == expected
    assert at(flow, area, 8.0, -3.0) == expected
    assert Tracer(site, flow, run).reason(10.0, 0.0) == expected


@pytest.mark.parametrize(("rise", "expected"), [(0.0, "stands near a foundation"), (0.05, "safe")])
def test_level_ground_beside_a_foundation_is_near_it_unless_the_ground_rises_to_it(
    tmp_path, rise, expected
):
    def ground(x, y):
        return 10.0 - 0.03 * min(x, -6.5) + 0.001 * y + rise * np.clip(2 * x + 12.5, 0, 1)

    body = HOUSE + lot("street", "open ground", "open ground", "open ground", points=LOT)
    site, flow, run, area = answer(tmp_path, ground, body, spacing=0.5, rows_apart=5.0)
    assert at(flow, area, -12.0, 0.0) == expected
    assert Tracer(site, flow, run).reason(-12.0, 0.0) == expected


def test_a_drain_takes_water_to_where_it_comes_out(tmp_path):
    def ground(x, y):
        return 10.0 - 0.04 * x - 1.0 * np.exp(-((x - 10.0) ** 2 + y**2) / 3.0)

    sides = lot("street", "neighbor", "street", "street", points=LOT)
    drain = "[[drain]]\nname = 'basin'\ninlet = [10, 0]\n"
    _, flow, _, area = answer(
        tmp_path, ground, HOUSE + sides + drain + 'outlet = "leaves the lot"\n', spacing=1.0
    )
    assert at(flow, area, 8.5, 0.0) == "safe"
    _, flow, _, area = answer(
        tmp_path, ground, HOUSE + sides + drain + "outlet = [14, 8]\n", spacing=1.0
    )
    assert at(flow, area, 8.5, 0.0) == "onto a neighbor"


def test_the_sentence_says_why(tmp_path):
    body = HOUSE + lot("street", "street", "street", "street", points=LOT)
    site, flow, _, area = answer(tmp_path, lambda x, y: 10.0 - 0.04 * x, body)
    assert reason_at(site, flow, area, -12.0, 0.0) == (
        "Water must not be let go here: it would come back within 1.52 m of a foundation."
    )
    assert reason_at(site, flow, area, 10.0, 0.0).startswith("Water may be let go here")
    assert reason_at(site, flow, area, 19.0, 0.0) == "This is not on the lot."
    assert reason_at(site, flow, area, 500.0, 0.0) == "No ground was surveyed here."
