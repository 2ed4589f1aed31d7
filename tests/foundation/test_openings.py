"""Openings against sums done by hand on box-shaped and paraboloid ground."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from runoff.foundation import Inflow
from runoff.site import HeightAccuracy
from runoff.words import inflow_words, opening_sentence
from tests.lots.ponds import INCH, a_downspout, a_lot, a_site, an_opening, scene
from tests.lots.records import a_house

HOUSE = a_house(8.0, 10.0, 16.0, 16.0)


def a_box_bowl() -> np.ndarray:
    """Level ground at 10 m, 24 x 20 cells of 1 m, with a flat pit at 9.5 m before the front wall.

    The pit takes columns 8 to 15 and 4 rows before the wall at y = 10 (rows 10 to 13): 32 cells.
    The ground around it falls outward from a rim one cell wide at 10 m.
    """
    x, y = np.meshgrid(np.arange(24) + 0.5, 19.5 - np.arange(20))
    away = np.maximum.reduce([7.5 - x, x - 16.5, 5.5 - y, y - 16.5, 0 * x])
    heights = 10.0 - 0.05 * away
    heights[(x > 8) & (x < 16) & (y > 6) & (y < 10)] = 9.5
    return heights


PIT_CELLS = 32
SPILL = 10.0


def well(rim: float, **fields):
    return an_opening("W", "window well", 4.0, 1.0, rim=rim, projection=0.9, **fields)


def judged(opening, rain=0.1, heights=None, number=100.0, **fields):
    """What is found of an opening, and what is said of it."""
    site = a_site(rain=rain, buildings=(HOUSE,), openings=(opening,), **fields)
    ground = a_box_bowl() if heights is None else heights
    (found,) = scene(site, ground, number=number).openings()
    return SimpleNamespace(
        **vars(found),
        sentence=opening_sentence(site, found),
        comes_from=inflow_words(found.inflow),
    )


def only_the_pit(number: float = 100.0) -> np.ndarray:
    """Curve number `number` on the pit's floor; off the rest no rain runs."""
    return np.where(a_box_bowl() == 9.5, number, 0.0)


@pytest.mark.parametrize("rain", [0.1, 0.9])
def test_a_rim_above_the_spill_height_is_never_flooded(rain):
    found = judged(well(SPILL + INCH), rain=rain)
    assert np.isinf(found.rain_to_reach_m)
    assert not found.reached
    assert "no storm reaches it" in found.sentence


@pytest.mark.parametrize("number", [74.0, 80.0, 98.0, 100.0])
def test_a_rim_below_the_spill_height_is_flooded_when_the_bowl_is_filled_to_it(number):
    """A box whose own floor alone takes rain fills to h when h has run off it.

    TR-55's Q = (P - 0.2 S)^2 / (P + 0.8 S) solved for the rain P by the quadratic formula.
    """
    rim = SPILL - 12 * INCH
    runoff, kept = rim - 9.5, (1000 / number - 10) * INCH
    b, c = 0.4 * kept + runoff, 0.04 * kept**2 - 0.8 * kept * runoff
    by_hand = (b + np.sqrt(b**2 - 4 * c)) / 2
    found = judged(well(rim), rain=0.05, number=only_the_pit(number))
    assert found.rain_to_reach_m == pytest.approx(by_hand, abs=1e-4)
    assert not found.reached
    stands = max(0.05 - 0.2 * kept, 0) ** 2 / (0.05 + 0.8 * kept)
    assert found.freeboard_m == pytest.approx(rim - 9.5 - stands, abs=1e-9)


def test_one_inch_below_the_spill_height_with_roof_water():
    """Roof water counts: 32 m2 of floor and 100 m2 of roof at 0.95 fill 32 cells."""
    roof, downspout = a_downspout("NE", 15.5, 9.5, 100.0)
    rim = SPILL - INCH
    by_hand = PIT_CELLS * (rim - 9.5) / (PIT_CELLS + 100.0 * 0.95)
    found = judged(
        well(rim), rain=0.2, number=only_the_pit(), roofs=(roof,), downspouts=(downspout,)
    )
    assert found.rain_to_reach_m == pytest.approx(by_hand, abs=1e-4)
    assert found.reached
    standing = min(SPILL, 9.5 + 0.2 * (PIT_CELLS + 95.0) / PIT_CELLS)
    assert found.freeboard_m == pytest.approx(rim - standing, abs=1e-9)
    assert "stream" not in found.sentence
    share_of_roof = 95.0 / (95.0 + PIT_CELLS)
    assert found.inflow.feeds_m3["downspout 'NE'"] / sum(
        found.inflow.feeds_m3.values()
    ) == pytest.approx(share_of_roof)
    assert f"downspout 'NE' ({share_of_roof:.0%})".replace("%", " %") in found.comes_from


def test_a_paraboloid_bowl_floods_a_rim_at_the_rain_of_its_closed_form():
    """V(h) = pi/2 R2 h2 / D for a bowl of depth D and radius R; rain on the bowl alone.

    A half bowl lies against the wall, so that volume and catchment are both halved.
    """
    size, cell = 120, 0.1
    depth, radius = 0.5, 5.0
    x, y = np.meshgrid((np.arange(size) + 0.5) * cell, (size - 0.5 - np.arange(size)) * cell)
    distance = np.hypot(x - 6.0, y - 6.0)
    heights = np.where(
        distance < radius, depth * (distance / radius) ** 2, depth - 0.01 * (distance - radius)
    )
    house = a_house(0.5, 6.0, 11.5, 11.5)
    rim = 0.3
    opening = an_opening("W", "window well", 5.5, 1.0, rim=rim, projection=0.6, drained=True)
    site = a_site(rain=0.01, buildings=(house,), openings=(opening,))
    number = np.where((distance < radius), 100.0, 0.0)
    found = scene(site, heights, cell, number).openings()[0]
    volume = np.pi / 2 * (radius**2 * rim / depth) * rim / 2
    by_hand = volume / (np.pi * radius**2 / 2)
    assert found.rain_to_reach_m == pytest.approx(by_hand, rel=0.01)


def test_a_drain_in_the_well_takes_no_water_over_its_rim():
    with_drain, without = (judged(well(9.6, floor=9.0, drained=d), rain=0.5) for d in (True, False))
    assert with_drain.reached
    assert with_drain.rain_to_reach_m == without.rain_to_reach_m
    assert "no drain" in without.sentence
    assert "no drain" not in with_drain.sentence


def test_an_undrained_well_says_what_its_own_rain_does():
    shallow = judged(well(10.5, floor=10.45), rain=4 * INCH)
    deep = judged(well(10.5, floor=9.5), rain=4 * INCH)
    assert "alone fills it, 2 in deep" in shallow.sentence
    assert "alone stands 4 in deep on its floor" in deep.sentence
    assert not shallow.reached


def test_a_door_sill_is_reached_when_water_stands_over_it():
    sill = 9.5 + 0.08
    door = an_opening("back door", "door", 4.0, 0.9, sill=sill)
    dry = judged(door, rain=0.05, number=only_the_pit())
    wet = judged(door, rain=0.1, number=only_the_pit())
    assert (dry.reached, wet.reached) == (False, True)
    assert dry.freeboard_m == pytest.approx(0.03)
    assert wet.freeboard_m == pytest.approx(-0.02)
    assert dry.rain_to_reach_m == pytest.approx(0.08, abs=1e-4)
    assert "the yard's own rain (100 %)" in wet.comes_from


@pytest.mark.parametrize(("sigma", "close"), [(0.001, False), (0.0127, True)])
def test_what_the_heights_cannot_tell_is_said(sigma, close):
    """20 mm over the sill: beyond 1.96 sqrt(2) 1 mm = 2.8 mm, within that of 1/2 in, 35 mm."""
    door = an_opening("back door", "door", 4.0, 0.9, sill=9.58)
    accuracy = HeightAccuracy(sigma, "invented", False)
    found = judged(door, rain=0.1, number=only_the_pit(), height_accuracy=accuracy)
    assert ("too close to call" in found.sentence) is close


def test_a_door_beside_dry_ground_has_the_height_over_the_ground_to_spare():
    door = an_opening("side door", "door", 3.0, 0.9, wall=1, sill=10.2)
    found = judged(door, rain=0.05)
    assert found.freeboard_m == pytest.approx(0.2)
    assert np.isinf(found.rain_to_reach_m)
    assert found.at == (16.0, 13.0)
    assert found.wall_name == "right"


def test_a_garage_at_the_foot_of_a_drive():
    """A drive, 4 m wide between walls of ground, falls 10 % to the door; a wedge of water stands.

    Columns 10 to 13 are the drive; at the door (row y = 9.5) the floor is 9.0 m and it rises 0.1 m
    a row to 9.9 m at y = 0.5, where it leaves the survey over a lip of 10 m. The 9 rows' rain, and
    none from elsewhere, stands as a wedge: level 9.25 holds 4 x (0.25 + 0.15 + 0.05) = 1.8 m3.
    """
    x, y = np.meshgrid(np.arange(24) + 0.5, 19.5 - np.arange(20))
    drive = (x > 10) & (x < 14) & (y < 10) & (y > 1)
    heights = np.where(drive, 9.0 + 0.1 * (9.5 - y), 10.0)
    number = np.where(drive, 100.0, 0.0)
    door = an_opening("garage door", "garage door", 4.0, 2.4, sill=9.25)
    found = judged(door, rain=0.1, heights=heights, number=number)
    by_hand = 1.8 / (4 * 9)
    assert found.rain_to_reach_m == pytest.approx(by_hand, abs=1e-4)
    assert found.reached
    flush = judged(replace(door, sill=9.0), rain=0.01, heights=heights, number=number)
    assert flush.reached
    assert flush.rain_to_reach_m < 2e-4


def test_a_stream_against_a_sill_below_the_ground_gets_in():
    """The ground falls along the front wall, past a vent whose sill lies below the ground."""
    x, y = np.meshgrid(np.arange(24) + 0.5, 19.5 - np.arange(20))
    heights = 10.0 - 0.05 * x + 0.02 * np.abs(y - 9.5)
    roof, downspout = a_downspout("NW", 8.5, 9.5, 60.0)
    vent = an_opening("vent", "crawl-space vent", 4.0, 0.4, sill=9.2)
    with_stream = {"roofs": (roof,), "downspouts": (downspout,)}
    against = judged(vent, heights=heights, **with_stream)
    assert against.reached
    assert against.rain_to_reach_m < 2e-4
    assert against.inflow == Inflow(streams=("downspout 'NW'",))
    assert "The stream from downspout 'NW' runs against it" in against.sentence
    above = judged(replace(vent, sill=9.6), heights=heights, **with_stream)
    alone = judged(vent, heights=heights)
    assert not above.reached
    assert not alone.reached
    assert np.isinf(above.rain_to_reach_m)
    assert np.isinf(alone.rain_to_reach_m)
    assert "above its sill" in alone.sentence


@pytest.mark.parametrize(
    ("kind", "words"), [("window well", "lowest point of its rim"), ("door", "its sill")]
)
def test_an_opening_without_a_height_says_what_to_measure(kind, words):
    found = judged(an_opening("O", kind, 4.0, 1.0, projection=0.5))
    assert np.isnan(found.rain_to_reach_m)
    assert np.isnan(found.freeboard_m)
    assert not found.reached
    assert words in found.sentence
    assert "Measure" in found.sentence


def test_an_opening_without_ground_beside_it_asks_for_heights():
    heights = a_box_bowl()
    heights[8:16, :10] = np.nan
    found = judged(an_opening("O", "door", 0.5, 0.9, sill=10.0), heights=heights)
    assert np.isnan(found.freeboard_m)
    assert "No ground was surveyed" in found.sentence


def test_run_on_from_off_the_lot_is_named():
    site = a_site(
        rain=0.3,
        buildings=(HOUSE,),
        openings=(an_opening("D", "door", 4.0, 0.9, sill=9.6),),
        lot=a_lot(0.0, 8.0, 24.0, 20.0),
    )
    found = scene(site, a_box_bowl(), number=only_the_pit()).openings()[0]
    assert "run-on from uphill ground off the lot (50 %)" in inflow_words(found.inflow)
