"""Pits in sizes to dig by: rounded up, enough, and none of them a step too large."""

from dataclasses import replace

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from runoff.discharge import (
    PitNeeds,
    TooLarge,
    box_of_depth,
    chamber_pit,
    least_plan,
    needs_of,
    pit_alternatives,
    stone_m3,
    trench_of_depth,
)
from runoff.rules import Rules
from tests.discharge.refusals import refused
from tests.discharge.test_pit import TABLE
from tests.discharge.test_pit_place import pit_on
from tests.lots.pits import FOOT, sandy_site, water_of

RULES = Rules()


def test_the_catchment_is_the_plan_area_that_sheds_the_lot_s_own_storm():
    site = sandy_site()
    water = water_of(site)
    assert water.design_area_m2 > water.plan_area_m2
    needs = needs_of(site, water, 1e-5)
    assert needs.catchment_m2 * needs.storm_m == pytest.approx(water.storm_m3)
    assert needs.catchment_m2 / FOOT**2 == pytest.approx(475)


# 5 m2 x 0.1 m needs 0.5 m3 and a last bit, which 2.5 m x 1 m x 0.5 m at 40 % holds but for it.
@example(5.000000000000001, 6.103515625e-05, 5, 0.1, False, trench_of_depth)
@given(
    catchment=st.floats(5, 120), rate=st.floats(2e-6, 7e-5), steps=st.integers(2, 8),
    step=st.sampled_from([0.1, 6 * 0.0254]), table=st.booleans(),
    shape=st.sampled_from([box_of_depth, trench_of_depth]),
)  # fmt: skip
def test_rounded_sizes_are_enough_and_no_larger_than_that(
    catchment, rate, steps, step, table, shape
):
    needs = PitNeeds(catchment, tuple(TABLE) if table else (), 0.1, rate, step, RULES)
    depth = steps * step
    check = shape(needs, depth)
    body = check.pit
    assert check.sufficient
    assert body.depth_m <= depth + 1e-9
    grown = [body.length_m, body.depth_m] + ([body.width_m] if body.kind == "box" else [])
    assert all(abs(each / step - round(each / step)) < 1e-6 for each in grown)
    assert body.kind == "box" or 0 <= body.width_m - RULES["pit_trench_width"] < step
    if body.length_m - step > body.width_m or body.kind == "box":
        width = body.width_m - (step if body.kind == "box" else 0)
        if width > 0 and body.length_m - step > 0:
            less = replace(body, length_m=body.length_m - step, width_m=width, depth_m=depth)
            assert not needs.governing(less).sufficient
    if body.depth_m > 1.5 * step:
        assert not needs.governing(replace(body, depth_m=body.depth_m - step)).sufficient


def test_a_row_of_chambers_grows_in_length():
    # 4.75 m3 in 60 % of 1 m x 0.5 m: 15.83 m.
    needs = PitNeeds(47.5, (), 0.1, 1e-3, 0.1, RULES)
    found = least_plan(chamber_pit(1, 1.0, 0.5, 0.6), needs.governing)
    assert found.pit.length_m == pytest.approx(4.75 / (0.6 * 0.5), rel=1e-6)
    assert found.pit.width_m == 1.0


def test_chambers_leave_two_thirds_of_the_stone():
    # Voids of 60 % where stone has 40 %: (1 - 0.6) / (1 - 0.4) of the volume is stone.
    pit = pit_on(sandy_site())
    chamber = replace(pit.governing.pit, kind="chamber", voids=0.6)
    boxed = stone_m3(pit, RULES)
    chambered = stone_m3(replace(pit, governing=replace(pit.governing, pit=chamber)), RULES)
    assert chambered == pytest.approx(boxed * 2 / 3)


def test_a_trench_that_no_lot_holds_is_too_large_and_left_out_of_the_other_shapes():
    """A roof of 38 by 2,000 ft: 76,000 sq ft x 0.95 x 4 in in 3 ft of stone at 40 % voids.

    24,067 cu ft / (3 x 0.40) = 20,056 sq ft: a box 141.6 ft square, or at 2 ft of width a trench
    10,028 ft long.
    """
    site = sandy_site()
    site = replace(site, roofs=(replace(site.roofs[0], plan_area=38 * 2000 * FOOT**2),))
    water = water_of(site)
    needs = needs_of(site, water, 1e-5)
    assert box_of_depth(needs, 3 * FOOT).pit.length_m / FOOT == pytest.approx(142)
    with pytest.raises(TooLarge):
        trench_of_depth(needs, 3 * FOOT)
    pit = replace(pit_on(sandy_site()), governing=box_of_depth(needs, 3 * FOOT))
    assert "trench" not in {each.pit.kind for each in pit_alternatives(site, water, pit)}


def test_a_roof_of_2000_ft_is_refused_a_pit_in_words():
    site = sandy_site()
    site = replace(site, roofs=(replace(site.roofs[0], plan_area=38 * 2000 * FOOT**2),))
    with refused(r"no place for a pit|more water than any pit"):
        pit_on(site)
