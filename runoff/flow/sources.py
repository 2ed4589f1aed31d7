"""What brings water to points of the ground in a storm, by name: downspouts, eaves, sumps.

In: a site and its terrain. Out: for each source the cells where its water is let go; all together
they are the water that the storm is run with, beside the rain on the ground itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from runoff.flow.other_water import eaves_water, sumps_water
from runoff.flow.storm import LetGo, water_of
from runoff.site.model import Roof, Site
from runoff.terrain.model import Terrain


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
