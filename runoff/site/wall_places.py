"""What is at a wall: places and stretches along it, and openings, from the tables of the site
file to the records.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from runoff.quantities import format_length
from runoff.site.ground import written
from runoff.site.model import Building, Opening
from runoff.site.notices import Notice
from runoff.site.problems import Complaints, hint
from runoff.site.shapes import Shapes
from runoff.site.written.document import WELLS, OpeningTable, StretchTable, WallPlaceTable
from runoff.site.written.entry_lines import Path as Entry

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


def wall_of(
    wall: str | int, building: Building, entry: Entry, complaints: Complaints
) -> int | None:
    """Index from 0 of a wall by its name or number; None, and a complaint, where there is none."""
    return _among(wall, building.name, building.walls, entry, complaints)


def _among(
    wall: str | int, building: str, walls: Sequence[str], entry: Entry, complaints: Complaints
) -> int | None:
    if isinstance(wall, str):
        if wall in walls:
            return list(walls).index(wall)
        complaints.add(entry, f"a wall of building {building!r}, {hint(wall, walls)}")
        return None
    if wall > len(walls):
        complaints.add(entry, f"a wall's number from 1 to {len(walls)}, or its name")
        return None
    return wall - 1


def check_wall(wall: str | int, building: str, entry: Entry, complaints: Complaints) -> None:
    """Complain about a wall that a building has not whose outline does not read.

    Its walls are those that are written. Where those are not as many as its corners, or not each
    with a name of its own, nobody knows, and nothing is said: the building's own mistake is told.
    """
    walls = _walls_written(building, complaints)
    if walls:
        _among(wall, building, walls, entry, complaints)


def _walls_written(building: str, complaints: Complaints) -> list[str]:
    """The names of a building's walls as the file tells them; empty where that is in doubt."""
    tables = complaints.raw.get("building")
    named = [each for each in tables if isinstance(each, dict)] if isinstance(tables, list) else []
    table = next((each for each in named if each.get("name") == building), {})
    corners = table.get("corners", table.get("runs"))
    if isinstance(corners, list) and len(corners) > 1 and corners[0] == corners[-1]:
        corners = corners[:-1]
    many = len(corners) if isinstance(corners, list) else None
    walls = table.get("walls")
    if walls is None:
        return [f"wall {number + 1}" for number in range(many or 0)]
    if not isinstance(walls, list) or many not in (None, len(walls)):
        return []
    told = all(isinstance(each, str) for each in walls) and len(set(walls)) == len(walls)
    return walls if told else []


def wall_length(building: Building, wall: int) -> float:
    """Length of a wall, metres."""
    start, end = wall_ends(building, wall)
    return float(np.hypot(*(end - start)))


def on_wall(distance: float, building: Building, wall: int, entry: Entry, shapes: Shapes) -> bool:
    """Whether a wall is as long as a distance along it; a complaint where it is not."""
    length = wall_length(building, wall)
    if distance <= length + ROUNDING_M:
        return True
    shapes.complaints.add(
        entry,
        f"a distance along {building.walls[wall]!r} of at most its length, "
        f"{format_length(length, shapes.system)}",
    )
    return False


def wall_place(
    table: WallPlaceTable, building: Building, entry: Entry, shapes: Shapes
) -> tuple[float, float] | None:
    """The position that a place along a wall means; None, and a complaint, where there is none."""
    wall = wall_of(table.wall, building, (*entry, "wall"), shapes.complaints)
    if wall is None:
        return None
    if not on_wall(table.distance, building, wall, (*entry, "distance"), shapes):
        return None
    distance = min(table.distance, wall_length(building, wall))
    return along_wall(building, wall, distance, table.out)


def stretch(
    table: StretchTable, building: Building, entry: Entry, shapes: Shapes
) -> tuple[int, float, float] | None:
    """A stretch of wall as (wall from 0, start, end), metres; None, and a complaint, if none."""
    wall = wall_of(table.wall, building, (*entry, "wall"), shapes.complaints)
    if wall is None:
        return None
    length = wall_length(building, wall)
    start = table.start or 0.0
    end = length if table.end is None else table.end
    if not on_wall(end, building, wall, (*entry, "to"), shapes):
        return None
    if start >= length:
        shapes.complaints.add(
            (*entry, "from"),
            f"a start on {building.walls[wall]!r}, before its end at "
            f"{format_length(length, shapes.system)}",
        )
        return None
    return wall, start, min(end, length)


def named_building(
    name: str,
    entry: Entry,
    buildings: Sequence[Building],
    names: Sequence[str],
    complaints: Complaints,
) -> Building | None:
    """The building of that name; a complaint only where the file names none such.

    `buildings` are those that could be made, `names` all that the file names.
    """
    if name not in names:
        complaints.add(entry, f"the name of a building, {hint(name, names)}")
    return next((building for building in buildings if building.name == name), None)


@dataclass
class OpeningReader:
    """Makes openings.

    Parameters
    ----------
    buildings : sequence of Building
        Those that could be made.
    building_names : sequence of str
        All that the file names, so that one mistake is not told twice.
    notices : list of Notice
        Takes what the user should know.
    """

    shapes: Shapes
    buildings: Sequence[Building]
    building_names: Sequence[str]
    notices: list[Notice]

    def opening(self, number: int, table: OpeningTable) -> Opening | None:
        """An opening on its wall."""
        entry: Entry = ("opening", number)
        complaints = self.shapes.complaints
        building = named_building(
            table.at.building,
            (*entry, "at", "building"),
            self.buildings,
            self.building_names,
            complaints,
        )
        if building is None:
            check_wall(table.at.wall, table.at.building, (*entry, "at", "wall"), complaints)
            return None
        if building.neighbor:
            expected = f"an opening of a building of one's own; {building.name!r} is a neighbor's"
            complaints.add((*entry, "at", "building"), expected)
            return None
        wall = wall_of(table.at.wall, building, (*entry, "at", "wall"), complaints)
        if wall is None or not self._fits(table, building, wall, entry):
            return None
        self._say_what_is_not_known(table)
        return Opening(
            name=table.name,
            kind=table.kind,
            building=building.name,
            wall=wall,
            distance=table.at.distance,
            width=table.width,
            sill=table.sill,
            rim=table.rim,
            floor=table.floor,
            projection=table.projection or 0.0,
            drained=table.drained,
            written=written(complaints, entry),
        )

    def _fits(self, table: OpeningTable, building: Building, wall: int, entry: Entry) -> bool:
        """Whether the whole width lies on the wall."""
        middle, half = table.at.distance, table.width / 2.0
        if not on_wall(middle, building, wall, (*entry, "at", "distance"), self.shapes):
            return False
        length = wall_length(building, wall)
        if half <= middle + ROUNDING_M and middle + half <= length + ROUNDING_M:
            return True
        self.shapes.complaints.add(
            (*entry, "width"),
            f"a width that fits on {building.walls[wall]!r}, which is "
            f"{format_length(length, self.shapes.system)} long, with its middle at "
            f"{format_length(middle, self.shapes.system)}",
        )
        return False

    def _say_what_is_not_known(self, table: OpeningTable) -> None:
        part = "rim" if table.kind in WELLS else "sill"
        if getattr(table, part) is None:
            self.notices.append(Notice("edge not given", (table.name, part)))
