"""Swales against an independent library, closed forms and published velocities."""

import math

import pytest
from fluids.open_flow import V_Manning
from hypothesis import given
from hypothesis import strategies as st

from runoff.discharge import (
    SwaleSection,
    bare_velocity,
    grass_velocity,
    swale_at_flow,
    swale_capacity,
    swale_flow,
)
from runoff.rules import Rules

FOOT = 0.3048


@pytest.mark.parametrize("n", ["roughness_grass_swale", "roughness_short_grass"])
@pytest.mark.parametrize(("bottom", "run"), [(0.5, 3), (0, 4), (1.0, 0)])
def test_manning_against_fluids(bottom, run, n):
    # Lawn at shallow depth (published table, read): 0.09 at 4 to 6 in, 0.07 mown to 2 in.
    roughness, water = Rules()[n], 0.15
    area = bottom * water + run * water**2
    wetted = bottom + 2 * math.sqrt(water**2 + (run * water) ** 2)
    velocity = V_Manning(Rh=area / wetted, S=0.02, n=roughness)
    state = swale_flow(SwaleSection(bottom, run, 0.3), water, 0.02, roughness)
    assert state.velocity_m_per_s == pytest.approx(velocity)
    assert state.flow_m3_per_s == pytest.approx(velocity * area)
    assert state.freeboard_m == pytest.approx(0.15)


@given(flow=st.floats(1e-5, 0.02), run=st.floats(1, 10), slope=st.floats(0.005, 0.2))
def test_depth_in_a_triangle_is_the_closed_form(flow, run, slope):
    # A = z y^2, R = z y / (2 sqrt(1 + z^2)), so Q grows with y^(8/3).
    radius = run / (2 * math.sqrt(1 + run**2))
    depth = (flow * 0.05 / (run * radius ** (2 / 3) * math.sqrt(slope))) ** 0.375
    state = swale_at_flow(SwaleSection(0, run, 1.0), flow, slope, 0.05)
    assert state.water_m == pytest.approx(depth, rel=1e-6)
    assert state.flow_m3_per_s == pytest.approx(flow, rel=1e-6)


def test_freeboard_is_kept():
    section = SwaleSection(0.5, 3, 0.3)
    state = swale_capacity(section, 0.02, 0.05, 0.1)
    assert state.freeboard_m == pytest.approx(0.1)
    assert state.flow_m3_per_s == pytest.approx(swale_flow(section, 0.2, 0.02, 0.05).flow_m3_per_s)
    assert swale_capacity(section, 0.02, 0.05, 0).flow_m3_per_s > state.flow_m3_per_s


@pytest.mark.parametrize(
    ("cover", "slope", "resistant", "erodible"),
    # SCS-TP-61, ft/s.
    [
        ("bluegrass", 0.05, 7, 5), ("bluegrass", 0.051, 6, 4), ("bluegrass", 0.10, 6, 4),
        ("bluegrass", 0.11, 5, 3), ("grass mixture", 0.05, 5, 4),
        ("grass mixture", 0.051, 4, 3), ("grass mixture", 0.10, 4, 3),
    ],
)  # fmt: skip
def test_grass(cover, slope, resistant, erodible):
    assert grass_velocity(cover, slope, erodible=False) == pytest.approx(resistant * FOOT)
    assert grass_velocity(cover, slope) == pytest.approx(erodible * FOOT)


def test_the_rule_s_default_is_the_table_s():
    rule = Rules()["swale_velocity_to_5_percent"]
    assert grass_velocity("grass mixture", 0.05) == pytest.approx(rule)


@pytest.mark.parametrize(
    ("soil", "velocity"),
    # Minnesota manual, ft/s.
    [
        ("sand", 1.5),
        ("silt", 1.5),
        ("sandy loam", 1.5),
        ("silt loam", 1.5),
        ("sandy clay", 2.0),
        ("clay", 2.5),
    ],
)
def test_bare_soil(soil, velocity):
    assert bare_velocity(soil) == pytest.approx(velocity * FOOT)


SECTION = SwaleSection(0.5, 3, 0.3)


@pytest.mark.parametrize(
    ("call", "line"),
    [
        (lambda: SwaleSection(0, 0, 1), "no width"),
        (lambda: SwaleSection(-1, 3, 1), "bottom width is -1 m"),
        (lambda: SwaleSection(1, 3, 0), "depth of the swale is 0 m"),
        (lambda: swale_flow(SECTION, 0.4, 0.02, 0.05), "deeper than the swale"),
        (lambda: swale_flow(SECTION, 0.2, 0, 0.05), "slope is 0 m/m"),
        (lambda: swale_flow(SECTION, 0.2, 0.02, math.nan), "Manning's n is nan"),
        (lambda: swale_capacity(SECTION, 0.02, 0.05, 0.3), "leaves no depth"),
        (lambda: swale_at_flow(SECTION, 9, 0.02, 0.05), "carries brim-full"),
        (lambda: swale_at_flow(SECTION, -1, 0.02, 0.05), "flow is -1 m3/s"),
        (lambda: grass_velocity("grass mixture", 0.11), "up to 10 %"),
        (lambda: grass_velocity("moss", 0.02), "cover is 'moss'"),
        (lambda: bare_velocity("peat"), "soil is 'peat'"),
    ],
)
def test_bad_input_is_named(call, line):
    with pytest.raises(ValueError, match=line):
        call()


def test_the_page_s_example_by_hand():
    section = SwaleSection(0, 4, 0.5 * FOOT)
    state = swale_capacity(section, 0.02, 0.05, 0.25 * FOOT)
    assert state.velocity_m_per_s / FOOT == pytest.approx(1.03, abs=0.005)
    assert state.flow_m3_per_s / FOOT**3 == pytest.approx(0.257, abs=0.0005)
