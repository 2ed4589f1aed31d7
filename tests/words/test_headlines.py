"""Headlines: what comes first, and each line in a homeowner's words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon

from runoff.flow import DownspoutAnswer, PathEnd
from runoff.foundation import (
    Inflow,
    OpeningFinding,
    Remark,
    Spill,
    StandingWater,
    Station,
    WallRun,
    WettedWall,
)
from runoff.site import BreakLine, Building, HeightAccuracy
from runoff.words import headlines
from tests.lots.ponds import INCH, a_site
from tests.lots.ponds import an_opening as a_well
from tests.lots.records import WRITTEN, a_house

FOOT = 12 * INCH
HOUSE = a_house(0.0, 0.0, 30 * FOOT, 20 * FOOT)
WELLS = tuple(
    a_well(name, "window well", 1.0, 1.0, drained=True)
    for name in ("W", "roomy", "tight", "wet", "unknown")
)
TRAP = Remark("traps water", "w")
SITE = a_site(buildings=(HOUSE,), openings=WELLS)


def a_station(**fields) -> Station:
    given = {
        "building": "house",
        "wall": 0,
        "along_m": 1.0,
        "foot": (1.0, 0.0),
        "outward": (0.0, -1.0),
        "reach_m": 10 * FOOT,
        "cut_by": "",
        "fall_m": 4 * INCH,
        "required_m": 6 * INCH,
        "paved_m": 0.0,
        "rise_m": 0.0,
        "back_slope": 0.0,
        "back_at_m": 0.0,
        "verdict": "too flat",
    }
    return Station(**given | fields)


def a_run(verdict: str, start=4 * FOOT, end=12 * FOOT, wall=0, name="front", **fields) -> WallRun:
    indication = fields.pop("indication", False)
    remarks, settled_by = fields.pop("remarks", ()), fields.pop("settled_by", np.nan)
    worst = a_station(verdict=verdict, wall=wall, **fields)
    return WallRun(
        *("house", wall, name, start, end, verdict, worst, (worst,)),
        *(0.003, indication, remarks, settled_by),
    )


def an_opening(name="W", freeboard=0.5, reached=False, edge=10.0) -> OpeningFinding:
    where = ("window well", "house", "front", (1.0, 0.0))
    number = [well.name for well in WELLS].index(name)
    return OpeningFinding(name, *where, edge, 0.1, freeboard, reached, Inflow(), number)


def a_pond(depth=0.1, building="house", **wetted: float) -> StandingWater:
    """A pond that wets the walls named, so many metres of each."""
    names = HOUSE.walls
    walls = tuple(WettedWall(building, names.index(n), n, length) for n, length in wetted.items())
    return StandingWater(
        *("low spot 1", building, 0.0, 0.2, 1.0, 10.0, depth, 0.5, sum(wetted.values()), 0.05),
        *({"yard": 0.5}, Spill("low spot", "low spot 2"), walls),
    )


def a_downspout(returns: bool) -> DownspoutAnswer:
    end = PathEnd("lot side", "front", 0.0, 0.0, "street")
    path = np.zeros((2, 2))
    return DownspoutAnswer(
        *("NE", (0.0, 0.0), 50.0, 2.0, path, 5.0, 1.0, 2.0, 0.0, returns, end, ())
    )


def only_line(*, openings=(), runs=(), standing=(), downspouts=(), site=SITE) -> str:
    (line,) = headlines(site, openings, runs, standing, downspouts)
    return line


def test_ground_that_leans_toward_the_house():
    assert only_line(runs=[a_run("slopes back", fall_m=-2 * INCH)]) == (
        "Front wall, 4 ft to 12 ft from its left corner: the ground leans toward the "
        "house (slopes back): it falls 2 in the wrong way over 10 ft."
    )


def test_ground_that_falls_and_rises_again():
    line = only_line(runs=[a_run("slopes back", fall_m=INCH, rise_m=3 * INCH)])
    assert "(slopes back): it rises 3 in above its low point, though it falls 1 in over" in line


def test_a_hollow_between_two_walls_is_no_lean():
    line = only_line(
        runs=[a_run("slopes back", fall_m=-0.01 * INCH, rise_m=4 * INCH, reach_m=8 * FOOT)]
    )
    assert "(slopes back): it rises 4 in above its low point, and ends no lower than" in line
    assert "the wrong way" not in line


def test_a_retaining_wall_is_named():
    """The profile of the house's front wall ends at a step 4 ft out, farther from any building."""
    line = np.array([(-9.0, -4 * FOOT), (18.0, -4 * FOOT)])
    step = BreakLine("terrace", line, np.full(2, 10.0), np.full(2, 9.0), "right", (), WRITTEN)
    site = a_site(buildings=(HOUSE,), break_lines=(step,))
    run = a_run("cut short: needs a drain or swale", cut_by="wall", reach_m=3.8 * FOOT)
    assert "the retaining wall 'terrace' is 3 ft 10 in away" in only_line(site=site, runs=[run])
    near = a_house(0.0, -12.0, 9.0, -4 * FOOT + 0.01, "shed")
    site = replace(site, buildings=(HOUSE, near))
    assert "another wall is 3 ft 10 in away" in only_line(site=site, runs=[run])


@pytest.mark.parametrize(
    ("verdict", "fields", "words"),
    [
        ("too flat", {}, "(too flat): 4 in of fall over 10 ft, where 6 in are asked for"),
        (
            "too flat",
            {"fall_m": 0.0},
            "the ground is level (too flat): no fall over 10 ft, where 6",
        ),
        (
            "cut short: needs a drain or swale",
            {"cut_by": "lot line", "reach_m": 4 * FOOT},
            "the lot line is 4 ft away, and the ground falls 4 in in that",
        ),
        ("too close to call", {"settled_by": INCH}, "each good to 1 in (standard deviation)"),
        ("too close to call", {"fall_m": -INCH}, "1 in of fall the wrong way over"),
        (
            "too close to call",
            {"fall_m": 8 * INCH, "rise_m": 1.25 * INCH},
            "rises 1 1/4 in above its low point near the wall, where 1 in is the most",
        ),
        ("not surveyed", {"fall_m": np.nan}, "not surveyed here, or not closely enough to judge."),
        ("holds water", {}, "the storm's water stands against the wall (holds water)"),
        ("too flat", {"remarks": (TRAP,)}, "The walk 'w' traps water"),
    ],
)
def test_each_verdict_has_its_words(verdict, fields, words):
    assert words in only_line(runs=[a_run(verdict, **fields)])


def test_a_wall_that_drains_away_has_no_line():
    assert headlines(SITE, [an_opening()], [a_run("drains away")], [], [a_downspout(False)]) == ()


def test_a_whole_wall_is_named_without_distances():
    line = only_line(runs=[a_run("too flat", start=0.0, end=20 * FOOT, wall=1, name="right")])
    assert line.startswith("Right wall, all of it: ")


def test_the_left_corner_is_the_viewers_also_where_corners_run_clockwise():
    """Clockwise the front wall's first corner is on the right of one who faces it."""
    box = Polygon([(30 * FOOT, 0), (0, 0), (0, 20 * FOOT), (30 * FOOT, 20 * FOOT)])
    house = Building("house", box, ("front", "left", "rear", "right"), None, None, WRITTEN)
    line = only_line(site=a_site(buildings=(house,)), runs=[a_run("too flat")])
    assert line.startswith("Front wall, 18 ft to 26 ft from its left corner")


def test_a_courtyards_wall_is_named_and_seen_from_the_court():
    """In a court 10 ft wide, seen from inside it, its south wall's left end is the east one."""
    court = [(10 * FOOT, 5 * FOOT), (20 * FOOT, 5 * FOOT), (20 * FOOT, 15 * FOOT)]
    court.append((10 * FOOT, 15 * FOOT))
    outline = Polygon(HOUSE.outline.exterior, [court])
    site = a_site(buildings=(replace(HOUSE, outline=outline),))
    run = a_run("too flat", start=FOOT, end=4 * FOOT, wall=4, name="courtyard wall 1")
    line = only_line(site=site, runs=[run])
    assert line.startswith("Courtyard wall 1, 6 ft to 9 ft from its left corner")


def test_the_building_is_named_where_there_are_two():
    site = a_site(buildings=(HOUSE, a_house(20.0, 0.0, 25.0, 5.0, "garage")))
    assert only_line(site=site, runs=[a_run("too flat")]).startswith("Front wall of 'house', ")


def test_what_would_go_wrong_comes_first():
    verdicts = (
        *("not surveyed", "too close to call", "cut short: needs a drain or swale"),
        *("too flat", "slopes back"),
    )
    found = headlines(
        SITE,
        [an_opening("roomy", 0.2), an_opening("tight", 3 * INCH), an_opening("wet", -0.1, True)],
        [a_run(verdict) for verdict in verdicts],
        [a_pond(front=2.0)],
        [a_downspout(True)],
    )
    order = [
        *("'wet'", "leaves water", "comes back", "(slopes back)", "(too flat)", "(cut short"),
        *("(too close", "'tight'", "not closely enough"),
    ]
    assert len(found) == len(order)
    for line, words in zip(found, order, strict=True):
        assert words in line


def test_within_a_rank_the_worse_comes_first():
    runs = [
        a_run("slopes back", fall_m=-k * INCH, wall=wall, name=HOUSE.walls[wall])
        for wall, k in enumerate((1, 3, 2))
    ]
    found = headlines(SITE, [], runs, [], [])
    assert [line.split("falls ")[1][:4] for line in found] == ["3 in", "2 in", "1 in"]


def test_a_pond_told_with_its_wall_is_not_told_again():
    run, pond = a_run("holds water"), a_pond(front=2.0)
    assert "leaves water" in only_line(runs=[run], standing=[pond])
    assert len(headlines(SITE, [], [run], [a_pond(front=2.0, building="shed")], [])) == 2


def test_a_pond_is_told_once_with_the_wall_that_it_wets_most():
    runs = [
        a_run("holds water", end=k * FOOT, wall=wall, name=HOUSE.walls[wall])
        for wall, k in enumerate((9, 7, 8))
    ]
    found = headlines(SITE, [], runs, [a_pond(front=1.0, right=2.0, rear=4 * FOOT)], [])
    assert [line.split(",")[0] for line in found if "leaves water" in line] == ["Right wall"]
    rear = next(line for line in found if line.startswith("Rear wall"))
    assert rear.endswith("stands against the wall (holds water): low spot 1, 4 ft of the wall.")


def test_a_pond_that_wets_only_walls_without_a_verdict_has_its_own_line():
    found = headlines(SITE, [], [a_run("holds water")], [a_pond(right=0.3)], [])
    assert [line.startswith("Low spot 1") for line in found] == [True, False]


def test_runs_of_one_wall_with_one_trouble_share_a_line():
    runs = [
        a_run("too flat", 0.0, 12 * FOOT, fall_m=4 * INCH),
        a_run("too flat", 16 * FOOT, 30 * FOOT, fall_m=2 * INCH),
    ]
    assert only_line(runs=runs).startswith(
        "Front wall, 0 to 12 ft and 16 ft to 30 ft from its left corner: the ground leans away "
        "from the house, but not enough (too flat): 2 in of fall over 10 ft"
    )


def with_stations(run: WallRun, *verdicts: str) -> WallRun:
    return replace(run, stations=tuple(a_station(verdict=verdict) for verdict in verdicts))


def test_a_close_call_within_a_failing_run_is_said_in_its_line():
    """Two of eight stations from 4 ft to 12 ft: 6 ft to 8 ft."""
    close = with_stations(
        a_run("too flat"),
        *("too flat", "too flat", "too close to call", "too close to call"),
        *("too flat", "too flat", "too flat", "too flat"),
    )
    assert "asked for. From 6 ft to 8 ft it is too close to call." in only_line(runs=[close])


def test_a_short_trouble_is_told_with_the_worse_one_of_its_wall():
    """Without spot heights the shots are taken to be 2 m apart; 7 ft is more, 6 ft less."""
    dips = a_run("slopes back", fall_m=-INCH)
    flat = a_run("too flat", 12 * FOOT, 18 * FOOT, remarks=(TRAP,))
    line = only_line(runs=[flat, dips])
    assert line.startswith("Front wall, 4 ft to 12 ft from its left corner: the ground leans")
    assert line.endswith(
        " From 12 ft to 18 ft it is too flat. The walk 'w' traps water against the wall."
    )
    longer = a_run("too flat", 12 * FOOT, 19 * FOOT)
    assert len(headlines(SITE, [], [longer, dips], [], [])) == 2
    elsewhere = replace(flat, wall=1, wall_name="right")
    assert len(headlines(SITE, [], [elsewhere, dips], [], [])) == 2


def test_walls_whose_grade_cannot_be_told_share_a_line():
    """6 in less 5.5 in is 0.5 in; over 1.96 sqrt(2) that is 0.180 in, and 1/8 in is 0.125."""
    walls = [(2, "rear", 5 * INCH), (1, "right", 5.5 * INCH)]
    runs = [
        a_run("too close to call", 0.0, 20 * FOOT, wall=wall, name=name, fall_m=fall)
        for wall, name, fall in walls
    ]
    line = only_line(runs=runs)
    assert line.startswith("2 walls: the heights are not good enough to say (too close to call). ")
    assert "They are right and rear (0 to 20 ft) (places from the left corner)." in line
    assert "at the wall and 10 ft out, settle all of them if good to 1/8 in (standard" in line
    at_limit = replace(runs[0], worst=replace(runs[0].worst, fall_m=6 * INCH))
    assert "wants a little more fall" in only_line(runs=[at_limit, runs[1]])
    dips = replace(runs[0], worst=replace(runs[0].worst, fall_m=8 * INCH, rise_m=1.2 * INCH))
    assert "or at the dip and the rise beyond it" in only_line(runs=[dips, runs[1]])
    blank = [a_run("not surveyed", wall=w, name=n, fall_m=np.nan) for w, n, _ in walls]
    assert only_line(runs=blank).startswith("2 walls: the ground was not surveyed here")


def test_many_stretches_are_counted():
    runs = [a_run("too flat", k * FOOT, (k + 2) * FOOT) for k in (1, 5, 9, 13)]
    assert only_line(runs=runs).startswith("Front wall, in 4 places from 1 ft to 15 ft from its")


def test_a_short_close_call_on_a_wall_that_else_passes_keeps_its_line():
    runs = [a_run("too close to call", 0.0, FOOT), a_run("drains away", FOOT, 30 * FOOT)]
    assert only_line(runs=runs).startswith("Front wall, 0 to 1 ft from its left corner")


def test_damp_ground_is_no_pond():
    assert headlines(SITE, [], [], [a_pond(front=2.0, depth=0.003)], []) == ()


def test_lidar_gives_indications_only():
    rough = replace(SITE, height_accuracy=HeightAccuracy(0.1, "lidar", True))
    assert "Indication only" in only_line(site=rough, openings=[an_opening(freeboard=0.01)])
    assert "Indication only" in only_line(site=rough, standing=[a_pond(front=1.0)])
    assert "Indication only" in only_line(runs=[a_run("too flat", indication=True)])


def test_an_opening_not_judged_comes_last():
    unknown = an_opening("unknown", float("nan"), edge=float("nan"))
    found = headlines(SITE, [unknown], [a_run("too close to call")], [], [])
    assert found[-1].startswith("Window well 'unknown': not judged. Measure the height")


def test_metric_lots_read_metres():
    site = a_site(units="m", buildings=(HOUSE,))
    line = only_line(site=site, runs=[a_run("slopes back", fall_m=-0.05, start=1.0, end=2.0)])
    assert line.startswith("Front wall, 1.00 m to 2.00 m from its left corner")
    assert "falls 50 mm the wrong way over 3.05 m" in line


def test_ground_that_falls_the_wrong_way_by_less_than_the_heights_can_tell():
    line = only_line(runs=[a_run("too flat", fall_m=-3 * INCH)])
    assert "(too flat): as measured it falls 3 in the wrong way" in line
    short = a_run("cut short: needs a drain or swale", fall_m=-INCH, cut_by="lot line")
    assert "falls 1 in the wrong way in that" in only_line(runs=[short])


def test_level_ground_falls_no_way_at_all():
    assert "the wrong way" not in only_line(runs=[a_run("too flat", fall_m=-1e-4)])
