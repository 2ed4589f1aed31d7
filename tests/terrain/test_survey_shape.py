"""Where there is ground and where there is none: odd surveys and buildings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import ndimage

from runoff.site import InputError
from runoff.terrain import build_terrain
from tests.lots.records import (
    a_barrier,
    a_box,
    a_building,
    a_drain,
    a_lot,
    a_plane,
    a_site,
    expected_heights,
    grid_positions,
    spots_at,
)
from tests.told import told


def ground_at(terrain, x, y):
    """Height of the cell at a plan position."""
    return terrain.ground[terrain.grid.cell(x, y)]


REACH = 13.716
"""How far apart heights may stand, metres: 45 ft, `survey_reach`."""


def an_l_shaped_survey():
    """Shots 3 m apart on an L, 30 m long with arms 12 m wide."""
    shots = grid_positions(30, 30, 3.0)
    return spots_at(shots[(shots[:, 0] <= 12) | (shots[:, 1] <= 12)], a_plane)


def test_an_l_shaped_lot_has_no_ground_in_its_notch():
    lot = a_lot([(0, 0), (30, 0), (30, 12), (12, 12), (12, 30), (0, 30)])
    terrain = build_terrain(a_site(spot_heights=an_l_shaped_survey(), lot=lot))
    assert np.isnan(ground_at(terrain, 22.0, 22.0))
    assert np.isnan(ground_at(terrain, 13.0, 13.0))
    surveyed = np.isfinite(terrain.ground).sum() * terrain.grid.cell_area
    assert surveyed == pytest.approx(30 * 30 - 18 * 18, abs=10)


def test_an_l_shaped_survey_of_no_lot_bridges_its_notch_no_farther_than_sparse_shots_may():
    """Shots at the L's corners and 45 ft along it would tell that much of the notch: so must more.

    The chord between two shots on the arms, each within reach of a shot on one arm at distance t
    from the bend, passes the bend on the diagonal at p q / (p + q), p = t + reach,
    q = sqrt(reach^2 - t^2).
    """
    terrain = build_terrain(a_site(spot_heights=an_l_shaped_survey()))
    t = np.linspace(0, REACH, 1000)
    p, q = t + REACH, np.sqrt(REACH**2 - t**2)
    deepest = 12.0 + float((p * q / (p + q)).max())
    assert np.isnan(ground_at(terrain, deepest + 0.3, deepest + 0.3))
    assert np.isfinite(ground_at(terrain, 17.0, 17.0))


def test_a_hole_in_the_survey_has_no_ground():
    shots = grid_positions(45, 45, 3.0)
    shots = shots[(np.abs(shots - 22.5) > 14).any(axis=1)]
    terrain = build_terrain(a_site(spot_heights=spots_at(shots, a_plane)))
    assert np.isnan(ground_at(terrain, 22.5, 22.5))
    holes, count = ndimage.label(np.isnan(terrain.ground))
    assert count == 2
    bridged_at_most = 4 * REACH**2 / 2 * 1.5
    hole = (holes == 2).sum() * terrain.grid.cell_area
    assert 30.0**2 - bridged_at_most < hole < 30.0**2


def test_one_far_shot_does_not_vouch_for_the_ground_between():
    shots = np.vstack([grid_positions(15, 15, 3.0), [(60.0, 7.0)]])
    terrain = build_terrain(a_site(spot_heights=spots_at(shots, a_plane)))
    assert np.isnan(ground_at(terrain, 35.0, 7.5))
    assert np.isfinite(ground_at(terrain, 7.0, 7.0))
    assert any("'S37'" in notice for notice in told(terrain))


def test_a_courtyard_without_shots_is_open_ground_of_unknown_height():
    shots = spots_at(grid_positions(30, 30, 3.0), a_plane)
    house = a_building(
        "court",
        [(6.5, 6.5), (23.5, 6.5), (23.5, 23.5), (6.5, 23.5)],
        [[(11, 11), (19, 11), (19, 19), (11, 19)]],
    )
    without = [s for s in shots if not (6.5 < s.x < 23.5 and 6.5 < s.y < 23.5)]
    terrain = build_terrain(a_site(spot_heights=tuple(without), buildings=(house,)))
    court = terrain.grid.cell(15.0, 15.0)
    assert not terrain.closed[court]
    assert np.isnan(terrain.ground[court])
    surveyed = build_terrain(a_site(spot_heights=shots, buildings=(house,)))
    assert surveyed.ground[court] == pytest.approx(a_plane(15.0, 15.0), abs=0.02)
    assert surveyed.closed[surveyed.grid.cell(9.0, 9.0)]


def test_the_unsurveyed_back_of_a_house_has_no_ground():
    """Shots from the street to 5 ft from the front wall; the wall itself is reached.

    Along the side walls the ground is told 20 ft beyond the last row, as it is where rows are far
    apart, and no farther.
    """
    house = a_box("house", 6, 10, 18, 20)
    front = grid_positions(24, 8.5, 2.125)
    terrain = build_terrain(a_site(spot_heights=spots_at(front, a_plane), buildings=(house,)))
    assert ground_at(terrain, 12.0, 9.8) == pytest.approx(
        expected_heights(terrain, a_plane)[terrain.grid.cell(12.0, 9.8)], abs=1e-9
    )
    assert np.isnan(ground_at(terrain, 4.0, 15.0))
    _, y = terrain.grid.centers()
    assert not np.isfinite(terrain.ground[y > 8.5 + 20 * 0.3048 + 0.1]).any()


def test_a_passage_between_houses_falls_evenly_from_end_to_end():
    """No shot in it and none in view from its middle; its ends are 0.175 m apart in height."""
    houses = (a_box("west", 5, 7, 14.8, 14), a_box("east", 15.2, 7, 25, 14))

    def along(x, y):
        return 100.0 + 0.025 * y + 0 * x

    shots = grid_positions(30, 24, 3.0)
    shots = shots[(shots[:, 0] < 5) | (shots[:, 0] > 25) | (shots[:, 1] < 7) | (shots[:, 1] > 14)]
    terrain = build_terrain(a_site(spot_heights=spots_at(shots, along), buildings=houses))
    off = terrain.ground - expected_heights(terrain, along)
    row, col = terrain.grid.cell(15.0, 10.5)
    assert np.isfinite(off[row, col])
    assert np.nanmax(np.abs(off)) < 0.02


def test_a_building_that_fills_the_lot_leaves_only_closed_cells_inside():
    shots = spots_at(grid_positions(12, 12, 3.0), a_plane)
    rim = [s for s in shots if s.x in (0, 12) or s.y in (0, 12)]
    terrain = build_terrain(
        a_site(spot_heights=tuple(rim), buildings=(a_box("all", 0.1, 0.1, 11.9, 11.9),))
    )
    assert terrain.closed[terrain.grid.cell(6, 6)]
    assert not np.isfinite(terrain.ground[terrain.closed]).any()


@pytest.mark.parametrize("turn", [0.0, 30.0, 45.0])
def test_a_gap_of_a_foot_between_buildings_stays_open(turn):
    cos, sin = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    gap = 0.3048

    def turned(left, bottom, right, top):
        box = np.array([(left, bottom), (right, bottom), (right, top), (left, top)])
        return (box @ np.array([[cos, sin], [-sin, cos]]) + 15.0).tolist()

    houses = (
        a_building("west", turned(-7, -4, -gap / 2, 4)),
        a_building("east", turned(gap / 2, -4, 7, 4)),
    )
    shots = spots_at(grid_positions(30, 30, 3.0), a_plane)
    shots = tuple(s for s in shots if abs(s.x - 15) > 7 or abs(s.y - 15) > 7)
    terrain = build_terrain(a_site(spot_heights=shots, buildings=houses))
    assert terrain.grid.cell_size <= gap / 2
    for along in np.arange(-3.5, 3.5, terrain.grid.cell_size / 2):
        across = np.linspace(-gap / 2, gap / 2, 60)
        x = 15 + across * cos - along * sin
        y = 15 + across * sin + along * cos
        cells = {terrain.grid.cell(px, py) for px, py in zip(x, y, strict=True)}
        assert sum(not terrain.closed[cell] for cell in cells) >= 2
    open_cells = ndimage.label(~terrain.closed)[0]
    ends = [terrain.grid.cell(15 - s * 4.5 * sin, 15 + s * 4.5 * cos) for s in (-1, 1)]
    lane = open_cells.copy()
    x, y = terrain.grid.centers()
    away = (x[None] - 15) * cos + (y[:, None] - 15) * sin
    lane[np.abs(away) > 0.4] = 0
    parts = ndimage.label(lane > 0)[0]
    assert parts[ends[0]] == parts[ends[1]] > 0


def test_a_wall_thinner_than_a_cell_lets_nothing_through():
    thin = a_building("screen", [(4, 4.0), (14, 14.0), (14.05, 13.95), (4.05, 3.95)])
    shots = spots_at(grid_positions(18, 18, 3.0), a_plane)
    terrain = build_terrain(a_site(spot_heights=shots, buildings=(thin,), cell_size=0.3))
    reach = np.zeros_like(terrain.closed)
    row, col = terrain.grid.cell(9.0, 9.0)
    reach[row - 8 : row + 9, col - 8 : col + 9] = True
    parts = ndimage.label(reach & ~terrain.closed, structure=np.ones((3, 3)))[0]
    assert parts.max() == 2


def test_a_diagonal_barrier_lets_nothing_through_a_corner():
    shots = spots_at(grid_positions(18, 18, 3.0), a_plane)
    edging = a_barrier("edging", [(3.3, 2.9), (15.1, 14.2)], 0.1)
    terrain = build_terrain(a_site(spot_heights=shots, barriers=(edging,)))
    raised = terrain.surface - terrain.ground
    assert np.unique(raised[np.isfinite(raised)]).round(12).tolist() == [0.0, 0.1]
    dammed = raised > 0.05
    row, col = terrain.grid.cell(9.0, 8.5)
    window = np.zeros_like(dammed)
    window[row - 8 : row + 9, col - 8 : col + 9] = True
    assert ndimage.label(window & ~dammed, structure=np.ones((3, 3)))[1] == 2


def test_a_drain_is_put_on_open_ground_and_refused_outside():
    shots = spots_at(grid_positions(18, 18, 3.0), a_plane)
    drains = (a_drain("culvert", (3.1, 3.1), (9.1, 9.1)), a_drain("inlet", (12, 3)))
    terrain = build_terrain(a_site(spot_heights=shots, drains=drains))
    assert terrain.drains[0].inlet == terrain.grid.cell(3.1, 3.1)
    assert terrain.drains[0].outlet == terrain.grid.cell(9.1, 9.1)
    assert terrain.drains[1].outlet is None
    with pytest.raises(InputError, match=r"drain 'far' inlet.*outside the survey"):
        build_terrain(a_site(spot_heights=shots, drains=(a_drain("far", (40, 3)),)))
    house = a_box("house", 5, 5, 13, 13)
    with pytest.raises(InputError, match=r"drain 'in' inlet.*inside a building"):
        build_terrain(
            a_site(spot_heights=shots, drains=(a_drain("in", (9, 9)),), buildings=(house,))
        )


def test_too_few_shots_and_shots_on_one_line_are_refused():
    for positions in ([], [(0, 0)], [(0, 0), (3, 3)], [(0, 0), (3, 3), (0, 0.001)]):
        with pytest.raises(InputError, match="heights"):
            build_terrain(a_site(spot_heights=spots_at(positions, a_plane)))
    with pytest.raises(InputError, match="one line"):
        build_terrain(a_site(spot_heights=spots_at([(k, 2 * k) for k in range(9)], a_plane)))


def test_three_shots_make_one_triangle():
    terrain = build_terrain(a_site(spot_heights=spots_at([(0, 0), (3, 0), (0, 4)], a_plane)))
    area = np.isfinite(terrain.ground).sum() * terrain.grid.cell_area
    assert area == pytest.approx(6.0, rel=0.1)


def test_shots_inside_a_building_are_left_out_and_named():
    shots = spots_at(grid_positions(18, 18, 3.0), a_plane)
    floor = replace(shots[0], name="floor", x=9.5, y=9.5, z=105.0)
    house = a_box("house", 7, 7, 11, 11)
    terrain = build_terrain(a_site(spot_heights=(*shots, floor), buildings=(house,)))
    assert any("'floor'" in notice for notice in told(terrain))
    assert np.nanmax(np.abs(terrain.ground - expected_heights(terrain, a_plane))) < 1e-9


def test_a_low_shot_at_the_middle_of_a_wall_keeps_the_ground_low_there():
    """Not the line between the wall's corners: water that stands at a wall must be seen."""
    low = np.array([(9.0, 6.85)])
    shots = (
        *spots_at(grid_positions(18, 18, 3.0), lambda x, y: 100.0),
        replace(spots_at(low, lambda x, y: 99.8)[0], name="low"),
    )
    house = a_box("house", 5, 7, 13, 13)
    terrain = build_terrain(a_site(spot_heights=shots, buildings=(house,), cell_size=0.1))
    assert ground_at(terrain, 9.0, 6.93) < 99.85


def test_too_many_cells_say_which_cell_size_fits():
    shots = spots_at(grid_positions(300, 300, 30.0), a_plane)
    with pytest.raises(InputError, match=r"at least 0\.\d\d m"):
        build_terrain(a_site(spot_heights=shots, cell_size=0.05))


def test_a_site_without_heights_is_refused():
    with pytest.raises(InputError, match="heights"):
        build_terrain(a_site())
