"""Rain tables: what is read, what lies between rows, and what gives no number."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from runoff.quantities import parse_duration, parse_rate
from runoff.roof import curve_number_runoff, design_flow
from runoff.rules import RULES
from runoff.site import InputError, RainTable, depth, intensity, read_rain_table
from tests.site import rain_texts as texts

INCH = 0.0254
HOUR = 3600.0


def _read(tmp_path, text, name="rain.csv"):
    (tmp_path / name).write_bytes(text.encode())
    return read_rain_table(tmp_path / name)


def _refused(tmp_path, text):
    with pytest.raises(InputError) as caught:
        _read(tmp_path, text)
    return [str(problem).split("rain.csv")[-1] for problem in caught.value.problems]


def test_partial_duration_depths_in_inches(tmp_path):
    table = _read(tmp_path, texts.atlas())
    assert table.return_periods == texts.YEARS
    assert table.durations == tuple(HOUR * hours for hours in texts.HOURS.values())
    wanted = [[float(cell) for cell in line.split(",")] for line in texts.INCHES.values()]
    np.testing.assert_allclose(table.depth / INCH, wanted, rtol=1e-12)
    for word in ("NOAA Atlas 14 Volume 9", "partial duration", "depths", "26.6", "-81.9"):
        assert word in table.basis


def test_which_storm(tmp_path):
    # 100-year 60-min (basis of the International Plumbing Code, memory) and 10-year 5-min
    # (common practice for gutters): 4.38 and 9.86 in/h here.
    table = _read(tmp_path, texts.atlas())
    assert intensity(table, HOUR, 100) / parse_rate("1 in/h") == pytest.approx(4.38)
    gutters = intensity(
        table, RULES["drainage_rain_duration"].value, RULES["drainage_return_years"].value
    )
    assert gutters / parse_rate("1 in/h") == pytest.approx(9.86, abs=0.005)
    ponding = depth(
        table, RULES["ponding_rain_duration"].value, RULES["ponding_return_years"].value
    )
    assert ponding / INCH == pytest.approx(7.28)


@pytest.mark.parametrize(
    "text",
    [
        texts.atlas("inches/hour", "intensity", body=texts.rows(texts.as_intensity())),
        texts.atlas("millimeters", "depth", body=texts.rows(texts.as_millimeters())),
        texts.atlas(tail=texts.BOUNDS.format(name="UPPER", periods=texts.ARI)),
        texts.atlas(tail="\n5-min:, 9,9,9,9,9,9,9,9,9,9\n10-min:, 9,9,9,9,9,9,9,9,9,9\n"),
        texts.atlas(tail="\nDate/time (GMT):  Mon Jan  1 00:00:00 2024\npyRunTime:  0.02\n"),
        texts.atlas().replace("\n", "\r\n"),
        "\ufeff" + texts.atlas(),
    ],
    ids=["intensity", "millimeters", "bounds", "bounds bare", "ending", "line ends", "mark"],
)
def test_the_same_table_in_other_forms(tmp_path, text):
    wanted = _read(tmp_path, texts.atlas())
    table = _read(tmp_path, text)
    assert (table.durations, table.return_periods) == (wanted.durations, wanted.return_periods)
    np.testing.assert_allclose(table.depth, wanted.depth, rtol=1e-7)


def test_annual_maxima_have_no_first_year(tmp_path):
    body = texts.rows(texts.without_first_year())
    text = texts.atlas(series="Annual maximum", periods=texts.AEP, body=body)
    table = _read(tmp_path, text)
    assert table.return_periods == texts.YEARS[1:]
    assert depth(table, 300, 2) / INCH == pytest.approx(0.620)
    assert "annual maximum" in table.basis
    with pytest.raises(ValueError, match="no return period of 1 years; it lists 2, 5, 10"):
        depth(table, 300, 1)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("(inches)", "(cubits)", ', line 1: title: "Point'),
        ("(inches)", "(inches/hour)", ', line 3: Data type: "Precipitation depth" is written'),
        ("Partial duration", "Weekly", ', line 4: Time series type: "Weekly" is written'),
        ("Partial duration", "Annual maximum", ', line 14: "by duration for ARI'),
        ("PRECIPITATION FREQUENCY ESTIMATES\n", "\n", ', line 1: expected a line "PRECIPITATION'),
        ("1,2,5,10,25", "1,2,5,5,25", ", line 14: "),
        ("5-min:, 0.553,0.620", "5-min:, 0.553,x", ', line 15: 5-min: "x" is written'),
        ("5-min:, 0.553,0.620", "5-min:, 0.553", ', line 15: 5-min: "0.553, 0.731'),
        ("5-min:, 0.553", "5-min:, -0.553", ', line 15: 5-min: "-0.553" is written'),
        ("\n10-min", "\n10-mn", ', line 16: "10-mn" is written'),
        ("0.988,1.11", "1.988,1.11", ", line 17: 15-min: expected values that grow"),
        ("2.69,2.98", "1.69,2.98", ", line 20: 2-hr: expected depths that grow"),
        ("\n2-hr", "\n20-min", ", line 20: 20-min: expected durations from short to long"),
    ],
)
def test_a_mistake_in_the_atlas_text_is_named_by_its_line(tmp_path, old, new, said):
    text = texts.atlas().replace(old, new, 1)
    assert text != texts.atlas()
    assert _refused(tmp_path, text)[0].startswith(said)


def test_a_csv_file_in_several_units(tmp_path):
    table = _read(tmp_path, "duration,unit,2,10 years\n5 min,in,0.5,0.8\n\n1 h,mm/h,50,80\n")
    assert table.durations == (300.0, 3600.0)
    np.testing.assert_allclose(table.depth, [[0.5 * INCH, 0.8 * INCH], [0.05, 0.08]])
    assert table.basis.startswith("rain table")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", ", line 1: header: expected a header row"),
        ("duration,2\n5 min,1\n", ', line 1: header: "duration, 2" is written'),
        ("duration,unit\n5 min,in\n", ", line 1: header: "),
        ("duration,unit,10,2\n", ', line 1: header: "2" is written'),
        ("duration,unit,10\n", ", line 1: expected at least one row"),
        ("duration,unit,10\n\n0 min,in,1\n", ', line 3: duration: "0 min" is written'),
        ("duration,unit,10\n5,in,1\n", ', line 2: duration: "5" is written'),
        ("duration,unit,10\n5 min,gal,1\n", ', line 2: unit: "gal" is written'),
        ("duration,unit,10\n5 min,in,1,2\n", ', line 2: 5 min: "1, 2" is written'),
        ("duration,unit,10\n5 min,in,1e3\n", ', line 2: 5 min: "1e3" is written'),
        ("duration,unit,10\n5 min,in/h,1\n9 min,in/h,2\n", ", line 3: 9 min: expected depths"),
        ("duration,unit,10\n5 min,in,1\n9 min,in/h,1\n", ", line 3: 9 min: expected depths"),
    ],
)
def test_a_mistake_in_the_csv_file_is_named_by_its_line(tmp_path, text, said):
    assert _refused(tmp_path, text)[0].startswith(said)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.data())
def test_a_spoilt_file_is_read_or_refused_and_never_fails_otherwise(tmp_path, data):
    text = data.draw(st.sampled_from([texts.atlas(), "duration,unit,2,10\n5 min,in,0.5,0.8\n"]))
    start = data.draw(st.integers(0, len(text)))
    end = data.draw(st.integers(start, min(len(text), start + 400)))
    spoilt = text[:start] + data.draw(st.text(max_size=5)) + text[end:]
    try:
        table = _read(tmp_path, spoilt)
    except InputError:
        return
    assert table.depth.shape == (len(table.durations), len(table.return_periods))
    assert (table.depth > 0).all()


def test_a_line_that_is_no_csv_is_refused(tmp_path):
    text = "duration,unit,10\n" + "9" * 200_000 + ",in,1\n"
    assert _refused(tmp_path, text)[0].startswith(', line 2: duration: "999')


def test_every_mistake_is_told_at_once(tmp_path):
    assert len(_refused(tmp_path, "duration,unit,2,10\nsoon,gal,1,1\n5 min,in,x,y\n")) == 4


def test_a_power_law_is_met_between_its_rows():
    # Closed form: depth = c t^0.4 is a straight line in logarithms.
    durations = (300.0, 900.0, 7200.0)
    table = RainTable(durations, (10.0,), np.array([[0.003 * t**0.4] for t in durations]), "law")
    for t in (300.0, 500.0, 900.0, 3600.0, 7200.0):
        assert depth(table, t, 10) == pytest.approx(0.003 * t**0.4, rel=1e-12)
        assert intensity(table, t, 10) == pytest.approx(0.003 * t**-0.6, rel=1e-12)


@pytest.mark.parametrize("duration", [299.9, 7200.1, float("nan"), 0.0])
def test_nothing_is_taken_from_beyond_the_table(duration):
    table = RainTable((300.0, 7200.0), (10.0,), np.array([[0.01], [0.02]]), "invented")
    with pytest.raises(ValueError, match="from 5 min to 2 h and has no rain of"):
        depth(table, duration, 10)


def test_a_return_period_that_is_not_listed_gives_no_number():
    table = RainTable((300.0,), (10.0, 100.0), np.array([[0.01, 0.02]]), "invented")
    with pytest.raises(ValueError, match="no return period of 50 years; it lists 10, 100"):
        depth(table, 300, 50)


def test_the_ten_year_set_of_a_published_pit_design(tmp_path):
    # Rainfall set of a published BRE Digest 365 calculation: mm, and inflows of 690 m2 in m3.
    minutes = (10, 15, 30, 60, 120, 240, 360, 600, 1440, 2880, 5760)
    mm = (12.69, 15.50, 19.84, 24.80, 30.01, 35.38, 38.72, 42.96, 52.86, 61.31, 70.15)
    inflows = (8.75, 10.69, 13.69, 17.11, 20.71, 24.41, 26.72, 29.64, 36.48, 42.30, 48.40)
    lines = [f"{t} min,mm,{d}" for t, d in zip(minutes, mm, strict=True)]
    table = _read(tmp_path, "duration,unit,10\n" + "\n".join(lines))
    for t, inflow in zip(minutes, inflows, strict=True):
        seconds = parse_duration(f"{t} min")
        volume = design_flow(690.0, intensity(table, seconds, 10)) * seconds
        assert volume == pytest.approx(inflow, abs=0.01)


@pytest.mark.parametrize(
    ("inches", "number", "runoff"), [(8, 80, 5.625), (6, 70, 2.81), (6, 75, 3.28), (0.4, 80, 0)]
)
def test_curve_numbers(inches, number, runoff):
    # TR-55; the rows of 6 in are computed, and 0.2 S of 0.5 in takes all of 0.4 in.
    ours = curve_number_runoff(inches * INCH, number) / INCH
    assert ours == pytest.approx(runoff, abs=0.005)


@pytest.mark.parametrize("number", [0, 100.5, float("nan")])
def test_a_curve_number_out_of_range(number):
    with pytest.raises(ValueError, match="curve_number is"):
        curve_number_runoff(0.1, number)


# University of Illinois; roofs from memory.
@pytest.mark.parametrize(
    ("surface", "low", "high"),
    [
        ("lawn_sand_flat", 0.05, 0.10),
        ("lawn_sand_average", 0.10, 0.15),
        ("lawn_sand_steep", 0.15, 0.20),
        ("lawn_clay_flat", 0.13, 0.17),
        ("lawn_clay_average", 0.18, 0.22),
        ("lawn_clay_steep", 0.25, 0.35),
        ("paving", 0.80, 0.95),
        ("roof", 0.75, 0.95),
    ],
)
def test_runoff_coefficients_lie_in_their_published_ranges(surface, low, high):
    assert low <= RULES[f"runoff_coefficient_{surface}"].value <= high
