"""The triangulation and its sampling against scipy and matplotlib."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from matplotlib.tri import LinearTriInterpolator, Triangulation
from scipy.spatial import Delaunay

from runoff.terrain import (
    Grid,
    line_cells,
    sample_triangles,
    thread_edges,
    triangulate,
    unique_edges,
)

NO_EDGES = np.empty((0, 2), dtype=np.int64)


def scattered(seed, count=120):
    """Random positions in a 40 by 30 m lot far from the origin, as on a map."""
    return np.random.default_rng(seed).uniform(
        (500_000, 4_400_000), (500_040, 4_400_030), (count, 2)
    )


def as_sets(triangles):
    """Triangles without regard to order."""
    return {tuple(sorted(t)) for t in triangles.tolist()}


@pytest.mark.parametrize("seed", range(3))
def test_without_edges_it_is_scipys_delaunay_triangulation(seed):
    xy = scattered(seed)
    _, triangles = triangulate(xy, NO_EDGES)
    assert as_sets(triangles) == as_sets(Delaunay(xy - xy.mean(axis=0)).simplices)


@pytest.mark.parametrize("seed", range(3))
def test_asked_edges_are_kept_and_crossed_by_none(seed):
    xy = scattered(seed)
    low, high = np.argmin(xy[:, 0]), np.argmax(xy[:, 0])
    asked = thread_edges(xy, np.array([[low, high]]))
    _, triangles = triangulate(xy, asked)
    edges = unique_edges(triangles)
    assert {tuple(e) for e in asked.tolist()} <= {tuple(e) for e in edges.tolist()}
    lines = shapely.linestrings(xy[edges])
    assert not shapely.crosses(lines, shapely.linestrings(xy[[low, high]])).any()
    assert shapely.area(shapely.polygons(xy[triangles])).sum() == pytest.approx(
        shapely.MultiPoint(xy).convex_hull.area
    )


@pytest.mark.parametrize("seed", range(3))
def test_sampling_agrees_with_matplotlib(seed):
    xy = scattered(seed) - [500_000, 4_400_000]
    z = np.random.default_rng(seed).uniform(0, 3, len(xy))
    _, triangles = triangulate(xy, NO_EDGES)
    grid = Grid(90, 120, 1 / 3, 0.0, 0.0)
    ours = sample_triangles(np.column_stack([xy, z]), triangles, grid)
    theirs = LinearTriInterpolator(Triangulation(*xy.T, triangles), z)(
        *np.meshgrid(*grid.centers())
    ).filled(np.nan)
    assert np.array_equal(np.isnan(ours), np.isnan(theirs))
    assert np.nanmax(np.abs(ours - theirs)) < 1e-9


@pytest.mark.parametrize("seed", range(5))
def test_the_cells_of_a_line_share_sides_and_hold_all_of_it(seed):
    line = np.random.default_rng(seed).uniform(1, 19, (4, 2))
    grid = Grid(40, 40, 0.5, 0.0, 0.0)
    cells = line_cells(line, grid)
    assert (np.abs(np.diff(cells, axis=0)).sum(axis=1) == 1).all()
    held = {tuple(cell) for cell in cells.tolist()}
    for x, y in shapely.get_coordinates(shapely.segmentize(shapely.linestrings(line), 0.01)):
        assert grid.cell(x, y) in held
