"""No place is lost to the grid: what lies on a cell's border is answered as what lies beside it.

The ground is a hipped mound that falls 5 % away from a house, so the closed form is known: water
runs straight out from the wall over the lot's side that faces it, whatever the cells and however
the lot is turned.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

import runoff
from runoff.flow.downspouts import answer_downspouts
from runoff.flow.lot_storm import prepare_flow, run_storm
from runoff.flow.low_spots import low_spots_of
from runoff.foundation.beside import cells_beside
from runoff.foundation.walls import walls_of
from runoff.terrain.build import build_terrain

HALF = (6.0, 4.5)
LOT = 15.0
INCH = 0.0254
SIDES = ("front", "right", "rear", "left")


def mound(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Falls 5 % with the distance out from the house, to the side or ahead, whichever is more."""
    return 30.0 - 0.05 * np.maximum(np.maximum(np.abs(x) - HALF[0], np.abs(y) - HALF[1]), 0.0)


def a_lot(folder: Path, turn: float, mirror: bool, cell_size: float, spouts: dict) -> runoff.Site:
    """The lot turned by degrees, and mirrored before that; `spouts` are places on it as drawn."""
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def placed(x: float, y: float) -> tuple[float, float]:
        x = -x if mirror else x
        return c * x - s * y, s * x + c * y

    def written(points) -> str:
        return "[" + ", ".join("[{:.9f}, {:.9f}]".format(*placed(*p)) for p in points) + "]"

    def box(w: float, d: float) -> list[tuple[float, float]]:
        return [(-w, -d), (w, -d), (w, d), (-w, d)]

    at = np.unique(np.r_[np.arange(-LOT, LOT + 0.1, 1.5), HALF[0], -HALF[0], HALF[1], -HALF[1]])
    rows = ["name,x,y,z"]
    for x in at.tolist():
        for y in at.tolist():
            if abs(x) >= HALF[0] or abs(y) >= HALF[1]:
                height = float(mound(np.array(x), np.array(y)))
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
            assert answer.length == pytest.approx(straight[side], abs=2.5 * cell_size)
            assert not answer.returns


@pytest.mark.parametrize("turn", [22.5 * k for k in range(16)])
def test_an_opening_of_any_width_finds_the_ground_beside_it(tmp_path: Path, turn: float) -> None:
    from runoff.site.model import Opening, Written

    for cell_size in (0.3, 0.25):
        site = a_lot(tmp_path, turn, False, cell_size, {})
        terrain = build_terrain(site)
        for wall in walls_of(site.buildings):
            for distance in np.arange(0.5, wall.length - 0.5, 0.37):
                vent = Opening(
                    name="vent",
                    kind="crawl-space vent",
                    building="house",
                    wall=wall.number,
                    distance=float(distance),
                    width=0.1,
                    sill=None,
                    rim=None,
                    floor=None,
                    projection=0.0,
                    drained=False,
                    written=Written("site.toml", 1, "opening"),
                )
                assert cells_beside(terrain, wall, vent).size, (wall.name, distance)
