"""The person's own points and elevation data together, on grounds that are known."""

import numpy as np
import pytest

from runoff import inspect, read_site
from runoff.terrain import build_terrain
from tests.lots.on_map import (
    EAST,
    NORTH,
    off_by,
    on_map,
    only_problem,
    plane,
    site_file,
    terrain_of,
    tile,
)
from tests.told import told

BOTH = 'elevation = "dem.tif"\nspot_heights = "spots.csv"\nheights_by = "laser level"'
LOW = 100.0
"""The survey's heights are so much lower than the tile's: its mark is called 100."""


def swale(x, y):
    """The plane with a 30 cm swale along the house's front, which a tile does not show."""
    return plane(x, y) - 0.3 * np.exp(-(((y + 3.0) / 1.0) ** 2))


def shots(folder, positions, surface):
    """A sheet of spot heights taken on a surface, lower by the survey's datum."""
    rows = [
        f"P{k},{x:.3f},{y:.3f},{surface(x, y) - LOW:.4f}"
        for k, (x, y) in enumerate(positions, start=1)
    ]
    (folder / "spots.csv").write_text("name,x,y,z\n" + "\n".join(rows) + "\n")


def around_the_house(step=1.0, out=5.0):
    """Positions on a grid out to `out` metres from a 12 by 8 m house, none inside it."""
    x, y = np.meshgrid(
        np.arange(-out, 12 + out + 1e-9, step), np.arange(-out, 8 + out + 1e-9, step)
    )
    at = np.column_stack([x.ravel(), y.ravel()])
    inside = (at[:, 0] > 0) & (at[:, 0] < 12) & (at[:, 1] > 0) & (at[:, 1] < 8)
    return at[~inside]


def profile(terrain, x, ys):
    return np.array([terrain.ground[terrain.grid.cell(x, y)] for y in ys])


def test_the_bias_is_removed_and_shown(tmp_path):
    tile(tmp_path / "dem.tif", surface=lambda x, y: on_map(x, y) + 0.13)
    shots(tmp_path, around_the_house(), plane)
    terrain = terrain_of(site_file(tmp_path, BOTH))
    x, y = np.meshgrid(*terrain.grid.centers())
    off = terrain.ground - (plane(x, y) - LOW)
    assert np.nanmax(np.abs(off)) < 1e-3
    (said,) = [n for n in told(terrain) if "median difference" in n]
    assert "stands 100.13 m above your" in said
    assert "lowered" in said


def test_own_points_give_the_ground_near_the_house_and_blend_out(tmp_path):
    tile(tmp_path / "dem.tif")
    shots(tmp_path, around_the_house(0.5), swale)
    terrain = terrain_of(site_file(tmp_path, BOTH))
    near = np.arange(-4.9, -0.2, 0.1)
    found = profile(terrain, 6.1, near)
    rows = [terrain.grid.center(*terrain.grid.cell(6.1, y)) for y in near]
    known = np.array([swale(x, y) - LOW for x, y in rows])
    assert np.abs(found - known).max() < 0.03
    assert np.ptp(found - (plane(6.1, near) - LOW)) > 0.25
    far = terrain.ground - (plane(*np.meshgrid(*terrain.grid.centers())) - LOW)
    x, y = np.meshgrid(*terrain.grid.centers())
    beyond = (np.hypot(np.maximum(np.maximum(-5 - x, x - 17), 0),
                       np.maximum(np.maximum(-5 - y, y - 13), 0)) > 4.58 + 9.15)  # fmt: skip
    assert np.nanmax(np.abs(far[beyond])) < 0.01
    assert any("blended out over the next 9.14 m" in n for n in told(terrain))


def test_no_step_at_the_edge_of_the_own_points(tmp_path):
    """A tile that leans against the survey by 5 cm a metre: no jump from cell to cell."""
    tile(tmp_path / "dem.tif", surface=lambda x, y: on_map(x, y) + 0.05 * (x - EAST))
    shots(tmp_path, around_the_house(), plane)
    terrain = terrain_of(site_file(tmp_path, BOTH))
    step = np.abs(np.diff(terrain.ground, axis=1))
    steepest = 0.03 + 0.05 + 1.5 * 0.05 * 13 / 9.144
    assert np.nanmax(step) < steepest * terrain.grid.cell_size + 0.01
    row, col = terrain.grid.cell(20.0, 4.0)
    ahead = terrain.ground[row, col] - (plane(*terrain.grid.center(row, col)) - LOW)
    assert 0.0 < ahead < 0.05 * 14.0


def test_points_all_around_carry_the_surveys_accuracy(tmp_path):
    tile(tmp_path / "dem.tif")
    shots(tmp_path, around_the_house(), plane)
    site = read_site(site_file(tmp_path, BOTH))
    terrain = build_terrain(site)
    assert terrain.accuracy == site.height_accuracy
    assert any("cover the ground" in n for n in told(terrain))
    assert not inspect(site).site.height_accuracy.indication_only


def test_two_points_at_each_place_along_the_walls_are_enough(tmp_path):
    """One at the wall and one 10 ft out, every 4 m and at the corners both ways."""
    tile(tmp_path / "dem.tif")
    out = 3.048
    along = [(x, y) for x in (0, 4, 8, 12) for y in (0, -out, 8, 8 + out)]
    across = [(x, y) for y in (0.01, 4, 7.99) for x in (-out, -0.01, 12.01, 12 + out)]
    shots(tmp_path, [*along, *across], plane)
    terrain = terrain_of(site_file(tmp_path, BOTH))
    assert not terrain.accuracy.indication_only
    assert off_by(terrain, lambda x, y: plane(x, y) - LOW) < 1e-3


def test_points_on_one_side_leave_an_indication(tmp_path):
    tile(tmp_path / "dem.tif")
    front = [p for p in around_the_house() if p[1] <= 0.0]
    shots(tmp_path, front, plane)
    site = read_site(site_file(tmp_path, BOTH))
    terrain = build_terrain(site)
    assert terrain.accuracy.indication_only
    assert terrain.accuracy.sigma == pytest.approx(0.1)
    (said,) = [n for n in told(terrain) if "do not cover" in n]
    assert "house rear" in said
    assert "house front" not in said
    assert inspect(site).site.height_accuracy.indication_only


def test_coarse_data_says_nothing_on_grade_however_finely_it_is_divided(tmp_path):
    """Cells of 4 m are divided for the shots; only where these tell the ground is grade judged."""
    tile(tmp_path / "dem.tif", (-40, -40, 52, 48), 4.0)
    shots(tmp_path, around_the_house(), plane)
    covered = inspect(read_site(site_file(tmp_path, BOTH)))
    assert covered.terrain.data_cell is None
    assert any(run.verdict != "not surveyed" for run in covered.at_the_wall.runs)
    shots(tmp_path, [p for p in around_the_house() if p[1] <= 0.0], plane)
    one_side = inspect(read_site(site_file(tmp_path, BOTH)))
    assert one_side.terrain.grid.cell_size < 0.4
    assert one_side.terrain.data_cell == pytest.approx(4.0)
    assert {run.verdict for run in one_side.at_the_wall.runs} == {"not surveyed"}


@pytest.mark.parametrize("positions", [[(-3.0, -3.0)], [(-3.0, -3.0), (15.0, -3.0), (6.0, -3.0)]])
def test_few_points_move_the_tile_and_bend_it_to_them(tmp_path, positions):
    """One shot, or three on a line, make no triangle; the tile still meets them."""
    tile(tmp_path / "dem.tif", surface=lambda x, y: on_map(x, y) + 0.02 * (x - EAST))
    shots(tmp_path, positions, plane)
    terrain = terrain_of(site_file(tmp_path, BOTH))
    for x, y in positions:
        row, col = terrain.grid.cell(x, y)
        px, py = terrain.grid.center(row, col)
        assert terrain.ground[row, col] == pytest.approx(plane(px, py) - LOW, abs=0.02)
    assert terrain.accuracy.indication_only


def test_points_off_the_tile_cannot_be_put_together_with_it(tmp_path):
    tile(tmp_path / "dem.tif", (-40, -40, 52, 20))
    shots(tmp_path, [(0, 30), (5, 31), (9, 35)], plane)
    with pytest.raises(Exception, match="none of 3 is") as caught:
        terrain_of(site_file(tmp_path, BOTH))
    assert caught.value.problems[0].file == "spots.csv"


def test_points_fill_a_hole_beside_the_house(tmp_path):
    def holed(x, y):
        return np.where((x < EAST) & (x > EAST - 3), -9999.0, on_map(x, y))

    tile(tmp_path / "dem.tif", surface=holed, nodata=-9999.0)
    shots(tmp_path, around_the_house(), plane)
    terrain = terrain_of(site_file(tmp_path, BOTH))
    assert not any("no heights on" in n for n in told(terrain))
    row, col = terrain.grid.cell(-1.5, 4.0)
    assert terrain.ground[row, col] == pytest.approx(plane(-1.5, 4.0) - LOW, abs=0.02)


def test_a_benchmark_brings_the_tile_to_the_surveys_datum(tmp_path):
    tile(tmp_path / "dem.tif")
    mark = 'benchmark = { name = "nail", height = 30, map_height = "200.5 m" }'
    path = site_file(tmp_path, 'elevation = "dem.tif"', f"map_origin = [{EAST}, {NORTH}]\n{mark}")
    terrain = terrain_of(path)
    x, y = np.meshgrid(*terrain.grid.centers())
    assert np.nanmax(np.abs(terrain.ground - (plane(x, y) - 170.5))) < 1e-9
    (said,) = [n for n in told(read_site(path)) if "benchmark" in n]
    assert "lowered by 170.50 m" in said


@pytest.mark.parametrize("method", ["phone", "GPS", "Phone GPS"])
def test_heights_from_a_phone_are_refused_with_the_reason(tmp_path, method):
    shots(tmp_path, around_the_house(3.0), plane)
    path = site_file(tmp_path, f'spot_heights = "spots.csv"\nheights_by = "{method}"', site="")
    problem = only_problem(path)
    assert problem.entry == "[terrain] heights_by"
    assert "several meters" in problem.expected
