"""The comparison with the second engine: silent where both agree, loud where they do not."""

import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runoff.flow import basins_of, compare_engines, measure, second_engine
from runoff.words import engines_note
from tests.flow.terrains import courtyard, grounds, hilly, scattered, terraced


@pytest.mark.parametrize("make", [hilly, terraced])
@pytest.mark.parametrize("share", [0.0, 0.1])
def test_engines_agree_and_hold_what_the_hierarchy_holds(make, share):
    z = make(3)
    closed = scattered(3, z.shape, share)
    told = compare_engines(z, closed, 0.25)
    assert told.agrees is True
    assert told.greatest_difference_m == 0.0
    found = measure(basins_of(z, closed))
    outermost = found.hierarchy.parent == 0
    assert told.our_volume_m3 == pytest.approx(found.capacity[outermost].sum() * 0.25, rel=1e-9)
    assert told.their_volume_m3 == pytest.approx(told.our_volume_m3, rel=1e-12)
    assert told.our_volume_m3 > 0.0


@settings(max_examples=80, deadline=None)
@given(grounds())
def test_engines_agree_with_walls_and_holes(ground):
    told = compare_engines(*ground, 1.0)
    assert told.greatest_difference_m == 0.0
    assert told.agrees in (True, None)
    assert told.their_volume_m3 == pytest.approx(told.our_volume_m3, abs=1e-9)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(grounds(), st.integers(0, 2**32 - 1), st.sampled_from([0.01, 0.1, 1.0]))
def test_engines_leave_the_same_water_standing(ground, seed, most):
    water = most * np.random.default_rng(seed).random(ground[0].shape)
    told = compare_engines(*ground, 1.0, water)
    assert told.agrees in (True, None)
    assert told.depth_difference_m <= 1e-8


@pytest.mark.parametrize("make", [hilly, terraced])
@pytest.mark.parametrize("share", [0.0, 0.1])
def test_water_is_compared_on_terrains_with_many_pools(make, share):
    z = make(7)
    closed = scattered(5, z.shape, share)
    told = compare_engines(z, closed, 0.25, np.full(z.shape, 0.02))
    assert told.agrees is True
    assert told.depth_difference_m <= 1e-8
    assert told.standing_m3 > 0.0


def test_other_water_in_one_engine_is_called_a_defect(monkeypatch):
    right = second_engine._richdem_pond

    def wrong(heights, outside, water):
        depth, depressions = right(heights, outside, water)
        return depth * 1.001, depressions

    monkeypatch.setattr(second_engine, "_richdem_pond", wrong)
    z = hilly(1)
    told = compare_engines(z, np.zeros(z.shape, bool), 1.0, np.full(z.shape, 0.02))
    assert told.agrees is False
    assert told.depth_difference_m > 1e-5
    assert engines_note(told).startswith("DEFECT: the two engines leave")


def test_a_terminal_basin_is_left_out():
    z, closed, _ = courtyard()
    told = compare_engines(z, closed, 1.0)
    assert told.agrees is True
    assert told.our_volume_m3 == told.their_volume_m3 == 0.0


def test_ground_outside_the_survey_is_open_for_both():
    z = np.full((7, 9), 3.0)
    z[:, 6:] = np.nan  # outside: reaches the grid's border
    z[3, 3] = 1.0
    z[3, 4:6] = 2.0
    told = compare_engines(z, np.zeros(z.shape, bool), 1.0)
    assert told.agrees is True
    assert told.our_volume_m3 == 1.0


def test_nothing_is_printed(capfd):
    compare_engines(hilly(1), np.zeros((60, 70), bool), 1.0, np.full((60, 70), 0.02))
    assert capfd.readouterr() == ("", "")


def test_a_difference_is_called_a_defect(monkeypatch):
    right = second_engine._richdem_fill
    monkeypatch.setattr(second_engine, "_richdem_fill", lambda z: right(z) + 0.001 * (z < 0.5))
    told = compare_engines(hilly(1), np.zeros((60, 70), bool), 1.0)
    assert told.agrees is False
    assert told.greatest_difference_m == pytest.approx(0.001)
    assert engines_note(told).startswith("DEFECT")


def test_without_richdem_it_says_so(monkeypatch):
    monkeypatch.setitem(sys.modules, "richdem", None)
    z = hilly(1)
    told = compare_engines(z, np.zeros(z.shape, bool), 1.0)
    assert told.agrees is None
    assert told.our_volume_m3 > 0.0
    assert "not installed" in engines_note(told)


def test_no_ground_is_no_comparison():
    assert compare_engines(np.full((3, 3), np.nan), np.zeros((3, 3), bool), 1.0).agrees is None


def test_a_second_engine_that_never_ends_is_left(monkeypatch):
    """Its native code cannot be stopped from within: a process of its own is ended instead."""
    import time

    from runoff.flow import second_engine

    def endless(*_):
        while True:
            time.sleep(0.1)

    monkeypatch.setattr(second_engine, "_richdem_pond", endless)
    monkeypatch.setattr(second_engine, "_PATIENCE_S", 0.2)
    bowl = np.full((3, 3), 2.0)
    bowl[1, 1] = 0.0
    began = time.monotonic()
    found = compare_engines(bowl, bowl < 0, 0.25, np.full((3, 3), 0.1))
    assert time.monotonic() - began < 5.0
    assert found.agrees
    assert "came to no end" in engines_note(found)
