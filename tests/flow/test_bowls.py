"""Depressions with closed forms: volume, pour point, spill height, and how high water stands."""

import numpy as np
import pytest
from scipy.integrate import quad

from runoff.flow import basins_of, measure, ponding
from tests.flow.terrains import bowl

CELL, DEPTH, RADIUS = 0.1, 0.5, 4.0
CURVE = DEPTH / RADIUS**2


def place(flat, x, y):
    """Position of a flat index, metres."""
    return pytest.approx((x.flat[flat], y.flat[flat]), abs=1e-9)


def big_depressions(found):
    """Depressions of more than a few cells: where surfaces meet, sampling leaves tiny ones."""
    return [d for d in range(1, found.capacity.size) if found.cells[d] > 20]


def test_paraboloid_bowl():
    z, x, y = bowl(DEPTH, RADIUS, CELL)
    found = measure(basins_of(z))
    (only,) = big_depressions(found)
    exact = np.pi / 2 * DEPTH * RADIUS**2
    assert found.capacity[only] * CELL**2 == pytest.approx(exact, rel=0.01)
    assert found.spill_height[only] == pytest.approx(DEPTH, abs=1e-12)
    assert place(found.hierarchy.spill_cell[only], x, y) == (RADIUS, 0.0)
    assert place(found.hierarchy.pit_cell[only], x, y) == (0.0, 0.0)
    # A pond of radius R covers pi R^2.
    assert found.pond_cells(only).size * CELL**2 == pytest.approx(np.pi * RADIUS**2, rel=0.01)


@pytest.mark.parametrize("share", [0.05, 0.3, 0.8, 0.99])
def test_volume_and_height_of_a_bowl_agree(share):
    z, _, _ = bowl(DEPTH, RADIUS, CELL)
    found = measure(basins_of(z))
    (only,) = big_depressions(found)
    # V = pi h^2 / (2 a) for z = a r^2.
    volume = share * np.pi / 2 * DEPTH * RADIUS**2
    exact = np.sqrt(2 * CURVE * volume / np.pi)
    assert found.level(only, volume / CELL**2) == pytest.approx(exact, rel=0.01)
    water = np.zeros(z.shape)
    water.flat[found.hierarchy.pit_cell[only]] = volume / CELL**2
    assert ponding(z, water).max() == pytest.approx(exact, rel=0.01)


APART = 3.0  # metres from the middle to each bowl: the saddle stands at CURVE x APART^2


def two_bowls():
    z, x, y = bowl(DEPTH, RADIUS, CELL, ((-APART, 0.0), (APART, 0.0)))
    found = measure(basins_of(z))
    left, right, both = sorted(big_depressions(found), key=lambda d: (found.cells[d] > 2000, d))
    return z, x, y, found, left, right, both


def merged_volume():
    """Twice the part of one bowl on its own side of the middle.

    A section across a bowl at a distance s from its center holds (4/3) a (R^2 - s^2)^(3/2).
    """
    half, _ = quad(lambda s: 4 / 3 * CURVE * (RADIUS**2 - s**2) ** 1.5, -APART, RADIUS)
    return 2 * half


def test_two_bowls_joined_by_a_saddle():
    _, x, y, found, left, right, both = two_bowls()
    tree = found.hierarchy
    assert found.capacity[both] * CELL**2 == pytest.approx(merged_volume(), rel=0.01)
    assert found.spill_height[both] == pytest.approx(DEPTH, abs=1e-12)
    assert place(tree.spill_cell[both], x, y) == (APART + RADIUS, 0.0)
    assert {tree.left[both], tree.right[both]} == {left, right}
    for one in (left, right):
        exact = np.pi / 2 * CURVE * APART**4  # brim-full at the saddle
        assert found.capacity[one] * CELL**2 == pytest.approx(exact, rel=0.01)
        assert found.spill_height[one] == pytest.approx(CURVE * APART**2, abs=1e-12)
        assert place(tree.spill_cell[one], x, y) == (0.0, 0.0)


def test_the_first_bowl_overflows_into_the_second():
    z, x, _, found, left, right, _ = two_bowls()
    west = min(left, right, key=lambda d: x.flat[found.hierarchy.pit_cell[d]])
    water = np.zeros(z.shape)
    water.flat[found.hierarchy.pit_cell[west]] = 1.5 * found.capacity[west]
    depth = ponding(z, water)
    assert depth.sum() == pytest.approx(water.sum(), rel=1e-12)
    assert depth[x < 0].sum() == pytest.approx(found.capacity[west], rel=1e-9)
    assert depth[x > 0].sum() == pytest.approx(0.5 * found.capacity[west], rel=1e-9)


def test_two_full_bowls_stand_level():
    z, x, y, found, left, _, both = two_bowls()
    water = np.zeros(z.shape)
    total = 0.8 * merged_volume() / CELL**2
    water.flat[found.hierarchy.pit_cell[left]] = total
    depth = ponding(z, water)
    wet = depth > 0
    surface = (z + depth)[wet & (np.hypot(x, y) < APART + RADIUS)]
    assert np.ptp(surface) < 1e-12
    assert surface[0] == pytest.approx(found.level(both, total), abs=1e-12)
    assert depth.sum() == pytest.approx(total, rel=1e-12)


def test_plane_with_a_rectangular_pit():
    x = np.arange(40) * 0.25
    z = np.tile(2.0 - 0.02 * x, (30, 1))
    z[10:18, 12:24] = 1.0
    found = measure(basins_of(z))
    (only,) = range(1, found.capacity.size)
    lowest_rim = 2.0 - 0.02 * x[24]  # the column just past its downhill side
    assert found.spill_height[only] == lowest_rim
    assert found.cells[only] == 8 * 12
    assert found.capacity[only] == pytest.approx(96 * (lowest_rim - 1.0), rel=1e-12)
    row, col = divmod(int(found.hierarchy.spill_cell[only]), 40)
    assert col == 24
    assert 9 <= row <= 18
    assert ponding(z, np.where(z == 1.0, 0.3, 0.0))[10:18, 12:24] == pytest.approx(0.3, abs=1e-12)
