"""Stone at outlets against published figures."""

import math

import pytest

from runoff.discharge import riprap_size, stone_apron
from runoff.rules import Rules

FOOT = 0.3048
CFS = FOOT**3


def test_hec_14():
    # FHWA HEC-14 eq. 10.4: 85 cfs, 5 ft, TW 1.6 ft raised to 0.4 D = 2.0: 0.43 ft (computed).
    stone = riprap_size(85 * CFS, 5 * FOOT, 1.6 * FOOT)
    assert stone / FOOT == pytest.approx(0.43, abs=0.005)
    assert stone == riprap_size(85 * CFS, 5 * FOOT, 2.0 * FOOT) == riprap_size(85 * CFS, 5 * FOOT)


def test_tailwater_is_held_to_the_diameter():
    assert riprap_size(1, 1, 1.5) == riprap_size(1, 1, 1.0) == 0.4 * riprap_size(1, 1)
    assert riprap_size(1, 1, 0.5) == pytest.approx(2 * riprap_size(1, 1, 1.0))
    low = Rules().with_overrides({"riprap_tailwater": 0.5})
    assert riprap_size(1, 1, rules=low) == pytest.approx(0.8 * riprap_size(1, 1))


def test_dane_county_apron():
    # Dane County: 0.5 cfs from 6 in: 6.4 ft (computed); W = 3 D, thickness 2 D50.
    apron = stone_apron(0.5 * CFS, 0.5 * FOOT)
    assert apron.length_m / FOOT == pytest.approx(6.4, abs=0.05)
    assert apron.width_m / FOOT == pytest.approx(1.5)
    # HEC-14 (memory) lets each side widen by one in three of its length: 1.5 + 2/3 x 6.4.
    assert apron.end_width_m / FOOT == pytest.approx(1.5 + 2 / 3 * 6.4, abs=0.05)
    assert apron.area_m2 / FOOT**2 == pytest.approx(6.4 * (1.5 + 5.78) / 2, rel=0.005)
    large = stone_apron(5 * CFS, FOOT)
    assert large.thickness_m == 2 * riprap_size(5 * CFS, FOOT)
    # A small pipe asks for gravel that would wash away: the rule's 2 in, twice as thick.
    assert apron.stone_m == 2 / 12 * FOOT
    assert apron.thickness_m == 2 * apron.stone_m


@pytest.mark.parametrize(
    ("values", "line"),
    [((0, 1), "flow is 0"), ((1, -1), "diameter is -1"), ((1, 1, math.nan), "tailwater is nan")],
)
def test_bad_input_is_named(values, line):
    with pytest.raises(ValueError, match=line):
        stone_apron(*values)


def test_the_page_s_example_by_hand():
    apron = stone_apron(0.1114 * CFS, 4.026 / 12 * FOOT)
    assert apron.length_m / FOOT == pytest.approx(3.66, abs=0.005)
    assert apron.stone_m / FOOT * 12 == pytest.approx(2.0)
    asked = riprap_size(0.1114 * CFS, 4.026 / 12 * FOOT)
    assert asked / FOOT * 12 == pytest.approx(0.41, abs=0.005)
