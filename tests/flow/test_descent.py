"""Water on triangles against closed forms and against small steps downhill, written plainly."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import Delaunay

from runoff.flow import AT_CORNER, OFF_THE_GROUND, STOPPED, Slopes, Stops
from runoff.terrain import Grid


def tilted_net(slope=(0.1, 0.0), cells=6):
    x, y = (each.ravel() for each in np.meshgrid(np.arange(cells + 1.0), np.arange(cells + 1.0)))
    xyz = np.column_stack([x, y, 10 + slope[0] * x + slope[1] * y])
    edge = (x == 0) | (y == 0) | (x == cells) | (y == cells)
    return xyz, Delaunay(xyz[:, :2]).simplices.astype(np.int64), edge


@pytest.mark.parametrize("slope", [(0.1, 0.0), (0.1, 0.03), (-0.2, 0.1), (0.0, -0.05)])
def test_on_a_plane_water_runs_straight_down(slope):
    xyz, triangles, edge = tilted_net(slope)
    places = np.random.default_rng(1).uniform(2.6, 3.4, (20, 2))
    ends = Slopes(xyz, triangles, edge).follow(places)
    assert (ends.how == OFF_THE_GROUND).all()
    down = -np.array(slope) / np.hypot(*slope)
    way = ends.xy - places
    assert way @ [down[1], -down[0]] == pytest.approx(0.0, abs=1e-9)
    assert (way @ down > 0).all()
    out = np.abs(ends.xy - 3.0).max(axis=1)
    assert out == pytest.approx(3.0, abs=1e-9)


def test_along_a_wall_water_runs_to_its_lower_end():
    """A plane that falls south-west; the west side is a wall, so all leaves at the south."""
    xyz, triangles, _ = tilted_net((0.1, 0.01))
    south = xyz[:, 1] == 0
    ends = Slopes(xyz, triangles, south).follow(np.array([[2.0, 4.0], [0.5, 5.5]]))
    assert (ends.how == OFF_THE_GROUND).all()
    assert ends.xy == pytest.approx(0.0, abs=1e-9)


def test_water_is_stopped_where_asked():
    xyz, triangles, edge = tilted_net()
    stop = np.zeros((12, 12), bool)
    stop[:, 3] = True  # 1.5 to 2 m from the left
    grid = Grid(12, 12, 0.5, 0.0, 0.0)
    slopes = Slopes(xyz, triangles, edge)
    ends = slopes.follow(np.array([[4.3, 3.3], [1.2, 3.3]]), None, Stops(stop, grid))
    assert ends.how.tolist() == [STOPPED, OFF_THE_GROUND]
    assert grid.center(*divmod(int(ends.at[0]), 12)) == (1.75, 3.25)


def steps_down(xyz, mesh, at, step, count):
    """Small steps down the triangle underfoot, all places at once, up to beside a corner.

    At a corner with two ways down the steeper one takes all; a step beside it might take the other.
    """
    heights = xyz[mesh.simplices][:, :, 2]
    gradient = np.einsum("tij,ti->tj", mesh.transform[:, :2], heights[:, :2] - heights[:, 2:])
    downhill = -gradient / np.hypot(*gradient.T)[:, None]
    for _ in range(count):
        away = np.hypot(*(xyz[:, None, :2] - at).transpose(2, 0, 1)).min(axis=0)
        at = at + step * (away > 0.05)[:, None] * downhill[mesh.find_simplex(at)]
    return at


@settings(max_examples=6, deadline=None, derandomize=True)
@given(st.integers(0, 2**32 - 1))
def test_rough_ground_sends_water_where_small_steps_lead(seed):
    """Where 2 m of small steps lead, water ends as it does from where the steps began."""
    rng = np.random.default_rng(seed)
    xy = rng.random((40, 2)) * 20
    xyz = np.column_stack([xy, 0.05 * np.hypot(*(xy - 10).T) + rng.random(40) * 0.6])
    mesh = Delaunay(xy)
    edge = np.zeros(40, bool)
    edge[np.unique(mesh.convex_hull)] = True
    slopes = Slopes(xyz, mesh.simplices.astype(np.int64), edge)
    places = rng.uniform(6, 14, (60, 2))
    ends = slopes.follow(places)
    beside = [slopes.follow(places + np.array(by)).at for by in ((0.1, 0), (-0.1, 0), (0, 0.1))]
    firm = (ends.at == np.array(beside)).all(axis=0) & (ends.how == AT_CORNER)  # off divides
    stepped = slopes.follow(steps_down(xyz, mesh, places, 0.01, 200))
    np.testing.assert_array_equal(stepped.at[firm], ends.at[firm])
    assert np.count_nonzero(firm) > 30


@pytest.mark.parametrize("seed", range(20))
def test_water_stops_at_the_first_stopping_cell_however_far_it_lies(seed):
    """Down one triangle it runs straight; what stops it is looked for every third of a cell."""
    rng = np.random.default_rng(seed)
    rows, cols, size = 40, 50, 0.25
    grid = Grid(rows, cols, size, -1.0, 3.0)
    mask = rng.random((rows, cols)) < rng.choice([0.004, 0.01, 0.03])
    corners = np.array([(-60.0, -40.0), (80.0, -40.0), (6.0, 90.0)])
    xyz = np.column_stack([corners, -0.05 * corners @ [np.cos(seed), np.sin(seed)]])
    plane = Slopes(xyz, np.array([[0, 1, 2]]), np.ones(3, bool))
    places = rng.uniform((-3, 1), (14, 15), (200, 2))
    ends, free = plane.follow(places, None, Stops(mask, grid)), plane.follow(places)
    told = np.where(ends.how == STOPPED, ends.at, -1)
    expected = []
    for place, far in zip(places, free.xy, strict=True):
        pieces = int(3 * np.hypot(*(far - place)) / size) + 1
        x, y = (place + np.linspace(0, 1, pieces + 1)[:, None] * (far - place)).T
        col = np.floor((x + 1.0) / size).astype(int)
        row = rows - 1 - np.floor((y - 3.0) / size).astype(int)
        on = (row >= 0) & (row < rows) & (col >= 0) & (col < cols)
        met = [r * cols + c for r, c in zip(row[on], col[on], strict=True) if mask[r, c]]
        expected.append(met[0] if met else -1)
    assert (told >= 0).any()
    assert told.tolist() == expected
