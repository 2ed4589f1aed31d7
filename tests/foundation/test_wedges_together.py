"""Wedges of soil that meet: at corners inside and out, beside paving, between two walls."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from runoff.foundation import AGAINST_EACH_OTHER, Refusal, apply_wedges, soil_wedges
from runoff.words import soil_sentence
from tests.foundation.test_wedge import passes
from tests.lots.records import a_building
from tests.lots.walls import (
    FOOT,
    a_house,
    a_lot,
    a_slab,
    end_slope,
    ground,
    judged,
    laid,
    on_wall,
    outer_corner,
)

REACH = 10 * FOOT
HEIGHT = 0.05 * REACH
PRISM = HEIGHT * REACH / 2  # m2: soil on level ground before one wall
L_SHAPE = [(-9, -9), (9, -9), (9, 0), (0, 0), (0, 9), (-9, 9)]


def wedges_on(site, terrain, runs=None):
    dry = np.zeros(terrain.ground.shape)
    return soil_wedges(site, terrain, judged(site, terrain) if runs is None else runs, dry)


def level(x, y):
    return 100.0 + 0.0 * x


def test_soil_in_a_corner_of_the_house_is_counted_once():
    """Level ground in an L: in the 10 ft square of its corner the plane 2h - (x + y) / 20."""
    site = a_lot(a_building("house", L_SHAPE))
    terrain = ground(site, level, cell_size=0.15, half=18.0)
    wedges = wedges_on(site, terrain)
    square = HEIGHT * REACH**2  # the mean of 2h, h, h and 0 at its corners is h
    inside = square + 2 * (9 - REACH) * PRISM
    outside = (18 + 18 + 9 + 9) * PRISM
    by_wall = {wedge.run.wall: wedge for wedge in wedges}
    assert by_wall[2].height_m == pytest.approx(2 * HEIGHT, rel=0.05)
    assert passes(site, terrain, *wedges)
    added = apply_wedges(terrain, wedges).ground - terrain.ground
    x, y = terrain.grid.centers()
    before_both = (x[None, :] > 0) & (x[None, :] < 9) & (y[:, None] > 0) & (y[:, None] < 9)
    # The grid gives each of the two a few millimetres more than it lacks: 3 % of their soil.
    corner = np.nansum(added[before_both]) * terrain.grid.cell_area
    assert corner == pytest.approx(inside, rel=0.05)
    # Two columns of cells past an end lie within 0.3 m, three cells past the last station.
    corners = 5 * outer_corner(HEIGHT, 0.3)
    told = sum(w.compacted_m3 for w in wedges)
    assert told - corner == pytest.approx(outside + corners, rel=0.01)
    assert told == pytest.approx(laid(terrain, *wedges), rel=1e-9)
    # What lies before one wall alone counts for it, and the square before two for the higher.
    alone = [by_wall[wall].compacted_m3 for wall in (0, 5)]
    assert alone == pytest.approx([18 * PRISM] * 2, rel=0.06)


def test_a_cell_is_raised_by_the_most_that_is_asked():
    site = a_lot(a_building("house", L_SHAPE))
    terrain = ground(site, level, half=18.0)
    wedges = wedges_on(site, terrain)
    each = [apply_wedges(terrain, (wedge,)).ground - terrain.ground for wedge in wedges]
    together = apply_wedges(terrain, wedges)
    np.testing.assert_allclose(together.ground - terrain.ground, np.max(each, axis=0), atol=1e-12)
    np.testing.assert_array_equal(together.ground, together.surface)


def test_round_an_outer_corner_neither_wall_needs_more_than_alone():
    site = a_lot(a_house())
    terrain = ground(site, level, cell_size=0.125)
    wedges = wedges_on(site, terrain)
    assert len(wedges) == 4
    assert [w.height_m for w in wedges] == pytest.approx([HEIGHT] * 4, rel=0.01)
    corners = 4 * outer_corner(HEIGHT, 0.25)
    assert sum(w.compacted_m3 for w in wedges) == pytest.approx(42 * PRISM + corners, rel=0.01)
    assert passes(site, terrain, *wedges)


def test_walls_that_face_each_other_across_a_hollow_cannot_both_be_sloped():
    """Two houses 8 ft apart, a hollow between: each wall would need to stand above the other."""
    right, left = 4.0 + 8 * FOOT, 4.0
    site = a_lot(
        a_building("house", [(-6, -5), (left, -5), (left, 5), (-6, 5)]),
        a_building("shed", [(right, -5), (right + 6, -5), (right + 6, 5), (right, 5)]),
    )
    middle = (left + right) / 2

    def hollow(x, y):
        return 100.0 + 0.1 * np.minimum(np.abs(x - middle), 1.0) * (np.abs(x - middle) < 0.6)

    terrain = ground(site, hollow, cell_size=0.2)
    wet = np.where(np.abs(terrain.grid.centers()[0] - middle)[None, :] < 1.3, 0.01, 0.0)
    standing = wet * np.isfinite(terrain.ground)
    runs = judged(site, terrain, standing)
    facing = [
        run
        for run in runs
        if (run.building, run.wall) in (("house", 1), ("shed", 3)) and run.verdict == "holds water"
    ]
    assert {run.building for run in facing} == {"house", "shed"}
    wedges = soil_wedges(site, terrain, facing, standing)
    assert {w.refused for w in wedges} == {AGAINST_EACH_OTHER}
    assert all(w.compacted_m3 == 0 and "swale or a drain" in soil_sentence(site, w) for w in wedges)


def test_runs_of_unlike_reach_are_made_to_pass_together():
    """A wall 8 ft from another house, and walls with all their 10 ft."""
    site = a_lot(
        a_building("house", [(-6, -5), (4, -5), (4, 5), (-6, 5)]),
        a_building("shed", [(4 + 8 * FOOT, -5), (10, -5), (10, 5), (4 + 8 * FOOT, 5)]),
    )
    terrain = ground(site, lambda x, y: 100.0 + 0.02 * x)
    wedges = wedges_on(site, terrain)
    reaches = {round(s.reach_m / FOOT) for wedge in wedges for s in wedge.run.stations}
    assert reaches == {8, 10}
    placed = [w for w in wedges if not w.refused]
    assert {(w.run.building, w.run.wall) for w in placed} >= {("house", 0), ("house", 1)}
    assert passes(site, terrain, *placed)


def test_a_drive_keeps_the_soil_from_its_own_stretch_only():
    drive = a_slab("drive", [(-1.5, -4.5), (1.5, -4.5), (1.5, -14), (-1.5, -14)])
    site = a_lot(a_house(), paving=(drive,))
    terrain = ground(site, lambda x, y: 100.0 + 0.02 * (y + 4.5))
    runs = on_wall(judged(site, terrain), "front")
    flat = [run for run in runs if run.verdict == "too flat"]
    # The drive falls 2 %, which is what paving is asked for: only the soil beside it is too flat.
    assert len(flat) == 2
    back = ground(site, lambda x, y: 100.0 - 0.02 * (y + 4.5))
    runs = on_wall(judged(site, back), "front")
    assert [run.verdict for run in runs] == ["slopes back"]
    wedges = wedges_on(site, back, runs)
    assert [bool(w.refused) for w in wedges] == [False, True, False]
    assert wedges[1].refused == Refusal("buries paving", "the drive", of="drive")
    ends = [(w.run.start_m, w.run.end_m) for w in wedges]
    assert [end for _, end in ends[:-1]] == pytest.approx([start for start, _ in ends[1:]])
    assert (ends[0][0], ends[-1][1]) == pytest.approx((0.0, 12.0))
    # The drive takes 3 m from 4.5 m on, with a cell of 0.3 m beside it half of whose soil would lie
    # on it, and the soil runs on for three cells.
    assert ends[1] == pytest.approx((4.5 - 1.2, 7.5 + 1.2), abs=0.3)
    placed = [w for w in wedges if not w.refused]
    assert passes(site, back, *placed)
    slope = 0.07 * REACH * REACH / 2
    length = sum(w.run.end_m - w.run.start_m for w in placed)
    # Four ends, 7 % of height on a wall that leans back 2 %; each takes in two or three cells.
    few, many = (4 * end_slope(0.07 * REACH, past) * 0.05 / 0.07 for past in (0.6, 0.9))
    told = sum(w.compacted_m3 for w in placed)
    # The few millimetres that cells take off the toe, 5 at most, over half the reach.
    lifted = 0.005 * length * REACH / 2
    assert slope * length + few - 0.1 < told < slope * length + many + 0.1 + lifted
    assert told == pytest.approx(laid(back, *placed), rel=1e-9)


def test_a_run_is_not_split_where_nothing_lies_in_the_way():
    site = a_lot(a_house())
    terrain = ground(site, level)
    (rear,) = on_wall(judged(site, terrain), "rear")
    (wedge,) = wedges_on(site, terrain, [rear])
    assert wedge.run == rear


def test_only_the_stretches_that_face_each_other_conflict():
    """Ground falls 2 % from the shed to the house, 13 ft apart: the planes of the two walls cross.

    Each by itself can be made right. Of both, the rear wall of the house has no soil where the
    shed stands before it and beside that; to its ends, and round the shed, it has.
    """
    house = a_building("house", [(-9, -9), (9, -9), (9, 0), (-9, 0)])
    shed = a_building("shed", [(-2, 4), (2, 4), (2, 8), (-2, 8)])
    both = a_lot(house, shed)
    terrain = ground(both, lambda x, y: 100.0 + 0.02 * y, cell_size=0.2)
    runs = judged(both, terrain)
    for name in ("house", "shed"):
        alone = wedges_on(both, terrain, [run for run in runs if run.building == name])
        assert not any(wedge.refused for wedge in alone)
    wedges = wedges_on(both, terrain, runs)
    refused = {(w.run.building, w.run.wall) for w in wedges if w.refused}
    assert refused == {("house", 2), ("shed", 0)}
    assert {w.refused for w in wedges if w.refused} == {AGAINST_EACH_OTHER}
    (between,) = [w.run for w in wedges if w.refused and w.run.building == "house"]
    # The rear wall runs from x = 9 to x = -9.
    assert between.start_m == pytest.approx(7.0 - 0.6, abs=0.6)
    assert between.end_m == pytest.approx(11.0 + 0.6, abs=0.6)
    placed = [w for w in wedges if not w.refused]
    assert {("house", 1), ("house", 2), ("shed", 1), ("shed", 2), ("shed", 3)} <= {
        (w.run.building, w.run.wall) for w in placed
    }
    assert passes(both, terrain, *placed)


@pytest.mark.parametrize("seed", range(4))
def test_on_rough_ground_too_the_soil_told_is_the_soil_laid(seed):
    rng = np.random.default_rng(seed)
    site = a_lot(a_building("house", L_SHAPE))
    bumps = 0.25 * gaussian_filter(rng.normal(size=(120, 120)), 4)
    terrain = ground(site, lambda x, y: 100.0 + 0.02 * x + bumps, half=18.0)
    wedges = wedges_on(site, terrain)
    assert sum(w.compacted_m3 for w in wedges) == pytest.approx(laid(terrain, *wedges), rel=1e-9)
    for wedge in wedges:
        assert 0 <= wedge.compacted_m3 <= laid(terrain, wedge) * (1 + 1e-9)
