"""Downspouts a hand's breadth off a wall, on cells of any size: they stand on open ground."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Point
from shapely.affinity import rotate, translate
from shapely.geometry import Polygon

from runoff.flow import ground_near
from runoff.site import Building
from runoff.terrain import Grid, Terrain, building_cells
from tests.lots.ponds import ACCURACY
from tests.lots.records import WRITTEN

OFF_THE_WALL = 0.15
_L_SHAPE = Polygon([(-6, -4), (5, -4), (5, 1), (1, 1), (1, 5), (-6, 5)])


def _ground_around(outline: Polygon, cell: float) -> Terrain:
    """Level ground in cells of one size about a building."""
    half = int(np.ceil(12.0 / cell))
    grid = Grid(2 * half, 2 * half, cell, -half * cell, -half * cell)
    house = Building("house", outline, ("wall",) * 6, None, None, WRITTEN)
    building = building_cells([house], grid)
    ground = np.where(building >= 0, np.nan, 10.0)
    return Terrain(grid, ground, ground, building >= 0, building, (), ACCURACY, (), ())


def _places_beside(outline: Polygon) -> list[Point]:
    """Places at a hand's breadth all round: along every wall, and off its corners."""
    round_it = outline.buffer(OFF_THE_WALL, join_style="mitre").exterior
    return [round_it.interpolate(along) for along in np.arange(0.0, round_it.length, 0.31)]


@pytest.mark.parametrize("cell", [1.0, 0.5, 0.3, 0.1])
@pytest.mark.parametrize("turn", range(0, 90, 15))
def test_a_place_15_cm_off_a_wall_is_on_open_ground_beside_it(cell, turn):
    outline = translate(rotate(_L_SHAPE, turn, origin=(0, 0)), 0.37 * turn / 15, 0.23)
    terrain = _ground_around(outline, cell)
    for place in _places_beside(outline):
        found = ground_near(place.x, place.y, terrain)
        assert found is not None, (cell, turn, place)
        away = Point(terrain.grid.center(*found)).distance(place)
        # The farthest center of the eight cells around the place's own: 1.5 cells each way.
        assert away <= max(1.5 * np.sqrt(2) * cell, 0.6 + cell)
        assert not terrain.closed[found]


def test_a_place_in_the_middle_of_a_building_is_not():
    terrain = _ground_around(_L_SHAPE, 1.0)
    assert ground_near(-2.5, 0.5, terrain) is None
