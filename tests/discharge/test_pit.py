"""Seepage pits against a published design, closed forms and the laws of water."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runoff.discharge import (
    box_pit,
    check_by_durations,
    check_whole_storm,
    cylinder_pit,
    least_depth,
    least_plan,
    trench_pit,
)
from runoff.rules import Rules

MINUTES = (10, 15, 30, 60, 120, 240, 360, 600, 1440, 2880, 5760)
# BRE 365, a published calculation: M5-60 20 mm, r 0.40, ten-year depths (mm) and inflows (m3).
DEPTHS = (12.69, 15.50, 19.84, 24.80, 30.01, 35.38, 38.72, 42.96, 52.86, 61.31, 70.15)
INFLOWS = (8.75, 10.69, 13.69, 17.11, 20.71, 24.41, 26.72, 29.64, 36.47, 42.30, 48.40)
TABLE = [(60 * t, d / 1000) for t, d in zip(MINUTES, DEPTHS, strict=True)]
TRENCH = trench_pit(23.0, 5.0, 0.80, 0.4)
RATE = 8.5e-6


def published():
    return check_by_durations(690, TABLE, TRENCH, RATE)


def test_published_inflows():
    # The 1440 min inflow is printed as 36.48; 690 m2 x 52.86 mm is 36.47. Two roundings: of the
    # depths, 690 m2 x 0.005 mm = 0.0035 m3, and of the inflows, 0.005 m3.
    found = [each.inflow_m3 for each in published().durations]
    assert found == pytest.approx(INFLOWS, abs=0.0085)


def test_published_storage_and_half_empty_time():
    # Computed from the published figures: 22.8 m3 at 600 min, half empty in 16.6 h.
    check = published()
    assert check.required_m3 == pytest.approx(22.8, abs=0.05)
    assert check.governing.seconds == 600 * 60
    assert check.emptying_s / 3600 == pytest.approx(16.6, abs=0.05)
    assert check.sufficient
    assert check.warnings == ()


@pytest.mark.parametrize(("voids", "hours"), [(0.3, 20.1), (0.4, 26.8)])
def test_the_time_from_all_that_it_holds_is_told_beside_it(voids, hours):
    """690 m2: 16.6 h from the required volume; from the provided one by voids (computed)."""
    check = check_by_durations(690, TABLE, trench_pit(23.0, 5.0, 0.80, voids), RATE)
    assert check.emptying_s / 3600 == pytest.approx(16.6, abs=0.05)
    assert check.emptying_full_s / 3600 == pytest.approx(hours, abs=0.05)


def test_half_empty_time_counts_from_the_required_volume():
    twice = trench_pit(23.0, 5.0, 0.80, 0.8)
    assert check_by_durations(690, TABLE, twice, RATE).emptying_s == published().emptying_s


def test_a_table_too_short_is_said():
    check = check_by_durations(690, TABLE[:5], TRENCH, RATE)
    assert check.warnings == ("longest rain governs",)


def test_half_empty_limit_flips():
    day = Rules().with_overrides({"pit_half_empty_time": 16.7 * 3600})
    less = Rules().with_overrides({"pit_half_empty_time": 16.5 * 3600})
    assert check_by_durations(690, TABLE, TRENCH, RATE, day).sufficient
    assert not check_by_durations(690, TABLE, TRENCH, RATE, less).sufficient


def test_a_roof_sheds_a_sixth_of_its_square_feet_in_two_inches():
    # Fact sheet: 2 in over the roof is sq ft / 6 in cu ft.
    foot = 0.3048
    check = check_whole_storm(1200 * foot**2, 2 * 0.0254, TRENCH, RATE)
    assert check.required_m3 / foot**3 == pytest.approx(1200 / 6)


def test_drain_down_is_through_the_bottom():
    # A full box of depth d and voids v drains through its bottom in d v / rate.
    pit = box_pit(2.0, 1.5, 1.2, 0.4)
    check = check_whole_storm(pit.stored_m3, 1.0, pit, 2e-6)
    assert check.emptying_s == pytest.approx(1.2 * 0.4 / 2e-6)
    assert check.holds
    assert check.empties_in_time  # 66.7 h of 72 h (New Jersey BMP Manual 9.3)
    assert not check_whole_storm(pit.stored_m3, 1.0, pit, 1.8e-6).empties_in_time


@given(
    length=st.floats(0.5, 5), width=st.floats(0.5, 5), catchment=st.floats(5, 200),
    rate=st.floats(2e-5, 1e-3),
)  # fmt: skip
def test_least_depth_by_durations_is_the_closed_form(length, width, catchment, rate):
    # plan v d + perimeter d f t / 2 = inflow, for the duration that asks for most.
    pit = box_pit(length, width, 1.0, 0.4)
    found = least_depth(pit, lambda pit: check_by_durations(catchment, TABLE, pit, rate))
    sides = length + width
    depths = [catchment * rain / (length * width * 0.4 + sides * rate * t) for t, rain in TABLE]
    half = [catchment * rain / (sides * rate * (2 * 86400 + t)) for t, rain in TABLE]
    assert found.pit.depth_m == pytest.approx(max(depths + half), rel=1e-6)
    assert found.sufficient


@pytest.mark.parametrize(
    ("pit", "a", "b"),
    # a k^2 + b k = inflow, k the side or diameter.
    [
        (box_pit(1, 1, 1.2, 0.4), 0.48, 2 * 1.2),
        (cylinder_pit(1, 1.2, 0.4), math.pi / 4 * 0.48, math.pi / 2 * 1.2),
    ],
)
def test_least_plan_by_durations_is_the_closed_form(pit, a, b):
    rate = 3e-5
    found = least_plan(pit, lambda pit: check_by_durations(100, TABLE, pit, rate))
    sides = []
    for seconds, rain in TABLE:
        p = b * rate * seconds
        sides.append((-p + math.sqrt(p * p + 4 * a * 100 * rain)) / (2 * a))
    assert found.pit.length_m == pytest.approx(max(sides), rel=1e-6)
    assert found.pit.width_m == pytest.approx(found.pit.length_m)
    assert found.pit.stored_m3 == pytest.approx(found.required_m3, rel=1e-6)


def test_least_length_of_a_trench_is_the_closed_form():
    rate, width, depth = 3e-5, 0.6, 1.0
    trench = trench_pit(1, width, depth, 0.4)
    found = least_plan(trench, lambda pit: check_by_durations(100, TABLE, pit, rate))
    lengths = [
        (100 * rain - width * depth * rate * t) / (width * 0.4 * depth + depth * rate * t)
        for t, rain in TABLE
    ]
    assert found.pit.length_m == pytest.approx(max(lengths), rel=1e-6)
    assert found.pit.width_m == width


def test_least_plan_for_a_whole_storm_also_drains_in_time():
    # 5 m3 at 72 h through the bottom at 1e-6 m/s asks for 19.3 m2, more than 5 / (0.4 x 1) = 12.5.
    found = least_plan(box_pit(1, 1, 1, 0.4), lambda pit: check_whole_storm(50, 0.1, pit, 1e-6))
    assert found.pit.plan_area_m2 == pytest.approx(5 / (72 * 3600 * 1e-6), rel=1e-6)
    quick = least_plan(box_pit(1, 1, 1, 0.4), lambda pit: check_whole_storm(50, 0.1, pit, 1e-5))
    assert quick.pit.plan_area_m2 == pytest.approx(12.5, rel=1e-6)


def test_a_plan_too_small_to_drain_is_refused():
    pit = box_pit(1, 1, 1, 0.4)
    with pytest.raises(ValueError, match="take a larger plan"):
        least_depth(pit, lambda pit: check_whole_storm(50, 0.1, pit, 1e-6))


@pytest.mark.parametrize(
    ("call", "line"),
    [
        (lambda: box_pit(1, 1, 0, 0.4), "effective depth is 0 m"),
        (lambda: box_pit(1, -2, 1, 0.4), "width is -2 m"),
        (lambda: cylinder_pit(math.inf, 1, 0.4), "diameter is inf m"),
        (lambda: box_pit(1, 1, 1, 40), "voids is 40"),
        (lambda: check_by_durations(690, [], TRENCH, RATE), "rain table is empty"),
        (lambda: check_by_durations(690, [(0, 0.01)], TRENCH, RATE), "rain duration is 0 s"),
        (lambda: check_by_durations(690, [(60, -0.01)], TRENCH, RATE), "rain depth is -0.01 m"),
        (lambda: check_by_durations(690, TABLE, TRENCH, -1e-6), "soil rate is -1e-06 m/s"),
        (lambda: check_whole_storm(0, 0.1, TRENCH, RATE), "catchment is 0 m2"),
        (lambda: check_whole_storm(9, math.nan, TRENCH, RATE), "rain depth is nan m"),
    ],
)
def test_bad_input_is_named(call, line):
    with pytest.raises(ValueError, match=line):
        call()


def test_the_page_s_example_by_hand():
    foot = 0.3048
    catchment, storm = 500 * 0.95 * foot**2, 4 / 12 * foot
    pit = box_pit(12 * foot, 8 * foot, foot, 0.4)
    found = least_depth(pit, lambda pit: check_whole_storm(catchment, storm, pit, 1e-5))
    assert found.required_m3 / foot**3 == pytest.approx(158.3, abs=0.05)
    assert found.pit.depth_m / foot == pytest.approx(4.12, abs=0.005)
    assert found.emptying_s / 3600 == pytest.approx(14.0, abs=0.05)
    assert found.pit.stone_m3 / (3 * foot) ** 3 == pytest.approx(14.7, abs=0.05)
