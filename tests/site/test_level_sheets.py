"""String-level and water-level sheets, against the plane geometry of a line that is not level."""

import math

import pytest

from runoff.site import InputError, reduce_levels
from tests.told import told

FOOT = 0.3048


def reduced(tmp_path, text, units="ft", **more):
    path = tmp_path / "string.csv"
    path.write_text(text)
    return reduce_levels(path, units, shown="string.csv", **more)


def sheet(slope, distances=(0, 10, 20, 35), depths=(20, 26, 31, 43), turned=(1, 1, 1, 1)):
    """A sheet, in inches to 1/16, by a string level that is off by `slope`."""
    rows = ["point,down (in),reversed (in),distance,height"]
    for k, (far, depth, again) in enumerate(zip(distances, depths, turned, strict=True)):
        off = slope * far * 12
        down, back = (round((depth + sign * off) * 16) / 16 for sign in (1, -1))
        rows.append(f"P{k},{down},{back if again else ''},{far},{100 if k == 0 else ''}")
    return "\n".join(rows) + "\n"


@pytest.mark.parametrize("slope", [-0.006, 0.0, 0.002, 0.01])
def test_reversing_takes_out_a_string_level_s_own_error(tmp_path, slope):
    table = reduced(tmp_path, sheet(slope))
    assert table.level_error == pytest.approx(slope, abs=1 / 16 / (35 * 12))
    for k, depth in enumerate((20, 26, 31, 43)):
        height = 100 - (depth - 20) / 12
        assert table.heights[f"P{k}"] / FOOT == pytest.approx(height, abs=1 / 16 / 12)
    assert table.sigma == pytest.approx(0.003)
    assert any("own error is" in said for said in told(table.warnings))


def test_points_read_once_are_corrected_by_their_distance(tmp_path):
    table = reduced(tmp_path, sheet(0.01, turned=(1, 0, 0, 1)))
    assert table.heights["P2"] / FOOT == pytest.approx(100 - 11 / 12, abs=1 / 8 / 12)
    assert not any("remains" in said for said in told(table.warnings))


def test_half_the_difference_by_hand(tmp_path):
    """24 in and 23 in at a point 20 ft out: 1/2 in too low by the first, 1/2 in in 20 ft."""
    text = "point,down,reversed,distance,height\nA,18 in,18 in,0,50\nB,24 in,23 in,20,\n"
    table = reduced(tmp_path, text)
    assert table.level_error == pytest.approx(0.5 / 240)
    assert table.heights["B"] / FOOT == pytest.approx(50 - 5.5 / 12)


def test_without_reversal_the_error_remains_and_is_said(tmp_path):
    table = reduced(tmp_path, "point,down,height\nA,1 ft,100\nB,2 ft,\n")
    assert table.heights["B"] / FOOT == pytest.approx(99)
    assert table.sigma == pytest.approx(0.0127)
    assert any("its own error remains: A, B" in said for said in told(table.warnings))


def test_a_line_of_known_height_has_a_row_for_that(tmp_path):
    text = "String,Point,Distance from the end,Down,Level turned,Mean,Height\n"
    text += "A,string,0,0,,,100\nA,P1,10,12 1/2 in,12 in,12 1/4 in,\n"
    table = reduced(tmp_path, text)
    assert table.heights["P1"] / FOOT == pytest.approx(100 - 12.25 / 12)


def test_lines_are_joined_by_points_below_both(tmp_path):
    text = "line,point,down,height\n2,B,3 ft,\n2,C,1 ft,\n1,A,1 ft,100\n1,B,2 ft,\n"
    table = reduced(tmp_path, text)
    assert table.heights["C"] / FOOT == pytest.approx(101)


def test_two_known_heights_check_the_line(tmp_path):
    """Sigma 1/2 in a height: two differ by less than 1.96 sqrt(2) x 1/2 in = 1.4 in."""
    text = "point,down,height\nA,1 ft,100\nB,2 ft,{}\n"
    fine = reduced(tmp_path, text.format("99 ft 1 in"))
    assert not fine.problems
    assert fine.allowance == pytest.approx(1.96 * math.sqrt(2) * 0.0127)
    (problem,) = reduced(tmp_path, text.format("100")).problems
    assert problem.line == 3
    assert "1.00 ft too low" in problem.expected


@pytest.mark.parametrize(
    ("text", "line", "part"),
    [
        ("down,height\n1 ft,100\n", 1, "a column point"),
        ("point,down\nA,1 ft\nA,2 ft\n", 3, "line 2 has this one already"),
        ("point,down\nA,1 ft\n,2 ft\n", 3, "a name"),
        ("point,down\nA,1 ft\nB,\n", 3, "below the line"),
        ("point,down\nA,1 ft\nB,24 ft 14 in\n", 3, "14 in is a foot or more"),
        ("point,down\nA,1 ft\nB,-2\n", 3, "zero or more"),
    ],
)
def test_mistakes(tmp_path, text, line, part):
    with pytest.raises(InputError) as caught:
        reduced(tmp_path, text)
    (problem,) = caught.value.problems
    assert problem.line == line
    assert part in problem.expected


def test_a_line_that_hangs_on_nothing(tmp_path):
    (problem,) = reduced(
        tmp_path, "line,point,down,height\n1,A,1 ft,100\n2,B,1 ft,\n2,C,1 ft,\n"
    ).problems
    assert problem.line == 3
    assert "another line" in problem.expected
