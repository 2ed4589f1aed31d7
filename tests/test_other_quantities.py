"""Areas, volumes, flows, rates, durations, slopes and ratios, against definitions and tables."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runoff.quantities import (
    QuantityError,
    format_area,
    format_duration,
    format_flow,
    format_pitch,
    format_rate,
    format_slope,
    format_velocity,
    format_volume,
    parse_area,
    parse_duration,
    parse_flow,
    parse_rate,
    parse_ratio,
    parse_slope,
    parse_volume,
)

PARSERS = [
    parse_area,
    parse_duration,
    parse_flow,
    parse_rate,
    parse_ratio,
    parse_slope,
    parse_volume,
]


# Factors of NIST Special Publication 811, appendix B, from memory, to the figures printed there.
@pytest.mark.parametrize(
    ("parse", "text", "si"),
    [
        (parse_area, "1 sq ft", 0.09290304),
        (parse_area, "1 ft2", 0.09290304),
        (parse_area, "1 ft²", 0.09290304),
        (parse_area, "1 square foot", 0.09290304),
        (parse_area, "1 sq in", 6.4516e-4),
        (parse_area, "1 sq. yd.", 0.83612736),
        (parse_area, "1 acre", 4046.8564224),
        (parse_area, "12.5 m2", 12.5),
        (parse_volume, "1 cu ft", 0.028316846592),
        (parse_volume, "1 cubic yard", 0.764554857984),
        (parse_volume, "1 gal", 0.003785411784),
        (parse_volume, "2 1/2 gallons", 0.00946352946),
        (parse_volume, "250 L", 0.25),
        (parse_volume, "3 m³", 3),
        (parse_rate, "2e-5 m/s", 2e-5),
        (parse_rate, "1.5E-6 m/s", 1.5e-6),
        (parse_flow, "1 gpm", 6.30902e-5),
        (parse_flow, "1 gallon per minute", 6.30902e-5),
        (parse_flow, "1 cfs", 0.028316846592),
        (parse_flow, "1 cu ft/s", 0.028316846592),
        (parse_flow, "2 L/s", 0.002),
        (parse_flow, "1 m3/h", 1 / 3600),
        (parse_rate, "1 in/h", 7.055556e-6),
        (parse_rate, "1 inch per hour", 7.055556e-6),
        (parse_rate, "1 in. an hour", 7.055556e-6),
        (parse_rate, "75 mm/h", 2.0833333e-5),
        (parse_rate, "0.000001 m/s", 1e-6),
        (parse_rate, "2 ft/s", 0.6096),
        (parse_duration, "5 min", 300),
        (parse_duration, "24 h", 86400),
        (parse_duration, "1 h 30 min", 5400),
        (parse_duration, "1.5 hours", 5400),
        (parse_duration, "4020 s", 4020),
        (parse_duration, "3 days", 259200),
        (parse_slope, "6:12", 0.5),
        (parse_slope, "6/12", 0.5),
        (parse_slope, "6 in 12", 0.5),
        (parse_slope, "6 1/2 : 12", 6.5 / 12),
        (parse_slope, "1:20", 0.05),
        (parse_slope, "2%", 0.02),
        (parse_slope, "-2 percent", -0.02),
        (parse_slope, "1/4 in per ft", 1 / 48),
        (parse_slope, "1/8 in/ft", 1 / 96),
        (parse_slope, "1/8\" per foot", 1 / 96),
        (parse_slope, "6 in in 10 ft", 0.05),
        (parse_slope, "1 in per 15 ft", 1 / 180),
        (parse_slope, "45°", 1),
        (parse_slope, "30 degrees", 1 / math.sqrt(3)),
        (parse_ratio, "0.95", 0.95),
        (parse_ratio, "95 %", 0.95),
        (parse_ratio, "7/24", 7 / 24),
        (parse_ratio, 0.9, 0.9),
    ],
)  # fmt: skip
def test_quantities_are_read_to_si(parse, text, si):
    assert parse(text) == pytest.approx(si, rel=1e-6)


def test_unit_checks_published_for_the_trade():
    # Uniform Plumbing Code appendix D: 1 in/h on 1 sq ft is 0.0104 gpm.
    assert parse_rate("1 in/h") * parse_area("1 sq ft") == pytest.approx(
        parse_flow("0.0104 gpm"), rel=2e-3
    )
    # Approved Document H: 75 mm/h is 0.0208 L/s per m2.
    assert parse_rate("75 mm/h") == pytest.approx(parse_flow("0.0208 L/s"), rel=2e-3)
    # A percolation form: 7.4 min/in is 16.2 ft/day.
    inches_a_day = parse_duration("1 day") / parse_duration("7.4 min")
    assert inches_a_day * parse_rate("1 in/day") == pytest.approx(
        parse_rate("16.2 ft/day"), rel=2e-3
    )
    # cfs = 1.008 C i A with i in in/h and A in acres.
    assert parse_rate("1 in/h") * parse_area("1 acre") == pytest.approx(
        parse_flow("1.008 cfs"), rel=1e-3
    )


@pytest.mark.parametrize(
    ("parse", "text", "reason"),
    [
        (parse_area, "12", "say the unit"),
        (parse_area, "12 ft", '"ft" is not a unit of area'),
        (parse_area, "-12 sq ft", "it is negative"),
        (parse_volume, "24,7 cu ft", "write a decimal with a point"),
        (parse_volume, "1,500 L", "may be a decimal mark"),
        (parse_area, "1,500 m2", "may be a decimal mark"),
        (parse_flow, "2 gal", '"gal" is not a unit of flow'),
        (parse_rate, "4 in", '"in" is not a unit of rate'),
        (parse_rate, "fast", "a figure is missing"),
        (parse_duration, "1 h 90 min", "too large or in the wrong order"),
        (parse_duration, "30 min 1 h", "too large or in the wrong order"),
        (parse_duration, "1 h 30", "say the unit"),
        (parse_duration, "", "nothing is written"),
        (parse_slope, "6", "write it like"),
        (parse_slope, 6, "write it like"),
        (parse_slope, "6:0", "is not expected"),
        (parse_slope, "6:", "is not expected"),
        (parse_slope, "90 degrees", "less than 90 degrees"),
        (parse_slope, "6 lb", "is not expected"),
        (parse_ratio, "4 ft", "is not expected"),
        (parse_ratio, math.inf, "not a finite number"),
        (parse_ratio, True, "neither text nor a number"),
    ],
)
def test_what_is_not_the_quantity_is_refused_with_the_reason(parse, text, reason):
    with pytest.raises(QuantityError) as refused:
        parse(text)
    assert reason in refused.value.reason


@pytest.mark.parametrize("parse", PARSERS)
@given(
    st.one_of(
        st.text(max_size=300),
        st.lists(
            st.sampled_from(["9", "1/2", " ", "-", ":", "/", "per", "in", "ft", "%", "h", "min"]),
            max_size=20,
        ).map("".join),
    )
)
def test_any_text_is_finite_or_refused(parse, text):
    try:
        value = parse(text)
    except QuantityError:
        return
    assert math.isfinite(value)


@pytest.mark.parametrize("parse", PARSERS)
def test_thousands_of_characters_are_refused(parse):
    with pytest.raises(QuantityError, match="longer than 200"):
        parse("1 in " * 5000)


@pytest.mark.parametrize(
    ("parse", "write"),
    [
        (parse_area, format_area),
        (parse_volume, format_volume),
        (parse_flow, format_flow),
        (parse_rate, format_rate),
        (parse_rate, format_velocity),
    ],
)
@given(st.floats(1e-6, 1e6), st.sampled_from(["us", "metric"]))
def test_written_quantities_read_back_to_three_figures(parse, write, value, system):
    assert parse(write(value, system)) == pytest.approx(value, rel=5.01e-3)


@given(st.floats(0, 10**7))
def test_written_durations_read_back_within_half_a_step(seconds):
    step = 60 if seconds >= 3599.5 else 1
    assert abs(parse_duration(format_duration(seconds)) - seconds) <= step / 2 + 0.5


@given(st.floats(1e-4, 100))
def test_written_slopes_read_back_to_three_figures(slope):
    assert parse_slope(format_slope(slope)) == pytest.approx(slope, rel=5.01e-3)
    assert parse_slope(format_pitch(slope)) == pytest.approx(slope, rel=5.01e-3)


def test_only_finite_numbers_are_written():
    with pytest.raises(QuantityError, match="finite"):
        format_area(math.nan)
    with pytest.raises(QuantityError, match="finite"):
        format_slope(math.inf)
    with pytest.raises(ValueError, match="system"):
        format_area(1, "imperial")
