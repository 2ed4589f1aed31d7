"""Invented lots for seepage pits, in feet: level or falling ground given cell by cell."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from runoff.discharge import LotGround, WaterToMove, lot_ground
from runoff.flow import roof_area, roof_water
from runoff.site import Building, LotSide, PipeChoice, Site, Soil
from runoff.terrain import Grid, Terrain, building_cells
from tests.lots.ponds import ACCURACY, a_downspout, a_lot, a_site
from tests.lots.records import a_house

FOOT = 0.3048
SAND = Soil(texture="sand")
INTENSITY = 2e-5  # m/s
Ground = Callable[[np.ndarray, np.ndarray], np.ndarray]


def in_feet(*values: float) -> tuple[float, ...]:
    return tuple(value * FOOT for value in values)


def house(left: float, bottom: float, right: float, top: float, **fields) -> Building:
    """A house on a slab, corners in feet."""
    return replace(
        a_house(*in_feet(left, bottom, right, top)),
        **{"kind": "slab", "footing_depth": 4 * FOOT} | fields,
    )


def sandy_site(**fields) -> Site:
    """120 x 100 ft, a house of 40 x 30 ft in the middle, 500 sq ft of roof at its right wall."""
    roof, spout = a_downspout("right", *in_feet(20.5, 10.0), 500 * FOOT**2)
    given = {
        "buildings": (house(-20, -15, 20, 15),),
        "lot": a_lot(*in_feet(-60, -50, 60, 50)),
        "roofs": (roof,),
        "downspouts": (spout,),
        "soil": SAND,
        "pipe": PipeChoice("smooth", 4),
    }
    return a_site(rain=4 / 12 * FOOT, **given | fields)


def streets_all_around(site: Site) -> Site:
    sides = tuple(LotSide(side.name, side.line, "street") for side in site.lot.sides)
    return replace(site, lot=replace(site.lot, sides=sides))


def with_rules(site: Site, **written: str) -> Site:
    """The site with local rules, as a site file would write them."""
    values = {name: site.rules.parse_override(name, value) for name, value in written.items()}
    return replace(site, rules=site.rules.with_overrides(values))


def level(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return np.zeros(np.broadcast(x, y).shape)


def ground_of(site: Site, heights: Ground = level, reach: tuple = (70.0, 60.0)) -> LotGround:
    """The lot's ground; `heights` in feet of x and y in feet, cells of 1 ft."""
    wide, high = (round(2 * each) for each in reach)
    grid = Grid(high, wide, FOOT, -reach[0] * FOOT, -reach[1] * FOOT)
    x, y = (each / FOOT for each in grid.centers())
    covered = building_cells(site.buildings, grid)
    closed = covered >= 0
    ground = np.where(closed, np.nan, heights(x[None, :], y[:, None]) * FOOT)
    terrain = Terrain(grid, ground, ground, closed, covered, (), ACCURACY, (), ())
    return lot_ground(site, terrain)


def water_of(site: Site) -> WaterToMove:
    spout = site.downspouts[0]
    area = roof_area(site, spout)
    flow = area * INTENSITY
    return WaterToMove(
        spout.name, area, 1.1 * area, flow, flow, roof_water(site, spout, site.storm.depth)
    )
