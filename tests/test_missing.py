"""What a site does not say: each lack is named once, with what it costs, and nothing else is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

import runoff
from runoff.checking import Cost, missing_from
from runoff.foundation import judge_walls
from runoff.site import Site, Soil
from runoff.terrain import build_terrain
from runoff.words import missing_words

WHOLE = """
[site]
name = "invented"
units = "ft"

[terrain]
spot_heights = "spots.csv"
heights_by = "laser level"

[[building]]
name = "house"
corners = [[0, 0], [36, 0], [36, 28], [0, 28]]
walls = ["front", "right", "rear", "left"]
kind = "basement"
footing_depth = "7 ft"

[[opening]]
name = "door"
kind = "door"
at = { building = "house", wall = "front", distance = "18 ft" }
width = "3 ft"
sill = 101

[lot]
corners = [[-30, -30], [70, -30], [70, 60], [-30, 60]]
sides = [
    { name = "front", neighbor = "street" },
    { name = "right", neighbor = "neighbor" },
    { name = "rear", neighbor = "open ground" },
    { name = "left", neighbor = "neighbor" },
]

[[outlet]]
name = "gutter"
kind = "street gutter"
line = [[-30, -29], [70, -29]]

[[roof]]
name = "all"
length = "38 ft"
width = "30 ft"

[[downspout]]
name = "one"
at = { building = "house", wall = "front", distance = "1 ft", out = "4 in" }
roofs = ["all"]
size = "3 in"

[rain]
storm_depth = "4 in"
design_intensity = "7 in/h"

[soil]
rate = "1 in/h"
"""


def heights(step: int = 6) -> list[tuple[float, float, float]]:
    """A grid of invented heights in feet on a tilted plane, and the corners at the wall."""
    places = [
        (x, y)
        for x in range(-24, 67, step)
        for y in range(-30, 61, step)
        if not (0 <= x <= 36 and 0 <= y <= 28)
    ] + [(x, y) for x in (0, 18, 36) for y in (0, 28)]
    return [(x, y, 100 + 0.03 * x - 0.02 * y) for x, y in places]


def read(
    tmp_path: Path,
    text: str = WHOLE,
    keep: Callable[[float, float], bool] = lambda x, y: True,
    step: int = 6,
) -> Site:
    rows = [row for row in heights(step) if keep(row[0], row[1])]
    lines = [f"P{k},{x},{y},{z:.2f}" for k, (x, y, z) in enumerate(rows)]
    (tmp_path / "spots.csv").write_text("\n".join(["name,x,y,z", *lines]), encoding="utf-8")
    (tmp_path / "site.toml").write_text(text, encoding="utf-8")
    return runoff.read_site(tmp_path)


def sentences(site: Site) -> list[tuple[Cost, str]]:
    found = missing_from(site, build_terrain(site))
    assert [one.cost for one in found] == sorted(one.cost for one in found)
    return [(one.cost, missing_words(site, one)) for one in found]


def test_a_whole_site_lacks_nothing(tmp_path: Path) -> None:
    assert sentences(read(tmp_path)) == []


@pytest.mark.parametrize(
    ("change", "cost", "part"),
    [
        ({"lot": None}, Cost.NO_ANSWER, "No lot: whether water runs onto a neighbor"),
        ({"downspouts": ()}, Cost.NO_ANSWER, "No downspout: "),
        ({"outlets": ()}, Cost.ASSUMED, "No outlet: "),
        ({"soil": Soil()}, Cost.NO_ANSWER, "No soil test: no seepage pit is sized"),
        ({"soil": Soil(texture="loam")}, Cost.LESS_SURE, "only a guess from loam"),
    ],
)
def test_one_lack_is_one_sentence(tmp_path: Path, change: dict, cost: Cost, part: str) -> None:
    (found,) = sentences(replace(read(tmp_path), **change))
    assert found[0] is cost
    assert part in found[1]


@pytest.mark.parametrize(
    ("line", "cost", "part"),
    [
        ('footing_depth = "7 ft"\n', Cost.LESS_SURE, "Footing depth of the house"),
        ('kind = "basement"\n', Cost.LESS_SURE, "What lies under the house"),
        ("sill = 101\n", Cost.LESS_SURE, "Height of the sill of 'door'"),
        ('size = "3 in"\n', Cost.ASSUMED, "Size of the leader of 'one'"),
        ('storm_depth = "4 in"\n', Cost.ASSUMED, "No storm depth: ponding is judged by 4 in"),
        ('design_intensity = "7 in/h"\n', Cost.ASSUMED, "8 in/h assumed"),
        ('heights_by = "laser level"\n', Cost.ASSUMED, "as good as by string level"),
    ],
)
def test_a_line_that_is_left_out(tmp_path: Path, line: str, cost: Cost, part: str) -> None:
    assert WHOLE.count(line) == 1
    (found,) = sentences(read(tmp_path, WHOLE.replace(line, "")))
    assert found[0] is cost
    assert part in found[1]


def test_a_downspout_without_a_roof_is_asked_about_as_a_point_of_release(tmp_path: Path) -> None:
    """Its answer is told without an amount, and a sump with a rate is offered in its place."""
    cost, said = sentences(read(tmp_path, WHOLE.replace('roofs = ["all"]', "roofs = []")))[0]
    assert cost is Cost.NO_ANSWER
    assert said.startswith("No roof for downspout 'one': how much water it lets go is not known")
    assert "name the roof that it carries" in said
    assert "another point of release, give it as [[sump]] with its rate" in said
    # As a sump with a rate it lacks nothing.
    sump = '[[sump]]\nname = "one"\noutlet = [20, -1]\nrate = "20 gpm"\n'
    roof, spout = WHOLE.index("[[roof]]"), WHOLE.index("[[downspout]]")
    text = WHOLE[:roof] + WHOLE[spout:].replace('roofs = ["all"]', "roofs = []") + sump
    assert not any("point of release" in said for _, said in sentences(read(tmp_path, text))[1:])


def test_a_roof_that_no_downspout_carries(tmp_path: Path) -> None:
    text = WHOLE + '\n[[roof]]\nname = "porch"\nplan_area = "90 sq ft"\n'
    (found,) = sentences(read(tmp_path, text))
    assert "No downspout for roof 'porch'" in found[1]


def test_no_verdict_is_foretold_where_the_inspection_gives_none(tmp_path: Path) -> None:
    """Heights end 2 ft off the left wall, so that nothing is known before it."""
    site = read(tmp_path, keep=lambda x, y: x > 0 or (x == 0 and y in (0, 28)))
    told = sentences(site)
    assert told[0][0] is Cost.NO_ANSWER
    assert "within 10 ft of the left wall of the house: no verdict" in told[0][1]
    assert not any("right wall" in sentence for _, sentence in told)
    terrain = build_terrain(site)
    runs = judge_walls(site, terrain, np.zeros_like(terrain.ground))
    verdicts = {run.wall_name: set() for run in runs}
    for run in runs:
        verdicts[run.wall_name].add(run.verdict)
    assert verdicts["left"] == {"not surveyed"}
    assert "not surveyed" not in verdicts["right"]


def gap(x: float, y: float) -> float:
    """Feet from the house."""
    return float(shapely.box(0, 0, 36, 28).distance(shapely.Point(x, y)))


def test_heights_at_the_wall_alone(tmp_path: Path) -> None:
    told = sentences(read(tmp_path, keep=lambda x, y: gap(x, y) == 0 or gap(x, y) > 13, step=15))
    assert [cost for cost, _ in told] == [Cost.LESS_SURE, Cost.LESS_SURE]
    assert "No height about 10 ft out from the front wall of the house, the right" in told[0][1]
    assert "4 of the 10 points that matter most have no height near" in told[1][1]


def test_heights_away_from_the_wall_alone(tmp_path: Path) -> None:
    told = sentences(read(tmp_path, keep=lambda x, y: gap(x, y) > 4))
    assert "No height at the front wall of the house, the right wall" in told[0][1]


def test_no_height_near_the_house(tmp_path: Path) -> None:
    told = sentences(read(tmp_path, keep=lambda x, y: gap(x, y) > 13, step=12))
    assert told[0][0] is Cost.LESS_SURE
    assert "No height within 10 ft of the front wall of the house, the right" in told[0][1]
    assert "No height within 10 ft of downspout 'one'" in told[1][1]


def test_a_bare_site_lacks_the_most(tmp_path: Path) -> None:
    text = '[site]\nname = "bare"\nunits = "ft"\n[terrain]\nspot_heights = "spots.csv"\n'
    told = sentences(read(tmp_path, text))
    assert [s.split(":")[0] for c, s in told if c is Cost.NO_ANSWER] == [
        "No lot",
        "No downspout",
        "No building",
        "No soil test",
    ]
