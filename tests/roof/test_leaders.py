"""Roof flow and leaders, against the tables of plumbing codes."""

import math
import re
from itertools import pairwise
from pathlib import Path

import pytest

import runoff
from runoff.quantities import parse_area, parse_flow, parse_length, parse_rate
from runoff.roof import (
    choose_leader,
    design_flow,
    equal_area_diameter,
    leader_capacity,
    leader_flow,
    leader_sizes,
    rectangular_leader_capacity,
    rule_of_thumb_flow,
)
from runoff.rules import RULES
from runoff.site import Leader

GPM = parse_flow("1 gpm")
INCH = 0.0254
INCH_PER_HOUR = parse_rate("1 in/h")
PAGE = Path(__file__).parents[2] / "docs" / "roof.md"


# National Standard Plumbing Code 2006, table 13.6: gpm and square feet of roof at 1 in/h.
@pytest.mark.parametrize(
    ("inches", "gpm", "sq_ft"), [(2, 23, 2180), (3, 67, 6426), (4, 144, 13840)]
)
def test_a_leader_seven_24ths_full(inches, gpm, sq_ft):
    carried = leader_capacity(inches * INCH, RULES["leader_fill"].value)
    assert carried / GPM == pytest.approx(gpm, abs=1)
    roof = design_flow(parse_area(f"{sq_ft} sq ft"), INCH_PER_HOUR)
    assert roof == pytest.approx(carried, rel=5e-4)


# International Plumbing Code 2018, table 1106.2, vertical: schedule-40 bores, a third full.
@pytest.mark.parametrize(("bore", "gpm"), [(3.068, 87), (4.026, 180)])
def test_a_leader_a_third_full(bore, gpm):
    assert leader_capacity(bore * INCH, 1 / 3) / GPM == pytest.approx(gpm, rel=0.02)


# International Plumbing Code, table 1106.3 (memory): no formula known meets it.
@pytest.mark.parametrize(("inches", "gpm", "computed"), [(3, 92, 83.4), (4, 192, 179.6)])
def test_rows_that_meet_no_formula_are_above_ours(inches, gpm, computed):
    ours = leader_capacity(inches * INCH, 1 / 3) / GPM
    assert ours == pytest.approx(computed, abs=0.1)
    assert ours < 0.95 * gpm


def test_the_rules_of_thumb_agree_with_each_other_and_exceed_ours_by_a_third():
    # An inspection guide: 1,200 sq ft at 1 in/h for each sq in; an old manual: 150 at 8 in/h.
    section = math.pi / 4 * 3**2
    guide = design_flow(parse_area("1200 sq ft"), INCH_PER_HOUR) * section / GPM
    manual = design_flow(parse_area("150 sq ft"), 8 * INCH_PER_HOUR) * section / GPM
    assert guide == pytest.approx(manual)
    assert guide == pytest.approx(88, abs=0.5)
    assert guide / (leader_capacity(3 * INCH, 7 / 24) / GPM) == pytest.approx(4 / 3, rel=0.02)


@pytest.mark.parametrize("inches", [2, 3, 4])
def test_the_page_shows_ours_as_they_are_beside_the_tables(inches):
    # The page's other columns are the tables' own figures: NSPC 2006, IPC 1106.3 (memory).
    nspc, ipc = {2: (23, 30), 3: (67, 92), 4: (144, 192)}[inches]
    row = re.search(rf"\| {inches} in \|(.*)\|\n", PAGE.read_text("utf-8"))
    shown = [float(cell.replace("gpm", "")) for cell in row[1].split("|")]
    leader = Leader("round", inches * INCH, inches * INCH)
    ours = [leader_capacity(inches * INCH, fill) / GPM for fill in (7 / 24, 1 / 3)]
    thumb = rule_of_thumb_flow(leader) / GPM
    assert shown == [round(ours[0], 1), nspc, round(ours[1], 1), ipc, round(thumb)]


def test_the_next_leader_carries_and_the_one_before_does_not():
    for shape in ("round", "rectangular"):
        sizes = leader_sizes(shape)
        for small, large in pairwise(sizes):
            carried = leader_flow(small, 7 / 24)
            assert choose_leader(carried, shape, 7 / 24) == small
            assert choose_leader(1.001 * carried, shape, 7 / 24) == large
        assert choose_leader(1.001 * leader_flow(sizes[-1], 7 / 24), shape, 7 / 24) is None


def test_a_square_foot_at_an_inch_an_hour():
    # Uniform Plumbing Code, appendix D: 0.0104 gpm; 21,400 sq ft at 1 in/h are about 222 gpm,
    # the flow of 6,688 sq ft at 3.2 in/h.
    foot = parse_area("1 sq ft")
    assert design_flow(foot, INCH_PER_HOUR) / GPM == pytest.approx(0.0104, abs=5e-5)
    assert design_flow(21400 * foot, INCH_PER_HOUR) / GPM == pytest.approx(222, abs=0.5)
    at_more = design_flow(6688 * foot, 3.2 * INCH_PER_HOUR)
    assert at_more == pytest.approx(design_flow(21400 * foot, INCH_PER_HOUR), rel=1e-3)


def test_published_roof_flows():
    # Approved Document H, table 1: 75 mm/h is 0.0208 L/s for each m2.
    assert 1000 * design_flow(1, parse_rate("75 mm/h")) == pytest.approx(0.0208, abs=5e-5)
    # The rational formula in acres (University of Illinois): cfs = 1.008 C i A.
    acre = design_flow(parse_area("1 acre"), INCH_PER_HOUR, 0.5)
    assert acre / parse_flow("1 cfs") == pytest.approx(1.008 * 0.5, abs=5e-4)


def test_a_rectangular_leader_is_the_round_one_of_equal_area():
    # Chicago plumbing code 18-29-1106.2 allows other shapes by equal area.
    diameter = equal_area_diameter(parse_length("2 in"), parse_length("3 in"))
    assert math.pi / 4 * diameter**2 == pytest.approx(6 * INCH**2)
    carried = rectangular_leader_capacity(2 * INCH, 3 * INCH, 0.3)
    assert carried == leader_capacity(diameter, 0.3)
    assert carried == rectangular_leader_capacity(3 * INCH, 2 * INCH, 0.3)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: design_flow(-1, 1e-5), "area_m2 is -1"),
        (lambda: design_flow(10, float("nan")), "intensity_m_per_s is nan"),
        (lambda: design_flow(10, 1e-5, 1.2), "coefficient is 1.2"),
        (lambda: design_flow(10, 1e-5, 0), "coefficient is 0"),
        (lambda: leader_capacity(0, 0.3), "diameter_m is 0"),
        (lambda: leader_capacity(0.1, 0), "fill_ratio is 0"),
        (lambda: leader_capacity(0.1, float("nan")), "fill_ratio is nan"),
        (lambda: rectangular_leader_capacity(0.05, -0.1, 0.3), "depth_m is -0.1"),
    ],
)
def test_what_is_not_a_size_gives_no_number(call, named):
    with pytest.raises(ValueError, match=named):
        call()


def test_the_room_is_reached_from_the_package():
    assert runoff.roof.design_flow is design_flow
    with pytest.raises(AttributeError):
        _ = runoff.roof.no_such_name
