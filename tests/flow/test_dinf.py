"""D-infinity directions against closed forms and against richdem's proportions."""

import numpy as np
import pytest

from runoff.flow import d_infinity_directions, d_infinity_receivers

STEPS = [(0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0), (1, 1)]
# richdem counts its neighbors 1 to 8 clockwise from west.
RICHDEM_STEPS = [(0, -1), (-1, -1), (-1, 0), (-1, 1), (0, 1), (1, 1), (1, 0), (1, -1)]


def tilted_plane(aspect, rows=5, cols=6, slope=0.03):
    """Heights that fall toward `aspect` (radians counterclockwise from east)."""
    row, col = np.mgrid[0:rows, 0:cols]
    return 5.0 - slope * (np.cos(aspect) * col - np.sin(aspect) * row)


def fractions(elevation, closed=None):
    """Share of each cell's water that goes to each neighbor, as {(row, col): share} a cell."""
    receiver, share = d_infinity_receivers(d_infinity_directions(elevation, closed))
    cols = elevation.shape[1]
    return {
        (row, col): {
            (int(i) // cols, int(i) % cols): s
            for i, s in zip(receiver[row, col], share[row, col], strict=True)
            if i >= 0
        }
        for row in range(elevation.shape[0])
        for col in range(cols)
    }


@pytest.mark.parametrize("degrees", [*range(0, 360, 10), 45, 135, 225, 315, 12.3, 200.7])
def test_plane_gives_its_aspect(degrees):
    aspect = np.radians(degrees)
    angle = d_infinity_directions(tilted_plane(aspect))[1:-1, 1:-1]
    off = (angle - aspect + np.pi) % (2 * np.pi) - np.pi
    np.testing.assert_allclose(off, 0.0, atol=1e-11)


def test_shares_follow_the_angle_between_two_neighbors():
    # Tarboton (1997), equation for apportioning: p1 = a2 / (a1 + a2).
    shares = fractions(tilted_plane(np.radians(60.0)))[2, 2]
    assert shares == pytest.approx({(1, 3): 2 / 3, (1, 2): 1 / 3}, abs=1e-9)


def richdem_fractions(z):
    """richdem's D-infinity shares, as `fractions` gives them; in single precision."""
    richdem = pytest.importorskip("richdem")
    grid = richdem.rdarray(z.copy(), no_data=-9999.0)
    grid.geotransform = [0, 1, 0, 0, 0, -1]
    shares = np.array(richdem.FlowProportions(dem=grid, method="Tarboton"))
    return {
        (row, col): {
            (row + dr, col + dc): float(shares[row, col, i + 1])
            for i, (dr, dc) in enumerate(RICHDEM_STEPS)
            if shares[row, col, i + 1] > 0.0
        }
        for row in range(1, z.shape[0] - 1)
        for col in range(1, z.shape[1] - 1)
    }


def test_same_receivers_and_split_as_richdem():
    # It hands the two shares out the other way round: on a plane that falls toward 10 degrees it
    # gives 7/9 to the northeast and 2/9 to the east. So which share is whose is checked against the
    # closed form above, and here the two receivers and the two numbers.
    z = np.random.default_rng(7).random((12, 15))
    ours = fractions(z)
    theirs = richdem_fractions(z)
    assert sum(len(shares) == 2 for shares in theirs.values()) > 20
    for cell, shares in theirs.items():
        assert ours[cell].keys() == shares.keys(), cell
        assert sorted(ours[cell].values()) == pytest.approx(sorted(shares.values()), abs=1e-6)


def test_pits_flats_borders_missing_and_closed_cells_have_no_direction():
    z = np.ones((5, 9))
    z[2, 2] = 0.0  # a pit
    z[:, 8] = 0.5
    closed = np.zeros(z.shape, dtype=bool)
    closed[2, 6] = True
    z[0, 4] = np.nan
    angle = d_infinity_directions(z, closed)
    assert np.isnan(angle[2, 2])
    assert np.isnan(angle[2, 4])
    assert np.isnan(angle[2, 6])
    assert np.isnan(angle[[0, -1], :]).all()
    assert np.isnan(angle[:, [0, -1]]).all()
    receiver, share = d_infinity_receivers(angle)
    assert (receiver[np.isnan(angle)] == -1).all()
    assert (share[np.isnan(angle)] == 0.0).all()
    np.testing.assert_allclose(share[~np.isnan(angle)].sum(axis=-1), 1.0)


@pytest.mark.parametrize("seed", range(5))
def test_walls_never_receive(seed):
    rng = np.random.default_rng(seed)
    z = rng.random((20, 20))
    closed = rng.random(z.shape) < 0.3
    z[closed & (rng.random(z.shape) < 0.5)] = -10.0  # lower than anything, and still shut
    receiver, share = d_infinity_receivers(d_infinity_directions(z, closed))
    assert not closed.ravel()[receiver[receiver >= 0]].any()
    assert (share[receiver >= 0] > 0.0).all()


@pytest.mark.parametrize("direction", range(8))
def test_missing_ground_draws_water(direction):
    z = tilted_plane(0.0, 5, 5)
    row, col = STEPS[direction]
    z[2 + row, 2 + col] = np.nan
    assert d_infinity_directions(z)[2, 2] == pytest.approx(direction * np.pi / 4)
