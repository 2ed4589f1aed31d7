"""Sizes as they are sold and unit prices, by hand from the definitions of the units.

The inch is 0.0254 m, the foot 0.3048 m, the yard 0.9144 m, exact (NIST SP 811, appendix B).
"""

import pytest
from pydantic import TypeAdapter, ValidationError

from runoff.site import (
    GutterSize,
    LeaderSize,
    PipeSize,
    PriceEach,
    PricePerArea,
    PricePerLength,
    PricePerVolume,
    read_leader,
)


@pytest.mark.parametrize(
    ("text", "shape", "width", "depth"),
    [
        ("3 in", "round", 0.0762, 0.0762),
        ('4"', "round", 0.1016, 0.1016),
        ("80 mm", "round", 0.08, 0.08),
        ("2 x 3 in", "rectangular", 0.0508, 0.0762),
        ('2x3"', "rectangular", 0.0508, 0.0762),
        ("3 X 4 IN", "rectangular", 0.0762, 0.1016),
        ("2 1/2 in x 3 in", "rectangular", 0.0635, 0.0762),
        ("60 × 80 mm", "rectangular", 0.06, 0.08),
    ],
)
def test_leaders(text, shape, width, depth):
    leader = read_leader(text)
    assert leader.shape == shape
    assert (leader.width, leader.depth) == pytest.approx((width, depth))


@pytest.mark.parametrize(
    ("kind", "text", "price"),
    [
        (PricePerLength, "2.10 per ft", 2.10 / 0.3048),
        (PricePerLength, "21 per 10 ft", 2.10 / 0.3048),
        (PricePerLength, "7/m", 7.0),
        (PricePerVolume, "45 per cu yd", 45 / 0.9144**3),
        (PricePerVolume, "45/yd3", 45 / 0.9144**3),
        (PricePerArea, "0.30 per sq ft", 0.30 / 0.3048**2),
        (PriceEach, "6 each", 6.0),
        (PricePerVolume, "0 per m3", 0.0),
    ],
)
def test_prices(kind, text, price):
    assert TypeAdapter(kind).validate_python(text) == pytest.approx(price)


@pytest.mark.parametrize(
    ("kind", "value"),
    [
        *[(LeaderSize, each) for each in ["2 x 3", "3 ft", "1/2 in", "2 x 3 x 4 in", "x", 3]],
        *[(GutterSize, each) for each in ["7 in", "5", 5, "5 ft", "5.5 in", "-5 in", "110 mm"]],
        *[(PipeSize, each) for each in ["5 in", "4 in 1", 4, ""]],
        *[(PricePerLength, each) for each in [2.1, "-2 per ft", "2 per sq ft", "2 each"]],
        *[(PricePerLength, each) for each in ["2 ft", "2 per 0 ft", "per ft", "2 per"]],
        *[(PriceEach, each) for each in ["6", "6 per ft", "1e3 each", "nan each"]],
    ],
)
def test_what_is_none_is_refused(kind, value):
    with pytest.raises(ValidationError):
        TypeAdapter(kind).validate_python(value)


@pytest.mark.parametrize(
    ("text", "sold"),
    [
        ("5 in", "5 in"),
        ('5"', "5 in"),
        ("127 mm", "5 in"),
        ("125 mm", "125 mm"),
        ("10 cm", "100 mm"),
    ],
)
def test_the_size_a_gutter_is_sold_by_in_any_unit(text, sold):
    assert TypeAdapter(GutterSize).validate_python(text) == sold


@pytest.mark.parametrize(("text", "nominal"), [("4 in", 4), ("110 mm", 4), ("0.16 m", 6)])
def test_a_pipe_by_its_inches_or_its_outside(text, nominal):
    assert TypeAdapter(PipeSize).validate_python(text) == nominal
