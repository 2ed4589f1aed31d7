"""The smallest, emptiest and most walled-in grounds: an answer or a clear refusal."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from runoff.flow import fill_depressions, flow_accumulation, ponding, trace
from tests.flow.terrains import courtyard, grounds, rough

SHAPES = pytest.mark.parametrize("shape", [(1, 1), (1, 6), (6, 1), (2, 2), (2, 5)])


@SHAPES
def test_ground_that_is_all_border(shape):
    z = rough(1, shape)
    np.testing.assert_array_equal(fill_depressions(z), z)
    np.testing.assert_array_equal(flow_accumulation(z), np.ones(shape))
    np.testing.assert_array_equal(ponding(z, 0.5), np.zeros(shape))
    middle = (shape[1] / 2, shape[0] / 2)
    path = trace(z, 1.0, middle)
    assert path[0] == pytest.approx(middle)
    assert np.isfinite(path).all()


@SHAPES
def test_all_cells_missing(shape):
    z = np.full(shape, np.nan)
    assert np.isnan(fill_depressions(z)).all()
    np.testing.assert_array_equal(flow_accumulation(z), np.ones(shape))
    np.testing.assert_array_equal(ponding(z, 0.5), np.zeros(shape))


@SHAPES
def test_all_cells_walls(shape):
    z, closed = rough(1, shape), np.ones(shape, bool)
    np.testing.assert_array_equal(fill_depressions(z, closed), z)
    np.testing.assert_array_equal(flow_accumulation(z, closed), np.zeros(shape))
    np.testing.assert_array_equal(ponding(z, 0.5, closed), np.zeros(shape))
    with pytest.raises(ValueError, match="closed cell"):
        trace(z, 1.0, (0.5, 0.5), closed)


def test_one_missing_cell_lets_all_water_go():
    z = np.pad(np.full((5, 5), 1.0), 1, constant_values=4.0)
    z[3, 3] = np.nan
    filled = fill_depressions(z)
    assert np.isnan(filled[3, 3])
    np.testing.assert_array_equal(np.delete(filled.ravel(), 24), np.delete(z.ravel(), 24))
    assert flow_accumulation(z)[3, 3] == 25
    np.testing.assert_array_equal(ponding(z, 0.5), np.zeros(z.shape))


def test_closed_border_makes_one_terminal_basin():
    z = rough(4, (8, 9))
    closed = np.ones(z.shape, bool)
    closed[1:-1, 1:-1] = False
    np.testing.assert_array_equal(fill_depressions(z, closed), z)
    depth = ponding(z, 3.0, closed)
    assert depth.sum() == pytest.approx(3.0 * 42, abs=1e-9)
    inside = ~closed
    assert np.ptp((z + depth)[inside]) < 1e-9  # deep enough to stand level over all of it
    assert depth[closed].sum() == 0.0


def test_counts_of_a_terminal_basin_end_at_its_lowest_cell():
    # One funnel, so that there is no second pit.
    row, col = np.mgrid[0:7, 0:7]
    z = np.hypot(row - 3.0, col - 2.0)
    closed = np.ones(z.shape, bool)
    closed[1:-1, 1:-1] = False
    count = flow_accumulation(z, closed)
    assert count[3, 2] == count.max() == 25
    np.testing.assert_array_equal(count[closed], 0)


def test_courtyard_holds_all_it_is_given():
    z, closed, yard = courtyard()
    np.testing.assert_array_equal(fill_depressions(z, closed), z)
    depth = ponding(z, 0.2, closed)
    assert depth[yard].sum() == pytest.approx(0.2 * 9, abs=1e-12)
    np.testing.assert_array_equal(depth[~yard], 0.0)
    assert ponding(z, 1e4, closed)[yard].sum() == pytest.approx(9e4, rel=1e-12)
    assert flow_accumulation(z, closed)[yard].max() == 9


def test_water_does_not_pass_between_diagonal_walls_of_two_cells():
    # A wall drawn 4-connected on the diagonal: the low corner beyond it gets no water.
    n = 9
    row, col = np.mgrid[0:n, 0:n]
    z = (row + col).astype(float)
    closed = (row + col == n - 1) | (row + col == n)
    depth = ponding(z, 1.0, closed)
    np.testing.assert_array_equal(depth, 0.0)  # both ends of the wall are on the border
    count = flow_accumulation(z, closed)
    above = (row + col < n - 1) & ((row == 0) | (col == 0) | (row == n - 1) | (col == n - 1))
    below = (row + col > n) & ((row == 0) | (col == 0) | (row == n - 1) | (col == n - 1))
    assert count[above].sum() == np.count_nonzero(row + col < n - 1)
    assert count[below].sum() == np.count_nonzero(row + col > n)


def test_minus_zero_is_zero():
    z = np.array([[1, 1, 1, 1], [1, 0.0, -0.0, 1], [1, -0.0, 0.0, 1], [1, 1, 0.5, 1]])
    plain = z + 0.0
    np.testing.assert_array_equal(fill_depressions(z), fill_depressions(plain))
    np.testing.assert_array_equal(flow_accumulation(z), flow_accumulation(plain))
    np.testing.assert_array_equal(ponding(z, 0.1), ponding(plain, 0.1))


@pytest.mark.parametrize("kind", [int, np.int16, np.uint8, np.float16, bool])
def test_other_number_types_are_taken_as_float64(kind):
    z = np.array([[3, 3, 3, 3], [3, 0, 1, 3], [3, 2, 0, 2], [3, 3, 3, 3]]).astype(kind)
    filled = fill_depressions(z)
    assert filled.dtype == np.float64
    np.testing.assert_array_equal(filled, fill_depressions(z.astype(np.float64)))
    np.testing.assert_array_equal(flow_accumulation(z), flow_accumulation(z.astype(np.float64)))


def test_lists_are_taken():
    assert fill_depressions([[2, 2, 2], [2, 0, 1], [2, 2, 2]]).tolist()[1] == [2, 1, 1]


@settings(max_examples=50, deadline=None)
@given(grounds(), st.sampled_from(["strided", "transposed", "fortran", "read-only"]))
def test_how_the_array_lies_in_memory_does_not_matter(ground, way):
    z, closed = ground
    expected = fill_depressions(z, closed), flow_accumulation(z, closed), ponding(z, 0.3, closed)
    if way == "strided":
        wide, walls = np.full((z.shape[0] * 2, z.shape[1] * 3), 9.0), np.ones_like(z, bool)
        wide[::2, ::3] = z
        walls[:] = closed
        z, closed = wide[::2, ::3], walls
    elif way == "transposed":
        z, closed = np.ascontiguousarray(z.T).T, np.ascontiguousarray(closed.T).T
    elif way == "fortran":
        z, closed = np.asfortranarray(z), np.asfortranarray(closed)
    else:
        z.flags.writeable = closed.flags.writeable = False
    got = fill_depressions(z, closed), flow_accumulation(z, closed), ponding(z, 0.3, closed)
    for a, b in zip(got, expected, strict=True):
        np.testing.assert_array_equal(a, b)


@settings(max_examples=50, deadline=None)
@given(grounds())
def test_what_is_given_is_not_changed(ground):
    z, closed = ground
    water = np.full(z.shape, 0.4)
    kept = z.copy(), closed.copy(), water.copy()
    filled = fill_depressions(z, closed)
    assert not np.shares_memory(filled, z)
    flow_accumulation(z, closed)
    ponding(z, water, closed)
    if not closed[0, 0]:
        trace(z, 1.0, (0.5, z.shape[0] - 0.5), closed)
    for now, before in zip((z, closed, water), kept, strict=True):
        np.testing.assert_array_equal(now, before)


@settings(max_examples=150, deadline=None)
@given(grounds(), st.floats(0, 1), st.floats(0, 1))
def test_a_path_from_anywhere_ends(ground, right, up):
    z, closed = ground
    start = (right * z.shape[1], up * z.shape[0])
    row, col = min(int(z.shape[0] - start[1]), z.shape[0] - 1), min(int(start[0]), z.shape[1] - 1)
    assume(not closed[max(row - 1, 0) : row + 1, max(col - 1, 0) : col + 1].any())
    path = trace(z, 1.0, start, closed)
    assert path[0] == pytest.approx(start)
    assert (path >= -1e-9).all()
    assert (path <= np.array(z.shape[::-1]) + 1e-9).all()


EVERY = pytest.mark.parametrize(
    "call",
    [
        fill_depressions,
        flow_accumulation,
        lambda z, closed=None: ponding(z, 0.1, closed),
        lambda z, closed=None: trace(z, 1.0, (0.5, 0.5), closed),
    ],
    ids=["fill", "counts", "ponding", "trace"],
)


@EVERY
@pytest.mark.parametrize("height", [np.inf, -np.inf])
def test_infinite_heights_are_refused(call, height):
    z = np.zeros((4, 4))
    z[1, 2] = height
    with pytest.raises(ValueError, match="infinite"):
        call(z)


@EVERY
@pytest.mark.parametrize("shape", [(), (5,), (2, 2, 2), (0, 4), (4, 0)])
def test_arrays_that_are_no_plan_are_refused(call, shape):
    with pytest.raises(ValueError, match="2-D"):
        call(np.zeros(shape))


@EVERY
@pytest.mark.parametrize("shape", [(4, 5), (5, 4), (4,), (1, 1), (20,)])
def test_walls_of_another_shape_are_refused(call, shape):
    if shape == (4, 5):
        call(np.zeros((4, 5)), np.zeros(shape, bool))
        return
    with pytest.raises(ValueError, match=r"closed has shape"):
        call(np.zeros((4, 5)), np.zeros(shape, bool))
