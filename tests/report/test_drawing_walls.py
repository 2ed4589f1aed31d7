"""The ground off walls in drawings: it is the terrain's, and falls as the wall was judged."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator

from runoff.foundation import SoilWedge, WallRun
from runoff.inspection import Findings
from runoff.report import FAILS, MOST_WALLS, failing_walls, profile_of, sheets_of
from tests.lots.ways import a_downspout, a_plot, dished, on_ground
from tests.report.drawn_sheets import drawings, findings_of, plan_of, sheets, texts_on


def test_the_ground_off_a_wall_is_the_terrains_at_each_station() -> None:
    """Against scipy's own linear interpolation between the cell centers, a cell off the wall."""
    findings = findings_of("m")
    grid, ground = findings.terrain.grid, findings.terrain.ground
    x, y = grid.centers()
    terrain = RegularGridInterpolator((y[::-1], x), ground[::-1])
    seen = 0
    for run in failing_walls(findings.at_the_wall.runs):
        station, profile = run.worst, profile_of(findings, findings.terrain, run.worst)
        away = profile.out > 1.5 * grid.cell_size
        points = np.array(station.foot) + profile.out[away, None] * np.array(station.outward)
        wanted = terrain(points[:, ::-1])
        told = np.isfinite(wanted)
        np.testing.assert_allclose(profile.now[away][told], wanted[told], atol=1e-9)
        seen += told.sum()
    assert seen > 200


def test_the_ground_that_is_drawn_falls_as_the_wall_was_judged() -> None:
    """On a dished yard, judged by the foundation room itself."""
    lot = on_ground(a_plot(a_downspout(0.0, 4.6)), dished, cell_size=0.4)
    findings = replace(findings_of(), site=lot.site, terrain=lot.terrain, standing_depth=lot.depth)
    runs = failing_walls(lot.walls)
    assert runs
    for run in runs:
        for station in run.stations:
            profile = profile_of(findings, lot.terrain, station)
            end = float(np.interp(station.reach_m, profile.out, profile.now))
            assert profile.now[0] - end == pytest.approx(station.fall_m, abs=1e-6)


def soil_before(findings: Findings, run: WallRun) -> SoilWedge:
    """Four inches of soil on the cells within 2 m before a run of wall."""
    x, y = findings.terrain.grid.centers()
    (fx, fy), (ox, oy) = run.worst.foot, run.worst.outward
    xx, yy = np.meshgrid(x - fx, y - fy)
    out, along = xx * ox + yy * oy, yy * ox - xx * oy
    chosen = (out > 0) & (out < 2.0) & (np.abs(along) < 3.0) & ~findings.terrain.closed
    cells = np.argwhere(chosen)
    return SoilWedge(run, 1.0, 1.25, 0.1016, 2.0, 0.0, None, cells, np.full(len(cells), 0.1016))


def test_the_corrected_ground_is_the_terrain_with_the_soil_on_it() -> None:
    plan = plan_of("m")
    run = failing_walls(plan.findings.at_the_wall.runs)[0]
    wedge = soil_before(plan.findings, run)
    plan = replace(plan, grade=replace(plan.grade, wedges=(wedge,)))
    sheet = next(s for s in sheets_of(plan.findings, plan) if s.name.startswith("ground off"))
    drawn = {line.get_label(): line.get_data() for line in sheet.figure.axes[0].lines}
    x, z = drawn["corrected"]
    soil = z - np.interp(x, *drawn["ground"])
    near = x < 2.0 - plan.findings.terrain.grid.cell_size
    np.testing.assert_allclose(soil[near], 0.1016, atol=1e-9)
    assert (soil >= -1e-9).all()
    words = " ".join(text for text, _ in texts_on(sheet.figure))
    assert "soil 102 mm" in words
    assert "corrected ground" in words


def test_the_worst_run_of_each_failing_wall_is_drawn_once() -> None:
    findings = findings_of()
    runs = failing_walls(findings.at_the_wall.runs)
    walls = [(run.building, run.wall) for run in runs]
    assert len(set(walls)) == len(walls)
    assert {(r.building, r.wall) for r in findings.at_the_wall.runs if r.verdict in FAILS} == set(
        walls
    )
    assert runs[0].verdict == "holds water"
    drawn = [name for name in drawings("ft", "letter") if name.startswith("ground off")]
    assert len(drawn) == min(len(runs), MOST_WALLS)


def test_the_required_fall_is_the_stations() -> None:
    for name, sheet in sheets("m", "a4").items():
        if not name.startswith("ground off"):
            continue
        (limit,) = [line for line in sheet.figure.axes[0].lines if line.get_label() == "limit"]
        x, z = limit.get_data()
        runs = failing_walls(findings_of("m").at_the_wall.runs)
        wanted = [(run.worst.reach_m, run.worst.required_m) for run in runs]
        assert any(np.allclose((x[1], z[0] - z[1]), pair) for pair in wanted)
