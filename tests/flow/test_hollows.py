"""Hollows of a triangulated surface: closed forms, and a plain count over rough surfaces."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import Delaunay

from runoff.flow import find_hollows
from tests.flow.plain_hollows import held, spill_height


def cone(sides=96, radius=3.0, depth=0.4, rim=1.0):
    """A pit with a polygon for its rim, its lowest point in the middle."""
    turn = 2 * np.pi * np.arange(sides) / sides
    around = np.column_stack([radius * np.cos(turn), radius * np.sin(turn), np.full(sides, rim)])
    xyz = np.concatenate([[[0.0, 0.0, rim - depth]], around])
    k = 1 + np.arange(sides)
    return xyz, np.column_stack([np.zeros(sides, np.int64), k, np.roll(k, -1)])


def test_a_cone_holds_a_third_of_its_prism():
    xyz, triangles = cone()
    found = find_hollows(xyz, triangles, xyz[:, 2] == 1.0)
    base = 96 / 2 * 3.0**2 * np.sin(2 * np.pi / 96)  # the regular polygon's area
    assert found.spill_height[1] == 1.0
    assert found.volume(1, 1.0) == pytest.approx(base * 0.4 / 3, rel=1e-12)
    assert found.wet_area(1, 1.0) == pytest.approx(base, rel=1e-12)
    # Half as deep: an eighth of the water; and back from the water to the level.
    assert found.volume(1, 0.8) == pytest.approx(base * 0.4 / 3 / 8, rel=1e-12)
    assert found.level(1, base * 0.4 / 3 / 8) == pytest.approx(0.8, abs=1e-7)


def box_in_a_plane():
    """A rectangular pit 2 x 3 m, 0.5 m deep with upright-looking sides, in level ground."""
    xy = [(x, y) for x in (0, 2) for y in (0, 3)]
    top = [(x, y) for x in (-1e-6, 2 + 1e-6) for y in (-1e-6, 3 + 1e-6)]
    far = [(x, y) for x in (-5, 7) for y in (-5, 8)]
    xyz = np.array([(*p, h) for ring, h in ((xy, 0.0), (top, 0.5), (far, 0.5)) for p in ring])
    return xyz, Delaunay(xyz[:, :2]).simplices.astype(np.int64)


def test_a_pit_with_a_flat_bottom():
    xyz, triangles = box_in_a_plane()
    open_edge = np.abs(xyz[:, 0] - 1.0) > 5.0
    found = find_hollows(xyz, triangles, open_edge)
    outermost = np.flatnonzero(found.hierarchy.parent == 0)
    volumes = [found.volume(d, found.spill_height[d]) for d in outermost if d]
    assert max(volumes) == pytest.approx(2 * 3 * 0.5, rel=1e-5)
    d = int(outermost[outermost > 0][np.argmax(volumes)])
    assert found.level(d, 1.5) == pytest.approx(0.25, abs=1e-5)


def test_a_v_against_a_wall_holds_water_up_to_its_lower_end():
    """The ground falls to a wall; the foot of the wall falls from both ends to its middle.

    Half a pyramid: base 3 m along the wall by 2 m out, 0.3 m deep, cut by the wall.
    """
    xyz = np.array([[0, 0, 0], [-3, 0, 0.3], [3, 0, 0.4], [0, 2, 0.3], [-3, 2, 0.6], [3, 2, 0.7]])
    triangles = np.array([[0, 1, 3], [0, 3, 2], [1, 4, 3], [2, 3, 5]])
    open_edge = np.array([False, False, False, False, True, True])
    open_edge[[1, 2, 3]] = True  # the wall's line ends at 1 and 2
    found = find_hollows(xyz, triangles, open_edge)
    assert found.spill_height[1] == 0.3
    # Under 0.3 m: the triangle to the left whole, to the right out to 3 m x 0.3 / 0.4 of it.
    assert found.volume(1, 0.3) == pytest.approx((3 + 2.25) * 2 / 2 * 0.3 / 3, rel=1e-12)
    assert found.wet_area(1, 0.3) == pytest.approx((3 + 2.25) * 2 / 2, rel=1e-12)


def test_two_hollows_in_one():
    """Two cones side by side in a basin: each spills into the other, both over the outer rim."""
    x, y = np.meshgrid(np.arange(-6.0, 6.5, 0.5), np.arange(-4.0, 4.5, 0.5))
    away = np.minimum(np.hypot(x + 2, y) / 4, np.hypot(x - 2, y) / 4 + 0.1)
    z = np.minimum(away, 1.0)
    z[(x >= 5) & (y == 0)] = 0.8
    xyz = np.column_stack([x.ravel(), y.ravel(), z.ravel()])
    edge = (np.abs(xyz[:, 0]) == 6) | (np.abs(xyz[:, 1]) == 4)
    found = find_hollows(xyz, Delaunay(xyz[:, :2]).simplices.astype(np.int64), edge)
    tree = found.hierarchy
    whole = int(np.flatnonzero(tree.left > 0)[0])
    parts = [int(tree.left[whole]), int(tree.right[whole])]
    lows = sorted(float(found.xyz[found.bottom(d), 2]) for d in parts)
    assert lows == pytest.approx([0.0, 0.1])
    saddle = {float(found.spill_height[d]) for d in parts}
    assert len(saddle) == 1
    assert 0.5 <= saddle.pop() <= 0.6  # both cones meet at 0.55
    assert found.spill_height[whole] == 0.8
    both = sum(found.volume(d, found.spill_height[d]) for d in parts)
    assert both == pytest.approx(found.volume(whole, found.spill_height[parts[0]]), rel=1e-12)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.integers(0, 2**32 - 1), st.integers(12, 60))
def test_rough_surfaces_hold_what_a_plain_count_finds(seed, count):
    rng = np.random.default_rng(seed)
    xyz = np.column_stack([rng.random((count, 2)) * 20, rng.random(count).round(2)])
    mesh = Delaunay(xyz[:, :2])
    triangles = mesh.simplices.astype(np.int64)
    open_edge = np.zeros(count, bool)
    open_edge[np.unique(mesh.convex_hull)[::3]] = True  # the others are walls
    found = find_hollows(xyz, triangles, open_edge)
    tree = found.hierarchy
    for d in range(1, tree.parent.size):
        level = float(found.spill_height[d])
        if not np.isfinite(level):
            continue
        if level in found.spill_height[[tree.left[d], tree.right[d]]] and d > tree.leaves:
            continue  # three meet in one corner: the order of their merges is nothing to compare
        pit = found.bottom(d)
        if tree.parent[d] == 0:
            assert spill_height(xyz, triangles, open_edge, pit) == level
        volume, area = held(xyz, triangles, pit, level)
        assert found.volume(d, level) == pytest.approx(volume, rel=1e-9, abs=1e-12)
        assert found.wet_area(d, level) == pytest.approx(area, rel=1e-9, abs=1e-12)
        if volume > 1e-6:
            half = found.level(d, volume / 2)
            assert held(xyz, triangles, pit, half)[0] <= volume / 2 * (1 + 1e-6)
            assert found.volume(d, half) == pytest.approx(volume / 2, rel=1e-6)


def test_an_open_inlet_lets_a_hollow_run_out():
    xyz, triangles = cone()
    inlet = np.array([[1.5, 0.01, 0.8]])
    found = find_hollows(xyz, triangles, xyz[:, 2] == 1.0, inlet, np.array([0]))
    assert found.spill_height[1] == 0.8
