"""Standing water and low spots are told no surer than the heights; ground that cannot be is asked.

The bound is the normal distribution's: of two heights with standard deviation s the difference errs
by less than 1.96 sqrt(2) s in 19 of 20.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runoff import inspect, read_site
from runoff.foundation import Spill, needed_accuracy
from runoff.report import summary_text
from runoff.site import HeightAccuracy
from runoff.words import settle_words, spill_words, standing_sentence
from tests.lots.on_map import EAST, NORTH, site_file, tile
from tests.lots.ponds import a_lot as a_boundary
from tests.lots.ponds import a_site, scene
from tests.lots.records import a_house as a_box
from tests.lots.walls import a_house, a_lot, falling, ground, judged, on_wall

Z_95 = 1.959964 * math.sqrt(2.0)
LOT = "[lot]\ncorners = [[-60, -60], [80, -60], [80, 80], [-60, 80]]\n"


def _one(sigma, slope, depth):
    """The run along the front wall where water of one depth stands all along it."""
    site = a_lot(a_house(), accuracy=HeightAccuracy(sigma, "stated", False))
    terrain = ground(site, falling(slope))
    (run,) = on_wall(judged(site, terrain, np.full(terrain.ground.shape, depth)), "front")
    return site, run


@settings(max_examples=12, deadline=None, derandomize=True)
@given(sigma=st.floats(0.001, 0.12), share=st.floats(0.05, 3.0).filter(lambda s: abs(s - 1) > 0.01))
def test_water_holds_firmly_only_where_it_is_deeper_than_the_error(sigma, share):
    depth = max(share * Z_95 * sigma, 0.002)
    _, run = _one(sigma, 0.05 + 0.4 * sigma + 0.2, depth)
    assert run.verdict == ("holds water" if depth > Z_95 * sigma else "too close to call")


def test_ground_that_fails_for_certain_stays_failed_under_doubtful_water():
    _, run = _one(0.003, -0.02, 0.005)
    assert run.verdict == "slopes back"


def test_doubtful_water_is_said_with_what_would_settle_it():
    site, run = _one(0.1, 0.3, 0.1)
    said = settle_words(site, run)
    assert "where the water that stands there would spill" in said
    # 100 mm / (1.96 sqrt(2)) is 36 mm, 1 7/16 in rounded down to a sixteenth: 36.1 mm is 1.42 in.
    assert "each good to 1 3/8 in" in said


@pytest.mark.parametrize("off_mm", [0.5, 1, 2, 3, 5, 8, 9, 12, 20])
def test_nobody_is_sent_for_heights_better_than_a_level_gives(off_mm):
    site = a_lot(a_house(), accuracy=HeightAccuracy(0.0127, "string level", False))
    run, *_ = on_wall(judged(site, ground(site, falling(0.05 - off_mm / 3048))), "front")
    assert run.verdict == "too close to call"
    good = needed_accuracy(site, run.worst)
    assert good == 0.0 or 0.003 - 1e-6 <= good <= off_mm / 1000 / Z_95 + 1e-6
    assert ("no level is good enough" in settle_words(site, run)) == (good == 0.0)


def _bowl(depth, sigma):
    x, y = np.meshgrid(np.arange(30) + 0.5, np.arange(24) + 0.5)
    heights = 10 - depth + np.minimum(depth, depth * ((x - 15) ** 2 + (y - 8) ** 2) / 49)
    heights -= 0.02 * np.maximum(np.hypot(x - 15, y - 8) - 7, 0)
    accuracy = HeightAccuracy(sigma, "stated", False)
    house = a_box(12, 17, 18, 22)
    return scene(a_site(buildings=(house,), height_accuracy=accuracy), heights)


@pytest.mark.parametrize("sigma", [0.003, 0.03, 0.1])
@pytest.mark.parametrize("share", [0.7, 1.4])
def test_a_low_spot_shallower_than_the_error_is_in_doubt(sigma, share):
    # At least as deep as is told at all: 1 cm.
    depth = max(share * Z_95 * sigma, 0.02)
    made = _bowl(depth, sigma)
    assert made.spots, "deep enough to be told"
    assert made.spots[0].in_doubt == (made.spots[0].depth_m <= Z_95 * sigma)
    for told in made.standing():
        doubted = told.storm_depth_m <= Z_95 * sigma
        assert ("too close to call" in standing_sentence(made.site, told)) == doubted


def _noisy(folder, surface, rest="", accuracy="10 cm"):
    """A lot with a house on 1 m elevation data."""
    tile(folder / "dem.tif", (-100.0, -100.0, 120.0, 120.0), 1.0, surface)
    terrain = f'elevation = "dem.tif"\naccuracy = "{accuracy}"'
    return inspect(read_site(site_file(folder, terrain, rest=LOT + rest)))


def _level(x, y):
    """Nearly level ground, 2 % to the right, and 3 cm of noise: puddles everywhere."""
    noise = np.random.default_rng(8).normal(scale=0.03, size=np.shape(x))
    return 20 - 0.02 * (x - EAST) + noise


def test_puddles_of_noise_are_no_firm_water_at_a_wall(tmp_path):
    rough = _noisy(tmp_path, _level)
    stations = [s for run in rough.at_the_wall.runs for s in run.stations]
    assert any(station.water_m > 0.01 for station in stations), "the noise holds water at walls"
    assert not any(station.verdict == "holds water" for station in stations)
    assert all(spot.in_doubt for spot in rough.low_spots)
    assert "(?)" in summary_text(rough)


def _pit(depth, half, shape):
    def surface(x, y):
        out = np.maximum(np.abs(x - EAST - 35), np.abs(y - NORTH - 35)) / half
        part = (out < 1) * 1.0 if shape == "box" else np.maximum(1 - out**2, 0)
        return 20 + 0.01 * (x - EAST) - depth * part

    return surface


@pytest.mark.parametrize(
    ("depth", "half", "shape", "asked"),
    [
        (6.1, 32, "bowl", "Is there such a pit?"),  # 20 ft deep over an acre
        (0.8, 5, "box", "Does a building stand there that is not drawn"),
        (0.8, 5, "bowl", ""),
    ],
)
def test_ground_that_cannot_be_is_asked_about(tmp_path, depth, half, shape, asked):
    findings = _noisy(tmp_path, _pit(depth, half, shape))
    assert findings.low_spots[0].depth_m > 0.7 * depth
    questions = [text for text in findings.attention if text.startswith("Low spot 1")]
    assert [asked in text for text in questions if "?" in text] == ([True] if asked else [])


def _two_pits():
    """A deep pit and a shallow one beside it, a sill between, a higher rim round both."""
    heights = np.full((7, 11), 11.0)
    heights[0], heights[-1], heights[:, 0], heights[:, -1] = 10.9, 10.9, 10.9, 10.9
    heights[3, 2:5], heights[3, 5], heights[3, 6] = 8.0, 10.0, 9.9
    return heights


@pytest.mark.parametrize("right", [10.0, 5.0])
def test_a_pit_that_would_spill_into_a_full_one_becomes_one_with_it(right):
    lot = a_boundary(1.0, 1.0, right, 6.0)
    site = a_site(rain=0.05, buildings=(a_box(2, 5, 5, 7),), lot=lot)
    made = scene(site, _two_pits())
    deep = next(told for told in made.standing() if told.depth_m > 1)
    kind, other = ("low spot", "low spot 2") if right == 10.0 else ("dip", "")
    assert deep.spills_to == Spill(kind, other, joins=True)
    said = spill_words(deep.spills_to)
    assert said == f"{other or 'the dip beside it'} (both become one)"
    for told in made.standing():
        assert told.spills_to.name != told.low_spot
