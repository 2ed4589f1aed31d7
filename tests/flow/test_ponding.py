"""Ponding: water is conserved, monotone, and independent of the datum and of how the plan lies."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from runoff.flow import arrivals, basins_of, fill_depressions, measure, pond, ponding
from tests.flow.terrains import grounds, hilly, rough, scattered, terraced

FALLS = st.sampled_from(["nothing", "drops", "showers", "floods"])


def rain(seed, kind, shape):
    """Water over each cell, metres."""
    random = np.random.default_rng(seed)
    if kind == "nothing":
        return np.zeros(shape)
    if kind == "drops":
        return np.where(random.random(shape) < 0.1, 20.0 * random.random(shape), 0.0)
    return (0.2 if kind == "showers" else 5.0) * random.random(shape)


def run(z, water, closed=None):
    """The whole result of ponding, with where the water left."""
    found = measure(basins_of(z, closed))
    return pond(found, arrivals(found, water.ravel()))


@settings(max_examples=200, deadline=None)
@given(grounds(14), st.integers(0, 10_000), FALLS)
def test_water_is_conserved(ground, seed, kind):
    z, closed = ground
    water = rain(seed, kind, z.shape)
    result = run(z, water, closed)
    depth = result.depth()
    assert depth.sum() + result.left.sum() == pytest.approx(water[~closed].sum(), abs=1e-9)
    assert (depth >= 0).all()
    assert (result.left >= 0).all()
    np.testing.assert_array_equal(depth, ponding(z, water, closed))


@pytest.mark.parametrize("make", [rough, hilly, terraced])
@pytest.mark.parametrize("kind", ["drops", "showers", "floods"])
@pytest.mark.parametrize("dtype", [np.float32, np.float64])
def test_water_is_conserved_on_larger_ground(make, kind, dtype):
    z = make(11, (80, 75), dtype)
    closed = scattered(11, z.shape, 0.05)
    water = rain(11, kind, z.shape)
    result = run(z, water, closed)
    error = result.depth().sum() + result.left.sum() - water[~closed].sum()
    assert abs(error) <= 1e-9 * max(1.0, water.sum())


@settings(max_examples=150, deadline=None)
@given(grounds(14))
def test_water_to_overflowing_stands_at_the_filled_surface(ground):
    z, closed = ground
    found = measure(basins_of(z, closed))
    tops = np.append(found.hierarchy.top, 0)[found.node]
    walled_in = (tops > 0) & (found.hierarchy.parent[tops] < 0)
    depth = ponding(z, np.full(z.shape, 1000.0), closed).ravel()
    expected = np.nan_to_num((fill_depressions(z, closed) - z).ravel())
    np.testing.assert_array_equal(depth[~walled_in], expected[~walled_in])


@settings(max_examples=100, deadline=None)
@given(grounds(12), st.integers(0, 10_000), FALLS, FALLS)
def test_more_water_never_stands_lower(ground, seed, kind, more):
    z, closed = ground
    water = rain(seed, kind, z.shape)
    less = ponding(z, water, closed)
    greater = ponding(z, water + rain(seed + 1, more, z.shape), closed)
    assert (greater >= less - 1e-9).all()


@settings(max_examples=100, deadline=None)
@given(grounds(12), st.integers(0, 10_000), FALLS)
def test_no_water_stands_above_the_way_out(ground, seed, kind):
    z, closed = ground
    water = rain(seed, kind, z.shape)
    found = measure(basins_of(z, closed))
    depth = pond(found, arrivals(found, water.ravel())).depth().ravel()
    tops = np.append(found.hierarchy.top, 0)[found.node]
    wet = depth > 0
    assert (found.basins.z + depth)[wet] == pytest.approx(
        np.minimum((found.basins.z + depth), found.spill_height[tops])[wet], abs=1e-9
    )
    assert (tops[wet] > 0).all()


@settings(max_examples=60, deadline=None)
@given(grounds(12), st.integers(0, 10_000), FALLS)
def test_standing_water_is_level_with_its_wet_neighbors(ground, seed, kind):
    z, closed = ground
    depth = ponding(z, rain(seed, kind, z.shape), closed)
    surface = np.where(depth > 1e-9, z + depth, np.nan)
    for beside, below in ((np.s_[:, 1:], np.s_[:, :-1]), (np.s_[1:], np.s_[:-1])):
        steps = surface[beside] - surface[below]
        higher_ground = np.maximum(z[beside], z[below])
        lower_water = np.fmin(surface[beside], surface[below])
        # Two ponds at two levels touch only where ground between them holds the higher one.
        held_back = higher_ground >= lower_water - 1e-9
        assert (np.isnan(steps) | (np.abs(steps) < 1e-9) | held_back).all()


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), FALLS, st.sampled_from([1000.0, -4000.0]))
def test_the_datum_changes_nothing(seed, kind, shift):
    # Heights in whole 1/4096 m, so that no two of them meet in rounding.
    z = np.round(rough(seed, (13, 12)) * 4096) / 4096
    water = rain(seed, kind, z.shape)
    np.testing.assert_allclose(ponding(z + shift, water), ponding(z, water), rtol=0, atol=1e-9)
    np.testing.assert_array_equal(fill_depressions(z + shift), fill_depressions(z) + shift)


TURNS = {
    "transposed": np.transpose,
    "turned": np.rot90,
    "upside down": np.flipud,
    "mirrored": np.fliplr,
}


@settings(max_examples=60, deadline=None)
@given(grounds(12), st.sampled_from(sorted(TURNS)))
def test_how_the_plan_lies_does_not_change_the_fill(ground, name):
    z, closed = ground
    turn = TURNS[name]
    np.testing.assert_array_equal(
        fill_depressions(turn(z), turn(closed)), turn(fill_depressions(z, closed))
    )


@pytest.mark.parametrize("name", sorted(TURNS))
@pytest.mark.parametrize("seed", range(5))
def test_how_the_plan_lies_does_not_change_the_ponds(seed, name):
    z, turn = rough(seed), TURNS[name]  # without ties
    water = rain(seed, "showers", z.shape)
    np.testing.assert_allclose(
        ponding(turn(z), turn(water)), turn(ponding(z, water)), rtol=0, atol=1e-12
    )


def test_water_leaves_where_it_overflows():
    z = np.full((5, 5), 3.0)
    z[2, 2], z[2, 3], z[2, 4] = 0.0, 1.0, 0.5
    water = np.zeros(z.shape)
    water[2, 2] = 1.25
    result = run(z, water)
    assert result.depth()[2, 2] == 1.0
    assert result.left.reshape(z.shape)[2, 4] == 0.25
    assert result.left.sum() == 0.25


def test_what_is_let_go_at_points_adds_to_the_rain():
    z = hilly(2)
    water = rain(2, "showers", z.shape)
    found = measure(basins_of(z))
    cells = np.random.default_rng(2).integers(0, z.size, 20)
    points = [(int(cell), 0.5) for cell in cells]
    together = water.copy()
    np.add.at(together.reshape(-1), cells, 0.5 / 0.25)
    result = pond(found, arrivals(found, water.ravel()).plus(points, 0.25))
    np.testing.assert_allclose(result.depth(), ponding(z, together), rtol=0, atol=1e-12)


@settings(max_examples=60, deadline=None)
@given(grounds(12), st.integers(0, 10_000), st.floats(0.0, 4.0))
def test_arrivals_scale_with_the_rain(ground, seed, factor):
    z, closed = ground
    assume((~closed).any())
    water = rain(seed, "showers", z.shape)
    found = measure(basins_of(z, closed))
    none = arrivals(found, np.zeros(z.size))
    scaled = pond(found, none.with_(arrivals(found, water.ravel()), factor)).depth()
    np.testing.assert_allclose(scaled, ponding(z, factor * water, closed), rtol=0, atol=1e-9)


@pytest.mark.parametrize(
    ("water", "message"),
    [
        (-0.1, "not negative"),
        (np.nan, "finite"),
        (np.inf, "finite"),
        (np.zeros((3, 4)), "shape"),
        (np.zeros(4), "shape"),
    ],
)
def test_water_that_makes_no_sense_is_refused(water, message):
    with pytest.raises(ValueError, match=message):
        ponding(np.zeros((4, 4)), water)
