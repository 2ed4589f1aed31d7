"""A lot from its field sheets: tape ties and level notes to spot heights, and every mistake."""

import json
import math
import re
import tempfile
import tomllib
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from runoff.site import InputError, Site, read_site, reduce_levels, site_schema
from tests.lots.rich import line_of
from tests.told import told

FOOT = 0.3048
INCH = FOOT / 12

SITE = """\
[site]
name = "taped lot"
units = "ft"
benchmark = { name = "nail", height = 100 }

[terrain]
spot_heights = "spots.csv"
ties = "ties.csv"
levels = "levels.csv"

[[building]]
name = "house"
start = [0, 0]
runs = ["E 36 ft", "N 24 ft", "W 36 ft", "S 24 ft"]
walls = ["front", "right", "rear", "left"]

[[roof]]
name = "main"
plan_area = "800 sq ft"

[[downspout]]
name = "SE"
at = { ties = [{ from = "house 1", distance = "40 ft" }, { from = "house 2", distance = "10 ft" }], side = "right" }
roofs = ["main"]
"""  # noqa: E501
SPOTS = """name,x,y,z
A,-10,-10,
B,50,-10,
C,,,
"""
TIES = """name,from_1,tie_1,from_2,tie_2,from_3,tie_3,side,building,wall,along,out
C,house 1,30 ft,house 2,"30 ft",,,right,,,,
D,A,25,B,"42 ft 8 5/8 in",house 2,36 ft 7/8 in,,,,,
E,,,,,,,,house,rear,12 ft,"6 ft"
F,A,20,C,25,,,near house 4,,,,
"""
LEVELS = """point,backsight,intermediate,foresight,remark
nail,4.00,,,
A,,5.00,,fence
C,,5.25,,
D,,5.50,,
B,,5.50,,
TP1,3.00,,4.50,
E,,4.10,,
F,,4.20,,
nail,,,2.50,
"""


def write(folder, site=SITE, **sheets):
    given_ = {"spots": SPOTS, "ties": TIES, "levels": LEVELS, **sheets}
    for name, text in given_.items():
        if text is not None:
            (folder / f"{name}.csv").write_bytes(text if isinstance(text, bytes) else text.encode())
    (folder / "site.toml").write_text(site)
    return folder / "site.toml"


def problems(folder, site=SITE, **sheets):
    try:
        read_site(write(folder, site, **sheets))
    except InputError as error:
        return list(error.problems)
    return []


def changed(text, old, new):
    assert text.count(old) == 1, text.count(old)
    return text.replace(old, new)


def spots_of(site):
    return {s.name: tuple(round(v / FOOT, 4) for v in (s.x, s.y, s.z)) for s in site.spot_heights}


def test_places_and_heights_are_joined_by_name(tmp_path):
    site = read_site(write(tmp_path))
    spots = spots_of(site)
    assert spots["A"] == (-10, -10, 99)
    assert spots["B"] == (50, -10, 98.5)
    assert spots["C"] == (18, -24, 98.75)  # 18-24-30 below the middle of the front
    assert spots["D"][2] == 98.5
    assert spots["E"] == (24, 30, 98.4)
    assert math.dist(spots["F"][:2], spots["A"][:2]) == pytest.approx(20, abs=1e-3)
    assert math.dist(spots["F"][:2], spots["C"][:2]) == pytest.approx(25, abs=1e-3)
    assert site.spot_heights[0].remark == ""
    assert site.spot_heights[2].written.file == "ties.csv"
    said = "\n".join(told(site))
    assert "levels.csv: leveled but nowhere placed, so no spot height: nail, TP1" in said
    assert "its 3 ties are adjusted by least squares; taped less computed: 'A' " in said


def test_a_downspout_by_ties(tmp_path):
    spout = read_site(write(tmp_path)).downspouts[0]
    assert math.dist((spout.x, spout.y), (0, 0)) == pytest.approx(40 * FOOT)
    assert math.dist((spout.x, spout.y), (36 * FOOT, 0)) == pytest.approx(10 * FOOT)
    assert spout.y < 0


TIED = """
{ ties = [{ from = "house 1", distance = 30 }, { from = "house 2", distance = 30 }], near = "A" }
""".strip()


def test_whatever_stands_at_a_point_may_be_tied(tmp_path):
    text = (
        SITE
        + f"""
[[keep_out]]
name = "oak"
kind = "tree roots"
point = {TIED}
radius = 6

[[sump]]
name = "sump"
outlet = {TIED}
rate = "20 gpm"

[[outlet]]
name = "ditch"
kind = "ditch"
point = {TIED}

[[drain]]
name = "culvert"
inlet = {TIED}
outlet = {TIED.replace("30", "31")}
"""
    )
    site = read_site(write(tmp_path, text))
    place = pytest.approx((18 * FOOT, -24 * FOOT))
    middle = site.keep_outs[0].area.centroid
    assert (middle.x, middle.y) == place
    assert site.sumps[0].outlet == place
    assert site.outlets[0].place.coords[0] == place
    assert site.drains[0].inlet == place
    assert site.drains[0].outlet != place
    jsonschema.validate(json.loads(json.dumps(tomllib.loads(text))), site_schema())


def test_the_accuracy_that_follows_goes_into_the_site(tmp_path):
    """A builder's level has 3 mm; a rod read to 0.01 ft over two setups adds 0.01 ft/sqrt(12) x 2.

    The heights close exactly, so the readings are as good as their rounding.
    """
    accuracy = read_site(write(tmp_path)).height_accuracy
    rod = 0.01 * FOOT / math.sqrt(12) * 2
    assert accuracy.sigma == pytest.approx(math.hypot(0.003, rod))
    assert accuracy.method == "builder's level"
    stated = changed(SITE, 'levels = "levels.csv"', 'levels = "levels.csv"\naccuracy = "1/4 in"')
    assert read_site(write(tmp_path, stated)).height_accuracy.sigma == pytest.approx(INCH / 4)


def test_typed_heights_beside_leveled_ones_keep_the_worse_accuracy(tmp_path):
    site = read_site(write(tmp_path, spots=SPOTS + "G,5,-9,98.2\n"))
    assert site.height_accuracy.sigma == pytest.approx(0.0127)
    assert site.height_accuracy.method == "string level"
    laser = changed(SITE, "levels = ", 'heights_by = "laser level"\nlevels = ')
    site = read_site(write(tmp_path, laser, spots=SPOTS + "G,5,-9,98.2\n"))
    assert site.height_accuracy.method == "laser level"
    assert 0.003 < site.height_accuracy.sigma < 0.0036


def test_a_string_level_sheet_gives_heights(tmp_path):
    sheet = (
        "point,down,height\nnail,1 ft,\nA,2 ft,\nB,30 in,\nC,2 ft 3 in,\nD,2.5,\nE,2.6,\nF,2.7,\n"
    )
    site = read_site(write(tmp_path, levels=sheet))
    assert spots_of(site)["C"] == (18, -24, 98.75)
    assert site.height_accuracy.method == "string level"
    assert site.height_accuracy.sigma == pytest.approx(0.0127)


@pytest.mark.parametrize(("by", "sigma"), [("water level", 0.003), ("string level", 0.0127)])
def test_a_level_line_by_another_level(tmp_path, by, sigma):
    sheet = "point,down,height\nnail,1 ft,\n" + "".join(f"{n},2 ft,\n" for n in "ABCDEF")
    text = changed(SITE, "levels = ", f'heights_by = "{by}"\nlevels = ')
    accuracy = read_site(write(tmp_path, text, levels=sheet)).height_accuracy
    assert (accuracy.method, accuracy.sigma) == (by, pytest.approx(sigma))


def test_ties_and_levels_alone(tmp_path):
    site = changed(SITE, 'spot_heights = "spots.csv"\n', "")
    ties = "name,from_1,tie_1,from_2,tie_2,side\nA,house 1,10,house 4,26,right\n"
    text = ties.replace("side\n", "side\n").replace(",right", ",left")
    found = read_site(write(tmp_path, site, spots=None, ties=text))
    assert [spot.name for spot in found.spot_heights] == ["A"]
    assert found.spot_heights[0].x == pytest.approx(-10 * FOOT)


MISTAKES = [
    ("ties", 'house 2,"30 ft"', "house 2,5 ft", 2, "they miss by 1 ft"),
    ("ties", ",,right,,,,", ",,,,,,", 2, '"left" or "right"'),
    ("ties", ",,right,,,,", ",,rigth,,,,", 2, "left, right, or near"),
    ("ties", "C,house 1,30", "C,hose 1,30", 2, '"house 1"'),
    ("ties", "30 ft,house 2", "24 ft 14 in,house 2", 2, "14 in is a foot or more"),
    ("ties", '"30 ft",,,right', '"24,7",,,right', 2, "a decimal with a point"),
    ("ties", '"30 ft",,,right', "24,7,,,right", 2, "both from_3 and tie_3"),
    ("ties", "C,house 1,30 ft", "C,house 1,0", 2, "above zero"),
    ("ties", "C,house 1,30 ft", "C,house 1,-30", 2, "zero or more"),
    ("ties", "C,house 1,30 ft", "C,30 ft,house 1", 2, "taped distance"),
    ("ties", 'house 2,"30 ft"', "house 2,", 2, "both from_2 and tie_2"),
    ("ties", ',house 2,"30 ft"', ",,", 2, "two ties or more"),
    ("ties", "D,A,25", "D,A,35", 3, "ties that fit together"),
    ("ties", "D,A,25", ",A,25", 3, "a name for the spot height"),
    ("ties", "D,A,25", "C,A,25", 3, "line 2 has this one already"),
    ("ties", "rear,12 ft", "reer,12 ft", 4, '"rear"'),
    ("ties", "rear,12 ft", "rear,37 ft", 4, "at most its length, 36 ft"),
    ("ties", "rear,12 ft", ",12 ft", 4, "a wall and a distance"),
    ("ties", "house,rear", "hose,rear", 4, '"house"'),
    ("ties", "near house 4", "near nowhere", 5, "a point to tape from"),
    ("ties", "F,A,20,C", "F,A,20,F", 5, "not from each other"),
    ("spots", "C,,,", "C,1,2,", None, "its place in one sheet"),
    ("spots", "A,-10,-10", "A,-10,", 2, "a coordinate"),
    ("spots", "B,50,-10,", "B,50,-10,high", 3, "a height"),
    ("levels", "TP1,3.00,,4.50", "TP1,3.00,,5.50", 10, "1.00 ft too low"),
    ("levels", "TP1,3.00,,4.50", "TP1,3.00,,5.40", 10, "may be 4.50"),
    ("levels", "D,,5.50", "D1,,5.50", None, 'such as "D1"'),
    ("levels", "nail,4.00", "nail,four", 2, "a rod reading"),
]


@pytest.mark.parametrize(("sheet", "old", "new", "line", "part"), MISTAKES)
def test_one_mistake_is_told_with_its_row(tmp_path, sheet, old, new, line, part):
    texts = {"spots": SPOTS, "ties": TIES, "levels": LEVELS}
    found = problems(tmp_path, **{sheet: changed(texts[sheet], old, new)})
    assert found
    assert any(part in problem.expected for problem in found), [str(p) for p in found]
    if line is not None:
        (problem,) = [p for p in found if part in p.expected]
        assert (problem.file, problem.line) == (f"{sheet}.csv", line)


SITE_MISTAKES = [
    ('levels = "levels.csv"', 'levels = "levles.csv"', "[terrain] levels", "no such file"),
    ('ties = "ties.csv"', 'ties = "."', "[terrain] ties", "folder"),
    ('spot_heights = "spots.csv"\nties = "ties.csv"\n', "", "[terrain]", "beside levels"),
    ('from = "house 1"', 'from = "hose 1"', "downspout 'SE' . at . ties . item 1 . from",
     '"house 1"'),
    ('distance = "40 ft"', 'distance = "24 ft 14 in"',
     "downspout 'SE' . at . ties . item 1 . distance", "14 in is a foot"),
    ('distance = "40 ft"', "distance = 0", "downspout 'SE' . at . ties . item 1 . distance",
     "above zero"),
    ('distance = "40 ft"', 'distance = "20 ft"', "downspout 'SE' . at . ties", "miss by 6 ft"),
    (', side = "right"', "", "downspout 'SE' . at . ties", '"left" or "right"'),
    ('side = "right"', 'side = "east"', "downspout 'SE' . at . side", '"left" or "right"'),
    ('side = "right"', 'side = "right", near = "A"', "downspout 'SE' . at", "one of the two"),
    ('side = "right"', 'near = "Z"', "downspout 'SE' . at . near", "a point to tape from"),
    (', { from = "house 2", distance = "10 ft" }', "", "downspout 'SE' . at . ties", "at least 2"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "entry", "part"), SITE_MISTAKES)
def test_one_mistake_in_the_site_file(tmp_path, old, new, entry, part):
    text = changed(SITE, old, new)
    found = problems(tmp_path, text)
    assert len(found) == 1, [str(problem) for problem in found]
    assert found[0].entry == entry
    assert part in found[0].expected
    assert found[0].line in {line_of(old.split("\n")[0], SITE), line_of("[terrain]", SITE)}


def test_levels_on_a_datum_of_their_own_are_not_mixed_with_typed_heights(tmp_path):
    text = changed(SITE, 'benchmark = { name = "nail", height = 100 }\n', "")
    (problem,) = problems(tmp_path, text, spots=SPOTS + "G,5,-9,98.2\n")
    assert "a point whose height is given" in problem.expected


@pytest.mark.parametrize(
    ("ties", "said"),
    [
        (TIES.replace("\n", "\r\n"), None),
        ("\ufeff" + TIES, None),
        (TIES.replace("D,A", "\n,,,,,,,,,,,\nD,A"), "2 blank rows passed over"),
        (TIES.replace(",", ";"), "semicolons"),
        (TIES.replace(",", ";").replace("A;25;", "A;25,0;"), "commas in figures are read as"),
        (TIES.replace('"30 ft"', "30'0"), '"30\'0" is read as 30 ft'),
    ],
)
def test_what_is_understood_is_said(tmp_path, ties, said):
    site = read_site(write(tmp_path, ties=ties))
    assert spots_of(site)["C"] == (18, -24, 98.75)
    assert said is None or any(said in notice for notice in told(site)), site.notices


PAGE = (Path(__file__).parents[2] / "docs" / "field_notes.md").read_text(encoding="utf-8")


def block(start):
    """The block of the page that starts with this."""
    (found,) = re.findall(rf"```[a-z]*\n({re.escape(start)}.*?)```", PAGE, re.DOTALL)
    return found


def test_the_level_notes_on_the_page_close(tmp_path):
    path = tmp_path / "levels.csv"
    path.write_text(block("point,backsight"))
    table = reduce_levels(path)
    assert not table.problems
    assert table.misclosure == pytest.approx(0.0, abs=1e-9)


def test_the_level_line_on_the_page_is_reduced(tmp_path):
    """B hangs 5 1/2 in below A: 24 in and 23 in, by half the difference; C 11 1/4 in below B."""
    path = tmp_path / "string.csv"
    path.write_text(block("line,point"))
    heights = reduce_levels(path).heights
    assert heights["A"] - heights["B"] == pytest.approx(5.5 * INCH)
    assert heights["B"] - heights["C"] == pytest.approx(11.25 * INCH)


def test_the_ties_on_the_page_are_read(tmp_path):
    text = block("name,from_1").replace("near P1", "near A")
    levels = "point,bs,is\nnail,4,\nA,,5\nB,,5\nP3,,5\nP4,,6\n"
    site = read_site(write(tmp_path, spots="name,x,y\nA,-10,-10\nB,50,-10\n", ties=text,
                           levels=levels))  # fmt: skip
    assert {"P3", "P4"} <= set(spots_of(site))


def test_the_runs_and_the_place_on_the_page_are_read(tmp_path):
    at = re.search(r"^at = .*$", SITE, re.MULTILINE).group()
    text = changed(SITE, at, block("at = ").strip())
    runs = re.search(r"^start = .*\nruns = .*$", SITE, re.MULTILINE).group()
    text = changed(text, runs, block("start = ").strip())
    assert problems(tmp_path, text) == []


@st.composite
def mutated(draw):
    """The sheets with up to four cells, rows or bits of text replaced."""
    texts = {"spots": SPOTS, "ties": TIES, "levels": LEVELS}
    for _ in range(draw(st.integers(1, 4))):
        name = draw(st.sampled_from(sorted(texts)))
        lines = texts[name].split("\n")
        at = draw(st.integers(0, len(lines) - 1))
        cells = lines[at].split(",")
        place = draw(st.integers(0, len(cells) - 1))
        way = draw(st.sampled_from(["cell", "cell", "swap", "text", "double", "drop"]))
        if way == "cell":
            cells[place] = draw(st.sampled_from(CELLS))
        elif way == "swap":
            other = draw(st.integers(0, len(cells) - 1))
            cells[place], cells[other] = cells[other], cells[place]
        elif way == "text":
            cells[place] += draw(st.text(max_size=4))
        elif way == "drop":
            del cells[place]
        lines[at] = ",".join(cells)
        if way == "double":
            lines.insert(draw(st.integers(0, len(lines))), lines[at])
        texts[name] = "\n".join(lines)
    return texts


CELLS = [
    *("", "A", "TP1", "nail", "house 1", "near A", "near", "left", "24'7", '"24,7"', "24,7", "nan"),
    *("24 ft 14 in", "-3", "0", "1e300", "9" * 400, "inf", "½", "4 ft 3 1/8 in", ";", '"', "\x00"),
    *("down", "backsight", "height (in)", "x", "from_1", "side", "1/0 in", "0.0000000000001"),
]


@settings(max_examples=300, deadline=None, suppress_health_check=list(HealthCheck))
@given(mutated())
def test_whatever_is_in_the_sheets_gives_a_site_or_problems(texts):
    texts = {name: text.encode("utf-8", "surrogatepass") for name, text in texts.items()}
    with tempfile.TemporaryDirectory() as folder:
        path = write(Path(folder), **texts)
        try:
            outcome = read_site(path)
        except InputError as error:
            outcome = error.problems
    if isinstance(outcome, Site):
        assert np.isfinite(outcome.spot_array).all()
        assert all(said.isprintable() for said in told(outcome))
        return
    assert outcome
    assert all(problem.expected and str(problem).isprintable() for problem in outcome)


EIGHTH = INCH / 8


def eighths(metres):
    steps = round(metres / EIGHTH)
    return f"{steps // 96} ft {steps % 96 // 8} {steps % 8}/8 in", steps * EIGHTH


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 2**32 - 1))
def test_a_lot_measured_to_an_eighth_comes_back(seed):
    """A made-up lot, taped and leveled, every reading rounded to 1/8 in.

    A point tied from two corners moves by at most e / min(sin(g/2), cos(g/2)), e = 1/16 in and g
    the angle at which the ties meet, with the second order of `test_ties`. A height k setups on
    is the sum of 2k readings, each off by e at most; the misclosure of the loop of n setups, at
    most 2ne, is taken out by shares: 2ke + 2ne (k - 1) / n, less than 4ke.
    """
    draw = np.random.default_rng(seed)
    e = EIGHTH / 2
    corners = {"house 1": (0, 0), "house 2": (36 * FOOT, 0)}
    truth, ties, kept = {}, ["name,from_1,tie_1,from_2,tie_2,side"], {}
    for k in range(9):
        place = np.array([draw.uniform(-10, 46), draw.uniform(-40, -6)]) * FOOT
        away = [place - np.array(corner) for corner in corners.values()]
        lengths = [float(np.hypot(*vector)) for vector in away]
        angle = math.acos(float(away[0] @ away[1]) / lengths[0] / lengths[1])
        narrow = min(math.sin(angle / 2), math.cos(angle / 2))
        reach = e / narrow
        kept[f"P{k}"] = (e + (2 * reach) ** 2 / (2 * min(lengths))) / narrow
        truth[f"P{k}"] = (*place, draw.uniform(95, 101) * FOOT)
        cells = [f"{name},{eighths(d)[0]}" for name, d in zip(corners, lengths, strict=True)]
        ties.append(f"P{k},{','.join(cells)},right")
    rows, height, name = ["point,bs,is,fs"], 100 * FOOT, "nail"
    setups = 3
    for k in range(setups):
        last = k == setups - 1
        carried = 100 * FOOT if last else draw.uniform(97, 101) * FOOT
        instrument = 103 * FOOT + draw.uniform(0, 1) * FOOT
        rows.append(f"{name},{eighths(instrument - height)[0]},,")
        for point in range(3 * k, 3 * k + 3):
            rows.append(f"P{point},,{eighths(instrument - truth[f'P{point}'][2])[0]},")
        name, height = ("nail" if last else f"TP{k}"), carried
        rows.append(f"{name},,,{eighths(instrument - height)[0]}")
    with tempfile.TemporaryDirectory() as folder:
        site = changed(SITE, 'spot_heights = "spots.csv"\n', "")
        path = write(Path(folder), site, spots=None, ties="\n".join(ties), levels="\n".join(rows))
        found = {spot.name: spot for spot in read_site(path).spot_heights}
    assert len(found) == 9
    for name, spot in found.items():
        x, y, z = truth[name]
        assert math.dist((spot.x, spot.y), (x, y)) <= kept[name] + 1e-9
        assert abs(spot.z - z) <= 4 * (int(name[1:]) // 3 + 1) * e + 1e-9
