"""The soil that is recommended: told as it is laid, and no wall wetter in the storm for it."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache

import pytest

from runoff.discharge import Grounds, LotGround, NotPossible, lot_ground, prove
from runoff.flow import prepare_flow, run_storm
from runoff.foundation import SoilWedge, apply_wedges, judge_walls, soil_wedges
from runoff.report import profile_of, soil_words, walls_that_fail
from runoff.terrain import build_terrain
from runoff.words import soil_height, soil_sentence
from tests.lots.generated import a_generated_lot
from tests.lots.planned import planned
from tests.lots.walls import laid

# Lots where soil placed along all that fails, without a look at the storm, leaves more water at
# some wall: a gap that paving leaves is dammed, or one wall's soil sends water to the next.
DAMMED = (38, 43, 46, 60, 71, 76)


@cache
def the_ground(seed: int) -> LotGround:
    site = a_generated_lot(seed)
    return lot_ground(site, build_terrain(site))


def is_refused(wedge: SoilWedge, code: str) -> bool:
    return wedge.refused is not None and wedge.refused.code == code


def wet(ground: LotGround, terrain=None) -> Counter:
    """Metres of each wall that hold water in the storm, on this terrain."""
    runs = ground.walls
    if terrain is not None:
        flow = prepare_flow(ground.site, terrain)
        depth = run_storm(ground.site, flow).ponding.depth()
        runs = judge_walls(ground.site, terrain, depth)
    found: Counter = Counter()
    for run in runs:
        if run.verdict == "holds water":
            found[run.building, run.wall] += run.end_m - run.start_m
    return found


def wetter(ground: LotGround, terrain) -> dict:
    was, now = wet(ground), wet(ground, terrain)
    return {wall: now[wall] for wall in now if now[wall] > was[wall] + 1e-6}


@pytest.mark.parametrize("seed", DAMMED)
def test_soil_that_would_dam_water_against_a_wall_is_refused(seed):
    ground = the_ground(seed)
    all_of_it = soil_wedges(ground.site, ground.terrain, ground.walls, ground.depth)
    assert wetter(ground, apply_wedges(ground.terrain, all_of_it))
    after, soil = Grounds(ground).corrected_everywhere()
    assert not wetter(ground, after.terrain)
    dams = [wedge for wedge in soil.wedges if is_refused(wedge, "dams a wall")]
    assert dams
    assert all(len(wedge.cells) == wedge.compacted_m3 == wedge.loose_m3 == 0 for wedge in dams)
    assert all(
        "it would dam water against the " in soil_sentence(ground.site, wedge) for wedge in dams
    )


@pytest.mark.parametrize("seed", [38, 41, 47, 50, 55])
def test_the_soil_told_is_the_soil_laid(seed):
    ground = the_ground(seed)
    made = [Grounds(ground).corrected_everywhere] if seed != 55 else []
    made += [
        lambda spout=spout: Grounds(ground).corrected(spout) for spout in ground.site.downspouts
    ]
    for make in made:
        try:
            after, soil = make()
        except NotPossible:
            continue
        raised = (after.terrain.ground - ground.terrain.ground)[~ground.terrain.closed]
        on_the_ground = raised[raised > 0].sum() * ground.terrain.grid.cell_area
        assert soil.compacted_m3 == pytest.approx(on_the_ground, rel=1e-6)
        assert soil.compacted_m3 == pytest.approx(laid(ground.terrain, *soil.wedges), rel=1e-6)
        assert soil.compacted_m3 == pytest.approx(
            sum(w.compacted_m3 for w in soil.wedges), rel=1e-9
        )


@pytest.mark.parametrize("seed", [16, 36, 48])
def test_no_wall_that_is_wet_already_stands_in_deeper_water(seed):
    """Lots where soil round a pool shortens it and makes it deeper at a wall: by 1 to 7 cm."""
    ground = the_ground(seed)

    def deepest(terrain) -> dict:
        depth = run_storm(ground.site, prepare_flow(ground.site, terrain)).ponding.depth()
        found: dict = {}
        for run in ground.walls:
            for station in run.stations:
                x, y = (f + 0.2 * o for f, o in zip(station.foot, station.outward, strict=True))
                row, col = terrain.grid.cell(x, y)
                wall = run.building, run.wall
                found[wall] = max(found.get(wall, 0.0), float(depth[row, col]))
        return found

    was = deepest(ground.terrain)
    all_of_it = soil_wedges(ground.site, ground.terrain, ground.walls, ground.depth)
    dammed = deepest(apply_wedges(ground.terrain, all_of_it))
    assert max(dammed[wall] - was[wall] for wall in was) > 0.01
    after, _ = Grounds(ground).corrected_everywhere()
    now = deepest(after.terrain)
    # The water in one row of cells a little out from the wall, not in every cell that touches it.
    assert max(now[wall] - was[wall] for wall in was) < 0.015


def test_between_two_buildings_only_the_walls_that_face_each_other_conflict():
    """The garage stands 5.5 m behind the house: each can be corrected, and all but what lies
    between them can be together.
    """
    ground = the_ground(38)
    wedges = soil_wedges(ground.site, ground.terrain, ground.walls, ground.depth)
    against = [wedge.run for wedge in wedges if is_refused(wedge, "undoes another wall")]
    assert {(run.building, run.wall_name) for run in against} == {
        ("house", "rear"),
        ("garage", "front"),
    }
    # The garage is 4.1 m wide; a stretch of some metres to both sides of it on the house's wall.
    assert sum(run.end_m - run.start_m for run in against) < 4.1 + 4.1 + 2 * 1.5
    placed = {(wedge.run.building, wedge.run.wall_name) for wedge in wedges if len(wedge.cells)}
    assert placed >= {("house", name) for name in ("front", "right", "rear", "left")}
    assert placed >= {("garage", name) for name in ("right", "rear", "left")}


@pytest.mark.parametrize("seed", [8, 38])
def test_what_a_downspout_relies_on_is_what_the_plan_asks_for(seed):
    """House and garage could each have soil here that cannot stay beside the other's."""
    found = planned(seed)

    def placed(soil) -> set:
        kept = [wedge for wedge in soil.wedges if len(wedge.cells)]
        return {(s.building, s.wall, s.along_m) for wedge in kept for s in wedge.run.stations}

    corrections = [each.correction for one in found.recommendations for each in one.options]
    corrections = [each for each in corrections if each is not None]
    assert corrections
    for each in corrections:
        assert found.grade is not None
        assert placed(each) <= placed(found.grade)


@pytest.mark.parametrize("seed", [38, 46])
def test_an_inspection_orders_the_soil_that_the_plan_orders(seed):
    """Lots where some of the soil that the walls ask for would dam water against another wall."""
    found = planned(seed)
    assert found.grade is not None
    wedges = found.findings.at_the_wall.wedges
    ordered = {soil_sentence(found.site, wedge) for wedge in wedges}
    assert ordered == {soil_sentence(found.site, wedge) for wedge in found.grade.wedges}
    assert any(is_refused(wedge, "dams a wall") for wedge in wedges)


@pytest.mark.parametrize("seed", [38, 50])
def test_the_height_told_is_that_of_the_ground_at_the_wall(seed):
    """Text, layers and tables tell `height`; drawings read the ground with all the soil on it."""
    found = planned(seed)
    assert found.grade is not None
    findings = found.findings
    after = apply_wedges(findings.terrain, found.grade.wedges)
    placed = [wedge for wedge in found.grade.wedges if len(wedge.cells)]
    assert placed
    for wedge in placed:
        profiles = [profile_of(findings, after, each) for each in wedge.run.stations]
        at_wall = max(each.corrected[0] - each.now[0] for each in profiles)
        assert wedge.height_m == pytest.approx(at_wall, abs=1e-3)
    for wall in walls_that_fail(findings, found, 9):
        if wall.wedge is not None and len(wall.wedge.cells):
            assert soil_height(found.site, wall.wedge.height_m) in soil_words(found.site, wall)


def test_the_proof_tells_of_a_wall_that_ends_wetter():
    """Without a look at the storm the soil of this lot dams its front wall."""
    ground = the_ground(38)
    wedges = soil_wedges(ground.site, ground.terrain, ground.walls, ground.depth)
    dammed = lot_ground(ground.site, apply_wedges(ground.terrain, wedges))
    told = prove(ground, dammed, ()).wetter
    assert ("soil", "front", "house") in [(each.code, each.wall, each.building) for each in told]
    assert all(each.now_m > each.before_m for each in told)
    after, _ = Grounds(ground).corrected_everywhere()
    assert prove(ground, after, ()).wetter == ()
    assert prove(ground, replace(ground), ()).wetter == ()
