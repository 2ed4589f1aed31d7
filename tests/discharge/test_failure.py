"""How ways fail, on lots that are safe while the way works and not when it fails."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from shapely import LineString, Point
from shapely.geometry import box

from runoff.discharge import (
    AsItIs,
    BuriedLine,
    Extension,
    Failure,
    LineEnd,
    NotPossible,
    Onward,
    OpeningsBeside,
    Option,
    Reached,
    SeepagePit,
    design_profile,
    dig_table,
    failures_of,
    in_a_greater_storm,
    line_limits,
    overflow_fitting,
    pipe_at_flow,
    pipe_of,
    reaches_foundation,
    swale_away,
    with_swale,
)
from runoff.flow import PathEnd
from runoff.site import Opening, Paving
from runoff.words import failure_sentence
from tests.lots.records import WRITTEN
from tests.lots.ways import (
    a_downspout,
    a_lot,
    a_plot,
    dished,
    falling_forward,
    from_the_house,
    on_ground,
    some_water,
)

FOOT = 0.3048
FRONT = a_downspout(0.0, -4.6)
AS_IT_IS = Option("as it is", True, None, AsItIs(None))


def extension(length: float) -> Option:
    """An extension straight out of the front wall."""
    end = (FRONT.x, FRONT.y - length)
    path = np.array([end, end])
    record = Extension(
        (FRONT.x, FRONT.y), end, length, 180.0, 0.1, 0.1, path, Onward(None), "splash pad", None
    )
    return Option("extension", True, None, record)


def line(length: float) -> Option:
    """A buried line straight out of the front wall; only its route matters here."""
    pipe = pipe_of(4, "smooth")
    profile = design_profile([0, length], [0, -0.1], pipe, line_limits())
    route = np.array([(FRONT.x, FRONT.y), (FRONT.x, FRONT.y - length)])
    record = BuriedLine(
        route, False, profile, pipe_at_flow(pipe, 0.01, 0.001), 0.5, 0.6, dig_table(profile, 2.0),
        None, (), (), LineEnd("daylight"), (FRONT.x, FRONT.y - length), None, None, "", (),
    )  # fmt: skip
    return Option("buried line", True, None, record)


def bowl(x: Any, y: Any) -> Any:
    """Ground that rises 8 in over the first 2 ft from the house, and falls 3 % from there."""
    out = from_the_house(x, y)
    return 100.0 - np.where(out < 0.6096, (0.6096 - out) / 3, 0.03 * (out - 0.6096))


def no_soil() -> Any:
    raise NotPossible("Soil cannot be placed.")


class TestSafeEitherWay:
    ground = on_ground(a_plot(FRONT), falling_forward(0.06))

    @pytest.mark.parametrize("option", [AS_IT_IS, extension(3.0), line(9.0)], ids=lambda o: o.kind)
    def test_the_water_leaves_over_the_front(self, option):
        (failure,) = failures_of(self.ground, FRONT, option)
        assert failure.is_safe
        assert not failure.reaches_foundation
        assert failure.relief == ""
        assert failure.at == (FRONT.x, FRONT.y)
        assert (failure.end.kind, failure.end.name) == ("lot side", "front")
        # Straight down the plane, to the front side of the lot at y = -15.
        assert failure.path[-1] == pytest.approx((0.0, -18.0), abs=0.5)

    @pytest.mark.parametrize("option", [AS_IT_IS, extension(3.0), line(9.0)], ids=lambda o: o.kind)
    def test_over_a_public_sidewalk_it_is_not_safe_and_over_ones_own_walk_it_is_ice(self, option):
        across = box(-15.0, -12.0, 15.0, -10.5)
        told = {}
        for kind in ("walk", "public sidewalk"):
            paving = (Paving("front", kind, across, WRITTEN),)
            ground = on_ground(a_plot(FRONT, paving=paving), falling_forward(0.06))
            (told[kind],) = failures_of(ground, FRONT, option)
        assert told["walk"].is_safe
        assert failure_sentence(ground.site, told["walk"]).endswith(
            "; on its way it crosses the walk 'front': ice in winter."
        )
        assert not told["public sidewalk"].is_safe
        assert "'front', which city codes commonly forbid" in failure_sentence(
            ground.site, told["public sidewalk"]
        )

    def test_a_way_that_is_none_has_no_failure(self):
        assert failures_of(self.ground, FRONT, Option("refer", True, None)) == ()

    def test_the_greater_storm_is_1_5_times_as_deep(self):
        greater = in_a_greater_storm(self.ground)
        assert greater.site.storm.depth == pytest.approx(1.5 * self.ground.site.storm.depth)
        assert greater.answer_at(FRONT, 0, -6).roof_volume_m3 == pytest.approx(
            1.5 * self.ground.answer_at(FRONT, 0, -6).roof_volume_m3
        )


class TestSafeOnlyWhileItWorks:
    """A hollow along the walls: beyond it the water keeps away, within it stands at the wall."""

    ground = on_ground(a_plot(FRONT), dished)

    def test_where_it_lets_go_it_is_safe(self):
        answer = self.ground.answer_at(FRONT, 0.0, FRONT.y - 5.0)
        assert not reaches_foundation(self.ground, answer)

    def test_a_blocked_line_is_relieved_by_a_fitting(self):
        (failure,) = failures_of(self.ground, FRONT, line(5.0), no_soil)
        assert failure.reaches_foundation
        assert failure.reached.how == "stands near"
        assert failure.comes_out == "overflow gap"
        assert failure.relief == "overflow fitting"
        assert failure.fitting_m == pytest.approx(2.0)
        assert failure.relieved
        assert failure.is_safe

    def test_the_fitting_lies_lower_than_the_gap_and_is_safe(self):
        station, at = overflow_fitting(OpeningsBeside(self.ground, FRONT), line(5.0).line.route)
        # 0.1 m out the foot lies (0.61 - 0.1) / 12 = 42 mm under the ridge, which 3 % make up 1.4 m
        # beyond it: 2.0 m out, 1.9 m from the foot; half a cell of doubt.
        assert station == pytest.approx(2.0)
        assert self.ground.height(*at) < self.ground.height(0.0, -4.65)
        assert self.ground.reason_against(*at) == "safe"
        assert not reaches_foundation(self.ground, self.ground.answer_at(FRONT, *at))

    def test_an_extension_too_short_for_a_fitting_is_relieved_by_grade(self):
        (failure,) = failures_of(self.ground, FRONT, extension(1.6))
        assert failure.reaches_foundation
        assert failure.relief == "corrected grade"
        assert failure.is_safe

    def test_without_a_relief_it_is_not_safe(self):
        (failure,) = failures_of(self.ground, FRONT, extension(1.6), no_soil)
        assert failure.reaches_foundation
        assert failure.relief == ""
        assert not failure.is_safe

    def test_no_fitting_where_the_ground_is_higher_than_the_gap(self):
        # The ridge stands 0.17 m over the foot: 3 % make that up 5.7 m beyond it.
        deep = on_ground(a_plot(FRONT), bowl)
        assert overflow_fitting(OpeningsBeside(deep, FRONT), line(5.0).line.route) is None
        assert overflow_fitting(OpeningsBeside(deep, FRONT), line(9.0).line.route)[0] > 5.7
        (failure,) = failures_of(deep, FRONT, line(5.0), no_soil)
        assert failure.reaches_foundation
        assert not failure.is_safe

    def test_a_greater_storm_on_it_is_relieved_by_grade(self):
        (failure,) = failures_of(self.ground, FRONT, AS_IT_IS)
        assert failure.reaches_foundation
        assert failure.relief == "corrected grade"
        (alone,) = failures_of(self.ground, FRONT, AS_IT_IS, no_soil)
        assert not alone.is_safe

    def test_a_pit_fails_in_two_ways(self):
        """Full, as its design says; and its line blocked, which a fitting relieves."""
        end = PathEnd("lot side", "front", 0.0, -15.0, "street")
        full = Failure("pit full", (0.0, -9.0), np.zeros((1, 2)), None, False, end)
        pit = SeepagePit(
            (0.0, -9.0), 0.0, None, None, None, None, 0.0, 0.0, 1.0, line(5.0).line, (), full, ()
        )
        first, second = failures_of(self.ground, FRONT, Option("seepage pit", True, None, pit))
        assert first is full
        assert second.kind == "line to pit blocked"
        assert second.relief == "overflow fitting"

    def test_grade_that_does_not_help_is_no_relief(self):
        (failure,) = failures_of(self.ground, FRONT, extension(1.6), lambda: self.ground)
        assert not failure.relieved
        corrected = replace(extension(1.6), correction=object())
        (failure,) = failures_of(self.ground, FRONT, corrected)
        assert not failure.relieved


def test_a_neighbor_is_no_relief():
    site = a_plot(FRONT, lot=a_lot("neighbor", "neighbor", "neighbor", "neighbor"))
    (failure,) = failures_of(on_ground(site, falling_forward(0.06)), FRONT, line(5.0))
    assert failure.onto_neighbor
    assert not failure.is_safe
    assert "onto the neighbor's ground" in failure_sentence(site, failure)


class TestOpenings:
    """A window well in the front wall, 2 m to the side of the downspout, in the hollow."""

    def opening(self, rim: float) -> Opening:
        return Opening(
            "well", "window well", "house", 0, 8.0, 0.9, None, rim, rim - 1, 0.6, True, WRITTEN
        )

    @pytest.mark.parametrize(("rim", "named"), [(99.9, True), (99.85, False)])
    def test_only_the_roof_s_water_is_blamed(self, rim, named):
        ground = on_ground(a_plot(FRONT, openings=(self.opening(rim),)), bowl)
        (failure,) = failures_of(ground, FRONT, line(5.0), no_soil)
        assert failure.reaches_foundation
        # The yard's own rain alone stands over the lower rim.
        row, col = ground.flow.grid.cell(1.5, -4.65)
        alone = ground.run_with({"D": None}).ponding.depth()[row, col]
        yard = ground.terrain.ground[row, col] + alone
        assert bool(yard <= rim) is named
        said = failure_sentence(ground.site, failure)
        assert ("gets in at the window well 'well'" in said) is named

    def test_a_high_rim_is_not(self):
        ground = on_ground(a_plot(FRONT, openings=(self.opening(101.0),)), bowl)
        (failure,) = failures_of(ground, FRONT, line(5.0), no_soil)
        assert failure.reached is not None
        assert failure.reached.openings == ()


class TestSwale:
    ground = on_ground(a_plot(FRONT), falling_forward(0.04))
    swale = swale_away(ground, FRONT, some_water())
    option = Option("swale", True, None, swale)

    def test_it_spills_outside_its_bank(self):
        (failure,) = failures_of(self.ground, FRONT, self.option)
        wide = 0.5 * self.swale.section.bottom_m + 3 * self.swale.section.depth_m
        assert LineString(self.swale.line).distance(Point(failure.at)) > wide
        assert failure.is_safe
        assert failure.comes_out == "bank"
        assert failure.bank_m > 0

    def test_what_spills_on_ground_that_leads_back_comes_back(self):
        def to_the_house(x, y):
            out = from_the_house(x, y)
            return 100.0 + np.where(out < 4.0, 0.03 * out, 0.12 - 0.06 * (out - 4.0))

        ground = on_ground(a_plot(FRONT), to_the_house)
        swale = swale_away(ground, FRONT, some_water())
        (failure,) = failures_of(ground, FRONT, Option("swale", True, None, swale), no_soil)
        worked = with_swale(ground, swale).answer_at(FRONT, *swale.line[1])
        assert not worked.returns
        assert failure.reaches_foundation
        assert failure.reached == Reached("comes back", pytest.approx(5 * FOOT))
        # It comes out on the ground that leads back, within 4 m of the house.
        assert box(-10, -8.5, 10, 8.5).contains(Point(failure.at))
        assert not failure.is_safe
