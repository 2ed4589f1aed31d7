"""Water over walks, drives and public sidewalks, on lots whose water runs straight down the plan.

That city codes forbid leading roof water over a public sidewalk is common practice.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import box

from runoff.discharge import (
    Grounds,
    LineEnd,
    buried_line,
    compare_ways,
    surface_extension,
    swale_away,
)
from runoff.flow import PathEnd, paving_crossed
from runoff.quantities import Shown
from runoff.site import Drain, Outlet, Paving, PipeChoice
from runoff.words import crossing_action, line_ends, swale_ends, way_reason
from tests.discharge.refusals import refused
from tests.lots.records import WRITTEN
from tests.lots.ways import (
    a_downspout,
    a_house,
    a_plot,
    falling_forward,
    on_ground,
    some_water,
)

FOOT = 0.3048
SPOUT = a_downspout(0.0, -4.6)
SLAB = replace(a_house("slab"), footing_depth=2.0)
BEYOND = (-15.0, -16.7, 15.0, -15.3)  # between the lot's side at y = -15 and its street


def a_paving(kind: str, *sides: float) -> Paving:
    return Paving(f"the {kind}", kind, box(*sides), WRITTEN)  # type: ignore[arg-type]


def ground_with(*paving: Paving, half: float = 18.0, **fields):
    given = {"buildings": (SLAB,), "pipe": PipeChoice("smooth", 4), "paving": paving}
    return on_ground(a_plot(SPOUT, **given | fields), falling_forward(0.06), half=half)


def as_it_is(ground):
    options = compare_ways(Grounds(ground), SPOUT, some_water()).options
    return next(option for option in options if option.kind == "as it is")


def test_a_splash_block_above_ones_own_walk_is_enough_only_with_a_caution():
    walk = a_paving("walk", -3.0, -6.4, 3.0, -5.2)  # 2 ft from the downspout
    told = as_it_is(ground_with(walk))
    assert told.feasible
    assert "mind ice" in way_reason(a_plot(SPOUT), told)
    assert [each.name for each in told.design.goes.crosses] == ["the walk"]
    assert "crosses the walk 'the walk': ice in winter" in way_reason(a_plot(SPOUT), told)
    assert "ice" not in way_reason(a_plot(SPOUT), as_it_is(ground_with()))


def test_a_walk_beside_the_splash_block_is_told_though_the_path_passes_it():
    beside = a_paving("walk", 0.61, -9.0, 2.0, -4.5)
    left = as_it_is(ground_with(beside))
    (near,) = left.design.ice_beside
    assert (near.paving.name, near.away_m) == ("the walk", pytest.approx(0.61, abs=1e-3))
    said = way_reason(a_plot(SPOUT), left)
    assert "let go 2 ft from the walk 'the walk': ice in winter" in said


@pytest.mark.parametrize("half", [18.0, 15.0])
@pytest.mark.parametrize("make", [surface_extension, swale_away, buried_line])
def test_no_way_leads_over_a_public_sidewalk(make, half):
    """Where the survey ends before the sidewalk too: it lies between the lot and its street."""
    sidewalk = a_paving("public sidewalk", *BEYOND)
    own = a_paving("walk", *BEYOND)
    land, free = ground_with(sidewalk, half=half), ground_with(own, half=half)
    assert make(free, SPOUT, some_water()) is not None
    with refused(r"over a public sidewalk|where water may be let go"):
        make(land, SPOUT, some_water())
    left = as_it_is(land)
    assert not left.feasible
    assert "which city codes commonly forbid" in way_reason(land.site, left)


def test_a_line_may_pass_under_a_public_sidewalk_into_the_gutter():
    # Its bottom lies 0.55 m under the plane, which stands at 99.26 m there.
    place = box(-15, -18, 15, -16.9)
    gutter = Outlet("gutter", "street gutter", place, "permit", WRITTEN, invert=98.7)
    sidewalk = a_paving("public sidewalk", *BEYOND)
    line = buried_line(ground_with(sidewalk, outlets=(gutter,)), SPOUT, some_water())
    assert line.ends == LineEnd("outlet", "gutter", "street gutter")
    (under,) = [each for each in line.crossings if each.kind == "public sidewalk"]
    assert "permit" in crossing_action(Shown("us"), under)


@pytest.mark.parametrize("make", [swale_away, buried_line])
def test_a_walk_below_the_end_is_told_with_ice(make):
    walk = a_paving("walk", -15.0, -14.8, 15.0, -14.2)
    ends = make(ground_with(walk), SPOUT, some_water()).ends
    said = line_ends(ends) if isinstance(ends, LineEnd) else swale_ends(ends)
    assert "crosses the walk 'the walk': ice in winter" in said


def test_water_in_a_drain_under_a_drive_does_not_cross_it():
    drive = a_paving("drive", -15.0, -11.0, 15.0, -9.0)
    culvert = Drain("culvert", (0.15, -8.5), (0.15, -11.5), None, WRITTEN)
    open_air = ground_with(drive)
    piped = ground_with(drive, drains=(culvert,))
    end = PathEnd("survey edge", "", 0.15, -15.0)
    assert open_air.answer_at(SPOUT, 0.15, -6.0).crosses == (drive,)
    way = np.array([(0.15, -6.0), (0.15, -8.55), (0.15, -11.55), (0.15, -15.0)])
    assert paving_crossed(piped.site, way, np.inf, end) == ()
    assert paving_crossed(open_air.site, way, np.inf, end) == (drive,)
