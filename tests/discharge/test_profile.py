"""The invert line and the dig table against closed forms and their own geometry."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from runoff.discharge import (
    LineLimits,
    design_profile,
    dig_table,
    instrument_height,
    line_limits,
    pipe_of,
    trench_width,
)

FOOT, INCH = 0.3048, 0.0254
PIPE = pipe_of(4, "smooth")
LIMITS = line_limits()
DEPTH = LIMITS.cover_m + PIPE.bore_m + PIPE.wall_m


def test_a_plane_at_3_percent():
    # 12 in of cover and a 4.026 in bore with a 0.237 in wall: 16.263 in / (3 % - 1 %) = 67.8 ft.
    line = design_profile([0, 100 * FOOT], [0, -3 * FOOT], PIPE, LIMITS)
    assert line.daylight_m / FOOT == pytest.approx(16.263 / 12 / 0.02, rel=1e-9)
    assert line.daylight_m / FOOT == pytest.approx(68, abs=0.5)
    assert line.cover_m[0] == pytest.approx(12 * INCH)
    assert line.exempt_from_m == 0
    assert line.exempt_length_m == line.daylight_m
    assert line.breaks_m == ()


def test_flat_ground_gives_no_daylight():
    line = design_profile([0, 20, 40], [0, 0, 0], PIPE, LIMITS)
    assert line.daylight_m is None
    assert line.exempt_length_m == 0
    np.testing.assert_allclose(np.diff(line.invert_m) / np.diff(line.stations_m), -0.01)
    assert line.cover_m[-1] == pytest.approx(LIMITS.cover_m + 0.4)


def test_level_ground_then_a_bank():
    # Held at 1 % under 10 m of level ground, then a 50 % bank: out where 0.1 + 0.01 t + depth =
    # 0.5 t past its top.
    line = design_profile([0, 10, 20], [0, 0, -5], PIPE, LIMITS)
    assert line.daylight_m == pytest.approx(10 + (0.1 + DEPTH) / 0.49)
    assert line.exempt_from_m == pytest.approx(10 + 0.1 / 0.49)


def test_a_dip_on_the_way_is_passed_under_at_least_cover():
    line = design_profile([0, 10, 12, 14, 30], [0, 0, -0.35, 0, -1.2], PIPE, LIMITS)
    at_dip = np.searchsorted(line.stations_m, 12)
    assert line.cover_m[at_dip] == pytest.approx(LIMITS.cover_m)
    assert line.breaks_m[-1] == 12
    assert line.daylight_m > 14


def test_a_ditch_on_the_way_is_daylight():
    line = design_profile([0, 10, 12, 14], [0, 0, -1.0, 0], PIPE, LIMITS)
    assert 10 < line.daylight_m < 12


def test_a_dip_at_the_end_keeps_its_cover():
    line = design_profile([0, 10, 12], [0, 0, -0.35], PIPE, LIMITS)
    assert line.daylight_m is None
    assert line.cover_m.min() == pytest.approx(LIMITS.cover_m)


grounds = st.lists(st.floats(-0.6, 0.4), min_size=2, max_size=12)


@given(steps=grounds, slope=st.sampled_from([0.005, 0.01, 0.04]), cover=st.floats(0.1, 0.9))
def test_every_line_keeps_slope_and_cover(steps, slope, cover):
    x = np.arange(len(steps)) * 3.0
    line = design_profile(x, np.cumsum(steps), PIPE, LineLimits(slope, cover, 0.1))
    falls = -np.diff(line.invert_m)
    assert (falls >= slope * np.diff(line.stations_m) - 1e-9).all()
    kept = line.stations_m <= (math.inf if line.exempt_from_m is None else line.exempt_from_m)
    assert (line.cover_m[kept] >= cover - 1e-7).all()
    assert line.cover_m[0] == pytest.approx(cover)
    if line.daylight_m is None:
        assert line.stations_m[-1] == x[-1]
        assert line.exempt_from_m is None
    else:
        assert line.invert_m[-1] == pytest.approx(line.ground_m[-1])
        assert (line.ground_m[:-1] > line.invert_m[:-1]).all()
        assert (line.cover_m[~kept] < cover + 1e-7).all()


def first_daylight(x, ground, step=0.01):
    """Soonest daylight by trying every vertex as the place from which the line is held."""
    fine = np.arange(x[0], x[-1] + step / 2, step)
    h = np.interp(fine, x, ground) - DEPTH + LIMITS.slope * fine
    found = []
    for start in x:
        at = round(start / step)
        level = h[: at + 1].min()
        out = np.flatnonzero(h[at:] <= level - DEPTH)
        below = h[at : at + out[0] if out.size else None] < level - 1e-9
        covered_again = (np.diff(below.astype(int)) < 0).any()
        if out.size and not covered_again:
            found.append(fine[at + out[0]])
    return min(found, default=None)


@given(steps=grounds)
def test_daylight_is_the_soonest_of_all_places_to_hold_from(steps):
    x = np.arange(len(steps)) * 3.0
    # Whole centimeters of fall keep the sampled ground off the edge between touching and not.
    ground = np.round(np.cumsum(steps), 2)
    line = design_profile(x, ground, PIPE, LIMITS)
    soonest = first_daylight(x, ground)
    if soonest is None:
        assert line.daylight_m is None
    else:
        assert line.daylight_m == pytest.approx(soonest, abs=0.011)


@given(steps=grounds, backsight=st.floats(5, 9), spacing=st.sampled_from([5 * FOOT, 2.0]))
def test_the_dig_table_closes_against_its_own_geometry(steps, backsight, spacing):
    x, ground = np.arange(len(steps)) * 3.0, np.cumsum(steps)
    line = design_profile(x, ground, PIPE, LIMITS)
    height = instrument_height(float(ground[0]), backsight)
    rows = dig_table(line, spacing, height)
    for row in rows:
        assert row.cut_m - row.cover_m == pytest.approx(PIPE.outside_m + LIMITS.bedding_m)
        assert row.rod_at_invert_m + row.invert_m == pytest.approx(height)
        assert row.rod_at_bottom_m + row.bottom_m == pytest.approx(height)
        assert row.ground_m - row.cut_m == pytest.approx(row.bottom_m)
        assert row.ground_m == pytest.approx(np.interp(row.station_m, x, ground))
    stations = [row.station_m for row in rows]
    assert (np.diff(stations) > 0).all()
    assert max(np.diff(stations)) <= spacing + 2e-3
    assert {*line.breaks_m, line.stations_m[0], line.stations_m[-1]} <= set(stations)


def test_slope_times_length_is_the_fall():
    line = design_profile([0, 100 * FOOT], [0, -3 * FOOT], PIPE, LIMITS)
    rows = dig_table(line, 5 * FOOT)
    for upper, lower in pairwise(rows):
        run = lower.station_m - upper.station_m
        assert upper.invert_m - lower.invert_m == pytest.approx(0.01 * run)
    assert rows[0].rod_at_invert_m is None
    assert rows[1].station_m == pytest.approx(5 * FOOT)


def test_bends_get_a_row():
    line = design_profile([0, 30], [0, -0.9], PIPE, LIMITS)
    assert 7.3 in [row.station_m for row in dig_table(line, 2.0, also_at_m=[7.3])]


def test_published_levels():
    # Benchmark 820.00 ft, backsight 8.42, foresight 1.20: instrument 828.42, point 827.22.
    height = instrument_height(820.00 * FOOT, 8.42 * FOOT)
    assert height / FOOT == pytest.approx(828.42)
    assert height / FOOT - 1.20 == pytest.approx(827.22)


def test_trench_width():
    # ASTM D2321-05 (read second hand): the greater of OD + 16 in and 1.25 OD + 12 in.
    assert trench_width(8 * INCH) / INCH == pytest.approx(24)
    assert trench_width(20 * INCH) / INCH == pytest.approx(37)


@pytest.mark.parametrize(
    ("call", "line"),
    [
        (lambda: design_profile([0, 1], [0, math.nan], PIPE, LIMITS), "not a finite number"),
        (lambda: design_profile([0, 0], [0, 1], PIPE, LIMITS), "stations do not rise"),
        (lambda: design_profile([0], [0], PIPE, LIMITS), "two of each or more"),
        (lambda: design_profile([0, 1], [0, 1], PIPE, LineLimits(0, 0.3, 0.1)), "least slope is 0"),
        (lambda: design_profile([0, 1], [0, 1], PIPE, LineLimits(0.01, -1, 0.1)), "least cover is"),
        (lambda: dig_table(design_profile([0, 9], [0, 0], PIPE, LIMITS), 0), "spacing of the dig"),
        (
            lambda: dig_table(design_profile([0, 9], [0, 0], PIPE, LIMITS), 2, also_at_m=[10]),
            "station 10 m is not on the line",
        ),
        (
            lambda: dig_table(design_profile([0, 9], [0, 0], PIPE, LIMITS), 2, instrument_m=-2.0),
            "set it up higher",
        ),
        (lambda: instrument_height(math.nan, 1), "is not finite"),
        (lambda: trench_width(0), "outside diameter is 0 m"),
    ],
)
def test_bad_input_is_named(call, line):
    with pytest.raises(ValueError, match=line):
        call()


def test_a_line_kept_buried_follows_the_ground_and_is_then_held():
    # Down with a 3 % plane at least cover to 10 m, then held: out as far beyond as from the start.
    line = design_profile([0, 10, 60], [0, -0.3, -1.8], PIPE, LIMITS, buried_to_m=10)
    assert line.invert_m[1] == pytest.approx(-0.3 - DEPTH)
    assert line.daylight_m == pytest.approx(10 + DEPTH / 0.02)
    assert line.exempt_from_m == 10


def test_a_line_kept_buried_to_its_end_does_not_come_out():
    line = design_profile([0, 60], [0, -1.8], PIPE, LIMITS, buried_to_m=60)
    assert line.daylight_m is None
    np.testing.assert_allclose(line.cover_m, LIMITS.cover_m)
