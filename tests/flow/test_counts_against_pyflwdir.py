"""Accumulation against pyflwdir's, from our own directions handed to it."""

import numpy as np
import pyflwdir
import pytest
from hypothesis import given, settings

from runoff.flow import (
    CODE,
    COL_STEP,
    OUTSIDE,
    PIT,
    ROW_STEP,
    WALL,
    basins_of,
    fill,
    flow_accumulation,
)
from tests.flow.terrains import courtyard, grounds, hilly, rough, scattered, terraced

# Counterclockwise from east, as our codes 0 to 7, in pyflwdir's D8 code; then pit, outside, inlet,
# wall: all but the wall end the flow.
TO_PYFLWDIR = np.array([1, 128, 64, 32, 16, 8, 4, 2, 0, 0, 0, 247], np.uint8)


def directions(z, closed=None):
    """Codes of every cell once lakes and flats are drained, (rows, cols)."""
    basins = basins_of(z, closed)
    return (fill(basins)[1] & CODE).reshape(basins.shape)


def their_counts(code):
    """Upstream cells by pyflwdir; 0 in walls."""
    network = pyflwdir.from_array(TO_PYFLWDIR[code], ftype="d8")
    return np.where(code == WALL, 0, network.upstream_area(unit="cell"))


@pytest.mark.parametrize("make", [rough, hilly, terraced])
@pytest.mark.parametrize("dtype", [np.float32, np.float64])
@pytest.mark.parametrize("share", [0.0, 0.2])
def test_equals_pyflwdir(make, dtype, share):
    z = make(5, dtype=dtype)
    closed = scattered(5, z.shape, share)
    np.testing.assert_array_equal(flow_accumulation(z, closed), their_counts(directions(z, closed)))


@pytest.mark.parametrize("make", [hilly, terraced])
@pytest.mark.parametrize("shape", [(1100, 1000), (4, 150_000), (150_000, 4)], ids=str)
def test_equals_pyflwdir_where_rows_are_worked_in_blocks(make, shape):
    z = make(6, shape, np.float32)
    np.testing.assert_array_equal(flow_accumulation(z), their_counts(directions(z)))


@settings(max_examples=100, deadline=None)
@given(grounds())
def test_every_open_cell_drains(ground):
    z, closed = ground
    code, count = directions(z, closed), flow_accumulation(z, closed)
    ends = (code >= PIT) & (code != WALL)
    assert count[ends].sum() == np.count_nonzero(~closed)
    assert (count[closed] == 0).all()
    assert (count[~closed] >= 1).all()
    assert (code[np.isnan(z) & ~closed] == OUTSIDE).all()


def test_dead_flat_ground_drains_by_the_nearest_edge():
    level = np.full((9, 9), 4.0)
    code, count = directions(level), flow_accumulation(level)
    np.testing.assert_array_equal(count, their_counts(code))
    assert count[code == OUTSIDE].sum() == 81
    for row, col in np.ndindex(9, 9):
        steps, r, c = 0, row, col
        while code[r, c] < PIT:
            r, c, steps = r + ROW_STEP[code[r, c]], c + COL_STEP[code[r, c]], steps + 1
        assert steps == min(row, col, 8 - row, 8 - col)


def test_a_courtyard_counts_to_its_lowest_cell():
    z, closed, yard = courtyard()
    count = flow_accumulation(z, closed)
    # The yard's east column is level; the first of its cells is the lowest.
    assert count[yard].max() == 9
    assert count.reshape(-1)[np.flatnonzero(yard & (count == 9))[0]] == 9
    assert z[yard & (count == 9)] == z[yard].min()
