"""The table of rules: its rows, overriding them, and the page that prints them."""

from __future__ import annotations

import math
import re
import subprocess
import sys
from pathlib import Path

import pytest

from runoff.quantities import QuantityError
from runoff.rules import RULES, Rules, parse_value, rules_table

PAGE = Path(__file__).parents[1] / "docs" / "rules.md"
FOOT = 0.3048


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.name)
def test_every_row_is_complete(rule):
    assert re.fullmatch(r"[a-z][a-z0-9_]*", rule.name)
    assert rule.governs
    assert rule.source
    assert rule.standing in ("read", "recalled", "common practice")
    assert math.isfinite(rule.value)
    assert rule.value > 0
    assert parse_value(rule, rule.example) > 0


def test_no_name_is_given_twice():
    rows = re.findall(r"^\| `(\w+)`", rules_table(), flags=re.MULTILINE)
    assert rows == sorted(set(rows), key=rows.index)
    source = (PAGE.parents[1] / "runoff" / "rules.py").read_text(encoding="utf-8")
    assert source.count('\n    ("') == len(RULES)


# Converted by hand from the sources' own figures.
@pytest.mark.parametrize(
    ("name", "si"),
    [
        ("near_foundation", 1.524),
        ("foundation_reach", 3.048),
        ("storm_depth", 0.1016),
        ("storm_duration", 3600),
        ("soil_grade", 0.05),
        ("paving_grade", 0.02),
        ("runoff_coefficient_roof", 0.95),
        ("runoff_coefficient_lawn_clay_steep", 0.35),
        ("height_sigma_laser_level", 0.003),
        ("height_sigma_string_level", 0.0127),
        ("height_sigma_lidar", 0.1),
        ("leader_fill", 0.2916667),
        ("line_slope", 0.01),
        ("footing_line", 1),
        ("self_cleaning_velocity", 0.6096),
        ("pit_least_rate", 1e-6),
        ("pit_slow_rate", 3.5277778e-6),
        ("stone_voids", 0.4),
    ],
)
def test_values_are_si(name, si):
    assert Rules()[name] == pytest.approx(si, rel=1e-6)


def test_overrides_are_used_and_named_in_the_order_of_the_table():
    rules = Rules().with_overrides({"storm_depth": 0.15}).with_overrides({"near_foundation": 2})
    assert rules["near_foundation"] == 2
    assert rules["storm_depth"] == 0.15
    assert rules["foundation_reach"] == pytest.approx(10 * FOOT)
    assert rules.overridden == ("near_foundation", "storm_depth")
    assert rules.rule("storm_depth").value == pytest.approx(4 * FOOT / 12)
    assert Rules().overridden == ()


def test_an_unknown_rule_names_the_nearest():
    with pytest.raises(KeyError, match="near_foundation"):
        Rules()["near_foundations"]
    with pytest.raises(KeyError, match="there is no rule"):
        Rules().with_overrides({"zzz": 1})
    with pytest.raises(KeyError, match="storm_depth"):
        Rules().parse_override("storm_dept", "4 in")


@pytest.mark.parametrize("value", [-1, math.nan, math.inf])
def test_overrides_are_finite_and_not_negative(value):
    with pytest.raises(ValueError, match="near_foundation"):
        Rules().with_overrides({"near_foundation": value})


@pytest.mark.parametrize(
    ("name", "written", "si"),
    [
        ("near_foundation", "6 ft", 1.8288),
        ("near_foundation", "2 m", 2),
        ("soil_grade", "4 %", 0.04),
        ("soil_grade", "6 in in 10 ft", 0.05),
        ("line_slope", "1/8 in per ft", 1 / 96),
        ("storm_duration", "1 h 30 min", 5400),
        ("runoff_coefficient_roof", 0.9, 0.9),
        ("pit_slow_rate", "1 in/h", 7.055556e-6),
        ("trial_pit_fillings", 2, 2),
    ],
)
def test_overrides_are_read_by_kind(name, written, si):
    assert Rules().parse_override(name, written) == pytest.approx(si, rel=1e-6)


@pytest.mark.parametrize(
    ("name", "written", "reason"),
    [
        ("near_foundation", 6, "say the unit"),
        ("near_foundation", "6 lb", '"lb" is not a unit of length'),
        ("near_foundation", "-6 ft", "not negative"),
        ("soil_grade", 5, "write it like 2 %"),
        ("runoff_coefficient_roof", 95, "more than 1"),
        ("trial_pit_fillings", 2.5, "not a whole number"),
        ("storm_duration", True, "neither text nor a number"),
    ],
)
def test_overrides_of_another_kind_are_refused(name, written, reason):
    with pytest.raises(QuantityError) as refused:
        Rules().parse_override(name, written)
    assert reason in refused.value.reason


def test_the_page_holds_the_table():
    assert rules_table() in PAGE.read_text(encoding="utf-8")


def test_rules_and_quantities_do_without_numpy():
    code = "import runoff.rules, runoff.quantities, sys; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
