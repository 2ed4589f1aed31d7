"""What downspouts must carry and whether their parts can, by hand on invented lots."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings

from runoff.flow import roof_water
from runoff.quantities import Shown, parse_area, parse_flow, parse_rate
from runoff.roof import (
    GUTTERS,
    gutter_capacity,
    leader_capacity,
    outlet_capacity,
    outlet_head,
    rectangular_leader_capacity,
    roof_drainage,
    with_line,
)
from runoff.rules import Rules
from runoff.site import DesignRain, InputError, Leader
from runoff.words import assumption_words, leader_name, remedy_words
from tests.lots.records import a_site
from tests.lots.roofs import FOOT, INCH, a_downspout, a_gutter, a_roof

from .test_site_catchments import lots_with_roofs

GPM = parse_flow("1 gpm")
EIGHT = DesignRain(parse_rate("8 in/h"))
SIX = DesignRain(parse_rate("6 in/h"))
BY_NAME = {gutter.name: gutter for gutter in GUTTERS}

US = Shown("us")


def assumed(drainage):
    return [assumption_words(US, each) for each in drainage.assumptions]


def a_lot(sq_ft=500.0, gutters=(), leader=None, **fields):
    """One roof of some square feet on one downspout, 8 in/h for gutters and 6 for lines."""
    given_fields = {
        "roofs": (a_roof("main", sq_ft * FOOT**2),),
        "downspouts": (a_downspout("S", ("main", 1.0), leader=leader),),
        "gutters": tuple(gutters),
    }
    site = a_site(**{**given_fields, **fields})
    return replace(site, rains=replace(site.rains, gutter=EIGHT, line=SIX))


def test_the_flows_and_the_storm_by_hand():
    # 500 sq ft at 8 in/h are 500 x 8 / 96.25 = 41.56 gpm, x 0.95; lines at 6 in/h three quarters
    # of that. The storm of 0.05 m: 46.45 m2 x 0.05 m x 0.95.
    (drainage,) = roof_drainage(a_lot())
    assert drainage.gutter_flow_m3_per_s / GPM == pytest.approx(0.95 * 4000 / 96.25, rel=1e-3)
    assert drainage.line_flow_m3_per_s == pytest.approx(0.75 * drainage.gutter_flow_m3_per_s)
    assert drainage.storm_m3 == pytest.approx(46.4515 * 0.05 * 0.95, rel=1e-5)


def test_wind_adds_to_the_flow_and_not_to_the_storm():
    still = a_lot()
    windy = replace(still, rains=replace(still.rains, allowance="half tangent"))
    (calm,), (blown,) = roof_drainage(still), roof_drainage(windy)
    assert blown.gutter_flow_m3_per_s == pytest.approx(1.25 * calm.gutter_flow_m3_per_s)
    assert blown.line_flow_m3_per_s == pytest.approx(1.25 * calm.line_flow_m3_per_s)
    assert blown.storm_m3 == calm.storm_m3


@settings(max_examples=30, deadline=None)
@given(lots_with_roofs())
def test_the_storm_is_the_one_that_is_run(site):
    for spout, drainage in zip(site.downspouts, roof_drainage(site), strict=True):
        assert drainage.storm_m3 == pytest.approx(roof_water(site, spout, site.storm.depth))


def test_the_links_from_gutter_to_line():
    leader = Leader("round", 4 * INCH, 4 * INCH)
    gutter = a_gutter("front", "main", size="6 in", outlet=3 * INCH)
    (drainage,) = roof_drainage(a_lot(gutters=[gutter], leader=leader))
    six = BY_NAME["6 in ogee"]
    assert [link.name for link in drainage.links] == ["gutter 'front'", "outlet", "leader"]
    assert [link.capacity_m3_per_s for link in drainage.links] == pytest.approx(
        [
            gutter_capacity(six),
            outlet_capacity(3 * INCH, outlet_head(six)),
            leader_capacity(4 * INCH, 7 / 24),
        ]
    )
    assert drainage.weakest_link.link.name == "outlet"
    assert all(part.carries for part in drainage.parts)
    # 1.2 times the gutters' flow carries the lines' flow, 0.75 of it, with more to spare.
    wide = with_line(drainage, 1.2 * drainage.gutter_flow_m3_per_s)
    assert wide.weakest_link.link.name == "outlet"
    narrow = with_line(drainage, 0.7 * drainage.gutter_flow_m3_per_s)
    assert [link.name for link in narrow.links][-1] == "line"
    assert narrow.weakest_link.link.name == "line"
    assert narrow.weakest_link.share_used == pytest.approx(0.75 / 0.7)
    assert not narrow.weakest_link.carries


def test_a_gutter_that_is_too_small_and_what_carries():
    # 800 sq ft at 8 in/h x 0.95 are 63.2 gpm: beyond 5 in ogee (40.9), within 6 in (72.5).
    (small,) = roof_drainage(a_lot(800, [a_gutter("front", "main")]))
    assert remedy_words(US, small.gutters[0]) == (
        "Gutter 'front': 5 in ogee is not enough; 6 in ogee or one more downspout is."
    )
    (six,) = roof_drainage(a_lot(800, [a_gutter("front", "main", size="6 in")]))
    assert remedy_words(US, six.gutters[0]) == ""
    (more,) = roof_drainage(a_lot(1500, [a_gutter("front", "main", size="6 in")]))
    assert remedy_words(US, more.gutters[0]) == (
        "Gutter 'front': 6 in ogee is not enough; one more downspout is."
    )
    (most,) = roof_drainage(a_lot(2500, [a_gutter("front", "main", size="6 in")]))
    assert "nor is it with one more downspout" in remedy_words(US, most.gutters[0])


@pytest.mark.parametrize(
    ("leader", "sq_ft", "better"),
    [
        # NSPC 2006, table 13.6: 3 in 67 gpm, 4 in 144; 900 sq ft bring 71, 500 bring 39.5.
        (Leader("round", 3 * INCH, 3 * INCH), 900, "A 3 in round leader is not enough; 4 in round"),
        (Leader("round", 3 * INCH, 3 * INCH), 800, ""),
        # By equal area 2 x 3 in is 2.76 in round, 53.6 gpm.
        (
            Leader("rectangular", 2 * INCH, 3 * INCH),
            700,
            "A 2 in x 3 in rectangular leader is not enough; 3 in x 4 in rectangular",
        ),
        (Leader("rectangular", 2 * INCH, 3 * INCH), 650, ""),
        (Leader("round", 6 * INCH, 6 * INCH), 6000, "not enough; one more downspout"),
    ],
)
def test_a_leader_that_is_too_small_and_the_next_that_carries(leader, sq_ft, better):
    (drainage,) = roof_drainage(a_lot(sq_ft, leader=leader))
    assert better in remedy_words(US, drainage.leader)
    assert bool(better) == bool(remedy_words(US, drainage.leader))
    assert drainage.leader.given


def test_a_leader_that_is_not_given_is_assumed_and_said():
    (drainage,) = roof_drainage(a_lot())
    assert not drainage.leader.given
    assert drainage.leader.capacity_m3_per_s == pytest.approx(leader_capacity(3 * INCH, 7 / 24))
    assert (
        "The leader's size is not given: 3 in round is assumed; one of 2 in x 3 in rectangular, "
        "as is common, carries less."
    ) in assumed(drainage)
    wide = replace(a_lot(), rules=Rules().with_overrides({"leader_diameter": 4 * INCH}))
    assert leader_name(roof_drainage(wide)[0].leader.leader) == "4 in round"


def test_a_rectangular_leader_says_how_it_is_reckoned():
    (drainage,) = roof_drainage(a_lot(leader=Leader("rectangular", 2 * INCH, 3 * INCH)))
    assert drainage.leader.capacity_m3_per_s == rectangular_leader_capacity(
        2 * INCH, 3 * INCH, 7 / 24
    )
    assert any("equal area" in said for said in assumed(drainage))


def test_the_rule_of_thumb_stands_beside_and_sizes_nothing():
    # 1,200 sq ft at 1 in/h a square inch (an inspection guide): 3 in round 8,482 sq ft, 88 gpm.
    # 900 sq ft at 8 in/h are within it, and beyond the leader all the same.
    (drainage,) = roof_drainage(a_lot(900))
    at_an_inch = drainage.leader.rule_of_thumb_m3_per_s / parse_rate("1 in/h")
    assert at_an_inch == pytest.approx(1200 * math.pi / 4 * 9 * parse_area("1 sq ft"))
    assert drainage.gutter_flow_m3_per_s < drainage.leader.rule_of_thumb_m3_per_s
    assert remedy_words(US, drainage.leader)


def test_where_no_gutter_is_written_none_is_checked_and_that_is_said():
    (drainage,) = roof_drainage(a_lot())
    assert (drainage.gutters, drainage.outlet) == ((), None)
    assert [link.name for link in drainage.links] == ["leader"]
    assert any(
        "gutter of roof 'main' is not given" in said and "5 in ogee is enough" in said
        for said in assumed(drainage)
    )


def test_two_gutters_on_one_downspout_each_bring_their_roof():
    roofs = (a_roof("front", 40.0), a_roof("side", 20.0))
    gutters = [
        a_gutter("G1", "front", shape="half-round"),
        a_gutter("G2", "side", size="6 in", outlet=2.5 * INCH),
    ]
    site = a_lot(
        gutters=gutters,
        roofs=roofs,
        downspouts=(a_downspout("S", ("front", 1.0), ("side", 1.0)),),
    )
    (drainage,) = roof_drainage(site)
    front, side = drainage.gutters
    assert front.flow_m3_per_s == pytest.approx(2 * side.flow_m3_per_s)
    assert front.flow_m3_per_s + side.flow_m3_per_s == pytest.approx(drainage.gutter_flow_m3_per_s)
    assert drainage.outlet.flow_m3_per_s == drainage.gutter_flow_m3_per_s
    assert drainage.outlet.diameter_m == 2.5 * INCH
    assert drainage.outlet.head_m == min(outlet_head(part.section) for part in drainage.gutters)
    assert "The gutters are taken to meet in one outlet." in assumed(drainage)


def test_one_gutter_with_two_downspouts_brings_each_its_share():
    site = a_lot(
        gutters=[a_gutter("front", "main", outlet_ends="both ends")],
        downspouts=(a_downspout("W", ("main", 0.25)), a_downspout("E", ("main", 0.75))),
    )
    west, east = roof_drainage(site)
    assert 3 * west.gutters[0].flow_m3_per_s == pytest.approx(east.gutters[0].flow_m3_per_s)
    assert west.gutters[0].capacity_m3_per_s == east.gutters[0].capacity_m3_per_s


def test_two_gutters_on_one_roof_share_by_their_eaves_or_each_take_all():
    long, short = a_gutter("G1", "main", eave=9.0), a_gutter("G2", "main", eave=3.0)
    (drainage,) = roof_drainage(a_lot(gutters=[long, short]))
    whole = drainage.gutter_flow_m3_per_s
    assert [part.flow_m3_per_s / whole for part in drainage.gutters] == pytest.approx([0.75, 0.25])
    unknown = replace(short, eave=None)
    (drainage,) = roof_drainage(a_lot(gutters=[long, unknown]))
    assert [part.flow_m3_per_s for part in drainage.gutters] == [whole, whole]
    assert any("each is checked with all of it" in said for said in assumed(drainage))
    two = (a_downspout("W", ("main", 0.5)), a_downspout("E", ("main", 0.5)))
    for drainage in roof_drainage(a_lot(gutters=[long, short], downspouts=two)):
        assert {part.flow_m3_per_s for part in drainage.gutters} == {drainage.gutter_flow_m3_per_s}


def test_an_outlet_is_the_leaders_size_unless_the_sole_is_narrower():
    gutter = a_gutter("front", "main")
    (same,) = roof_drainage(a_lot(gutters=[gutter], leader=Leader("round", 0.07, 0.07)))
    assert same.outlet.diameter_m == 0.07
    # The sole of a 5 in ogee is 3 1/4 in wide: no 4 in outlet fits.
    (wide,) = roof_drainage(a_lot(gutters=[gutter], leader=Leader("round", 4 * INCH, 4 * INCH)))
    assert wide.outlet.diameter_m == pytest.approx(3.25 * INCH)
    assert "The outlet is taken to be as wide as the gutter's sole." in assumed(wide)


def test_an_outlet_that_is_too_small_and_the_next_that_carries():
    # 450 sq ft at 8 in/h x 0.95 are 35.5 gpm, 2.24 L/s. Under the 44 mm of a 5 in ogee an outlet
    # of 2 in (50.8 mm) takes 50.8^2 x sqrt(44.2) / 15000 = 1.14 L/s, one of 3 in 2.57.
    gutter = a_gutter("front", "main", outlet=2 * INCH)
    (drainage,) = roof_drainage(a_lot(450, [gutter]))
    assert drainage.outlet.capacity_m3_per_s == pytest.approx(1.14e-3, rel=5e-3)
    assert remedy_words(US, drainage.outlet) == "The outlet is not enough; one of 3 in round is."
    assert drainage.weakest_link.link.name == "outlet"
    (more,) = roof_drainage(a_lot(650, [gutter]))
    assert "a second one or one more downspout" in remedy_words(US, more.outlet)


def test_a_pitch_that_is_not_known_is_said():
    site = a_lot(roofs=(a_roof("main", 40.0, pitch=None),))
    assert not any("pitch" in said for said in assumed(roof_drainage(site)[0]))
    windy = replace(site, rains=replace(site.rains, allowance="pitch factor"))
    assert any(
        "pitch of roof 'main' is not known" in said for said in assumed(roof_drainage(windy)[0])
    )


def test_metric_lots_are_told_in_metric():
    (drainage,) = roof_drainage(replace(a_lot(), units="m"))
    assert leader_name(drainage.leader.leader, "metric") == "76 mm round"


@pytest.mark.parametrize(
    ("rule", "value"),
    [("leader_diameter", 0.0), ("gutter_design_share", 0.0), ("runoff_coefficient_roof", 0.0)],
)
def test_a_rule_that_gives_no_capacity_is_refused_where_it_is_set(rule, value):
    with pytest.raises(ValueError, match=f"{rule}: this rule is above zero"):
        Rules().with_overrides({rule: value})


@pytest.mark.parametrize(("rule", "value"), [("leader_fill", 1.5)])
def test_a_rule_that_gives_no_capacity_is_refused_by_name(rule, value):
    site = replace(a_lot(), rules=Rules().with_overrides({rule: value}))
    with pytest.raises(InputError) as caught:
        roof_drainage(site)
    (problem,) = caught.value.problems
    assert problem.entry == f"[rules] {rule}"
    assert "above 0" in problem.expected


def test_the_worked_example_of_the_page():
    (drainage,) = roof_drainage(a_lot(800, [a_gutter("front", "main")]))
    part, leader = drainage.gutters[0], drainage.leader
    assert drainage.gutter_flow_m3_per_s / GPM == pytest.approx(63, abs=0.5)
    assert part.capacity_m3_per_s / GPM == pytest.approx(40.9, abs=0.05)
    assert gutter_capacity(BY_NAME["6 in ogee"]) / GPM == pytest.approx(72.5, abs=0.05)
    assert leader.capacity_m3_per_s / GPM == pytest.approx(66.8, abs=0.05)
    assert leader.rule_of_thumb_m3_per_s / GPM == pytest.approx(88, abs=0.5)
    thumb_area = leader.rule_of_thumb_m3_per_s / EIGHT.intensity
    assert thumb_area / parse_area("1 sq ft") == pytest.approx(1060, abs=1)
    assert any("5 in wide at the brim, 3 1/4 in at the sole" in a for a in assumed(drainage))
    common = rectangular_leader_capacity(2 * INCH, 3 * INCH, 7 / 24)
    assert common / leader.capacity_m3_per_s == pytest.approx(0.8, abs=0.005)
