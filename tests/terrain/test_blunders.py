"""Survey blunders: named among 80 shots of invented lots, and not seen where there are none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from runoff.terrain import build_terrain
from runoff.terrain.spots import spot_ground
from tests.terrain.invented_surveys import FOOT, SHOTS, a_smooth_lot, with_a_foot_error
from tests.terrain.lots import (
    a_break_line,
    a_plane,
    a_site,
    grid_positions,
    spots_at,
)


def test_a_foot_error_is_named_in_95_of_100_lots_with_one_false_alarm_at_most():
    named = 0
    for seed in range(100):
        site, wrong = with_a_foot_error(a_smooth_lot(seed), seed)
        assert len(site.spot_heights) == SHOTS
        suspects = [suspect.name for suspect in spot_ground(site).suspects]
        named += wrong in suspects
        assert len([name for name in suspects if name != wrong]) <= 1, seed
    assert named >= 95


def test_the_reason_says_how_far_off_and_in_which_unit():
    shots = list(spots_at(grid_positions(24, 18, 3.0), a_plane))
    shots[30] = replace(shots[30], z=shots[30].z + FOOT)
    (suspect,) = build_terrain(a_site(spot_heights=tuple(shots))).suspects
    assert suspect.name == "S31"
    assert np.isclose(suspect.misfit, FOOT, atol=1e-6)
    assert suspect.reason == "stands 1 ft above what its neighbors say: a foot misread?"
    (metric,) = build_terrain(a_site(spot_heights=tuple(shots), units="m")).suspects
    assert metric.reason == "stands 0.30 m above what its neighbors say: a foot misread?"


def test_a_wrong_shot_is_named_but_not_dropped():
    shots = list(spots_at(grid_positions(24, 18, 3.0), a_plane))
    wrong = replace(shots[30], z=shots[30].z - FOOT)
    shots[30] = wrong
    terrain = build_terrain(a_site(spot_heights=tuple(shots)))
    row, col = terrain.grid.cell(wrong.x, wrong.y)
    assert abs(terrain.ground[row, col] - wrong.z) < 0.05


def test_a_point_entered_twice_with_two_heights_is_named_and_averaged():
    shots = spots_at(grid_positions(24, 18, 3.0), a_plane)
    again = replace(shots[30], name="again", z=shots[30].z + 0.05)
    terrain = build_terrain(a_site(spot_heights=(*shots, again)))
    (suspect,) = terrain.suspects
    assert suspect.name == "again"
    assert "S31" in suspect.reason
    assert suspect.predicted == shots[30].z


def test_a_point_entered_twice_alike_is_no_suspect():
    shots = spots_at(grid_positions(24, 18, 3.0), a_plane)
    terrain = build_terrain(a_site(spot_heights=(*shots, replace(shots[30], name="again"))))
    assert terrain.suspects == ()


def a_lot_with_curb_and_wall(seed):
    """Three levels: street below a 6 in curb, a yard, a terrace behind a 3 ft wall."""
    rng = np.random.default_rng(seed)
    fall = rng.uniform(0.01, 0.04)

    def level(x, y):
        return a_plane(x, y) + fall * x - 0.15 * (y < 4.0) + 0.9 * (y > 16.0)

    positions = grid_positions(27, 21, 3.0) + rng.uniform(-0.9, 0.9, (80, 2))
    positions = positions[np.abs(positions[:, 1] - 4) > 0.2]
    positions = positions[np.abs(positions[:, 1] - 16) > 0.2]
    curb = [(-1.0, 4.0), (9.0, 4.0), (28.0, 4.0)]
    wall = [(-1.0, 16.0), (13.0, 16.0), (28.0, 16.0)]
    tops = [float(level(x, y)) for x, y in curb]
    feet = [float(level(x, y)) for x, y in wall]
    lines = (
        a_break_line("curb", curb, tops, [z - 0.15 for z in tops], "right"),
        a_break_line("wall", wall, [z + 0.9 for z in feet], feet, "right"),
    )
    shots = [replace(s, z=s.z + float(rng.normal(0, 0.006))) for s in spots_at(positions, level)]
    return a_site(spot_heights=tuple(shots), break_lines=lines)


def test_curbs_and_walls_given_as_break_lines_raise_no_suspicion():
    for seed in range(10):
        assert spot_ground(a_lot_with_curb_and_wall(seed)).suspects == ()


def test_without_its_break_lines_a_wall_looks_like_blunders():
    site = replace(a_lot_with_curb_and_wall(0), break_lines=())
    assert len(spot_ground(site).suspects) >= 1
