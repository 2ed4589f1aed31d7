"""Where to take heights: known ground surveyed only there comes back near the house.

The ground is a plane or a bowl in closed form; how far linear interpolation may stray from a bowl
z = c r^2 follows from it: at most c R^2 within a triangle whose circumscribed circle has radius R.
"""

import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import Polygon

from runoff.foundation import judge_walls
from runoff.rules import Rules
from runoff.site import (
    REACH_M,
    Building,
    Downspout,
    GroundLine,
    HeightAccuracy,
    Lot,
    LotSide,
    Opening,
    Site,
    SpotHeight,
    Storm,
    Written,
    assumed_rains,
    points_to_survey,
)
from runoff.terrain import build_terrain

HERE = Written("site.toml", 1, "made up")
FOOT = 0.3048
CURVE = 0.004
"""Of the bowl, 1/m: it falls 2 ft over 12 m from the middle of the house."""


def house(width, depth, name="house", kind="basement", at=(0.0, 0.0)):
    x, y = at
    corners = [(x, y), (x + width, y), (x + width, y + depth), (x, y + depth)]
    return Building(name, Polygon(corners), ("front", "right", "rear", "left"), kind, None, HERE)


def lot_around(building, room):
    left, bottom, right, top = building.outline.bounds
    corners = np.array(
        [
            (left - room[3], bottom - room[0]),
            (right + room[1], bottom - room[0]),
            (right + room[1], top + room[2]),
            (left - room[3], top + room[2]),
        ]
    )
    sides = tuple(
        LotSide(name, np.array([corners[k], corners[(k + 1) % 4]]), "neighbor")
        for k, name in enumerate(("front", "right", "rear", "left"))
    )
    return Lot(Polygon(corners), sides, HERE)


def spout(name, building, x, y):
    return Downspout(name, x, y, (), building.name, HERE)


def surveyed(points, height, building, lot):
    """A site whose only heights are those of `height` at the points."""
    storm = Storm(0.1, 3600.0)
    return Site(
        path=Path("site.toml"),
        name="made up",
        units="ft",
        height_accuracy=HeightAccuracy(0.002, "stated accuracy", False),
        storm=storm,
        rains=assumed_rains(storm, Rules()),
        rules=Rules(),
        cell_size=0.3,
        spot_heights=tuple(
            SpotHeight(p.name, p.x, p.y, float(height(p.x, p.y)), "", HERE) for p in points
        ),
        buildings=(building,),
        lot=lot,
    )


def errors_near_house(points, height, building, lot):
    """|made - true| heights in metres at the cells within 9 ft of the house; NaN: not surveyed."""
    terrain = build_terrain(surveyed(points, height, building, lot))
    x, y = np.meshgrid(*terrain.grid.centers())
    near = shapely.contains_xy(building.outline.buffer(9 * FOOT, join_style="mitre"), x, y)
    near &= ~terrain.closed
    return np.abs(terrain.ground - height(x, y))[near]


def plane(x, y):
    return 30.0 + 0.02 * x - 0.035 * y


def bowl_around(building):
    center = building.outline.centroid
    return lambda x, y: 30.0 + CURVE * ((x - center.x) ** 2 + (y - center.y) ** 2)


HOUSE = house(36 * FOOT, 28 * FOOT)
LOT = lot_around(HOUSE, (40 * FOOT, 26 * FOOT, 52 * FOOT, 18 * FOOT))


def test_a_plane_comes_back_everywhere_near_the_house():
    for most in (10, 20, 30):
        points = points_to_survey([HOUSE], LOT, most=most)
        found = errors_near_house(points, plane, HOUSE, LOT)
        assert np.isfinite(found).all()
        assert found.max() < 1e-6


def test_a_bowl_comes_back_within_what_its_curve_allows():
    """With ten points the longest side of a triangle is a wall with 10 ft at either end."""
    height = bowl_around(HOUSE)
    first = errors_near_house(points_to_survey([HOUSE], LOT, most=10), height, HOUSE, LOT)
    all_of_them = errors_near_house(points_to_survey([HOUSE], LOT), height, HOUSE, LOT)
    longest = (36 + 20) * FOOT
    assert np.isfinite(first).all()
    assert first.max() < CURVE * (longest / 2) ** 2
    # The middles of walls, at the wall and away from it, halve that side: a quarter of the error,
    # and what ten points leave is more than that, so that the further twenty earn their keep.
    assert all_of_them.max() < CURVE * (longest / 4) ** 2 + CURVE * (REACH_M / 2) ** 2
    assert all_of_them.max() < 0.5 * first.max()


@pytest.mark.parametrize("size", [(36, 28), (24, 40), (50, 26)])
def test_more_points_are_never_worse(size):
    """The root mean square near the house shrinks with the walls' own points.

    Points farther away turn a few triangles there: no more than a tenth of what is left.
    """
    building = house(size[0] * FOOT, size[1] * FOOT)
    lot = lot_around(building, (30 * FOOT, 20 * FOOT, 40 * FOOT, 20 * FOOT))
    for height in (plane, bowl_around(building)):
        misfits = []
        for most in (10, 12, 14, 16, 22, 30):
            points = points_to_survey([building], lot, most=most)
            found = errors_near_house(points, height, building, lot)
            misfits.append(math.sqrt(np.nanmean(found**2)))
        for fewer, more in pairwise(misfits[:4]):
            assert more <= fewer + 1e-9
        assert max(misfits[4:]) <= 1.1 * misfits[3] + 1e-9


def test_points_stand_on_open_ground_of_the_lot_with_names_of_their_own():
    garage = house(20 * FOOT, 20 * FOOT, "garage", "slab", (40 * FOOT, 20 * FOOT))
    tight = lot_around(HOUSE, (20 * FOOT, 26 * FOOT, 30 * FOOT, 5 * FOOT))
    points = points_to_survey([garage, HOUSE], tight)
    assert len(points) == 30
    assert sum(point.first for point in points) == 10
    assert len({point.name for point in points}) == 30
    built = shapely.union_all([garage.outline, HOUSE.outline]).buffer(-0.05)
    for point in points:
        assert tight.boundary.buffer(0.05).contains(shapely.Point(point.x, point.y)), point
        assert not built.contains(shapely.Point(point.x, point.y)), point
        assert point.reason
    apart = [math.dist((a.x, a.y), (b.x, b.y)) for k, a in enumerate(points) for b in points[:k]]
    assert min(apart) > 0.6 - 1e-9


def test_the_lot_line_cuts_ten_feet_short():
    tight = lot_around(HOUSE, (40 * FOOT, 26 * FOOT, 52 * FOOT, 5 * FOOT))
    away = [p for p in points_to_survey([HOUSE], tight) if p.reason.startswith("lot line, out")]
    assert away
    for point in away:
        assert point.x == pytest.approx(-5 * FOOT)


def test_openings_and_downspouts_are_among_the_first_and_a_swale_follows():
    well = Opening(
        "well", "window well", "house", 3, 10 * FOOT, 1.0, None, None, None, 0.8, True, HERE
    )
    foot = spout("rear", HOUSE, 20 * FOOT, 28.3 * FOOT)
    swale = GroundLine("swale", np.array([[-3.0, 20.0], [3.0, 20.0], [9.0, 21.0]]))
    points = points_to_survey([HOUSE], LOT, [foot], [well], [swale])
    first = [point.reason for point in points if point.first]
    assert any("rim of the well" in reason for reason in first)
    assert any("'rear'" in reason for reason in first)
    along = [(p.x, p.y) for p in points if p.reason == "along the swale"]
    assert along == [(-3.0, 20.0), (3.0, 20.0), (9.0, 21.0)]
    rim = next(p for p in points if "rim" in p.reason)
    assert rim.x == pytest.approx(-0.8)


def test_an_outline_with_a_step_in_it():
    """Each corner that stands out, and the one that does not, lies 10 ft from both its walls."""
    shape = [(0, 0), (14, 0), (14, 6), (8, 6), (8, 12), (0, 12)]
    walls = tuple(f"wall {k}" for k in range(1, 7))
    for corners in (shape, shape[::-1]):
        building = Building("house", Polygon(corners), walls, None, None, HERE)
        points = points_to_survey([building])
        away = [p for p in points if p.name.startswith("A")]
        for point in away:
            gap = building.outline.distance(shapely.Point(point.x, point.y))
            assert REACH_M - 1e-3 <= gap <= math.sqrt(2) * REACH_M + 1e-3
        assert not any(p.name[0] == "C" and (p.x, p.y) == (8.0, 6.0) for p in points if p.first)


def test_no_building_gives_lot_corners_alone():
    assert [p.name for p in points_to_survey([], LOT)] == ["L1", "L2", "L3", "L4"]
    assert points_to_survey([]) == ()


def rolling(random):
    """Ground of a made-up lot: a plane with two waves, steep enough to make walls pass and fail."""
    slope = random.uniform(-0.06, 0.06, 2)
    wave = random.uniform(0.1, 0.35, 2)
    turn = random.uniform(0, 2 * math.pi, 2)
    long = random.uniform(12, 25, 2)

    def height(x, y):
        return (
            30.0
            + slope[0] * x
            + slope[1] * y
            + wave[0] * np.sin(2 * math.pi * x / long[0] + turn[0])
            + wave[1] * np.sin(2 * math.pi * y / long[1] + turn[1])
        )

    return height


def verdicts(site):
    """The verdict of every foot of wall, by wall and distance."""
    terrain = build_terrain(site)
    runs = judge_walls(site, terrain, np.zeros_like(terrain.ground))
    return {
        (run.wall_name, round(station.along_m, 1)): station.verdict
        for run in runs
        for station in run.stations
    }


def changed(site, kept):
    """The share of stations whose verdict is another once only the kept points are there."""
    whole = verdicts(site)
    less = verdicts(replace(site, spot_heights=kept))
    return sum(less.get(place) != verdict for place, verdict in whole.items()) / len(whole)


def test_the_first_ten_matter_more_than_ten_at_random():
    """Over fifty made-up lots, leaving them out changes more verdicts at the walls."""
    first_out, random_out = [], []
    for seed in range(50):
        random = np.random.default_rng(seed)
        building = house(random.uniform(8, 14), random.uniform(7, 11))
        lot = lot_around(building, random.uniform(6, 14, 4))
        points = points_to_survey([building], lot)
        site = surveyed(points, rolling(random), building, lot)
        spots = site.spot_heights
        dropped = set(random.choice(len(spots), 10, replace=False).tolist())
        first_out.append(changed(site, spots[10:]))
        random_out.append(changed(site, tuple(s for k, s in enumerate(spots) if k not in dropped)))
    assert np.mean(first_out) > np.mean(random_out)
    # A fair coin gives 32 or more of 50 once in thirty times (binomial distribution).
    assert sum(a > b for a, b in zip(first_out, random_out, strict=True)) >= 32
