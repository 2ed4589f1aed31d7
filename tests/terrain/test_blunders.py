"""Survey blunders: named among 80 shots of invented lots, and not seen where there are none."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from runoff.terrain import build_terrain, spot_ground
from runoff.words import suspect_reason
from tests.lots.records import (
    a_break_line,
    a_plane,
    a_site,
    grid_positions,
    spots_at,
)
from tests.lots.surveys import (
    FOOT,
    SHOTS,
    a_listed_lot,
    a_smooth_lot,
    with_a_foot_error,
)
from tests.lots.ways import a_lot

US, METRIC = SimpleNamespace(units="ft"), SimpleNamespace(units="m")


def test_a_foot_error_is_named_in_95_of_100_lots_with_one_false_alarm_at_most():
    named = 0
    for seed in range(100):
        site, wrong = with_a_foot_error(a_smooth_lot(seed), seed)
        assert len(site.spot_heights) == SHOTS
        suspects = [suspect.name for suspect in spot_ground(site).suspects]
        named += wrong in suspects
        assert len([name for name in suspects if name != wrong]) <= 1, seed
    assert named >= 95


def test_the_reason_says_how_far_off_and_in_which_unit():
    shots = list(spots_at(grid_positions(24, 18, 3.0), a_plane))
    shots[30] = replace(shots[30], z=shots[30].z + FOOT)
    (suspect,) = build_terrain(a_site(spot_heights=tuple(shots))).suspects
    assert suspect.name == "S31"
    assert np.isclose(suspect.misfit, FOOT, atol=1e-6)
    assert (
        suspect_reason(US, suspect) == "stands 1 ft above what its neighbors say: a foot misread?"
    )
    (metric,) = build_terrain(a_site(spot_heights=tuple(shots), units="m")).suspects
    assert suspect_reason(METRIC, metric).startswith(
        "stands 305 mm above what its neighbors say: look at"
    )


@pytest.mark.parametrize(
    ("feet", "units", "guess"),
    [
        (1.2, "ft", "a foot misread?"),
        (0.6, "ft", "look at the reading and the position again"),
        (1.6, "ft", "look at the reading and the position again"),
        (10.1, "ft", "a digit misread?"),
        (1.05 / FOOT, "m", "a digit misread?"),
        (0.11 / FOOT, "m", "a digit misread?"),
        (0.2 / FOOT, "m", "look at the reading and the position again"),
        (0.31 / FOOT, "m", "look at the reading and the position again"),
    ],
)
def test_a_foot_or_a_digit_is_guessed_only_where_the_misfit_is_near_one(feet, units, guess):
    """Whole feet and digits of the site's own unit: a staff in meters has no feet to misread."""
    shots = list(spots_at(grid_positions(24, 18, 3.0), a_plane))
    shots[30] = replace(shots[30], z=shots[30].z - feet * FOOT)
    (suspect,) = build_terrain(a_site(spot_heights=tuple(shots), units=units)).suspects
    said = suspect_reason(SimpleNamespace(units=units), suspect)
    assert said.endswith(guess)
    assert "below" in said


def named_in(site):
    return [suspect.name for suspect in spot_ground(site).suspects]


def test_on_the_points_of_starts_own_list_a_foot_is_named_at_two_of_three_at_least():
    """A foot up and down at each point in turn; another name is false."""
    shares = []
    for seed in range(3):
        site = a_listed_lot(seed)
        shots = site.spot_heights
        for off in (FOOT, -FOOT):
            found = 0
            for k, shot in enumerate(shots):
                wrong = (*shots[:k], replace(shot, z=shot.z + off), *shots[k + 1 :])
                named = named_in(replace(site, spot_heights=wrong))
                found += shot.name in named
                assert len([name for name in named if name != shot.name]) <= 1, (seed, shot.name)
            shares.append(found / len(shots))
    assert min(shares) >= 20 / 30


def test_on_sixty_correct_lists_one_height_is_named_at_most():
    assert sum(len(named_in(a_listed_lot(seed))) for seed in range(60)) <= 1


@pytest.mark.parametrize("fall", [0.0, 0.05, 0.2, 0.6])
def test_on_a_plane_no_height_of_the_list_is_named(fall):
    """Read to 1/8 in: rounding is all that strays from the plane."""
    for seed in range(5):
        site = a_listed_lot(seed)
        eighth = 0.0254 / 8
        spots = [
            replace(shot, z=round((100 + fall * (shot.x - 0.5 * shot.y)) / eighth) * eighth)
            for shot in site.spot_heights
        ]
        assert named_in(replace(site, spot_heights=tuple(spots))) == []


def test_shots_on_one_line_say_nothing_of_the_ground_beside_it():
    """A swale's bottom by nine shots a hand's breadth off a line, and one shot up its bank."""
    rng = np.random.default_rng(5)
    along = [(3.0 * k, float(rng.uniform(-0.02, 0.02))) for k in range(9)]
    spots = spots_at([*along, (12.0, 6.0)], lambda x, y: 100.0 - 0.02 * x + 0.25 * y)
    noise = rng.normal(0.0, 0.006, len(spots))
    shots = tuple(replace(s, z=s.z + float(e)) for s, e in zip(spots, noise, strict=True))
    assert named_in(a_site(spot_heights=shots)) == []


def test_a_wrong_shot_is_named_but_not_dropped():
    shots = list(spots_at(grid_positions(24, 18, 3.0), a_plane))
    wrong = replace(shots[30], z=shots[30].z - FOOT)
    shots[30] = wrong
    terrain = build_terrain(a_site(spot_heights=tuple(shots)))
    row, col = terrain.grid.cell(wrong.x, wrong.y)
    assert abs(terrain.ground[row, col] - wrong.z) < 0.05


def test_a_point_entered_twice_with_two_heights_is_named_and_averaged():
    shots = spots_at(grid_positions(24, 18, 3.0), a_plane)
    again = replace(shots[30], name="again", z=shots[30].z + 0.05)
    terrain = build_terrain(a_site(spot_heights=(*shots, again)))
    (suspect,) = terrain.suspects
    assert suspect.name == "again"
    assert (suspect.looks_like, suspect.beside) == ("entered twice", "S31")
    assert "lies where 'S31' does" in suspect_reason(US, suspect)
    assert suspect.predicted == shots[30].z


def test_a_point_entered_twice_alike_is_no_suspect():
    shots = spots_at(grid_positions(24, 18, 3.0), a_plane)
    terrain = build_terrain(a_site(spot_heights=(*shots, replace(shots[30], name="again"))))
    assert terrain.suspects == ()


def a_lot_with_curb_and_wall(seed):
    """Three levels: street below a 6 in curb, a yard, a terrace behind a 3 ft wall."""
    rng = np.random.default_rng(seed)
    fall = rng.uniform(0.01, 0.04)

    def level(x, y):
        return a_plane(x, y) + fall * x - 0.15 * (y < 4.0) + 0.9 * (y > 16.0)

    positions = grid_positions(27, 21, 3.0) + rng.uniform(-0.9, 0.9, (80, 2))
    positions = positions[np.abs(positions[:, 1] - 4) > 0.2]
    positions = positions[np.abs(positions[:, 1] - 16) > 0.2]
    curb = [(-1.0, 4.0), (9.0, 4.0), (28.0, 4.0)]
    wall = [(-1.0, 16.0), (13.0, 16.0), (28.0, 16.0)]
    tops = [float(level(x, y)) for x, y in curb]
    feet = [float(level(x, y)) for x, y in wall]
    lines = (
        a_break_line("curb", curb, tops, [z - 0.15 for z in tops], "right"),
        a_break_line("wall", wall, [z + 0.9 for z in feet], feet, "right"),
    )
    shots = [replace(s, z=s.z + float(rng.normal(0, 0.006))) for s in spots_at(positions, level)]
    return a_site(spot_heights=tuple(shots), break_lines=lines)


def test_curbs_and_walls_given_as_break_lines_raise_no_suspicion():
    for seed in range(10):
        assert spot_ground(a_lot_with_curb_and_wall(seed)).suspects == ()


def test_correct_shots_on_both_sides_of_an_undrawn_wall_are_borne_out_by_each_other():
    """The wall wants a break line; its shots, each with others on its own level, are no slips."""
    for seed in range(5):
        site = replace(a_lot_with_curb_and_wall(seed), break_lines=())
        assert len(spot_ground(site).suspects) <= 1


def test_a_shot_in_the_street_below_an_undrawn_curb_asks_for_a_break_line():
    """A curb of 6 in, one shot beyond it, among shots of a plane; and the same on open ground."""
    shots = list(spots_at(grid_positions(24, 18, 3.0), a_plane))
    (beyond,) = spots_at([(10.0, -1.5)], lambda x, y: a_plane(x, y) - FOOT / 2)
    shots.append(replace(beyond, name="gutter"))
    for neighbor, asked in (("street", True), ("open ground", False)):
        lot = a_lot(neighbor, *["neighbor"] * 3, box=(-1.0, -1.0, 25.0, 19.0))
        found = build_terrain(a_site(spot_heights=tuple(shots), lot=lot)).suspects
        (gutter,) = [each for each in found if each.name == "gutter"]
        said = suspect_reason(US, gutter)
        assert said.startswith("stands 6 in below what its neighbors say")
        assert ("is there a curb between? Draw it as a break line" in said) == asked
        assert gutter.looks_like == ("curb" if asked else "unknown")


def test_a_misfit_in_the_street_that_no_curb_has_is_told_as_everywhere():
    shots = list(spots_at(grid_positions(24, 18, 3.0), a_plane))
    (beyond,) = spots_at([(10.0, -1.5)], lambda x, y: a_plane(x, y) + FOOT)
    lot = a_lot("street", *["neighbor"] * 3, box=(-1.0, -1.0, 25.0, 19.0))
    site = a_site(spot_heights=(*shots, replace(beyond, name="gutter")), lot=lot)
    (gutter,) = [each for each in build_terrain(site).suspects if each.name == "gutter"]
    assert suspect_reason(US, gutter) == "stands 1 ft above what its neighbors say: a foot misread?"


def test_the_far_bank_of_a_swale_that_no_line_tells_of_is_one_question():
    """Right heights all: down to the bottom at 5 ft, and a row of shots on the bank beyond it."""
    x, y = np.meshgrid(np.arange(-30, 61, 5.0), [-6, -5, -4, -3, -2, -1, 0, 5, 10, 20, 30, 40])

    def swale(east, north):
        bank = np.maximum(-5 * FOOT - north, 0.0)
        return 30.0 - 0.02 * east - 0.05 * np.abs(north) + 0.35 * bank

    spots = spots_at(FOOT * np.column_stack([x.ravel(), y.ravel()]), swale)
    found = build_terrain(a_site(spot_heights=spots)).suspects
    assert len(found) <= 1
    assert all(one.looks_like == "bend" for one in found)
