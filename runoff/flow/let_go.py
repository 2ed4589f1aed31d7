"""What lets water go on a lot in its storm, by name: downspouts, eaves without a gutter, sumps.

In: a site and its terrain. Out: the water let go at each cell, ready to run with the storm.

In: a site and its terrain. Out: for each source the cells where its water is let go; all together
they are the water that the storm is run with, beside the rain on the ground itself.

In: a site and its terrain. Out: a lot made ready for storms, and its storm run.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from runoff.flow.storm import (
    LetGo,
    LotFlow,
    StormRun,
    curve_numbers,
    curve_numbers_at,
    ground_near,
    no_ground,
    water_of,
)
from runoff.roof.catchments import shed_areas, uncarried_share
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


@dataclass(frozen=True)
class Source:
    """Something that brings water to the ground, and the points where it does.

    `name` is in the user's words: ``downspout 'x'``, ``eave of 'y'``, ``sump 'z'``.
    """

    name: str
    let_go: tuple[LetGo, ...]

    def water(self, rain: float) -> float:
        """What it brings in `rain` metres of rain, m3."""
        return sum(each.per_rain * rain + each.fixed for each in self.let_go)


def sources_of(site: Site, terrain: Terrain) -> tuple[Source, ...]:
    """Every point and line source of water on a lot.

    Raises
    ------
    InputError
        Where a downspout, an eave or a sump's outlet has no ground.
    """
    feet = [Source(f"downspout '{d.name}'", (water_of(site, d, terrain),)) for d in site.downspouts]
    eaves = [
        Source(f"eave of '{roof.name}'", tuple(eaves_water(_with_eave_of(site, roof), terrain)))
        for roof in site.roofs
        if roof.eave is not None
    ]
    outlets = sumps_water(site, terrain)
    sumps = [
        Source(f"sump '{sump.name}'", (outlet,))
        for sump, outlet in zip(site.sumps, outlets, strict=True)
    ]
    return (*feet, *eaves, *sumps)


def _with_eave_of(site: Site, roof: Roof) -> Site:
    """The site with this roof's eave alone; what upper roofs shed onto it stays."""
    others = (each if each is roof else replace(each, eave=None) for each in site.roofs)
    return replace(site, roofs=tuple(others))


def prepare_flow(site: Site, terrain: Terrain) -> LotFlow:
    """Make the ground ready for storms: its curve numbers, and a hierarchy kept once found."""
    return LotFlow(
        terrain,
        curve_numbers(site, terrain),
        site.storm.duration,
        lambda places: curve_numbers_at(site, places),
    )


def run_storm(site: Site, flow: LotFlow) -> StormRun:
    """Let the storm fall on the yard, and let the water of roofs and sumps go where it does."""
    return flow.run(site.storm.depth, all_let_go(site, flow.terrain))


def all_let_go(site: Site, terrain: Terrain) -> list[LetGo]:
    """The water of every source of the lot, at the cells where it is let go."""
    return [each for source in sources_of(site, terrain) for each in source.let_go]
