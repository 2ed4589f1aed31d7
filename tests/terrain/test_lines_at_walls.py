"""Break lines along walls, on planes: they neither invent a dip nor hide heights from the wall."""

from __future__ import annotations

import numpy as np
import pytest

from runoff.terrain import Grid, spot_ground
from tests.lots.records import a_box, a_break_line, a_site, grid_positions, spots_at
from tests.told import told

FOOT = 0.3048
INCH = FOOT / 12
SIXTEENTH = INCH / 16
HOUSE = a_box("house", 0.0, 0.0, 40 * FOOT, 30 * FOOT)
GARAGE = a_box("garage", 52 * FOOT, 0.0, 72 * FOOT, 22 * FOOT)
BESIDE = Grid(60, 750, 0.0305, -18 * FOOT, -60 * 0.0305)
"""Cells of 1/10 ft over the first 6 ft before the front walls, and 18 ft past their corners."""


def falls_away(x, y):
    """5 % away from the front walls, the rear falling too, 1 % to the right."""
    return 30.0 + 0.05 * np.where(y < 10 * FOOT, y, 20 * FOOT - y) - 0.01 * x


def heights_at_the_wall(*lines, buildings=(HOUSE,)):
    """The ground of a lot with shots 12 ft apart, 12 ft off the front walls and at corners."""
    shots = grid_positions(108 * FOOT, 84 * FOOT, 12 * FOOT) - np.array([18 * FOOT, 36 * FOOT])
    shots = shots[np.abs(shots[:, 1]) > 1.0]
    walls = [b.outline.exterior.coords[k] for b in buildings for k in range(4)]
    shots = np.vstack([shots, walls])
    site = a_site(spot_heights=spots_at(shots, falls_away), break_lines=lines, buildings=buildings)
    return spot_ground(site, BESIDE)


def a_foot_line(out, start=0.0, end=40 * FOOT, told_at=None):
    """A line before the front wall, `out` from it; inside it has the heights of the wall."""
    ends = [(start, -out), (end, -out)]
    y = min(-out, 0.0) if told_at is None else told_at
    return a_break_line("wall foot", ends, [falls_away(x, y) for x, _ in ends])


@pytest.mark.parametrize("out", [0.0, 1 / 8, 1 / 2, 1.0, 3.0, -1 / 8, -1 / 2, -1.0, -3.0])
@pytest.mark.parametrize("past", [0.0, 6 * FOOT])
def test_a_line_along_a_wall_leaves_the_ground_at_the_wall_as_it_is(out, past):
    """From 1/8 in to 3 in off the wall, inside and outside, ending at its corners and past them."""
    line = a_foot_line(out * INCH, -past, 40 * FOOT + past)
    ground = heights_at_the_wall(line)
    x, y = np.meshgrid(*BESIDE.centers())
    off = ground.heights - falls_away(x, y)
    before = (x > 0.05) & (x < 40 * FOOT - 0.05)
    assert np.isfinite(off[before]).all()
    assert np.abs(off[before]).max() < SIXTEENTH
    assert np.isfinite(off).all()


def test_two_houses_and_a_line_along_both():
    """One line along the walls of both, across the passage between them."""
    line = a_foot_line(0.0, 0.0, 72 * FOOT)
    ground = heights_at_the_wall(line, buildings=(HOUSE, GARAGE))
    x, y = np.meshgrid(*BESIDE.centers())
    before = (x > 0.05) & (x < 72 * FOOT - 0.05)
    assert np.isfinite(ground.heights[before]).all()
    assert np.abs(ground.heights - falls_away(x, y))[before].max() < SIXTEENTH
    assert not any("wall foot" in notice for notice in told(ground.notices))


def test_what_of_a_line_is_left_out_is_said():
    """1/2 in inside is at the wall; 3 ft inside is not, and is left out."""
    at_wall = heights_at_the_wall(a_foot_line(-INCH)).notices
    (said,) = [n for n in told(at_wall, "ft") if "wall foot" in n]
    assert said.endswith("1 in inside a wall; its heights are taken at the wall.")
    deep = a_foot_line(-3 * FOOT, told_at=0.0)
    (said,) = [n for n in told(heights_at_the_wall(deep).notices) if "wall foot" in n]
    assert said.endswith("runs through a building; it is left out.")
    assert not [n for n in told(heights_at_the_wall(a_foot_line(0.0)).notices) if "wall foot" in n]


def test_a_low_place_on_a_line_along_a_wall_stays_low():
    """The line's own heights are the wall's: 2 in low in its middle, straight to both ends."""
    ends = [(0.0, 0.0), (20 * FOOT, 0.0), (40 * FOOT, 0.0)]
    top = [falls_away(x, y) for x, y in ends]
    top[1] -= 2 * INCH
    ground = heights_at_the_wall(a_break_line("wall foot", ends, top))
    x, _ = BESIDE.centers()
    row = ground.heights[0, (x > 0.1) & (x < 40 * FOOT - 0.1)]
    at = x[(x > 0.1) & (x < 40 * FOOT - 0.1)]
    expected = np.interp(at, [0, 20 * FOOT, 40 * FOOT], top)
    assert row == pytest.approx(expected - 0.05 * 0.0305 / 2, abs=SIXTEENTH)
