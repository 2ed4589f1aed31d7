"""Places along a wall: from a wall and a distance to a position on the plan."""

from __future__ import annotations

import numpy as np

from runoff.quantities import format_length
from runoff.site.complaints import hint
from runoff.site.document import WallPlaceTable
from runoff.site.model import Building
from runoff.site.positions import Path as Entry
from runoff.site.shapes import Shapes

ROUNDING_M = 1e-6


def wall_ends(building: Building, wall: int) -> tuple[np.ndarray, np.ndarray]:
    """First and last corner of a wall, each (2,) plan metres, as the outline was written."""
    corners = np.asarray(building.outline.exterior.coords)[:-1, :2]
    return corners[wall], corners[(wall + 1) % len(corners)]


def along_wall(
    building: Building, wall: int, distance: float, out: float = 0.0
) -> tuple[float, float]:
    """The position at a distance along a wall from its first corner, and out from the wall.

    Parameters
    ----------
    building : Building
    wall : int
        Index of the wall from 0.
    distance, out : float, metres
        Along the wall, and away from the building at right angles to it.

    Returns
    -------
    (x, y) : plan metres

    Examples
    --------
    >>> from shapely import Polygon
    >>> from runoff.site.model import Written
    >>> house = Building("house", Polygon([(0, 0), (8, 0), (8, 6), (0, 6)]),
    ...     ("front", "right", "back", "left"), None, None, Written("site.toml", 1, "building"))
    >>> along_wall(house, 0, 2.0, out=0.5)
    (2.0, -0.5)
    """
    start, end = wall_ends(building, wall)
    along = (end - start) / np.hypot(*(end - start))
    rightward = np.array([along[1], -along[0]])
    outward = rightward if building.outline.exterior.is_ccw else -rightward
    x, y = start + distance * along + out * outward
    return float(x), float(y)


def wall_place(
    table: WallPlaceTable, building: Building, entry: Entry, shapes: Shapes
) -> tuple[float, float] | None:
    """The position that a place along a wall means; None, and a complaint, where there is none."""
    complaints = shapes.complaints
    if isinstance(table.wall, str):
        if table.wall not in building.walls:
            known = hint(table.wall, building.walls)
            complaints.add((*entry, "wall"), f"a wall of building {building.name!r}, {known}")
            return None
        wall = building.walls.index(table.wall)
    elif table.wall > len(building.walls):
        complaints.add(
            (*entry, "wall"), f"a wall's number from 1 to {len(building.walls)}, or its name"
        )
        return None
    else:
        wall = table.wall - 1
    start, end = wall_ends(building, wall)
    length = float(np.hypot(*(end - start)))
    if table.distance > length + ROUNDING_M:
        complaints.add(
            (*entry, "distance"),
            f"a distance along {building.walls[wall]!r} of at most its length, "
            f"{format_length(length, shapes.system)}",
        )
        return None
    return along_wall(building, wall, min(table.distance, length), table.out)
