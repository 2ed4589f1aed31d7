"""Invented lots as a person with a level would survey them, for the blunder check."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from runoff.site.model import Site
from tests.terrain.lots import a_box, a_break_line, a_site, spots_at

WIDTH, DEPTH = 30.0, 24.0
SHOTS = 80
FOOT = 0.3048
LASER_SIGMA = 0.006


def a_smooth_lot(seed: int) -> Site:
    """A lot that falls, with a mound, a swale as a break line, a house, and 80 laser shots."""
    rng = np.random.default_rng(seed)
    aspect, fall = rng.uniform(0, 2 * np.pi), rng.uniform(0.01, 0.06)
    top = rng.uniform((0.3 * WIDTH, 0.3 * DEPTH), (0.7 * WIDTH, 0.7 * DEPTH))
    rise, reach = rng.uniform(0.3, 0.8), rng.uniform(5.0, 9.0)
    swale_x, side = rng.uniform(3.0, 5.0), rng.uniform(0.02, 0.06)

    def surface(x, y):
        plane = 100.0 + fall * (x * np.cos(aspect) + y * np.sin(aspect))
        mound = rise * np.exp(-((x - top[0]) ** 2 + (y - top[1]) ** 2) / (2 * reach**2))
        return plane + mound + side * np.minimum(np.abs(x - swale_x), 2.5)

    left, bottom = rng.uniform(9, 14), rng.uniform(6, 9)
    house = a_box("house", left, bottom, left + 10.0, bottom + 8.0)
    along = np.linspace(0.0, DEPTH, 7)
    swale = [(swale_x, y) for y in along]
    line = a_break_line("swale", swale, [surface(x, y) for x, y in swale])
    positions = _scattered(rng, house.outline, swale_x)
    noise = rng.normal(0.0, LASER_SIGMA, len(positions))
    spots = [
        replace(spot, z=spot.z + float(off))
        for spot, off in zip(spots_at(positions, surface), noise, strict=True)
    ]
    return a_site(spot_heights=tuple(spots), break_lines=(line,), buildings=(house,))


def _scattered(rng, outline, swale_x):
    """Uneven rows of shots, none in the house or in the swale's bottom."""
    import shapely

    columns, rows = 12, 9
    x, y = np.meshgrid((np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows)
    xy = np.column_stack([x.ravel() * WIDTH, y.ravel() * DEPTH])
    xy += rng.uniform(-0.9, 0.9, xy.shape)
    free = ~shapely.contains_xy(outline.buffer(0.2), xy[:, 0], xy[:, 1])
    free &= np.abs(xy[:, 0] - swale_x) > 0.3
    return rng.permutation(xy[free])[:SHOTS]


def with_a_foot_error(site: Site, seed: int) -> tuple[Site, str]:
    """The same survey with one shot a foot too high or too low, and that shot's name."""
    rng = np.random.default_rng(10_000 + seed)
    index = int(rng.integers(len(site.spot_heights)))
    off = FOOT * float(rng.choice([-1.0, 1.0]))
    spots = list(site.spot_heights)
    spots[index] = replace(spots[index], z=spots[index].z + off)
    return replace(site, spot_heights=tuple(spots)), spots[index].name
