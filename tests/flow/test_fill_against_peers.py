"""Filling against richdem's priority-flood and scikit-image's reconstruction: difference 0."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.cbook import get_sample_data

from runoff.flow import fill_depressions
from tests.flow.peers import RAISED, reconstruction_fill, richdem_fill
from tests.flow.terrains import grounds, hilly, rough, scattered, terraced

FLOATS = pytest.mark.parametrize("dtype", [np.float32, np.float64])
MADE = pytest.mark.parametrize("make", [rough, hilly, terraced])


@FLOATS
@MADE
@pytest.mark.parametrize("seed", range(4))
def test_equals_richdem(make, seed, dtype):
    z = make(seed, dtype=dtype)
    filled = fill_depressions(z)
    assert filled.dtype == dtype
    assert (filled > z).any()
    np.testing.assert_array_equal(filled, richdem_fill(z))


@FLOATS
@MADE
@pytest.mark.parametrize("share", [0.05, 0.3])
def test_equals_richdem_with_walls_raised(make, share, dtype):
    z = make(7, dtype=dtype)
    closed = scattered(7, z.shape, share)
    theirs = richdem_fill(np.where(closed, dtype(RAISED), z))
    shut_in = (theirs == RAISED) & ~closed
    expected = np.where(closed | shut_in, z, theirs)  # richdem fills a walled yard to its walls
    assert (expected > z).any()
    np.testing.assert_array_equal(fill_depressions(z, closed), expected)


LARGE = [(1100, 1000), (4, 150_000), (150_000, 4)]


@pytest.mark.parametrize("make", [hilly, terraced])
@pytest.mark.parametrize("shape", LARGE, ids=str)
def test_equals_richdem_where_rows_are_worked_in_blocks(make, shape):
    z = make(6, shape, np.float32)
    np.testing.assert_array_equal(fill_depressions(z), richdem_fill(z))


@settings(max_examples=60, deadline=None)
@given(
    st.integers(0, 10_000),
    st.sampled_from([np.float32, np.float64]),
    st.sampled_from([rough, hilly, terraced]),
    st.tuples(st.integers(3, 25), st.integers(3, 25)),
    st.sampled_from([0.0, 0.1, 0.3]),
)
def test_equals_richdem_on_random_terrains(seed, dtype, make, shape, share):
    z = make(seed, shape, dtype)
    closed = scattered(seed, shape, share)
    theirs = richdem_fill(np.where(closed, dtype(RAISED), z))
    kept = closed | (theirs == RAISED)
    np.testing.assert_array_equal(fill_depressions(z, closed), np.where(kept, z, theirs))


@settings(max_examples=150, deadline=None)
@given(grounds())
def test_equals_reconstruction_with_walls_and_holes(ground):
    z, closed = ground
    theirs = reconstruction_fill(z, closed)
    kept = closed | np.isnan(z) | (theirs == RAISED)
    np.testing.assert_array_equal(fill_depressions(z, closed), np.where(kept, z, theirs))


@pytest.mark.parametrize("seed", range(3))
def test_equals_reconstruction_on_hills(seed):
    z = hilly(seed, (90, 80))
    np.testing.assert_array_equal(fill_depressions(z), reconstruction_fill(z, np.zeros_like(z) > 0))


@FLOATS
def test_real_elevation_model(dtype):
    # Jacksboro fault, matplotlib's sample data: 16-bit whole metres, so plateaus by the thousand.
    with get_sample_data("jacksboro_fault_dem.npz") as data:
        z = data["elevation"].astype(dtype)
    filled = fill_depressions(z)
    assert np.count_nonzero(filled > z) > 100
    np.testing.assert_array_equal(filled, richdem_fill(z))
    np.testing.assert_array_equal(filled, reconstruction_fill(z, np.zeros(z.shape, bool)))
