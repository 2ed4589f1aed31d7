"""Each stage of the engine by itself, from the scan to the crossing of a full depression."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy import ndimage

from runoff.flow import (
    CODE,
    COL_STEP,
    GROUP,
    GROUPS,
    OUTSIDE,
    PIT,
    ROW_STEP,
    WALL,
    accumulate,
    ascending,
    basins_of,
    cross,
    fill,
    flow_accumulation,
    measure,
    prepare,
)
from tests.flow.terrains import grounds, rough, terraced

EVERY_NEIGHBOR = np.ones((3, 3), bool)


def groups_on_the_ring(mask):
    """Label the neighbors in `mask` on a 3 x 3 plan whose middle is empty."""
    ring = np.zeros((3, 3), bool)
    for k in range(8):
        ring[1 + ROW_STEP[k], 1 + COL_STEP[k]] = mask >> k & 1
    label, count = ndimage.label(ring, structure=EVERY_NEIGHBOR)
    return [int(label[1 + ROW_STEP[k], 1 + COL_STEP[k]]) for k in range(8)], count


def test_groups_of_lower_neighbors_for_every_mask():
    for mask in range(256):
        label, count = groups_on_the_ring(mask)
        assert GROUPS[mask] == count
        for a in range(8):
            assert (GROUP[mask, a] >= 0) == bool(label[a])
            for b in range(8):
                if label[a] and label[b]:
                    assert (GROUP[mask, a] == GROUP[mask, b]) == (label[a] == label[b])


def codes(z, closed=None):
    basins = basins_of(z, closed)
    return (basins.code & CODE).reshape(basins.shape)


@pytest.mark.parametrize("k", range(8))
def test_scan_takes_the_steepest_neighbor(k):
    z = np.full((3, 3), 2.0)
    z[1, 1] = 1.0
    z[1 + ROW_STEP[k], 1 + COL_STEP[k]] = 0.0
    assert codes(z)[1, 1] == k


def test_scan_weighs_diagonals_by_their_length():
    z = np.full((3, 3), 5.0)
    z[1, 1], z[1, 2], z[2, 2] = 4.0, 3.0, 2.7
    assert codes(z)[1, 1] == 0  # 1 m beside is steeper than 1.3 m over 1.41
    z[2, 2] = 2.5
    assert codes(z)[1, 1] == 7


def test_scan_marks_pits_borders_and_walls():
    z = np.full((4, 5), 3.0)
    z[2, 2] = 1.0
    closed = np.zeros(z.shape, bool)
    closed[1, 3] = closed[0, 0] = True
    code = codes(z, closed)
    assert code[2, 2] == PIT
    assert code[1, 3] == code[0, 0] == WALL
    assert code[3, 4] == code[0, 1] == OUTSIDE
    assert (code == PIT).sum() == 1


def brute_receiver(z, row, col):
    """Steepest neighbor that is lower by (height, index); the first in the order of codes."""
    best, found = -1.0, PIT
    for k in range(8):
        r, c = row + ROW_STEP[k], col + COL_STEP[k]
        here, there = (z[row, col], row, col), (z[r, c], r, c)
        drop = (z[row, col] - z[r, c]) * (1.0 if k % 2 == 0 else 0.7071067811865476)
        if there < here and drop > best:
            best, found = drop, k
    return found


@pytest.mark.parametrize("seed", range(3))
def test_scan_against_a_plain_search(seed):
    z = rough(seed)
    code = codes(z)
    for row in range(1, z.shape[0] - 1):
        for col in range(1, z.shape[1] - 1):
            assert code[row, col] == brute_receiver(z, row, col)


def test_prepared_heights_need_no_flags():
    z = np.array([[1.0, np.nan], [2.0, 3.0]])
    closed = np.array([[False, True], [True, False]])
    ready = prepare(z, closed, np.array([3]))
    np.testing.assert_array_equal(ready, [[1.0, np.inf], [np.inf, -np.inf]])
    plain = np.ones((2, 2))
    assert prepare(plain, None) is plain


def two_pits(saddle=2.0):
    """Pits of 0 and 1 m with a saddle between them, and a way out over 3 m in the east."""
    z = np.full((5, 7), 9.0)
    z[2, 1:7] = [0.0, 1.5, saddle, 1.2, 1.0, 3.0]
    return z


def test_links_join_the_pits_on_both_sides_of_a_saddle():
    tree = basins_of(two_pits()).hierarchy
    assert tree.pit_cell[1:].tolist() == [15, 19]
    assert tree.spill_cell[1:].tolist() == [17, 17, 20]
    assert tree.over[1:].tolist() == [2, 1, 0]
    assert (tree.left[3], tree.right[3]) in ((1, 2), (2, 1))


def basins_by_flooding(z):
    """Fill level of each pit by trying every height as a threshold; no saddles, no sorting."""
    outside = np.ones(z.shape, bool)
    outside[1:-1, 1:-1] = False
    level = {}
    pits = [
        (r, c)
        for r in range(1, z.shape[0] - 1)
        for c in range(1, z.shape[1] - 1)
        if z[r, c] == z[r - 1 : r + 2, c - 1 : c + 2].min()
    ]
    for height in np.sort(z, axis=None):
        label, _ = ndimage.label(z <= height, structure=EVERY_NEIGHBOR)
        drained = np.unique(label[outside & (label > 0)])
        for pit in pits:
            if pit not in level and label[pit] and label[pit] in drained:
                level[pit] = height
    return level


@pytest.mark.parametrize("seed", range(4))
def test_links_and_merges_give_every_pit_its_level(seed):
    z = rough(seed, (14, 15))
    found = measure(basins_of(z))
    tree = found.hierarchy
    level = {
        tuple(int(i) for i in np.unravel_index(tree.pit_cell[leaf], z.shape)): float(
            found.spill_height[tree.top[leaf]]
        )
        for leaf in range(1, tree.leaves + 1)
    }
    assert level == basins_by_flooding(z)


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from([np.float32, np.float64]).flatmap(
        lambda dtype: arrays(
            dtype,
            st.integers(0, 60),
            elements=st.one_of(
                st.sampled_from([0.0, -0.0, 1.0, -1.0, 1e-30, -1e-30]),
                st.floats(allow_nan=False, allow_infinity=True, width=np.dtype(dtype).itemsize * 8),
            ),
        )
    )
)
def test_ascending_is_a_stable_sort(heights):
    np.testing.assert_array_equal(ascending(heights), np.argsort(heights, kind="stable"))


def valley(heights):
    """The depressions of a narrow valley with these heights from west to east, walled by 9 m.

    The easternmost height is the border's; the westernmost is a wall too.
    """
    z = np.full((3, len(heights) + 1), 9.0)
    z[1, 1:] = heights
    return measure(basins_of(z)).hierarchy


def test_merge_of_a_chain():
    # Pits 1 and 2 join first, then that pair and 3, then all overflow to the border from 3.
    tree = valley([0.0, 3.0, 1.0, 4.0, 2.0, 5.0])
    assert tree.parent.tolist()[1:] == [4, 4, 5, 5, 0]
    assert (tree.spill_cell[1:] - 7).tolist() == [2, 2, 4, 4, 6]
    assert tree.over.tolist()[1:4] == [2, 1, 2]
    assert tree.over[4] == 3
    assert {tree.left[5], tree.right[5]} == {3, 4}
    assert set(tree.top[1:].tolist()) == {5}
    assert tree.drained.tolist() == [5]


def test_merge_with_what_already_drains_makes_no_larger_depression():
    tree = valley([0.0, 3.0, 1.0, 2.5, 0.5])
    assert tree.pit_cell[1:].tolist() == [7, 9]
    assert tree.parent.tolist()[1:] == [0, 0]
    assert tree.over.tolist()[1:] == [2, 0]
    assert tree.drained.tolist() == [2, 1]


def test_merge_without_a_way_out_is_terminal():
    z = np.full((3, 6), 9.0)
    z[1, 1:5] = [0.0, 3.0, 1.0, 2.0]
    closed = np.ones(z.shape, bool)
    closed[1, 1:5] = False
    tree = basins_of(z, closed).hierarchy
    assert tree.parent.tolist()[1:] == [3, 3, -1]
    assert tree.spill_cell[3] == -1
    assert tree.drained.size == 0


def test_flood_raises_the_lake_and_turns_its_drainage_to_the_spill_cell():
    basins = basins_of(two_pits())
    filled, code = fill(basins)
    filled, code = filled.reshape(5, 7), (code & CODE).reshape(5, 7)
    np.testing.assert_array_equal(filled[2], [9, 3, 3, 3, 3, 3, 3])
    np.testing.assert_array_equal(code[2], [OUTSIDE, 0, 0, 0, 0, 0, OUTSIDE])
    # The ground's own directions are kept beside them.
    assert (basins.code & CODE).reshape(5, 7)[2, 1] == PIT


@settings(max_examples=100, deadline=None)
@given(grounds())
def test_drainage_of_the_filled_surface_never_climbs_and_always_ends(ground):
    z, closed = ground
    basins = basins_of(z, closed)
    filled, code = fill(basins)
    cols = z.shape[1]
    walled_in = basins.hierarchy.parent[basins.hierarchy.top[1:]] < 0
    terminal_pits = set(basins.hierarchy.pit_cell[1:][walled_in].tolist())
    ends = set()
    for start in range(z.size):
        cell, passed = start, 0
        while code[cell] & CODE < PIT:
            k = code[cell] & CODE
            step = int(ROW_STEP[k]) * cols + int(COL_STEP[k])
            assert filled[cell + step] <= filled[cell]
            cell += step
            passed += 1
            assert passed <= z.size
        if code[cell] & CODE == PIT:
            ends.add(cell)
    assert ends <= terminal_pits


def test_flats_drain_from_all_their_lower_edges():
    # A plateau with a way down at both ends: each half leaves by its own.
    z = np.full((5, 11), 9.0)
    z[2, 1:10] = 5.0
    z[2, 0] = z[2, 10] = 1.0
    _, code = fill(basins_of(z))
    row = (code & CODE).reshape(5, 11)[2]
    assert row[1:5].tolist() == [4, 4, 4, 4]
    assert row[6:10].tolist() == [0, 0, 0, 0]


def test_counts_follow_the_directions_handed_in():
    code = np.full((5, 5), OUTSIDE, np.uint8)
    code[1:4, 1:4] = [[0, 0, 6], [0, 0, 0], [WALL, 1, PIT]]
    count = accumulate(code.ravel(), (5, 5)).reshape(5, 5)
    assert count[1:4, 1:4].tolist() == [[1, 2, 3], [1, 2, 7], [0, 1, 1]]
    assert count[2, 4] == 8
    assert count[code == OUTSIDE].sum() == 8 + 15


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.01, 1.0))
def test_the_level_of_a_volume_holds_that_volume(seed, share):
    found = measure(basins_of(rough(seed, (12, 12))))
    for d in range(1, found.capacity.size):
        volume = share * found.capacity[d]
        level = found.level(d, volume)
        ground = found.basins.z[found.pond_cells(d)]
        assert level <= found.spill_height[d] + 1e-12
        assert np.maximum(level - ground, 0.0).sum() == pytest.approx(volume, abs=1e-10)


def test_volumes_are_those_of_the_cells_below_the_spill_height():
    found = measure(basins_of(two_pits()))
    assert found.capacity[1:] == pytest.approx([2.5, 1.8, 3.0 + 1.5 + 1.0 + 1.8 + 2.0])
    assert found.cells[1:].tolist() == [2, 2, 5]


def test_crossing_goes_straight_over_open_water():
    z = np.full((11, 21), 5.0)
    z[1:10, 1:20] = 1.0
    z[5, 20] = 4.0
    basins = basins_of(z)
    way = cross(basins, 2 * 21 + 2, 5 * 21 + 20)
    assert way.tolist() == [[2.0, 2.0], [5.0, 20.0]]


def test_crossing_goes_around_a_bank():
    z = np.full((11, 21), 5.0)
    z[1:10, 1:20] = 1.0
    z[1:8, 10] = 5.0
    z[2, 20] = 4.0
    way = cross(basins_of(z), 2 * 21 + 2, 2 * 21 + 20)
    length = np.hypot(*np.diff(way, axis=0).T).sum()
    around = 2 * np.hypot(6.0, 8.0) + 2 * 1.0
    assert around * 0.95 < length < around * 1.15
    line = np.concatenate([np.linspace(a, b, 50) for a, b in pairwise(way)])
    cells = np.floor(line + 0.5).astype(int)
    assert (z[cells[:, 0], cells[:, 1]] <= 4.0).all()


@pytest.mark.parametrize("make", [rough, terraced])
@pytest.mark.parametrize("seed", range(3))
def test_blocks_and_bands_change_nothing(make, seed, monkeypatch):
    z = make(seed, (90, 70))
    whole, total = basins_of(z), flow_accumulation(z)
    expected = fill(whole)
    monkeypatch.setattr("runoff.flow.engine.drainage._BLOCK_CELLS", 700)
    monkeypatch.setattr("os.cpu_count", lambda: 3)
    parts = basins_of(z)
    for name in ("parent", "left", "right", "spill_cell", "over", "pit_cell", "top", "drained"):
        np.testing.assert_array_equal(
            getattr(parts.hierarchy, name), getattr(whole.hierarchy, name), err_msg=name
        )
    for got, want in zip(fill(parts), expected, strict=True):
        np.testing.assert_array_equal(got, want)
    np.testing.assert_array_equal(flow_accumulation(z), total)


def test_counts_above_16_777_216_lose_nothing():
    # A valley that leaves by one cell; single-precision counts would stall at 2 ** 24.
    row, col = np.ogrid[0:4100, 0:4100]
    z = (np.abs(col - 2050) * 8 + row).astype(np.float32)
    count = flow_accumulation(z)
    inner = 4098 * 4098
    assert inner > 2**24
    assert count[0, 2050] == inner + 1
