"""Which rain each thing is judged or sized by, from what the site file and its rain table say.

The expected depths are the table's own figures; between its rows by hand, as the logarithm of depth
is linear in that of duration.
"""

import math

import pytest

from runoff import read_site
from runoff.rules import RULES, Rules
from runoff.site import assumed_rains
from runoff.words import drainage_basis, pit_rain_basis, storm_basis
from tests.lots.rich import RAIN, RICH, line_of, problems_of, write_lot
from tests.site import rain_texts

INCH = 0.0254
IN_PER_H = INCH / 3600.0
TABLE = 'table = "rain.csv"'


def lot(tmp_path, *entries, rules="", units="ft", rain=RAIN):
    """The site file of the rich lot with another ``[rain]``; its path."""
    text = RICH[: RICH.index("[rain]")] + "\n".join(["[rain]", *entries]) + "\n\n"
    text += RICH[RICH.index("[soil]") :] + rules
    return write_lot(tmp_path, text.replace('units = "ft"', f'units = "{units}"'), rain=rain)


def test_nothing_given_is_assumed_and_said(tmp_path):
    site = read_site(lot(tmp_path))
    assert site.storm.depth == pytest.approx(4 * INCH)
    assert site.rains == assumed_rains(site.storm, Rules())
    assert site.rains.gutter.intensity == RULES["drainage_intensity"].value
    assert "assumed" in drainage_basis(site, site.rains.gutter)
    assert "assumed" in storm_basis(site)
    assert storm_basis(site) in pit_rain_basis(site)
    assert site.rains.allowance == "none"


def test_a_table_alone_gives_every_rain_by_the_rules(tmp_path):
    site = read_site(lot(tmp_path, TABLE))
    assert site.storm.depth == pytest.approx(4.10 * INCH)
    assert site.storm.duration == 3600.0
    assert storm_basis(site).startswith("10-year 24-h rain of rain.csv, 4.1 in;")
    for rain in (site.rains.gutter, site.rains.line):
        assert rain.intensity == pytest.approx(0.6 * 12 * IN_PER_H)
        assert drainage_basis(site, rain) == "10-year 5-min rain of rain.csv, 7.2 in/h"
    pit = site.rains.pit
    assert [seconds for seconds, _ in pit.durations] == [300.0, 3600.0, 86400.0]
    assert [depth / INCH for _, depth in pit.durations] == pytest.approx([0.6, 1.97, 4.10])
    assert pit.depth == site.storm.depth
    assert pit_rain_basis(site).startswith(
        "10-year rains of rain.csv, 5 min to 24 h; as a whole storm: "
    )


def test_a_rain_that_is_typed_wins_over_the_table(tmp_path):
    site = read_site(lot(tmp_path, TABLE, 'storm_depth = "5 in"', 'design_intensity = "9 in/h"'))
    assert site.storm.depth == pytest.approx(5 * INCH)
    assert site.rains.pit.depth == pytest.approx(5 * INCH)
    assert len(site.rains.pit.durations) == 3
    for rain in (site.rains.gutter, site.rains.line):
        assert rain.intensity == pytest.approx(9 * IN_PER_H)
        assert drainage_basis(site, rain) == "9 in/h from the site file"


def test_each_use_may_have_a_rain_of_its_own(tmp_path):
    site = read_site(
        lot(
            tmp_path,
            TABLE,
            'design_intensity = "9 in/h"',
            'gutter = { intensity = "11 in/h" }',
            'line = { return_years = 25, duration = "10 min" }',
            'ponding = { return_years = 2, duration = "6 h" }',
            "pit = { return_years = 25 }",
            'allowance = "half tangent"',
        )
    )
    assert site.rains.gutter.intensity == pytest.approx(11 * IN_PER_H)
    between = 0.70 * (2.38 / 0.70) ** (math.log(10 / 5) / math.log(60 / 5))
    assert site.rains.line.intensity == pytest.approx(between * 6 * IN_PER_H)
    assert drainage_basis(site, site.rains.line) == "25-year 10-min rain of rain.csv, 5.91 in/h"
    six_hours = 1.34 * (2.90 / 1.34) ** (math.log(6) / math.log(24))
    assert site.storm.depth == pytest.approx(six_hours * INCH)
    assert [depth / INCH for _, depth in site.rains.pit.durations] == [
        pytest.approx(depth) for depth in (0.70, 2.38, 4.95)
    ]
    assert site.rains.pit.depth == site.storm.depth
    assert site.rains.allowance == "half tangent"


def test_of_a_rain_of_the_table_the_rules_say_what_is_left_out(tmp_path):
    entries = (TABLE, "gutter = { return_years = 2 }", 'line = { duration = "60 min" }')
    site = read_site(lot(tmp_path, *entries, rules="drainage_return_years = 25\n"))
    assert site.rains.gutter.intensity == pytest.approx(0.45 * 12 * IN_PER_H)
    assert site.rains.line.intensity == pytest.approx(2.38 * IN_PER_H)


def test_the_pit_takes_the_return_period_of_ponding(tmp_path):
    site = read_site(lot(tmp_path, TABLE, "ponding = { return_years = 25 }"))
    assert [depth / INCH for _, depth in site.rains.pit.durations] == [
        pytest.approx(depth) for depth in (0.70, 2.38, 4.95)
    ]
    assert site.rains.pit.depth == pytest.approx(4.95 * INCH)


def test_a_pit_for_a_depth_holds_a_whole_storm(tmp_path):
    site = read_site(lot(tmp_path, TABLE, 'pit = { depth = "6 in" }'))
    pit = site.rains.pit
    assert (pit.depth, pit.durations) == (pytest.approx(6 * INCH), ())
    assert pit_rain_basis(site) == "a whole storm of 6 in from the site file"


def test_ponding_by_a_depth_needs_no_table(tmp_path):
    assert read_site(lot(tmp_path, 'ponding = { depth = "5 in" }')).storm.depth == pytest.approx(
        5 * INCH
    )


def test_a_metric_site_is_told_in_millimeters(tmp_path):
    site = read_site(lot(tmp_path, TABLE, units="m"))
    assert "4.1 in" not in storm_basis(site)
    assert "104 mm" in storm_basis(site)  # 4.10 x 25.4
    assert drainage_basis(site, site.rains.gutter).endswith("183 mm/h")  # 0.6 x 12 x 25.4


def test_atlas_text_is_named_with_its_volume(tmp_path):
    # The 10-year 5-min rain there is 0.822 in, 9.86 in/h.
    site = read_site(lot(tmp_path, TABLE, rain=rain_texts.atlas()))
    basis = drainage_basis(site, site.rains.gutter)
    assert basis.startswith("10-year 5-min rain of rain.csv (NOAA Atlas 14 Volume 9")
    assert "partial duration" in basis
    assert basis.endswith("9.86 in/h")
    assert site.storm.depth == pytest.approx(7.28 * INCH)


# What [rain] says, [rules] adds, the rain table; the entry named, part of what is expected.
NOT_THERE = [
    ("line = { return_years = 20 }", "", RAIN, "[rain] line . return_years", "2, 10 or 25 years"),
    ('gutter = { duration = "2 min" }', "", RAIN, "[rain] gutter . duration", "5 min to 24 h"),
    ('ponding = { duration = "48 h" }', "", RAIN, "[rain] ponding . duration", "5 min to 24 h"),
    ("ponding = { return_years = 50 }", "", RAIN, "[rain] ponding . return_years", "2, 10 or 25"),
    ("pit = { return_years = 100 }", "", RAIN, "[rain] pit . return_years", "2, 10 or 25 years"),
    ("", "ponding_return_years = 50\n", RAIN, "[rules] ponding_return_years", "2, 10 or 25"),
    ("", 'drainage_rain_duration = "2 min"\n', RAIN, "[rules] drainage_rain_dur", "5 min to 24 h"),
    ("", "", RAIN.replace(",10,", ",11,"), "[rain] table", "the 10-year 24-h rain for ponding"),
    ("", "", RAIN.replace("24 h", "2 h"), "[rain] table", 'such as ponding = {duration = "2 h"}'),
    ("", "", RAIN.replace("5 min", "15 min"), "[rain] table", 'gutter = {duration = "15 min"}'),
]


@pytest.mark.parametrize(("entry", "rules", "rain", "named", "expected"), NOT_THERE)
def test_what_the_table_does_not_hold_gives_one_line_and_no_number(
    tmp_path, entry, rules, rain, named, expected
):
    path = lot(tmp_path, TABLE, entry, rules=rules, rain=rain)
    found = problems_of(path)
    assert len(found) == 1, [str(problem) for problem in found]
    (problem,) = found
    assert problem.entry.startswith(named)
    assert expected in problem.expected
    text = path.read_text(encoding="utf-8")
    assert problem.line == line_of(entry or rules or TABLE, text)


@pytest.mark.parametrize(
    "entry",
    [
        "gutter = { return_years = 10 }",
        'ponding = { duration = "1 h" }',
        "pit = { return_years = 10 }",
    ],
)
def test_a_rain_of_a_table_asks_for_the_table(tmp_path, entry):
    (problem,) = problems_of(lot(tmp_path, entry))
    assert problem.entry == f"[rain] {entry.split()[0]}"
    assert 'table = "rain.csv"' in problem.expected


@pytest.mark.parametrize(
    ("rain", "line", "expected"),
    [
        (RAIN.replace("0.6,", "none,"), 2, "a number above 0"),
        (RAIN.replace("60 min,in", "60 min,lb"), 3, "in/h or mm/h"),
        (RAIN.replace("60 min", "1 min"), 3, "short to long"),
        (RAIN.replace("0.6,", "-0.6,"), 2, "a number above 0"),
        ("", 1, "a header row"),
        (b"duration,unit,10\n5 min,in,\xff\n", 2, "UTF-8"),
    ],
)
def test_a_mistake_in_the_table_names_its_file_and_line(tmp_path, rain, line, expected):
    (problem,) = problems_of(lot(tmp_path, TABLE, rain=rain))
    assert (problem.file, problem.line) == ("rain.csv", line)
    assert expected in problem.expected
