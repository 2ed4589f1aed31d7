"""Steps, crossings, and break lines that meet a building."""

from __future__ import annotations

import numpy as np
import pytest

from runoff.site import InputError
from runoff.terrain import build_terrain
from runoff.terrain.break_lines import STEP_WIDTH
from tests.lots.records import (
    a_box,
    a_break_line,
    a_plane,
    a_site,
    expected_heights,
    grid_positions,
    spots_at,
)
from tests.told import told

CURB = 0.15
ALONG, ACROSS = 0.03, 0.02
"""Slopes of the plane: a foot, STEP_WIDTH aside, may be off by what the ground falls in that."""


def a_curb_lot(side):
    """A plane with everything beyond y = 9 a curb higher, or lower."""
    sign = 1.0 if side == "right" else -1.0

    def surface(x, y):
        return a_plane(x, y) + sign * CURB * (y > 9.0)

    shots = grid_positions(24, 18, 3.0)
    shots = shots[np.abs(shots[:, 1] - 9.0) > 0.1]
    ends = [(0.0, 9.0), (24.0, 9.0)]
    high = [a_plane(x, y) + max(sign, 0.0) * CURB for x, y in ends]
    curb = a_break_line("curb", ends, high, [z - CURB for z in high], side)
    return a_site(spot_heights=spots_at(shots, surface), break_lines=(curb,)), surface


@pytest.mark.parametrize("side", ["right", "left"])
def test_a_step_is_exact_on_both_sides(side):
    site, surface = a_curb_lot(side)
    terrain = build_terrain(site)
    x, y = terrain.grid.centers()
    off = np.abs(terrain.ground - expected_heights(terrain, surface))
    off[np.abs(y - 9.0) < 0.05] = np.nan
    inner = (x > 0.2) & (x < 23.8)
    assert np.isfinite(terrain.ground[2:-2, 2:-2]).all()
    assert np.nanmax(off[:, inner]) < ACROSS * STEP_WIDTH


def test_crossing_break_lines_are_refused_by_name():
    shots = spots_at(grid_positions(12, 12, 3.0), a_plane)
    lines = (
        a_break_line("ridge", [(1, 1), (10, 10)], [99, 99]),
        a_break_line("swale", [(1, 10), (10, 1)], [98, 98]),
    )
    with pytest.raises(InputError, match=r"'swale'.*cross.*'ridge'"):
        build_terrain(a_site(spot_heights=shots, break_lines=lines))


def test_a_break_line_that_crosses_itself_is_refused_by_name():
    shots = spots_at(grid_positions(12, 12, 3.0), a_plane)
    knot = a_break_line("knot", [(1, 1), (10, 10), (10, 1), (1, 10)], [99, 99, 99, 99])
    with pytest.raises(InputError, match="'knot'"):
        build_terrain(a_site(spot_heights=shots, break_lines=(knot,)))


def test_a_break_line_to_a_point_far_off_is_refused_by_name():
    """A slip in a coordinate must not lay a hundred million points along the line."""
    shots = spots_at(grid_positions(12, 12, 3.0), a_plane)
    astray = a_break_line("astray", [(1, 1), (10, 3e8)], [99, 99])
    with pytest.raises(InputError, match=r"'astray'.*far off"):
        build_terrain(a_site(spot_heights=shots, break_lines=(astray,)))


@pytest.mark.parametrize("foot", [None, [98.5, 98.5]])
def test_a_break_line_without_length_is_refused_by_name(foot):
    """Two shots at one place: a line from the one to the other goes nowhere."""
    shots = spots_at([(0, 0), (12, 0), (12, 12), (0, 12)], a_plane)
    side = None if foot is None else "left"
    point = a_break_line("point", [(4, 4), (4, 4)], [99, 99], foot, side)
    with pytest.raises(InputError, match="all of its points lie at one place"):
        build_terrain(a_site(spot_heights=shots, break_lines=(point,)))


def test_break_lines_may_meet_at_a_shared_point():
    shots = spots_at(grid_positions(12, 12, 3.0), a_plane)

    def along(*places):
        return [a_plane(x, y) for x, y in places]

    middle = (6.0, 6.0)
    lines = (
        a_break_line("one", [(1, 1), middle, (11, 11)], along((1, 1), middle, (11, 11))),
        a_break_line("other", [(1, 11), middle, (11, 1)], along((1, 11), middle, (11, 1))),
        a_break_line("branch", [(3, 3), (1, 9)], along((3, 3), (1, 9))),
    )
    terrain = build_terrain(a_site(spot_heights=shots, break_lines=lines))
    off = terrain.ground - expected_heights(terrain, a_plane)
    assert np.isfinite(off).mean() > 0.8
    assert np.nanmax(np.abs(off)) < 1e-9


def test_steps_that_turn_a_corner_and_close_are_no_crossing():
    shots = grid_positions(12, 12, 3.0)
    inside = (np.abs(shots - 6.0) < 2.5).all(axis=1)
    bed = [(3.5, 3.5), (8.5, 3.5), (8.5, 8.5), (3.5, 8.5), (3.5, 3.5)]

    def surface(x, y):
        raised = (np.abs(x - 6.0) < 2.5) & (np.abs(y - 6.0) < 2.5)
        return a_plane(x, y) + 0.4 * raised

    feet = [a_plane(x, y) for x, y in bed]
    wall = a_break_line("bed", bed, [z + 0.4 for z in feet], feet, "right")
    site = a_site(spot_heights=spots_at(shots, surface), break_lines=(wall,))
    terrain = build_terrain(site)
    assert inside.sum() > 0
    x, y = terrain.grid.centers()
    away = np.abs(np.maximum(np.abs(x[None] - 6.0), np.abs(y[:, None] - 6.0)) - 2.5) > 0.1
    off = np.abs(terrain.ground - expected_heights(terrain, surface))
    assert np.nanmax(off[away]) < (ALONG + ACROSS) * STEP_WIDTH


def test_a_break_line_through_a_building_is_cut_and_said():
    shots = spots_at(grid_positions(24, 18, 3.0), a_plane)
    ends = [(0.5, 8.2), (23.5, 8.2)]
    line = a_break_line("swale", ends, [a_plane(x, y) for x, y in ends])
    house = a_box("house", 8.3, 5.2, 15.7, 12.5)
    terrain = build_terrain(a_site(spot_heights=shots, break_lines=(line,), buildings=(house,)))
    assert any("'swale'" in notice for notice in told(terrain))
    assert np.nanmax(np.abs(terrain.ground - expected_heights(terrain, a_plane))) < 1e-9
