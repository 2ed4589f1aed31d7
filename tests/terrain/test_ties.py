"""Four heights on one circle: their heights join them, and neither rounding nor a turn does."""

from __future__ import annotations

import numpy as np
import pytest

from runoff.terrain import Triangles, settle_ties, triangulate

NONE = np.empty((0, 2), np.int64)
HAIR = 0.006


def net(random, size=7, step=3.0):
    """Square positions with heights of no order on a slope."""
    xy = np.stack(np.meshgrid(np.arange(size), np.arange(size)), axis=-1).reshape(-1, 2) * step
    return xy, 0.03 * xy[:, 0] + random.normal(0, 0.2, len(xy))


def ground(xy, z, edges=NONE):
    at, triangles = triangulate(xy, edges)
    xyz = np.column_stack([at, z])
    return Triangles(xyz, settle_ties(xyz, triangles, edges, np.empty(0, np.int64)))


def moved(xy, degrees=0.0, mirrored=False):
    a = np.radians(degrees)
    turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    return xy * [-1.0 if mirrored else 1.0, 1.0] @ turn


@pytest.mark.parametrize("seed", range(6))
def test_a_turn_a_mirror_or_a_hair_leaves_the_ground_of_a_square_net(seed):
    random = np.random.default_rng(seed)
    xy, z = net(random)
    places = random.uniform(0.5, 17.5, (400, 2))
    plain = ground(xy, z).heights(places)
    for degrees, mirrored in ((11, False), (45, False), (90, False), (0, True), (73, True)):
        other = ground(moved(xy, degrees, mirrored), z)
        assert np.allclose(other.heights(moved(places, degrees, mirrored)), plain, atol=1e-9)
    off = random.uniform(-HAIR, HAIR, xy.shape)
    # A hair of place on ground of some 20 % comes to millimeters; a diagonal would to decimeters.
    assert np.abs(ground(xy + off, z).heights(places) - plain).max() < 0.01


def test_a_swale_across_a_square_net_holds_no_water_and_a_ridge_has_no_gap():
    """A V along the net's diagonal: its bottom stays a line, turned over it stays a ridge."""
    xy, _ = net(np.random.default_rng(0))
    for way in (1, -1):
        off = np.abs(xy[:, 0] - way * xy[:, 1] - (0 if way == 1 else 18)) / np.sqrt(2)
        for up in (1, -1):
            along = np.linspace(0.2, 17.8, 200)
            line = np.column_stack([along, along if way == 1 else 18 - along])
            # With no fall along it, the bottom is level and the crest too.
            assert np.abs(ground(xy, up * 0.1 * off).heights(line)).max() < 1e-9


def test_an_edge_that_was_drawn_stays():
    xy = np.array([(0.0, 0), (1, 0), (1, 1), (0, 1), (-1, -1), (2, 2), (2, 0), (0, 2)])
    z = np.array([0.0, 1, 0, 1, 0, 0, 2, 2])
    drawn = np.array([[1, 3]])
    assert ground(xy, z, drawn).heights(np.array([[0.5, 0.5]])) == pytest.approx(1.0)
    assert ground(xy, z).heights(np.array([[0.5, 0.5]])) == pytest.approx(0.0)
