"""Generated lots planned; every recommendation checked, and everything simpler looked for.

By plain means and not the tool's own: `plain_ground`, `plain_checks`, `plain_searches`.
`RUNOFF_GENERATED_LOTS=200` in the environment reviews more of them than a usual run does.
"""

from __future__ import annotations

import os
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from runoff.discharge import BuriedLine, Extension, Option, SeepagePit, Swale
from runoff.planning import Plan
from tests.discharge.plain_checks import Grounds, check
from tests.discharge.plain_ground import NEIGHBOR, SAFE, PlainGround
from tests.discharge.plain_review import review
from tests.discharge.plain_searches import simpler
from tests.lots.generated import FOOT
from tests.lots.planned import planned

COUNT = int(os.environ.get("RUNOFF_GENERATED_LOTS", "20"))


@pytest.mark.parametrize("seed", range(COUNT))
def test_what_is_recommended_keeps_its_rules_and_nothing_simpler_was_possible(seed):
    found = review(seed)
    assert found.broken == ()
    assert found.contradicted == ()


def some(kind: str, seeds: range = range(10, 30)) -> tuple[Plan, int, Option]:
    """The first option of a kind that can be built: its plan, its downspout's number, itself."""
    for seed in seeds:
        for number, each in enumerate(planned(seed).recommendations):
            for option in each.options:
                if option.kind == kind and option.feasible:
                    return planned(seed), number, option
    raise LookupError(kind)


def checked(found: Plan, number: int, option: Option) -> list[str]:
    water = found.recommendations[number].water
    return check(Grounds(found), found.site.downspouts[number], water, option).broken


def test_the_check_tells_an_extension_that_is_moved():
    found, number, option = some("extension")
    assert isinstance(option.design, Extension)
    assert checked(found, number, option) == []
    start, end = np.array(option.design.start), np.array(option.design.end)
    short = replace(option.design, end=tuple(start + 0.4 * (end - start)))
    assert checked(found, number, replace(option, design=short))


def test_the_check_tells_a_pit_that_is_moved_or_too_small():
    found, number, option = some("seepage pit")
    pit = option.design
    assert isinstance(pit, SeepagePit)
    assert checked(found, number, option) == []
    spout = found.site.downspouts[number]
    at_the_wall = replace(pit, center=(spout.x, spout.y))
    assert checked(found, number, replace(option, design=at_the_wall))
    body = replace(pit.governing.pit, length_m=pit.governing.pit.length_m - FOOT)
    small = replace(pit, governing=replace(pit.governing, pit=body))
    assert checked(found, number, replace(option, design=small))


def test_the_check_tells_a_line_that_rises():
    found, number, option = some("buried line")
    line = option.design
    assert isinstance(line, BuriedLine)
    assert checked(found, number, option) == []
    profile = replace(line.profile, invert_m=line.profile.invert_m[::-1])
    assert checked(found, number, replace(option, design=replace(line, profile=profile)))


def test_the_check_tells_a_swale_cut_too_flat():
    found, number, option = some("swale")
    swale = option.design
    assert isinstance(swale, Swale)
    assert checked(found, number, option) == []
    flat = replace(swale, bottom_m=np.full_like(swale.bottom_m, swale.bottom_m[0]))
    assert checked(found, number, replace(option, design=flat))


def test_the_search_finds_most_of_the_extensions_that_the_tool_finds():
    """Of those whose water the plain ground calls safe; of others it can say nothing."""
    told: Counter[bool] = Counter()
    for seed in range(5, 20):
        found = planned(seed)
        grounds = Grounds(found)
        for spout, each in zip(found.site.downspouts, found.recommendations, strict=True):
            option = next(o for o in each.options if o.kind == "extension")
            if not isinstance(option.design, Extension):
                continue
            outcomes = grounds.of(None).around(option.design.end, each.water.storm_m3)
            if outcomes[0] == SAFE:
                told[bool(simpler(grounds, spout, each.water, option))] += 1
    assert told[True] >= 12
    assert told[True] >= 4 * told[False]


def test_the_plain_ground_fills_a_hollow_and_walks_straight_down_a_plane():
    found = planned(10)
    terrain = found.findings.terrain
    x, y = np.meshgrid(*terrain.grid.centers())
    ground = PlainGround(found.site, terrain, np.where(terrain.closed, np.nan, -0.03 * x + 0 * y))
    assert not ground.lake.any()
    right = max(b.outline.bounds[2] for b in found.site.buildings) + 2.0
    path = ground.walk(np.array([[right, 10.0]]))[:, 0]
    assert np.ptp(path[:, 1]) < 1e-9  # water on a plane runs along its aspect
    hollow = -0.1 * np.exp(-((x - right) ** 2 + (y - 10.0) ** 2))
    ground = PlainGround(found.site, terrain, np.where(terrain.closed, np.nan, hollow))
    assert len(ground.ponds) >= 1
    assert max(pond.depth for pond in ground.ponds) == pytest.approx(0.1, rel=0.1)


def test_a_pit_is_found_beyond_ground_that_drains_to_a_neighbor():
    """Straight from the downspout toward its pit the plain ground drains to a neighbor at first."""
    found = planned(59)
    spout, each = found.site.downspouts[2], found.recommendations[2]
    ground = Grounds(found).of(None)
    assert isinstance(each.chosen.design, SeepagePit)
    start, pit = np.array([spout.x, spout.y]), np.array(each.chosen.design.center)
    for share in (0.2, 0.3, 0.4, 0.5):
        nearer = ground.around(tuple(start + share * (pit - start)), each.water.storm_m3)
        assert (nearer == NEIGHBOR).all()
    assert (ground.around(tuple(pit), each.water.storm_m3) == SAFE).all()
