"""Pipes against published tables and an independent library."""

import math

import pytest
from fluids.geometry import A_partial_circle
from fluids.open_flow import V_Manning
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter

from runoff.discharge import (
    SIZES_IN,
    full_pipe_flow,
    full_pipe_velocity,
    normal_depth_ratio,
    part_full,
    pipe_at_flow,
    pipe_of,
    size_pipe,
)
from runoff.quantities import Shown
from runoff.rules import Rules
from runoff.site import PipeSize
from runoff.words import velocity_words

GPM = 3.785411784e-3 / 60
FOOT = 0.3048


@pytest.mark.parametrize(
    ("nominal", "eighths", "gpm"),
    # International Plumbing Code 2018, table 1106.2, horizontal: 1/16, 1/8, 1/4, 1/2 in per ft.
    [
        (3, 0.5, 39), (3, 1, 55), (3, 2, 79), (3, 4, 111),
        (4, 0.5, 81), (4, 1, 115), (4, 2, 163), (4, 4, 231),
    ],
)  # fmt: skip
def test_plumbing_code_horizontal_drains(nominal, eighths, gpm):
    pipe = pipe_of(nominal, "smooth")
    flow = full_pipe_flow(pipe.bore_m, eighths / 8 / 12, pipe.roughness)
    assert flow / GPM == pytest.approx(gpm, rel=0.02)


def test_the_wall_matters():
    # 4 in at 1 %: about 113 gpm smooth and 56 at n = 0.020, 1.4 ft/s (computed).
    bore = pipe_of(4, "smooth").bore_m
    assert full_pipe_flow(bore, 0.01, 0.010) / GPM == pytest.approx(113, abs=0.5)
    assert full_pipe_flow(bore, 0.01, 0.020) / GPM == pytest.approx(56, abs=0.6)
    assert full_pipe_velocity(bore, 0.01, 0.020) / FOOT == pytest.approx(1.4, abs=0.05)


def test_a_square_foot_at_an_inch_an_hour():
    # Uniform Plumbing Code appendix D: 0.0104 gpm; its 6 in row of about 222 gpm at 1/8 in per
    # ft asks for n near 0.015, not for 0.010.
    flow = 21_400 * FOOT**2 * 0.0254 / 3600
    assert flow / GPM == pytest.approx(222, abs=1)
    bore = pipe_of(6, "smooth").bore_m
    assert 0.0149 < 0.010 * full_pipe_flow(bore, 1 / 96, 0.010) / (222 * GPM) < 0.0156


# Exact part-full circle, n constant (computed, three decimals).
TABLE = {
    0.1: (0.052, 0.254, 0.401, 0.021),
    0.25: (0.196, 0.587, 0.701, 0.137),
    0.3: (0.252, 0.684, 0.776, 0.196),
    0.5: (0.5, 1, 1, 0.5),
    0.7: (0.748, 1.185, 1.120, 0.837),
    0.8: (0.858, 1.217, 1.140, 0.977),
    0.9: (0.948, 1.192, 1.124, 1.066),
}


@pytest.mark.parametrize("ratio", TABLE)
def test_part_full_table(ratio):
    state = part_full(ratio)
    found = (state.area_ratio, state.hydraulic_radius_ratio, state.velocity_ratio, state.flow_ratio)
    assert found == pytest.approx(TABLE[ratio], abs=5.1e-4)


def test_greatest_flow_and_velocity():
    # Any open-channel text (memory): Q 1.076 at 0.938, V 1.14 at 0.81.
    depths = [k / 1000 for k in range(1, 1001)]
    by_flow = max(depths, key=lambda d: part_full(d).flow_ratio)
    by_velocity = max(depths, key=lambda d: part_full(d).velocity_ratio)
    assert by_flow == pytest.approx(0.938, abs=0.001)
    assert part_full(by_flow).flow_ratio == pytest.approx(1.076, abs=0.0005)
    assert by_velocity == pytest.approx(0.81, abs=0.005)
    assert part_full(by_velocity).velocity_ratio == pytest.approx(1.14, abs=0.0005)


@pytest.mark.parametrize(
    ("depth", "radius", "area"),
    # Encyclopaedia Britannica 1911, Hydraulics: depth/radius, R/r, A/r2.
    [(0.20, 0.1278, 0.1651), (0.50, 0.293, 0.614), (0.80, 0.429, 1.175), (1.00, 0.500, 1.571)],
)
def test_britannica_1911(depth, radius, area):
    state = part_full(depth / 2)
    assert state.hydraulic_radius_ratio / 2 == pytest.approx(radius, rel=0.01)
    assert state.area_ratio * math.pi == pytest.approx(area, rel=0.01)


@pytest.mark.parametrize("ratio", [0.02, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95, 1.0])
@pytest.mark.parametrize(("diameter", "slope", "n"), [(0.0779, 0.005, 0.01), (0.2, 0.08, 0.024)])
def test_part_full_manning_against_fluids(ratio, diameter, slope, n):
    area = A_partial_circle(diameter, ratio * diameter)
    wetted = diameter * math.acos(1 - 2 * ratio)
    velocity = V_Manning(Rh=area / wetted, S=slope, n=n)
    state = part_full(ratio)
    ours = full_pipe_velocity(diameter, slope, n) * state.velocity_ratio
    assert ours == pytest.approx(velocity, rel=1e-9)
    flow = full_pipe_flow(diameter, slope, n) * state.flow_ratio
    assert flow == pytest.approx(velocity * area, rel=1e-9)
    if ratio < 0.9:
        assert normal_depth_ratio(velocity * area, diameter, slope, n) == pytest.approx(ratio)


@given(share=st.floats(0, 1), diameter=st.floats(0.05, 0.3), slope=st.floats(0.001, 0.3))
def test_normal_depth_is_the_lower_root(share, diameter, slope):
    full = full_pipe_flow(diameter, slope, 0.013)
    ratio = normal_depth_ratio(share * full, diameter, slope, 0.013)
    assert ratio < 0.82
    assert part_full(ratio).flow_ratio == pytest.approx(share, abs=1e-9)


def test_over_capacity_says_so():
    with pytest.raises(ValueError, match="over what the pipe carries full"):
        normal_depth_ratio(0.02, 0.1, 0.01, 0.01)
    with pytest.raises(ValueError, match=r"8 in pipe with a corrugated wall carries at 1\.00%"):
        size_pipe(0.1, 0.01, "corrugated")


@pytest.mark.parametrize(
    ("flow_gpm", "wall", "size"),
    [
        (54, "smooth", 3), (57, "smooth", 4), (113, "smooth", 4), (118, "smooth", 6),
        (49, "corrugated", 4), (52, "unknown", 6),
    ],
)  # fmt: skip
def test_the_smallest_pipe_that_carries_it(flow_gpm, wall, size):
    # The smooth limits at 1/8 in per ft are the plumbing code's 55 and 115 gpm, within 2 %.
    slope = 1 / 96 if wall == "smooth" else 0.01
    assert size_pipe(flow_gpm * GPM, slope, wall).pipe.nominal_in == size


def test_self_cleaning_flips_with_flow_and_is_said_with_it():
    pipe = pipe_of(4, "smooth")
    slow, fast = (pipe_at_flow(pipe, 0.01, gpm * GPM) for gpm in (10, 30))
    assert not slow.self_cleaning
    assert fast.self_cleaning
    assert velocity_words(Shown("us"), slow).startswith("at 10 gpm the water runs at 1.")
    assert "too slow" in velocity_words(Shown("us"), slow)
    strict = Rules().with_overrides({"self_cleaning_velocity": 3.0})
    assert not pipe_at_flow(pipe, 0.01, 30 * GPM, strict).self_cleaning


def test_a_rough_line_at_one_percent_never_cleans_itself():
    pipe = pipe_of(4, "corrugated")
    greatest = max(part_full(k / 100).velocity_ratio for k in range(101))
    least = Rules()["self_cleaning_velocity"]
    assert greatest * full_pipe_velocity(pipe.bore_m, 0.01, pipe.roughness) < least
    assert size_pipe(50 * GPM, 0.01, "corrugated").pipe.nominal_in == 4


def test_real_bores():
    assert pipe_of(3, "smooth").bore_m == pytest.approx(3.068 * 0.0254)
    assert pipe_of(4, "smooth").bore_m == pytest.approx(4.026 * 0.0254)
    assert pipe_of(4, "smooth").wall_m == pytest.approx(0.237 * 0.0254)


@pytest.mark.parametrize(
    ("diameter", "slope", "n", "named"),
    [
        (0.1, 0.0, 0.01, "slope"), (0.1, -0.01, 0.01, "slope"), (0.1, math.inf, 0.01, "slope"),
        (0, 0.01, 0.01, "diameter"), (math.nan, 0.01, 0.01, "diameter"), (0.1, 0.01, 0, "Manning"),
    ],
)  # fmt: skip
def test_bad_input_is_named(diameter, slope, n, named):
    with pytest.raises(ValueError, match=f"{named}.*expected a finite number above 0"):
        full_pipe_flow(diameter, slope, n)


@pytest.mark.parametrize(
    ("call", "line"),
    [
        (lambda: part_full(1.2), "from 0"),
        (lambda: part_full(math.nan), "from 0"),
        (lambda: normal_depth_ratio(-0.1, 0.1, 0.01, 0.01), "flow is -0.1 m3/s"),
        (lambda: pipe_of(5, "smooth"), "nominal size is 5 in"),
        (lambda: pipe_of(4, "clay"), "wall is 'clay'"),
        (lambda: size_pipe(0.0, 0.01, "smooth"), "flow is 0 m3/s"),
        (lambda: size_pipe(0.001, 0.0, "smooth"), "slope is 0 m/m"),
    ],
)
def test_other_bad_input_is_named(call, line):
    with pytest.raises(ValueError, match=line):
        call()


def test_the_page_s_example_by_hand():
    state = pipe_at_flow(pipe_of(4, "smooth"), 0.01, 50 * GPM)
    assert state.full_flow_m3_per_s / GPM == pytest.approx(113, abs=0.1)
    assert state.depth_ratio == pytest.approx(0.466, abs=5e-4)
    assert state.velocity_m_per_s / FOOT == pytest.approx(2.76, abs=0.005)


@pytest.mark.parametrize(("nominal", "outside_mm", "bore_mm"), [(4, 110, 103.6), (6, 160, 150.6)])
def test_metric_pipe_is_its_own_size(nominal, outside_mm, bore_mm):
    """EN 1401, SN 8 (memory): 110 x 3.2 and 160 x 4.7 mm."""
    pipe = pipe_of(nominal, "smooth", metric=True)
    assert pipe.size == f"{outside_mm} mm"
    assert pipe.outside_m == pytest.approx(outside_mm / 1000)
    assert pipe.bore_m == pytest.approx(bore_mm / 1000)
    assert size_pipe(0.005, 0.01, "smooth", metric=True).pipe.size == "110 mm"


def test_the_sizes_that_a_site_file_may_name_are_those_sold():
    named = TypeAdapter(PipeSize)
    sold = [
        pipe_of(size, "smooth", metric=metric).size for metric in (False, True) for size in SIZES_IN
    ]
    assert sorted(named.json_schema()["examples"]) == sorted(sold)
    assert [named.validate_python(size) for size in sold] == [*SIZES_IN, *SIZES_IN]
