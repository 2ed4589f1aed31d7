"""Catchments of downspouts, by hand and as a balance: all of a roof goes somewhere, once."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runoff.flow import roof_area
from runoff.roof import catchments_of, roof_balance
from tests.lots.records import a_site
from tests.lots.roofs import EAVE, a_downspout, a_roof


def _with_allowance(site, allowance):
    return replace(site, rains=replace(site.rains, allowance=allowance))


def test_a_plane_shared_between_two_downspouts():
    site = a_site(
        roofs=(a_roof("front", 90.0),),
        downspouts=(a_downspout("W", ("front", 0.25)), a_downspout("E", ("front", 0.75))),
    )
    west, east = catchments_of(site)
    assert (west.downspout, east.downspout) == ("W", "E")
    assert (west.plan_area_m2, east.plan_area_m2) == (22.5, 67.5)
    assert west.design_area_m2 == 22.5
    assert west.parts[0].upper == ()
    balance = roof_balance(site)
    assert (balance.roof_m2, balance.carried_m2) == (90.0, 90.0)
    assert (balance.over_eaves_m2, balance.not_carried_m2) == (0.0, 0.0)


def test_an_upper_roof_that_drains_onto_a_lower_one():
    # The dormer keeps 0.4 of its 10 m2 in a downspout of its own: 6 m2 come onto the main roof.
    site = a_site(
        roofs=(a_roof("dormer", 10.0, onto="main"), a_roof("main", 80.0)),
        downspouts=(a_downspout("D", ("dormer", 0.4)), a_downspout("M", ("main", 0.5))),
    )
    dormer, main = catchments_of(site)
    assert dormer.plan_area_m2 == 4.0
    part = main.parts[0]
    assert (part.own_area_m2, part.upper) == (40.0, ("dormer",))
    assert part.from_above_m2 == pytest.approx(3.0)
    assert main.plan_area_m2 == pytest.approx(43.0)
    assert roof_balance(site).not_carried_m2 == pytest.approx(43.0)


def test_a_chain_of_three_roofs_and_an_eave():
    # 8 -> 12 -> 20 m2, half of the last over its eave: (8 + 12 + 20) / 2 each way.
    site = a_site(
        roofs=(
            a_roof("low", 20.0, eave=EAVE),
            a_roof("middle", 12.0, onto="low"),
            a_roof("top", 8.0, onto="middle"),
        ),
        downspouts=(a_downspout("S", ("low", 0.5)),),
    )
    (catchment,) = catchments_of(site)
    assert catchment.parts[0].upper == ("middle", "top")
    balance = roof_balance(site)
    assert balance.carried_m2 == pytest.approx(20.0)
    assert balance.over_eaves_m2 == pytest.approx(20.0)
    assert balance.not_carried_m2 == 0.0


@pytest.mark.parametrize(
    ("allowance", "counted"),
    # A 6:12 roof: home guides 1.1; Approved Document H 1 + 0.5 / 2.
    [("none", 100.0), ("pitch factor", 110.0), ("half tangent", 125.0)],
)
def test_one_allowance_and_a_wall_in_place_of_it(allowance, counted):
    roofs = (a_roof("open", 100.0), a_roof("walled", 100.0, wall_above=30.0))
    spouts = (a_downspout("O", ("open", 1.0)), a_downspout("W", ("walled", 1.0)))
    site = _with_allowance(a_site(roofs=roofs, downspouts=spouts), allowance)
    bare, walled = catchments_of(site)
    assert bare.design_area_m2 == pytest.approx(counted)
    assert walled.design_area_m2 == 115.0
    assert walled.parts[0].allowance == "half wall"
    assert bare.plan_area_m2 == walled.plan_area_m2 == 100.0


def test_the_allowance_of_an_upper_roof_comes_down_with_its_water():
    # 20 m2 at 12:12 count 1.3, 50 m2 at 3:12 count 1.0.
    site = a_site(
        roofs=(a_roof("up", 20.0, pitch=1.0, onto="low"), a_roof("low", 50.0, pitch=0.25)),
        downspouts=(a_downspout("S", ("low", 1.0)),),
    )
    (catchment,) = catchments_of(_with_allowance(site, "pitch factor"))
    assert catchment.design_area_m2 == pytest.approx(50.0 + 26.0)
    assert catchment.plan_area_m2 == 70.0


def test_a_roof_of_unknown_pitch_and_one_steeper_than_70_degrees():
    # Approved Document H, table 1: over 70 degrees half of the elevation, 10 m2 x 4 / 2.
    roofs = (a_roof("unknown", 10.0, pitch=None), a_roof("steep", 10.0, pitch=4.0))
    spouts = (a_downspout("U", ("unknown", 1.0)), a_downspout("S", ("steep", 1.0)))
    site = _with_allowance(a_site(roofs=roofs, downspouts=spouts), "half tangent")
    assert [catchment.design_area_m2 for catchment in catchments_of(site)] == [10.0, 20.0]


def test_a_downspout_without_a_roof_has_no_area():
    (catchment,) = catchments_of(a_site(downspouts=(a_downspout("S"),)))
    assert (catchment.plan_area_m2, catchment.design_area_m2) == (0.0, 0.0)


@st.composite
def lots_with_roofs(draw):
    """Up to six roofs, each perhaps onto a later one, with random shares in four downspouts."""
    count = draw(st.integers(1, 6))
    roofs, carried = [], [[] for _ in range(4)]
    for k in range(count):
        lower = draw(st.sampled_from(["", *(f"R{j}" for j in range(k + 1, count))]))
        eave = EAVE if not lower and draw(st.booleans()) else None
        wall = draw(st.sampled_from([0.0, 12.0]))
        area = draw(st.floats(0.5, 400.0))
        roofs.append(a_roof(f"R{k}", area, onto=lower, eave=eave, wall_above=wall))
        parts = draw(st.lists(st.floats(0.0, 1.0), min_size=5, max_size=5))
        total = math.fsum(parts)
        for spout, part in enumerate(parts[:4]):
            if part > 0:
                carried[spout].append((f"R{k}", part / total))
    order = draw(st.permutations(roofs))
    spouts = tuple(a_downspout(f"D{k}", *shares) for k, shares in enumerate(carried))
    return a_site(roofs=tuple(order), downspouts=spouts)


@settings(max_examples=150, deadline=None)
@given(lots_with_roofs())
def test_all_of_the_roof_goes_somewhere_once(site):
    balance = roof_balance(site)
    assert balance.roof_m2 == pytest.approx(sum(roof.plan_area for roof in site.roofs))
    parts = (balance.carried_m2, balance.over_eaves_m2, balance.not_carried_m2)
    assert min(parts) >= 0.0
    assert math.fsum(parts) == pytest.approx(balance.roof_m2, rel=1e-12)
    for spout, catchment in zip(site.downspouts, catchments_of(site), strict=True):
        # The storm's own count of the same roof, which other rooms run by.
        assert catchment.plan_area_m2 == pytest.approx(roof_area(site, spout), rel=1e-12)
        assert catchment.design_area_m2 >= catchment.plan_area_m2 - 1e-9


@settings(max_examples=50, deadline=None)
@given(lots_with_roofs())
def test_with_every_roof_carried_whole_nothing_is_left(site):
    spouts = tuple(a_downspout(roof.name, (roof.name, 1.0)) for roof in site.roofs)
    whole = replace(site, downspouts=spouts)
    assert [catchment.plan_area_m2 for catchment in catchments_of(whole)] == pytest.approx(
        [roof.plan_area for roof in site.roofs], rel=1e-12
    )
    assert roof_balance(whole).carried_m2 == pytest.approx(roof_balance(whole).roof_m2)
