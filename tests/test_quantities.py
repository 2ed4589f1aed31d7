"""Quantities: notations against hand arithmetic, round trips, and refusals with their reasons."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runoff.quantities import QuantityError, format_length, parse_length

INCH = 0.0254  # exact: NIST Special Publication 811, appendix B

NOTATIONS_IN_INCHES = [
    ("9' 4 1/2\"", 112.5),
    ("9'-4 1/2\"", 112.5),
    ("9' - 4 1/2\"", 112.5),
    ("9'-4-1/2\"", 112.5),
    ("9 ft 4-1/2 in", 112.5),
    ("9ft 4 1/2in", 112.5),
    ("9ft4in", 112),
    ("9 feet 4 inches", 112),
    ("9 foot 4 inch", 112),
    ("9 FT. 4 IN.", 112),
    ("9 ft, 4 in", 112),
    ("9 feet and 4 inches", 112),
    ("9′ 4 1⁄2″", 112.5),
    ("9’ 4½”", 112.5),
    ("9'4''", 112),
    ("4½ in", 4.5),
    ('4 ¼"', 4.25),
    ("⅛ in", 0.125),
    ("9' ½\"", 108.5),
    ("9.375 ft", 112.5),
    (".5 in", 0.5),
    ("30 in", 30),
    ("3/2 in", 1.5),
    ("0 in", 0),
    ("-1' 2\"", -14),
    ("−1' 2\"", -14),
    ("- 1 ft 2 in", -14),
    ("–2 in", -2),
    ("+2 in", 2),
    ("9' 4", 112),
    ("9 ft 4 1/2", 112.5),
    ("24'7", 295),
    ("9'-4", 112),
    ("9\u00a0ft 4\u202fin", 112),
    ("1,000 ft", 12000),
    ("2 yd", 72),
    ("3 yd 2 ft 6 in", 138),
    ("18 ft + 4 ft 2 1/2 in", 266.5),
    ("18' + 4' 2 1/2\"", 266.5),
    ("18 ft - 4 ft 2 in", 166),
    ("18 ft 6 in - 2 in", 220),
    ("9' − 4\"", 104),
    ("-1' 2\" + 3'", 22),
    ("1 ft + 2 in + 3 in - 1 in", 16),
]


@pytest.mark.parametrize(("text", "inches"), NOTATIONS_IN_INCHES)
def test_tape_notations(text, inches):
    assert parse_length(text) == pytest.approx(inches * INCH, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("2.86 m", 2.86),
        ("2.86m", 2.86),
        ("3 metres", 3),
        ("3 meters", 3),
        ("286 cm", 2.86),
        ("12 mm", 0.012),
        ("2 m 86 cm", 2.86),
        ("-0.4 m", -0.4),
        ("1 m + 20 cm", 1.2),
    ],
)
def test_metric_lengths(text, metres):
    assert parse_length(text) == pytest.approx(metres, abs=1e-12)


@pytest.mark.parametrize(
    ("written", "unit", "metres"),
    [
        (9, "ft", 2.7432),
        (9.5, "in", 0.2413),
        ("9", "ft", 2.7432),
        ("9 1/2", "in", 0.2413),
        ("-3", "m", -3),
        ("1 + 2", "m", 3),
        (250, "cm", 2.5),
        (250, "mm", 0.25),
        ("9 in", "m", 0.2286),
        (-0.0, "m", 0),
    ],
)
def test_bare_numbers_take_the_unit_given(written, unit, metres):
    assert parse_length(written, unit=unit) == pytest.approx(metres, abs=1e-12)


REFUSED = [
    ("9 ft 14 in", "14 in is a foot or more"),
    ("9' 12\"", "12 in is a foot or more"),
    ("9' 14", "14 in is a foot or more"),
    ("2 yd 3 ft", "3 ft is a yard or more"),
    ("2 m 100 cm", "100 cm is a meter or more"),
    ("9' 4/0\"", "divided by zero"),
    ("9 in 3 ft", "write the larger unit first"),
    ("9.5 ft 3 in", '"9.5 ft" is not whole'),
    ("9 1/2 ft 3 in", '"9 1/2 ft" is not whole'),
    ("9 5/4 in", "the fraction after a whole number is 1 or more"),
    ("9 4/4 in", "the fraction after a whole number is 1 or more"),
    ("4.5 1/2 in", "a decimal figure is followed by a fraction"),
    ("24,7", "write a decimal with a point"),
    ("24,7 ft", "write a decimal with a point"),
    ("0,500 ft", "write a decimal with a point"),
    ("10,00 ft", "write a decimal with a point"),
    ("1,000", "a comma and no unit"),
    ("1,500 m", "may be a decimal mark"),
    ("", "nothing is written"),
    ("   ", "nothing is written"),
    ("nan", "a figure is missing"),
    ("inf", "a figure is missing"),
    ("ft", "a figure is missing"),
    ("-", "a figure is missing at the end"),
    ("9 ft +", "a figure is missing at the end"),
    ("--1 ft", "a figure is missing"),
    ("9", "say the unit"),
    ("9 4", "without a unit of its own"),
    ("9-4 ft", "put spaces on both sides of a minus"),
    ('9\'-4"-1/2"', "put spaces on both sides of a minus"),
    ("18 ft 6 in -2 in", "put spaces on both sides of a minus"),
    ("4 - 1/2 in", "one figure has a unit and another has none"),
    ("18 + 4 ft", "one figure has a unit and another has none"),
    ("9 in 4", "without a unit of its own"),
    ("9' 4\" 1/2", "without a unit of its own"),
    ("2 m 86", "without a unit of its own"),
    ("9 ft 3 ft", "have the same unit"),
    ("9 ft 3 cm", "mixed"),
    ("9 ft + 3 m", "mixed"),
    ("9 ft - 4 in", "may be a sum or a difference"),
    ("4 lb", '"lb" is not a unit of length'),
    ("4 sq ft", '"sq" is not a unit of length'),
    ("1e3 ft", '"e" is not a unit of length'),
    ("9..5 ft", "is not a figure"),
    ("1.5/2 in", "not a whole number"),
    ("1/2/3 in", "is not"),
    ("9 ft!", '"!" is not expected'),
    ("9" * 150 + " ft", "larger than any lot"),
    ("1 in " * 1000, "longer than 200 characters"),
]


@pytest.mark.parametrize(("text", "reason"), REFUSED)
def test_what_is_not_a_length_is_refused_with_the_reason(text, reason):
    with pytest.raises(QuantityError) as refused:
        parse_length(text)
    assert reason in refused.value.reason
    assert len(str(refused.value)) < 300


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf, True, None, [1], 1e300, b"9 ft"])
def test_numbers_that_are_no_length_are_refused(number):
    with pytest.raises(QuantityError):
        parse_length(number, unit="ft")


def test_numbers_of_thousands_of_digits_are_refused():
    with pytest.raises(QuantityError, match="larger than any lot"):
        parse_length(10**5000, unit="ft")


def test_a_joining_hyphen_is_never_read_as_a_minus_between_bare_numbers():
    for text in ("9-4", "4 -1/2"):
        with pytest.raises(QuantityError, match="put spaces on both sides"):
            parse_length(text, unit="in")


def test_an_unknown_unit_for_bare_numbers_is_refused():
    with pytest.raises(QuantityError, match="use ft, in"):
        parse_length("9", unit="lb")


FRAGMENTS = st.sampled_from(
    [
        "9",
        "4.5",
        "1/2",
        "½",
        "'",
        '"',
        "''",
        " ",
        "-",
        "+",
        "−",
        "ft",
        "in",
        "m",
        ",",
        ".",
        "/",
        "0",
    ]
)


@given(st.one_of(st.text(max_size=300), st.lists(FRAGMENTS, max_size=20).map("".join)))
def test_any_text_is_a_finite_length_or_refused(text):
    try:
        metres = parse_length(text, unit="ft")
    except QuantityError:
        return
    assert math.isfinite(metres)


@pytest.mark.parametrize("piece", ["1", "1 ", "1/", "-", "'", "1' ", "1,", "1.", "½", "1+", "a"])
def test_thousands_of_characters_are_refused(piece):
    with pytest.raises(QuantityError, match="longer than 200"):
        parse_length(piece * 5000)


@pytest.mark.parametrize(
    ("inches", "denominator", "text"),
    [
        (112.5, 16, "9 ft 4 1/2 in"),
        (0, 16, "0 in"),
        (-0.001, 16, "0 in"),
        (11.999, 16, "1 ft"),
        (-11.999, 16, "-1 ft"),
        (23.97, 16, "2 ft"),
        (3.99, 16, "4 in"),
        (12.5, 16, "1 ft 1/2 in"),
        (0.0625, 16, "1/16 in"),
        (0.75, 16, "3/4 in"),
        (-14, 16, "-1 ft 2 in"),
        (5.3, 8, "5 1/4 in"),
        (5.3, 4, "5 1/4 in"),
        (5.3, 2, "5 1/2 in"),
        (5.3, 1, "5 in"),
        (112.5, 10, "9.4 ft"),
        (112.6, 100, "9.38 ft"),
        (-0.1, 10, "0.0 ft"),
    ],
)
def test_lengths_are_written_with_rounding_that_carries(inches, denominator, text):
    assert format_length(inches * INCH, denominator=denominator) == text


@pytest.mark.parametrize(
    ("metres", "text"),
    [
        (2.8575, "2.86 m"),
        (0.9996, "1.00 m"),
        (0.286, "286 mm"),
        (0.0996, "100 mm"),
        (0.0123, "12 mm"),
        (0, "0 mm"),
        (-0.0001, "0 mm"),
        (-3, "-3.00 m"),
    ],
)
def test_metric_lengths_are_written(metres, text):
    assert format_length(metres, "metric") == text


def test_formats_that_do_not_exist_are_refused():
    with pytest.raises(ValueError, match="denominator"):
        format_length(1, denominator=3)
    with pytest.raises(ValueError, match="system"):
        format_length(1, "imperial")
    with pytest.raises(QuantityError, match="finite"):
        format_length(math.nan)


@given(
    st.floats(-10000, 10000),
    st.sampled_from(
        [("us", n) for n in (1, 2, 4, 8, 16)] + [("us decimal", 10), ("us decimal", 100)]
    ),
)
def test_written_lengths_read_back_within_half_a_step(metres, form):
    system, denominator = form
    text = format_length(metres, system, denominator)
    step = INCH / denominator if system == "us" else 12 * INCH / denominator
    assert not text.startswith(("-0 in", "-0.0 ft", "-0.00 ft"))
    assert abs(parse_length(text) - metres) <= step / 2 + 1e-9


@given(st.integers(-(10**6), 10**6))
def test_whole_sixteenths_come_back_exactly(sixteenths):
    metres = float(Fraction(sixteenths, 16) * Fraction("0.0254"))
    text = format_length(metres)
    assert parse_length(text) == pytest.approx(metres, abs=1e-12)
    inches = text.split(" ft ")[-1]
    assert not inches.startswith("12 ")
    assert "16/16" not in text


@given(st.floats(-10000, 10000))
def test_metric_text_reads_back_within_half_a_centimetre(metres):
    assert abs(parse_length(format_length(metres, "metric")) - metres) <= 0.005 + 1e-9
