"""More heights never know less: where a survey knows the ground, on lots made up at random."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from runoff.terrain import Grid, Reach, build_terrain, spot_ground, surveyed_area
from tests.lots.generated import a_generated_lot
from tests.lots.records import (
    a_box,
    a_break_line,
    a_lot,
    a_plane,
    a_site,
    expected_heights,
    grid_positions,
    spots_at,
)

FOOT = 0.3048
REACH = Reach(45 * FOOT, 20 * FOOT)
LOT = (100 * FOOT, 150 * FOOT)
SIDES = ("front", "right", "rear", "left")


def some_buildings(rng):
    """A house, mostly with a garage behind it, none of them square to the cells."""
    left, front = rng.uniform(5, 9), rng.uniform(9, 14)
    houses = [a_box("house", left, front, left + rng.uniform(9, 14), front + rng.uniform(7, 10))]
    if rng.random() < 0.7:
        behind = houses[0].outline.bounds[3] + rng.uniform(0.4, 5)
        houses.append(a_box("garage", left + 3, behind, left + 9, behind + 6))
    return tuple(houses)


def on_open_ground(rng, count, buildings):
    """Places outside the buildings; of one in four, on a wall."""
    outlines = shapely.union_all([building.outline for building in buildings])
    places = rng.uniform((0, 0), LOT, (4 * count, 2))
    places = places[~shapely.contains_xy(outlines, places[:, 0], places[:, 1])][:count]
    on_wall = rng.random(len(places)) < 0.25
    at = shapely.line_interpolate_point(
        outlines.exterior if outlines.geom_type == "Polygon" else outlines.geoms[0].exterior,
        rng.random(int(on_wall.sum())),
        normalized=True,
    )
    places[on_wall] = shapely.get_coordinates(at)
    return places


def a_line(rng, name):
    """A straight break line anywhere on the lot, or as a step."""
    ends = rng.uniform((0, 0), LOT, (2, 2))
    heights = [a_plane(x, y) for x, y in ends]
    if rng.random() < 0.3:
        return a_break_line(name, ends, heights, heights, "left")
    return a_break_line(name, ends, heights)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.integers(0, 2**32 - 1))
def test_adding_correct_heights_and_lines_never_takes_surveyed_ground_away(seed):
    """At the same places: the centers of one grid of 2 ft over the lot, off every round figure."""
    rng = np.random.default_rng(seed)
    buildings = some_buildings(rng)
    lot = a_lot([(0, 0), (LOT[0], 0), LOT, (0, LOT[1])], *SIDES) if rng.random() < 0.5 else None
    places = on_open_ground(rng, int(rng.integers(6, 30)), buildings)
    grid = Grid(int(LOT[1] / 0.61) + 8, int(LOT[0] / 0.61) + 8, 0.6137, -1.0137, -1.0071)
    lines = ()
    before = None
    for step in range(4):
        site = a_site(
            spot_heights=spots_at(places, a_plane), break_lines=lines, buildings=buildings, lot=lot
        )
        now = np.isfinite(spot_ground(site, grid).heights)
        assert before is None or not (before & ~now).any()
        before = now
        places = np.vstack([places, on_open_ground(rng, int(rng.integers(1, 12)), buildings)])
        if step < 2:
            others = [shapely.LineString(line.line) for line in lines]
            line = a_line(rng, f"line {step}")
            if not any(shapely.LineString(line.line).intersects(other) for other in others):
                lines = (*lines, line)


@pytest.mark.parametrize("apart", [20.0, 30.0, 40.0])
def test_a_sparse_survey_has_ground_between_its_heights(apart):
    """Rows 20 to 40 ft apart, each shot up to 2 ft off its place, a house among them."""
    rng = np.random.default_rng(int(apart))
    step = apart * FOOT
    shots = grid_positions(100 * FOOT, 150 * FOOT, step)
    shots += rng.uniform(-0.6, 0.6, shots.shape)
    hull = shapely.MultiPoint(shots).convex_hull
    area, _ = surveyed_area(shots, np.empty((0, 2)), shapely.Polygon(), REACH)
    inside = hull.buffer(-1.5)
    assert inside.difference(area).area == pytest.approx(0.0, abs=1e-9)


def test_one_more_height_at_a_wall_takes_nothing_away():
    """A lot of 30 shots; a second height between two at a wall made 24 % of such a lot unknown."""
    house = a_box("house", 9.0, 15.0, 21.0, 24.0)
    far = grid_positions(30.48, 45.72, 11.0)
    wall = [(9, 15), (15, 15), (21, 15), (21, 24), (15, 24), (9, 24)]
    shots = np.vstack([[p for p in far if not house.outline.covers(shapely.Point(p))], wall])
    known = []
    for extra in ([], [(16.0, 15.0), (17.0, 15.0), (18.0, 15.0), (19.0, 15.0)]):
        heights = spots_at([*shots, *extra], a_plane)
        terrain = build_terrain(a_site(spot_heights=heights, buildings=(house,)))
        assert np.nanmax(np.abs(terrain.ground - expected_heights(terrain, a_plane))) < 1e-9
        known.append(np.isfinite(terrain.ground).sum() * terrain.grid.cell_area)
    assert known[1] == pytest.approx(known[0], rel=1e-3)
    assert known[0] == pytest.approx(22 * 44 - 12 * 9, rel=0.02)


def test_the_same_ground_is_known_in_any_of_16_turns():
    rng = np.random.default_rng(8)
    (house, *_) = some_buildings(rng)
    shots = on_open_ground(rng, 25, (house,))
    walls = shapely.get_coordinates(shapely.segmentize(house.outline.boundary, 0.5))
    area, told = surveyed_area(shots, walls, house.outline, REACH)
    for turn in range(1, 16):
        spin = np.pi * turn / 8
        turned = np.array([[np.cos(spin), np.sin(spin)], [-np.sin(spin), np.cos(spin)]])
        outline = shapely.Polygon(shapely.get_coordinates(house.outline) @ turned)
        again, told_again = surveyed_area(shots @ turned, walls @ turned, outline, REACH)
        assert again.area == pytest.approx(area.area, rel=1e-4)
        assert (told_again == told).all()


def test_nothing_is_known_behind_a_house_by_what_stands_before_it():
    house = shapely.box(0, 0, 12, 9)
    before = np.array([(-1.0, -3.0), (6.0, -6.0), (13.0, -3.0), (-1.0, 4.0), (13.0, 4.0)])
    walls = shapely.get_coordinates(shapely.segmentize(house.boundary, 0.5))
    area, told = surveyed_area(before, walls, house, REACH)
    assert area.covers(shapely.Point(6.0, -1.0))
    assert not told[(walls[:, 1] == 9.0) & (walls[:, 0] > 0) & (walls[:, 0] < 12)].any()
    assert not area.intersects(shapely.box(0.5, 9.1, 11.5, 30.0))


def shadow(place, building):
    """What a building hides from a place: behind each of its edges, one by one."""
    hidden = [building]
    for a, b in pairwise(shapely.get_coordinates(building)):
        behind = shapely.Polygon([a, b, b + 99 * (b - place), a + 99 * (a - place)])
        # An edge seen end on hides nothing, and its polygon is none.
        hidden += [behind] if behind.is_valid and behind.area > 1.0 else []
    return shapely.union_all(hidden, grid_size=1e-6)


def known_by_each_height(heights, feet, outlines, between):
    """The rule word for word: for each height the hull of those in sight, less what is hidden."""
    solid = [part.buffer(-1e-3, join_style="mitre") for part in shapely.get_parts(outlines)]
    points = np.vstack([heights, feet])
    hulls = []
    for place in heights:
        near = points[np.hypot(*(points - place).T) <= between]
        views = shapely.linestrings(np.stack([np.broadcast_to(place, near.shape), near], axis=1))
        blocked = np.any([shapely.crosses(views, part) for part in solid], axis=0)
        hull = shapely.MultiPoint(near[~blocked]).convex_hull
        for part in solid:
            hull = hull.difference(shadow(place, part), grid_size=1e-6)
        hulls.append(hull)
    hulls = [hull for hull in hulls if hull.area > 1e-8]
    return shapely.union_all(hulls, grid_size=1e-6).difference(outlines)


@pytest.mark.parametrize(("seed", "share"), [(0, 0.2), (2, 0.04), (5, 0.1), (8, 0.05), (4, 0.5)])
def test_what_is_known_is_what_every_height_knows(seed, share):
    """Most heights are passed over, for others before them know it all: nothing is missed."""
    site = a_generated_lot(seed)
    outlines = shapely.union_all([building.outline for building in site.buildings])
    shots = site.spot_array[:, :2]
    shots = shots[np.random.default_rng(seed).random(len(shots)) < share]
    walls = shapely.get_coordinates(shapely.segmentize(outlines.boundary, 0.5))
    area, told = surveyed_area(shots, walls, outlines, REACH)
    expected = known_by_each_height(shots, walls[told], outlines, REACH.between)
    assert expected.area > 100.0
    # An edge is known a millimeter wide.
    assert expected.difference(area).area < 0.02
    assert area.difference(expected.buffer(2e-3)).area < 0.02


def test_twenty_thousand_heights_are_read_and_the_wrong_ones_named():
    """One in ten of them wrong, in a photogrammetrist's cloud over a lot of 100 by 150 ft."""
    rng = np.random.default_rng(20)
    house = a_box("house", 9.0, 15.0, 21.0, 24.0)
    places = rng.uniform((0, 0), LOT, (22_000, 2))
    places = places[~shapely.contains_xy(house.outline, *places.T)][:20_000]
    wrong = np.where(rng.random(20_000) < 0.1, rng.choice([-3.0, 0.3, 3.0], 20_000), 0.0)
    shots = spots_at(places, a_plane)
    shots = tuple(replace(s, z=s.z + float(off)) for s, off in zip(shots, wrong, strict=True))
    ground = spot_ground(a_site(spot_heights=shots, buildings=(house,), cell_size=0.3))
    hit = {shots[k].name for k in np.flatnonzero(wrong)}
    named = {suspect.name for suspect in ground.suspects}
    assert len(named & hit) > 0.8 * len(hit)
    assert len(named - hit) < 0.02 * len(hit)
