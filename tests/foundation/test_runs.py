"""Runs of wall: what is joined, what is never hidden, and that stations keep their verdicts."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from runoff.foundation import Station, join_stations, shot_spacing
from runoff.site import HeightAccuracy, SpotHeight
from tests.lots.records import WRITTEN
from tests.lots.walls import EXACT, a_house, a_lot, ground, judged, on_wall, out_of_front

WORDS = {
    "p": "drains away",
    "f": "too flat",
    "c": "cut short: needs a drain or swale",
    "b": "slopes back",
    "w": "holds water",
    "?": "too close to call",
    "-": "not surveyed",
}
LETTERS = {word: letter for letter, word in WORDS.items()}


def stations(letters: str) -> list[Station]:
    """A station a metre for each letter."""
    nothing = (0.0, 0.0)
    return [
        Station("house", 0, k + 0.5, nothing, nothing, 3.0, "", *[0.0] * 6, WORDS[letter])
        for k, letter in enumerate(letters)
    ]


def joined(letters: str, shots: float) -> str:
    """The runs' verdicts, a letter for each station."""
    runs = join_stations(stations(letters), 1.0, shots)
    members = [station for _, part in runs for station in part]
    assert members == stations(letters)
    assert all(one != other for (one, _), (other, _) in pairwise(runs))
    return "".join(LETTERS[verdict] * len(part) for verdict, part in runs)


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("ff?ff", "fffff"),  # between two failing lengths they are one run
        ("pp??ff", "ppffff"),  # the doubtful end of a failing length
        ("??cc", "cccc"),
        ("bb?ff", "bbfff"),  # the milder failure takes it
        ("bb?cc", "bbccc"),
        ("bb??", "bbbb"),
        ("ff???ff", "ff???ff"),  # as long as the shots are apart: a call of its own
        ("pp?pp", "pp?pp"),  # never taken for a pass
        ("ww?pp", "ww?pp"),  # water is seen, not measured
        ("ff--?ff", "ff--fff"),
        ("?", "?"),
        ("ffppff", "ffppff"),  # a pass of any length but a flicker stays
    ],
)
def test_a_close_call_shorter_than_the_shots_spacing(before, after):
    assert joined(before, shots=3.0) == after


def test_without_shots_every_close_call_stands():
    assert joined("ff?ff", shots=0.0) == "ff?ff"


def test_the_spacing_of_the_shots_is_that_of_a_square_net():
    spots = tuple(
        SpotHeight(f"P{i}{j}", 2.5 * i, 2.5 * j, 100.0, "", WRITTEN)
        for i in range(4)
        for j in range(4)
    )
    site = a_lot(a_house())
    assert shot_spacing(replace(site, spot_heights=spots)) == pytest.approx(2.5)
    assert shot_spacing(site) == site.rules["lidar_cell_limit"]


def test_no_failing_station_is_lost_in_a_run_that_passes():
    """Ground whose fall changes along the wall, by string level and by exact heights."""
    out = out_of_front(0.0)

    def twisting(x, y):
        return 100.0 - (0.05 + 0.004 * x) * out(x, y)

    for accuracy in (EXACT, HeightAccuracy(0.003, "laser level", False)):
        site = a_lot(a_house(), accuracy=accuracy)
        runs = on_wall(judged(site, ground(site, twisting)), "front")
        for run in runs:
            verdicts = {station.verdict for station in run.stations}
            assert run.verdict == run.worst.verdict
            if run.verdict == "drains away":
                assert verdicts == {"drains away"}
        assert {s.verdict for run in runs for s in run.stations} >= {"drains away", "too flat"}
