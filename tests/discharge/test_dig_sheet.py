"""The dig table as printed: read back from its text, its numbers close against each other."""

import re
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from runoff.discharge import (
    SIZES_IN,
    BuriedLine,
    Fitting,
    LineEnd,
    design_profile,
    dig_table,
    line_limits,
    pipe_at_flow,
    pipe_of,
)
from runoff.quantities import parse_length, parse_slope
from runoff.words import DIG_COLUMNS, dig_cells, dig_notes
from runoff.words.dig_sheet import dig_sheet

INCH, FOOT = 0.0254, 0.3048
STEPS = {"tape": INCH / 4, "tenths": FOOT / 100, "mm": 0.001, "cm": 0.01}
UNITS = {"tape": "ft", "tenths": "ft", "mm": "m", "cm": "m"}
# Feet and inches print exactly; a metre in feet does not, by less than this.
EXACT = 1e-9


def a_line(ground, nominal=4, wall="smooth", instrument=None, buried=None) -> BuriedLine:
    """A line under ground heights 4 m apart, with a bend and a row every 5 ft."""
    pipe = pipe_of(nominal, wall)
    stations = np.arange(len(ground)) * 4.0
    profile = design_profile(stations, ground, pipe, line_limits(), buried)
    bend = Fitting(float(profile.stations_m[-1]) / 3, "bend", "route turns", (45.0,), 45.0)
    return BuriedLine(
        route=np.array([[0.0, 0.0], [1.0, 0.0]]),
        drawn=False,
        profile=profile,
        flow=pipe_at_flow(pipe, 0.01, 0.0005),
        trench_width_m=0.5,
        greatest_cut_m=float(profile.cut_m.max()),
        rows=dig_table(profile, 5 * FOOT, instrument, [bend.station_m]),
        instrument_m=instrument,
        fittings=(bend,),
        crossings=(),
        ends=LineEnd("daylight"),
        end=(1.0, 0.0),
        head_m=None,
        apron=None,
        protection="",
        cautions=(),
    )


lines = st.builds(
    a_line,
    st.lists(st.floats(-2.0, 0.0), min_size=3, max_size=8).map(
        lambda falls: 100.0 + np.cumsum([0.0, *falls])
    ),
    st.sampled_from(SIZES_IN),
    st.sampled_from(["smooth", "corrugated"]),
    st.one_of(st.none(), st.floats(100.5, 104.0)),
    st.one_of(st.none(), st.floats(0.0, 12.0)),
)
styles = st.sampled_from(sorted(STEPS))


def parsed(line: BuriedLine, style: str) -> list[dict[str, float]]:
    """The rows of the printed table, read back from its text by position of the columns."""
    text = dig_sheet(line, UNITS[style], style)
    (head,) = [k for k, row in enumerate(text) if row.startswith("station")]
    starts = [text[head].index(name) for name in DIG_COLUMNS]
    rows = []
    for row in text[head + 1 :]:
        cells = [row[a:b].strip() for a, b in pairwise([*starts, len(row) + 1])]
        rows.append(
            {
                name: parse_length(cell)
                for name, cell in zip(DIG_COLUMNS[:-1], cells, strict=False)
                if cell != "-"
            }
        )
    return rows


def noted(line: BuriedLine, style: str, start: str) -> list[str]:
    return [each for each in dig_notes(line, UNITS[style], style) if each.startswith(start)]


@given(lines, styles)
def test_dig_less_cover_is_pipe_and_bedding(line, style):
    (note,) = noted(line, style, "Dig less cover")
    printed = parse_length(note.split(": ")[1])
    real = line.profile.pipe.outside_m + line.profile.limits.bedding_m
    assert printed == pytest.approx(real, abs=STEPS[style] + EXACT)
    for row in parsed(line, style):
        assert row["dig"] - row["cover"] == pytest.approx(printed, abs=EXACT)


@given(lines, styles)
def test_printed_numbers_are_the_lines_own_within_the_step(line, style):
    step = STEPS[style]
    rows = parsed(line, style)
    assert len(rows) == len(line.rows)
    for row, exact in zip(rows, line.rows, strict=True):
        assert row["station"] == pytest.approx(exact.station_m, abs=step / 2 + EXACT)
        assert row["ground"] == pytest.approx(exact.ground_m, abs=step / 2 + EXACT)
        assert row["invert"] == pytest.approx(exact.invert_m, abs=step / 2 + EXACT)
        assert row["dig"] == pytest.approx(exact.cut_m, abs=1.5 * step + EXACT)
        assert row["cover"] == pytest.approx(exact.cover_m, abs=1.5 * step + EXACT)


@given(lines, styles)
def test_rods_and_inverts_meet_in_the_line_of_sight(line, style):
    notes = noted(line, style, "Line of sight")
    for row in parsed(line, style):
        if line.instrument_m is None:
            assert "rod at invert" not in row
            continue
        sight = parse_length(notes[0].split(": ")[1])
        assert sight == pytest.approx(line.instrument_m, abs=STEPS[style] / 2 + EXACT)
        assert row["invert"] + row["rod at invert"] == pytest.approx(sight, abs=EXACT)
        bottom = row["ground"] - row["dig"]
        assert bottom + row["rod at bottom"] == pytest.approx(sight, abs=EXACT)


@given(lines, styles)
def test_slope_times_length_is_the_fall(line, style):
    step, rows = STEPS[style], parsed(line, style)
    inverts = {row["station"]: row["invert"] for row in rows}
    notes = noted(line, style, "From ")
    assert notes
    for note in notes:
        found = re.fullmatch(r"From (.+) to (.+) the invert falls (.+), (.+ %)", note)
        start, end, fall = (parse_length(found[k]) for k in (1, 2, 3))
        assert inverts[start] - inverts[end] == pytest.approx(fall, abs=EXACT)
        slope = parse_slope(found[4])
        # Half a step for the invert at each end, the stations' halves, and the slope's last figure.
        assert slope * (end - start) == pytest.approx(fall, abs=step * (1.1 + slope))
        for row in rows:
            if start <= row["station"] <= end:
                held = inverts[start] - slope * (row["station"] - start)
                # Half a step for each of the two ends and the row, and the stations' own halves.
                assert row["invert"] == pytest.approx(held, abs=step * (1.6 + 2 * slope))


@given(lines, styles)
def test_the_least_slope_is_printed_between_rows(line, style):
    rows, step = parsed(line, style), STEPS[style]
    for a, b in pairwise(rows):
        fall = a["invert"] - b["invert"]
        assert fall >= 0.01 * (b["station"] - a["station"]) - 1.02 * step


def test_a_plane_by_hand():
    # 12 in of cover, 4.026 + 0.237 in of pipe over the invert: the invert lies 16.263 in down, to
    # the quarter inch 16 1/4; 0.237 + 4 in under it, 4 1/4. So dig 20 1/2 in, cover 12 in; the
    # ground at 100 m is 328 ft 1 in (328.084 ft), the invert 326 ft 8 3/4 in.
    line = a_line(100.0 - 0.12 * np.arange(8), instrument=102.0)
    assert dig_cells(line, "ft", "tape")[0] == (
        *("0 in", "328 ft 1 in", "326 ft 8 3/4 in", "1 ft 8 1/2 in", "1 ft"),
        *("7 ft 11 in", "8 ft 3 1/4 in", "deepest place"),
    )
    # 102 m is 334 ft 7 3/4 in (334.646 ft).
    assert "Line of sight of the level: 334 ft 7 3/4 in" in dig_notes(line, "ft")
    (row,) = [cells for cells in dig_cells(line, "m", "cm") if cells[-1] == "45 degree bend"]
    assert row[0] == "6.88 m"


def test_a_style_of_the_other_unit_is_refused():
    with pytest.raises(ValueError, match="expected tape or tenths"):
        dig_sheet(a_line([100.0, 99.0, 98.0]), "ft", "mm")
