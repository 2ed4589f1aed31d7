"""Percolation tests: the steady falls are used, the rest said; checked by hand and closed form."""

import math

import pytest
from numpy.testing import assert_allclose

from runoff.discharge import percolation_soil
from runoff.rules import Rules
from runoff.site import WaterReading, reduce_percolation
from tests.told import told

INCH, MINUTE = 0.0254, 60.0
DIAMETER = 8 * INCH


def refilled(falls, first=6.0, minutes=10.0):
    """A hole filled to `first` inches before each fall (inches), a fall every `minutes`."""
    readings = [WaterReading(0.0, first * INCH)]
    for k, fall in enumerate(falls, 1):
        time = k * minutes * MINUTE
        readings.append(WaterReading(time, (first - fall) * INCH))
        readings.append(WaterReading(time, first * INCH, refilled=True))
    return readings


def rate_of(test):
    record = test.record
    soil = percolation_soil(
        record.fall, record.time, record.diameter, record.first_depth, record.form
    )
    return soil.rate_m_per_s


def test_rates_by_hand():
    """8 in hole, from 6 in, 1 in in 10 min: 6 in/h / (1 + 4 x 5.5 / 8) = 1.6 in/h."""
    test = reduce_percolation(refilled([2, 1, 1, 1]), DIAMETER)
    assert_allclose([rate / INCH * 3600 for rate in test.rates], [1.6] * 3)
    assert (test.steady, test.warnings) == (True, ())
    assert [fall.fall / INCH for fall in test.left_out] == pytest.approx([2])
    assert_allclose(rate_of(test) / INCH * 3600, 1.6)


def test_the_printed_unit_check():
    """1 in in 7.4 min is 16.2 ft/day before the reduction by the hole's shape (as published)."""
    test = reduce_percolation(refilled([1, 1, 1], minutes=7.4), DIAMETER)
    bare = test.used[0].fall / test.used[0].seconds
    assert_allclose(bare / 0.3048 * 86400, 16.2, rtol=2e-3)


def test_the_record_gives_the_rate_whatever_the_falls():
    """Falls of different lengths and depths, all by one rate: the one fall of the record has it."""
    rate, h, readings, t = 5e-6, 0.3, [WaterReading(0.0, 0.3)], 0.0
    for seconds in (600.0, 1800.0, 300.0, 3000.0):
        # fall = I t (1 + 4 (h - fall / 2) / D), solved for the fall.
        fall = rate * seconds * (1 + 4 * h / DIAMETER) / (1 + 2 * rate * seconds / DIAMETER)
        t, h = t + seconds, h - fall
        readings.append(WaterReading(t, h))
    test = reduce_percolation(readings, DIAMETER)
    assert len(test.used) == 4
    assert_allclose(rate_of(test), rate, rtol=1e-12)


def test_steady_soil_is_steady_without_refills():
    """dh/dt = -I (1 + 4 h / D): the bare falls shrink to two thirds, the rates stay within 1 %."""
    rate, k = 4e-6, 4 / DIAMETER
    times = [600.0 * n for n in range(9)]
    depths = [((1 + k * 0.3) * math.exp(-rate * k * t) - 1) / k for t in times]
    readings = [WaterReading(t, h) for t, h in zip(times, depths, strict=True)]
    test = reduce_percolation(readings, DIAMETER)
    falls = [fall.fall for fall in test.used]
    assert falls[-1] < 0.75 * falls[0]
    assert (test.steady, len(falls)) == (True, 8)
    assert_allclose(rate_of(test), rate, rtol=0.01)


def test_as_many_as_agree_are_used():
    """Rates as the falls here: 1.099 and 1.00 agree within 10 %, 1.101 and 1.00 do not."""
    flat = 1e6  # in a hole so wide the rate is the bare fall over the time
    assert len(reduce_percolation(refilled([2, 1.099, 1.05, 1.0]), flat).used) == 3
    assert len(reduce_percolation(refilled([2, 1.101, 1.05, 1.0, 1.02]), flat).used) == 3
    assert len(reduce_percolation(refilled([1.05, 1.0, 1.02, 1.0]), flat).used) == 4


def test_never_steadied_takes_the_slowest_of_the_last_three():
    """1.5, 1.2, 1.25 in from 6 in: 9 / (1 + 4 x 5.25 / 8) = 2.48; 7.2 / 3.7; 7.5 / 3.6875 in/h."""
    test = reduce_percolation(refilled([0.3, 2, 1.5, 1.2, 1.25]), DIAMETER)
    assert not test.steady
    assert [fall.fall / INCH for fall in test.used] == pytest.approx([1.2])
    assert len(test.left_out) == 4
    assert (
        "never steadied: its last rates, 2.48 in/h, 1.95 in/h, 2.03 in/h, "
        in told(test.warnings, units="ft")[0]
    )


def test_two_falls_are_too_few():
    test = reduce_percolation(refilled([1.0, 1.0]), DIAMETER)
    assert not test.steady
    assert told(test.warnings, units="ft")[0].startswith(
        "the percolation test has 2 falls of the water, 3 that"
    )


def test_the_rules_say_how_many_and_how_near():
    rules = Rules().with_overrides({"percolation_steady_readings": 2, "soil_test_agreement": 0.01})
    test = reduce_percolation(refilled([1.05, 1.0, 1.0]), DIAMETER, rules=rules)
    assert (test.steady, len(test.used)) == (True, 2)


def test_water_that_never_fell_has_a_rate_at_most():
    """1/8 in at most in 30 min from 6 in: 0.25 in/h / (1 + 4 x 6 / 8)."""
    test = reduce_percolation(refilled([0, 0, 0]), DIAMETER, step_m=INCH / 8)
    assert_allclose(rate_of(test) / INCH * 3600, 0.25 / 4)
    assert "not seen to fall" in told(test.warnings, units="ft")[0]
    with pytest.raises(ValueError, match="the water never fell"):
        reduce_percolation(refilled([0, 0, 0]), DIAMETER)


def test_a_hole_that_ran_dry():
    test = reduce_percolation(refilled([6, 6, 6]), DIAMETER)
    assert "ran dry" in told(test.warnings, units="ft")[0]


@pytest.mark.parametrize(
    ("readings", "diameter", "said"),
    [
        (refilled([1, 1, 1]), 0.0, "expected one above 0"),
        ([WaterReading(0, 1)], 0.2, "no two readings follow each other"),
        ([WaterReading(0, 1), WaterReading(9, 1, refilled=True)], 0.2, "no two readings"),
        ([WaterReading(0, 1), WaterReading(9, 1.1)], 0.2, "rises without a refill"),
        ([WaterReading(9, 1), WaterReading(0, 0.9)], 0.2, "goes back in time"),
        ([WaterReading(9, 1), WaterReading(9, 0.9)], 0.2, "have one time"),
    ],
)
def test_what_cannot_be(readings, diameter, said):
    with pytest.raises(ValueError, match=said):
        reduce_percolation(readings, diameter)
