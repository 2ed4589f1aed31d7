"""The plan in words: what stands first, that nothing is left out, numbers that are the plan's."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from runoff.discharge.proof import WetterWall
from runoff.quantities import parse_flow, parse_length, parse_volume
from runoff.report import everything, plan_text, shopping_csv
from runoff.report.plan_attention import plan_attention
from runoff.rules import Rules
from runoff.words import CAUTIONS, dig_cells
from tests.report.made_up_plan import harmless, made_up_line, made_up_plan, referred


def flat(text: str) -> str:
    """The text on one line, so that where it wraps does not matter."""
    return " ".join(text.split())


def test_the_recommendations_stand_first_then_walls_and_proof_then_the_numbers() -> None:
    text = plan_text(made_up_plan())
    order = [
        "front left: buried line",
        "front right: extension",
        "rear right: swale",
        "rear left: seepage pit (dry well)",
        "At the walls, whatever is built",
        "What the storm leaves",
        "1  front left: buried line",
        "Shopping list, all of it",
        "Taken for granted",
        "Mind, always",
    ]
    places = [text.index(words) for words in order]
    assert places == sorted(places)


@pytest.mark.parametrize("units", ["ft", "m"])
def test_every_caution_and_assumption_is_told_in_any_plan(units) -> None:
    for plan in (made_up_plan(units), referred(made_up_plan(units)), harmless(made_up_plan(units))):
        text = flat(plan_text(plan))
        for sentence in (*CAUTIONS, *plan.assumptions):
            assert sentence in text


@pytest.mark.parametrize("units", ["ft", "m"])
def test_no_line_is_wider_than_asked(units) -> None:
    for width in (80, 110):
        assert max(map(len, plan_text(made_up_plan(units), width=width).splitlines())) <= width


def test_a_metric_plan_has_no_feet_in_it() -> None:
    plan = harmless(made_up_plan("m"))
    # What is bought is worded by the discharge room, and made up here.
    unsold = tuple(
        replace(one, chosen=replace(one.chosen, shopping=())) for one in plan.recommendations
    )
    bare = replace(plan, cautions=(), assumptions=(), grade=None, recommendations=unsold)
    assert not re.search(r"\d (ft|gpm|cu ft|sq ft)\b", plan_text(bare))


@pytest.mark.parametrize("units", ["ft", "m"])
def test_the_numbers_of_a_line_are_those_of_the_data(units) -> None:
    plan = made_up_plan(units)
    text, data = flat(plan_text(plan)), plan.to_dict()["recommendations"][0]["chosen"]["line"]
    half = 0.5 * (0.0254 if units == "ft" else 0.01) + 1e-9
    long = re.search(r"- ([\w .]+?) of 4 in pipe", text)
    assert long
    assert parse_length(long[1]) == pytest.approx(data["length_m"], abs=half)
    trench = re.search(r"Trench ([\w /.]+?) wide, up to ([\w /.]+?) deep", text)
    assert trench
    quarter = 0.5 * (0.0254 / 4 if units == "ft" else 0.01) + 1e-9
    assert parse_length(trench[1]) == pytest.approx(data["trench_width_m"], abs=quarter)
    assert parse_length(trench[2]) == pytest.approx(data["greatest_cut_m"], abs=quarter)
    full = re.search(r"it carries ([\d.]+ [\w/]+) full; the design flow of ([\d.]+ [\w/]+)", text)
    assert full
    # Printed to three figures.
    assert parse_flow(full[1]) == pytest.approx(data["flow"]["full_flow_m3_per_s"], rel=5e-3)
    assert parse_flow(full[2]) == pytest.approx(data["flow"]["flow_m3_per_s"], rel=5e-3)


def test_the_numbers_of_a_pit_are_those_of_the_data() -> None:
    plan = made_up_plan()
    text, data = plan_text(plan), plan.to_dict()["recommendations"][3]["chosen"]["pit"]
    row = re.search(r"whole storm \(built by this\) +([\d.]+ cu ft) +([\d.]+ cu ft)", text)
    assert row
    check = data["by_whole_storm"]
    assert parse_volume(row[1]) == pytest.approx(check["required_m3"], rel=5e-3)
    assert parse_volume(row[2]) == pytest.approx(check["pit"]["stored_m3"], rel=5e-3)
    assert check["pit"]["stored_m3"] == pytest.approx(2.8 * 2.8 * 0.9 * 0.4)


@pytest.mark.parametrize(("units", "style"), [("ft", None), ("ft", "tenths"), ("m", "cm")])
def test_the_dig_table_is_printed_row_by_row(units, style) -> None:
    lines = [flat(line) for line in plan_text(made_up_plan(units), style).splitlines()]
    rows = dig_cells(made_up_line(), units, style)
    assert len(rows) > 5
    for station, ground, invert, dig, cover, rod_at_invert, rod_at_bottom, what in rows:
        row = flat(" ".join((station, ground, invert, dig, cover)))
        found = [line for line in lines if line.startswith(row)]
        assert found
        note = found[0].removeprefix(row).strip()
        assert bool(note) == bool(what)
        if note:
            assert f"note {note} {what}" in lines
        assert flat(" ".join((station, rod_at_invert, rod_at_bottom, dig))) in lines


def test_no_number_of_a_dig_table_is_cut_on_a_narrow_screen() -> None:
    text = plan_text(made_up_plan(), width=80)
    assert "…" not in text
    assert not re.search(r"\n *\S\n *\S\n *\S\n", text)


def test_rod_columns_are_left_out_without_a_level() -> None:
    plan = made_up_plan()
    first = plan.recommendations[0]
    line = made_up_line(instrument=None)
    chosen = replace(first.chosen, design=line)
    only = replace(plan, recommendations=(replace(first, chosen=chosen),))
    assert "rod at" not in plan_text(only)
    assert "rod at" in plan_text(plan)


def test_a_bad_failure_is_told_beside_the_way_and_makes_the_plan_need_attention() -> None:
    plan = made_up_plan()
    assert "Mind: If the extension is crushed, blocked or frozen, the water" in flat(
        plan_text(plan)
    )
    assert any("comes back within 5 ft of a foundation" in told for told in plan_attention(plan))


def test_what_needs_attention() -> None:
    plan = made_up_plan()
    assert plan_attention(harmless(plan)) == ()
    told = plan_attention(plan)
    assert any("it stands within 5 ft of 'house'" in sentence for sentence in told)
    assert any("soil" in sentence for sentence in told)
    assert any(
        "Nothing that was tried keeps the water away" in sentence
        for sentence in plan_attention(referred(plan))
    )
    still = replace(harmless(plan).proof, wet_wall_after_m=2.0)
    assert len(plan_attention(replace(harmless(plan), proof=still))) == 1
    wall = WetterWall("house", "front", "soil", now_m=0.1016, before_m=0.0508)
    wetter = replace(harmless(plan).proof, wetter=(wall,))
    (told,) = plan_attention(replace(harmless(plan), proof=wetter))
    assert "the soil would leave more water at the front wall of 'house': up to 4 in deep" in told


def test_a_plan_without_a_lot_says_so() -> None:
    plan = harmless(made_up_plan())
    site = replace(plan.site, lot=None)
    (told,) = plan_attention(replace(plan, findings=replace(plan.findings, site=site)))
    assert told.startswith("No lot is given")


def test_heights_in_doubt_need_attention() -> None:
    plan = harmless(made_up_plan())
    (suspect,) = made_up_plan().findings.terrain.suspects
    terrain = plan.findings.terrain
    rough = replace(terrain, accuracy=replace(terrain.accuracy, indication_only=True))
    doubtful = replace(terrain, suspects=(suspect,))
    for changed, words in ((rough, "indication only"), (doubtful, "Height 'F6' stands 1 ft above")):
        found = replace(plan, findings=replace(plan.findings, terrain=changed))
        (told,) = plan_attention(found)
        assert words in told
        assert flat(told) in flat(plan_text(found))


def test_a_referral_says_who_must_be_asked() -> None:
    assert "Connect to a storm sewer (the town's engineer" in plan_text(referred(made_up_plan()))


def test_why_a_way_cannot_be_built_is_told() -> None:
    told = flat(plan_text(made_up_plan()))
    assert re.search(r"\(leave it as it is\).*?: 'house' has a basement, beside which", told)


def test_prices_are_shown_where_the_site_has_them() -> None:
    assert "USD 812" in plan_text(made_up_plan(prices=True))
    assert "price" not in plan_text(made_up_plan())


def test_overridden_rules_are_told_with_their_defaults() -> None:
    plan = made_up_plan()
    site = replace(plan.site, rules=Rules({"line_cover": 0.4572}))
    changed = replace(plan, findings=replace(plan.findings, site=site))
    text = flat(plan_text(changed))
    assert "line_cover: 1 ft 6 in" in text
    assert Rules().rule("line_cover").written in text


def test_gutters_are_taken_off_as_they_are_hung() -> None:
    # 26 ft 4 in of shingles and 1/2 in past them at each end: 26 ft 5 in (common practice).
    text = flat(plan_text(made_up_plan()))
    assert "front (5 in ogee): 26 ft 5 in long" in text
    # 1/2 in in 10 ft over 26 ft 5 in: 1.32 in.
    assert "one of 16 ft, one of 16 ft cut to 10 ft 8 in; falling 1 5/16 in" in text


def test_the_shopping_list_adds_up() -> None:
    plan = made_up_plan()
    pipe, stone = everything(plan)[:2]
    # A line of 20.65 m and one of 8 m, at 1 %, are 94 ft: 10 lengths. Under them lie 0.52 m x 4 in
    # of bedding (20.5 in wide, ASTM D2321): 1.98 cu yd, so 2, at 1.4 tons (common practice).
    assert (pipe.name, pipe.quantity) == ("4 in smooth pipe", 10)
    assert (stone.quantity, stone.use) == (2.0, "under the pipe; about 2.8 tons")
    told = 'all,,4 in smooth pipe,10,lengths of 10 ft,"solid, not perforated"'
    assert told in shopping_csv(plan).splitlines()


def test_soil_along_walls_is_counted_once() -> None:
    plan = made_up_plan()
    soil = [item for item in everything(plan) if "soil" in item.name]
    assert len(soil) == 1
    # 1.25 m3 is 1.63 cu yd, sold by the half.
    assert soil[0].quantity == 2.0
    first = plan.recommendations[0]
    chosen = replace(first.chosen, shopping=(*first.chosen.shopping, soil[0]))
    again = replace(plan, recommendations=(replace(first, chosen=chosen),))
    assert [item for item in everything(again) if "soil" in item.name] == soil
