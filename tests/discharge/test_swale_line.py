"""Swales planned on invented lots, against arithmetic by hand on planes and dished ground."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point
from shapely.geometry import Polygon, box

from runoff.discharge import (
    Bottom,
    Caution,
    Cut,
    Ground,
    NoBottom,
    SwaleSection,
    cut_volume,
    lay_bottom,
    stations_of,
    swale_at_flow,
    swale_away,
    water_beside,
    with_cut,
    with_swale,
)
from runoff.flow import runoff_coefficients
from runoff.quantities import parse_length
from runoff.site import Barrier, Downspout, Easement, KeepOut, Opening, Paving, Roof
from tests.discharge.refusals import refused
from tests.lots.records import WRITTEN
from tests.lots.ways import (
    HOUSE,
    a_downspout,
    a_house,
    a_lot,
    a_plot,
    dished,
    falling_forward,
    on_ground,
    some_water,
)

FOOT, INCH = 0.3048, 0.0254
# The front wall's middle, 4 in out.
FRONT = a_downspout(0.0, -4.6)


def straight(x, z, grade=0.01, safe=None, room=99.0) -> Ground:
    """Ground of one height across, clear and safe unless said otherwise."""
    full = np.full(x.size, 1.0)
    safe = np.full(x.size, True) if safe is None else safe
    return Ground(x, z, z, z, grade * full, room * full, safe)


class TestBottom:
    section = SwaleSection(0.3, 3, 0.2)

    @given(slope=st.floats(0.015, 0.2), grade=st.floats(0.005, 0.014))
    def test_on_a_plane_it_comes_out_where_arithmetic_puts_it(self, slope, grade):
        # depth + grade L = slope L, so L = depth / (slope - grade).
        x = np.linspace(0, 60, 241)
        found = lay_bottom(straight(x, 10 - slope * x, grade), self.section, 10.0, 9.0)
        length = 0.2 / (slope - grade)
        if length < 60:
            assert isinstance(found, Bottom)
            assert found.stations[-1] == pytest.approx(length)
            assert found.bottom[-1] == pytest.approx(10 - slope * length)
        else:
            # The ground falls slope x 60 where depth + grade x 60 is asked.
            assert (found.why, found.at, found.short.at) == ("no fall", 60.0, 60.0)
            assert found.short.asked == pytest.approx(0.2 + 60 * grade)
            assert found.short.found == pytest.approx(60 * slope)

    def test_what_it_lacks_is_told_where_it_has_most_of_it(self):
        # A valley that rises again: at 20 m it fell 0.3 m of the 0.2 + 0.2 m asked.
        x = np.linspace(0, 60, 241)
        valley = np.where(x < 20, 10 - 0.015 * x, 9.7 + 0.02 * (x - 20))
        short = lay_bottom(straight(x, valley), self.section, 10.0, 9.0).short
        assert (short.at, short.asked, short.found) == pytest.approx((20.0, 0.4, 0.3))
        uphill = lay_bottom(straight(x, 10 + 0.01 * x), self.section, 9.5, 9.0).short
        # Up 1 % from 0.5 m deep: worse with every step, the first is the best.
        assert (uphill.at, uphill.asked, uphill.found) == pytest.approx((0.25, 0.5025, -0.0025))
        level = lay_bottom(straight(x, 10 + 0 * x), self.section, 10.0, 9.0).short
        assert (level.at, level.asked, level.found) == pytest.approx((60.0, 0.8, 0.0))

    def test_a_lower_start_makes_it_longer(self):
        # 0.5 m below the ground at its head: 0.5 / (0.03 - 0.01) = 25 m.
        x = np.linspace(0, 60, 241)
        found = lay_bottom(straight(x, 10 - 0.03 * x), self.section, 9.5, 9.0)
        assert found.stations[-1] == pytest.approx(25.0)
        assert found.bottom[0] == 9.5

    def test_it_keeps_its_depth_until_water_may_be_let_go(self):
        # Safe from 20 m on, so full up to the station before, 19.75 m; then a run-out of
        # 0.2 / (0.03 - 0.01) = 10 m.
        x = np.linspace(0, 60, 241)
        ground = straight(x, 10 - 0.03 * x, safe=x >= 20)
        found = lay_bottom(ground, self.section, 10.0, 9.0)
        assert found.full_to == pytest.approx(19.75)
        assert found.stations[-1] == pytest.approx(29.75)
        before = found.stations <= 19.5
        np.testing.assert_allclose((found.ground - found.bottom)[before], 0.2)

    def test_what_forbids_it_is_named_with_its_place(self):
        x = np.linspace(0, 60, 241)
        plane = 10 - 0.03 * x
        room = np.where(x > 5, 0.0, 99.0)
        blocked = replace(straight(x, plane, safe=x >= 20), room=room)
        assert lay_bottom(blocked, self.section, 10, 9) == NoBottom("no room", 5.25)
        ridge = np.where(x < 20, 10 + 0.05 * x, 11 - 0.1 * (x - 20))
        deep = lay_bottom(straight(x, ridge), self.section, 10, 0.6)
        # 0.2 + (0.05 + 0.01) x passes 0.6 m at 6.67 m; stations are 0.25 m apart.
        assert deep == NoBottom("too deep", 6.75)
        nowhere = straight(x, plane, safe=np.zeros(x.size, bool))
        assert lay_bottom(nowhere, self.section, 10, 9).why == "unsafe end"

    def test_the_lower_bank_counts(self):
        # The lower bank is 0.1 m under the line: its 0.2 m of depth are 0.3 m on the line.
        x = np.linspace(0, 60, 241)
        z = 10 - 0.03 * x
        aslant = replace(straight(x, z), low=z - 0.1, high=z + 0.1)
        found = lay_bottom(aslant, self.section, 10, 9)
        assert found.ground[0] - found.bottom[0] == pytest.approx(0.3)
        assert found.stations[-1] == pytest.approx(10.0)


def test_soil_dug_is_the_section_s_by_hand():
    # A trapezoid 0.2 m deep, 0.3 m at its bottom, 3:1: 0.18 m2, for 10 m.
    line = np.array([(0.0, 0.0), (10.0, 0.0)])
    cut = Cut(line, np.array([0.0, 10.0]), np.array([9.8, 9.8]), SwaleSection(0.3, 3, 0.2))
    assert cut_volume(cut, np.full(2, 10.0)) == pytest.approx(1.8)


class TestOnAPlane:
    """4 % down to a street, the downspout in the middle of the front wall."""

    ground = on_ground(a_plot(FRONT), falling_forward(0.04))
    swale = swale_away(ground, FRONT, some_water())

    def test_the_least_section_does(self):
        assert self.swale.section.depth_m == pytest.approx(6 * INCH)
        assert self.swale.section.bottom_m == pytest.approx(12 * INCH)
        assert self.swale.section.side_run == 3

    def test_it_starts_beyond_5_ft_with_its_whole_section(self):
        # 5 ft and half of 12 in + 2 x 3 x 6 in: 7 ft.
        head = Point(self.swale.line[1])
        assert self.ground.site.buildings[0].outline.distance(head) == pytest.approx(7 * FOOT)

    def test_the_ground_to_it_falls_5_percent_at_least(self):
        head = math.dist(*self.swale.line[:2])
        foot, bottom = np.interp([0, head], self.swale.stations_m, self.swale.bottom_m)
        assert (foot - bottom) / head >= 0.05

    def test_its_grade_keeps_the_rules(self):
        # 2 % to 10 ft of the wall, 1 % beyond it; a cell (0.3 m) of doubt where that is.
        x = self.swale.stations_m
        head = math.dist(*self.swale.line[:2])
        fall = -np.diff(self.swale.bottom_m) / np.diff(x)
        corners = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(self.swale.line, axis=0).T))])
        at = [np.interp(x, corners, self.swale.line[:, k]) for k in (0, 1)]
        house = box(*HOUSE)
        away = np.array([house.distance(Point(*p)) for p in zip(*at, strict=True)])[1:]
        channel = x[1:] > head + 1e-9
        assert (fall[channel] >= 0.01 - 1e-9).all()
        assert (fall[channel & (away < 10 * FOOT - 0.3)] >= 0.02 - 1e-9).all()
        assert self.swale.slope == pytest.approx(fall[channel].min())

    def test_its_bottom_comes_out_of_the_ground(self):
        assert self.swale.bottom_m[-1] <= self.swale.ground_m[-1]
        end = self.swale.line[-1]
        assert self.ground.reason_against(*end) == "safe"

    def test_it_carries_the_line_s_flow_and_what_comes_beside(self):
        cut = Cut(self.swale.line, self.swale.stations_m, self.swale.bottom_m, self.swale.section)
        beside = water_beside(with_cut(self.ground, cut), cut, "D")
        assert beside > 0
        assert self.swale.design_flow_m3_per_s == pytest.approx(
            some_water().line_flow_m3_per_s + beside
        )
        assert self.swale.capacity_m3_per_s >= self.swale.design_flow_m3_per_s
        state = swale_at_flow(
            self.swale.section, self.swale.design_flow_m3_per_s, self.swale.slope, 0.09
        )
        assert self.swale.flow == state

    def test_the_ground_with_it_carries_the_water_out(self):
        after = with_swale(self.ground, self.swale)
        lowered = self.ground.terrain.ground - after.terrain.ground
        assert np.nanmin(lowered) >= 0
        answer = after.answer_at(FRONT, *self.swale.line[1])
        assert not answer.returns
        assert answer.end.neighbor == "street"


def test_a_wide_yard_needs_a_deeper_section():
    # 60 m2 of yard a cell would be needed for a brim; with so much roof water the depth grows.
    ground = on_ground(a_plot(FRONT), falling_forward(0.04))
    swale = swale_away(ground, FRONT, some_water(gpm=400))
    assert swale.section.depth_m > 6 * INCH
    assert swale.flow.freeboard_m >= 3 * INCH - 1e-9
    assert (swale.section.depth_m / INCH) % 1 == pytest.approx(0, abs=1e-6)


def test_another_roof_that_comes_to_it_makes_it_deeper():
    """Beside it 400 m2 of roof run down the plane: 0.95 x 400 m2 x 8 in/h = 21 L/s more."""
    site = a_plot(FRONT)
    other = Downspout("E", 0.4, -4.6, (("big roof", 1.0),), "house", WRITTEN)
    big = Roof("big roof", 400.0, None, None, WRITTEN)
    site = replace(site, downspouts=(FRONT, other), roofs=(*site.roofs, big))
    swale = swale_away(on_ground(site, falling_forward(0.04)), FRONT, some_water())
    roofs = some_water().line_flow_m3_per_s + 0.95 * 400 * 8 * INCH / 3600
    assert swale.design_flow_m3_per_s >= roofs
    assert swale.capacity_m3_per_s >= swale.design_flow_m3_per_s
    assert swale.section.depth_m > TestOnAPlane.swale.section.depth_m


def test_yard_water_by_hand():
    """A trench across a plane to the street: all behind it comes to it, and its front bank."""
    site = a_plot(FRONT, buildings=())
    ground = on_ground(site, falling_forward(0.04))
    line = np.array([(-17.85, -10.05), (17.85, -10.05)])
    z = 100 + 0.04 * (-10.05 + 4.5)
    cut = Cut(line, np.array([0.0, 35.7]), np.array([z - 0.2, z - 0.6]), SwaleSection(0.3, 3, 0.2))
    after = with_cut(ground, cut)
    _, y = after.flow.grid.centers()
    comes = (y[:, None] > -10.05) | (after.terrain.ground < ground.terrain.ground)
    rain = site.rains.line.intensity
    shares = runoff_coefficients(site, after.terrain)[comes].sum()
    yard = shares * 0.3**2 * rain
    # A column at either end of the trench may run off the survey instead.
    column = shares / 120 * 0.3**2 * rain
    assert water_beside(after, cut, "D") == pytest.approx(yard, abs=2 * column)
    # Clay lawn at 4 % sheds 0.22, its banks more.
    assert yard > 0.22 * 36.0 * (18 + 10.05) * rain
    # The roof of another downspout comes to it too: 40 m2, 0.95 of its rain.
    roof = water_beside(after, cut, "another") - water_beside(after, cut, "D")
    assert roof == pytest.approx(40 * 0.95 * rain)


class TestRefused:
    def why(self, surface=None, **fields) -> str:
        ground = on_ground(a_plot(FRONT, **fields), surface or falling_forward(0.04))
        with refused() as found:
            swale_away(ground, FRONT, some_water())
        return found.said

    def test_flat_ground(self):
        assert "does not come out of the ground" in self.why(falling_forward(0.0))

    def test_what_fall_is_asked_and_found_and_where(self):
        """Ground of 0.4 % toward the lot's front side, 10.4 m ahead of the downspout.

        0.004 x 10.4 m = 42 mm; asked are a swale's least 6 in and 1 % of 10.4 m: 256 mm. Aslant the
        way is longer for the same fall.
        """
        said = self.why(falling_forward(0.004), buildings=())
        found = re.search(
            r"found (.+) from the downspout toward the bottom of the plan: there the ground lies "
            r"(.+) lower than at the swale's head, and (.+) lower is asked",
            said,
        )
        assert found, said
        told = [parse_length(each) for each in found.groups()]
        assert told[0] == pytest.approx(10.4, abs=0.16)  # stations are 0.15 m apart
        assert told[1:] == pytest.approx([0.0416, 0.2564], abs=0.004)
        assert "the ground lies as high as at the swale's head" in self.why(falling_forward(0.0))

    def test_a_walk_all_around(self):
        outer = Polygon([(-9, -8), (9, -8), (9, 8), (-9, 8)])
        inner = Polygon([(-8.5, -7.5), (8.5, -7.5), (8.5, 7.5), (-8.5, 7.5)])
        walk = Paving("ring", "walk", outer.difference(inner), WRITTEN)
        said = self.why(paving=(walk,))
        assert "the walk 'ring' is in the way: it would need a culvert" in said

    def test_a_keep_out_all_around(self):
        ring = box(-9, -8, 9, 8).difference(box(-8.5, -7.5, 8.5, 7.5))
        field = KeepOut("old field", "septic field", ring, "nothing", WRITTEN)
        assert "the keep-out 'old field' is in the way" in self.why(keep_outs=(field,))
        roots = replace(field, name="oak", kind="tree roots", allowed="hand digging")
        assert "the keep-out 'oak' is in the way" in self.why(keep_outs=(roots,))

    def test_edging_all_around(self):
        ring = np.array([(-9, -8), (9, -8), (9, 8), (-9, 8), (-9, -8)], dtype=float)
        edging = Barrier("steel edging", ring, 0.1, WRITTEN)
        assert "the barrier 'steel edging' is in the way" in self.why(barriers=(edging,))

    def test_a_window_well_before_the_head(self):
        """As wide as the wall and 3 m out: no head lies clear of it."""
        well = Opening("well", "window well", "house", 0, 6.0, 12.0, None, 100.0, 99.0, 3.0, True,
                       WRITTEN)  # fmt: skip
        assert "the window well 'well' is in the way" in self.why(openings=(well,))

    def test_neighbors_all_around(self):
        said = self.why(lot=a_lot("neighbor", "neighbor", "neighbor", "neighbor"))
        assert "does not come out of the ground on the lot where water may be let go" in said

    def test_a_footing_that_it_would_undercut(self):
        # A footing at the surface: a line at 45 degrees down from it, and a swale 6 in deep.
        house = replace(a_house(), footing_depth=0.01)
        rules = {"footing_line": 0.05}
        assert "undercut the footing of 'house'" in self.why(buildings=(house,), rules=rules)

    def test_grass_that_would_not_bear_it(self):
        rules = {"swale_velocity_to_5_percent": 0.01, "bluegrass_velocity_to_5_percent": 0.01,
                 "bluegrass_velocity_to_10_percent": 0.01,
                 "bluegrass_velocity_over_10_percent": 0.01}  # fmt: skip
        assert "faster than grass bears" in self.why(rules=rules)


def test_a_cable_is_dug_over_by_hand():
    ring = box(-9, -8, 9, 8).difference(box(-8.5, -7.5, 8.5, 7.5))
    cable = KeepOut("cable", "utility", ring, "hand digging", WRITTEN)
    ground = on_ground(a_plot(FRONT, keep_outs=(cable,)), falling_forward(0.04))
    swale = swale_away(ground, FRONT, some_water())
    assert LineString(swale.line).intersects(ring) == any(c.name == "cable" for c in swale.cautions)


def test_the_holder_of_an_easement_is_asked():
    strip = Easement("sewer strip", box(-15, -9, 15, -7), False, WRITTEN)
    ground = on_ground(a_plot(FRONT, easements=(strip,)), falling_forward(0.04))
    swale = swale_away(ground, FRONT, some_water())
    assert Caution("easement", "sewer strip") in swale.cautions


def test_a_roof_without_walls_begins_at_its_foot():
    ground = on_ground(a_plot(FRONT, buildings=()), falling_forward(0.04))
    swale = swale_away(ground, FRONT, some_water())
    assert swale.line[0] == pytest.approx((FRONT.x, FRONT.y))
    # 6 in at 4 % against 1 %: 5.08 m; a bank that lies lower makes it no longer.
    assert swale.stations_m[-1] == pytest.approx(0.1524 / 0.03, rel=1e-3)


def test_ground_that_slopes_back_is_cut_through():
    """Dished ground: as it is the water stands at the wall, with a swale it leaves."""
    ground = on_ground(a_plot(FRONT), dished)
    as_is = ground.answer_at(FRONT, FRONT.x, FRONT.y)
    swale = swale_away(ground, FRONT, some_water())
    after = with_swale(ground, swale)
    assert as_is.on_the_way
    assert not after.answer_at(FRONT, FRONT.x, FRONT.y).returns
    assert after.answer_at(FRONT, FRONT.x, FRONT.y).end.kind == "lot side"


def test_a_swale_that_ends_in_a_hollow_at_the_wall_is_refused():
    """The line of a good swale on ground that leads back to the house."""
    good = TestOnAPlane.swale
    back = on_ground(a_plot(FRONT), falling_forward(-0.04))
    with refused("does not carry the water away"):
        with_swale(back, good)


@pytest.mark.parametrize("bend", [5.9, 6.0, np.nextafter(6.0, 7.0), np.nextafter(6.0, 5.0)])
def test_no_two_stations_of_a_bent_line_are_one_but_for_rounding(bend):
    line = np.array([(0.0, 0.0), (bend, 0.0), (bend, 9.0)])
    ((stations, places, _),) = stations_of([line], 0.3)
    assert np.diff(stations).min() > 1e-6
    assert stations[-1] == pytest.approx(bend + 9.0)
    assert places[-1] == pytest.approx(line[-1])


@pytest.mark.parametrize("wide_m", [2.0, 8.0])
def test_a_swale_whose_end_lies_in_a_hollow_is_refused_there_and_water_stays(wide_m):
    """At the hollow's bottom the water's way is that one place."""
    site, plane = a_plot(FRONT), falling_forward(0.03)
    swale = swale_away(on_ground(site, plane), FRONT, some_water())
    end = tuple(map(float, swale.line[-1]))

    def hollow(x, y):
        away = np.hypot(x - end[0], y - end[1])
        return plane(x, y) - 0.7 * np.maximum(0.0, wide_m - away)

    ground = on_ground(site, hollow)
    answer = ground.answer_at(FRONT, *end)
    assert answer.end.kind == "low spot"
    assert (len(answer.path), answer.length_m) == (1, 0.0)
    with refused("not follow it out"):
        with_swale(ground, swale)
