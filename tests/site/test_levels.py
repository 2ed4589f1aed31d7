"""Level notes against published reductions, closed loops, and slips put into them on purpose.

Benchmark 820.00 with its backsight and the rise-and-fall example are published worked examples
(surveying texts, read second hand). 12 mm sqrt(km) is third-order levelling (read); 0.05 ft
sqrt(miles) is from memory.
"""

import math
import random
from itertools import pairwise

import numpy as np
import pytest

from runoff.quantities import parse_length
from runoff.rules import Rules
from runoff.site import InputError, allowance, reduce_levels
from tests.told import told

FOOT = 0.3048
RISE_AND_FALL = """point,backsight,intermediate,foresight
A,1.35,,
B,,0.80,
C,1.40,,1.65
D,,0.70,
E,1.30,,1.70
F,,,1.85
"""
LOOP = """point,backsight,intermediate,foresight,height
BM,4.35,,,100
P1,,5.12,,
TP1,3.87,,6.41,
P2,,4.40,,
P1,,2.58,,
TP2,5.55,,3.02,
BM,,,4.34,
"""


def reduced(tmp_path, text, units="ft", **more):
    path = tmp_path / "levels.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return reduce_levels(path, units, shown="levels.csv", **more)


def in_feet(table):
    return {name: round(height / FOOT, 4) for name, height in table.heights.items()}


def test_a_published_height_of_instrument():
    rows = [
        {"Station": "BM", "BS": 8.42, "Elevation": 820.00},
        {"Station": "A", "FS": 1.20},
    ]
    table = reduce_levels(rows)
    assert in_feet(table) == {"BM": 820.0, "A": 827.22}
    assert table.points[0].height + 8.42 * FOOT == pytest.approx(828.42 * FOOT)


def test_a_published_rise_and_fall(tmp_path):
    table = reduced(tmp_path, RISE_AND_FALL, "m")
    heights = list(table.heights.values())
    rises = [after - before for before, after in pairwise(heights)]
    assert rises == pytest.approx([0.55, -0.85, 0.70, -1.00, -0.55])
    assert (table.backsights, table.foresights) == (pytest.approx(4.05), pytest.approx(5.20))
    assert table.difference == pytest.approx(-1.15)
    assert table.arithmetic_error == pytest.approx(0.0, abs=1e-12)
    assert table.misclosure is None
    assert any("foot misread would not show" in said for said in told(table.warnings))
    assert any("taken as 100.00 m" in said for said in told(table.warnings))


def test_the_american_allowance_is_the_metric_one():
    """0.05 ft sqrt(miles) over any length is 12 mm sqrt(km) to 0.2 %."""
    mile = 1609.344
    for miles in (0.1, 1.0, 4.0):
        american = 0.05 * FOOT * math.sqrt(miles)
        assert allowance(miles * mile, 2, 0.0, Rules()) == pytest.approx(american, rel=2e-3)


def test_a_builders_level_meets_the_allowance_without_sight_lengths():
    """Readings good to 1.5 mm, as text books have it of a builder's level at 30 m (from memory).

    The sum of n of them is good to 1.5 mm sqrt(n): within twice that 95 of 100 runs close.
    """
    draw = np.random.default_rng(0)
    for readings in (2, 6, 12):
        missed = np.abs(draw.normal(0.0, 0.0015, (2000, readings)).sum(axis=1))
        share = (missed <= allowance(0.0, readings, 0.001, Rules())).mean()
        assert 0.93 < share < 0.975


def test_noting_the_lengths_of_sights_never_makes_the_allowance_less():
    for length in (0.0, 20.0, 200.0, 2000.0):
        assert allowance(length, 6, 0.001, Rules()) >= allowance(0.0, 6, 0.001, Rules())


def test_overrides_of_both_rules_are_obeyed(tmp_path):
    off = LOOP.replace("BM,,,4.34", "BM,,,4.24")
    (problem,) = reduced(tmp_path, off).problems
    assert "the rule level_per_reading sets the allowance" in problem.expected
    loose = Rules({"level_per_reading": 0.015})
    assert not reduced(tmp_path, off, rules=loose).problems
    stated = Rules({"level_misclosure": 0.004})
    assert allowance(1000.0, 6, 0.001, stated) == pytest.approx(0.004)
    said = reduced(tmp_path, LOOP, rules=stated).warnings
    assert any(warning.code == "sights without length" for warning in said)


def test_the_allowance_is_never_finer_than_the_readings():
    assert allowance(25.0, 6, 0.01 * FOOT, Rules()) == pytest.approx(0.01 * FOOT * math.sqrt(6))


def test_a_loop_that_closes(tmp_path):
    table = reduced(tmp_path, LOOP)
    assert not table.problems
    assert table.misclosure == pytest.approx(0.0, abs=1e-9)
    assert in_feet(table) == {"BM": 100, "P1": 99.23, "TP1": 97.94, "P2": 97.41, "TP2": 98.79}
    assert table.resolution == pytest.approx(0.01 * FOOT)


def test_a_small_misclosure_is_shared_by_the_setups(tmp_path):
    table = reduced(tmp_path, LOOP.replace("BM,,,4.34", "BM,,,4.32"))
    assert table.misclosure == pytest.approx(0.02 * FOOT)
    assert table.allowance == pytest.approx(0.01 * math.sqrt(6) * FOOT)
    feet = in_feet(table)
    assert feet["TP1"] == pytest.approx(97.94 - 0.02 / 3, abs=1e-4)
    assert feet["TP2"] == pytest.approx(98.79 - 0.04 / 3, abs=1e-4)
    # An intermediate sight shares its own setup's correction, as that setup's foresight does.
    assert feet["P2"] == pytest.approx(97.41 - 0.04 / 3, abs=1e-4)
    assert feet["P1"] == pytest.approx(99.23 - (0.02 + 0.04) / 2 / 3, abs=1e-4)
    assert feet["BM"] == 100.0


@pytest.mark.parametrize("setups", [2, 3, 5])
def test_sharing_by_setups_is_least_squares(tmp_path, setups):
    """numpy's least squares of the setups' rises, all of one weight, with the ends held."""
    draw = random.Random(setups)
    rises = [round(draw.uniform(-2, 2), 2) for _ in range(setups - 1)]
    rises.append(round(-sum(rises) + 0.02, 2))
    names = ["BM", *[f"T{k}" for k in range(1, setups)], "BM"]
    text = "point,bs,fs\n" + "".join(
        f"{names[k]},5.00,\n{names[k + 1]},,{5 - rise:.2f}\n" for k, rise in enumerate(rises)
    )
    table = reduced(tmp_path, text, known={"BM": 0.0})
    design = np.zeros((setups, setups - 1))
    for k in range(setups - 1):
        design[k, k], design[k + 1, k] = 1.0, -1.0
    heights = np.linalg.lstsq(design, np.array(rises), rcond=None)[0]
    found = [table.heights[name] / FOOT for name in names[1:-1]]
    assert found == pytest.approx(list(heights), abs=1e-9)


def test_a_misclosure_is_shared_by_length_where_lengths_are_noted(tmp_path):
    text = "point,bs,fs,height,distance\nBM,4.000,,10,300\nTP,3.000,1.000,,300\nEnd,,2.996,13,900\n"
    table = reduced(tmp_path, text, "m")
    # Sights 300 + 300 m, then 300 + 900 m: a third of 4 mm at the turning point.
    assert table.misclosure == pytest.approx(0.004)
    assert table.allowance == pytest.approx(0.012 * math.sqrt(1.8))
    assert table.heights["TP"] == pytest.approx(13.0 - 0.004 / 3)


@pytest.mark.parametrize(
    ("old", "new", "line", "said"),
    [
        # P1, read from both setups, shows that the slip is between them.
        ("3.87,,6.41", "3.87,,5.41", 4, ["1.00 ft too high", "1 foot", "'TP1' (line 4)"]),
        ("3.87,,6.41", "2.87,,6.41", 4, ["1.00 ft too low", "1 foot"]),
        ("3.87,,6.41", "3.87,,6.14", 4, ["0.27 ft too high", "may be 6.41 where 6.14"]),
        ("3.87,,6.41", "6.41,,3.87", 4, ["5.08 ft too high", "in each other's place"]),
        ("3.87,,6.41", "3.87,,6.1", 4, ["0.31 ft too high", "may be 6.41 where 6.1 is written"]),
        ("5.55,,3.02", "5.55,,13.02", 8, ["10.00 ft too low", "10 feet"]),
        ("BM,,,4.34", "BM,,,3.34", 8, ["1.00 ft too high", "'BM' (line 8)"]),
    ],
)
def test_a_slip_is_found_and_its_size_named(tmp_path, old, new, line, said):
    text = LOOP.replace(old, new)
    assert text != LOOP
    (problem, *_) = reduced(tmp_path, text).problems
    assert (problem.file, problem.line) == ("levels.csv", line)
    for part in [*said, "within 0.02 ft"]:
        assert part in problem.expected


def test_a_slip_in_a_point_read_twice_is_not_put_on_the_run(tmp_path):
    (problem,) = reduced(tmp_path, LOOP.replace("P1,,2.58", "P1,,3.58")).problems
    assert problem.entry == "point 'P1'"
    assert "1.00 ft too low" in problem.expected
    assert "from setup 1" in problem.expected


@pytest.mark.parametrize("seed", range(40))
def test_any_foot_in_any_loop_is_found(tmp_path, seed):
    """A random loop in which one reading of a turning point is a foot off, either way."""
    draw = random.Random(seed)
    setups = draw.randint(2, 6)
    ground = [100.0] + [100 + round(draw.uniform(-6, 6), 2) for _ in range(setups - 1)] + [100.0]
    rows = []
    for k in range(setups):
        instrument = max(ground[k], ground[k + 1]) + round(draw.uniform(1, 5), 2)
        rows += [["bs", k, instrument - ground[k]], ["fs", k + 1, instrument - ground[k + 1]]]
    slip = draw.randrange(len(rows))
    step = draw.choice([-1, 1])
    rows[slip][2] += step
    names = ["BM", *[f"T{k}" for k in range(1, setups)], "BM"]
    text = "point,bs,fs\n" + "".join(
        f"{names[k]},{value:.2f},\n" if kind == "bs" else f"{names[k]},,{value:.2f}\n"
        for kind, k, value in rows
    )
    if any(value < 0 for _, _, value in rows):
        pytest.skip("a rod is not read below its foot")
    table = reduced(tmp_path, text, known={"BM": 100 * FOOT})
    way = "too high" if step * (1 if rows[slip][0] == "bs" else -1) > 0 else "too low"
    assert f"1.00 ft {way}" in table.problems[0].expected
    assert table.misclosure == pytest.approx(FOOT if way == "too high" else -FOOT)


@pytest.mark.parametrize(
    ("backsight", "foresight", "units", "step"),
    [
        ("4.35", "5.10", "ft", 0.01 * FOOT),
        ("4.3", "5.1", "ft", 0.1 * FOOT),
        ("4' 3 1/8\"", "5' 2\"", "ft", FOOT / 96),
        ("4 ft 3½ in", "5 ft 2 in", "m", FOOT / 24),
        ("1.325", "0.8", "m", 0.001),
        ("132 cm", "81 cm", "m", 0.01),
    ],
)
def test_rods_of_every_kind(backsight, foresight, units, step):
    rows = [
        {"point": "BM", "backsight": backsight, "height": "10 m"},
        {"point": "A", "foresight": foresight},
    ]
    table = reduce_levels(rows, units)
    fall = parse_length(foresight, units) - parse_length(backsight, units)
    assert table.heights["A"] == pytest.approx(10 - fall)
    assert table.resolution == pytest.approx(step)
    assert table.sigma == pytest.approx(step / math.sqrt(12) * math.sqrt(2))


def test_several_runs_from_one_benchmark(tmp_path):
    text = "point,bs,is,height\nBM,4.00,,100\nA,,5.00,\nBM,3.00,,\nB,,5.00,\nBM,,3.00,\n"
    assert in_feet(reduced(tmp_path, text)) == {"BM": 100, "A": 99, "B": 98}


@pytest.mark.parametrize(
    ("content", "heights", "said"),
    [
        ("point,bs,fs,height\r\nBM,4.5,,100\r\nA,,24'7,\r\n", 79.9167, "read as 24 ft 7 in"),
        ("\ufeffpoint;bs;fs;height\nBM;4,5;;100\nA;;2,25;\n", 102.25, "decimal points"),
        ("Point,B.S.,F.S.,Elev.\nBM,4.5,,100\n\n,,,\nA,,2.25,\n", 102.25, "2 blank rows"),
        ("point,fs,bs,HI,height\nBM,,4.5,104.5,100\nA,2.25,,,\n", 102.25, "passed over"),
        ("point\tbs\tfs\theight (ft)\nBM\t4.5\t\t100\nA\t\t27 in\t\n", 102.25, "no point"),
        ("point,bs,fs,height\nBM,4.5,,100\nX,,,\nA,,2.25,\n", 102.25, "no reading on 'X'"),
        ("point,bs (in),fs (in),height\nBM,54,,100\nA,,27,\n", 102.25, "no point"),
    ],
)
def test_ways_of_writing_are_understood_and_said(tmp_path, content, heights, said):
    table = reduced(tmp_path, content)
    assert table.heights["A"] / FOOT == pytest.approx(heights, abs=1e-4)
    assert any(said in notice for notice in told(table.warnings)), table.warnings


@pytest.mark.parametrize(
    ("content", "line", "part"),
    [
        ("", 1, "header row"),
        ("point,bs,fs\n", 1, "at least one row"),
        ("point,fs\nA,2\n", 1, "point, backsight"),
        ("point,backsihgt,fs\nA,2,\n", 1, '"backsight"'),
        ("point,bs,bs\nA,2,\n", 1, "each column once"),
        ('point,bs,fs,height\nBM,4.5,,100\nA,,"24,7",\n', 3, "a decimal with a point"),
        ("point,height,bs,fs\nBM,100,4.5,\nA,,,24,7\n", 3, "decimals have a point"),
        ("point,bs,fs,remark\nBM,4.5,,\nA,,24,7\n", 3, "a comma within another figure"),
        ("point;bs;fs\nBM;4.5;\nA;;2,25\n", 3, "a decimal with a point"),
        ("point,bs,fs,height\nBM,4.5,,100\nA,,24 ft 14 in,\n", 3, "14 in is a foot or more"),
        ("point,bs,fs,height\nBM,4.5,,100\n,,2.25,\n", 3, "a name for the point"),
        ("point,bs,fs,height\nBM,4.5,,100\nA,,-2.25,\n", 3, "zero or more"),
        ("point,bs,fs\nBM,4.5,\nA,,\n", None, "a sight after it"),
        ("point,bs,fs,height\nBM,,4.5,100\nA,2.25,,\n", 2, "in each other's column"),
        ("point,bs,is,fs\nBM,4.5,,\nA,,2,2\n", 3, "one reading in a row"),
        ("point,bs,is,fs\nBM,4.5,,\nA,,,2\nB,3,,\n", 4, "'A', the last foresight's"),
        ("point,bs,is,height\nBM,4.5,,100\nBM,,2,101\n", 3, "one known height"),
        ('point,bs,fs\nBM,"4.5,\nA,,2\n', 2, "CSV"),
    ],
)
def test_mistakes_name_their_row_and_a_remedy(tmp_path, content, line, part):
    with pytest.raises(InputError) as caught:
        reduced(tmp_path, content)
    (problem,) = caught.value.problems
    assert problem.line == line, str(problem)
    assert part in problem.expected


def test_a_backsight_with_nothing_after_it_is_left_out(tmp_path):
    text = "point,bs,is,height\nX,4.5,,\nBM,4.5,,100\nA,,2.00,\nBM,3.0,,\n"
    table = reduced(tmp_path, text)
    assert in_feet(table) == {"BM": 100, "A": 102.5}
    assert (
        sum("nothing is sighted after the backsight" in said for said in told(table.warnings)) == 2
    )


def test_one_name_for_two_points_shows(tmp_path):
    text = "point,bs,is,height\nBM,4.5,,100\nA,,2.00,\nA,,2.80,\n"
    (problem,) = reduced(tmp_path, text).problems
    assert (problem.line, problem.written) == (4, "2.80")
    assert "a name of its own" in problem.expected


def test_all_mistakes_at_once(tmp_path):
    with pytest.raises(InputError) as caught:
        reduced(tmp_path, "point,bs,is\nBM,four,\nA,,two\n,,3\n")
    assert sorted(problem.line for problem in caught.value.problems) == [2, 3, 4]
