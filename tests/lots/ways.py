"""Invented lots for the ways to take water away, built without any file."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from runoff.discharge import LotGround, WaterToMove, lot_ground
from runoff.site import Building, Downspout, Lot, Roof, Site
from tests.lots import records
from tests.lots.records import WRITTEN, a_site
from tests.lots.walls import EXACT, Surface, ground

GPM = 231 * 0.0254**3 / 60
HOUSE = (-6.0, -4.5, 6.0, 4.5)


def a_house(kind: str | None = "basement", box: tuple[float, ...] = HOUSE) -> Building:
    """A rectangular house; its front wall looks down the plan."""
    return records.a_house(*box, kind=kind)  # type: ignore[misc]


def a_lot(*beyond: str, box: tuple[float, ...] = (-15.0, -15.0, 15.0, 15.0)) -> Lot:
    """A rectangular lot with what lies beyond its front, right, rear and left side."""
    return records.a_rectangle(*box, *beyond)  # type: ignore[arg-type]


def a_downspout(x: float, y: float, **fields: Any) -> Downspout:
    """The lot's one downspout, ``D``."""
    return Downspout("D", x, y, (("roof", 1.0),), "house", WRITTEN, **fields)


def a_plot(downspout: Downspout, **fields: Any) -> Site:
    """A lot with a house, a street in front and open ground around, and 40 m2 of roof on ``D``."""
    given = {
        "buildings": (a_house(),),
        "lot": a_lot("street", "open ground", "open ground", "open ground"),
        "roofs": (Roof("roof", 40.0, None, None, WRITTEN),),
    }
    rules = fields.pop("rules", {})
    site = a_site(**given | fields, downspouts=(downspout,), height_accuracy=EXACT)
    return replace(site, rules=site.rules.with_overrides(rules))


def on_ground(
    site: Site, surface: Surface, cell_size: float = 0.3, half: float = 18.0
) -> LotGround:
    """The lot's storm run on a surface."""
    return lot_ground(site, ground(site, surface, cell_size, half))


def some_water(gpm: float = 30.0) -> WaterToMove:
    """What ``D`` brings, its gutter and line at one flow."""
    return WaterToMove("D", 40.0, 40.0, gpm * GPM, gpm * GPM, 2.0)


def falling_forward(slope: float) -> Surface:
    """A plane that falls down the plan, 100 m at the front wall."""
    return lambda x, y: 100.0 + slope * (y + 4.5) + 0.0 * x


def from_the_house(x: Any, y: Any) -> Any:
    """Metres from the walls of `HOUSE`."""
    left, bottom, right, top = HOUSE
    out_x = np.maximum(np.maximum(left - x, x - right), 0.0)
    out_y = np.maximum(np.maximum(bottom - y, y - top), 0.0)
    return np.hypot(out_x, out_y)


def dished(x: Any, y: Any) -> Any:
    """Ground that rises 2 in over the first 2 ft from the house, and falls 3 % from there."""
    out = from_the_house(x, y)
    return 100.0 - np.where(out < 0.6096, (0.6096 - out) / 12, 0.03 * (out - 0.6096))
