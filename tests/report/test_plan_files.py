"""The files of a plan: which there are, what is in them, and what is left alone."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from runoff.quantities import parse_length
from runoff.report import (
    check_free,
    compose,
    dig_csv,
    is_own,
    pit_outline,
    shopping_csv,
    stems,
    write_layers,
    write_plan,
)
from runoff.report.plan_files import plan_files
from runoff.words import DIG_COLUMNS, dig_cells
from tests.lots.made_up import made_up_site
from tests.report.made_up_plan import (
    made_up_extension,
    made_up_line,
    made_up_pit,
    made_up_plan,
    made_up_swale,
    referred,
)

UNITS = re.compile(r"(^|_)(m|m2|m3|s|in|degrees|m_per_s|m3_per_s|m_per_m|s_per_m_1_3)$")
# Counts, shares and ratios, which have no unit; a quantity's unit stands beside it.
WITHOUT = {
    "format",
    "rows",
    "columns",
    "wall_number",
    "stations",
    "share",
    "side_run",
    "depth_ratio",
    "voids",
    "safety_factor",
    "quantity",
    "price",
    "hangers",
    "props",
    "outlets",
    "end_caps_left",
    "end_caps_right",
    "lap_seams",
    "sealant_seams",
    "lawn_curve_number",
    "paving_curve_number",
}
# Tables by name: a unit, or that counts are meant, stands in the key above.
TABLES = {"stations_by_verdict", "fed_by_m3", "not_safe_m2", "left_m3"}


def numbers(data: Any, keys: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], float]]:
    """Every number with the keys above it."""
    if isinstance(data, dict):
        for name, value in data.items():
            yield from numbers(value, (*keys, name))
    elif isinstance(data, list):
        for value in data:
            yield from numbers(value, keys)
    elif isinstance(data, int | float) and not isinstance(data, bool):
        yield keys, data


def check_units(data: Any) -> int:
    """Assert that every number's key says its unit; how many numbers there are."""
    count = 0
    for keys, _ in numbers(data):
        count += 1
        named = keys[-1]
        assert UNITS.search(named) or named in WITHOUT or TABLES & set(keys[:-1]), keys
    return count


def test_every_number_of_the_data_has_its_unit() -> None:
    assert check_units(made_up_plan().to_dict()) > 500


def test_the_check_of_units_sees_a_bare_number() -> None:
    with pytest.raises(AssertionError):
        check_units({"line": {"length": 3.0}})


def test_each_way_has_its_files_and_all_are_the_tools_own(tmp_path: Path) -> None:
    written = write_plan(made_up_plan(), tmp_path)
    names = {
        "plan.json",
        "plan.txt",
        "plan.png",
        "shopping.csv",
        "dig_front_left.csv",
        "profile_front_left.png",
        "swale_rear_right.png",
        "dig_rear_left.csv",
        "profile_rear_left.png",
        "pit_rear_left.png",
    }
    assert {path.name for path in written} == names
    assert {path.name for path in tmp_path.iterdir()} == names
    assert all(is_own(path) for path in written)
    data = json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))
    assert data["written_by"] == "runoff"


def test_what_an_earlier_plan_left_is_taken_away_but_never_a_users_file(tmp_path: Path) -> None:
    write_plan(made_up_plan(), tmp_path)
    mine = tmp_path / "dig_front_right.csv"
    mine.write_text("my own notes\n", encoding="utf-8")
    write_plan(referred(made_up_plan()), tmp_path)
    left = {path.name for path in tmp_path.iterdir()}
    assert not left & {"dig_front_left.csv", "profile_front_left.png"}
    assert "dig_rear_left.csv" in left
    assert mine.read_text(encoding="utf-8") == "my own notes\n"


@pytest.mark.parametrize(("units", "style"), [("ft", None), ("ft", "tenths"), ("m", None)])
def test_a_dig_table_reads_back(units, style) -> None:
    text = dig_csv(made_up_line(), made_up_site(units), "front left", style)
    rows = list(csv.reader(line for line in text.splitlines() if not line.startswith("#")))
    told = len(DIG_COLUMNS)
    assert tuple(rows[0][:told]) == DIG_COLUMNS
    assert [tuple(row[:told]) for row in rows[1:]] == dig_cells(made_up_line(), units, style)
    # The same lengths as numbers, all of a column in the unit of its heading.
    assert rows[0][told:] == [f"{name}, {units}" for name in DIG_COLUMNS[:-1]]
    for row in rows[1:]:
        for printed, number in zip(row, row[told:], strict=False):
            if number:
                one = 0.3048 if units == "ft" else 1.0
                assert float(number) * one == pytest.approx(parse_length(printed), abs=2e-5)
            else:
                assert printed == "-"


def test_a_table_names_its_lot_its_downspout_and_the_day_of_its_heights() -> None:
    site = replace(made_up_site("ft"), name="north lot", date="2026-04-18")
    head = dig_csv(made_up_line(), site, "front left").splitlines()[1:4]
    assert head == ["# Lot: north lot", "# Downspout: front left", "# Heights taken: 2026-04-18"]
    undated = dig_csv(made_up_line(), replace(site, date=""), "front left")
    assert "# Heights taken: not noted" in undated


@pytest.mark.parametrize("name", ["=1+1", "+1", "-2+3", "@sum(a1)", "all", "walls", "a,=1+1"])
def test_no_name_makes_a_formula_or_a_row_of_another_list(name: str) -> None:
    """What spreadsheets take for formulas: = + - @, and a tab before them (OWASP, from memory)."""
    plan = made_up_plan()
    first = replace(plan.recommendations[0], downspout=name)
    plan = replace(plan, recommendations=(first, *plan.recommendations[1:]))
    lines = shopping_csv(plan).splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    own = [row for row in rows if row["downspout"].lstrip("'") == name]
    assert {row["list"] for row in own} == {"downspout"}
    assert len(own) == len(first.chosen.shopping) > 0
    assert {row["downspout"] for row in rows if row["list"] != "downspout"} == {""}
    texts = [*lines, dig_csv(made_up_line(), replace(made_up_site("ft"), name=name), name)]
    cells = [cell for row in csv.reader("\n".join(texts).splitlines()) for cell in row]
    assert not [cell for cell in cells if cell.startswith(("=", "+", "@", "\t"))]


def test_a_dig_table_from_rough_heights_says_so() -> None:
    site = made_up_site("ft")
    rough = replace(site, height_accuracy=replace(site.height_accuracy, indication_only=True))
    assert "too rough to dig by" in dig_csv(made_up_line(), rough, "a")
    assert "too rough" not in dig_csv(made_up_line(), site, "a")


def test_names_of_files_stay_in_the_folder_and_apart(tmp_path: Path) -> None:
    names = [
        "front left",
        "front-left",
        "../../etc/passwd",
        "C:\\x",
        "軒 1",
        "",
        "a" * 300,
        "A" * 300,
    ]
    found = stems(names)
    assert len(set(found)) == len(names)
    for path in plan_files(tmp_path, names).every:
        assert path.parent == tmp_path
        assert not set('\\/:*?"<>| ') & set(path.name)
        assert len(path.name) < 100


def test_a_csv_of_the_users_is_in_the_way(tmp_path: Path) -> None:
    mine = tmp_path / "shopping.csv"
    mine.write_text("item,quantity\n", encoding="utf-8")
    with pytest.raises(FileExistsError):
        check_free([mine])


def test_the_map_shows_the_work_with_its_words() -> None:
    plan = made_up_plan()
    figure = compose(plan.findings, plan)
    words = " ".join(text.get_text() for text in (*figure.axes[0].texts, *figure.texts))
    for name in ("4 in line, ", "extension, 6 ft", "swale, 32 ft 10 in", "seepage pit, 4 ft 11 in"):
        assert name in words
    assert "what to build" in words
    legend = " ".join(text.get_text() for text in figure.legends[0].get_texts())
    for name in ("extension on the ground", "buried line to lay", "seepage pit", "swale to cut"):
        assert name in legend


def test_the_map_shows_where_the_water_of_a_swale_runs_on() -> None:
    plan = made_up_plan()
    path = made_up_swale().path
    lines = [line.get_xydata() for line in compose(plan.findings, plan).axes[0].lines]
    assert any(line.shape == path.shape and np.allclose(line, path) for line in lines)


def test_a_turned_pit_keeps_its_size() -> None:
    corners = pit_outline(made_up_pit())
    x, y = corners.T
    # The shoelace formula.
    area = 0.5 * abs((x * (y.take([1, 2, 3, 0])) - x.take([1, 2, 3, 0]) * y).sum())
    assert area == pytest.approx(2.8 * 2.8)
    assert corners.mean(axis=0) == pytest.approx((3.0, -9.5))
    # Turned by 30 degrees counterclockwise, the first side points up to the right.
    side = corners[1] - corners[0]
    assert side[1] / side[0] == pytest.approx(3**-0.5)


def test_data_of_a_plan_without_grade_is_null() -> None:
    assert replace(made_up_plan(), grade=None).to_dict()["grade"] is None


@pytest.mark.parametrize("places", [1, 2, 3])
def test_water_that_stays_where_the_work_ends_is_drawn_and_written_too(
    tmp_path: Path, places: int
) -> None:
    """The way on from a swale, an extension and a full pit is one place, told once or more."""
    plan = made_up_plan()
    swale, extension, pit = made_up_swale(), made_up_extension(), made_up_pit()
    still = np.tile([3.0, -9.5], (places, 1))
    overflow = replace(pit.overflow, path=still)
    designs = {
        "rear right": replace(swale, path=still),
        "front right": replace(extension, path=still),
        "rear left": replace(pit, overflow=overflow),
    }
    plan = replace(
        plan,
        recommendations=tuple(
            replace(one, chosen=replace(one.chosen, design=designs[one.downspout]))
            if one.downspout in designs
            else one
            for one in plan.recommendations
        ),
    )
    assert (tmp_path / "plan.png") in write_plan(plan, tmp_path)
    held = json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))
    assert held["written_by"] == "runoff"
    write_layers(tmp_path / "layers", plan.findings, plan)
