"""What codes ask of a buried line's pipe: by what it is approved for, and by what lies over it.

Sources: California Plumbing Code 718.3 (pipe not approved under buildings keeps 2 ft from any
building and lies 1 ft deep); ASTM D3034 (46 psi for SDR 35) and EN 1401 (SN 8 for SDR 34), from
memory, held against the closed form of a ring's stiffness; the standard of a sanitary district
(18 in of cover outside drives, 24 in under private ones, 36 in under public ones).
"""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
from shapely.geometry import Polygon, box

import runoff
from runoff.discharge import SIZES_IN, BuriedLine, Option, pipe_of
from runoff.discharge.reasons import DrawnRoute, Stopped
from runoff.planning import plan
from runoff.quantities import Shown
from runoff.rules import Rules
from runoff.site import Building, Paving, PipeChoice
from runoff.words import line_cautions
from tests.discharge.refusals import refused
from tests.discharge.test_line import FOOT, INCH, before_a_wall, line_on
from tests.lots.records import WRITTEN
from tests.lots.small import SITE, write_small_lot

NOT_APPROVED = ("corrugated", "unknown")
STRAIGHT = [(0.0, -26.5)]


def a_shed(feet_off: float) -> Building:
    """A shed this far to the right of the straight route down the plan."""
    x = feet_off * FOOT
    corners = [(x, 10.0), (x + 4, 10.0), (x + 4, 16.0), (x, 16.0)]
    walls = ("front", "right", "rear", "left")
    return Building("shed", Polygon(corners), walls, "slab", 3.0, WRITTEN)


def past_a_shed(wall: str, feet_off: float) -> BuriedLine:
    return line_on(route=STRAIGHT, buildings=(a_shed(feet_off),), pipe=PipeChoice(wall, 4))


class TestCalifornia718Point3:
    @pytest.mark.parametrize("wall", NOT_APPROVED)
    def test_pipe_not_approved_under_buildings_keeps_2_ft_from_any(self, wall: str) -> None:
        assert past_a_shed(wall, 2.02).length_m > 0
        with refused("within 2 ft of the shed"):
            past_a_shed(wall, 1.95)

    def test_pipe_approved_under_buildings_is_not_bound_by_it(self) -> None:
        assert past_a_shed("smooth", 1.95).length_m > 0
        assert past_a_shed("smooth", 1.02).length_m > 0
        # The room to dig in is the tool's own rule.
        with refused("within 1 ft of the shed"):
            past_a_shed("smooth", 0.95)

    @pytest.mark.parametrize("wall", NOT_APPROVED)
    def test_no_part_of_it_lies_less_than_1_ft_deep_but_where_it_comes_up(self, wall: str) -> None:
        # 6 in of cover are ordered; the ground falls 3 % and the pipe 1 %, so that it gives up its
        # depth, 1 ft of soil over 4 in of bore and its wall, over depth / 2 %.
        shallow = {"line_cover": 6 * INCH}
        line = line_on(rules=shallow, pipe=PipeChoice(wall, 4))
        pipe = line.flow.pipe
        assert line.profile.cover_m[0] == pytest.approx(12 * INCH, abs=1e-6)
        depth = 12 * INCH + pipe.bore_m + pipe.wall_m
        assert line.length_m == pytest.approx(depth / 0.02, abs=0.01)
        smooth = line_on(rules=shallow)
        assert smooth.profile.cover_m[0] == pytest.approx(6 * INCH, abs=1e-6)

    @pytest.mark.parametrize("wall", ["smooth", *NOT_APPROVED])
    def test_the_stretch_at_the_wall_that_no_line_avoids_is_of_approved_pipe(
        self, wall: str
    ) -> None:
        line = before_a_wall(pipe=PipeChoice(wall, 4))
        said = [c for c in line_cautions(Shown("us"), line) if "approved" in c]
        if wall == "smooth":
            assert not said
        else:
            assert said == [
                "As far as it lies within 2 ft of the house, lay pipe that is approved under "
                "buildings, such as schedule 40 (rule line_building_distance)."
            ]
        # Away from all buildings there is nothing to say.
        away = line_on(pipe=PipeChoice(wall, 4), buildings=(a_shed(9.0),), route=STRAIGHT)
        assert "approved under building" not in [each.code for each in away.cautions]


def a_drive(kind: str = "drive") -> Paving:
    return Paving("the paving", kind, box(-14, 12, 14, 15), WRITTEN)  # type: ignore[arg-type]


def stiffness_psi(outside: float, wall: float) -> float:
    """Pipe stiffness of a plain ring: 4.47 E / (DR - 1)^3, DR its outside over its wall.

    From 53.77 E I / D^3 with I = t^3 / 12, as for ASTM D2412; E = 400,000 psi, the least of the
    PVC that ASTM D3034 and D1785 ask for.
    """
    return 4.47 * 400_000 / (outside / wall - 1) ** 3


def ring_stiffness_kpa(outside: float, wall: float) -> float:
    """EN ISO 9969's E I / D^3 over the middle of the wall, E = 3,200 MPa of unplasticized PVC."""
    return 3.2e6 / 12 / (outside / wall - 1) ** 3


class TestUnderADrive:
    def test_the_stiffness_asked_for_is_what_the_pipes_named_beside_it_have(self) -> None:
        line = line_on(paving=(a_drive(),))
        (said,) = [c for c in line_cautions(Shown("us"), line) if "stiffness" in c]
        asked = float(re.search(r"stiffness of (\d+) psi or more", said)[1])
        assert "SDR 35, schedule 40" in said
        assert stiffness_psi(35.0, 1.0) == pytest.approx(asked, rel=0.02)
        for size in SIZES_IN:
            pipe = pipe_of(size, "smooth", Rules())
            assert stiffness_psi(pipe.outside_m, pipe.wall_m) > asked
        assert "'the paving'" in said
        assert "sleeve" in said
        assert "3 ft of cover" in said

    def test_on_a_metric_lot_it_is_that_of_the_metric_pipe(self) -> None:
        metric = line_on(paving=(a_drive(),), units="m")
        (said,) = [c for c in line_cautions(Shown("metric"), metric) if "stiffness" in c]
        asked = float(re.search(r"stiffness of SN (\d+) or more", said)[1])
        pipe = metric.flow.pipe
        assert pipe.metric
        for ratio in (34.0, pipe.outside_m / pipe.wall_m):
            found = ring_stiffness_kpa(ratio, 1.0)
            assert min((2, 4, 8, 16), key=lambda of: abs(math.log(of / found))) == asked

    @pytest.mark.parametrize(("kind", "is_asked"), [("drive", True), ("walk", False)])
    def test_it_is_asked_for_under_wheels_alone(self, kind: str, is_asked: bool) -> None:
        line = line_on(paving=(a_drive(kind),), route=STRAIGHT)
        assert any("stiffness" in each for each in line_cautions(Shown("us"), line)) is is_asked
        x = line.profile.stations_m
        under = line.profile.cover_m[(x >= 11.01) & (x <= 13.99)]
        assert under.min() >= (24 if is_asked else 12) * INCH - 1e-6
        assert not any("stiffness" in each for each in line_cautions(Shown("us"), line_on()))


class TestCoverOutsideDrives:
    def test_18_in_is_told_beside_the_12_in_that_are_kept(self) -> None:
        line = line_on()
        assert line.profile.cover_m[0] == pytest.approx(12 * INCH, abs=1e-6)
        assert "It is laid with 1 ft of cover; some districts ask for 1 ft 6 in." in line_cautions(
            Shown("us"), line
        )

    @pytest.mark.parametrize(("inches", "is_told"), [(17, True), (18, False), (24, False)])
    def test_it_is_told_where_less_is_kept(self, inches: int, is_told: bool) -> None:
        line = line_on(rules={"line_cover": inches * INCH}, route=STRAIGHT)
        assert line.profile.cover_m[0] == pytest.approx(inches * INCH, abs=1e-6)
        assert any("some districts" in each for each in line_cautions(Shown("us"), line)) is is_told

    def test_what_a_drive_asks_for_does_not_make_up_for_it(self) -> None:
        line = line_on(paving=(a_drive(),), route=STRAIGHT)
        assert any(
            "some districts ask for 1 ft 6 in" in each for each in line_cautions(Shown("us"), line)
        )

    def test_a_district_of_ones_own_is_told_with_its_figure(self) -> None:
        line = line_on(rules={"line_cover_district": 30 * INCH})
        assert any(
            "some districts ask for 2 ft 6 in" in each for each in line_cautions(Shown("us"), line)
        )


def the_line_of(folder: Path, wall: str, *changes: tuple[str, str]) -> Option:
    """The buried line that a plan has for the small lot's downspout, moved to its front wall.

    The ground falls 5 % to the street, 80 ft off; a drive crosses the front lawn.
    """
    site = SITE
    for old, new in (
        ('wall = "smooth"', f'wall = "{wall}"'),
        ("wall = 3, distance", "wall = 1, distance"),
        (
            "[[24, -24], [32, -24], [32, 10], [24, 10]]",
            "[[-14, -12], [34, -12], [34, -6], [-14, -6]]",
        ),
        ("-24]", "-80]"),
        *changes,
    ):
        assert old in site
        site = site.replace(old, new)
    rows = ["name,x,y,z"]
    for x in (-14, 0, 10, 20, 34):
        for y in (-80, -60, -40, -20, -10, 0, 16, 30):
            if not (0 < x < 20 and 0 < y < 16):
                rows.append(f"p{len(rows)},{x},{y},{99.5 + 0.05 * y:.3f}")
    planned = plan(runoff.read_site(write_small_lot(folder, "", site, "\n".join(rows) + "\n")))
    return {each.kind: each for each in planned.recommendations[0].options}["buried line"]


def test_a_plan_lays_approved_pipe_past_a_shed_that_other_pipe_may_not_pass(tmp_path: Path) -> None:
    shed = '[[building]]\nname = "shed"\nkind = "slab"\nfooting_depth = "3 ft"\ncorners = '
    shed += "[[2.5, -40], [8, -40], [8, -34], [2.5, -34]]\n[lot]"
    changes = (("[lot]", shed), ('roofs = ["roof"]', 'roofs = ["roof"]\nroute = [[1, -74]]'))
    smooth = the_line_of(tmp_path / "smooth", "smooth", *changes)
    assert smooth.feasible
    said = " ".join(line_cautions(Shown("us"), smooth.line))
    assert "Under 'drive' the pipe is of a stiffness of 46 psi or more" in said
    assert "some districts ask for 1 ft 6 in" in said
    assert "approved" not in said
    corrugated = the_line_of(tmp_path / "corrugated", "corrugated", *changes)
    assert not corrugated.feasible
    assert isinstance(corrugated.reason, DrawnRoute)
    assert corrugated.reason.why == Stopped("near a building", "shed", clear_m=2 * FOOT)


def test_a_plan_of_pipe_that_is_not_approved_says_so_where_it_leaves_the_house(
    tmp_path: Path,
) -> None:
    option = the_line_of(tmp_path, "unknown", ('kind = "drive"', 'kind = "walk"'))
    said = " ".join(line_cautions(Shown("us"), option.line))
    assert "within 2 ft of the house, lay pipe that is approved under buildings" in said
    assert "stiffness" not in said
