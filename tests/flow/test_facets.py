"""Paths over the surface against closed forms: planes, swales, cones, mounds and walls.

D8 receivers and filled heights come from a slow priority-flood written here, so that the closed
forms check the paths alone; the last checks run on the engine's own receivers.
"""

import heapq
from itertools import pairwise

import numpy as np
import pytest

from runoff.flow import (
    AT_SINK,
    BLOCKED,
    CODE,
    IN_DEPRESSION,
    LEFT_GRID,
    LEFT_SURVEY,
    OUT_FULL,
    OUTSIDE,
    PIT,
    SINK,
    descend,
    fill,
    find_basins,
    prepare,
    surface_path,
)

STEPS = [(0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0), (1, 1)]


def neighbors(shape, row, col):
    for code, (dr, dc) in enumerate(STEPS):
        if 0 <= row + dr < shape[0] and 0 <= col + dc < shape[1]:
            yield code, row + dr, col + dc


def slow_fill(z, closed):
    """Filled heights and D8 codes by priority-flood (Barnes, Lehman & Mulla 2014)."""
    filled = z.copy()
    d8 = np.full(z.shape, PIT, dtype=np.uint8)
    done = closed.copy()
    queue = []
    for row, col in np.ndindex(z.shape):
        border = row in (0, z.shape[0] - 1) or col in (0, z.shape[1] - 1)
        if not closed[row, col] and (border or np.isnan(z[row, col])):
            height = -np.inf if np.isnan(z[row, col]) else z[row, col]
            queue.append((height, len(queue), row, col))
            done[row, col] = True
            d8[row, col] = OUTSIDE
    heapq.heapify(queue)
    count = len(queue)
    while queue:
        level, _, row, col = heapq.heappop(queue)
        for code, r, c in neighbors(z.shape, row, col):
            if not done[r, c]:
                done[r, c] = True
                filled[r, c] = max(level, z[r, c])
                d8[r, c] = (code + 4) % 8
                count += 1
                heapq.heappush(queue, (filled[r, c], count, r, c))
    for row, col in np.ndindex(z.shape):
        if closed[row, col] or d8[row, col] == OUTSIDE:
            continue
        steepest = 0.0
        for code, r, c in neighbors(z.shape, row, col):
            slope = (filled[row, col] - filled[r, c]) / np.hypot(r - row, c - col)
            if not closed[r, c] and (slope > steepest or np.isnan(z[r, c])):
                steepest = np.inf if np.isnan(z[r, c]) else slope
                d8[row, col] = code
    return filled, d8


def follow(z, start, closed=None):
    """Path with every depression crossed as if brim-full: (points, status)."""
    closed = np.zeros(z.shape, dtype=bool) if closed is None else closed
    filled, d8 = slow_fill(z, closed)
    points, status = surface_path(z, closed, d8, filled, start)
    while status == IN_DEPRESSION:
        row, col = cell_of_depression(points[-1], z, filled)
        level = filled[row, col]
        while filled[row, col] >= level and d8[row, col] < 8:
            row, col = row + STEPS[d8[row, col]][0], col + STEPS[d8[row, col]][1]
        rest, status = surface_path(z, closed, d8, filled, (col, row))
        points = np.vstack([points, rest])
    return points, status


def cell_of_depression(point, z, filled):
    """The flooded cell that a path stopped in, or at the edge of."""
    for dy in (0, -1e-6, 1e-6):
        for dx in (0, -1e-6, 1e-6):
            row, col = int(np.floor(point[1] + dy + 0.5)), int(np.floor(point[0] + dx + 0.5))
            if filled[row, col] > z[row, col]:
                return row, col
    raise AssertionError(f"no flooded cell at {point}")


def height_at(z, x, y):
    """Height of the surface at a point within the outermost centers."""
    r = min(max(int(np.floor(y)), 0), z.shape[0] - 2)
    c = min(max(int(np.floor(x)), 0), z.shape[1] - 2)
    corners = z[[r, r, r + 1, r + 1], [c, c + 1, c + 1, c]]
    middle = corners.mean()
    u, v = x - c - 0.5, y - r - 0.5
    if abs(v) >= abs(u):  # the upper or the lower triangle
        a, b = (corners[0], corners[1]) if v < 0 else (corners[3], corners[2])
        along, depth = u, abs(v)
    else:
        a, b = (corners[0], corners[3]) if u < 0 else (corners[1], corners[2])
        along, depth = v, abs(u)
    return middle + ((a + b) / 2 - middle) * 2 * depth + (b - a) * along


def bearing(points):
    """Degrees counterclockwise from east, of the line from the first point to the last."""
    dx, dy = points[-1] - points[0]
    return np.degrees(np.arctan2(-dy, dx))


def turn(a, b):
    return abs((a - b + 180.0) % 360.0 - 180.0)


def length(points):
    return np.hypot(*np.diff(points, axis=0).T).sum()


def plane(degrees, size=161, fall=0.005):
    """Heights that fall by `fall` a cell toward a bearing; the middle cell is at 10 m."""
    aspect = np.radians(degrees)
    row, col = np.mgrid[0:size, 0:size] - size // 2
    return 10.0 - fall * (np.cos(aspect) * col - np.sin(aspect) * row)


BEARINGS = [*range(0, 360, 10), 45, 135, 225, 315, *np.random.default_rng(3).uniform(0, 360, 12)]


@pytest.mark.parametrize("degrees", BEARINGS)
def test_path_on_a_plane_is_straight(degrees):
    # 0.25 m cells: from 15 m uphill of the middle through it, 30 m and more.
    z = plane(degrees)
    aspect = np.radians(degrees)
    start = (80 - 60 * np.cos(aspect), 80 + 60 * np.sin(aspect))
    closed = np.zeros(z.shape, dtype=bool)
    # A plane has no depressions, and one receiver of its own for every cell.
    d8 = np.full(z.shape, round(degrees / 45) % 8, dtype=np.uint8)
    points, status = surface_path(z, closed, d8, z, start)
    assert status == LEFT_GRID
    assert turn(bearing(points), degrees) < 1e-7
    x, y = points[-1]
    assert min(x + 0.5, y + 0.5, 160.5 - x, 160.5 - y) == pytest.approx(0.0, abs=1e-9)
    assert length(points) == pytest.approx(np.hypot(*(points[-1] - points[0])), rel=1e-9)
    assert length(points) * 0.25 >= 30.0


@pytest.mark.parametrize("degrees", [0, 17, 45, 63.4, 90, 128, 211, 300])
def test_path_stays_in_the_bottom_of_a_swale(degrees):
    # Side slopes of 10 %, the bottom falls 2 %; 0.25 m cells.
    aspect = np.radians(degrees)
    row, col = np.mgrid[0:81, 0:81] - 40.0
    along = np.cos(aspect) * col - np.sin(aspect) * row
    beside = np.sin(aspect) * col + np.cos(aspect) * row
    z = 0.25 * (0.1 * np.abs(beside) - 0.02 * along)
    start_along, start_beside = -25.0, 6.0
    start = (
        40 + np.cos(aspect) * start_along + np.sin(aspect) * start_beside,
        40 - np.sin(aspect) * start_along + np.cos(aspect) * start_beside,
    )
    points, status = follow(z, start)
    assert status == LEFT_GRID
    x, y = points[:, 0] - 40, points[:, 1] - 40
    from_line = np.abs(np.sin(aspect) * x + np.cos(aspect) * y)
    along = np.cos(aspect) * x - np.sin(aspect) * y
    # The side slope meets the bottom 6 x 0.02 / 0.1 = 1.2 cells on; to the edge it stays there.
    inside = (along > -22.0) & (np.abs(x) <= 40) & (np.abs(y) <= 40)
    assert inside.sum() > 20
    assert from_line[inside].max() <= 1.0
    assert along[-1] > 38.0


@pytest.mark.parametrize("degrees", [0, 11, 30, 45, 77, 90, 160, 250, 333])
def test_paths_down_a_cone_are_radial(degrees):
    row, col = np.mgrid[0:141, 0:141] - 70.0
    z = 10.0 - 0.02 * np.hypot(row, col)
    aspect = np.radians(degrees)
    start = (70 + 12 * np.cos(aspect), 70 - 12 * np.sin(aspect))
    points, status = follow(z, start)
    assert status == LEFT_GRID
    outward = np.degrees(np.arctan2(70 - points[:, 1], points[:, 0] - 70))
    # A degree is a fifth of a cell at the start; the surface of triangles is no closer to a cone.
    assert turn(outward, degrees).max() < 1.0
    assert turn(bearing(points), degrees) < 1.0
    assert length(points) == pytest.approx(np.hypot(*(points[-1] - points[0])), rel=0.01)


@pytest.mark.parametrize(
    ("start", "end"),
    [
        ((52.3, 29.6), (80.5, 29.6)),
        ((12.2, 32.1), (-0.5, 32.1)),
        ((38.7, 24.4), (38.7, -0.5)),
        ((41.9, 33.8), (41.9, 60.5)),
    ],
)
def test_paths_down_a_hipped_mound_run_square_to_its_eaves(start, end):
    row, col = np.mgrid[0:61, 0:81]
    z = 3.0 - 0.1 * np.maximum(np.abs(col - 40) - 10, np.abs(row - 30))
    points, status = follow(z, start)
    assert status == LEFT_GRID
    np.testing.assert_allclose(points[-1], end, atol=1e-9)
    assert length(points) == pytest.approx(np.hypot(*(points[-1] - points[0])))


def test_wall_across_a_plane_is_followed_to_its_end():
    # Falls to the south and a little to the east; the wall reaches from column 10 to 40.
    z = plane(-80.0, size=61)
    closed = np.zeros(z.shape, dtype=bool)
    closed[30:32, 10:41] = True
    points, status = follow(z, (20.3, 12.2), closed)
    assert status == LEFT_GRID
    assert points[-1][1] == 60.5
    assert points[points[:, 1] == 29.0][:, 0].max() == 41.0  # the first centers past its end
    assert not enters(points, closed)
    # Before the wall and past its end it runs straight down the plane.
    assert turn(bearing(points[points[:, 1] < 28.0]), -80.0) < 1e-6
    assert turn(bearing(points[points[:, 1] > 33.0]), -80.0) < 1e-6


def enters(points, closed):
    """Whether a path enters a closed cell."""
    # An even number: the middle of a diagonal step touches two cells more.
    share = np.linspace(0.013, 0.987, 40)[:, None]
    for a, b in pairwise(points):
        x, y = (a + share * (b - a)).T
        if closed[np.floor(y + 0.5).astype(int), np.floor(x + 0.5).astype(int)].any():
            return True
    return False


@pytest.mark.parametrize("degrees", [-90, -60, -135, 180])
def test_diagonal_wall_does_not_leak(degrees):
    # Drawn 4-connected across the whole grid; all water starts above it.
    z = plane(degrees, size=31)
    row, col = np.mgrid[0:31, 0:31]
    closed = (row + 31 == col + 40) | (row + 31 == col + 41)
    filled, d8 = slow_fill(z, closed)
    for r, c in np.argwhere(~closed & (row + 31 < col + 40))[::7]:
        points, status = surface_path(z, closed, d8, filled, (c + 0.2, r - 0.1))
        assert status in (LEFT_GRID, IN_DEPRESSION, BLOCKED)
        assert (points[:, 1] - points[:, 0] < 9.5).all()


def rough_terrain(seed, size=26):
    """Random heights with plateaus, walls and holes of the survey."""
    rng = np.random.default_rng(seed)
    row, col = np.mgrid[0:size, 0:size]
    z = rng.random((size, size)) * 0.4 - 0.02 * (row + 0.5 * col)
    if seed % 2:
        z = np.round(z, 1)
    closed = rng.random(z.shape) < 0.06
    z[rng.random(z.shape) < 0.02] = np.nan
    z[closed] = np.nan if seed % 3 else 99.0
    return z, closed


def engine_fill(z, closed):
    """Filled heights and D8 codes by the engine."""
    filled, code = fill(find_basins(prepare(z, closed)))
    return filled.reshape(z.shape), (code & CODE).reshape(z.shape)


@pytest.mark.parametrize("fill_by", [slow_fill, engine_fill])
@pytest.mark.parametrize("seed", range(6))
def test_every_path_ends_and_never_climbs(seed, fill_by):
    z, closed = rough_terrain(seed)
    filled, d8 = fill_by(z, closed)
    rng = np.random.default_rng(seed)
    ends = set()
    for row, col in np.ndindex(z.shape):
        x, y = np.array((col, row)) + rng.uniform(-0.5, 0.5, 2)
        if (row + col) % 4 == 0:  # on a center, a middle or the border between two cells
            x, y = np.array((col, row)) - rng.choice([0.0, 0.5], 2)
        out = np.empty((3000, 2))
        count, status = descend(z, closed, d8, filled, x, y, out)
        assert status != OUT_FULL, (x, y)
        ends.add(status)
        assert (status == BLOCKED) == closed[row, col]
        if status == BLOCKED:
            continue
        points = out[:count]
        assert not enters(points, closed)
        if status == IN_DEPRESSION:
            cell_of_depression(points[-1], z, filled)
        # The way from a start beside a wall to its cell's center is no descent, nor is the last
        # stretch over the edge on the surface.
        heights = np.array([height_at(z, *p) for p in points[1:-1]])
        assert (np.diff(heights[np.isfinite(heights)]) <= 1e-9).all(), (x, y)
    assert ends >= {LEFT_GRID, LEFT_SURVEY, IN_DEPRESSION, BLOCKED}


def test_flat_ground_is_left_by_receivers():
    z = np.full((15, 21), 2.5)
    for start in [(10.0, 7.0), (10.3, 6.6), (10.5, 7.5), (3.2, 4.0)]:
        points, status = follow(z, start)
        assert status == LEFT_GRID
        assert 2.0 < length(points) < 16.0


@pytest.mark.parametrize("shape", [(1, 1), (1, 6), (6, 1), (2, 2), (3, 3)])
def test_narrow_grids(shape):
    z = np.arange(float(np.prod(shape))).reshape(shape)
    points, status = follow(z, (shape[1] / 2 - 0.6, shape[0] / 2 - 0.7))
    assert status == LEFT_GRID
    x, y = points[-1]
    assert min(x + 0.5, y + 0.5, shape[1] - 0.5 - x, shape[0] - 0.5 - y) == pytest.approx(0.0)


def test_start_in_a_border_cell_goes_out():
    z = plane(-60.0, size=11)
    out_below, _ = follow(z, (5.0, 10.2))
    assert turn(bearing(out_below), -60.0) < 1e-9
    against_the_slope, _ = follow(z, (5.0, -0.3))
    np.testing.assert_allclose(against_the_slope, [(5.0, -0.3), (5.0, -0.5)])


def test_path_ends_at_the_edge_of_the_survey():
    z = plane(-80.0, size=31)
    z[15:20, 5:25] = np.nan
    points, status = follow(z, (12.0, 4.0))
    assert status == LEFT_SURVEY
    # Half a cell beyond the last known centers, straight down the plane.
    assert points[-1][1] == pytest.approx(14.5)
    assert turn(bearing(points), -80.0) < 1e-6


def test_path_stops_where_it_enters_a_depression():
    z = plane(0.0, size=21)
    z[8:13, 12:15] -= 0.2
    filled, d8 = slow_fill(z, np.zeros(z.shape, dtype=bool))
    points, status = surface_path(z, np.zeros(z.shape, dtype=bool), d8, filled, (4.0, 10.0))
    assert status == IN_DEPRESSION
    np.testing.assert_allclose(points[-1], (11.5, 10.0))
    assert filled[10, 11] == z[10, 11]


def test_path_stops_at_a_drain_that_it_only_grazes():
    z = plane(0.0, size=21)
    d8 = np.zeros(z.shape, dtype=np.uint8)
    d8[10, 12] = SINK
    closed = np.zeros(z.shape, dtype=bool)
    points, status = surface_path(z, closed, d8, z, (4.3, 10.45))
    assert status == AT_SINK
    np.testing.assert_allclose(points[-1], (11.5, 10.45))
    points, status = surface_path(z, closed, d8, z, (4.3, 10.55))
    assert status == LEFT_GRID


def test_no_way_out_ends_in_the_pit():
    z = plane(-90.0, size=9)
    closed = np.zeros(z.shape, dtype=bool)
    closed[[0, -1], :] = closed[:, [0, -1]] = True
    points, status = follow_terminal(z, closed, (4.2, 3.0))
    assert status == IN_DEPRESSION
    assert points[-1][1] == 7.0


def follow_terminal(z, closed, start):
    filled, d8 = slow_fill(z, closed)
    return surface_path(z, closed, d8, filled, start)
