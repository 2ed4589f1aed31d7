"""The ground from spot heights against surfaces known in closed form."""

from __future__ import annotations

import numpy as np

from runoff.terrain import build_terrain
from tests.lots.records import (
    a_box,
    a_break_line,
    a_plane,
    a_site,
    expected_heights,
    grid_positions,
    spots_at,
)


def test_a_plane_is_exact_between_scattered_shots():
    scattered = np.random.default_rng(3).uniform(0, 30, (80, 2))
    terrain = build_terrain(a_site(spot_heights=spots_at(scattered, a_plane)))
    known = np.isfinite(terrain.ground)
    assert known.mean() > 0.7
    off = terrain.ground - expected_heights(terrain, a_plane)
    assert np.abs(off[known]).max() < 1e-10


def test_a_plane_is_exact_up_to_the_walls_of_a_house():
    around = grid_positions(24, 20, 2.0)
    house = a_box("house", 7.3, 6.1, 17.9, 13.2)
    terrain = build_terrain(a_site(spot_heights=spots_at(around, a_plane), buildings=(house,)))
    open_ground = np.isfinite(terrain.ground)
    off = terrain.ground - expected_heights(terrain, a_plane)
    assert np.abs(off[open_ground]).max() < 1e-10
    beside = ~terrain.closed
    beside[:2], beside[-2:], beside[:, :2], beside[:, -2:] = False, False, False, False
    assert open_ground[beside].all()


def a_swale(x, y):
    """Two planes that meet in a bottom along x = 10, which falls 1 % down the plan."""
    return 99.0 + 0.04 * np.abs(x - 10.0) + 0.01 * y


def swale_shots():
    """Shots on the flanks, none in the bottom but its two ends."""
    flanks = grid_positions(20, 24, 4.0)
    flanks[:, 0] += np.random.default_rng(5).uniform(-0.8, 0.8, len(flanks))
    return np.concatenate([flanks, [(10, 0), (10, 24)]])


def test_a_swale_along_a_break_line_is_exact_on_both_planes():
    swale = a_break_line("swale", [(10, 0), (10, 24)], [99.0, 99.24])
    terrain = build_terrain(
        a_site(spot_heights=spots_at(swale_shots(), a_swale), break_lines=(swale,))
    )
    off = np.abs(terrain.ground - expected_heights(terrain, a_swale))
    assert np.isfinite(off).mean() > 0.8
    assert np.nanmax(off) < 1e-10


def test_without_its_break_line_the_swale_is_inches_wrong():
    terrain = build_terrain(a_site(spot_heights=spots_at(swale_shots(), a_swale)))
    off = np.abs(terrain.ground - expected_heights(terrain, a_swale))
    assert np.nanmax(off) > 0.05
