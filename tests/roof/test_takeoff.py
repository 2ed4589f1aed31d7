"""The take-off of a gutter run, against a worked example of the trade and against its own sums."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runoff.quantities import Shown, format_length, parse_length
from runoff.roof import STOCK_M, take_off
from runoff.rules import Rules
from runoff.words import laps_words

INCH = 0.0254
FOOT = 0.3048

US = Shown("us")


def test_the_worked_example():
    # Common practice, no source: 21 ft + 5 ft 4 in, read across a mark on the eave.
    eave = parse_length("21 ft + 5 ft 4 in")
    assert format_length(eave) == "26 ft 4 in"
    run = take_off(eave, "right", outlet_height_m=9 * FOOT)
    assert format_length(run.length_m) == "26 ft 5 in"
    assert [format_length(piece) for piece in run.cut_m] == ["16 ft", "10 ft 8 in"]
    assert [format_length(piece) for piece in run.stock_m] == ["16 ft", "16 ft"]
    assert 1.25 * INCH <= run.fall_m <= 1.5 * INCH
    assert run.high_end_m == pytest.approx(9 * FOOT + run.fall_m)
    assert run.hangers == 15
    assert (run.end_caps_left, run.end_caps_right) == (1, 1)
    assert run.lap_seams == 1
    assert run.sealant_seams == 4
    assert "laps 3 in into the next one downstream" in laps_words(US, run)
    assert "outlet at the right end" in laps_words(US, run)
    assert "inside the one below it" in laps_words(US, run)


@pytest.mark.parametrize(
    ("gutter", "stock", "cut"),
    [
        ("9 ft", ["10 ft"], ["9 ft"]),
        ("10 ft", ["10 ft"], ["10 ft"]),
        ("10 ft 1 in", ["16 ft"], ["10 ft 1 in"]),
        ("16 ft", ["16 ft"], ["16 ft"]),
        ("19 ft 9 in", ["10 ft", "10 ft"], ["10 ft", "10 ft"]),
        ("25 ft", ["16 ft", "10 ft"], ["16 ft", "9 ft 3 in"]),
        ("31 ft 9 in", ["16 ft", "16 ft"], ["16 ft", "16 ft"]),
        ("32 ft 6 in", ["16 ft", "10 ft", "10 ft"], ["16 ft", "10 ft", "7 ft"]),
        ("16 ft 1 in", ["10 ft", "10 ft"], ["10 ft", "6 ft 4 in"]),
    ],
)
def test_what_is_bought_and_cut(gutter, stock, cut):
    run = take_off(parse_length(gutter) - INCH, "left")
    assert [format_length(piece) for piece in run.stock_m] == stock
    assert [format_length(piece) for piece in run.cut_m] == cut


def test_a_last_piece_too_short_to_hang_takes_from_its_neighbor():
    run = take_off(parse_length("16 ft 1 in") - INCH, "left", stock_m=(16 * FOOT,))
    assert [format_length(piece) for piece in run.cut_m] == ["14 ft 4 in", "2 ft"]


def test_one_piece_has_no_lap():
    assert laps_words(US, take_off(3.0, "left")).startswith("One piece, no lap")


@settings(max_examples=100, deadline=None)
@given(st.floats(0.2, 60.0), st.sampled_from(["left", "right", "both ends"]))
def test_the_pieces_make_the_run_with_the_fewest_seams(eave, end):
    run = take_off(eave, end)
    lap = 3 * INCH
    assert sum(run.cut_m) - run.lap_seams * lap == pytest.approx(eave + INCH)
    for cut, stock in zip(run.cut_m, run.stock_m, strict=True):
        assert lap < cut <= stock + 1e-9
        assert stock in STOCK_M
    halves = 2 if end == "both ends" else 1
    made = run.length_m if halves == 1 else (run.length_m + lap) / 2
    stock = run.stock_m[: len(run.stock_m) // halves]
    seams = len(stock) - 1
    assert run.lap_seams == halves * (seams + 1) - 1
    if seams:
        assert seams * max(STOCK_M) - (seams - 1) * lap < made
        dropped = sum(stock) - (max(STOCK_M) - min(STOCK_M)) - seams * lap
        assert dropped < made or max(STOCK_M) not in stock
    assert run.length_m / (run.hangers - 1) <= 2 * FOOT + 1e-9
    assert run.fall_m == pytest.approx(run.length_m / halves * 0.5 / 120)


def test_outlets_at_both_ends_are_two_half_runs_that_fall_from_the_middle():
    # By hand: an eave of 39 ft 11 in makes 40 ft of gutter. Each half is 20 ft and half of the
    # 3 in lap in the middle: 16 ft and 20 ft 1 1/2 in + 3 in - 16 ft = 4 ft 4 1/2 in. Each half
    # falls 20 / 10 x 1/2 in and hangs on 11 hangers, the middle one shared.
    run = take_off(parse_length("39 ft 11 in"), "both ends")
    assert format_length(run.length_m) == "40 ft"
    assert [format_length(piece) for piece in run.cut_m] == 2 * ["16 ft", "4 ft 4 1/2 in"]
    assert [format_length(piece) for piece in run.stock_m] == ["16 ft", "10 ft"] * 2
    assert run.fall_m == pytest.approx(INCH)
    assert run.high_end_m == pytest.approx(INCH)
    assert (run.hangers, run.outlets) == (21, 2)
    assert (run.end_caps_left, run.end_caps_right) == (1, 1)
    # Laps: one in each half and the middle; sealed with them: two end caps, two outlets.
    assert (run.lap_seams, run.sealant_seams) == (3, 7)
    assert "falls both ways from the middle" in laps_words(US, run)
    assert "toward its outlet" in laps_words(US, run)


def test_short_half_runs_are_one_piece_each():
    run = take_off(5.0, "both ends")
    assert (len(run.cut_m), run.lap_seams) == (2, 1)
    assert laps_words(US, run).endswith(
        "Each half-run is one piece; every fitting goes inside the one below it."
    )


def test_another_lap_and_fall_by_rule():
    rules = Rules().with_overrides({"gutter_lap": 6 * INCH, "gutter_run_fall": 0.01})
    run = take_off(26 * FOOT, "left", rules=rules)
    assert sum(run.cut_m) == pytest.approx(26 * FOOT + 7 * INCH)
    assert run.fall_m == pytest.approx(0.01 * run.length_m)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: take_off(0, "left"), "eave_m is 0"),
        (lambda: take_off(5, "up"), 'outlet_end is "up"'),
        (lambda: take_off(5, "left", float("inf")), "outlet_height_m is inf"),
        (lambda: take_off(5, "left", stock_m=()), "no piece longer than the lap"),
        (lambda: take_off(5, "left", stock_m=(0.05,)), "no piece longer than the lap"),
        (lambda: take_off(5, "left", stock_m=(-1,)), "stock_m is -1"),
        (lambda: take_off(400, "left"), "expected 40 at most"),
    ],
)
def test_what_cannot_be_taken_off(call, said):
    with pytest.raises(ValueError, match=said):
        call()
