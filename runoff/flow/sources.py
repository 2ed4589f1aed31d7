"""What brings water to points of the ground in a storm: downspouts, eaves, sumps, by name.

In: a site and its terrain. Out: for each source the cells where its water is let go. An upper roof
that no downspout carries sheds onto the roof below it, and its water goes where that roof's goes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from runoff.flow.storm import LetGo, foot_of
from runoff.site.model import Roof, Site
from runoff.terrain.model import Terrain

# Where an eave or a sump's outlet is drawn over a wall, ground is looked for this far, metres.
_REACH = 0.9


@dataclass(frozen=True)
class Source:
    """Something that brings water to the ground, and the points where it does.

    `name` is in the user's words: ``downspout 'x'``, ``eave of 'y'``, ``sump 'z'``.
    """

    name: str
    let_go: tuple[LetGo, ...]


def sources_of(site: Site, terrain: Terrain) -> tuple[Source, ...]:
    """Every point and line source of water on a lot; the yard's own rain is not among them.

    A sump is taken to run through the whole storm; in another rain it brings water in proportion.
    A roof that no downspout carries, with no eave drawn, brings none: where it drips is not known.

    Raises
    ------
    InputError
        Where a downspout has no ground.
    """
    area = shed_areas(site)
    coefficient = site.rules["runoff_coefficient_roof"]
    found = []
    for downspout in site.downspouts:
        carried = sum(area[roof] * share for roof, share in downspout.roofs)
        place = LetGo(foot_of(downspout, terrain), carried * coefficient)
        found.append(Source(f"downspout '{downspout.name}'", (place,)))
    for roof in site.roofs:
        dripping = area[roof.name] * (1 - _carried(site, roof))
        cells = [] if roof.eave is None or roof.onto else _cells_along(terrain, roof.eave)
        if dripping > 0 and cells:
            each = dripping * coefficient / len(cells)
            drops = tuple(LetGo(cell, each) for cell in cells)
            found.append(Source(f"eave of '{roof.name}'", drops))
    for sump in site.sumps:
        cell = nearest_open(terrain, *sump.outlet)
        if cell is not None and site.storm.depth > 0:
            per_rain = sump.rate * site.storm.duration / site.storm.depth
            found.append(Source(f"sump '{sump.name}'", (LetGo(cell, per_rain),)))
    return tuple(found)


def shed_areas(site: Site) -> dict[str, float]:
    """Plan area (m2) whose water each roof sheds: its own, and what drains onto it from above."""
    area = {roof.name: roof.plan_area for roof in site.roofs}
    above = {roof.name: roof for roof in site.roofs if roof.onto in area}
    pending = list(above)
    while pending:
        # A roof waits until all that drains onto it has been added; roofs in a ring never are.
        ready = [n for n in pending if not any(above[m].onto == n for m in pending)]
        if not ready:
            break
        for name in ready:
            roof = above[name]
            area[roof.onto] += area[name] * (1 - _carried(site, roof))
        pending = [name for name in pending if name not in ready]
    return area


def _carried(site: Site, roof: Roof) -> float:
    """Share of a roof's water that downspouts carry."""
    shares = (share for d in site.downspouts for name, share in d.roofs if name == roof.name)
    return min(sum(shares), 1.0)


def _cells_along(terrain: Terrain, line) -> list[tuple[int, int]]:
    """Open cells under a line, one for each quarter of a cell of its length."""
    from shapely import LineString

    drip = LineString(line)
    count = max(1, int(np.ceil(4 * drip.length / terrain.grid.cell_size)))
    places = [drip.interpolate((k + 0.5) / count, normalized=True) for k in range(count)]
    cells = [nearest_open(terrain, place.x, place.y) for place in places]
    return [cell for cell in cells if cell is not None]


def nearest_open(terrain: Terrain, x: float, y: float) -> tuple[int, int] | None:
    """The open cell at a place, or the nearest one within 0.9 m; None where there is no ground."""
    grid = terrain.grid
    row, col = grid.cell(x, y)
    reach = max(1, int(np.ceil(_REACH / grid.cell_size)))
    best, found = np.inf, None
    for r in range(max(row - reach, 0), min(row + reach + 1, grid.rows)):
        for c in range(max(col - reach, 0), min(col + reach + 1, grid.cols)):
            if terrain.closed[r, c] or np.isnan(terrain.surface[r, c]):
                continue
            if (r, c) == (row, col):
                return r, c
            at = grid.center(r, c)
            away = float(np.hypot(at[0] - x, at[1] - y))
            if away <= max(_REACH, grid.cell_size) and away < best:
                best, found = away, (r, c)
    return found
