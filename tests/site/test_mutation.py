"""Whatever happens to a good site file, reading it gives a site or a list of problems."""

import re
import tempfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from runoff.site import InputError, Site, read_site
from tests.lots.rich import RAIN, RICH, SPOTS, write_lot

# Bits of syntax, and whole values that TOML accepts but the entry they land in may not.
SYNTAX = [
    *("", "\n", "[", "]", "{", "}", '"', "'", "=", ",", ".", "0", "-", "[[", "]]", "#", '"""'),
    *("1e400", "1_000", "½", "\x00", "\r", "\x1b[2J"),
]
VALUES = [
    *("[]", "{}", "nan", "-inf", "true", "0", "-3", "1e300", "9" * 400, "1979-05-27", "07:32:00"),
    *('""', '"\\u0000"', '"9 ft 14 in"', '"house"', '"main"', '"a/b"', '".."', '"spots.csv"'),
    *('"7 in/h"', '"2 x 3 in"', '"2.10 per ft"', '"24 h"', '"rain.csv"', '{ depth = "5 in" }'),
    *("{ return_years = 10 }", '{ return_years = 3, duration = "9 min" }', '["1 h"]'),
    *("[1, 2]", '["1 ft", 2]', "[[1, 2], [3, 4]]", "[[0, 0], [9, 9], [9, 0], [0, 9]]"),
    *("{ a.b = 1 }", '{ file = "spots.csv" }', '{ file = "site.toml", pick = 1 }', "[[[[1]]]]"),
]
PIECES = st.one_of(st.sampled_from(SYNTAX), st.text(max_size=5))


@st.composite
def mutated(draw, text):
    """The text with up to three spans of characters, lines or values replaced or swapped."""
    for _ in range(draw(st.integers(1, 3))):
        way = draw(st.sampled_from(["value", "characters", "value", "line", "double"]))
        if way == "characters":
            start = draw(st.integers(0, len(text)))
            end = min(len(text), start + draw(st.integers(0, 8)))
            text = text[:start] + draw(PIECES) + text[end:]
            continue
        lines = text.split("\n")
        at = draw(st.integers(0, len(lines) - 1))
        if way == "line":
            lines[at] = draw(PIECES)
        elif way == "value" and "=" in lines[at]:
            lines[at] = lines[at].split("=")[0] + "= " + draw(st.sampled_from(VALUES))
        elif way == "double":
            lines.insert(draw(st.integers(0, len(lines))), lines[at])
        text = "\n".join(lines)
    return text


def problems_or_site(text, spots, rain=RAIN):
    with tempfile.TemporaryDirectory() as folder:
        try:
            return read_site(write_lot(Path(folder), text, spots, rain))
        except InputError as error:
            return error.problems


def check(outcome):
    """A site, or at least one problem, each on one line with what is expected."""
    if isinstance(outcome, Site):
        return
    assert outcome
    for problem in outcome:
        assert problem.expected
        assert str(problem).isprintable()


@settings(max_examples=300, deadline=None, suppress_health_check=list(HealthCheck))
@given(mutated(RICH))
def test_a_changed_site_file(text):
    check(problems_or_site(text, SPOTS))


@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
@given(mutated(SPOTS))
def test_changed_spot_heights(spots):
    check(problems_or_site(RICH, spots.encode("utf-8", "surrogatepass")))


@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
@given(mutated(RAIN))
def test_changed_rain_tables(rain):
    check(problems_or_site(RICH, SPOTS, rain.encode("utf-8", "surrogatepass")))


KEYED = [line for line in RICH.split("\n") if re.match(r"[a-z_]+ = [^\[']*$", line)]


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(KEYED), st.sampled_from(VALUES))
def test_one_wrong_value_makes_no_two_messages_about_one_entry(line, value):
    text = RICH.replace(line, line.split("=")[0] + "= " + value, 1)
    outcome = problems_or_site(text, SPOTS)
    if not isinstance(outcome, Site):
        said = [(problem.line, problem.entry) for problem in outcome]
        assert len(set(said)) == len(said)
