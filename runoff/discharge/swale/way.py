"""A swale as one of the ways: what it takes, where it spills, where it lets the water go.

In: a site in SI, the ground, the swale. Out: parts to buy, failures. docs/swales.md.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from runoff.discharge.failure import Failing
from runoff.discharge.ground import LotGround
from runoff.discharge.model import Failure, Part, Way
from runoff.discharge.swale.cut import corner_stations
from runoff.discharge.swale.design import swale_away, with_swale
from runoff.discharge.swale.routes import places_of
from runoff.discharge.swale.section import Swale
from runoff.site.model import Site
from runoff.site.problems import InputError

_SPILLS_EVERY = 1.5  # metres along a swale
_TIE = 0.02  # metres; banks this much alike are as likely to be the first to spill


def _parts(_: Site, swale: Swale) -> Iterator[Part]:
    depth = np.maximum(swale.ground_m - swale.bottom_m, 0.0)
    across = swale.section.bottom_m + 2 * depth * math.hypot(1, swale.section.side_run)
    area = float(np.trapezoid(across, swale.stations_m))
    yield Part("sod, or seed under a blanket", "sod", area, "over the swale, bottom and sides")


def _spills(failing: Failing, swale: Swale) -> Failure:
    """It spills at its lowest bank; of banks alike, the one whose water does most harm."""
    cut = replace(failing, ground=with_swale(failing.ground, swale))
    found = []
    for station, at in _low_banks(failing.ground, swale):
        try:
            found.append(cut.spilled("swale blocked", at, "bank", station))
        except InputError:
            continue
    if not found:
        x, y = (float(value) for value in swale.line[-1])
        return cut.spilled("swale blocked", (x, y), "swale end")
    worst = max(
        found, key=lambda each: (each.reaches_foundation, each.onto_neighbor, each.over_sidewalk)
    )
    return cut.relieved_by_grade(worst, lambda made: with_swale(made, swale))


def _low_banks(ground: LotGround, swale: Swale) -> list[tuple[float, tuple[float, float]]]:
    """Stations (m) and places outside a swale's lowest banks, before its run-out.

    The run-out, where its banks are lower than its depth, lies in ground that may take water.
    """
    section = swale.section
    half = section.bottom_m / 2 + section.side_run * section.depth_m + ground.flow.grid.cell_size
    corners = corner_stations(swale.line)
    head = float(corners[1]) if len(corners) > 2 else 0.0
    legs = np.diff(swale.line, axis=0) / np.diff(corners)[:, None]
    places = places_of(ground)
    banks: list[tuple[float, float, tuple[float, float]]] = []
    for station in np.arange(head, float(swale.stations_m[-1]), _SPILLS_EVERY):
        bottom = float(np.interp(station, swale.stations_m, swale.bottom_m))
        leg = legs[min(int(np.searchsorted(corners, station, side="right")) - 1, len(legs) - 1)]
        here = np.array([np.interp(station, corners, swale.line[:, k]) for k in (0, 1)])
        sides = here + half * np.array([(-leg[1], leg[0]), (leg[1], -leg[0])])
        over = places.heights(sides) - bottom
        if np.isnan(over).any() or (banks and over.min() < section.depth_m - _TIE):
            break
        banks += [
            (float(height), float(station), (float(x), float(y)))
            for height, (x, y) in zip(over, sides, strict=True)
        ]
    lowest = min((height for height, _, _ in banks), default=0.0)
    return [(station, at) for height, station, at in banks if height <= lowest + _TIE]


SWALE = Way[Swale](
    kind=Swale.kind,
    design=lambda task: swale_away(task.ground, task.downspout, task.water),
    parts=_parts,
    fails=lambda failing, swale: (_spills(failing, swale),),
    lets_go=lambda _, swale: (float(swale.line[0][0]), float(swale.line[0][1])),
    digs=True,
    dug_m3=lambda swale: swale.dig_m3,
    spoil_m3=lambda site, swale: swale.dig_m3 * site.rules["soil_bulking"],
    in_ground=with_swale,
)
