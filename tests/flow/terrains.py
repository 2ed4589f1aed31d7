"""Small terrains for the tests of the flow room, made by named functions; invented throughout."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays


def rough(seed, shape=(30, 34), dtype=np.float64):
    """Heights without ties, drawn at random: a depression every few cells."""
    return np.random.default_rng(seed).random(shape).astype(dtype)


def hilly(seed, shape=(60, 70), dtype=np.float64):
    """Hills over a slope with roughness on them: depressions of every size, nested."""
    random = np.random.default_rng(seed)
    row, col = np.mgrid[0 : shape[0], 0 : shape[1]] / 4.0
    waves = sum(
        random.normal() * np.sin(random.normal() * row + random.normal() * col + random.normal())
        for _ in range(6)
    )
    return (waves + 0.05 * col + 0.4 * random.random(shape)).astype(dtype)


def terraced(seed, shape=(40, 45), dtype=np.float64):
    """Whole-number heights: plateaus, flat-bottomed lakes, and ties everywhere."""
    return np.round(3.0 * hilly(seed, shape)).astype(dtype)


def scattered(seed, shape, share):
    """A mask that covers about `share` of the cells."""
    return np.random.default_rng(seed + 1_000_000).random(shape) < share


def courtyard():
    """A slope with a walled yard on it: heights, walls, and the yard's cells."""
    z = np.tile(np.linspace(3.0, 2.0, 9), (9, 1))
    closed = np.zeros(z.shape, bool)
    closed[2:7, 2:7] = True
    closed[3:6, 3:6] = False
    yard = np.zeros(z.shape, bool)
    yard[3:6, 3:6] = True
    return z, closed, yard


def bowl(depth=0.5, radius=4.0, cell=0.1, centers=((0.0, 0.0),)):
    """Paraboloid bowls cut into a shallow valley that falls to the east.

    The easternmost bowl overflows where the valley's bottom comes down to its rim: at its center
    + (radius, 0), at the height `depth`. West of that the valley is higher everywhere.

    Returns
    -------
    z, x, y : (rows, cols) metres; `x` and `y` are cell centers on round multiples of `cell`
    """
    reach = radius + max(abs(x) for x, _ in centers) + 1.0
    n = round(reach / cell)
    x, y = np.meshgrid(np.arange(-n, n + 1) * cell, np.arange(n, -n - 1, -1) * cell)
    rim = max(x for x, _ in centers) + radius
    z = depth - 0.05 * (x - rim) + 0.005 * y**2
    for east, north in centers:
        z = np.minimum(z, depth / radius**2 * ((x - east) ** 2 + (y - north) ** 2))
    return z, x, y


def tilted_plane(degrees, cells=241, cell=0.25, slope=0.02):
    """A square plane that falls toward `degrees` counterclockwise from east."""
    row, col = np.mgrid[0:cells, 0:cells]
    angle = np.radians(degrees)
    return 9.0 - slope * cell * (np.cos(angle) * col - np.sin(angle) * row)


_STEPS = st.sampled_from([0.0, 0.25, 1.0, 1.5, 2.0, 3.0, 5.0])


@st.composite
def grounds(draw, largest=10):
    """Small terrains with walls and missing cells: (elevation, closed); ties are common."""
    shape = (draw(st.integers(1, largest)), draw(st.integers(1, largest)))
    if draw(st.booleans()):
        z = draw(arrays(np.float64, shape, elements=_STEPS))
    else:
        z = rough(draw(st.integers(0, 10_000)), shape)
    seed = draw(st.integers(0, 10_000))
    closed = scattered(seed, shape, draw(st.sampled_from([0.0, 0.1, 0.4])))
    z[scattered(seed + 1, shape, draw(st.sampled_from([0.0, 0.05])))] = np.nan
    return z, closed
