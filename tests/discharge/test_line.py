"""The buried line on invented lots: where it comes out by arithmetic, and why it is refused."""

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from shapely.geometry import Point, box

from runoff.discharge import (
    BuriedLine,
    LineEnd,
    LotGround,
    buried_line,
    head_at_start,
    line_to_pit,
    pipe_of,
)
from runoff.quantities import Shown, parse_length
from runoff.site import Benchmark, Easement, KeepOut, Leader, Outlet, Paving, PipeChoice, Soil, Sump
from runoff.words import crossing_action, dig_cells, line_cautions
from tests.discharge.refusals import refused
from tests.lots.records import WRITTEN
from tests.lots.ways import (
    GPM,
    a_downspout,
    a_house,
    a_lot,
    a_plot,
    falling_forward,
    on_ground,
    some_water,
)

FOOT, INCH = 0.3048, 0.0254
BIG = (-14.0, -27.0, 14.0, 27.0)
SMOOTH = PipeChoice("smooth", 4)
# Cover, bore and wall: the depth of a 4 in schedule 40 pipe's invert under 12 in of cover.
DEPTH = (12 + 4.026 + 0.237) * INCH
DEEP = replace(a_house(), footing_depth=2.0)


def codes(line):
    """The codes of a line's cautions."""
    return [each.code for each in line.cautions]


def line_on(
    surface: Any = None,
    at: tuple[float, float] = (0.0, 26.0),
    gpm: float = 40.0,
    **fields: Any,
) -> BuriedLine:
    """The line of a downspout on a 3 % plane down the plan, no building on it unless given."""
    route = fields.pop("route", None)
    leader = fields.pop("leader", None)
    lot = fields.pop("lot", a_lot(*["open ground"] * 4, box=BIG))
    spout = a_downspout(*at, route=None if route is None else np.array(route), leader=leader)
    site = a_plot(spout, **{"buildings": (), "pipe": SMOOTH, "lot": lot} | fields)
    land = on_ground(site, surface or falling_forward(0.03), half=30.0)
    return buried_line(land, site.downspouts[0], some_water(gpm))


def before_a_wall(**fields: Any) -> BuriedLine:
    """The line of a downspout at the front wall of a house, 3 % down the plan."""
    return line_on(at=(0.0, -4.6), **{"buildings": (DEEP,)} | fields)


@pytest.mark.parametrize("off_in", [3, 4, 6, 12])
def test_a_line_gets_down_past_a_shallow_footing_close_to_the_wall(off_in):
    """The trench's edge lies under the wall at first, where the footing's line is level."""
    line = line_on(at=(0.0, -4.5 - off_in * INCH), buildings=(a_house(),))  # 12 in assumed
    profile, (start, end) = line.profile, line.route[:, 1]
    off = -4.5 - (start + (end - start) * profile.stations_m / line.length_m)
    edge = np.maximum(off - line.trench_width_m / 2, 0.0)
    at_wall = profile.ground_m[0] + 0.03 * off_in * INCH
    assert (profile.bottom_m >= at_wall - 12 * INCH - edge - 0.003).all()
    assert (np.diff(profile.invert_m) < 0).all()


def a_paving(name: str, kind: str, *sides: float) -> Paving:
    return Paving(name, kind, box(*sides), WRITTEN)  # type: ignore[arg-type]


def a_keep_out(name: str, kind: str, allowed: str, *sides: float) -> KeepOut:
    return KeepOut(name, kind, box(*sides), allowed, WRITTEN)  # type: ignore[arg-type]


def an_outlet(kind: str, place: Any, **fields: Any) -> Outlet:
    return Outlet("the outlet", kind, place, "", WRITTEN, **fields)  # type: ignore[arg-type]


def test_a_plane_at_3_percent_comes_to_daylight_at_68_ft():
    # 16.263 in of depth, given up at 3 % - 1 %: 16.263 / 12 / 0.02 = 67.76 ft.
    line = line_on()
    assert line.length_m / FOOT == pytest.approx(67.76, abs=0.02)
    assert line.end == pytest.approx((0.0, 26.0 - 16.263 / 12 / 0.02 * FOOT), abs=0.01)
    assert line.ends == LineEnd("daylight")
    assert line.profile.invert_m[-1] == pytest.approx(line.profile.ground_m[-1], abs=1e-6)
    assert line.profile.cover_m[0] == pytest.approx(12 * INCH, abs=1e-6)
    np.testing.assert_allclose(
        np.diff(line.profile.invert_m) / np.diff(line.profile.stations_m), -0.01, atol=1e-9
    )


def test_flat_ground_has_no_daylight():
    with refused("does not fall enough"):
        line_on(falling_forward(0.005))


def test_a_line_short_of_fall_says_by_how_much_and_with_what_cover_it_would_come_out():
    # 53 m to the lot's end at 1.7 % less 1 % give up 0.371 m of 16.263 in (0.4131 m): 1 5/8 in are
    # left, so that with 12 less 1 5/8 in of cover it would come out there.
    with refused("rule line_cover") as drawn:
        line_on(falling_forward(0.017), route=[(0.0, -27.0)])
    with refused("of those that lack fall") as straight:
        line_on(falling_forward(0.017))
    for why in (drawn.said, straight.said):
        short, cover = re.search(
            r"still lies (.*?) below the ground .*?, and with (.*?) of cover", why
        ).groups()
        assert parse_length(short) == pytest.approx(0.4131 - 0.371, abs=0.005)
        assert parse_length(cover) == pytest.approx(12 * INCH - (0.4131 - 0.371), abs=0.008)
    cover = 12 * INCH - (0.4131 - 0.371) - 0.01
    # 10 mm less comes out 0.01 / 0.007 = 1.43 m sooner.
    reached = line_on(falling_forward(0.017), rules={"line_cover": cover}).end[1]
    assert reached == pytest.approx(-27.0 + 1.43, abs=0.05)


def test_a_line_from_the_wall_keeps_clear_of_it():
    line = before_a_wall()
    assert line.length_m / FOOT == pytest.approx(67.76, abs=0.5)
    assert line.drawn is False
    assert line.end[1] < -20


def test_beside_a_shallow_footing_the_line_starts_higher_and_goes_down():
    line = before_a_wall(buildings=(a_house(),))  # 12 in assumed
    profile = line.profile
    at_wall = np.interp(0.0, profile.stations_m, profile.ground_m)
    away = profile.stations_m + 0.1 - line.trench_width_m / 2
    lowest = at_wall - 12 * INCH - np.maximum(away, 0.0)
    assert (profile.bottom_m >= lowest - 0.01).all()
    assert profile.cover_m[0] < 6 * INCH
    assert profile.cover_m.max() == pytest.approx(12 * INCH, abs=1e-6)
    assert (np.diff(profile.invert_m) <= -0.01 * np.diff(profile.stations_m) + 1e-9).all()
    assert "footing assumed" in codes(line)
    assert line.crossings[0].kind == "less than least cover"
    assert line.crossings[0].cover_m is not None


def test_a_footing_too_shallow_for_the_pipe_is_not_undercut():
    with refused("undercut the footing of the house"):
        before_a_wall(buildings=(replace(a_house(), footing_depth=5 * INCH),))


def test_a_trench_along_the_house_that_would_undercut_its_footing_is_refused():
    # Out, and back along the house 2 1/2 ft off its wall, where the ground rises with the route.
    route = [(8.0, -6.2), (6.8, -3.0), (6.8, 4.0)]
    with refused("undercut the footing of the house"):
        line_on(
            lambda x, y: 100.0 + 0.12 * (y + 4.5) + 0.0 * x,
            at=(5.9, -4.6),
            buildings=(replace(a_house(), footing_depth=12 * INCH),),
            route=route,
            outlets=(an_outlet("storm inlet", Point(6.8, 4.0)),),
        )


def test_a_route_under_the_house_is_refused():
    with refused("would run under the house; no other route was tried"):
        before_a_wall(route=[(0.0, 6.0)])


def test_a_route_along_the_house_is_refused():
    with refused("would run along the house"):
        before_a_wall(route=[(5.0, -4.9), (5.0, -26.0)])


def test_a_septic_field_is_not_crossed_whatever_is_allowed_there():
    field = a_keep_out("field", "septic field", "hand digging", -1, -15, 1, -10)
    with refused("cross the septic field 'field'"):
        before_a_wall(route=[(0.0, -26.5)], keep_outs=(field,))
    assert abs(before_a_wall(keep_outs=(field,)).end[0]) > 1


def test_a_keep_out_is_refused_by_name_or_passed_with_care():
    roots = a_keep_out("maple", "tree roots", "nothing", -3, -12, 3, -10)
    with refused("'maple'"):
        before_a_wall(route=[(0.0, -26.5)], keep_outs=(roots,))
    for allowed, words in (("hand digging", "by hand"), ("sleeve", "sleeve")):
        kept = replace(roots, allowed=allowed)
        crossing = before_a_wall(route=[(0.0, -26.5)], keep_outs=(kept,)).crossings
        (found,) = [each for each in crossing if each.name == "maple"]
        assert words in crossing_action(Shown("us"), found)
        # The trench's side meets the roots half a trench before its middle does.
        assert found.start_m == pytest.approx(10 - 4.6 - 20.5 * INCH / 2, abs=0.02)


def test_a_line_does_not_surface_on_a_walk_nor_so_near_that_it_ices():
    walk = a_paving("front walk", "walk", -13, -26, 13, -24)
    with refused("come out on the walk 'front walk'"):
        before_a_wall(route=[(0.0, -26.5)], paving=(walk,))
    near = a_paving("front walk", "walk", -13, -26.5, 13, -25.7)
    with refused("within 3 ft of the walk 'front walk'"):
        before_a_wall(route=[(0.0, -26.5)], paving=(near,))


def test_a_walk_on_the_way_is_passed_with_its_cover():
    # Of itself the line would come out on the walk, so it is kept buried to its far side.
    walk = a_paving("walk", "walk", -14, 5, 14, 7)
    line = line_on(paving=(walk,), route=[(0.0, -26.5)])
    assert line.end[1] < 5 - 3 * FOOT
    under = (line.profile.stations_m >= 19) & (line.profile.stations_m <= 21)
    assert (line.profile.cover_m[under] >= 12 * INCH - 1e-6).all()
    (found,) = [each for each in line.crossings if each.kind == "walk"]
    assert (found.start_m, found.end_m) == pytest.approx((19.0, 21.0))
    assert "tunnel" in crossing_action(Shown("us"), found)


def test_a_drive_asks_for_more_cover():
    drive = a_paving("drive", "drive", -14, 12, 14, 15)
    line = line_on(paving=(drive,), route=[(0.0, -26.5)])
    x = line.profile.stations_m
    assert (line.profile.cover_m[(x >= 11) & (x <= 14)] >= 24 * INCH - 1e-6).all()
    assert (line.profile.cover_m[x < 14] >= 12 * INCH - 1e-6).all()
    assert (np.diff(line.profile.invert_m) <= -0.01 * np.diff(x) + 1e-9).all()
    (found,) = [each for each in line.crossings if each.kind == "drive"]
    assert "2 ft of cover" in crossing_action(Shown("us"), found)
    assert any("schedule 40" in each for each in line_cautions(Shown("us"), line))


def test_a_drawn_route_with_bends_has_its_fittings_and_rows():
    line = line_on(route=[(0.0, 16.0), (10.0, 16.0), (10.0, -26.5)], benchmark=None)
    assert line.drawn
    kinds = [(round(f.station_m, 3), f.kind, f.bends) for f in line.fittings]
    assert (10.0, "bend", (45.0, 45.0)) in kinds
    assert (10.0, "cleanout", ()) in kinds
    stations = [row.station_m for row in line.rows]
    for fitting in line.fittings:
        assert min(abs(s - fitting.station_m) for s in stations) < 2e-3
    cleanouts = [s for s, kind, _ in kinds if kind == "cleanout"]
    assert max(np.diff([*cleanouts, line.length_m])) <= 100 * FOOT + 1e-3


def test_the_shortest_direction_is_taken():
    # Down the fall the depth is given up in 67.8 ft; 5 degrees off it takes longer.
    line = line_on()
    bearing = np.degrees(np.arctan2(line.end[0], 26.0 - line.end[1]))
    assert bearing == pytest.approx(0.0, abs=0.01)


def test_the_direction_nearest_to_the_fall_of_a_plane_is_the_shortest():
    # 3.5 % toward 17 degrees: in a direction d degrees off that the depth is given up in
    # depth / (3.5 % cos d - 1 %), the least at 15 degrees of those tried every 5.
    fall = np.radians(17.0)

    def plane(x, y):
        return 100.0 - 0.035 * (np.sin(fall) * x + np.cos(fall) * y)

    line = line_on(plane, at=(-3.0, -10.0))
    bearing = np.degrees(np.arctan2(line.end[0] + 3.0, line.end[1] + 10.0))
    assert bearing == pytest.approx(15.0, abs=1e-6)
    assert line.length_m == pytest.approx(DEPTH / (0.035 * np.cos(np.radians(2)) - 0.01), abs=0.01)


def test_a_neighbors_side_keeps_its_distance():
    lot = a_lot("neighbor", *["open ground"] * 3, box=(-14.0, 4.0, 14.0, 27.0))
    with refused(r"within 5 ft of the 'front' side|onto a neighbor"):
        line_on(lot=lot, route=[(0.0, 4.2)])


def test_a_storm_inlet_is_entered_above_its_invert_and_may_stand_in_water():
    place = Point(0.0, 0.0)
    invert = 100.0 + 0.03 * 4.5 - 1.0
    line = line_on(route=[(0.0, 0.0)], outlets=(an_outlet("storm inlet", place, invert=invert),))
    assert line.ends == LineEnd("outlet", "the outlet", "storm inlet")
    assert codes(line).count("backwater valve") == 1
    assert line.profile.invert_m[-1] >= invert
    assert line.head_m is None
    assert line.profile.daylight_m is None
    wet = an_outlet("storm inlet", place, invert=invert, water=invert + 0.9)
    stands = line_on(route=[(0.0, 0.0)], outlets=(wet,))
    # 40 gpm in 8.21e-3 m2 of pipe: v = 0.3073 m/s; 1 % carries 0.868 m/s full, so the friction
    # slope is 0.01 (0.3073 / 0.868)^2 = 0.001253; over 26 m 0.0326 m, and v^2 / 2g = 0.0048 m.
    back = wet.water + 0.0326 + 0.0048
    at_start = stands.profile.invert_m[0]
    assert stands.head_m == pytest.approx(
        max(back, at_start + stands.flow.depth_ratio * 4.026 * INCH), abs=2e-4
    )
    assert head_at_start(40 * GPM, pipe_of(4, "smooth"), 26.0, wet.water) == pytest.approx(
        back, abs=2e-4
    )


def test_a_storm_inlet_that_floods_the_leaders_foot_is_refused():
    place, level = Point(0.0, 0.0), 100.0 + 0.03 * 4.5
    wet = an_outlet("storm inlet", place, invert=level - 1.0, water=level + 0.75)
    with refused("above the ground at the leader's foot"):
        line_on(route=[(0.0, 0.0)], outlets=(wet,))


def test_an_outlet_with_its_invert_too_high_is_refused():
    high = an_outlet("storm inlet", Point(0.0, 20.0), invert=101.0)
    with refused("below the invert of 'the outlet'"):
        line_on(lambda x, y: 101.2 + 0.0 * x + 0.0 * y, route=[(0.0, 20.0)], outlets=(high,))


def test_a_ditch_is_entered_where_the_pipe_meets_it():
    def with_a_ditch(x, y):
        return 100.0 + 0.012 * y - np.clip((3.0 - np.abs(y)) * 0.4, 0, 0.8) + 0.0 * x

    ditch = an_outlet("ditch", box(-13, -2, 13, 2))
    line = line_on(with_a_ditch, at=(0.0, 14.0), outlets=(ditch,))
    assert line.ends.outlet == "the outlet"
    assert abs(line.end[1]) < 2.5
    assert line.apron is not None
    assert (line.fittings[-1].kind, line.fittings[-1].size) == ("outlet grate", "4 in")


def test_a_gutter_below_its_curb_takes_the_line_at_the_curbs_face():
    # The curb drops 2 ft at y = 0; the gutter's invert is its bottom, where the pipe comes out.
    def with_a_curb(x, y):
        return 100.0 + np.where(y > 0, 0.012 * y, -2 * FOOT) + 0.0 * x

    gutter = an_outlet("street gutter", box(-13, -1.2, 13, -0.2), invert=100.0 - 2 * FOOT)
    line = line_on(with_a_curb, at=(0.0, 14.0), outlets=(gutter,))
    assert line.ends == LineEnd("outlet", "the outlet", "street gutter")
    assert line.profile.invert_m[-1] >= gutter.invert
    assert abs(line.end[1]) < 0.7
    assert line.apron is None
    assert line.protection == "gutter paving"


def test_the_size_carries_the_flow_and_is_no_smaller_than_the_leader():
    assert line_on(pipe=PipeChoice()).flow.pipe.nominal_in == 4  # 40 gpm, wall not known: 56 gpm
    three = {"line_size": 3 * INCH}
    smooth = PipeChoice("smooth")
    assert line_on(gpm=30.0, pipe=smooth).flow.pipe.nominal_in == 4  # the least of the rules
    assert line_on(gpm=30.0, pipe=smooth, rules=three).flow.pipe.nominal_in == 3
    four = Leader("rectangular", 3 * INCH, 4 * INCH)  # 3.91 in round
    carried = line_on(gpm=30.0, pipe=smooth, leader=four, rules=three)
    assert carried.flow.pipe.nominal_in == 4
    with refused(r"3 in pipe chosen is too small.*take 4 in"):
        line_on(gpm=80.0, pipe=PipeChoice("smooth", 3))


def test_a_line_to_a_pit_keeps_its_cover_to_the_end():
    site = a_plot(a_downspout(0.0, -4.6), buildings=(DEEP,), pipe=SMOOTH)
    land: LotGround = on_ground(site, falling_forward(0.02))
    line = line_to_pit(land, site.downspouts[0], some_water(), (0.0, -9.0))
    assert line.length_m == pytest.approx(4.4)
    assert line.profile.cover_m.min() >= 12 * INCH - 1e-6
    assert line.profile.daylight_m is None
    assert line.apron is None
    with refused("under the house"):
        line_to_pit(land, site.downspouts[0], some_water(), (0.0, 9.0))


def test_an_apron_stays_on_the_lot_or_needs_leave():
    # The line comes out 1.15 ft (0.35 m) before the lot's side; the apron is
    # 1.7 Q / D^1.5 + 8 D long (Dane County), 3.5 ft for 40 gpm from 4.026 in.
    ends_at = 26.0 - 16.263 / 12 / 0.02 * FOOT
    near = (-14.0, ends_at - 0.35, 14.0, 27.0)
    street = line_on(lot=a_lot("street", *["open ground"] * 3, box=near), route=[(0.0, near[1])])
    told = [each for each in street.cautions if each.code == "apron over side"]
    assert [each.name for each in told] == ["front"]
    said = line_cautions(Shown("us"), street)[-1]
    assert "over the 'front' side" in said
    assert "get leave" in said
    assert "apron over side" not in codes(line_on(route=[(0.0, 0.0)]))


def test_an_apron_is_not_laid_on_a_neighbors_ground():
    # The ground falls 5 % across to a gully at x = 5 that runs down the plan; the line comes out
    # 0.413 / 0.04 = 10.3 m on, and its apron is 1.05 m long.
    def to_a_gully(x, y):
        return 100.0 - 0.05 * np.minimum(x, 5.0) + 0.3 * np.maximum(x - 5, 0) + 0.03 * y

    def beside(right: float) -> BuriedLine:
        lot = a_lot("street", "neighbor", *["open ground"] * 2, box=(-14.0, -27.0, right, 27.0))
        rules = {"line_lot_line_distance": 0.0}
        return line_on(to_a_gully, (-6.0, 10.0), lot=lot, route=[(5.2, 10.0)], rules=rules)

    assert beside(6.5).end[0] == pytest.approx(-6.0 + DEPTH / 0.04, abs=0.02)
    with refused("on the neighbor's ground beyond the 'right' side"):
        beside(5.3)


def test_the_table_has_a_row_where_the_trench_is_deepest():
    # The ground has its top 7.4 m on, between two rows of the table.
    def humped(x, y):
        return 100.0 - 0.03 * (26.0 - y) + 0.35 * np.clip(1 - np.abs(y - 18.6) / 2, 0, 1) + 0 * x

    line = line_on(humped, route=[(0.0, -20.0)])
    deepest = max(line.rows, key=lambda row: row.cut_m)
    assert deepest.cut_m == line.greatest_cut_m
    assert deepest.station_m == pytest.approx(7.4, abs=0.3)
    cells = dig_cells(line, "ft")
    told = [row for row in cells if "deepest place" in row[-1]]
    assert len(told) == 1
    assert parse_length(told[0][3]) == max(parse_length(row[3]) for row in cells)


def test_what_was_searched_is_said_and_a_drawn_route_with_bends_is_tried():
    """Roots in a ring with two gaps that lie in no straight line from the downspout."""
    walls = [
        (-5, 5, -4, 26.9),
        (4, 5, 5, 26.9),
        (-5, 26.6, 5, 26.9),
        (-5, 9, 1.5, 10),
        (-1, 5, 5, 6),
    ]
    roots = tuple(
        a_keep_out(f"roots {k}", "tree roots", "nothing", *sides) for k, sides in enumerate(walls)
    )
    with refused("no straight line works, of one every 5 degrees") as why:
        line_on(at=(0.0, 20.0), keep_outs=roots)
    assert "where nothing may be dug" in why.said
    assert "lines with bends are tried only where a route is drawn" in why.said
    around = [(2.75, 9.5), (2.75, 7.5), (-2.5, 7.5), (-2.5, -25.0)]
    bent = line_on(at=(0.0, 20.0), keep_outs=roots, route=around)
    assert bent.drawn
    assert bent.end[1] < 5.0


def test_rods_are_read_from_the_benchmark():
    line = line_on(benchmark=Benchmark("step", 101.0, 1.5))
    assert line.instrument_m == pytest.approx(102.5)
    for row in line.rows:
        assert row.rod_at_invert_m == pytest.approx(102.5 - row.invert_m)
    low = line_on(benchmark=Benchmark("step", 90.0, 1.5))
    assert low.instrument_m is None
    assert "level too low" in codes(low)


def test_what_the_line_must_be_warned_of():
    words = " ".join(line_cautions(Shown("us"), line_on()))
    assert "frost depth was not given" in words
    sump = Sump("cellar", (0.5, 26.0), 0.001, WRITTEN)
    line = line_on(soil=Soil(frost=0.9), sumps=(sump,))
    words = " ".join(line_cautions(Shown("us"), line))
    assert "Frost goes 2 ft 11 1/2 in deep" in words
    assert "check valve" in words
    strip = Easement("power company", box(-14, 8, 14, 10), False, WRITTEN)
    line = line_on(easements=(strip,))
    assert any(c.kind == "easement" and c.name for c in line.crossings)


def test_a_deep_trench_is_flagged_not_refused():
    def over_a_rise(x, y):
        return 100.0 + np.where(y > 10, 0.0, np.where(y > -5, 1.6, 0.05 * y)) + 0.0 * x

    line = line_on(over_a_rise, route=[(0.0, -26.0)])
    assert line.greatest_cut_m > 5 * FOOT
    assert "not for hand digging" in codes(line)


def test_a_line_under_rough_ground_keeps_cover_and_slope_in_few_grades():
    rng = np.random.default_rng(7)
    phases = rng.uniform(0, 6.3, (6, 2))

    def rough(x, y):
        bumps = sum(
            0.03 * np.sin((k + 1) * x / 3 + a) * np.cos((k + 1) * y / 3 + b)
            for k, (a, b) in enumerate(phases)
        )
        return 100.0 + 0.045 * y + bumps

    walk = a_paving("walk", "walk", -14, 14, 14, 19)
    line = line_on(rough, paving=(walk,), route=[(0.0, 10.0), (4.0, -26.5)])
    profile = line.profile
    buried = profile.stations_m <= profile.exempt_from_m
    assert profile.exempt_from_m > 12
    assert (profile.cover_m[buried] >= 12 * INCH - 1e-6).all()
    grades = np.diff(profile.invert_m) / np.diff(profile.stations_m)
    assert (grades <= -0.01 + 1e-9).all()
    assert 1 <= len(profile.breaks_m) <= 8
    # The grade is one between the breaks that are listed, and nowhere else does it change.
    listed = np.interp(
        profile.stations_m,
        ends := [0.0, *profile.breaks_m, line.length_m],
        np.interp(ends, profile.stations_m, profile.invert_m),
    )
    np.testing.assert_allclose(profile.invert_m, listed, atol=1e-9)
