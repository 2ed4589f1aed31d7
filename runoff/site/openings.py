"""Openings in the walls: the tables of the site file to the records of the model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from runoff.quantities import format_length
from runoff.site.ground import written
from runoff.site.model import Building, Opening
from runoff.site.places import (
    ROUNDING_M,
    check_wall,
    named_building,
    on_wall,
    wall_length,
    wall_of,
)
from runoff.site.positions import Path as Entry
from runoff.site.shapes import Shapes
from runoff.site.wall_tables import WELLS, OpeningTable


@dataclass
class OpeningReader:
    """Makes openings.

    Parameters
    ----------
    buildings : sequence of Building
        Those that could be made.
    building_names : sequence of str
        All that the file names, so that one mistake is not told twice.
    notices : list of str
        Takes what the user should know.
    """

    shapes: Shapes
    buildings: Sequence[Building]
    building_names: Sequence[str]
    notices: list[str]

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
            self.notices.append(
                f"opening {table.name!r}: its {part} is not given, so it cannot be told how high "
                "water may stand before it gets in"
            )
