"""No place is lost to the grid: what lies on a cell's border is answered as what lies beside it.

The ground of downspouts and pits is a hipped mound that falls 5 % away from a house, so the closed
form is known: water runs straight out from the wall over the lot's side that faces it, whatever the
cells and however the lot is turned. Openings look at a hollow before the front wall whose volume is
that of half a pyramid.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import runoff
from runoff.discharge import (
    LotGround,
    WaterToMove,
    lot_ground,
    outline_of,
    overflow_of,
    seepage_pit,
)
from runoff.flow import (
    all_let_go,
    answer_downspouts,
    low_spots_of,
    prepare_flow,
    roof_area,
    roof_water,
    run_storm,
)
from runoff.foundation import OpeningFinding, cells_beside, judge_openings, walls_of
from runoff.site import Opening, PipeChoice, Soil, Written
from runoff.terrain import build_terrain
from runoff.words import failure_sentence
from tests.lots.pits import INTENSITY, with_rules

HALF = (6.0, 4.5)
LOT = 15.0
INCH = 0.0254
SLOPE, LOWEST = 0.03, -1.5
SIDES = ("front", "right", "rear", "left")


def mound(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Falls 5 % with the distance out from the house, to the side or ahead, whichever is more."""
    return 30.0 - 0.05 * np.maximum(np.maximum(np.abs(x) - HALF[0], np.abs(y) - HALF[1]), 0.0)


def hollow(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Falls 3 % to the front wall and 3 % along it to its lowest place; behind it, to the rear."""
    return 30.0 + SLOPE * (
        np.abs(-HALF[1] - y) * np.where(y > -HALF[1], -1, 1) + np.abs(x - LOWEST)
    )


def drawn_at(x: float, y: float, turn: float, mirror: bool) -> tuple[float, float]:
    """A place of the lot as it is drawn when turned by degrees, and mirrored before that."""
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    x = -x if mirror else x
    return c * x - s * y, s * x + c * y


def a_lot(
    folder: Path, turn: float, mirror: bool, cell_size: float, spouts: dict, ground=mound
) -> runoff.Site:
    """The lot turned by degrees, and mirrored before that; `spouts` are places on it as drawn."""

    def placed(x: float, y: float) -> tuple[float, float]:
        return drawn_at(x, y, turn, mirror)

    def written(points) -> str:
        return "[" + ", ".join("[{:.9f}, {:.9f}]".format(*placed(*p)) for p in points) + "]"

    def box(w: float, d: float) -> list[tuple[float, float]]:
        return [(-w, -d), (w, -d), (w, d), (-w, d)]

    at = np.unique(np.r_[np.arange(-LOT, LOT + 0.1, 1.5), HALF[0], -HALF[0], HALF[1], -HALF[1]])
    rows = ["name,x,y,z"]
    for x in at.tolist():
        for y in at.tolist():
            if abs(x) >= HALF[0] or abs(y) >= HALF[1]:
                height = float(ground(np.array(x), np.array(y)))
                rows.append("p{},{:.9f},{:.9f},{:.6f}".format(len(rows), *placed(x, y), height))
    (folder / "spots.csv").write_text("\n".join(rows) + "\n")
    sides = ", ".join(f'{{name = "{name}", neighbor = "street"}}' for name in SIDES)
    text = [
        '[site]\nname = "mound"\nunits = "m"\n[terrain]\nspot_heights = "spots.csv"',
        f'heights_by = "laser level"\ncell_size = {cell_size}',
        f'[[building]]\nname = "house"\ncorners = {written(box(*HALF))}',
        f"[lot]\ncorners = {written(box(LOT, LOT))}\nsides = [{sides}]",
        '[[roof]]\nname = "r"\nplan_area = "60 m2"',
    ]
    for name, place in spouts.items():
        foot = written([place])[1:-1]
        text.append(f'[[downspout]]\nname = "{name}"\nat = {foot}')
        text.append('roofs = [{roof = "r", share = 0.08}]')
    (folder / "site.toml").write_text("\n".join(text) + "\n")
    return runoff.read_site(folder / "site.toml")


def places(along: float) -> dict[str, tuple[float, float]]:
    """On each wall, 1 in beside it along the wall, and 1 in out from it."""
    w, d = HALF
    on = {"front": (along, -d), "right": (w, along), "rear": (along, d), "left": (-w, along)}
    found = {}
    for side, (x, y) in on.items():
        across, out = (
            ((INCH, 0), (0, math.copysign(INCH, y)))
            if side in ("front", "rear")
            else (
                (0, INCH),
                (math.copysign(INCH, x), 0),
            )
        )
        found[f"{side} on"] = (x, y)
        found[f"{side} beside"] = (x + across[0], y + across[1])
        found[f"{side} out"] = (x + out[0], y + out[1])
    return found


# Walls lie on cells' borders, on their centers and between; the margin of a survey is two cells.
CELLS = (0.25, 0.3, 0.375, 0.2)
CASES = [
    (22.5 * turn, bool(turn % 2), CELLS[turn % 4], 0.15 * (turn % 5)) for turn in range(16)
] + [(0.0, False, size, at) for size in CELLS for at in (0.0, 0.125, 0.15)]


@pytest.mark.parametrize(("turn", "mirror", "cell_size", "along"), CASES)
def test_a_downspout_on_a_border_is_answered_as_the_place_beside_it(
    tmp_path: Path, turn: float, mirror: bool, cell_size: float, along: float
) -> None:
    site = a_lot(tmp_path, turn, mirror, cell_size, places(along))
    terrain = build_terrain(site)
    flow = prepare_flow(site, terrain)
    run = run_storm(site, flow)
    spots, _ = low_spots_of(
        site, flow.grid, run.ponding, run.ponding.depth(), lambda rain: run.ponding
    )
    answers = {each.name: each for each in answer_downspouts(site, flow, run, spots)}
    straight = {"front": LOT - HALF[1], "right": LOT - HALF[0]}
    straight |= {"rear": straight["front"], "left": straight["right"]}
    for side in SIDES:
        for where in ("on", "beside", "out"):
            answer = answers[f"{side} {where}"]
            assert (answer.end.kind, answer.end.name) == ("lot side", side), (side, where)
            assert answer.length_m == pytest.approx(straight[side], abs=2.5 * cell_size)
            assert not answer.returns


@pytest.mark.parametrize("turn", [22.5 * k for k in range(16)])
def test_an_opening_of_any_width_finds_the_ground_beside_it(tmp_path: Path, turn: float) -> None:
    for cell_size in (0.3, 0.25):
        site = a_lot(tmp_path, turn, False, cell_size, {})
        terrain = build_terrain(site)
        for wall in walls_of(site.buildings):
            for distance in np.arange(0.5, wall.length - 0.5, 0.37):
                vent = an_opening("vent", wall.number, float(distance), 0.1, None)
                assert cells_beside(terrain, wall, vent).size, (wall.name, distance)


def an_opening(
    name: str, wall: int, distance: float, width: float, edge: float | None, out: float = 0.0
) -> Opening:
    """A vent, or a window well that reaches `out` metres."""
    return Opening(
        name=name,
        kind="window well" if out else "crawl-space vent",
        building="house",
        wall=wall,
        distance=distance,
        width=width,
        sill=None if out else edge,
        rim=edge if out else None,
        floor=None,
        projection=out,
        drained=True,
        written=Written("site.toml", 1, "opening"),
    )


# By name: width, edge, how far out. The edges of the last two lie under the ground beside them.
OPENINGS = {
    "vent": (0.1, 30.12, 0.0),
    "well": (1.2, 30.12, 0.6),
    "low vent": (0.1, 29.98, 0.0),
    "low door": (0.9, 29.98, 0.0),
}
# On the lowest place, at a height taken, between, on a border of each of the cells.
ALONG = (-1.5, 0.0, 0.15, 0.75, 1.4)


def judged(site: runoff.Site) -> tuple[dict[str, OpeningFinding], float]:
    """The openings by name, and the curve number of the yard."""
    terrain = build_terrain(site)
    flow, let_go = prepare_flow(site, terrain), all_let_go(site, terrain)
    run = run_storm(site, flow)
    found = judge_openings(
        site, flow, run, run.ponding.depth(), lambda rain: flow.run_as(run, rain, let_go)
    )
    return {each.name: each for each in found}, float(flow.curve_number.max())


def rain_for(runoff_m: float, number: float) -> float:
    """TR-55's equation 2-1, Q = (P - 0.2 S)^2 / (P + 0.8 S), solved for the rain P; metres."""
    kept = (1000 / number - 10) * INCH
    b, c = 0.4 * kept + runoff_m, 0.04 * kept**2 - 0.8 * kept * runoff_m
    return (b + math.sqrt(b**2 - 4 * c)) / 2


def rain_to(level: float, number: float) -> float:
    """The rain that fills the hollow to a height over its lowest place.

    Half a pyramid on a triangle of 2 h / s by h / s: h^3 / (3 s^2). Its catchment widens from the
    wall at 45 degrees to both sides, as far as the lot goes.
    """
    wide = LOT - HALF[0]
    catchment = wide * (2 * HALF[0] + wide) + (LOT - HALF[1] - wide) * 2 * LOT
    return rain_for(level**3 / (3 * SLOPE**2) / catchment, number)


@pytest.mark.parametrize(
    ("turn", "mirror", "cell_size"),
    [(22.5 * turn, bool(turn // 2 % 2), CELLS[turn // 2 % 4]) for turn in range(0, 16, 2)]
    + [(22.5 * turn, turn == 3, CELLS[turn % 4]) for turn in (3, 5, 10)],
)
def test_an_opening_is_reached_by_the_rain_that_reaches_one_an_inch_aside(
    tmp_path: Path, turn: float, mirror: bool, cell_size: float
) -> None:
    site = a_lot(tmp_path, turn, mirror, cell_size, {}, hollow)
    middle = np.array(drawn_at(0.0, -HALF[1], turn, mirror))
    wall = min(
        walls_of(site.buildings),
        key=lambda wall: np.hypot(
            *(wall.point(np.full(1, wall.length / 2), np.zeros(1))[0] - middle)
        ),
    )
    openings = []
    for name, shape in OPENINGS.items():
        for k, place in enumerate(ALONG):
            for aside in (0, 1):
                at = drawn_at(place + aside * INCH, -HALF[1], turn, mirror)
                distance = math.dist(at, wall.start)
                openings.append(an_opening(f"{name} {k} {aside}", wall.number, distance, *shape))
    found, number = judged(replace(site, openings=tuple(openings)))
    for name, (width, edge, _) in OPENINGS.items():
        for k, place in enumerate(ALONG):
            here, beside = (found[f"{name} {k} {aside}"].rain_to_reach_m for aside in (0, 1))
            # Nearest to the lowest place of all: its own end, or the well's corner at the wall.
            ground = SLOPE * max(place - width / 2 - LOWEST, 0.0)
            level = max(edge - 30.0, ground)
            higher = max(edge - 30.0, ground + SLOPE * INCH)
            changes = rain_to(higher, number) - rain_to(level, number)
            assert abs(here - beside) <= changes + 0.0002, (name, place, here, beside)
            assert here == pytest.approx(rain_to(level, number), abs=0.0006), (name, place)


def for_pits(folder: Path, turn: float, mirror: bool, cell_size: float, along: float) -> LotGround:
    """The mound on sand, pits 3 m from the house and the lot's sides."""
    site = a_lot(folder, turn, mirror, cell_size, places(along))
    site = replace(site, soil=Soil(texture="sand"), pipe=PipeChoice("smooth", 4))
    rules = {"pit_foundation_distance_metric": "3 m", "pit_lot_line_distance_metric": "3 m"}
    return lot_ground(with_rules(site, **rules), build_terrain(site))


@pytest.mark.parametrize(("turn", "mirror", "cell_size", "along"), CASES[1:16:3] + CASES[-1:])
def test_a_pit_is_the_same_for_a_downspout_on_a_border_and_beside_it(
    tmp_path: Path, turn: float, mirror: bool, cell_size: float, along: float
) -> None:
    ground = for_pits(tmp_path, turn, mirror, cell_size, along)
    house = ground.site.buildings[0].outline
    of_size, away = set(), {}
    for spout in ground.site.downspouts:
        area, side = roof_area(ground.site, spout), spout.name.split()[0]
        water = roof_water(ground.site, spout, ground.site.storm.depth)
        flow = area * INTENSITY
        pit = seepage_pit(
            ground, spout, WaterToMove(spout.name, area, 1.1 * area, flow, flow, water)
        )
        body, outline = pit.governing.pit, outline_of(pit)
        of_size.add((body.kind, *np.round([body.length_m, body.width_m, body.depth_m], 6)))
        # Places are tried a stride apart: no farther out than that beyond what is asked.
        assert 3 - 1e-6 <= outline.distance(house) < 3 + 2 * cell_size, spout.name
        away[spout.name] = outline.distance(house)
        assert pit.overflow.end.name == side, spout.name
        assert not pit.overflow.reaches_foundation
        # What runs over there runs off alike where the full pit lies on a border of cells.
        for moved in (0.0, INCH):
            over = overflow_of(ground, spout, (pit.overflow.at[0] + moved, pit.overflow.at[1]))
            assert failure_sentence(ground.site, over.failure) == failure_sentence(
                ground.site, pit.overflow
            )
    assert len(of_size) == 1
    for side in SIDES:
        assert away[f"{side} on"] == pytest.approx(away[f"{side} beside"], abs=cell_size)
