"""The shortest extension: arithmetic on planes, what is in its way, and why there is none."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon

from runoff.discharge import (
    Option,
    stone_apron,
    surface_extension,
    wall_beside,
    work_of,
)
from runoff.site import HeightAccuracy, KeepOut, Leader, Opening
from runoff.words import extension_ends, extension_sentence
from tests.discharge.refusals import refused
from tests.lots.records import WRITTEN
from tests.lots.walls import a_house as a_turned_house
from tests.lots.walls import a_slab, falling
from tests.lots.ways import (
    GPM,
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
D = a_downspout(0.0, -4.6)


def found(site, surface, gpm=30.0, **grid):
    return surface_extension(on_ground(site, surface, **grid), site.downspouts[0], some_water(gpm))


def why_none(site, surface, **grid) -> str:
    with refused(site=site) as reason:
        found(site, surface, **grid)
    return reason.said


# 0.1 m out and n ft must come to 5 ft = 1.524 m: n = 5. Straight down the slope falls the most.
@pytest.mark.parametrize("turned", [0, 35, 90])
def test_a_plane_wants_just_over_the_distance_from_the_foundation(turned):
    house = a_turned_house(bearing=turned)
    turn = math.radians(turned)
    foot = a_downspout(4.6 * math.sin(turn), -4.6 * math.cos(turn))
    made = found(a_plot(foot, buildings=(house,)), falling(0.03, turned))
    assert made.length_m == pytest.approx(5 * FOOT)
    assert made.bearing == 180 - turned
    assert made.end == pytest.approx(
        ((4.6 + 1.524) * math.sin(turn), -(4.6 + 1.524) * math.cos(turn))
    )
    # The foot's height is that of the cells before the wall.
    assert made.fall_m == pytest.approx(0.03 * 1.524, abs=0.03 * 0.3)
    assert made.outlet_m == 0.0


@pytest.mark.parametrize(("out", "feet"), [(0.02, 5), (0.35, 4), (0.62, 3)])
def test_the_nearer_the_foot_to_the_wall_the_longer(out, feet):
    made = found(a_plot(a_downspout(0.0, -4.5 - out)), falling_forward(0.03))
    assert made.length_m == pytest.approx(feet * FOOT)


def test_metric_sites_are_tried_by_quarters_of_a_metre():
    # 0.1 + 1.5 = 1.6 m, and 0.1 + 1.25 = 1.35 m is short of 1.524 m.
    assert found(a_plot(D, units="m"), falling_forward(0.03)).length_m == pytest.approx(1.5)


# From 0.1 m to 1.624 m out, the crest 0.51 m along. The line from the leader's end to the ground at
# its end passes the crest less the 6 mm that are pared off. Cells of 5 cm blunt the crest a little.
def test_ground_that_slopes_back_takes_the_leaders_height():
    lot = a_lot("street", *["open ground"] * 3, box=(-9.5, -9.5, 9.5, 9.5))
    made = found(a_plot(D, lot=lot), dished, cell_size=0.05, half=10.0)
    foot = -(0.6096 - 0.1) / 12
    end = -0.03 * (0.1 + 1.524 - 0.6096)
    share = (0.6096 - 0.1) / 1.524
    over_crest = (0.0 - 0.006 - end * share) / (1 - share) - foot
    by_slope = 0.01 * 1.524 - (foot - end)
    assert over_crest > by_slope > 0
    assert made.length_m == pytest.approx(5 * FOOT)
    assert made.outlet_m == pytest.approx(over_crest, abs=0.004)
    assert made.fall_m == pytest.approx(foot - end + over_crest, abs=0.006)


def test_the_leaders_end_may_not_stand_higher_than_the_rule():
    site = a_plot(D, rules={"leader_outlet_height": 1 * INCH, "extension_length": 7 * FOOT})
    said = why_none(site, dished, cell_size=0.1)
    assert (
        "would not fall 1 % (rule extension_slope) with the leader's end 1 in over the ground "
        "(rule leader_outlet_height)"
    ) in said
    # The ground that `dished` is: the fall from the foot to the end of the best, in figures.
    assert re.search(r"the best of them, [\d ftin]+ long, lies on ground that (falls|rises) ", said)


def test_it_goes_around_a_walk():
    walk = a_slab("walk", [(-0.6, -5.6), (0.6, -5.6), (0.6, -5.2), (-0.6, -5.2)])
    made = found(a_plot(D, paving=(walk,)), falling_forward(0.03))
    assert made.length_m > 5 * FOOT
    assert made.bearing not in (175, 180, 185)


def test_a_walk_along_the_front_is_named():
    walk = a_slab("walk", [(-18, -6.5), (18, -6.5), (18, -5.4), (-18, -5.4)])
    assert "the walk 'the walk'" in why_none(a_plot(D, paving=(walk,)), falling_forward(0.03))


# Its water runs straight down from 6.124 m below the middle: a walk 10 ft on, at 9.172 m, is where
# it may cross.
@pytest.mark.parametrize(("top", "crosses"), [(-9.0, False), (-9.3, True)])
def test_water_keeps_off_a_walk_for_its_first_stretch(top, crosses):
    walk = a_slab("walk", [(-18, top - 1), (18, top - 1), (18, top), (-18, top)])
    site = a_plot(D, paving=(walk,), rules={"extension_length": 5 * FOOT})
    if crosses:
        ends = extension_ends(found(site, falling_forward(0.03)).ends)
        assert "on its way it crosses the walk 'the walk': ice in winter" in ends
    else:
        assert "would send its water over the walk 'the walk' within 10 ft: ice" in why_none(
            site, falling_forward(0.03)
        )


# At an angle a from straight out 5 ft end 0.1 + 1.524 cos a out: 1.624 m at 0, 1.572 at 15, 1.532
# at 20 and 1.481 (too near the house) at 25 degrees. 1.524 m further lies the nearest lot line.
@pytest.mark.parametrize(("front", "aside"), [(3.15, 0), (3.1, 15), (3.06, 20), (3.05, None)])
def test_it_keeps_off_the_lot_line(front, aside):
    lot = a_lot(*["open ground"] * 4, box=(-15, -4.5 - front, 15, 15))
    site = a_plot(D, lot=lot, rules={"extension_length": 5 * FOOT})
    if aside is None:
        reason = why_none(site, falling_forward(0.03))
        assert "would end within 5 ft of the front side of the lot" in reason
    else:
        made = found(site, falling_forward(0.03))
        assert (made.length_m, made.bearing) == (pytest.approx(5 * FOOT), 180 - aside)


def test_a_street_may_be_near():
    lot = a_lot("street", *["open ground"] * 3, box=(-15, -4.5 - 3.1, 15, 15))
    assert extension_ends(found(a_plot(D, lot=lot), falling_forward(0.03)).ends) == (
        "leaves the lot over its front side, into the street"
    )


def test_over_a_neighbors_side_there_is_none():
    lot = a_lot("neighbor", *["open ground"] * 3)
    assert "would end where the water runs onto a neighbor" in why_none(
        a_plot(D, lot=lot), falling_forward(0.03)
    )


def test_dead_flat_ground_is_too_flat():
    assert why_none(a_plot(D), falling_forward(0.0)) == (
        "No extension up to 20 ft works for downspout 'D': every one would end on ground too flat "
        "for the water to leave; the best of them, 5 ft long, lies on ground that is level."
    )


@pytest.mark.parametrize(("side", "works"), [(11.0, False), (14.0, True)])
def test_it_lets_nothing_go_to_level_ground_beside_a_neighbor(side, works):
    """Graded 3 % for 10 ft from a wall at x = 6, then level but for 0.5 mm a metre to the street.

    3 mm a height: 8.3 mm cannot be told. The level begins at 9.05 m, 1.95 or 4.95 m from the side.
    """

    def graded(x, y):
        return 100.0 - 0.03 * np.clip(x - 6.0, 0.0, 3.048) + 0.0005 * y

    lot = a_lot("street", "neighbor", "open ground", "open ground", box=(-15.0, -16.0, side, 16.0))
    house = a_house(box=(-6.0, -13.0, 6.0, 13.0))
    site = replace(
        a_plot(a_downspout(6.1, 0.0), buildings=(house,), lot=lot),
        height_accuracy=HeightAccuracy(0.003, "laser level", False),
    )
    if works:
        assert found(site, graded).end[0] < 9.05
    else:
        assert "runs onto a neighbor" in why_none(site, graded)


def test_it_crosses_no_retaining_wall():
    strip = Polygon([(-18, -5.3), (18, -5.3), (18, -5.1), (-18, -5.1)])
    wall = KeepOut("ledge", "retaining wall", strip, "nothing", WRITTEN)
    assert "would cross the retaining wall 'ledge'" in why_none(
        a_plot(D, keep_outs=(wall,)), falling_forward(0.03)
    )


def test_it_ends_on_no_septic_field():
    """The field ends 7 ft out: from 0.1 m out, 6 ft end on it and 7 ft beyond."""
    field = Polygon([(-18, -4.5 - 7 * FOOT), (18, -4.5 - 7 * FOOT), (18, -6.0), (-18, -6.0)])
    septic = KeepOut("field", "septic field", field, "nothing", WRITTEN)
    made = found(a_plot(D, keep_outs=(septic,)), falling_forward(0.03))
    assert made.length_m == pytest.approx(7 * FOOT)
    assert 0.1 + 7 * FOOT > 7 * FOOT > 0.1 + 6 * FOOT


def test_it_goes_around_a_window_well():
    well = Opening(
        *("well", "window well", "house", 0, 6.0, 1.2),
        *(None, 100.5, 98.0, 0.6, True, WRITTEN),
    )
    foot = a_downspout(-0.7, -4.6)
    free = found(a_plot(foot), falling_forward(0.03))
    around = found(a_plot(foot, openings=(well,)), falling(0.03, 40))
    straight = found(a_plot(foot), falling(0.03, 40))
    assert free.bearing == 180
    # Down the slope lies the well's corner.
    assert straight.bearing < around.bearing


def test_much_water_ends_on_stone():
    leader = Leader("rectangular", 3 * INCH, 4 * INCH)
    site = a_plot(replace(D, leader=leader))
    assert found(site, falling_forward(0.03), gpm=50.0).protection == "splash pad"
    made = found(site, falling_forward(0.03), gpm=51.0)
    # The round pipe of 12 sq in.
    assert made.protection == "stone apron"
    assert made.apron == stone_apron(51 * GPM, math.sqrt(12 * 4 / math.pi) * INCH)


@pytest.mark.parametrize("foot", [(5.9, -4.52), (5.5, -4.55), (-5.9, -4.6), (6.02, -4.3)])
def test_it_clears_corners_by_its_own_width(foot):
    """A garage stands off each front corner: beyond its elbow nothing of a 5 in pipe touches it."""
    garage = Polygon([(6.5, -7.5), (9.5, -7.5), (9.5, -5.2), (6.5, -5.2)])
    shed = Polygon([(-9.5, -7.5), (-6.4, -7.5), (-6.4, -5.2), (-9.5, -5.2)])
    house = a_house()
    others = tuple(
        replace(house, name=name, outline=outline)
        for name, outline in (("garage", garage), ("shed", shed))
    )
    site = a_plot(a_downspout(*foot), buildings=(house, *others))
    made = found(site, falling_forward(0.03))
    way = np.array(made.end) - made.start
    off = np.array(made.start) + 0.3 / made.length_m * way
    pipe = LineString([off, made.end])
    assert all(pipe.distance(each.outline) >= 2.5 * INCH - 1e-6 for each in site.buildings)
    assert made.start == foot


# Straight out of the wall 5 ft do (above); the door's landing, 3 ft deep, reaches 2.5 in beyond.
@pytest.mark.parametrize(("to_door", "length"), [(0.5, 5), (-0.5, None)])
def test_it_crosses_no_threshold(to_door, length):
    middle = 6.0 + to_door + (0.6 if to_door > 0 else 0.0)
    door = Opening("front", "door", "house", 0, middle, 1.0, 100.5, None, None, 0.0, False, WRITTEN)
    site = replace(a_plot(D), openings=(door,))
    left, right, out = middle - 6.5, middle - 5.5, -4.5 - 3 * FOOT
    step = Polygon([(left, -4.5), (right, -4.5), (right, out), (left, out)])
    if length is None:
        assert "across the threshold of the door 'front'" in why_none(site, falling_forward(0.03))
        return
    made = found(site, falling_forward(0.03))
    assert made.length_m == pytest.approx(length * FOOT)
    assert LineString([made.start, made.end]).distance(step) >= 2.5 * INCH - 1e-6


@pytest.mark.parametrize(("deep", "props"), [(0.0, 0), (0.10, 1), (0.30, None)])
def test_over_a_hollow_it_is_propped_or_refused(deep, props):
    """A trough along the wall, 0.8 m out, on ground that falls 3 %."""

    def trough(x, y):
        return falling_forward(0.03)(x, y) - deep * np.exp(-(((-4.5 - y - 0.8) / 0.2) ** 2)) + 0 * x

    site = a_plot(D, rules={"extension_length": 5 * FOOT})
    if props is None:
        assert "would hang more than 8 in over the ground" in why_none(site, trough, cell_size=0.1)
        return
    made = found(site, trough, cell_size=0.1)
    assert made.props == props
    assert made.gap_m == pytest.approx(deep, abs=0.015)
    option = Option("extension", True, None, made)
    _, items = work_of(site, option)
    assert sum(item.quantity for item in items if item.name == "concrete block") == props
    assert ("of air is under it" in extension_sentence(site, made)) == bool(props)


def test_it_starts_on_the_soil_that_is_ordered():
    """The foot lies 2 in below a crest; soil 4 in high, run out in 3 ft, lifts it above that."""
    site = a_plot(D)
    ground = on_ground(site, dished, cell_size=0.1)
    x, y = ground.terrain.grid.centers()
    tapers = np.clip(1.0 + (y + 4.5) / (3 * FOOT), 0.0, 1.0)
    depth = 4 * INCH * np.where((np.abs(x)[None, :] < 3) & (y[:, None] < -4.5), tapers[:, None], 0)
    built = replace(
        ground.terrain,
        ground=ground.terrain.ground + depth,
        surface=ground.terrain.surface + depth,
    )
    water = some_water(30.0)
    bare = surface_extension(ground, site.downspouts[0], water)
    made = surface_extension(ground, site.downspouts[0], water, built)
    assert bare.outlet_m > 1 * INCH
    # The foot then lies 0.048 m over the old crest, the crest itself 0.034 and the end 0.030 below:
    # (0.034 - 0.006 + 0.030 x 0.334) / 0.666 - 0.048 = 9 mm.
    assert made.outlet_m == pytest.approx(0.009, abs=0.004)
    # 0.1 m out of the wall.
    assert made.soil_m == pytest.approx(4 * INCH * (1 - 0.1 / (3 * FOOT)), abs=0.005)
    assert bare.soil_m == 0.0


@pytest.mark.parametrize("turned", [0, 8, 23.5])
def test_it_is_told_as_straight_out_where_it_is(turned):
    house = a_turned_house(bearing=turned)
    turn = math.radians(turned)
    foot = a_downspout(4.6 * math.sin(turn), -4.6 * math.cos(turn))
    site = a_plot(foot, buildings=(house,))
    made = found(site, falling(0.03, turned))
    assert made.bearing == pytest.approx(180 - turned)
    assert made.is_straight_out
    assert "straight out from the front wall" in extension_sentence(site, made)
    aside = replace(made, aside_m=0.5, out_m=1.5)
    assert "its end 4 ft 11 in out from the front wall and 1 ft 8 in to the right" in (
        extension_sentence(site, aside)
    )


@pytest.mark.parametrize("at", [(5.9, -4.6), (6.1, -4.4), (-6.1, 4.4), (-5.9, 4.6)])
def test_past_a_corner_it_is_told_from_the_wall_that_it_leaves_behind(at):
    """An end is never told as so much *behind* a wall; two walls of the house are near a corner."""
    site = a_plot(a_downspout(*at))
    for bearing in range(0, 360, 5):
        turn = math.radians(bearing)
        end = (at[0] + 4 * math.sin(turn), at[1] + 4 * math.cos(turn))
        if LineString([at, end]).intersects(site.buildings[0].outline):
            continue
        wall = wall_beside(site, *at, end=end)
        assert wall is not None
        assert np.dot(np.subtract(end, wall.start), wall.outward) > 0
        assert LineString([wall.start, wall.end]).distance(Point(at)) < 0.15
