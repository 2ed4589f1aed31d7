"""A sheet a job: two tapes give every point back, and each page holds what its trench needs."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from shapely import LineString, Point

from runoff.discharge import BuriedLine, SeepagePit
from runoff.planning import Plan
from runoff.quantities import Shown, parse_length
from runoff.report import corners_of, deciding, pit_outline, soil_jobs, stakes_of, write_report
from runoff.words import dig_cells
from tests.lots.planned import planned
from tests.report.printed_pages import pages, squeezed

LOTS = ("sample", "hillside", "flat_clay")
# Said under the table of tapes: half an inch on each, where they cross at 25 degrees or more.
WITHIN_M = 3 * 0.0254


def placed(plan: Plan):
    """Every stake with what its tapes say, of every downspout."""
    shown = Shown.of(plan.site)
    for each in plan.recommendations:
        for stake in stakes_of(plan.site, each.chosen):
            yield each, stake, stake.words(shown)


def crossing(a, b, first: float, second: float) -> list[tuple[float, float]]:
    """Where two circles cross, by the law of cosines from their centers and radii."""
    far = math.dist(a, b)
    along = (first**2 - second**2 + far**2) / (2 * far)
    off = math.sqrt(max(first**2 - along**2, 0.0))
    ux, uy = (b[0] - a[0]) / far, (b[1] - a[1]) / far
    return [
        (a[0] + along * ux - side * off * uy, a[1] + along * uy + side * off * ux)
        for side in (1, -1)
    ]


@pytest.mark.parametrize("lot", LOTS)
def test_two_tapes_give_every_point_back(lot: str) -> None:
    """From the printed words alone and the corners of the site file's own outlines."""
    plan = planned(lot)
    outlines = [
        point
        for building in plan.site.own_buildings
        for point in building.outline.exterior.coords[:-1]
    ]
    corners = dict(zip((one.letter for one in corners_of(plan.site)), outlines, strict=True))
    seen = 0
    for _, stake, (first, second) in placed(plan):
        if stake.wall:
            letter, along = re.match(r"(\w+) (.+?) (?:along|past)", first).groups()
            out = parse_length(second.removesuffix(" straight out"))
            told = math.hypot(parse_length(along), out)
            assert told == pytest.approx(math.dist(corners[letter], stake.at), abs=0.0254)
        else:
            (a, far_a), (b, far_b) = (words.split(" ", 1) for words in (first, second))
            found = crossing(corners[a], corners[b], parse_length(far_a), parse_length(far_b))
            assert min(math.dist(point, stake.at) for point in found) <= WITHIN_M
        seen += 1
    built = [one for one in plan.recommendations if one.chosen.kind not in ("as it is", "refer")]
    assert seen > 0 or not built


@pytest.mark.parametrize("lot", LOTS)
def test_no_tape_runs_through_a_building(lot: str) -> None:
    plan = planned(lot)
    for _, stake, _ in placed(plan):
        if stake.wall:
            continue
        for corner, _ in stake.tapes:
            way = LineString([stake.at, corner.at])
            inside = [way.intersection(one.outline).length for one in plan.site.buildings]
            assert max(inside) < 0.15


def test_start_every_bend_and_end_are_staked_and_a_pits_corners() -> None:
    plan = planned("sample")
    (each,) = (one for one in plan.recommendations if isinstance(one.chosen.design, BuriedLine))
    line = each.chosen.design
    (ax, ay), (bx, by) = line.route[0], line.route[-1]
    middle = ((ax + bx) / 2 + 1.0, (ay + by) / 2)
    bent = replace(line, route=type(line.route)((3, 2), dtype=float))
    bent.route[:] = [(ax, ay), middle, (bx, by)]
    names = [one.name for one in stakes_of(plan.site, replace(each.chosen, design=bent))]
    assert names == ["line, start", "line, bend 1", "line, end"]
    (pit,) = (
        one.chosen for one in plan.recommendations if isinstance(one.chosen.design, SeepagePit)
    )
    staked = [one.at for one in stakes_of(plan.site, pit) if one.name.startswith("pit")]
    assert len(staked) == 4
    for corner in pit_outline(pit.design):
        assert min(Point(corner).distance(Point(at)) for at in staked) < 1e-9


@pytest.fixture(scope="module", params=LOTS)
def printed(request, tmp_path_factory) -> tuple[Plan, list[str]]:
    plan = planned(request.param)
    path = tmp_path_factory.mktemp(request.param) / "a.pdf"
    return plan, pages(write_report(path, plan.findings, plan))


def test_each_job_has_a_page_with_all_that_it_takes(printed) -> None:
    """Tapes, every row of the dig table, every thing to buy, and the call before digging."""
    plan, found = printed
    shown = Shown.of(plan.site)
    for number, each in enumerate(plan.recommendations, start=1):
        stakes = stakes_of(plan.site, each.chosen)
        if not stakes:
            continue
        (page,) = (text for text in found if f"Job {number} {each.downspout}:" in text)
        said = squeezed(page)
        for stake in stakes:
            assert squeezed("".join(stake.words(shown))) in said, stake.name
        for item in each.chosen.shopping:
            assert squeezed(f"{item.name}{item.quantity:g}") in said
        line = each.chosen.line
        for row in [] if line is None else dig_cells(line, plan.site.units):
            assert squeezed("".join(row)) in said
        assert "dial 811" in page


def test_each_building_that_gets_soil_has_its_page(printed) -> None:
    plan, found = printed
    first = len(plan.recommendations) + 1
    for number, (building, wedges) in enumerate(soil_jobs(plan), start=first):
        (page,) = (text for text in found if f"Job {number} {building.name}:" in text)
        assert page.count("of soil, loose") >= sum(wedge.loose_m3 > 0 for wedge in wedges)


def test_the_first_page_has_a_map_and_what_to_do(printed) -> None:
    plan, found = printed
    assert "What to do, by the numbers of the jobs" in found[0]
    assert "scale 1" in found[0]
    for each in plan.recommendations:
        assert f"{each.downspout}:" in found[0]


def test_no_page_of_the_sample_is_left_nearly_empty(tmp_path: Path) -> None:
    for paper in ("letter", "a4"):
        plan = planned("sample")
        found = pages(write_report(tmp_path / "a.pdf", plan.findings, plan, paper=paper))
        assert len(found) < 16
        assert min(map(len, found)) > 500


def test_a_rule_is_printed_where_it_decided_something_whatever_was_worded_before() -> None:
    plan = planned("sample")
    names = [rule.name for rule in deciding(plan.findings, plan)]
    assert {"soil_grade", "line_slope", "line_cover", "pit_basement_distance"} <= set(names)
    assert not {"swale_freeboard", "pit_well_distance", "chamber_voids"} & set(names)
    alone = [rule.name for rule in deciding(plan.findings, None)]
    assert not [name for name in alone if name.startswith(("line_", "pit_", "extension_"))]
    rules = plan.site.rules.with_overrides({"gutter_fall": 0.01})
    site = replace(plan.site, rules=rules)
    set_here = replace(plan, findings=replace(plan.findings, site=site))
    assert "gutter_fall" in [rule.name for rule in deciding(set_here.findings, set_here)]
