"""Water that comes to the ground by no downspout: off eaves without a gutter, and out of sumps.

In: a site and its terrain. Out: the water let go at each cell, ready to run with the storm.
"""

from __future__ import annotations

from collections import Counter

import numpy as np

from runoff.flow.storm import LetGo, ground_near, no_ground
from runoff.roof.shed import shed_areas, uncarried_share
from runoff.site.model import Roof, Site, Sump
from runoff.site.problems import InputError
from runoff.terrain.model import Terrain

# An eave is walked in steps of this share of a cell, so that each cell gets what falls along it.
_STEP = 0.25


def eaves_water(site: Site, terrain: Terrain) -> list[LetGo]:
    """What drips off eaves without a gutter, spread evenly along each drip line.

    A roof's eave takes what its downspouts do not carry, with what upper roofs shed onto it.

    Raises
    ------
    InputError
        Where a drip line has no ground under it or beside it.
    """
    area = shed_areas(site)
    drops = []
    for roof in site.roofs:
        if roof.eave is None:
            continue
        per_rain = area[roof.name] * uncarried_share(site, roof.name)
        per_rain *= site.rules["runoff_coefficient_roof"]
        drops += [
            LetGo(cell, per_rain * share) for cell, share in _along(roof, terrain) if per_rain > 0
        ]
    return drops


def _along(roof: Roof, terrain: Terrain) -> list[tuple[tuple[int, int], float]]:
    """The open cells along a roof's drip line, each with its share of the line's length."""
    from shapely import LineString

    line = LineString(roof.eave)
    steps = max(1, int(np.ceil(line.length / (_STEP * terrain.grid.cell_size))))
    hits: Counter[tuple[int, int]] = Counter()
    for step in range(steps):
        place = line.interpolate((step + 0.5) / steps, normalized=True)
        cell = ground_near(place.x, place.y, terrain)
        if cell is None:
            expected = "an eave whose drip line lies over surveyed ground outside the walls"
            raise InputError([no_ground(place.x, place.y, terrain, roof.written, expected)])
        hits[cell] += 1
    return [(cell, count / steps) for cell, count in hits.items()]


def sumps_water(site: Site, terrain: Terrain) -> list[LetGo]:
    """What sump pumps bring to the ground while the storm lasts, whatever its rain.

    Raises
    ------
    InputError
        Where an outlet has no ground.
    """
    duration = site.storm.duration
    return [LetGo(_outlet(sump, terrain), 0.0, sump.rate * duration) for sump in site.sumps]


def _outlet(sump: Sump, terrain: Terrain) -> tuple[int, int]:
    cell = ground_near(*sump.outlet, terrain)
    if cell is None:
        expected = "a sump's outlet on surveyed ground outside the walls"
        raise InputError([no_ground(*sump.outlet, terrain, sump.written, expected)])
    return cell
