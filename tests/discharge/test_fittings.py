"""Fittings and cleanouts against the rules of Chicago 708.3 (read), bends by common practice."""

import numpy as np
import pytest

from runoff.discharge import (
    bends_for,
    cleanout_stations,
    design_profile,
    fitting_name,
    fittings_of,
    line_limits,
    pipe_of,
    turns,
)
from runoff.quantities import Shown
from runoff.rules import Rules
from runoff.site import Leader

FOOT = 0.3048
FOUR, SIX = pipe_of(4, "smooth"), pipe_of(6, "smooth")


def cleanouts(length_ft, bends=(), **rules):
    """Stations in feet."""
    found = cleanout_stations(
        length_ft * FOOT,
        [(station * FOOT, angle) for station, angle in bends],
        Rules().with_overrides(rules),
    )
    return [round(station / FOOT, 2) for station, _ in found]


def test_a_cleanout_every_100_ft_of_a_line_outside():
    """Chicago 708.3.2, building sewers (read); 50 ft is 708.3.1's, within buildings."""
    assert cleanouts(100) == [0]
    assert cleanouts(101) == [0, 50.5]
    assert cleanouts(260) == [0, 86.67, 173.33]
    assert cleanouts(50, cleanout_spacing=20 * FOOT) == [0, 16.67, 33.33]


def test_a_cleanout_at_bends_over_45_degrees_one_per_40_ft():
    assert cleanouts(45, [(20, 45.0)]) == [0]
    assert cleanouts(45, [(20, 46.0)]) == [0, 20]
    assert cleanouts(60, [(20, 90.0), (59, 90.0)]) == [0, 20]
    assert cleanouts(90, [(20, 90.0), (60, 90.0)]) == [0, 20, 60]


def test_turns_are_the_angles_between_legs_whichever_way():
    points = np.array([[0, 0], [10, 0], [20, 10], [10, 10], [10, 0.0]])
    angles = [angle for _, angle in turns(points, np.array([10.0, 24.1, 34.1]))]
    assert angles == pytest.approx([45, 135, 90])


def test_bends_add_up_to_the_nearest_that_is_sold():
    for degrees in (22.5, 45.0, 67.5, 90.0, 112.5, 135.0):
        for turn in (degrees, degrees + 11, degrees - 11):
            assert sum(bends_for(turn)) == degrees
            assert set(bends_for(turn)) <= {22.5, 45.0}
    assert bends_for(90.0) == (45.0, 45.0)


def test_the_leaders_foot_and_the_end():
    line = design_profile([0, 40], [0, -1.2], FOUR, line_limits())
    open_end = fittings_of([], line, True, Leader("round", 3 * FOOT / 12, 3 * FOOT / 12), Rules())
    assert [fitting_name(Shown("us"), each) for each in open_end][:4] == [
        "leaf screen with an overflow gap",
        "adapter from the 3 in round leader to 4 in pipe",
        "two 45 degree bends",
        "cleanout",
    ]
    last = open_end[-1]
    assert (last.kind, last.size, last.station_m) == ("outlet grate", "4 in", line.daylight_m)
    assert fittings_of([], line, False, None, Rules())[-1].kind == "connection"
