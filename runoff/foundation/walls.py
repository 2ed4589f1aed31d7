"""The outside walls of the buildings as straight lines, each with the way outward.

In: buildings. Out: frozen records in plan metres.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.polygon import LinearRing

from runoff.site.model import Building


@dataclass(frozen=True)
class Wall:
    """One straight outside wall.

    `number` counts over the outline's corners and on over those of any courtyards; `before` and
    `after` are the numbers of the walls that meet it. `outward` is the unit vector away from it.
    """

    building: str
    number: int
    name: str
    start: tuple[float, float]
    end: tuple[float, float]
    outward: tuple[float, float]
    before: int
    after: int

    @property
    def length(self) -> float:
        """Metres from corner to corner."""
        return math.dist(self.start, self.end)

    def point(self, along: NDArray[np.float64], out: NDArray[np.float64]) -> NDArray[np.float64]:
        """Plan positions, (k, 2), at distances along the wall and out from it."""
        start, end = np.array(self.start), np.array(self.end)
        unit = (end - start) / self.length
        return start + along[:, None] * unit + out[:, None] * np.array(self.outward)


def walls_of(buildings: Sequence[Building]) -> tuple[Wall, ...]:
    """Every outside wall of the buildings, courtyards' walls after those of the outline.

    Examples
    --------
    >>> from shapely.geometry import Polygon
    >>> from runoff.site.model import Written
    >>> box = Polygon([(0, 0), (4, 0), (4, 3), (0, 3)])
    >>> house = Building("house", box, ("front", "right", "rear", "left"), None, None,
    ...                  Written("site.toml", 1, "building"))
    >>> [(wall.name, wall.outward) for wall in walls_of([house])][:2]
    [('front', (0.0, -1.0)), ('right', (1.0, 0.0))]
    """
    return tuple(wall for building in buildings for wall in _walls(building))


def wall_words(name: str) -> str:
    """A wall as a sentence names it.

    Examples
    --------
    >>> wall_words("front"), wall_words("wall 2")
    ('the front wall', 'wall 2')
    """
    return name if "wall" in name.lower() else f"the {name} wall"


def _walls(building: Building) -> Iterator[Wall]:
    outside = building.outline.exterior
    yield from _ring(building, outside, 0, 1.0)
    first = len(outside.coords) - 1
    for court in building.outline.interiors:
        yield from _ring(building, court, first, -1.0)
        first += len(court.coords) - 1


def _ring(building: Building, ring: LinearRing, first: int, side: float) -> Iterator[Wall]:
    corners = [(float(x), float(y)) for x, y, *_ in ring.coords]
    count = len(corners) - 1
    turn = side if ring.is_ccw else -side
    for place, (start, end) in enumerate(pairwise(corners)):
        length = math.dist(start, end)
        outward = (
            turn * (end[1] - start[1]) / length + 0.0,
            -turn * (end[0] - start[0]) / length + 0.0,
        )
        number = first + place
        yield Wall(
            building.name,
            number,
            _name(building, number),
            start,
            end,
            outward,
            first + (place - 1) % count,
            first + (place + 1) % count,
        )


def _name(building: Building, number: int) -> str:
    if number < len(building.walls):
        return building.walls[number]
    return f"courtyard wall {number - len(building.walls) + 1}"
