"""The tool against the three recommendations that docs/worked_plans.md works out by hand."""

from math import cos, pi, radians, sin, tan
from pathlib import Path

import pytest

from runoff.discharge import Option, Recommendation
from runoff.words import clearance_name
from tests.lots.planned import planned

FOOT = 0.3048
CUBIC_FOOT = FOOT**3
GPM = 0.003785411784 / 60  # m3/s
PAGE = (Path(__file__).parents[1] / "docs" / "worked_plans.md").read_text(encoding="utf-8")


def recommendations() -> dict[str, Recommendation]:
    return {each.downspout: each for each in planned("sample").recommendations}


def chosen(name: str) -> Option:
    return recommendations()[name].chosen


def says(figure: str) -> bool:
    return figure in PAGE


def test_the_sample_asks_for_four_different_ways():
    kinds = [each.chosen.kind for each in recommendations().values()]
    assert kinds == [
        "extension",
        "buried line",
        "seepage pit",
        "extension",
        "extension",
    ]


def test_the_water():
    water = recommendations()["front left"].water
    flow = 0.95 * 285 * 7.2 / 12 / 3600  # cu ft/s
    assert water.line_flow_m3_per_s == pytest.approx(flow * CUBIC_FOOT, rel=1e-3)
    assert water.line_flow_m3_per_s / GPM == pytest.approx(20.3, abs=0.05)
    assert water.storm_m3 / CUBIC_FOOT == pytest.approx(0.95 * 285 * 4.10 / 12, rel=1e-9)
    assert says("20.3 gpm")
    assert says("92.5 cu ft")


def test_the_extension():
    extension = chosen("front left").design
    assert extension is not None
    assert extension.length_m == pytest.approx(5 * FOOT)
    assert extension.bearing == pytest.approx(180 - 10)
    assert -extension.end[1] / FOOT == pytest.approx(1 / 3 + 5 * cos(radians(10)), abs=1e-6)
    # The ground falls 1.1 in; the soil ordered at the wall lifts the foot by 2.7 in and, where it
    # runs out, the end by 0.7 in.
    assert extension.soil_m / 0.0254 == pytest.approx(2.66, abs=0.05)
    assert extension.fall_m / 0.0254 == pytest.approx(1.1 + 2.66 - 0.7, abs=0.05)
    assert extension.fall_m / extension.length_m == pytest.approx(0.051, abs=0.001)


def test_the_buried_line():
    option = chosen("front right")
    line = option.line
    assert line is not None
    bore, wall = 4.026 / 12, 0.237 / 12  # ft
    full = 1.486 / 0.010 * pi / 4 * bore**2 * (bore / 4) ** (2 / 3) * 0.1
    assert line.flow.full_flow_m3_per_s / CUBIC_FOOT == pytest.approx(full, rel=1e-3)
    assert full * 448.83 == pytest.approx(113, abs=0.5)
    start = 99.195 - (12 / 12 + wall + bore)
    assert line.profile.invert_m[0] / FOOT == pytest.approx(start, abs=0.001)
    assert start == pytest.approx(97.840, abs=0.001)
    across = 35 - (24 - 1 / 3) * tan(radians(5))
    top = 98.63 + (across - 28) / 8 * (98.90 - 98.63)
    station = (24 - 1 / 3) / cos(radians(5))
    falls = (98.90 - 96.32) / 16 * cos(radians(5)) + 0.27 / 8 * sin(radians(5))
    daylight = (top + falls * station - start) / (falls - 0.01)
    # The grid rounds the edge of the bank by a fraction of an inch.
    assert line.length_m / FOOT == pytest.approx(daylight, abs=0.05)
    assert daylight == pytest.approx(31.5, abs=0.05)
    assert line.greatest_cut_m / FOOT == pytest.approx(99.195 - start + wall + 4 / 12, abs=0.02)
    assert line.trench_width_m / FOOT * 12 == pytest.approx(20.5)


def test_the_seepage_pit():
    pit = chosen("rear right").design
    assert pit is not None
    rate = 3 * 2 * 1 / (3 * 2 + 2 * (3 + 2) * 1) / (46 / 60) / 2  # ft/h
    assert pit.rate.rate_m_per_s / FOOT * 3600 == pytest.approx(rate)
    assert rate * 12 == pytest.approx(2.93, abs=0.01)
    body = pit.governing.pit
    size = (body.length_m, body.width_m, body.depth_m)
    assert [metres / FOOT for metres in size] == pytest.approx([6, 6, 3])
    held = 0.95 * 285 * 2.41 / 12 - 36 * rate * 2
    assert pit.governing.required_m3 / CUBIC_FOOT == pytest.approx(held)
    assert held == pytest.approx(36.77, abs=0.005)
    assert body.stored_m3 / CUBIC_FOOT == pytest.approx(6 * 6 * 3 * 0.4)
    assert pit.governing.emptying_s / 3600 == pytest.approx(held / 2 / (36 * rate))
    kept = {clearance_name(each): (each.far_m, each.least_m) for each in pit.clearances}
    assert all(away >= least for away, least in kept.values())
    assert kept["the house's foundation"][1] == 5.0
    assert kept["the rear lot line"][1] == pytest.approx(10 * FOOT)
