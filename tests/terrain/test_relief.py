"""The ground as a surface: heights at any place, against planes and swales known in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely.affinity import rotate
from shapely.geometry import Polygon

from runoff.site import Building
from runoff.terrain import build_terrain
from tests.lots.records import WRITTEN, a_break_line, a_site, spots_at

TURNS = [22.5 * turn for turn in range(16)]


def turned(xy: np.ndarray, degrees: float) -> np.ndarray:
    """Positions turned about the origin, counterclockwise."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.asarray(xy) @ np.array([[c, s], [-s, c]])


def a_lot(height, degrees: float, cell_size: float, swale: float | None = None):
    """A house of 12 by 9 m, turned, and shots every 1.5 m around it on a ground known in full."""
    x, y = np.meshgrid(np.arange(-9.0, 21.1, 1.5), np.arange(-9.0, 18.1, 1.5))
    at = np.column_stack([x.ravel(), y.ravel()])
    at = at[(at[:, 0] <= 0) | (at[:, 0] >= 12) | (at[:, 1] <= 0) | (at[:, 1] >= 9)]
    house = rotate(Polygon([(0, 0), (12, 0), (12, 9), (0, 9)]), degrees, origin=(0, 0))
    lines = ()
    if swale is not None:
        bottom = np.array([[-9.0, swale], [21.0, swale]])
        lines = (a_break_line("swale", turned(bottom, degrees), top=height(bottom)),)
    return a_site(
        spot_heights=spots_at(
            turned(at, degrees),
            lambda x, y: height(turned(np.array([[x, y]]), -degrees))[0],
        ),
        buildings=(Building("house", house, ("a", "b", "c", "d"), "slab", None, WRITTEN),),
        break_lines=lines,
        cell_size=cell_size,
    )


def plane(at: np.ndarray) -> np.ndarray:
    """A ground that falls 3 % one way and 2 % the other."""
    return 100.0 - 0.03 * at[:, 0] + 0.02 * at[:, 1]


def swale(at: np.ndarray) -> np.ndarray:
    """A ground that falls 5 % to the bottom of a V 1.524 m before the front wall, and rises so."""
    return 100.0 + 0.05 * np.abs(at[:, 1] + 1.524)


@pytest.mark.parametrize("degrees", TURNS)
@pytest.mark.parametrize("cell_size", [0.1, 0.25, 0.3])
def test_heights_up_to_the_wall_are_those_of_the_plane(degrees: float, cell_size: float) -> None:
    terrain = build_terrain(a_lot(plane, degrees, cell_size))
    out, along = np.meshgrid(np.linspace(0.0, 3.0, 31), np.linspace(0.0, 12.0, 41))
    at = np.column_stack([along.ravel(), -out.ravel()])
    found = terrain.heights(turned(at, degrees))
    assert np.abs(found - plane(at)).max() < 1e-6
    inside = np.column_stack([np.linspace(0.5, 11.5, 12), np.full(12, 0.002)])
    assert np.abs(terrain.heights(turned(inside, degrees)) - plane(inside)).max() < 1e-4
    assert np.isnan(terrain.heights(turned(np.array([[6.0, 0.5], [6.0, -50.0]]), degrees))).all()


@pytest.mark.parametrize("degrees", TURNS[::3])
@pytest.mark.parametrize("cell_size", [0.1, 0.3])
def test_a_swale_is_as_deep_as_it_was_surveyed(degrees: float, cell_size: float) -> None:
    terrain = build_terrain(a_lot(swale, degrees, cell_size, swale=-1.524))
    bottom = np.column_stack([np.linspace(0.0, 12.0, 25), np.full(25, -1.524)])
    assert np.abs(terrain.heights(turned(bottom, degrees)) - 100.0).max() < 1e-6


@pytest.mark.parametrize("degrees", TURNS)
def test_no_open_cell_beside_a_wall_is_a_hole(degrees: float) -> None:
    """With 12 by 9 m and cells of 0.25 m centers or borders lie on walls, but for rounding."""
    from scipy.ndimage import binary_dilation

    for cell_size in (0.25, 0.3, 0.1):
        terrain = build_terrain(a_lot(plane, degrees, cell_size))
        beside = binary_dilation(terrain.closed, np.ones((3, 3))) & ~terrain.closed
        assert np.isfinite(terrain.ground[beside]).all()


def test_soil_and_cuts_laid_on_the_cells_are_read_with_the_survey() -> None:
    from dataclasses import replace

    terrain = build_terrain(a_lot(plane, 0.0, 0.25))
    raised = replace(terrain, ground=terrain.ground + 0.25)
    at = np.array([[6.0, 0.0], [6.0, -1.0], [-3.0, 4.0]])
    assert raised.heights(at) == pytest.approx(plane(at) + 0.25, abs=1e-9)


@pytest.mark.parametrize("degrees", TURNS[::3])
@pytest.mark.parametrize("cell_size", [0.1, 0.25, 0.3])
def test_a_wall_before_a_swale_reads_its_whole_fall(degrees: float, cell_size: float) -> None:
    """5 % over 1.524 m (5 ft) to the bottom of a V are 76.2 mm, whatever the cells."""
    from runoff.foundation import lay_stations, measure

    site = a_lot(swale, degrees, cell_size, swale=-1.524)
    terrain = build_terrain(site)
    stations = lay_stations(site, terrain.blur)
    front = np.flatnonzero(stations.wall == 0)
    ends = stations.feet + 1.524 * stations.outward
    profiles = measure(terrain, stations, ends)
    assert np.abs(profiles.fall[front] - 0.05 * 1.524).max() < 1e-6
    beyond = measure(terrain, stations, stations.feet + 3.048 * stations.outward)
    assert np.abs(beyond.rise[front] - 0.05 * 1.524).max() < 0.05 * 0.1
