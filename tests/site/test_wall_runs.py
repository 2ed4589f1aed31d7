"""Outlines as runs of wall: closure, and the compass rule against figures worked by hand."""

import math

import numpy as np
import pytest

from runoff.site import NamedPoints, RunError, close, parse_run, walk
from tests.lots.rich import changed, line_of, problems_of, read_site, write_lot
from tests.told import told

FOOT = 0.3048
POINTS = NamedPoints("us", 2 * 0.0254, 0.002)
GARAGE = "corners = [[30, 0], [45, 0], [45, 20], [30, 20]]"


def runs(*texts, units="ft"):
    return [parse_run(text, units) for text in texts]


def corners(*texts, start=(0.0, 0.0)):
    return (walk(runs(*texts), start).corners / FOOT).round(6).tolist()


@pytest.mark.parametrize(
    "texts",
    [
        ("E 36 ft", "N 24 ft", "W 36 ft", "S 24 ft"),
        ("east 36", "north 24", "west 36", "south 24"),
        ("E 36", "left 24", "left 36", "left 24"),
        ("90 deg 36", "0 deg 24", "270° 36", "180 degrees 24 ft"),
        ("S 90 E 36", "N 0 E 24", "N 90 W 36", "s 0 w 24 ft"),
        ("E 36' 0\"", "left 90 deg 24 ft 0 in", "left 90 deg 36 ft", "left 90° 24"),
    ],
)
def test_one_outline_in_every_notation(texts):
    assert corners(*texts) == [[0, 0], [36, 0], [36, 24], [0, 24]]


def test_an_l_shape_with_a_bay():
    found = corners("E 20", "N 10", "W 8", "right 6", "left 12", "S 16", start=(3 * FOOT, 0))
    assert found == [[3, 0], [23, 0], [23, 10], [15, 10], [15, 16], [3, 16]]


def test_a_turned_wall():
    third = walk(runs("E 10 m", "left 120 deg 10 m", "left 120 deg 10 m"), (0, 0))
    assert third.misclosure == pytest.approx(0, abs=1e-12)
    assert third.corners[2] == pytest.approx([5, 5 * math.sqrt(3)])


def test_the_compass_rule_by_hand():
    """E 30.00, N 20.00, W 30.10, S 20.00: misses by 0.10 W in 100.10; each corner its share."""
    closed = walk(runs("E 30 m", "N 20 m", "W 30.10 m", "S 20 m"), (0, 0))
    assert closed.misclosure == pytest.approx(0.10)
    assert closed.length == pytest.approx(100.10)
    shares = np.array([0, 30, 50, 80.10]) / 100.10 * 0.10
    expected = np.array([[0, 0], [30, 0], [30, 20], [-0.10, 20]]) + np.outer(shares, [1, 0])
    assert closed.corners == pytest.approx(expected)


def test_a_missed_foot_is_refused_and_its_walls_named():
    with pytest.raises(RunError) as caught:
        close(runs("E 36", "N 24", "W 35", "S 24"), (0, 0), POINTS)
    assert str(caught.value) == (
        "runs that come back to their start within 2 7/8 in; they miss it by 1 ft in 119 ft, "
        "along runs 1, 3"
    )


@pytest.mark.parametrize(
    "text", ["36 ft", "E", "E36ft", "up", "Q 36 ft", "E -36", "E 0", "E 24 ft 14 in", "E 24,7",
             "N 95 E 3 ft", "400 deg 3 ft", "left 180 deg 3 ft", ""],
)  # fmt: skip
def test_runs_that_are_none(text):
    with pytest.raises(RunError, match="such as"):
        parse_run(text, "ft")


def test_a_building_by_runs(tmp_path):
    text = changed(GARAGE, 'start = [30, 0]\nruns = ["E 15 ft", "N 20", "W 15 ft 1 in", "S 20"]')
    site = read_site(write_lot(tmp_path, text))
    assert site.buildings[1].outline.area / FOOT**2 == pytest.approx(15 * 20, rel=5e-3)
    assert site.buildings[1].walls == ("wall 1", "wall 2", "wall 3", "wall 4")
    assert any(
        "building 'garage': its runs miss their start by 1 in in 70 ft 1 in" in said
        for said in told(site)
    )


@pytest.mark.parametrize(
    ("new", "entry", "part"),
    [
        ('start = [30, 0]\nruns = ["E 15", "N 20", "W 14", "S 20"]', "runs", "along runs 1, 3"),
        ('start = [30, 0]\nruns = ["E 15", "N 20 lb", "W 15", "S 20"]', "runs . item 2", "such as"),
        ('start = [30, 0]\nruns = ["left 15", "N 20", "W 15", "S 20"]', "runs . item 1", "first"),
        ('start = [30, 0]\nruns = ["E 15", "N 20", "W 15"]', "runs", "they miss it by 20 ft"),
        ('start = [30, 0]\nruns = ["E 15", "W 15", "E 15", "W 15"]', "runs", "outline"),
        ('start = [30, 0]\nruns = ["E 15", "W 15"]', "runs", "at least 3"),
        ('start = [30, 0]\nruns = ["E 15", 20, "W 15"]', "runs . item 2", "a run of wall"),
        ('runs = ["E 15", "N 20", "W 15", "S 20"]', "", "start = [x, y] with runs"),
        ('start = [30]\nruns = ["E 15", "N 20", "W 15", "S 20"]', "start", "two coordinates"),
    ],
)
def test_mistakes_name_their_line(tmp_path, new, entry, part):
    found = problems_of(write_lot(tmp_path, changed(GARAGE, new)))
    assert len(found) == 1, [str(problem) for problem in found]
    where = f"building 'garage' . {entry}" if entry else "building 'garage'"
    assert found[0].entry == where
    assert part in found[0].expected
    header = line_of('[[building]]\nname = "garage"')
    assert header <= found[0].line <= header + 3
