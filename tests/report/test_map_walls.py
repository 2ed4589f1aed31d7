"""The house on the map: verdicts along walls, openings, the safe discharge area, names of ponds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from matplotlib.colors import to_hex
from matplotlib.figure import Figure

from runoff.foundation import walls_of
from runoff.inspection import Findings
from runoff.report import LETTERS, REACHED, RUN_LINES, compose, run_line
from tests.report.made_up import made_up_findings
from tests.report.made_up_walls import wall_run
from tests.report.test_map import map_texts


def words_on(figure: Figure) -> list[str]:
    return [text.get_text() for text in map_texts(figure)]


def legend_of(figure: Figure) -> list[str]:
    return [text.get_text() for text in figure.legends[0].get_texts()]


def with_walls(findings: Findings, **changed) -> Findings:
    return replace(findings, at_the_wall=replace(findings.at_the_wall, **changed))


def test_legend_names_each_verdict_that_occurs_and_no_other() -> None:
    findings = made_up_findings()
    told = [words for words in legend_of(compose(findings)) if words.startswith("wall: ")]
    assert len(told) == len(RUN_LINES)
    flat = [run for run in findings.at_the_wall.runs if run.verdict == "too flat"]
    only = legend_of(compose(with_walls(findings, runs=tuple(flat), openings=())))
    assert [words for words in only if words.startswith("wall: ")] == ["wall: too flat  F"]
    assert not [words for words in only if words.startswith("opening")]


def test_verdicts_keep_apart_without_color() -> None:
    """No two have the same line once color is gone, and the letters differ."""
    lines = [(s["linewidth"], str(s.get("linestyle"))) for s in RUN_LINES.values()]
    assert len(set(lines)) == len(lines)
    assert len(set(LETTERS.values())) == len(LETTERS)


def test_letters_stand_for_the_runs() -> None:
    findings = made_up_findings()
    words = words_on(compose(findings))
    wanted = [LETTERS[r.verdict] for r in findings.at_the_wall.runs if r.verdict in LETTERS]
    assert sorted(w for w in words if w in LETTERS.values()) == sorted(wanted)


def test_a_short_run_beside_a_longer_one_of_its_verdict_has_no_letter() -> None:
    """B for 5 ft of the front wall and none for 1 ft; F for 1 ft, as there is no longer one."""
    findings = made_up_findings()
    given = (("slopes back", 0, 5), ("slopes back", 10, 11), ("too flat", 20, 21))
    runs = tuple(
        wall_run(findings.site, "house", 0, start, end, verdict, 1.0)
        for verdict, start, end in given
    )
    words = words_on(compose(with_walls(findings, runs=runs, openings=())))
    assert sorted(word for word in words if word in LETTERS.values()) == ["B", "F"]


def test_rough_heights_are_marked_in_the_legend() -> None:
    findings = made_up_findings()
    rough = tuple(replace(run, indication=True) for run in findings.at_the_wall.runs)
    legend = legend_of(compose(with_walls(findings, runs=rough)))
    assert "wall: too flat (indication)  F" in legend
    assert "wall: not surveyed" in legend


def test_letters_stand_within_their_buildings() -> None:
    findings = made_up_findings()
    figure = compose(findings)
    letters = [text for text in map_texts(figure) if text.get_text() in LETTERS.values()]
    houses = shapely.union_all([building.outline for building in findings.site.buildings])
    assert len(letters) > 5
    assert all(houses.contains(shapely.Point(*text.get_position())) for text in letters)


def test_run_is_drawn_inside_its_building_and_as_long_as_it_is() -> None:
    findings = made_up_findings()
    walls = {(wall.building, wall.number): wall for wall in walls_of(findings.site.buildings)}
    outlines = {building.name: building.outline for building in findings.site.buildings}
    for run in findings.at_the_wall.runs:
        line = run_line(walls[run.building, run.wall], run, 0.1)
        assert float(np.hypot(*np.diff(line, axis=0)[0])) == pytest.approx(run.end_m - run.start_m)
        middle = shapely.Point(*line.mean(axis=0))
        assert outlines[run.building].contains(middle)
        assert outlines[run.building].exterior.distance(middle) == pytest.approx(0.1)


def test_openings_are_named_and_filled_where_water_gets_in() -> None:
    findings = made_up_findings()
    figure = compose(findings)
    assert {opening.name for opening in findings.at_the_wall.openings} <= set(words_on(figure))
    fills = [to_hex(patch.get_facecolor()) for patch in figure.axes[0].patches]
    assert fills.count(REACHED["facecolor"]) == 1


def test_safe_area_is_tinted_on_the_lot_alone() -> None:
    """Pixels that change when all ground becomes safe lie within the lot's boundary."""
    findings = made_up_findings()
    boundary = findings.site.lot.boundary
    code = findings.at_the_wall.safe_area.code
    drawn = []
    for every in (np.zeros_like(code), np.ones_like(code)):
        area = replace(findings.at_the_wall.safe_area, code=every)
        figure = compose(with_walls(findings, safe_area=area))
        figure.canvas.draw()
        drawn.append(np.asarray(figure.canvas.buffer_rgba())[..., :3].astype(int))
    axes = figure.axes[0]
    rows, cols = np.nonzero(np.abs(drawn[0] - drawn[1]).max(axis=2))
    height = drawn[0].shape[0]
    on_map = axes.bbox.contains
    inside = np.array([on_map(c + 0.5, height - r - 0.5) for r, c in zip(rows, cols, strict=True)])
    px = np.column_stack([cols + 0.5, height - rows - 0.5])[inside]
    plan = axes.transData.inverted().transform(px)
    assert len(plan) > 10_000
    assert boundary.buffer(0.15).covers(shapely.MultiPoint(plan))


def test_low_spot_off_the_lot_is_drawn_without_a_name_unless_a_downspout_fills_it() -> None:
    findings = made_up_findings()
    first, second = (replace(spot, on_lot=False) for spot in findings.low_spots)
    far = replace(first, name="low spot 3")
    words = words_on(compose(replace(findings, low_spots=(first, second, far))))
    named = [word.split("\n")[0] for word in words if word.startswith("low spot")]
    assert sorted(named) == ["low spot 1", "low spot 2"]
