"""Traced paths against planes, swales and bowls."""

import numpy as np
import pytest

from runoff.flow import trace
from tests.flow.terrains import bowl, courtyard, tilted_plane

CELL = 0.25


def lengths(path):
    return np.hypot(*np.diff(path, axis=0).T)


@pytest.mark.parametrize("degrees", range(0, 360, 10))
def test_tilted_plane(degrees):
    size = 241 * CELL
    start = (size / 2 + 0.03, size / 2 - 0.07)  # on no cell's center or edge
    path = trace(tilted_plane(degrees), CELL, start)
    way = path[-1] - path[0]
    off = (np.degrees(np.arctan2(way[1], way[0])) - degrees + 180) % 360 - 180
    assert abs(off) < 1.0
    along = np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
    with np.errstate(divide="ignore"):
        to_edge = np.where(along > 0, size - np.array(start), -np.array(start)) / along
    exact = np.abs(to_edge).min()
    assert exact > 30.0
    assert lengths(path).sum() == pytest.approx(exact, rel=0.01)
    assert path[0] == pytest.approx(start)


def swale(degrees, cells=161):
    """A V-shaped swale through the middle, falling toward `degrees`.

    Returns heights, and functions of a position: its distance along and across the bottom.
    """
    angle, middle = np.radians(degrees), cells * CELL / 2

    def along(x, y):
        return (x - middle) * np.cos(angle) + (y - middle) * np.sin(angle)

    def across(x, y):
        return (y - middle) * np.cos(angle) - (x - middle) * np.sin(angle)

    x, y = np.meshgrid((np.arange(cells) + 0.5) * CELL, (np.arange(cells)[::-1] + 0.5) * CELL)
    return 5.0 - 0.02 * along(x, y) + 0.06 * np.abs(across(x, y)), along, across


@pytest.mark.parametrize("degrees", [0, 17, 45, 90, 118, 180, 225, 305])
@pytest.mark.parametrize("side", [-4.0, 4.0])
def test_path_keeps_to_the_bottom_of_a_swale(degrees, side):
    z, along, across = swale(degrees)
    angle, middle = np.radians(degrees), 161 * CELL / 2
    start = (
        middle - 12.0 * np.cos(angle) - side * np.sin(angle),
        middle - 12.0 * np.sin(angle) + side * np.cos(angle),
    )
    assert across(*start) == pytest.approx(side)
    path = trace(z, CELL, start)
    off = np.abs(across(*path.T))
    reached = int(np.argmax(off <= CELL))
    assert 0 < reached < len(path) - 10
    assert off[reached:].max() <= CELL
    # Straight down the bank first: it falls 6 % across and 2 % along.
    assert along(*path[reached]) - along(*start) == pytest.approx(4.0 * 2 / 6, abs=3 * CELL)
    assert along(*path[-1]) > 19.0


def test_path_crosses_a_bowl_to_its_pour_point():
    z, _, _ = bowl(depth=0.5, radius=4.0, cell=0.1)
    n = z.shape[0] // 2
    middle = (n + 0.5) * 0.1
    path = trace(z, 0.1, (middle - 2.0, middle + 1.5))
    from_pour_point = np.hypot(path[:, 0] - (middle + 4.0), path[:, 1] - middle)
    assert from_pour_point.min() < 0.1
    assert path[-1] == pytest.approx([z.shape[1] * 0.1, middle], abs=0.1)
    # It goes straight over the water from where it met it.
    assert lengths(path).sum() < 1.05 * (np.hypot(6.0, 1.5) + 1.0)


def test_path_in_a_courtyard_stays_there():
    z, closed, yard = courtyard()
    path = trace(z, 1.0, (3.5, 4.5), closed)
    rows, cols = (9 - path[:, 1]).astype(int), path[:, 0].astype(int)
    assert yard[rows, cols].all()


@pytest.mark.parametrize(
    ("start", "cell_size", "message"),
    [
        ((-0.1, 1.0), 1.0, "off the grid"),
        ((1.0, 9.1), 1.0, "off the grid"),
        ((float("nan"), 1.0), 1.0, "off the grid"),
        ((2.5, 2.5), 1.0, "closed cell"),
        ((1.0, 1.0), 0.0, "cell_size"),
        ((1.0, 1.0), float("nan"), "cell_size"),
    ],
)
def test_what_cannot_be_traced_is_refused(start, cell_size, message):
    z, closed, _ = courtyard()
    with pytest.raises(ValueError, match=message):
        trace(z, cell_size, start, closed)
