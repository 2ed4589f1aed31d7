"""Each mistake in a site file makes one line that names where it stands and what is expected."""

import re

import pytest

from runoff import read_site
from runoff.site import InputError
from tests.lots.rich import PERCOLATION, RICH, SPOTS, changed, line_of, problems_of, write_lot

# What is replaced, by what, the entry that is named, and part of what is expected.
MISTAKES = [
    # Of one entry.
    ('units = "ft"', 'units = "feet"', "[site] units", '"ft" or "m"'),
    ("north = 15", "crs = true", "[site] crs", "whole number"),
    ("north = 15", "crs = []", "[site] crs", "a name"),
    ("north = 15", 'crs = " "', "[site] crs", "a name"),
    ("north = 15", 'north = "up"', "[site] north", "clockwise"),
    ('address = "1 Invented Lane"', "address = 1", "[site] address", "text"),
    ('observer = "A. Levelman"', 'obsever = "A"', "[site] obsever", '"observer"'),
    ('cell_size = "1 ft"', 'cell_size = "9 ft 14 in"', "[terrain] cell_size", "a length"),
    ('cell_size = "1 ft"', "cell_size = 0", "[terrain] cell_size", "above zero"),
    ('cell_size = "1 ft"', "cell_size = true", "[terrain] cell_size", "a length"),
    ('cell_size = "1 ft"', "cell_size = nan", "[terrain] cell_size", "a length"),
    ('cell_size = "1 ft"', f"cell_size = {'9' * 400}", "[terrain] cell_size", "a length"),
    ('cell_size = "1 ft"', "band = 2", "[terrain]", 'elevation = "dem.tif"'),
    ('"laser level"', '"laser levle"', "[terrain] heights_by", '"laser level"'),
    ('"spots.csv"', '"spotz.csv"', "[terrain] spot_heights", "no such file"),
    ('"spots.csv"', '"."', "[terrain] spot_heights", "folder"),
    ('"spots.csv"', '"a\\u0000b"', "[terrain] spot_heights", "name of a file"),
    ('storm_depth = "3.5 in"', 'storm_depth = "4 lb"', "[rain] storm_depth", "4 in"),
    ('storm_depth = "3.5 in"', "storm_depth = 4", "[rain] storm_depth", "4 in"),
    ('storm_duration = "24 h"', "storm_duration = 24", "[rain] storm_duration", "1 h"),
    ('texture = "loam"', 'texture = "peat"', "[soil] texture", '"loam"'),
    ('near_foundation = "6 ft"', "near_fundation = 6", "[rules] near_fundation", "near_found"),
    ('near_foundation = "6 ft"', 'near_foundation = "6 lb"', "[rules] near_foundation", "6 ft"),
    ('near_foundation = "6 ft"', "near_foundation = -1", "[rules] near_foundation", "6 ft"),
    ('near_foundation = "6 ft"', "near_foundation = []", "[rules] near_foundation", "6 ft"),
    ("height = \"4 in\"", 'height = "-4 in"', "barrier 'edging' . height", "above zero"),
    ("height = \"4 in\"", "heigth = 1", None, None),
    ('capacity = "50 gpm"', "capacity = 50", "drain 'culvert' . capacity", "50 gpm"),
    ('outlet = "leaves the lot"', 'outlet = "away"', "drain 'sewer inlet' . outlet", "leaves"),
    ("outlet = [40, -18]", "outlet = [40, 0]", "drain 'culvert' . outlet", "another place"),
    ("inlet = [45, 10]", "inlet = [45]", "drain 'sewer inlet' . inlet", "two coordinates"),
    ("inlet = [45, 10]", 'inlet = [45, "x"]', "drain 'sewer inlet' . inlet", "two coordinates"),
    ('kind = "basement"', 'kind = "cellar"', "building 'house' . kind", '"basement"'),
    ('footing_depth = "7 ft"', "footing_depth = -7", "building 'house' . footing_depth", "zero"),
    ("may_take_water = true", 'may_take_water = "yes"', "easement 'rear strip' . may", "true or"),
    ("pitch = 0.25", "pitch = 25", "roof 'porch' . pitch", "6:12"),
    ('plan_area = "300 sq ft"', "plan_area = 300", "roof 'garage roof' . plan_area", "sq ft"),
    ('plan_area = "300 sq ft"', "", "roof 'garage roof'", "plan area in one way"),
    ('plan_area = "300 sq ft"', 'length = "3 ft"', "roof 'garage roof'", "one way"),
    ('length = "30 ft"', 'plan_area = "3 sq ft"', "roof 'main'", "one way"),
    ("share = 0.2", "share = 2", "downspout 'SW' . roofs . item 1 . share", "at most 1"),
    ("at = [46, 20]", "at = 46", "downspout 'garage' . at", "two coordinates"),
    ("radius = 6", "", "keep_out 'oak'", "radius, which is missing beside point"),
    ("line = [[-10, -20], [50, -20]]", "", "outlet 'gutter'", "one of point"),
    ("height = \"4 in\"", "", "barrier 'edging' . height", "missing"),
    ("height = \"4 in\"", 'height = "4 in"\nname2 = 1', "barrier 'edging' . name2", '"name"'),
    # Break lines.
    ('foot_side = "right"\n\n[[break_line]]', "\n[[break_line]]", "break_line 'curb'", "foot_side"),
    ("top = 99.8", "top = [99.8]", "break_line 'curb'", "each of the 2 points"),
    ("top = 99.8", "top = 99.1", "break_line 'curb'", "below the top"),
    ("top = 99.8", "height = 99.8", "break_line 'curb'", "alone"),
    ('drop = "6 in"', "", "break_line 'ledge'", "both drop and foot_side"),
    ('through = ["P5", "P6"]', "", "break_line 'ridge'", "one of the two"),
    ('["P5", "P6"]', '["P5", "P66"]', "break_line 'ridge' . through . item 2", '"P6"'),
    ('["P5", "P6"]', '["P5", "P5"]', "break_line 'ridge' . through . item 2", "other than"),
    ('["P5", "P6"]', '["P5"]', "break_line 'ridge' . through", "at least 2"),
    ("[[-5, 40], [5, 40]]", "[[5, 40], [5, 40]]", "barrier 'edging' . points . item 2", "differs"),
    # Outlines.
    ("[45, 20], [30, 20]]", "[30, 20], [45, 20]]", "building 'garage' . corners", "side 2 meets"),
    ("[45, 20], [30, 20]]", "[45, 0], [30, 20]]", "building 'garage' . corners", "corners 2 and 3"),
    ("[45, 0], [45, 20], [30, 20]]", "[45, 0]]", "building 'garage' . corners", "at least 3"),
    ("[45, 0], [45, 20], [30, 20]]", "[45, 0], [60, 0]]", "building 'garage' . corners", "cross"),
    ("[45, 0], [45, 20], [30, 20]]", "[45, 0], [30, 0]]", "building 'garage' . corners", "3 "),
    ("[[30, 0], [45, 0]", "[[-12, 0], [45, 0]", "building 'garage'", "overlaps building 'house'"),
    ("[14, 14], [10, 14]", "[14, 34], [10, 34]", "building 'house' . corners", "courtyards"),
    ('"rear", "left"]', '"rear"]', "building 'house' . walls", "4 walls"),
    ('"rear", "left"]', '"rear", "front"]', "building 'house' . walls . item 4", "of their own"),
    ('    { neighbor = "alley" },\n', "", "[lot] sides", "4 sides"),
    ('{ neighbor = "alley" }', '{ neighbor = "road" }', "[lot] sides . item 3 . neigh", '"alley"'),
    ('name = "garage"\ncorners', 'name = "house"\ncorners', "building 'house' . name", "its own"),
    # What tables say about each other.
    ('building = "house", wall = "rear"', 'building = "hose", wall = "rear"',
     "downspout 'NE' . at . building", '"house"'),
    ('wall = "rear"', 'wall = "reer"', "downspout 'NE' . at . wall", '"rear"'),
    ("wall = 4", "wall = 5", "downspout 'SW' . at . wall", "from 1 to 4"),
    ("wall = 4", "wall = 0", "downspout 'SW' . at . wall", "from 1"),
    ("distance = 24", "distance = 24.1", "downspout 'SW' . at . distance", "24 ft"),
    ("share = 0.7 }", "share = 0.8 }", "downspout 'garage' . roofs . item 1", "1.1"),
    ('    "garage roof",', '    "garage rouf",', "downspout 'garage' . roofs . item 2", '"garage'),
    ('"porch"]', '"main"]', "downspout 'NE' . roofs . item 2", "once"),
    ("at = [46, 20]", "at = [31, 10]", "downspout 'garage' . at", "outside building 'garage'"),
    # Openings, and what else is at a wall.
    ('kind = "window well"', 'kind = "window"', "opening 'well A' . kind", '"window well"'),
    ('distance = "22 ft" }', "distance = 22, out = 1 }", "opening 'well A' . at . out", "distance"),
    ('distance = "22 ft" }', "distance = 25 }", "opening 'well A' . at . distance", "24 ft"),
    ('distance = "22 ft" }', "distance = 23 }", "opening 'well A' . width", "fits on 'right'"),
    ('distance = "22 ft" }', "distance = 1 }", "opening 'well A' . width", "fits on 'right'"),
    ('wall = "right", distance', 'wall = "rigth", distance', "opening 'well A' . at . wall",
     '"right"'),
    ('{ building = "house", wall = "front"', '{ building = "barn", wall = "front"',
     "opening 'big door' . at . build", "garage, house"),
    ("rim = 100.5", "sill = 100.5", "opening 'well A'", "no sill"),
    ("rim = 100.5", "rim = 96.5", "opening 'well A'", "below the rim"),
    ("rim = 100.5", 'rim = "9 lb"', "opening 'well A' . rim", "a length"),
    ('projection = "2 ft 6 in"', "", "opening 'well A'", 'projection = "3 ft"'),
    ('projection = "2 ft 6 in"', "projection = 0", "opening 'well A' . projection", "above zero"),
    ("drained = true", "drained = 1", "opening 'well A' . drained", "true or false"),
    ("sill = 100.25", "rim = 100.25", "opening 'big door'", "sill = 101.2"),
    ("width = 9\n", "width = -9\n", "opening 'big door' . width", "above zero"),
    ("width = 9\n", "", "opening 'big door' . width", "missing"),
    ('name = "big door"', 'name = "well A"', "opening 'well A' . name", "its own"),
    ('from = "3 ft", to = "9 ft"', 'from = "9 ft", to = "9 ft"',
     "building 'house' . clearances . item 2", "starts before it ends"),
    ('from = "3 ft", to = "9 ft"', 'from = "3 ft", to = 25',
     "building 'house' . clearances . item 2 .", "24 ft"),
    ('from = "3 ft", to = "9 ft"', 'from = "24 ft"',
     "building 'house' . clearances . item 2 . from", "before its end"),
    ('from = "3 ft", to = "9 ft"', "form = 3", "building 'house' . clearances . item 2 . form",
     '"from"'),
    ('from = "3 ft", to = "9 ft"', "from = -3", "building 'house' . clearances . item 2 . from",
     "zero or more"),
    ('kind = "brick weeps"', 'kind = "brick"', "building 'house' . clearances . item 2 . kind",
     '"brick weeps"'),
    ('wall = "front", kind', 'wall = "frnt", kind', "building 'house' . clearances . item 1 . wall",
     '"front"'),
    # Eaves, upper roofs, sumps.
    ('onto = "main"', 'onto = "mian"', "roof 'dormer' . onto", '"main"'),
    ('onto = "main"', 'onto = "dormer"', "roof 'dormer' . onto", "does not come back"),
    ('pitch = 0.25', 'onto = "porch"', "roof 'porch' . onto", "does not come back"),
    ('pitch = "6:12"', 'onto = "dormer"', "roof 'main' . onto", "does not come back"),
    ('onto = "main"', 'onto = "main"\neave = [[0, 0], [1, 1]]', "roof 'dormer'", "one of the two"),
    ("eave = [[30, 21], [45, 21]]", "eave = 3", "roof 'lean-to' . eave", "a list"),
    ("eave = [[30, 21], [45, 21]]", "eave = [[30, 21]]", "roof 'lean-to' . eave", "at least 2"),
    ('from = "4 ft", to = "10 ft"', 'to = "25 ft"', "roof 'bay' . eave . to", "24 ft"),
    ('wall = "left", from', 'wall = 7, from', "roof 'bay' . eave . wall", "from 1 to 4"),
    ('building = "house", wall = "left"', 'building = "hut", wall = "left"',
     "roof 'bay' . eave . building", "house"),
    ('rate = "20 gpm"', "rate = 20", "sump 'sump' . rate", "rate of flow"),
    ("outlet = [-3, -2]", "outlet = [3, 2]", "sump 'sump' . outlet", "outside building 'house'"),
    ("outlet = [-3, -2]", "", "sump 'sump' . outlet", "missing"),
    # Rain.
    ('design_intensity = "7 in/h"', "design_intensity = 7", "[rain] design_intensity", "7 in/h"),
    ('design_intensity = "7 in/h"', 'design_intensity = "7 in"', "[rain] design_int", "of rate"),
    ('design_intensity = "7 in/h"', 'design_intensity = "-7 in/h"', "[rain] design_int", "above 0"),
    ('design_intensity = "7 in/h"', 'design_intensity = "7 ft/s"', "[rain] design_int", "100 in/h"),
    ('table = "rain.csv"', 'table = "rains.csv"', "[rain] table", "no such file"),
    ('table = "rain.csv"', 'table = "."', "[rain] table", "folder"),
    ('table = "rain.csv"', "table = 3", "[rain] table", "name of a file"),
    ('return_years = 25, duration = "10 min"', "return_years = 0", "[rain] line . return_years",
     "above 0, such as 10"),
    ('return_years = 25, duration = "10 min"', "return_years = 20", "[rain] line . return_years",
     "2, 10 or 25 years"),
    ('return_years = 25, duration = "10 min"', "return_years = 25, duration = 5",
     "[rain] line . duration", "a time"),
    ('return_years = 25, duration = "10 min"', 'return_years = 25, intensity = "9 in/h"',
     "[rain] line", "alone"),
    ('return_years = 25, duration = "10 min"', 'depth = "9 in"', "[rain] line . depth",
     "intensity, return_years"),
    ('line = { return_years = 25, duration = "10 min" }', "line = {}", "[rain] line", "either"),
    ('line = { return_years = 25, duration = "10 min" }', 'line = "9 in/h"', "[rain] line",
     "a table of keys"),
    ('pit = { return_years = 2 }', 'pit = { depth = "5 in", return_years = 2 }', "[rain] pit",
     "either depth"),
    ('pit = { return_years = 2 }', 'pit = { depth = "5 ft" }', "[rain] pit . depth", "3 ft"),
    ('pit = { return_years = 2 }', 'ponding = { return_years = 2 }', "[rain]", "one of the two"),
    ('"pitch factor"', '"half"', "[rain] allowance", '"half tangent"'),
    # Soil.
    (PERCOLATION, 'rate = "-1 in/h"', "[soil] rate", "above zero"),
    (PERCOLATION, 'rate = "0 in/h"', "[soil] rate", "above zero"),
    (PERCOLATION, "rate = 1.2", "[soil] rate", "1.2 in/h"),
    (PERCOLATION, PERCOLATION + '\nrate = "1 in/h"', "[soil]", "one of rate and percolation"),
    (PERCOLATION, PERCOLATION.replace('"1 in"', '"7 in"'), "[soil] percolation", "no more than"),
    (PERCOLATION, PERCOLATION.replace('"1 in"', "0"), "[soil] percolation . fall", "above zero"),
    (PERCOLATION, PERCOLATION.replace(" }", ', form = "county" }'), "[soil] percolation . form",
     '"county form"'),
    (PERCOLATION, PERCOLATION.replace('diameter = "8 in", ', ""), "[soil] percolation . diameter",
     "missing"),
    (PERCOLATION, 'trial_pit = { length = 5, width = 2, depth = 2, times = [] }',
     "[soil] trial_pit . times", "at least 1 item:"),
    (PERCOLATION, 'trial_pit = { length = 5, width = 2, depth = 2, times = ["1 h", "0 h"] }',
     "[soil] trial_pit . times . item 2", "a time"),
    (PERCOLATION, 'trial_pit = { length = 5, width = 2, depth = -2, times = ["1 h"] }',
     "[soil] trial_pit . depth", "above zero"),
    ('groundwater = "9 ft"', "groundwater = -9", "[soil] groundwater", "zero or more"),
    ("frost_depth = 3", 'frost_depth = "3 lb"', "[soil] frost_depth", "zero or more"),
    ("expansive = false", 'expansive = "no"', "[soil] expansive", "true or false"),
    # Gutters, leaders, routes, walls above.
    ('size = "5 in"', 'size = "7 in"', "gutter 'rear gutter' . size", '"5 in", "6 in", "100 mm"'),
    ('size = "6 in"', "size = 6", "gutter 'garage gutter' . size", 'or "150 mm"'),
    ('shape = "ogee"', 'shape = "box"', "gutter 'garage gutter' . shape", '"half-round"'),
    ('roof = "garage roof"\n', 'roof = "garage rouf"\n', "gutter 'garage gutter' . roof",
     '"garage roof"'),
    ('name = "garage gutter"', 'name = "rear gutter"', "gutter 'rear gutter' . name", "its own"),
    ('outlet_ends = "both ends"', 'outlet_ends = "both"', "gutter 'rear gutter' . outlet_ends",
     '"both ends"'),
    ('eave = "20 ft"', "eave = 0", "gutter 'garage gutter' . eave", "above zero"),
    ('outlet = "3 in"', 'outlet = "-3 in"', "gutter 'garage gutter' . outlet", "above zero"),
    ('size = "2 x 3 in"', 'size = "2 x 3"', "downspout 'garage' . size", "say the unit"),
    ('size = "2 x 3 in"', 'size = "3 ft"', "downspout 'garage' . size", "12 in"),
    ('[[48, 30], [48, "55 ft"]]', "[]", "downspout 'garage' . route", "at least 1 item:"),
    ('[[48, 30], [48, "55 ft"]]', "[[46, 20]]", "downspout 'garage' . route . item 1", "foot"),
    ('[[48, 30], [48, "55 ft"]]', "[[48, 30], [48, 30]]", "downspout 'garage' . route . item 2",
     "differs"),
    ('wall_above = "70 sq ft"', "wall_above = 70", "roof 'lean-to' . wall_above", "an area"),
    # What else a plan needs.
    ("invert = 98.5", 'invert = "deep"', "outlet 'gutter' . invert", "a length"),
    ('water = "98 ft 9 in"', "water = true", "outlet 'gutter' . water", "a length"),
    ('wall = "smooth"', 'wall = "rough"', "[pipe] wall", '"corrugated"'),
    ('size = "4 in"', 'size = "5 in"', "[pipe] size", '"6 in", "8 in", "75 mm"'),
    ('backsight = "4.35 ft"', "backsight = -1", "[site] benchmark . backsight", "zero or more"),
    ("height = 100, ", "", "[site] benchmark . height", "missing"),
    ('currency = "USD"\n', "", "[prices] currency", "missing"),
    ('pipe = "2.10 per ft"', "pipe = 2.1", "[prices] pipe", "2.10 per ft"),
    ('pipe = "2.10 per ft"', 'pipe = "-2.10 per ft"', "[prices] pipe", "zero or more"),
    ('stone = "45 per cu yd"', 'stone = "45 per ton"', "[prices] stone", "not a unit of volume"),
    ('fitting = "6 each"', 'fitting = "6 per ft"', "[prices] fitting", "6 each"),
    ('fitting = "6 each"', 'fittings = "6 each"', "[prices] fittings", '"fitting"'),
    ('file = "front.jpg"', "file = 1", "photograph, number 1 . file", "name of a file"),
    ("[[photograph]]", "[photograph]", "[photograph]", "double brackets"),
    ("[[paving]]", "[[pavings]]", "pavings", '"paving"'),
    ("[[paving]]", "[paving]", "[paving]", "double brackets"),
]  # fmt: skip


def lines_that_may_be_named(at, entry, text):
    """The line of the change; that of its table; that of the key that the entry names."""
    header = [m.start() for m in re.finditer(r"^\[", text[: at + 1], re.M)][-1]
    key = entry.split(" . item")[0].split()[-1]
    keys = [m.start() for m in re.finditer(rf"^ *{re.escape(key)} = ", text[header:], re.M)]
    places = [at, header] + [header + start for start in keys[:1]]
    return {text.count("\n", 0, place) + 1 for place in places}


@pytest.mark.parametrize(("old", "new", "entry", "expected"), MISTAKES)
def test_one_mistake_makes_one_line(tmp_path, old, new, entry, expected):
    text = changed(old, new)
    found = problems_of(write_lot(tmp_path, text))
    if entry is None:  # a misspelled key is one mistake, and so is the key it leaves missing
        assert len(found) == 2
        return
    assert len(found) == 1, [str(problem) for problem in found]
    (problem,) = found
    assert problem.entry.startswith(entry)
    assert expected in problem.expected
    assert problem.file.endswith("site.toml")
    assert problem.line in lines_that_may_be_named(RICH.index(old), entry, text)


@pytest.mark.parametrize(
    ("old", "new", "stands"),
    [
        ("[30, 0], # front right", "[30, true],", "[30, true]"),
        ('{ neighbor = "alley" }', '{ neighbor = "road" }', '{ neighbor = "road" }'),
        ('    "garage roof",', '    "attic",', '    "attic",'),
        ("share = 0.7 }", "share = 7 }", "    { roof = \"main\", share = 7"),
        ('texture = "loam"', 'texture = "peat"', 'texture = "peat"'),
        ('height = "4 in"', "", '[[barrier]]'),
        ("wall = 4", "wall = 9", "at = { building = \"house\", wall = 9"),
        ("[[30, 0], [45, 0]", "[[-12, 0], [45, 0]", '[[building]]\nname = "garage"'),
    ],
)  # fmt: skip
def test_the_line_is_the_entry_s_own(tmp_path, old, new, stands):
    text = changed(old, new)
    (problem,) = problems_of(write_lot(tmp_path, text))
    assert problem.line == line_of(stands, text)


def test_many_mistakes_are_told_at_once(tmp_path):
    text = RICH
    for old, new in [
        ('units = "ft"', 'units = "feet"'),
        ('["P5", "P6"]', '["P5", "P66"]'),
        ("distance = 24", "distance = 240"),
        ('texture = "loam"', 'texture = "peat"'),
        ('near_foundation = "6 ft"', "no_such_rule = 1"),
        ("[45, 20], [30, 20]]", "[30, 20], [45, 20]]"),
    ]:
        text = changed(old, new, text)
    found = problems_of(write_lot(tmp_path, text, SPOTS.replace("101.25", "high")))
    lines = [problem.line for problem in found if problem.file.endswith("site.toml")]
    assert lines == sorted(lines)
    # All but the spot height P66, which cannot be looked up while the spot heights are not read.
    assert len(lines) == 5
    assert [problem.line for problem in found if problem.file == "spots.csv"] == [4]


def test_what_is_missing_altogether(tmp_path):
    found = problems_of(write_lot(tmp_path, "", None))
    assert [problem.expected.split(";")[0] for problem in found] == [
        "a table [site]",
        "a table [terrain]",
    ]
    assert found[0].line is None


@pytest.mark.parametrize(
    ("text", "line", "column"),
    [
        ("[site\nname = 1\n", 1, 6),
        ("a = 1\na = 2\n", 2, 6),
        ('x = 1\nname = "open\n', 2, 13),
        ("a = 2026-13-45\n", 1, None),
        ("a = [1,", 1, None),
    ],
)
def test_no_toml_names_line_and_column(tmp_path, text, line, column):
    (problem,) = problems_of(write_lot(tmp_path, text))
    assert problem.line == line
    assert column is None or problem.column == column
    assert "TOML" in problem.expected


def test_nested_too_deeply(tmp_path):
    assert len(problems_of(write_lot(tmp_path, "a = " + "[" * 5000 + "]" * 5000))) == 1


def test_files_that_are_none(tmp_path):
    for path in [tmp_path / "none.toml", tmp_path, str(tmp_path / "x\0y")]:
        with pytest.raises(InputError):
            read_site(path)
    (tmp_path / "latin.toml").write_bytes('a = 1\nname = "½"'.encode("latin-1"))
    with pytest.raises(InputError, match=re.escape("latin.toml, line 2: expected")):
        read_site(tmp_path / "latin.toml")


def test_a_message_reads_as_a_sentence(tmp_path):
    path = write_lot(tmp_path, changed('storm_depth = "3.5 in"', 'storm_depth = "4 lb"'))
    (problem,) = problems_of(path)
    assert str(problem).startswith(
        f'{path}, line {line_of("storm_depth")}: [rain] storm_depth: "4 lb" is written; expected '
        "a depth of rain between 0 and 3 ft, such as"
    )


def test_missing_widths_projections_and_unknown_names_are_told_with_everything_else(tmp_path):
    """One round: each line names what is missing, and what stands there."""
    more = """
[[opening]]
name = "new well"
kind = "window well"
at = { building = "no such house", wall = 1, distance = "5 ft" }
[[downspout]]
name = "new"
roofs = ["no such roof"]
[[keep_out]]
name = "new pipe"
kind = "utility"
line = [[0, 0], [3, 3]]
"""
    found = {p.entry: p.expected for p in problems_of(write_lot(tmp_path, RICH + more))}
    assert set(found) == {
        "opening 'new well' . width",
        "opening 'new well' . projection",
        "opening 'new well' . at . building",
        "downspout 'new' . at",
        "downspout 'new' . roofs . item 1",
        "keep_out 'new pipe'",
    }
    assert "the name of a building" in found["opening 'new well' . at . building"]
    assert "which is missing" in found["opening 'new well' . projection"]
    assert found["keep_out 'new pipe'"].startswith("width, which is missing beside line")


# Walls of the house where they are named, what they are put to, and the entries.
WRONG_WALLS = {
    ('wall = "rear", distance', 'wall = "raer", distance'): "downspout 'NE' . at . wall",
    ("wall = 4, distance", "wall = 5, distance"): "downspout 'SW' . at . wall",
    ('wall = "right", distance', 'wall = "rihgt", distance'): "opening 'well A' . at . wall",
    ('wall = "left", from', 'wall = "lfet", from'): "roof 'bay' . eave . wall",
    (
        'wall = "front", kind',
        'wall = "frnot", kind',
    ): "building 'house' . clearances . item 1 . wall",
}
HOUSE = RICH[RICH.index("corners = [\n    [0, 0],") : RICH.index("courtyards = ")]


@pytest.mark.parametrize(
    "outline",
    [
        HOUSE.replace('[30, "24 ft"]', "[30, 0]"),
        HOUSE.replace('[30, "24 ft"],\n    [0, 24]', '[0, 24],\n    [30, "24 ft"]'),
        HOUSE.replace("[30, 0]", '["30 lb", 0]'),
        'outline = { file = "no such.geojson" }\n',
        'start = [0, 0]\nruns = ["N 30 ft", "nowhere", "S 30 ft", "W 24 ft"]\n',
    ],
    ids=["twice", "crossed", "no length", "no file", "no run"],
)
def test_wrong_walls_of_a_house_whose_outline_does_not_read_are_told_with_it(tmp_path, outline):
    """All in one round; those that are right are not told."""
    alone = changed(HOUSE, outline)
    (own,) = {p.entry for p in problems_of(write_lot(tmp_path, alone))}
    assert own.startswith("building 'house' . ")
    text = alone
    for wall, wrong in WRONG_WALLS:
        text = changed(wall, wrong, text)
    found = {p.entry: p.expected for p in problems_of(write_lot(tmp_path, text))}
    wrong = set(WRONG_WALLS.values())
    if own.endswith("corners . item 2"):
        wrong = {each for each in wrong if "clearances" not in each}  # its table does not read
    assert set(found) == {own, *wrong}
    assert 'such as "rear"' in found["downspout 'NE' . at . wall"]
    assert "from 1 to 4" in found["downspout 'SW' . at . wall"]


def test_walls_of_a_house_with_too_few_names_are_not_called_wrong(tmp_path):
    (own,) = problems_of(write_lot(tmp_path, changed(', "left"]', "]")))
    assert own.entry == "building 'house' . walls"
    nameless = changed('walls = ["front", "right", "rear", "left"]\n', "")
    nameless = changed('[30, "24 ft"]', "[30, 0]", nameless)
    found = [p.entry for p in problems_of(write_lot(tmp_path, nameless))]
    # Its walls are *wall 1* to *wall 4* then.
    assert set(found) == {
        "building 'house' . corners",
        "building 'house' . clearances . item 1 . wall",
        "downspout 'NE' . at . wall",
        "roof 'bay' . eave . wall",
        "opening 'well A' . at . wall",
        "opening 'big door' . at . wall",
    }
