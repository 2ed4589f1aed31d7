"""Sheets of soil tests as people write them: read, or refused with file and row."""

import re
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from runoff import read_site
from runoff.quantities import format_rate
from runoff.site import InputError, Problem, read_percolation, read_trial_pit
from tests.lots.rich import PERCOLATION, changed, problems_of, write_lot
from tests.site.test_mutation import mutated
from tests.told import told

FT, INCH = 0.3048, 0.0254
PAGE = (Path(__file__).parents[2] / "docs" / "soil_tests.md").read_text(encoding="utf-8")
PIT = "fill,time,depth,length,width,remark\n"
HOLE = "time,depth,refill,diameter,remark\n"


def pit_of(folder, text, units="ft"):
    (folder / "pit.csv").write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_trial_pit(folder / "pit.csv", "pit.csv", units)


def hole_of(folder, text, units="ft"):
    (folder / "hole.csv").write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_percolation(folder / "hole.csv", "hole.csv", units)


def lines_of(call, *arguments):
    with pytest.raises(InputError) as caught:
        call(*arguments)
    return [str(problem) for problem in caught.value.problems]


def test_published_pit_by_the_clock(tmp_path):
    """1.60 x 0.60 x 0.65 m, 75 % to 25 % in 4020 s: f 3.24e-5 m/s, cut (BRE Digest 365)."""
    text = PIT + (
        "1,11:30,0.65,1.60,0.60,full\n"
        "1,11:40,0.4875,,,\n"
        "1,12:10,0.30,,,lunch\n"
        "1,12:47,0.1625,,,\n"
        ",1:00,0.1,,,\n"
    )
    test, notices = pit_of(tmp_path, text, "m")
    assert_allclose(test.used[0].seconds, 4020)
    assert int(test.rates[0] * 1e7) == 324
    assert told(notices) == [
        "pit.csv: line 6: 1:00 is taken as past twelve o'clock",
        "pit.csv: the trial pit was filled once, 3 are asked for: the rate may be too high",
    ]


def test_three_fills_in_feet_and_inches_with_minutes(tmp_path):
    """75 % and 25 % of 2 ft are 18 in and 6 in, read at 10 and 65, 70, 75 min."""
    text = "Fill No.,Minutes,Water depth (in),Pit length,Pit width (in)\n"
    for fill, end in ((1, 65), (2, 70), (3, 75)):
        sizes = "5',24" if fill == 1 else ","
        text += f"{fill},0,24,{sizes}\n{fill},10,18,,\n{fill},40,1 ft,,\n{fill},{end},6,,\n"
    test, notices = pit_of(tmp_path, text)
    assert_allclose([fill.seconds for fill in test.used], [55 * 60, 60 * 60, 65 * 60])
    assert_allclose((test.length, test.width, test.depth), (5 * FT, 2 * FT, 2 * FT))
    assert notices == []


def test_times_taken_in_the_field(tmp_path):
    text = (
        "fill,time_75_to_25,effective_depth,length,width\n1,55 min,2,5,2\n2,1 h 1 min,,,\n3,67,,,\n"
    )
    test, notices = pit_of(tmp_path, text)
    assert_allclose([fill.seconds for fill in test.used], [3300, 3660, 4020])
    assert_allclose(test.depth, 2 * FT)
    assert notices == []


def test_measured_down_from_a_board(tmp_path):
    """Down 1 ft to the water at first, 4 ft to the bottom: 3 ft of water."""
    text = "fill,time,down,bottom,length,width\n1,0,1,4 ft,5,2\n"
    text += "1,10,1.75,,,\n1,20,2,,,\n1,40,3.25,,,\n"
    test, _ = pit_of(tmp_path, text)
    assert_allclose((test.depth, test.used[0].seconds), (3 * FT, 1800))


def test_refills_count_the_fills_where_no_column_does(tmp_path):
    text = "time,depth,refill,length,width\n"
    for start in (0, 60, 120):
        text += (
            f"{start},1.0,{'yes' if start else ''},2,1\n{start + 20},0.5,,,\n{start + 40},0.2,,,\n"
        )
    test, _ = pit_of(tmp_path, text, "m")
    assert [fill.name for fill in test.used] == ["1", "2", "3"]
    # 75 % at 10 min; 25 % at 20 + 20 x 0.25 / 0.3 min.
    assert_allclose(test.used[2].seconds, (10 + 20 * 0.25 / 0.3) * 60)


def test_the_printed_sheet_of_a_trial_pit(tmp_path):
    """As it is headed on paper; the minutes are noted once, else they are between two times."""
    text = "Filling,Full at,At 75 %,At 25 %,Minutes from 75 % to 25 %,Length,Width,"
    text += "Depth of the water when full\n"
    text += "1,9:00,9:14,10:21,67,5 ft,2 ft,36 in\n2,11:40,11:55,1:04,,,,\n3,,,,70,,,\n"
    test, notices = pit_of(tmp_path, text)
    assert_allclose([fill.seconds for fill in test.used], [67 * 60, 69 * 60, 70 * 60])
    assert_allclose(test.depth, 3 * FT)
    assert told(notices, units="ft") == ["pit.csv: line 3: 1:04 is taken as past twelve o'clock"]


def test_the_printed_sheet_of_a_percolation_test(tmp_path):
    """Filled up to the same mark after each reading, as the falls noted tell: 1 in in 10 min."""
    text = "Reading,Clock time,Minutes,Stick to water,Fall,Minutes per inch,First water depth,"
    text += "Hole's diameter,Remark\n1,9:00,,8 in,,,6 in,8 in,filled to 6 in\n"
    text += "2,9:10,10,10 in,2 in,5,,,\n3,9:20,10,9 in,1 in,10,,,\n"
    text += "4,9:30,10,9 in,1 in,10,,,\n5,9:40,10,9 in,1 in,10,,,\n"
    test, notices = hole_of(tmp_path, text)
    assert_allclose(test.rates, [1.6 * INCH / 3600] * 3)
    assert len(test.left_out) == 1
    assert "hole.csv: by the falls noted, the hole was filled up after readings" in told(notices)


def test_bytes_of_another_kind(tmp_path):
    """A byte-order mark, Windows line ends, semicolons, decimal commas, seconds, millimeters."""
    text = "\ufefftime (s);depth (mm);refill;diameter (mm)\r\n0;150,0;;200\r\n\r\n"
    text += "600;137,5;;\r\n600;150,0;x;\r\n1200;137,5;;\r\n1200;150,0;x;\r\n1800;137,5;;\r\n"
    test, notices = hole_of(tmp_path, text.encode(), "m")
    assert_allclose(test.rates, [0.0125 / 600 / (1 + 4 * 0.14375 / 0.2)] * 3)
    assert told(notices) == [
        "hole.csv: read with semicolons between the columns",
        "hole.csv: 1 blank row passed over",
        "hole.csv: commas in figures are read as decimal points",
    ]


def test_percolation_says_which_falls_are_used(tmp_path):
    text = HOLE + "9:00,6 in,,8 in,\n9:10,4 in,,,\n9:10,6 in,,,refilled\n"
    text += "9:20,5 in,,,\n9:20,6 in,yes,,\n9:30,5 in,,,\n9:30,6 in,x,,\n9:40,5 in,,,\n"
    test, notices = hole_of(tmp_path, text)
    assert_allclose(test.rates, [1.6 * INCH / 3600] * 3)
    assert told(notices, units="ft") == [
        "hole.csv: of 4 falls of the water the last 3, which agree, are used"
    ]


def test_percolation_that_never_steadied(tmp_path):
    text = HOLE + "0,6 in,,8 in,\n10,4 in,,,\n20,3 in,,,\n30,2.75 in,,,\n"
    test, notices = hole_of(tmp_path, text)
    assert not test.steady
    assert (
        told(notices)[0] == "hole.csv: of 3 falls of the water the one with the least rate is used"
    )
    assert "never steadied" in told(notices)[1]


def test_water_not_seen_to_fall_is_known_to_the_step_of_the_tape(tmp_path):
    test, notices = hole_of(tmp_path, HOLE + "0,6 in,,8 in,\n30,6 in,,,\n60,6 in,,,\n90,6 in,,,\n")
    assert_allclose(test.record.fall / test.record.time, INCH / 5400)
    assert "at most" in told(notices)[0]


@pytest.mark.parametrize(
    ("times", "minutes"),
    [
        (("11:50", "12:10", "1:10"), 80),
        (("11:50 am", "12:10 pm", "1:10 p.m."), 80),
        (("22:30", "23:50", "0:10"), 100),
        (("0:00", "0:20", "1:40"), 100),
        (("9:05:00", "9:05:30", "9:06:00"), 1),
        (("0", "90 s", "3"), 3),
        (("11:30 pm", "11:50 pm", "12:10 AM"), 40),
    ],
)
def test_times(tmp_path, times, minutes):
    rows = [f"{time},{depth}," for time, depth in zip(times, (6, 5, 4), strict=True)]
    text = "time,depth (in),diameter\n" + "8 in\n".join(rows[:1]) + "8 in\n" + "\n".join(rows[1:])
    test, _ = hole_of(tmp_path, text + "\n")
    falls = sorted((*test.used, *test.left_out), key=lambda fall: fall.start)
    assert_allclose(sum(fall.seconds for fall in falls), minutes * 60)


PIT_MISTAKES = [
    ("1,9:05,2 ft,5,2,\n1,9:00,1,,,\n", 3, "fill '1' . time: \"9:00\" is written", "of line 2"),
    ("1,9:50,2 ft,5,2,\n1,9:40,1,,,\n", 3, "time", "not before that of line 2"),
    ("1,17:00,2 ft,5,2,\n1,8:00,1,,,\n", 3, "time", "the time since the start, such as 15 h"),
    ("1,9:65,2 ft,5,2,\n1,10:40,1,,,\n", 2, "time", "a time, such as 9:05"),
    ("1,9:05,2 ft,5,2,\n1,40,1,,,\n", 3, "time", "clock times or times since the start throughout"),
    ("1,noon,2 ft,5,2,\n1,40,1,,,\n", 2, "time", "a time, such as 9:05"),
    ("1,,2 ft,5,2,\n", 2, "time", "a time, such as 9:05"),
    ("1,0,,5,2,\n", 2, "depth", "a depth of the water, such as 14 1/2 in"),
    ("1,0,2 lb,5,2,\n", 2, "depth", "a depth of the water, such as 4.35"),
    ("1,0,-2,5,2,\n", 2, "depth", "zero or more"),
    ("1,0,2,5,2,\n1,9,1,,,\n1,12,1.5,,,\n", 4, "depth", "after line 3; where it was filled up"),
    ("1,0,2,5,2,\n2,0,2,,,\n1,40,1,,,\n", 4, "fill '1' . fill", "line 2 begins it"),
    (",0,2,5,2,\n1,40,1,,,\n", 2, "fill", "the number of the filling"),
    ("1,0,2,5,,\n1,40,0,,,\n", 2, "width", "the width in the first row"),
    ("1,0,2,0,2,\n1,40,0,,,\n", 2, "length", "the length above zero"),
    ("1,0,2,5,2,\n1,40,0,6,,\n", 3, "length", "one length for the whole test"),
    ("1,0,2,5,2,\n1,40,1.5,,,\n", 2, "", "never reached 25 %: it was read last at 75 %"),
    ("1,0,2,5,2,24\n", 2, "remark", "words as a remark"),
    ("1,0,2,5,2,,7\n", 2, "", "6 values"),
    ("", 1, "", "at least one row, for a fill"),
]  # fmt: skip


@pytest.mark.parametrize(("rows", "line", "entry", "expected"), PIT_MISTAKES)
def test_a_mistake_in_a_pit_s_sheet_is_one_line(tmp_path, rows, line, entry, expected):
    (said,) = lines_of(pit_of, tmp_path, PIT + rows)
    assert said.startswith(f"pit.csv, line {line}:")
    assert entry in said
    assert expected in said


HEADERS = [
    ("fill,time,length,width\n1,0,5,2\n", "a header row such as fill,time,depth"),
    ("fill,time,depth,length\n1,0,2,5\n", "a header row such as fill,time,depth"),
    ("fill,time,down,length,width\n1,0,2,5,2\n", "in place of depth, a column bottom"),
    ("fill,time,depth,down,bottom,length,width\n1,0,2,1,3,5,2\n", "either depth"),
    ("fill,time,dept,length,width\n", 'such as "depth"'),
    ("fill,time_75_to_25,length,width\n1,60,2,5\n", "a header row such as fill,time,depth"),
    ("1,9:05,2,5,2\n", "a header row such as fill,time,depth"),
    ("", "a header row such as fill,time,depth"),
]


@pytest.mark.parametrize(("text", "expected"), HEADERS)
def test_a_header_that_lacks_something(tmp_path, text, expected):
    said = lines_of(pit_of, tmp_path, text)
    assert said[0].startswith("pit.csv, line 1:")
    assert expected in said[0]


TIMED = "fill,time,depth,time_75_to_25,effective_depth,length,width\n"


@pytest.mark.parametrize(
    ("rows", "line", "expected"),
    [
        ("1,0,2,60,2,5,2\n", 2, "either that time alone, or readings"),
        ("1,,,60,2,5,2\n1,0,2,,,,\n", 3, "no readings; line 2 has its time"),
        ("1,,,60,2,5,2\n1,,,61,,,\n", 3, "either that time alone"),
        ("1,,,9:05,2,5,2\n", 2, "how long it took"),
        ("1,,,0,2,5,2\n", 2, "how long it took, above zero"),
        ("1,,,soon,2,5,2\n", 2, "a time, such as"),
        ("1,,,60,,5,2\n", 2, "the effective depth in the first row"),
        ("1,,,-60,2,5,2\n", 2, "a time, such as"),
    ],
)
def test_times_taken_in_the_field_that_cannot_be(tmp_path, rows, line, expected):
    (said,) = lines_of(pit_of, tmp_path, TIMED + rows)
    assert said.startswith(f"pit.csv, line {line}:")
    assert expected in said


@pytest.mark.parametrize(
    ("rows", "line", "expected"),
    [
        ("0,6 in,,8 in,\n10,7 in,,,\n", 3, "after line 2; where it was filled up write yes in"),
        ("0,6 in,,8 in,\n10,5 in,perhaps,,\n", 3, "yes where it was filled up"),
        ("0,6 in,,,\n10,5 in,,,\n", 2, "the diameter in the first row"),
        ("0,6 in,,8 in,\n0,5 in,,,\n", 3, "a time after that of the reading before"),
        ("0,6 in,,8 in,\n", 2, "no two readings follow each other"),
    ],
)
def test_a_mistake_in_a_hole_s_sheet_is_one_line(tmp_path, rows, line, expected):
    (said,) = lines_of(hole_of, tmp_path, HOLE + rows)
    assert said.startswith(f"hole.csv, line {line}:")
    assert expected in said


def test_all_mistakes_at_once_in_order(tmp_path):
    """A time, the missing width, a depth, and another length."""
    rows = "1,x,2,5,,\n1,40,y,,,\n2,0,2,7,,\n"
    said = lines_of(pit_of, tmp_path, PIT + rows)
    assert [line.split(":")[0] for line in said] == [f"pit.csv, line {k}" for k in (2, 2, 3, 4)]


def test_a_fall_that_is_less_than_the_readings_say(tmp_path):
    text = "time,depth,fall,diameter\n0,6 in,,8 in\n10,5 in,1/2 in,\n20,4 in,1/4 in,\n"
    said = lines_of(hole_of, tmp_path, text.replace("5 in", "3 in"))
    assert len(said) == 1
    assert said[0].startswith(
        'hole.csv, line 3: fall: "1/2 in" is written; expected the fall since'
    )


def test_below_the_bottom(tmp_path):
    text = "time,down,bottom,diameter\n0,6 in,1 ft,8 in\n10,13 in,,\n"
    (said,) = lines_of(hole_of, tmp_path, text)
    assert said == (
        'hole.csv, line 3: down: "13 in" is written; expected no more than the 1 ft down to the '
        "bottom"
    )


def lot_with(folder, soil, **sheets):
    path = write_lot(folder, changed(PERCOLATION, soil))
    for name, text in sheets.items():
        (folder / f"{name}.csv").write_text(text)
    return path


def test_a_site_takes_its_trial_pit_and_warnings_from_the_sheet(tmp_path):
    pit = "fill,time_75_to_25,effective_depth,length,width\n1,55,2,5,2\n2,67,,,\n"
    site = read_site(lot_with(tmp_path, 'trial_pit = "pit.csv"', pit=pit))
    assert_allclose(site.soil.trial_pit.times, (3300, 4020))
    assert site.soil.percolation is None
    assert site.soil.texture == "loam"
    warned = [notice for notice in told(site) if notice.startswith("pit.csv: ")]
    assert len(warned) == 2
    assert "filled 2 times" in warned[0]
    assert "22 % longer" in warned[1]


def test_a_site_takes_its_percolation_test_from_the_sheet(tmp_path):
    hole = HOLE + "0,6 in,,8 in,\n10,5 in,,,\n10,6 in,x,,\n20,5 in,,,\n20,6 in,x,,\n30,5 in,,,\n"
    soil = read_site(lot_with(tmp_path, 'percolation = "hole.csv"', hole=hole)).soil
    test = soil.percolation
    assert_allclose((test.fall, test.time), (INCH, 600))
    assert_allclose((test.diameter, test.first_depth), (8 * INCH, 6 * INCH))
    assert (test.form, soil.trial_pit) == ("shaft", None)


GOOD = (
    PIT + "1,9:05,24 in,5 ft,2,\n1,9:40,1,,,\n1,10:30,3 in,,,slow\n2,11:50,2,,,\n2,1:40,0.3,,,\n",
    HOLE
    + "0,6 in,,8 in,\n10,4 in,,,\n10,6 in,x,,\n20 min,5 in,,,\n20,6 in,,,refill\n30,5.1 in,,,\n",
    "fill,at 75 %,at 25 %,length,width,full depth\n1,9:14,10:21,5,2,3\n2,11:55,1:04,,,\n",
    "clock time,minutes,down,fall,first depth,diameter\n9:00,,8 in,,6 in,8 in\n"
    "9:10,10,9 in,1 in,,\n9:20,10,9 in,1 in,,\n9:30,10,10 in,1 in,,\n",
    "time (h);down (cm);bottom;diameter (cm)\n0;12,5;0,40;20\n0,5;15;;\n1;17;;\n",
)


@settings(max_examples=400, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.sampled_from(GOOD).flatmap(mutated), st.booleans())
def test_a_changed_sheet_is_read_or_refused_in_lines(text, in_feet):
    read = read_trial_pit if "length" in text else read_percolation
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "test.csv"
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        try:
            outcome = read(path, "test.csv", "ft" if in_feet else "m")[0].rates
        except InputError as error:
            outcome = error.problems
    assert outcome
    assert all(isinstance(part, Problem) or part >= 0.0 for part in outcome)


@pytest.mark.parametrize("entry", ["trial_pit", "percolation"])
def test_a_sheet_that_is_not_there(tmp_path, entry):
    (problem,) = problems_of(lot_with(tmp_path, f'{entry} = "none.csv"'))
    assert problem.entry == f"[soil] {entry}"
    assert problem.written == "none.csv"
    assert "but there is no such file" in problem.expected


def test_a_mistake_in_the_sheet_is_one_of_the_site(tmp_path):
    path = lot_with(tmp_path, 'percolation = "hole.csv"', hole=HOLE + "0,6 in,,8 in,\n10,7 in,,,\n")
    (problem,) = problems_of(path)
    assert (problem.file, problem.line, problem.entry) == ("hole.csv", 3, "depth")


@pytest.mark.parametrize("entry", ["trial_pit", "percolation"])
@pytest.mark.parametrize("value", ["3", "true", '" "', "[1]"])
def test_neither_a_sheet_nor_figures(tmp_path, entry, value):
    (problem,) = problems_of(lot_with(tmp_path, f"{entry} = {value}"))
    assert problem.entry == f"[soil] {entry}"


def test_one_test_only(tmp_path):
    (problem,) = problems_of(lot_with(tmp_path, 'trial_pit = "a.csv"\npercolation = "b.csv"'))
    assert "one of trial_pit and percolation" in problem.expected


def test_the_sheets_on_the_page_give_the_figures_on_the_page(tmp_path):
    """Both trial pits are one; the hole's rates are those reckoned by hand there."""
    blocks = re.findall(r"```\n((?:fill|time),.*?)```", PAGE, re.DOTALL)
    by_readings, by_times = (pit_of(tmp_path, text)[0] for text in blocks[:2])
    assert_allclose(by_readings.record.times, (3300, 3600, 3780))
    assert_allclose(by_times.rates, by_readings.rates)
    assert by_readings.warnings == by_times.warnings == ()
    hole, _ = hole_of(tmp_path, blocks[2])
    shown = [format_rate(fall.rate) for fall in (*hole.left_out, hole.used[0])]
    assert shown == ["3.43 in/h", "1.6 in/h"]
    assert "= 3.43 in/h" in PAGE
    assert "= 1.60 in/h" in PAGE
