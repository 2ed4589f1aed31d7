"""Invented grounds given cell by cell, and their storms, so that sums can be done by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runoff.flow import LotFlow, LowSpot, Ponding, StormRun, low_spots_of, sources_of
from runoff.foundation import judge_openings, standing_near_walls
from runoff.site import Downspout, HeightAccuracy, Lot, Opening, Roof, Site
from runoff.terrain import Grid, Terrain, building_cells
from tests.lots import records
from tests.lots.records import WRITTEN, a_rectangle

ACCURACY = HeightAccuracy(0.001, "laser level", False)
INCH = 0.0254


def a_site(rain: float = 0.1, **fields) -> Site:
    """A site with a storm of `rain` metres and heights exact to a millimetre."""
    return records.a_site(rain, **{"height_accuracy": ACCURACY} | fields)


def an_opening(name: str, kind: str, distance: float, width: float, **fields) -> Opening:
    """An opening in the front wall of the house, unless `wall` says otherwise."""
    given = {"sill": None, "rim": None, "floor": None, "projection": 0.0, "drained": False}
    return Opening(
        name,
        kind,
        "house",
        fields.pop("wall", 0),
        distance,
        width,
        written=WRITTEN,
        **given | fields,
    )


def a_downspout(name: str, x: float, y: float, roof_area: float) -> tuple[Roof, Downspout]:
    """A downspout and the roof that it carries whole."""
    roof = Roof(f"roof of {name}", roof_area, None, None, WRITTEN)
    return roof, Downspout(name, x, y, ((roof.name, 1.0),), "house", WRITTEN)


def a_lot(left: float, bottom: float, right: float, top: float) -> Lot:
    """A rectangular lot, a street in front and neighbors around."""
    return a_rectangle(left, bottom, right, top, "street", *3 * ("neighbor",))


@dataclass(frozen=True)
class Scene:
    """A site on a ground of given heights, its storm run."""

    site: Site
    flow: LotFlow
    run: StormRun
    depth: NDArray[np.float64]
    by_depression: dict[int, LowSpot]
    spots: tuple[LowSpot, ...]

    @property
    def let_go(self) -> list:
        return [each for s in sources_of(self.site, self.flow.terrain) for each in s.let_go]

    def ponding_of(self, rain: float) -> Ponding:
        return self.flow.run_as(self.run, rain, self.let_go)

    def openings(self):
        return judge_openings(self.site, self.flow, self.run, self.depth, self.ponding_of)

    def standing(self):
        return standing_near_walls(
            self.site, self.flow, self.run, self.spots, self.by_depression, self.depth
        )


def scene(
    site: Site,
    heights: NDArray[np.float64],
    cell_size: float = 1.0,
    number: float | NDArray[np.float64] = 100.0,
    drains: Sequence = (),
) -> Scene:
    """Run the storm of a site over heights; `number` is the curve number of open ground."""
    grid = Grid(*heights.shape, cell_size, 0.0, 0.0)
    covered = building_cells(site.buildings, grid)
    closed = covered >= 0
    ground = np.where(closed, np.nan, heights)
    terrain = Terrain(grid, ground, ground, closed, covered, tuple(drains), ACCURACY, (), ())
    flow = LotFlow(terrain, np.where(closed | np.isnan(heights), 0.0, number), site.storm.duration)
    let_go = [each for s in sources_of(site, terrain) for each in s.let_go]
    run = flow.run(site.storm.depth, let_go)
    depth = run.ponding.depth()
    by_depression, spots = low_spots_of(
        site, grid, run.ponding, depth, lambda rain: flow.run_as(run, rain, let_go)
    )
    return Scene(site, flow, run, depth, by_depression, spots)
