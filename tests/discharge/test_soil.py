"""Soil rates against published calculations, and the limits on either side."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runoff.discharge import (
    SoilRate,
    SoilWarning,
    design_rate,
    percolation_soil,
    texture_soil,
    trial_pit_soil,
)
from runoff.quantities import Shown
from runoff.rules import Rules
from runoff.site import trial_pit_rate
from runoff.words import soil_warning
from tests.discharge.refusals import refused

INCH = 0.0254
INCH_AN_HOUR = INCH / 3600


def test_published_trial_pit():
    # BRE Digest 365, a published calculation: V 0.312 m3, a50 2.39 m2, f 3.24e-5 (3.247e-5, cut).
    rate = trial_pit_rate(1.60, 0.60, 0.65, 4020)
    assert rate == pytest.approx(0.312 / (2.39 * 4020), rel=1e-3)
    assert math.floor(rate * 1e7) == 324


def test_the_slowest_of_three_fillings_counts():
    soil = trial_pit_soil(1.60, 0.60, 0.65, [3000, 4020, 3900])
    assert soil.rate_m_per_s == trial_pit_rate(1.60, 0.60, 0.65, 4020)
    assert soil.warnings == ()
    one = trial_pit_soil(1.60, 0.60, 0.65, [4020])
    assert one.warnings == (SoilWarning("few fillings", 1, 3),)


def shaft_rate(fall_in, minutes, radius_in, first_in):
    """County manuals (memory), in/h: I = dH 60 r / (dt (r + 2 Havg))."""
    average = first_in - fall_in / 2
    return fall_in * 60 * radius_in / (minutes * (radius_in + 2 * average))


@given(
    fall=st.floats(0.1, 6), minutes=st.floats(1, 60), radius=st.floats(2, 9), more=st.floats(0, 12)
)
def test_percolation_by_the_shaft_formula(fall, minutes, radius, more):
    first = fall + more
    measured = (fall * INCH, minutes * 60, 2 * radius * INCH, first * INCH)
    soil = percolation_soil(*measured)
    expected = shaft_rate(fall, minutes, radius, first)
    assert soil.rate_m_per_s / INCH_AN_HOUR == pytest.approx(expected, rel=1e-9)
    county = percolation_soil(*measured, form="county form")
    assert county.rate_m_per_s > soil.rate_m_per_s
    assert county.warnings == (SoilWarning("county form"),)


def test_county_form_as_printed():
    # A printed county form: reduction (2 d1 - dd) / DIA + 1; 12 in of water, 8 in hole: 3.9375.
    soil = percolation_soil(0.5 * INCH, 600, 8 * INCH, 12 * INCH, form="county form")
    assert soil.rate_m_per_s / INCH_AN_HOUR == pytest.approx(3 / 3.9375, rel=1e-9)


def test_minutes_an_inch_to_feet_a_day():
    # Unit check: 7.4 min/in is 16.2 ft/day. A hole as wide as the sea has no side to speak of.
    soil = percolation_soil(INCH, 7.4 * 60, 1e9, INCH)
    assert soil.rate_m_per_s * 86400 / 0.3048 == pytest.approx(16.2, abs=0.05)


@pytest.mark.parametrize(
    ("texture", "inches_an_hour"),
    # Rawls, Brakensiek & Saxton 1982, in/h (memory).
    [
        ("sand", 8.27), ("loamy sand", 2.41), ("sandy loam", 1.02), ("loam", 0.52),
        ("silt loam", 0.27), ("sandy clay loam", 0.17), ("clay loam", 0.09),
        ("silty clay loam", 0.06), ("sandy clay", 0.05), ("silty clay", 0.04), ("clay", 0.02),
    ],
)  # fmt: skip
def test_texture_rates(texture, inches_an_hour):
    soil = texture_soil(texture)
    assert soil.rate_m_per_s / INCH_AN_HOUR == pytest.approx(inches_an_hour, rel=1e-9)
    assert soil.warnings == (SoilWarning("texture alone"),)


def test_the_factor_of_safety_is_taken_off():
    # New Jersey BMP Manual 9.3: design rate = tested / 2, from 0.5 to 10 in/h.
    design = design_rate(SoilRate(2 * INCH_AN_HOUR, "trial pit"))
    assert design.rate_m_per_s == pytest.approx(INCH_AN_HOUR)
    county = Rules().with_overrides({"pit_safety_factor": 3.0})
    assert design_rate(design.soil, county).rate_m_per_s == pytest.approx(2 / 3 * INCH_AN_HOUR)


@pytest.mark.parametrize(("tested", "warned"), [(1.001, False), (0.999, True), (0.15, True)])
def test_slow_soil_is_warned_of(tested, warned):
    design = design_rate(SoilRate(tested * INCH_AN_HOUR, "trial pit"))
    assert ("slow" in [each.code for each in design.warnings]) == warned


def test_too_slow_soil_is_refused():
    # Buckinghamshire guidance: f at least 1e-6 m/s (0.14 in/h).
    assert design_rate(SoilRate(1.0e-6, "trial pit")).rate_m_per_s == pytest.approx(5e-7)
    with refused(r"below the 0\.142 in/h that a seepage pit needs"):
        design_rate(SoilRate(0.99e-6, "trial pit"))
    with refused("no pit here"):
        design_rate(texture_soil("clay"))


def test_very_fast_soil_is_not_counted_on_in_full():
    design = design_rate(SoilRate(50 * INCH_AN_HOUR, "trial pit"))
    assert design.rate_m_per_s == pytest.approx(10 * INCH_AN_HOUR)
    assert design.warnings[-1].code == "not counted on"
    assert soil_warning(Shown("us"), design, design.warnings[-1]) == (
        "no more than 10 in/h is counted on"
    )


@pytest.mark.parametrize(
    ("call", "line"),
    [
        (lambda: trial_pit_rate(0, 1, 1, 60), "length is 0 m"),
        (lambda: trial_pit_rate(1, -1, 1, 60), "width is -1 m"),
        (lambda: trial_pit_rate(1, 1, math.nan, 60), "effective depth is nan m"),
        (lambda: trial_pit_rate(1, 1, 1, math.inf), "time from 75 % to 25 % is inf s"),
        (lambda: trial_pit_soil(1, 1, 1, []), "at least one time"),
        (lambda: percolation_soil(0.2, 60, 0.2, 0.1), "more than its first depth"),
        (lambda: percolation_soil(-0.1, 60, 0.2, 0.1), "fall of the water is -0.1"),
        (lambda: percolation_soil(0.1, 60, 0.2, 0.1, "mine"), "form is 'mine'"),
        (lambda: texture_soil("gravel"), "soil texture is 'gravel'"),
        (lambda: design_rate(SoilRate(-1e-5, "trial pit")), "soil rate is -1e-05"),
    ],
)
def test_bad_input_is_named(call, line):
    with pytest.raises(ValueError, match=line):
        call()
