"""Grade along walls: exact planes at every bearing, noisy surveys, and odd outlines."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon
from shapely.geometry import box as shape_box

from runoff.foundation import Limits, Remark, grade_verdicts, profiles_from
from runoff.site import Building, HeightAccuracy, Lot, LotSide, Opening, Outlet
from runoff.terrain import build_terrain, call_margin
from runoff.words import settle_words
from tests.lots.records import (
    WRITTEN,
    a_box,
    a_break_line,
    a_building,
    a_drain,
    grid_positions,
    spots_at,
)
from tests.lots.walls import (
    FOOT,
    a_house,
    a_lot,
    a_slab,
    falling,
    ground,
    judged,
    on_wall,
    out_of_front,
)

REACH = 10 * FOOT
BEARINGS = range(0, 360, 15)
CUT = "cut short: needs a drain or swale"
SOIL = [
    (0.049, "too flat"),
    (0.05, "drains away"),
    (0.051, "drains away"),
    (0.02, "too flat"),
    (0.0, "too flat"),
    (-0.001, "slopes back"),
    (-0.02, "slopes back"),
]
PAVED = [
    (0.019, "too flat"),
    (0.02, "drains away"),
    (0.021, "drains away"),
    (0.049, "drains away"),
    (0.0, "too flat"),
    (-0.001, "slopes back"),
]


def one_run(site, terrain, wall="front"):
    (run,) = on_wall(judged(site, terrain), wall)
    return run


@pytest.mark.parametrize("bearing", BEARINGS)
@pytest.mark.parametrize(("slope", "verdict"), SOIL)
def test_soil_planes_are_judged_right_at_every_bearing(bearing, slope, verdict):
    site = a_lot(a_house(bearing=bearing))
    run = one_run(site, ground(site, falling(slope, bearing)))
    assert run.verdict == verdict
    assert run.end_m - run.start_m == pytest.approx(12.0)
    for station in run.stations:
        assert station.fall_m == pytest.approx(slope * REACH, abs=1e-9)
        assert station.required_m == pytest.approx(6 * 0.0254, abs=1e-12)
        assert station.reach_m == pytest.approx(REACH, abs=1e-12)
        assert station.back_slope == pytest.approx(max(-slope, 0.0), abs=1e-9)
        assert station.cut_by == ""


@pytest.mark.parametrize("bearing", BEARINGS)
@pytest.mark.parametrize(("slope", "verdict"), PAVED)
def test_paved_planes_are_judged_by_the_rule_for_paving(bearing, slope, verdict):
    site = a_lot(
        a_house(bearing=bearing),
        paving=(a_slab("patio", shape_box(-14, -14, 14, 14).exterior.coords),),
    )
    run = one_run(site, ground(site, falling(slope, bearing)))
    assert run.verdict == verdict
    assert run.worst.paved_m == pytest.approx(REACH)
    assert run.worst.required_m == pytest.approx(0.02 * REACH)


def test_soil_and_paving_on_one_profile_each_count_by_their_length():
    walk = a_slab("walk", [(-14, -6.5), (14, -6.5), (14, -5.5), (-14, -5.5)])
    site = a_lot(a_house(), paving=(walk,))
    run = one_run(site, ground(site, falling(0.04)))
    assert run.worst.paved_m == pytest.approx(1.0)
    assert run.worst.required_m == pytest.approx(0.05 * (REACH - 1.0) + 0.02)
    assert run.verdict == "too flat"


@pytest.mark.parametrize("bearing", [0.0, 30.0])
@pytest.mark.parametrize(
    ("slope", "verdict"), [(0.049, "too flat"), (0.05, "drains away"), (-0.02, "slopes back")]
)
def test_planes_surveyed_by_spot_heights_are_judged_alike(bearing, slope, verdict):
    plane = falling(slope, bearing)
    spots = spots_at(grid_positions(30, 30, 2.5) - 15.0, plane)
    site = a_lot(a_house(bearing=bearing), spot_heights=spots)
    run = one_run(site, build_terrain(site))
    assert run.verdict == verdict
    assert run.worst.fall_m == pytest.approx(slope * REACH, abs=1e-9)


# --- accuracy --------------------------------------------------------------------------------


def normal(z: float) -> float:
    """The standard normal distribution function."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


@pytest.mark.parametrize("slope", [0.03, 0.045, 0.049, 0.05, 0.051, 0.055, 0.07, 0.0])
@pytest.mark.parametrize("sigma", [0.003, 0.0127])
def test_close_and_wrong_calls_are_as_often_as_the_normal_distribution_says(slope, sigma):
    surveys = 1000
    rng = np.random.default_rng(20260)
    wall, far = 100.0 + rng.normal(0, sigma, (2, surveys)) - [[0.0], [slope * REACH]]
    out = np.broadcast_to(np.linspace(0.0, REACH, 21), (surveys, 21))
    profiles = profiles_from(out, wall[:, None] + (far - wall)[:, None] * out / REACH)
    required = np.full(surveys, 0.05 * REACH)
    limits = Limits(0.0254, call_margin(sigma))
    not_cut = np.zeros(surveys, bool)
    verdicts = grade_verdicts(profiles.fall, required, profiles.rise, not_cut, limits)
    spread = math.sqrt(2) * sigma
    over, below = ((0.05 - slope) * REACH / spread + side * 1.96 for side in (1, -1))
    passes, fails = 1 - normal(over), normal(below)
    within(np.mean(verdicts == "drains away"), passes, surveys)
    within(np.mean(verdicts == "too close to call"), 1 - passes - fails, surveys)
    within(np.mean(np.isin(verdicts, ("too flat", "slopes back"))), fails, surveys)
    wrong = passes if slope < 0.05 else fails
    assert wrong <= 0.025 + 1e-4


def within(share: float, expected: float, count: int) -> None:
    spread = math.sqrt(max(expected * (1 - expected), 0.0) / count)
    assert abs(share - expected) <= 4 * spread + 1e-9


def test_whole_noisy_surveys_are_called_as_often_too():
    sigma, surveys, slope = 0.006, 60, 0.052
    accuracy = HeightAccuracy(sigma, "stated", False)
    site = a_lot(a_house(), accuracy=accuracy)
    plain = ground(site, falling(slope))
    out = out_of_front(0.0)
    x, y = plain.grid.centers()
    share = np.clip(out(x[None, :], y[:, None]) / REACH, 0, 1)
    rng = np.random.default_rng(7)
    calls = []
    for _ in range(surveys):
        wall, far = rng.normal(0, sigma, 2)
        noisy = replace(plain, ground=plain.ground + wall * (1 - share) + far * share)
        calls.append({run.verdict for run in on_wall(judged(site, noisy), "front")})
    over = ((0.05 - slope) * REACH) / (math.sqrt(2) * sigma)
    close = normal(over + 1.96) - normal(over - 1.96)
    within(sum("too close to call" in c for c in calls) / surveys, close, surveys)


def test_a_close_call_says_which_shots_and_how_good():
    site = a_lot(a_house(), accuracy=HeightAccuracy(0.0127, "string level", False))
    run = one_run(site, ground(site, falling(0.045)))
    assert run.verdict == "too close to call"
    # 0.005 x 10 ft is 0.6 in; over 1.96 sqrt(2) that is 0.216 in, and 3/16 in is 0.1875.
    assert "at the wall and 10 ft out, each good to 3/16 in" in settle_words(site, run)
    assert "along the front wall" in settle_words(site, run)


def test_a_call_at_the_limit_itself_is_said_to_be_beyond_any_level():
    site = a_lot(a_house(), accuracy=HeightAccuracy(0.003, "laser level", False))
    run = one_run(site, ground(site, falling(0.05)))
    assert "no level is good enough" in settle_words(site, run)


@pytest.mark.parametrize("units", ["ft", "m"])
def test_nobody_is_sent_for_a_height_good_to_nothing(units):
    """Falls nearer and nearer to the limit: a figure is never 0, and then no level is asked for."""
    accuracy = HeightAccuracy(0.003, "laser level", False)
    site = replace(a_lot(a_house(), accuracy=accuracy), units=units)
    told = [
        settle_words(site, one_run(site, ground(site, falling(0.05 - 0.6e-3 / 2**halved))))
        for halved in range(6)
    ]
    assert not [settle for settle in told if re.search(r"good to 0\b", settle)]
    assert "no level is good enough" in told[-1]


def test_level_ground_fails_for_certain_with_a_laser_level():
    site = a_lot(a_house(), accuracy=HeightAccuracy(0.003, "laser level", False))
    assert one_run(site, ground(site, falling(0.0005))).verdict == "too flat"


def test_lidar_is_an_indication_and_coarse_lidar_says_nothing():
    site = a_lot(a_house(), accuracy=HeightAccuracy(0.1, "lidar", True))
    run = one_run(site, ground(site, falling(0.05), cell_size=1.0))
    assert (run.indication, run.verdict) == (True, "too close to call")
    coarse = one_run(site, ground(site, falling(-0.5), cell_size=2.5))
    assert coarse.verdict == "not surveyed"


# --- shapes of ground ------------------------------------------------------------------------


def test_ground_that_falls_and_rises_again_slopes_back():
    out = out_of_front(0.0)

    def dish(x, y):
        return 100.0 - 0.10 * np.minimum(out(x, y), 2.1) + 0.05 * np.maximum(out(x, y) - 2.1, 0)

    site = a_lot(a_house())
    run = one_run(site, ground(site, dish, cell_size=0.1))
    assert run.verdict == "slopes back"
    assert run.worst.fall_m > 0
    assert run.worst.rise_m == pytest.approx(0.05 * (REACH - 2.1), abs=0.10 * 0.05)  # half a cell
    assert run.worst.back_slope == pytest.approx(0.05, abs=1e-6)
    assert run.worst.back_at_m > 2.0


def test_water_at_the_wall_comes_before_the_slope():
    site = a_lot(a_house())
    terrain = ground(site, falling(-0.02))
    standing = np.zeros(terrain.ground.shape)
    row, col = terrain.grid.cell(2.0, -4.6)
    standing[row, col - 3 : col + 4] = 0.05
    runs = on_wall(judged(site, terrain, standing), "front")
    assert [run.verdict for run in runs] == ["slopes back", "holds water", "slopes back"]
    assert runs[1].start_m < 6.0 + 2.0 < runs[1].end_m
    assert sum(run.end_m - run.start_m for run in runs) == pytest.approx(12.0)


def test_where_the_survey_ends_at_the_wall_there_is_no_word():
    site = a_lot(a_house())
    terrain = ground(site, falling(0.06))
    terrain.ground[:, : terrain.grid.cell(0.0, 0.0)[1]] = np.nan
    left, right = on_wall(judged(site, terrain), "front")
    assert (left.verdict, right.verdict) == ("not surveyed", "drains away")
    assert math.isnan(left.worst.fall_m)
    assert left.worst.cut_by == "survey"


# --- what cuts a profile short ---------------------------------------------------------------


def a_square_lot(half: float, neighbor="neighbor"):
    boundary = Polygon([(-half, -half), (half, -half), (half, half), (-half, half)])
    corners = np.array(boundary.exterior.coords)
    sides = tuple(
        LotSide(f"side {k}", corners[k : k + 2], neighbor) for k in range(len(corners) - 1)
    )
    return Lot(boundary, sides, WRITTEN)


@pytest.mark.parametrize(("slope", "verdict"), [(0.06, CUT), (0.0763, "drains away")])
def test_six_inches_are_asked_within_what_the_lot_line_leaves(slope, verdict):
    site = a_lot(a_house(9.0, 9.0), lot=a_square_lot(6.5))
    run = one_run(site, ground(site, falling(slope)))
    assert (run.worst.cut_by, run.verdict) == ("lot line", verdict)
    assert run.worst.reach_m == pytest.approx(2.0)
    assert run.worst.required_m == pytest.approx(6 * 0.0254)


def test_a_swale_within_what_is_left_asks_five_percent_to_it():
    swale = Outlet("swale", "swale", LineString([(-14, -6.0), (14, -6.0)]), "", WRITTEN)
    site = a_lot(a_house(9.0, 9.0), lot=a_square_lot(6.5), outlets=(swale,))
    run = one_run(site, ground(site, falling(0.051)))
    assert run.verdict == "drains away"
    assert run.worst.reach_m == pytest.approx(1.5)
    assert run.worst.required_m == pytest.approx(0.05 * 1.5)
    assert one_run(site, ground(site, falling(0.049))).verdict == CUT


def test_a_wall_on_the_lot_line_has_no_ground_of_its_own():
    site = a_lot(a_house(9.0, 9.0), lot=a_square_lot(4.5))
    run = one_run(site, ground(site, falling(0.08)))
    assert (run.verdict, run.worst.cut_by, run.worst.reach_m) == (CUT, "lot line", 0.0)


def test_two_houses_8_ft_apart_cut_each_other_short():
    gap = 8 * FOOT
    west, east = a_box("west", -10, -5, 0, 5), a_box("east", gap, -5, gap + 8, 5)
    site = a_lot(west, east)
    terrain = ground(site, lambda x, y: 100.0 - 0.06 * x, cell_size=0.2)
    runs = [run for run in judged(site, terrain) if run.wall_name == "wall 2"]
    assert runs[0].worst.cut_by == "wall"
    assert runs[0].worst.reach_m == pytest.approx(gap)
    assert runs[0].worst.fall_m == pytest.approx(0.06 * gap, abs=1e-9)
    assert runs[0].verdict == CUT
    (facing,) = [
        r for r in judged(site, terrain) if (r.building, r.wall_name) == ("east", "wall 4")
    ]
    assert facing.verdict == "slopes back"


@pytest.mark.parametrize("drop", [0.9, -0.9])
def test_a_retaining_wall_ends_the_ground_that_counts(drop):
    out = out_of_front(0.0)
    edge = -4.5 - 2.4
    step = a_break_line("terrace", [(-15, edge), (15, edge)], [100.0] * 2, [100.0 - drop] * 2)
    site = a_lot(a_house(), break_lines=(step,))

    def terrace(slope):
        return lambda x, y: 100.0 - slope * out(x, y) - np.where(out(x, y) > 2.4, drop, 0.0)

    run = one_run(site, ground(site, terrace(0.03), cell_size=0.1))
    assert (run.verdict, run.worst.cut_by) == (CUT, "wall")
    assert run.worst.reach_m == pytest.approx(2.3)
    assert run.worst.fall_m == pytest.approx(0.03 * 2.3, abs=1e-9)
    assert one_run(site, ground(site, terrace(0.067), cell_size=0.1)).verdict == "drains away"


# A cone falls to the inlet; cells of 5 cm blunt its tip by less than 0.05 x 0.05 m.
@pytest.mark.parametrize(("slope", "verdict"), [(0.052, "drains away"), (0.0499, CUT)])
def test_a_yard_inlet_within_what_is_left_asks_five_percent_to_it(slope, verdict):
    inlet = a_drain("yard inlet", (0.0, -6.0))
    site = a_lot(a_house(2.0, 9.0), lot=a_square_lot(6.5), drains=(inlet,))
    run = one_run(
        site, ground(site, lambda x, y: 100.0 + slope * np.hypot(x, y + 6.0), cell_size=0.05)
    )
    assert run.verdict == verdict


def test_attached_buildings_have_no_outside_wall_between_them():
    site = a_lot(a_box("house", -8, -4, 0, 4), a_box("garage", 0, -2, 6, 2))
    runs = judged(site, ground(site, lambda x, y: 100.0 - 0.06 * x))
    assert [r for r in runs if (r.building, r.wall_name) == ("garage", "wall 4")] == []
    beside = [r for r in runs if (r.building, r.wall_name) == ("house", "wall 2")]
    assert sum(r.end_m - r.start_m for r in beside) == pytest.approx(4.0, abs=0.31)


L_SHAPE = [(-7, -7), (7, -7), (7, 0), (0, 0), (0, 7), (-7, 7)]


def test_an_l_shape_falls_both_ways_in_its_corner():
    site = a_lot(a_building("house", L_SHAPE))
    terrain = ground(site, lambda x, y: 100.0 - 0.051 * (x + y))
    inner = [run for run in judged(site, terrain) if run.wall in (2, 3)]
    assert {run.verdict for run in inner} == {"drains away"}
    assert {station.cut_by for run in inner for station in run.stations} == {""}


def test_a_sharp_corner_cuts_profiles_short():
    site = a_lot(a_building("house", [(-8, -6), (8, -6), (8, 6), (0, -5.5), (-8, 6)]))
    runs = [
        run for run in judged(site, ground(site, lambda x, y: 100 - 0.2 * y)) if run.wall in (2, 3)
    ]
    for wall in (2, 3):
        stations = [s for run in runs if run.wall == wall for s in run.stations]
        near = min(stations, key=lambda s: abs(s.foot[0]))
        assert near.cut_by == "corner"
        # Half a spacing from a corner of 2 atan(8 / 11.5).
        assert near.reach_m == pytest.approx(0.149 * math.tan(2 * math.atan(8 / 11.5)), abs=0.01)


def test_a_u_shape_is_cut_by_its_other_wing():
    shape = [(-7, -7), (7, -7), (7, 7), (1, 7), (1, 0), (-1, 0), (-1, 7), (-7, 7)]
    site = a_lot(a_building("house", shape))
    runs = [
        run for run in judged(site, ground(site, lambda x, y: 100 - 0.05 * y)) if run.wall in (3, 5)
    ]
    reaches = {(s.cut_by, round(s.reach_m, 9)) for run in runs for s in run.stations}
    assert reaches == {("wall", 2.0)}


def test_a_courtyard_has_walls_of_its_own():
    house = a_building(
        "house", [(-8, -8), (8, -8), (8, 8), (-8, 8)], [[(-2, -2), (2, -2), (2, 2), (-2, 2)]]
    )
    site = a_lot(house)
    court = [run for run in judged(site, ground(site, falling(0.0))) if run.wall >= 4]
    assert [run.wall_name for run in court] == [f"courtyard wall {k}" for k in (1, 2, 3, 4)]
    assert [run.wall for run in court] == [4, 5, 6, 7]
    for run in court:
        inward = -np.array(run.worst.foot) @ np.array(run.worst.outward)
        assert inward == pytest.approx(2.0)
        assert (run.worst.cut_by, run.verdict) == ("", "too flat")


# --- openings and paving ---------------------------------------------------------------------


def an_opening(kind, at, width, projection=0.0):
    return Opening("it", kind, "house", 0, at, width, None, None, None, projection, True, WRITTEN)


def test_a_profile_starts_at_the_outer_rim_of_a_window_well():
    site = a_lot(a_house(), openings=(an_opening("window well", 6.0, 1.2, 0.9),))
    run = one_run(site, ground(site, falling(0.05)))
    rim = [s for s in run.stations if abs(s.along_m - 6.0) <= 0.6]
    assert len(rim) == 4
    assert {round(s.foot[1], 9) for s in rim} == {-5.4}
    assert run.verdict == "drains away"


def test_a_drive_that_falls_to_the_garage_door_is_named():
    drive = a_slab("drive", [(-3, -14), (1, -14), (1, -4.5), (-3, -4.5)])
    out = out_of_front(0.0)

    def yard(x, y):
        on_drive = (x > -3) & (x < 1)
        return 100.0 + np.where(on_drive, 0.03, -0.06) * out(x, y)

    site = a_lot(a_house(), paving=(drive,), openings=(an_opening("garage door", 5.0, 2.4),))
    runs = on_wall(judged(site, ground(site, yard)), "front")
    named = [run for run in runs if run.remarks]
    assert [run.verdict for run in named] == ["slopes back"]
    assert named[0].remarks == (Remark("falls to the wall", "the drive", ("garage door", "it")),)
    assert named[0].start_m == pytest.approx(3.0, abs=0.4)
    away = judged(site, ground(site, falling(0.06)))
    assert not any(run.remarks for run in away)


def test_a_walk_that_traps_water_is_named():
    walk = a_slab("walk", [(-14, -6.6), (14, -6.6), (14, -5.7), (-14, -5.7)])
    out = out_of_front(0.0)

    def yard(x, y):
        raised = (out(x, y) > 1.2) & (out(x, y) < 2.1)
        return 100.0 - 0.06 * out(x, y) + np.where(raised, 0.10, 0.0)

    site = a_lot(a_house(), paving=(walk,))
    run = one_run(site, ground(site, yard))
    assert run.remarks == (Remark("traps water", "the walk"),)
    assert run.worst.rise_m > 0.0254
    assert one_run(site, ground(site, falling(0.06))).remarks == ()


def test_a_building_without_ground_around_it_is_not_surveyed():
    far = Building("shed", shape_box(40, 40, 44, 44), ("a", "b", "c", "d"), None, None, WRITTEN)
    site = a_lot(far)
    runs = judged(site, ground(site, falling(0.05)))
    assert {run.verdict for run in runs} == {"not surveyed"}
    assert len(runs) == 4
