"""Views settled by arithmetic on arrays, against the geometry library asked one by one."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from runoff.terrain import Obstacles

FAR_OFF = np.array([400_000.0, 4_000_000.0])
HOUSES = shapely.union_all([shapely.box(3, 3, 8, 9), shapely.box(8, 4, 12, 6)])
NOTHING = shapely.Polygon()


def places(seed, whole):
    """Ninety places in 20 x 20 m; on whole metres many views run along or just touch an edge."""
    xy = np.random.default_rng(seed).uniform(0, 20, (90, 2))
    return np.round(xy) if whole else xy


def each_by_the_library(obstacles, start, end):
    """As the library says of views drawn in by 1 mm at both ends, and houses shrunk by 1 mm."""
    length = np.maximum(np.linalg.norm(end - start, axis=1), 1e-12)[:, None]
    step = (end - start) * np.minimum(0.001 / length, 0.25)
    views = shapely.linestrings(np.stack([start + step, end - step], axis=1))
    inside = shapely.buffer(obstacles.buildings, -0.001, join_style="mitre")
    return shapely.intersects(views, inside) | shapely.intersects(views, obstacles.lines)


@pytest.mark.parametrize("origin", [np.zeros(2), FAR_OFF], ids=["here", "far off"])
@pytest.mark.parametrize("whole", [True, False])
@pytest.mark.parametrize("houses", [HOUSES, NOTHING], ids=["houses", "no house"])
@pytest.mark.parametrize("with_lines", [True, False])
def test_a_view_is_blocked_as_the_library_says(origin, whole, houses, with_lines):
    xy = places(7, whole)
    lines = [shapely.LineString(xy[:9] + origin), shapely.LineString(xy[9:30] + origin)]
    obstacles = Obstacles(
        shapely.transform(houses, lambda corners: corners + origin),
        shapely.union_all(lines if with_lines else []),
    )
    start, end = xy[np.random.default_rng(8).integers(0, 90, (2, 1000))] + origin
    blocked = obstacles.blocked(start, end)
    assert np.array_equal(blocked, each_by_the_library(obstacles, start, end))
    assert blocked.any() == (with_lines or not houses.is_empty)


def test_no_view_asked_for_is_no_answer():
    assert Obstacles(HOUSES, NOTHING).blocked(np.empty((0, 2)), np.empty((0, 2))).shape == (0,)
