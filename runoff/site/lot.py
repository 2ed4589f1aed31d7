"""Buildings, the lot and what lies on it: the tables of the site file to the records."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from runoff.site.complaints import Complaints
from runoff.site.document import (
    BuildingTable,
    EasementTable,
    KeepOutTable,
    LotTable,
    OutletTable,
    PavingTable,
)
from runoff.site.ground import written
from runoff.site.model import (
    Building,
    Clearance,
    Easement,
    KeepOut,
    Lot,
    LotSide,
    Outlet,
    Paving,
)
from runoff.site.places import check_wall, stretch
from runoff.site.positions import Path as Entry
from runoff.site.shapes import Shapes


@dataclass
class LotReader:
    """Makes the lot and what lies on it."""

    shapes: Shapes
    complaints: Complaints
    notices: list[str]

    def building(self, number: int, table: BuildingTable) -> Building | None:
        """A building with a name for each wall."""
        entry: Entry = ("building", number)
        found = self.shapes.outlined(table, entry, table.courtyards)
        if found is None:
            for place, one in enumerate(table.clearances):
                at = (*entry, "clearances", place, "wall")
                check_wall(one.wall, table.name, at, self.complaints)
            return None
        outline, corners = found
        walls = table.walls or [f"wall {wall + 1}" for wall in range(len(corners))]
        if not self._one_each(walls, len(corners), (*entry, "walls"), "walls"):
            return None
        building = Building(
            name=table.name,
            outline=outline,
            walls=tuple(walls),
            kind=table.kind,
            footing_depth=table.footing_depth,
            written=written(self.complaints, entry),
            neighbor=bool(table.neighbor),
        )
        return replace(building, clearances=self._clearances(table, building, entry))

    def _clearances(
        self, table: BuildingTable, building: Building, entry: Entry
    ) -> tuple[Clearance, ...]:
        found = []
        for place, one in enumerate(table.clearances):
            run = stretch(one, building, (*entry, "clearances", place), self.shapes)
            if run is not None:
                found.append(Clearance(*run, one.kind, one.height))
        return tuple(found)

    def lot(self, table: LotTable) -> Lot | None:
        """The lot with what lies beyond each side."""
        found = self.shapes.outlined(table, ("lot",))
        if found is None:
            return None
        boundary, corners = found
        sides = self._sides(table, corners)
        if sides is None:
            return None
        return Lot(boundary, sides, written(self.complaints, ("lot",)))

    def _sides(self, table: LotTable, corners: NDArray[np.float64]) -> tuple[LotSide, ...] | None:
        ends = zip(corners, np.roll(corners, -1, axis=0), strict=True)
        lines = [np.array(pair, dtype=np.float64) for pair in ends]
        if table.sides is None:
            self.notices.append(
                "[lot]: no sides are given, so each side counts as a neighbor's; give sides = "
                '[{neighbor = "street"}, ...] to say where water may leave'
            )
            return tuple(
                LotSide(f"side {number + 1}", line, "neighbor") for number, line in enumerate(lines)
            )
        names = [side.name or f"side {place + 1}" for place, side in enumerate(table.sides)]
        if not self._one_each(names, len(corners), ("lot", "sides"), "sides"):
            return None
        return tuple(
            LotSide(name, line, side.neighbor)
            for name, line, side in zip(names, lines, table.sides, strict=True)
        )

    def _one_each(self, names: Sequence[str], count: int, entry: Entry, what: str) -> bool:
        """Whether there is one name for each of `count` walls or sides, all different."""
        if len(names) != count:
            self.complaints.add(
                entry, f"{count} {what}, one from each corner to the next; there are {len(names)}"
            )
            return False
        for place, name in enumerate(names):
            if name in names[:place]:
                self.complaints.add((*entry, place), f"{what} that all have a name of their own")
                return False
        return True

    def paving(self, number: int, table: PavingTable) -> Paving | None:
        """A walk, drive or patio."""
        entry: Entry = ("paving", number)
        found = self.shapes.outlined(table, entry)
        if found is None:
            return None
        return Paving(table.name, table.kind, found[0], written(self.complaints, entry))

    def keep_out(self, number: int, table: KeepOutTable) -> KeepOut | None:
        """Ground not to be dug freely."""
        entry: Entry = ("keep_out", number)
        area = self.shapes.area(table, entry)
        if area is None:
            return None
        where = written(self.complaints, entry)
        return KeepOut(table.name, table.kind, area, table.allowed, where)

    def easement(self, number: int, table: EasementTable) -> Easement | None:
        """A strip that others have rights in."""
        entry: Entry = ("easement", number)
        area = self.shapes.area(table, entry)
        if area is None:
            return None
        return Easement(table.name, area, table.may_take_water, written(self.complaints, entry))

    def outlet(self, number: int, table: OutletTable) -> Outlet | None:
        """A place that may take the water."""
        entry: Entry = ("outlet", number)
        place = self.shapes.place(table, entry)
        if place is None:
            return None
        where = written(self.complaints, entry)
        return Outlet(
            table.name, table.kind, place, table.permission, where, table.invert, table.water
        )
