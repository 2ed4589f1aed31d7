"""Invented grounds and buildings for the tests at the wall, built without any file."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from shapely.affinity import rotate
from shapely.geometry import Polygon

from runoff.foundation import SoilWedge, WallRun, judge_walls
from runoff.site import Building, HeightAccuracy, Paving, Site
from runoff.terrain import Grid, Terrain, building_cells
from tests.lots import records
from tests.lots.records import WRITTEN, a_site

FOOT = 0.3048
EXACT = HeightAccuracy(0.0, "stated", False)
Surface = Callable[[Any, Any], Any]


def a_house(width: float = 12.0, depth: float = 9.0, bearing: float = 0.0) -> Building:
    """A rectangular house about the origin, turned counterclockwise by `bearing` degrees."""
    house = records.a_house(-width / 2, -depth / 2, width / 2, depth / 2)
    return replace(house, outline=rotate(house.outline, bearing, origin=(0, 0)))


def out_of_front(bearing: float, depth: float = 9.0) -> Surface:
    """Metres out from the front wall of `a_house`, negative behind it."""
    turn = math.radians(bearing)
    away = (math.sin(turn), -math.cos(turn))
    return lambda x, y: x * away[0] + y * away[1] - depth / 2


def falling(slope: float, bearing: float = 0.0) -> Surface:
    """A plane that falls `slope` away from the front wall of `a_house`."""
    out = out_of_front(bearing)
    return lambda x, y: 100.0 - slope * out(x, y)


def ground(
    site: Site, surface: Surface, cell_size: float = 0.3, half: float = 15.0, **fields: Any
) -> Terrain:
    """The surface as a terrain about the origin, buildings cut out of it."""
    count = round(2 * half / cell_size)
    grid = Grid(count, count, cell_size, -half, -half)
    x, y = grid.centers()
    z = surface(x[None, :], y[:, None]) + np.zeros((count, count))
    building = building_cells(site.buildings, grid)
    z[building >= 0] = np.nan
    terrain = Terrain(grid, z, z, building >= 0, building, (), site.height_accuracy, (), ())
    return replace(terrain, **fields)


def a_lot(*buildings: Building, accuracy: HeightAccuracy = EXACT, **fields: Any) -> Site:
    """A site with buildings, its heights exact unless stated."""
    return a_site(buildings=tuple(buildings), height_accuracy=accuracy, **fields)


def a_slab(kind: str, corners: Sequence[tuple[float, float]]) -> Paving:
    """Paving by its corners."""
    return Paving(f"the {kind}", kind, Polygon(corners), WRITTEN)  # type: ignore[arg-type]


def judged(site: Site, terrain: Terrain, standing: Any = None) -> tuple[WallRun, ...]:
    """The runs on dry ground, unless water stands."""
    dry = np.zeros(terrain.ground.shape)
    return judge_walls(site, terrain, dry if standing is None else standing)


def on_wall(runs: Sequence[WallRun], name: str) -> list[WallRun]:
    """The runs of one wall."""
    return [run for run in runs if run.wall_name == name]


def end_slope(height: float, past: float, grade: float = 0.05) -> float:
    """Soil (m3) past one end of a wedge that falls `grade` from a wall, and along it past its end.

    At `s` past the end and `x` from the wall it is height - grade (s + x) deep, or nothing. Over x
    that is (height - grade s)^2 / (2 grade), and over s from 0 to `past` the difference of cubes.
    """
    last = max(height - grade * past, 0.0)
    return (height**3 - last**3) / (6 * grade**2)


def outer_corner(height: float, past: float, grade: float = 0.05) -> float:
    """Soil (m3) past the ends of two wedges that meet at an outer corner, on level ground.

    The depth is height - grade (s + x) for both, so the square that both cover counts once.
    """
    return 2 * end_slope(height, past, grade) - past**2 * (height - grade * past)


def laid(terrain: Terrain, *wedges: SoilWedge) -> float:
    """Soil (m3) on the cells, each raised by the most that any wedge asks for, added one by one."""
    most: dict[tuple[int, int], float] = {}
    for wedge in wedges:
        for (row, col), raised in zip(wedge.cells.tolist(), wedge.raised.tolist(), strict=True):
            most[row, col] = max(most.get((row, col), 0.0), raised)
    return sum(most.values()) * terrain.grid.cell_size**2
