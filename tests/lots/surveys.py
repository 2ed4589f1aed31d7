"""Invented lots as a person with a level would survey them, for the blunder check."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from runoff.site import Downspout, HeightAccuracy, Site, points_to_survey
from tests.lots.records import WRITTEN, a_box, a_break_line, a_rectangle, a_site, spots_at

WIDTH, DEPTH = 30.0, 24.0
SHOTS = 80
FOOT = 0.3048
LASER_SIGMA = 0.006
STRING_SIGMA = 0.006


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


def a_listed_lot(seed: int) -> Site:
    """A lot surveyed at the points of `start`'s own list alone, read with a string level to 1/8 in.

    The ground falls one way, steeply or hardly; beside each wall an apron falls away or has
    settled toward it; there is a mound or a hollow, a swale along one side, and uneven turf.
    """
    rng = np.random.default_rng(seed)
    house = a_box("house", 0.0, 0.0, rng.uniform(9.0, 15.0), rng.uniform(7.5, 11.0))
    buildings = [house]
    _, _, right, top = house.outline.bounds
    front, rear = rng.uniform(5.0, 10.0), rng.uniform(8.0, 16.0)
    beside = rng.uniform(2.5, 7.0, 2)
    if rng.random() < 0.4:
        buildings.append(a_box("garage", right - 5.0, top + 4.0, right + 1.0, top + 10.0))
        rear = max(rear, 12.0)
    sides = (-beside[0], -front, right + beside[1], top + rear)
    lot = a_rectangle(*sides, *4 * ("neighbor",))
    feet = [(-0.1, -0.1), (right + 0.1, -0.1), (right + 0.1, top + 0.1), (-0.1, top + 0.1)]
    spouts = [_a_spout(f"spout {k}", *at) for k, at in enumerate(feet[: rng.integers(2, 5)])]
    points = points_to_survey(buildings, lot, spouts)
    surface = _yard(rng, house, lot)
    noise = rng.normal(0.0, STRING_SIGMA, len(points))
    spots = spots_at([(point.x, point.y) for point in points], surface)
    eighth = 0.0254 / 8
    spots = tuple(
        replace(spot, name=point.name, z=round((spot.z + float(off)) / eighth) * eighth)
        for spot, point, off in zip(spots, points, noise, strict=True)
    )
    site = a_site(spot_heights=spots, buildings=tuple(buildings), lot=lot)
    return replace(site, height_accuracy=HeightAccuracy(STRING_SIGMA, "string level", False))


def _yard(rng, house, lot):
    """Heights at (x, y): a fall, an apron a wall, a mound or hollow, a swale, turf."""
    aspect, fall = rng.uniform(0, 2 * np.pi), rng.uniform(0.003, 0.05)
    _, _, right, top = house.outline.bounds
    low_x, low_y, high_x, high_y = lot.boundary.bounds
    apron = rng.uniform(-0.05, 0.2, 4)
    peak = rng.uniform((low_x, low_y), (high_x, high_y))
    rise, reach = rng.uniform(-0.3, 0.3), rng.uniform(5.0, 9.0)
    swale_x, deep = low_x + rng.uniform(0.5, 1.5), rng.uniform(0.0, 0.15)
    waves = [
        (rng.normal(0, 1, 2) * 2 * np.pi / length, rng.uniform(0, 2 * np.pi), 0.002 * length)
        for length in (2.0, 4.0, 8.0, 16.0)
    ]

    def surface(x, y):
        plane = 100.0 + fall * (x * np.cos(aspect) + y * np.sin(aspect))
        off = np.array([-y, x - right, y - top, -x])
        away = np.hypot(np.maximum(off[0], off[2]).clip(0), np.maximum(off[1], off[3]).clip(0))
        side = apron[int(np.argmax(off))]
        beside = side * max(0.0, 1.0 - float(away) / 3.048)
        mound = rise * np.exp(-((x - peak[0]) ** 2 + (y - peak[1]) ** 2) / (2 * reach**2))
        swale = -deep * max(0.0, 1.0 - abs(x - swale_x) / 1.5)
        turf = sum(h * np.sin(k[0] * x + k[1] * y + phase) for k, phase, h in waves)
        return float(plane + beside + mound + swale + turf)

    return surface


def _a_spout(name, x, y):
    return Downspout(name, x, y, (), "house", WRITTEN)
