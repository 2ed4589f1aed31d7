"""What the JSON says of the walls: every number with its unit, nothing that JSON cannot hold."""

from __future__ import annotations

import json
from typing import Any

import pytest

from runoff.foundation import REASONS
from tests.report.made_up import made_up_findings

UNITS = ("_m", "_m2", "_m3", "_m_per_m", "_degrees")


def numbers_in(data: Any, key: str = "") -> list[str]:
    """The keys under which floats stand, those of enclosing lists and of named parts included."""
    if isinstance(data, dict):
        inside = key if key.endswith(UNITS) else ""
        return [k for name, value in data.items() for k in numbers_in(value, inside or name)]
    if isinstance(data, list):
        return [k for value in data for k in numbers_in(value, key)]
    return [key] if isinstance(data, float) else []


def test_every_number_at_the_wall_has_its_unit() -> None:
    told = made_up_findings().to_dict()["at_the_wall"]
    keys = set(numbers_in(told))
    assert len(keys) > 20
    assert {key for key in keys if not key.endswith(UNITS)} == set()


def test_json_holds_no_infinity_and_no_nan() -> None:
    text = json.dumps(made_up_findings().to_dict(), allow_nan=False)
    told = json.loads(text)["at_the_wall"]
    dry, unknown = told["openings"][1:]
    assert dry["rain_to_reach_m"] is None
    assert dry["freeboard_m"] == 0.2032
    assert unknown["edge_height_m"] is None


def test_run_carries_the_numbers_that_decide_and_counts_its_stations() -> None:
    findings = made_up_findings()
    run = findings.to_dict()["at_the_wall"]["wall_runs"][3]
    assert (run["wall"], run["verdict"]) == ("right", "cut short: needs a drain or swale")
    assert run["end_m"] == pytest.approx(16 * 0.3048)
    worst = run["worst_station"]
    assert worst["fall_m"] == pytest.approx(0.0254)
    assert worst["required_fall_m"] == pytest.approx(0.1524)
    assert worst["reach_m"] == pytest.approx(4 * 0.3048)
    assert worst["cut_short_by"] == "lot line"
    assert run["stations"] == 3
    assert run["stations_by_verdict"] == {"cut short: needs a drain or swale": 3}


def test_standing_water_tells_which_walls_it_touches() -> None:
    """Each by building, name and number; as made up, together the 1.8 m of wall that are wet."""
    (water,) = made_up_findings().to_dict()["at_the_wall"]["standing_water"]
    walls = [tuple(wall.values()) for wall in water["wetted_walls"]]
    assert walls == [("house", "left", 3, 1.5), ("garage", "front", 0, 0.3)]
    assert list(water["wetted_walls"][0]) == ["building", "wall", "wall_number", "length_m"]
    assert water["wetted_wall_m"] == pytest.approx(1.8)


def test_areas_add_up_to_the_grid() -> None:
    findings = made_up_findings()
    area = findings.to_dict()["at_the_wall"]["safe_discharge_area"]
    assert set(area["not_safe_m2"]) == set(REASONS) - {"safe"}
    grid = findings.terrain.grid
    whole = grid.rows * grid.cols * grid.cell_area
    assert area["safe_m2"] + sum(area["not_safe_m2"].values()) == pytest.approx(whole)
    # Two made-up patches: a disk of radius 5 m cut by the lot line, and a strip beside the drive.
    assert 60.0 < area["safe_m2"] < 5.0**2 * 3.1416 + 5.0 * 7.0
