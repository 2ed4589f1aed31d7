"""Where a full pit's water runs: what is refused, and what is told."""

import numpy as np
import pytest

from runoff.discharge import Caution, overflow_of
from runoff.words import failure_sentence
from tests.discharge.refusals import refused
from tests.lots.pits import (
    ground_of,
    house,
    in_feet,
    sandy_site,
    streets_all_around,
    with_rules,
)


def overflow(site, heights, x, y):
    return overflow_of(ground_of(site, heights), site.downspouts[0], in_feet(x, y))


def sheet(x, y):
    """Nearly level ground that falls 1 in 1000 to the right."""
    return -0.001 * (x + 0 * y)


def a_dish(near: float, deep: float):
    """A dish `deep` feet deep that reaches from `near` feet beyond the right wall to x = 45."""

    def heights(x, y):
        middle, half = (20 + near + 45) / 2, (45 - 20 - near) / 2
        far = np.hypot((x - middle) / half, y / 10)
        return sheet(x, y) - deep * (1 - far**2).clip(0)

    return heights


def test_level_ground_lets_it_spread():
    found = overflow(sandy_site(), sheet, 35, 0)
    assert found.failure.spreads
    assert found.failure.at == in_feet(35, 0)
    assert found.failure.is_safe


@pytest.mark.parametrize(("near", "is_refused"), [(6.0, True), (12.0, False)])
@pytest.mark.parametrize("deep", [0.5, 0.03])
def test_a_dish_it_would_fill_up_to_a_foundation_refuses_it(near, deep, is_refused):
    # The shallow dish is no low spot that is told of; its water stands there all the same. The
    # yard's own rain is kept small, for it would fill the dish as well.
    site = with_rules(
        streets_all_around(sandy_site()),
        curve_number_lawn_good_a="20",
    )  # fmt: skip
    if not is_refused:
        assert overflow(site, a_dish(near, deep), 34, 0).failure.is_safe
        return
    with refused("10 ft of"):
        overflow(site, a_dish(near, deep), 34, 0)


@pytest.mark.parametrize(("fall", "is_refused"), [(0.0, False), (0.001, True)])
def test_flat_ground_that_falls_back_to_the_house_refuses_it(fall, is_refused):
    # 1 in 1000 over the 14 ft to 5 ft from the wall is 4 mm, more than heights of +-1 mm leave
    # open (2.8 mm); on level ground a path back is no more than a way out for the eye.
    site = streets_all_around(sandy_site())

    def toward_house(x, y):
        return fall * np.maximum(np.abs(x) - 20, np.abs(y) - 15).clip(0)

    if not is_refused:
        assert overflow(site, toward_house, 39, 0).failure.is_safe
        return
    with refused("foundation"):
        overflow(site, toward_house, 39, 0)


def test_it_says_where_it_runs():
    site = streets_all_around(sandy_site())
    found = overflow(site, lambda x, y: -0.03 * (x + 0 * y), 35, 0)
    assert failure_sentence(site, found.failure) == (
        "When the pit is full, its water comes up through the grated cap of the observation pipe "
        "and runs off over the right side of the lot (street)."
    )
    assert found.warnings == ()
    assert found.failure.path[-1, 0] > found.failure.path[0, 0]


def test_where_it_leaves_the_survey_nobody_knows():
    with refused("not known"):
        overflow(sandy_site(lot=None), lambda x, y: -0.03 * (x + 0 * y), 35, 0)


def test_too_near_a_foundation_it_is_refused():
    with refused("too near a foundation"):
        overflow(streets_all_around(sandy_site()), lambda x, y: -0.03 * (x + 0 * y), 23, 0)


def test_without_a_building_flat_ground_is_safe():
    site = sandy_site(buildings=(house(-60, -50, -59, -49),))
    assert overflow(site, sheet, 35, 0).failure.is_safe
    assert overflow(sandy_site(buildings=()), sheet, 35, 0).failure.is_safe


@pytest.mark.parametrize(("slope", "is_refused"), [(0.0064, False), (0.012, True)])
def test_a_neighbor_is_warned_of_on_a_flat_lawn_and_refuses_it_on_a_steeper_one(slope, is_refused):
    site = sandy_site()
    if is_refused:
        with refused("neighbor's ground"):
            overflow(site, lambda x, y: -slope * (x + 0 * y), 35, 0)
        return
    found = overflow(site, lambda x, y: -slope * (x + 0 * y), 35, 0)
    assert not found.failure.onto_neighbor
    assert found.warnings == (Caution("overflow may drift"),)
    assert found.failure.end.name == "right"
