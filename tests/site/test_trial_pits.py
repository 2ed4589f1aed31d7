"""Trial pits: the published figure of the method, and water that falls as its equation says."""

import math

import pytest
from numpy.testing import assert_allclose

from runoff.discharge import trial_pit_soil
from runoff.rules import Rules
from runoff.site import Filling, reduce_trial_pit, trial_pit_rate
from tests.told import told

LENGTH, WIDTH, DEPTH = 1.60, 0.60, 0.65


def water(rate, times, depth=DEPTH, length=LENGTH, width=WIDTH):
    """Readings of water that leaves by bottom and sides at `rate`: dh/dt = -f (1 + h p / a).

    Its solution is 1 + h p / a = (1 + h0 p / a) exp(-f p t / a).
    """
    k = 2 * (length + width) / (length * width)
    return tuple((t, ((1 + k * depth) * math.exp(-rate * k * t) - 1) / k) for t in times)


def filled(*times):
    return [Filling(str(k), seconds=time) for k, time in enumerate(times, 1)]


def test_the_published_pit():
    """1.60 x 0.60 x 0.65 m, 4020 s: V 0.312 m3, a50 2.39 m2, f 3.24e-5 m/s, cut (BRE 365)."""
    water_read = ((0, 0.65), (600, 0.4875), (2000, 0.35), (4620, 0.1625), (5400, 0.12))
    test = reduce_trial_pit([Filling("1", water_read)], LENGTH, WIDTH)
    assert_allclose(test.used[0].seconds, 4020)
    assert math.floor(test.rates[0] * 1e7) / 1e7 == 3.24e-5
    assert_allclose(test.rates[0], 0.312 / (2.39 * 4020), rtol=2e-3)


def test_interpolation_by_hand():
    """Depth 1 m. 75 % lies halfway from 0.8 (10 s) to 0.7 (20 s): 15 s. 25 % lies two thirds of
    the way from 0.45 (60 s) to 0.15 (90 s): 80 s. So 65 s; a pit of 2 x 1 m has V 1 m3, a50 5 m2.
    """
    readings = ((0, 1.0), (10, 0.8), (20, 0.7), (60, 0.45), (90, 0.15))
    test = reduce_trial_pit([Filling("1", readings)], 2.0, 1.0)
    assert_allclose(test.used[0].seconds, 65)
    assert_allclose(test.rates[0], 1.0 / (5.0 * 65))


@pytest.mark.parametrize("rate", [2e-6, 3e-5, 4e-4])
def test_rate_of_water_that_falls_by_its_equation(rate):
    """The method takes the area at half depth for all of the fall: within 5 % of the true rate."""
    k = 2 * (LENGTH + WIDTH) / (LENGTH * WIDTH)
    end = math.log((1 + k * DEPTH) / (1 + k * 0.2 * DEPTH)) / (rate * k)
    readings = water(rate, [end * t / 40 for t in range(41)])
    test = reduce_trial_pit([Filling("1", readings)], LENGTH, WIDTH)
    assert_allclose(test.rates[0], rate, rtol=0.05)


def test_water_that_never_reached_25_percent_is_carried_on_by_its_equation():
    """From 75 % to 40 % watched; the whole time is known from the closed form."""
    rate, k = 3e-5, 2 * (LENGTH + WIDTH) / (LENGTH * WIDTH)

    def when(share):
        return math.log((1 + k * DEPTH) / (1 + k * share * DEPTH)) / (rate * k)

    readings = water(rate, [0.0, when(0.75), when(0.6), when(0.4)])
    test = reduce_trial_pit([Filling("1", readings)], LENGTH, WIDTH)
    assert_allclose(test.used[0].seconds, when(0.25) - when(0.75))
    assert_allclose(test.used[0].carried_from, 0.4)
    assert "never reached 25 %: it was read last at 40 %" in told(test.warnings)[0]


def test_water_read_too_short_or_from_too_low_is_left_out():
    good = Filling("1", ((0, 1.0), (100, 0.5), (300, 0.2)))
    short = Filling("2", ((0, 1.0), (100, 0.6)))
    low = Filling("3", ((0, 0.7), (100, 0.2)))
    test = reduce_trial_pit([good, short, low], 2.0, 1.0, depth_m=1.0)
    assert [filling.name for filling in test.used] == ["1"]
    assert [(each.code, each.names, each["share"]) for each in test.left_out] == [
        ("filling not watched", ("2",), pytest.approx(0.6)),
        ("filling from too low", ("3",), pytest.approx(0.7)),
    ]
    assert told(test.left_out) == [
        "filling 2 of the trial pit never reached 25 %: it was read last at 60 %; it is left out",
        "filling 3 of the trial pit was first read at 70 % of the effective depth, below 75 %; it "
        "is left out",
    ]
    assert set(test.left_out) <= set(test.warnings)
    with pytest.raises(ValueError, match="no filling can be used: filling 2 never reached 25 %"):
        reduce_trial_pit([short], 2.0, 1.0)


def test_three_fillings_that_agree_are_not_warned_of():
    assert reduce_trial_pit(filled(3000, 3200, 3300), LENGTH, WIDTH, DEPTH).warnings == ()


def test_fewer_fillings_than_the_rule_asks_for():
    (warning,) = told(reduce_trial_pit(filled(3000, 3200), LENGTH, WIDTH, DEPTH).warnings)
    assert warning.startswith("the trial pit was filled 2 times, 3 are asked for")
    two = Rules().with_overrides({"trial_pit_fillings": 2})
    assert reduce_trial_pit(filled(3000, 3200), LENGTH, WIDTH, DEPTH, two).warnings == ()


def test_fillings_that_get_slower():
    """3300 to 3640 s is 10.3 % more, over the 10 % of the rule; to 3620 s it is 9.7 %."""
    (warning,) = told(reduce_trial_pit(filled(3000, 3300, 3640), LENGTH, WIDTH, DEPTH).warnings)
    assert "filling 3 of the trial pit took 10 % longer than the one before" in warning
    assert reduce_trial_pit(filled(3000, 3300, 3620), LENGTH, WIDTH, DEPTH).warnings == ()


def test_effective_depth_is_the_least_first_depth():
    fillings = [
        Filling("1", ((0, 1.2), (100, 0.9), (200, 0.2))),
        Filling("2", ((0, 1.0), (100, 0.5), (200, 0.2))),
    ]
    test = reduce_trial_pit(fillings, 2.0, 1.0)
    assert test.depth == 1.0
    assert told(test.warnings)[0].startswith(
        "the trial pit was filled to between 1.00 m and 1.20 m"
    )


def test_no_reading_on_the_way_makes_a_rough_time():
    test = reduce_trial_pit([Filling("1", ((0, 1.0), (300, 0.1)))], 2.0, 1.0)
    assert "no reading between 75 % and 25 %" in told(test.warnings)[0]


def test_a_reading_at_the_very_mark_counts_in_feet():
    """A quarter of 2 ft in metres is not exact: 6 in is still 25 %."""
    inches = ((0, 24), (600, 18), (1800, 12), (3600, 6))
    readings = tuple((t, h * 0.0254) for t, h in inches)
    assert_allclose(reduce_trial_pit([Filling("1", readings)], 1.5, 0.6).used[0].seconds, 3000)


def test_the_plan_reckons_the_same_rates():
    test = reduce_trial_pit(filled(3000, 3600, 3300), LENGTH, WIDTH, DEPTH)
    pit = test.record
    assert_allclose(test.rates, [trial_pit_rate(LENGTH, WIDTH, DEPTH, t) for t in pit.times])
    found = trial_pit_soil(pit.length, pit.width, pit.depth, pit.times)
    assert_allclose(found.rate_m_per_s, min(test.rates))


@pytest.mark.parametrize(
    ("fillings", "sizes", "said"),
    [
        ([], (2.0, 1.0, 1.0), "no filling can be used: none is given"),
        ([], (2.0, 1.0), "effective depth is not known"),
        (filled(100), (2.0, math.nan, 1.0), "nan m: expected one above 0"),
        (filled(0), (2.0, 1.0, 1.0), "expected a time above 0"),
        ([Filling("1", ((0, 1), (9, 1.1)))], (2.0, 1.0), "goes back in time, or rises"),
        ([Filling("1", ((9, 1), (0, 0.5)))], (2.0, 1.0), "goes back in time, or rises"),
        ([Filling("1", ())], (2.0, 1.0, 1.0), "filling 1 has no reading"),
    ],
)
def test_what_cannot_be(fillings, sizes, said):
    with pytest.raises(ValueError, match=said):
        reduce_trial_pit(fillings, *sizes)
