"""Which downspouts may stay as they are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from runoff.checking import missing_from
from runoff.discharge import Grounds, correct_grade, leave_as_it_is
from runoff.site import Clearance, HeightAccuracy, Soil
from tests.discharge.refusals import refused
from tests.lots.walls import a_slab
from tests.lots.ways import (
    a_downspout,
    a_house,
    a_lot,
    a_plot,
    dished,
    falling_forward,
    from_the_house,
    on_ground,
    some_water,
)

INCH = 0.0254
D = a_downspout(0.0, -4.6)
SLAB = (a_house("slab"),)


def answer(site, surface, **grid):
    return leave_as_it_is(on_ground(site, surface, **grid), D, some_water())


def why_not(site, surface) -> str:
    with refused() as reason:
        answer(site, surface)
    return reason.said


def test_beside_a_slab_on_ground_that_falls_it_may_stay():
    assert answer(a_plot(D, buildings=SLAB), falling_forward(0.06)).end.neighbor == "street"


@pytest.mark.parametrize("kind", ["basement", "crawl space"])
def test_beside_a_cellar_it_may_not(kind):
    assert why_not(a_plot(D, buildings=(a_house(kind),)), falling_forward(0.06)) == (
        f"'house' has a {kind}, beside which roof water is let go at least 5 ft out."
    )


def test_a_kind_not_given_is_no_slab():
    assert "is not given" in why_not(a_plot(D, buildings=(a_house(None),)), falling_forward(0.06))


def test_expansive_clay_takes_it_away_from_the_wall():
    site = a_plot(D, buildings=SLAB, soil=Soil(texture="clay", expansive=True))
    assert why_not(site, falling_forward(0.06)).startswith("The soil is expansive")
    stable = a_plot(D, buildings=SLAB, soil=Soil(texture="clay", expansive=False))
    assert answer(stable, falling_forward(0.06))


# 6 in in 10 ft is 5 %.
@pytest.mark.parametrize(
    ("surface", "words"),
    [
        (falling_forward(0.045), "too flat to drain away"),
        (falling_forward(-0.03), "slopes back"),
        (falling_forward(0.0), "too flat to drain away"),
    ],
)
def test_the_wall_beside_it_must_drain_away(surface, words):
    assert words in why_not(a_plot(D, buildings=SLAB), surface)


def test_not_onto_a_neighbor():
    lot = a_lot("neighbor", "street", "street", "street")
    assert "neighbor" in why_not(a_plot(D, buildings=SLAB, lot=lot), falling_forward(0.06))


@pytest.mark.parametrize(("grade", "works"), [(0.055, True), (0.065, False)])
def test_ground_beyond_the_strip_must_take_it(grade, works):
    site = a_plot(D, buildings=SLAB, rules={"discharge_grade": grade})
    if works:
        assert answer(site, falling_forward(0.06))
    else:
        assert "too flat to leave" in why_not(site, falling_forward(0.06))


def test_soil_makes_a_dished_lot_right_for_a_slab():
    site = a_plot(D, buildings=SLAB)
    before = on_ground(site, dished, cell_size=0.15)
    with refused("holds water"):
        leave_as_it_is(before, D, some_water())
    after, soil = correct_grade(before, D)
    assert {run.verdict for run in after.walls} == {"drains away"}
    assert leave_as_it_is(after, D, some_water()).end.neighbor == "street"
    raised = (after.terrain.ground - before.terrain.ground)[~before.terrain.closed]
    assert raised.min() >= 0
    assert raised.sum() * 0.15**2 == pytest.approx(soil.compacted_m3, rel=0.15)
    assert soil.loose_m3 == pytest.approx(1.25 * soil.compacted_m3)


def test_graded_ground_is_judged_by_its_grade():
    """A string level tells no fall to better than 1.96 sqrt(2) x 1/2 in = 1.4 in: ground at its 6
    in in 10 ft is too close to call when surveyed, and graded right when soil was placed to it.
    """
    string = HeightAccuracy(0.5 * INCH, "string level", False)
    site = replace(a_plot(D, buildings=SLAB), height_accuracy=string)
    surveyed = on_ground(site, falling_forward(0.0501))
    with refused("too close to call"):
        leave_as_it_is(surveyed, D, some_water())
    after, _ = correct_grade(on_ground(site, dished, cell_size=0.15), D)
    assert leave_as_it_is(after, D, some_water())


def test_ground_without_soil_stays_too_close_to_call():
    """The front slopes back; the sides fall 5 % within the accuracy, and take no soil."""
    string = HeightAccuracy(0.5 * INCH, "string level", False)
    site = replace(a_plot(D, buildings=SLAB), height_accuracy=string)

    def front_alone(x, y):
        return np.where(y < -4.5, dished(x, y), 100.0 - 0.0501 * from_the_house(x, y))

    after, soil = correct_grade(on_ground(site, front_alone, cell_size=0.15), D)
    assert {wedge.run.wall_name for wedge in soil.wedges} == {"front"}
    assert {run.verdict for run in after.walls if run.wall_name == "rear"} == {"too close to call"}
    assert {run.verdict for run in after.walls if run.wall_name == "front"} == {"drains away"}


def test_nothing_to_correct_where_all_drains_away():
    site = a_plot(D, buildings=SLAB)
    around = on_ground(site, lambda x, y: 100.0 - 0.06 * from_the_house(x, y))
    with refused("nothing to correct"):
        correct_grade(around, D)
    with refused("nothing to correct"):
        Grounds(around).corrected_everywhere()


def test_siding_that_leaves_no_room_for_soil():
    """Ground falls 3 %; 5 % over 10 ft wants 2 % x 10 ft = 2.4 in at the wall. Siding 7 in over it
    leaves 1 in under the 6 in that are to stay, so it is 1.4 in short.
    """
    siding = Clearance(0, 0.0, 12.0, "siding", 100.0 + 7 * INCH)
    site = a_plot(D, buildings=(replace(a_house("slab"), clearances=(siding,)),))
    with refused(r"front wall .* 1 3/8 in higher than siding") as reason:
        correct_grade(on_ground(site, lambda x, y: 100.0 - 0.03 * from_the_house(x, y)), D)
    assert "'house'" in reason.said


def test_soil_that_would_bury_a_walk_is_refused():
    walk = a_slab("walk", [(-6, -6), (6, -6), (6, -4.5), (-6, -4.5)])
    site = a_plot(D, buildings=SLAB, paving=(walk,))
    before = on_ground(site, lambda x, y: 100.0 - 0.01 * from_the_house(x, y))
    with refused("bury the walk 'the walk'"):
        correct_grade(before, D)


@pytest.mark.parametrize(("x", "buried"), [(-3.0, False), (4.0, True)])
def test_a_walk_forbids_soil_only_beside_it(x, buried):
    """A walk covers the right end of the front wall; soil goes along the rest of it."""
    walk = a_slab("walk", [(2, -8), (6, -8), (6, -4.5), (2, -4.5)])
    foot = a_downspout(x, -4.6)
    site = a_plot(foot, buildings=SLAB, paving=(walk,))
    before = on_ground(site, lambda x, y: 100.0 - 0.01 * from_the_house(x, y))
    if buried:
        with refused("bury the walk 'the walk'"):
            correct_grade(before, foot)
    else:
        _, soil = correct_grade(before, foot)
        assert {bool(wedge.refused) for wedge in soil.wedges} == {True, False}
        assert soil.compacted_m3 == sum(w.compacted_m3 for w in soil.wedges if not w.refused) > 0


def test_all_buildings_are_corrected():
    site = a_plot(D, buildings=SLAB)
    before = on_ground(site, dished, cell_size=0.15)
    after, soil = Grounds(before).corrected_everywhere()
    one, of_one = correct_grade(before, D)
    assert soil.compacted_m3 == of_one.compacted_m3
    assert (after.terrain.ground == one.terrain.ground)[~before.terrain.closed].all()


def test_a_side_of_which_nobody_knows_the_neighbor_is_taken_for_a_neighbors():
    lot = a_lot("unknown", *["open ground"] * 3)
    site = a_plot(D, buildings=SLAB, lot=lot)
    assert "runs onto a neighbor's ground" in why_not(site, falling_forward(0.06))
    found = missing_from(site, on_ground(site, falling_forward(0.06)).terrain)
    (asked,) = [each for each in found if each.code == "neighbors of sides"]
    assert asked.names == ("front",)
