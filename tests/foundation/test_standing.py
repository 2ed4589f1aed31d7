"""Standing water near walls: what feeds a low spot, how much wall it wets, where it spills."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import contains_xy
from shapely.geometry import Polygon

from runoff.flow import sources_of
from runoff.foundation import Feeds, Spill
from runoff.roof import curve_number_runoff
from runoff.site import Building, Roof, Sump
from runoff.terrain import TerrainDrain
from runoff.words import standing_sentence
from tests.lots.ponds import a_downspout, a_lot, a_site, an_opening, scene
from tests.lots.records import WRITTEN, a_house

# Two flat pits in a strip before the house: A (x 4 to 8, floor 9.8) and B (x 9 to 15, floor 9.5)
# spill into each other over a sill of 10.0 at x 8 to 9; once joined they leave to the right, in a
# channel at 10.1. The ground around them lies at 11.
HOUSE = a_house(2.0, 6.0, 18.0, 10.0)
A_CELLS, B_CELLS = 4 * 3, 6 * 3


def two_pits() -> np.ndarray:
    x, y = np.meshgrid(np.arange(20) + 0.5, 11.5 - np.arange(12))
    heights = np.full(x.shape, 11.0)
    strip = (y > 3) & (y < 6)
    heights[strip & (x > 4) & (x < 8)] = 9.8
    heights[strip & (x > 8) & (x < 9)] = 10.0
    heights[strip & (x > 9) & (x < 15)] = 9.5
    heights[(y > 4) & (y < 5) & (x > 15)] = 10.1
    return heights


def on_the_pits() -> np.ndarray:
    """Rain runs off on the pits' floors alone, so that catchments can be counted by hand."""
    return np.where(two_pits() < 9.9, 100.0, 0.0)


def shown(rain=0.1, drains=(), **fields):
    fields = {"buildings": (HOUSE,), "lot": a_lot(0.0, 0.0, 20.0, 12.0)} | fields
    site = a_site(rain=rain, **fields)
    return scene(site, two_pits(), number=on_the_pits(), drains=drains)


def by_floor(here):
    """The two low spots' records, A's and B's."""
    left = {spot.name for spot in here.spots if spot.lowest[0] < 8}
    found = {water.low_spot in left: water for water in here.standing()}
    return found[True], found[False]


def test_each_pit_takes_its_own_rain():
    a, b = by_floor(shown(rain=0.1))
    assert a.feeds_m3 == pytest.approx({"yard": 0.1 * A_CELLS}, abs=1e-9)
    assert b.feeds_m3 == pytest.approx({"yard": 0.1 * B_CELLS}, abs=1e-9)
    assert (a.spills_to, b.spills_to) == (
        Spill("low spot", b.low_spot),
        Spill("low spot", a.low_spot),
    )


def test_pits_that_merge_are_one_low_spot_that_leaves_over_a_side():
    """Full to 10.0 m each, they join, and the sill between them and the way out at 10.1 count."""
    here = shown(rain=1.0, lot=a_lot(0.0, 0.0, 18.5, 12.0))
    (water,) = here.standing()
    assert water.spills_to == Spill("lot side", "right")
    assert water.feeds_m3 == pytest.approx({"yard": 1.0 * (A_CELLS + B_CELLS)}, abs=1e-9)
    assert water.storm_volume_m3 == pytest.approx(12 * 0.3 + 18 * 0.6 + 3 * 0.1, abs=1e-9)
    assert water.wetted_m == pytest.approx(11.0)


def test_a_full_pit_feeds_the_next_in_the_shares_of_what_came_into_it():
    """A holds 12 x 0.2 = 2.4 m3; 1.2 of rain and 3.8 of roof come in, so 2.6 run on, 76 % roof."""
    roof, downspout = a_downspout("W", 4.5, 5.5, 40.0)
    here = shown(rain=0.1, roofs=(roof,), downspouts=(downspout,))
    a, b = by_floor(here)
    assert a.feeds_m3 == pytest.approx({"yard": 1.2, "downspout 'W'": 3.8}, abs=1e-9)
    spilled = 1.2 + 3.8 - 2.4
    assert b.feeds_m3 == pytest.approx(
        {"yard": 1.8 + spilled * 0.24, "downspout 'W'": spilled * 0.76}, abs=1e-9
    )
    assert sum(b.feeds_m3.values()) == pytest.approx(b.storm_volume_m3, abs=1e-9)
    assert a.storm_volume_m3 == pytest.approx(2.4, abs=1e-9)


def test_wetted_wall_is_the_pits_width():
    here = shown(rain=0.05)
    a, b = by_floor(here)
    assert (a.wetted_m, b.wetted_m) == (pytest.approx(4.0), pytest.approx(6.0))
    assert (a.building, a.distance_m) == ("house", 0.0)
    assert "against the front wall of 'house': " in standing_sentence(here.site, a)
    assert "wets 13 ft 1 in of it." in standing_sentence(here.site, a)


def test_wetted_walls_are_told_one_by_one():
    """A moat of 9 m around a house of 16 m by 4 m, one side of it closed by high ground."""
    x, y = np.meshgrid(np.arange(20) + 0.5, 11.5 - np.arange(12))
    heights = np.where((x > 1) & (x < 19) & (y > 5) & (y < 11), 9.0, 10.0)
    heights[(x < 2) & (y > 5)] = 12.0
    here = scene(a_site(rain=0.1, buildings=(HOUSE,)), heights)
    (water,) = [each for each in here.standing() if each.wetted_m > 0]
    told = [(wall.wall_name, wall.length_m) for wall in water.walls]
    assert told[:2] == [("front", pytest.approx(16.0)), ("rear", pytest.approx(16.0))]
    assert told[2:] == [("right", pytest.approx(4.0))]
    assert water.wetted_m == pytest.approx(36.0)
    assert "wets 118 ft 1 in of wall (front 52 ft 6 in, rear 52 ft 6 in, right 13 ft 1 in)" in (
        standing_sentence(here.site, water)
    )


def test_wetted_wall_on_a_slant():
    """A wall at 45 degrees with all the ground before it under water: its length within a cell."""
    x, y = np.meshgrid(np.arange(40) + 0.5, 39.5 - np.arange(40))
    heights = np.where((np.abs(x - 20) < 18) & (np.abs(y - 20) < 18), 9.0, 10.0)
    corners = [(20.0, 12.0), (28.0, 20.0), (20.0, 28.0), (12.0, 20.0)]
    house = Building("house", Polygon(corners), ("a", "b", "c", "d"), None, None, WRITTEN)
    water = scene(a_site(rain=0.1, buildings=(house,)), heights).standing()[0]
    assert water.wetted_m == pytest.approx(4 * 8 * np.sqrt(2), rel=1e-9)


def test_run_on_is_the_rain_from_off_the_lot():
    """Two of the three rows of each pit lie on the lot."""
    here = shown(rain=0.1, lot=a_lot(0.0, 4.0, 20.0, 12.0))
    a, _ = by_floor(here)
    assert a.feeds_m3 == pytest.approx({"yard": 0.8, "run-on": 0.4}, abs=1e-9)
    assert "run-on from uphill ground off the lot (33 %)" in standing_sentence(here.site, a)


def test_the_yard_ends_at_the_lots_boundary_whatever_its_shape():
    """Yard and run-on against shapely's own point-in-polygon test, on a crooked lot."""
    corners = np.array([(2.3, 1.1), (17.2, 3.4), (13.1, 7.9), (18.4, 10.7), (4.6, 11.2)])
    lot = replace(a_lot(0, 0, 1, 1), boundary=Polygon(corners))
    site = a_site(buildings=(), lot=lot)
    heights = np.where(np.pad(np.zeros((10, 18), bool), 1, constant_values=True), 10.0, 9.0)
    here = scene(site, heights)
    feeds = Feeds(site, here.flow, here.run, (), 0.1)
    x, y = np.meshgrid(*here.flow.grid.centers())
    falls = contains_xy(lot.boundary, x, y) & (heights == 9.0)
    (d,) = here.by_depression
    assert feeds.into(d)["yard"] == pytest.approx(0.1 * falls.sum(), abs=1e-9)
    assert feeds.into(d)["run-on"] == pytest.approx(0.1 * (180 - falls.sum()), abs=1e-9)


def test_eaves_sumps_and_upper_roofs_bring_their_water():
    """The lower roof's eave drips along A and B alike, with the upper roof's water in it."""
    eave = np.array([(4.0, 5.8), (8.0, 5.8)])
    lower = Roof("lower", 10.0, None, None, WRITTEN, eave=eave)
    upper = Roof("upper", 6.0, None, None, WRITTEN, onto="lower")
    sump = Sump("S", (12.0, 4.5), 1e-4, WRITTEN)
    here = shown(rain=0.05, roofs=(lower, upper), sumps=(sump,))
    a, b = by_floor(here)
    assert a.feeds_m3 == pytest.approx({"yard": 0.6, "eave of 'lower'": 0.05 * 16 * 0.95}, abs=1e-9)
    assert b.feeds_m3 == pytest.approx({"yard": 0.9, "sump 'S'": 0.36}, abs=1e-9)


def test_no_source_loses_water_to_another():
    """Over all depressions of a rough ground, what came in less what ran on is what stands."""
    rng = np.random.default_rng(4)
    heights = 10.0 + 0.1 * rng.random((40, 50))
    heights[[0, -1], :] = 9.0
    heights[:, [0, -1]] = 9.0
    house = a_house(20.0, 15.0, 30.0, 25.0)
    pairs = [a_downspout(f"D{k}", x, y, 60.0) for k, (x, y) in enumerate([(19, 14), (31, 26)])]
    site = a_site(
        rain=0.03,
        buildings=(house,),
        roofs=tuple(roof for roof, _ in pairs),
        downspouts=tuple(spout for _, spout in pairs),
        lot=a_lot(10.0, 5.0, 40.0, 35.0),
    )
    here = scene(site, heights, number=97.0)
    feeds = Feeds(site, here.flow, here.run, sources_of(site, here.flow.terrain), 0.03)
    tree, ponding = here.run.ponding.depressions.hierarchy, here.run.ponding
    active = {ponding.outermost(leaf) for leaf in range(1, tree.leaves + 1)}
    came = {d: sum(feeds.into(d).values()) for d in active}
    onto = {d: ponding.outermost(int(tree.over[d])) if tree.over[d] > 0 else 0 for d in active}
    spilled = {d: came[d] - ponding.held[d] for d in active}
    for d in active:
        assert spilled[d] >= -1e-9
        if not ponding.full[d]:
            assert spilled[d] == pytest.approx(0.0, abs=1e-9)
    stands = float(here.depth.sum())
    runs_off = sum(spilled[d] for d in active if onto[d] == 0)
    node = ponding.depressions.node
    shed = here.flow.shed(0.03)
    assert shed.max() == pytest.approx(curve_number_runoff(0.03, 97.0))
    straight_off = float(shed.ravel()[node == 0].sum())
    total = float(shed.sum()) + sum(2 * [60.0 * 0.03 * 0.95])
    assert stands + runs_off + straight_off == pytest.approx(total, abs=1e-9)
    assert runs_off + straight_off == pytest.approx(float(ponding.left.sum()), abs=1e-9)
    assert len(active) > 20
    assert sum(ponding.full[d] for d in active) > 5


def test_what_an_overwhelmed_drain_takes_is_taken_from_every_source_alike():
    """An inlet in A takes 1 m3 in the hour; 1.2 of rain and 3.8 of roof come to it."""
    roof, downspout = a_downspout("W", 4.5, 5.5, 40.0)
    drain = TerrainDrain("inlet", (7, 5), None, 1.0 / 3600.0)
    here = shown(rain=0.1, roofs=(roof,), downspouts=(downspout,), drains=(drain,))
    a, b = by_floor(here)
    assert here.run.drained["inlet"] == pytest.approx(1.0)
    assert a.feeds_m3 == pytest.approx({"yard": 4.0 * 0.24, "downspout 'W'": 4.0 * 0.76}, abs=1e-9)
    spilled = 4.0 - 2.4
    assert sum(b.feeds_m3.values()) == pytest.approx(1.8 + spilled, abs=1e-9)


def test_a_drain_that_empties_into_a_pit_feeds_it_under_its_own_name():
    """The inlet's 1 m3 comes up in B; A keeps the rest of its 1.2 + 3.8 m3 or spills it."""
    roof, downspout = a_downspout("W", 4.5, 5.5, 40.0)
    drain = TerrainDrain("pipe", (7, 5), (7, 12), 1.0 / 3600.0)
    a, b = by_floor(shown(rain=0.1, roofs=(roof,), downspouts=(downspout,), drains=(drain,)))
    spilled = 4.0 - 2.4
    assert sum(a.feeds_m3.values()) == pytest.approx(4.0, abs=1e-9)
    assert b.feeds_m3 == pytest.approx(
        {"yard": 1.8 + spilled * 0.24, "downspout 'W'": spilled * 0.76, "drain 'pipe'": 1.0},
        abs=1e-9,
    )
    assert sum(b.feeds_m3.values()) == pytest.approx(b.storm_volume_m3, abs=1e-9)


def test_a_courtyard_holds_its_water_and_has_no_way_out():
    ring = Polygon([(4, 4), (16, 4), (16, 16), (4, 16)], [[(8, 8), (8, 12), (12, 12), (12, 8)]])
    house = Building("house", ring, ("a", "b", "c", "d"), None, None, WRITTEN)
    heights = np.full((20, 20), 10.0)
    here = scene(a_site(rain=0.1, buildings=(house,)), heights)
    (water,) = here.standing()
    assert water.spills_to == Spill("nowhere")
    assert water.wetted_m == pytest.approx(16.0)
    assert water.feeds_m3 == pytest.approx({"yard": 1.6}, abs=1e-9)
    assert "terminal basin" in standing_sentence(here.site, water)


def test_a_window_well_in_the_survey_is_no_low_spot():
    heights = np.full((12, 20), 10.0)
    heights[7, 8] = 9.0
    house = a_house(2.0, 5.0, 18.0, 10.0)
    well = an_opening("W", "window well", 6.5, 1.0, rim=10.0, projection=1.0)
    seen, known = (
        scene(a_site(buildings=(house,), openings=each), heights) for each in ((), (well,))
    )
    assert len(seen.standing()) == 1
    assert known.standing() == ()


def test_ponds_farther_than_the_foundations_reach_are_left_out():
    heights = np.full((12, 40), 10.0)
    heights[5:7, 30:34] = 9.0
    here = scene(a_site(buildings=(a_house(2.0, 4.0, 10.0, 10.0),)), heights)
    assert len(here.spots) == 1
    assert here.standing() == ()
