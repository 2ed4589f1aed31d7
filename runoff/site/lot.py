"""Buildings, the lot and what lies on it: the tables of the site file to the records.

In: buildings as read. Out: the same, neighbors' ones marked, all of them off each other's ground.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from runoff.quantities import format_area
from runoff.site.ground import written
from runoff.site.model import Building, Clearance, Easement, KeepOut, Lot, LotSide, Outlet, Paving
from runoff.site.notices import Notice
from runoff.site.problems import Complaints
from runoff.site.shapes import OutlineError, Shapes
from runoff.site.wall_places import check_wall, stretch
from runoff.site.written.document import (
    BuildingTable,
    EasementTable,
    KeepOutTable,
    LotTable,
    OutletTable,
    PavingTable,
)
from runoff.site.written.entry_lines import Path as Entry


@dataclass
class LotReader:
    """Makes the lot and what lies on it."""

    shapes: Shapes
    complaints: Complaints
    notices: list[Notice]

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
            self.notices.append(Notice("no sides"))
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


TOUCH_M = 0.05
"""Two outlines drawn from one survey miss each other by about this much at a shared wall."""
MOST_SHARED = 0.5
"""Of two outlines that share more than this of the smaller, one is a mistake."""
ON_LOT = 0.05
"""A building with less of its ground than this on the lot lies off it."""
NEAR_M = 60.0
"""Of a whole file's buildings those farther from the named ones are left out, metres."""


def apart(
    buildings: Sequence[Building],
    numbers: Mapping[str, int],
    complaints: Complaints,
    notices: list[Notice],
    system: str,
) -> tuple[Building, ...]:
    """The buildings, told where two outlines share ground; a complaint where they share most of it.

    Outlines of a land register overlap by what two surveys differ. The ground counts once, as the
    first one's; a wall inside another building is no outside wall. A neighbor's outline is cut;
    that of a judged building stays, since places along its walls are counted on it.
    """
    outlines = np.array([building.outline for building in buildings], dtype=object)
    pairs = shapely.STRtree(outlines).query(outlines, predicate="intersects").T
    shared: list[tuple[str, str, float]] = []
    made = list(buildings)
    for first, second in sorted((int(a), int(b)) for a, b in pairs if a < b):
        one, other = made[first], made[second]
        common = one.outline.intersection(other.outline)
        if common.buffer(-TOUCH_M / 2.0).is_empty:
            continue
        if common.area > MOST_SHARED * min(one.outline.area, other.outline.area):
            area = format_area(common.area, system)
            expected = f"ground of its own; it overlaps building {one.name!r} by {area}"
            complaints.add(("building", numbers[other.name]), expected, written="")
            continue
        shared.append((one.name, other.name, common.area))
        for at, mine, its in ((second, other, one), (first, one, other)):
            if mine.neighbor and not mine.clearances:
                made[at] = _cut(mine, its.outline)
                break
    if shared:
        names = tuple(name for one, other, _ in shared for name in (one, other))
        areas = tuple(area for _, _, area in shared)
        notices.append(Notice("buildings overlap", names, {"areas_m2": areas}))
    return tuple(made)


def _cut(building: Building, taken: Polygon) -> Building:
    """A building without the ground that another takes: the largest piece that is left."""
    left = shapely.get_parts(building.outline.difference(taken))
    outline = max(left, key=lambda part: part.area)
    return replace(building, outline=outline, walls=_wall_names(outline))


def _wall_names(outline: Polygon) -> tuple[str, ...]:
    return tuple(f"wall {wall + 1}" for wall in range(len(outline.exterior.coords) - 1))


def is_group(table: BuildingTable, shapes: Shapes) -> bool:
    """Whether a table stands for all buildings of a file that no other table names."""
    outline = table.outline
    if not table.neighbor or outline is None or outline.pick is not None:
        return False
    try:
        return shapes.files.count(shapes.folder / outline.file, outline.file, outline.layer) > 1
    except OutlineError:
        return False


def rest_of_file(
    number: int,
    table: BuildingTable,
    buildings: Sequence[Building],
    boundary: Lot | None,
    shapes: Shapes,
    notices: list[Notice],
) -> tuple[Building, ...]:
    """Neighbors' buildings from a file that is read whole, off the ground of the named ones.

    Each has the table's name and its feature's number. One that shares most of its ground with a
    named building is that building and is left out, as are those far from the lot and the house.
    """
    assert table.outline is not None
    path = shapes.folder / table.outline.file
    found, unusable = shapes.files.all_outlines(path, table.outline.file, table.outline.layer)
    named = [building.outline for building in buildings]
    near = shapely.union_all([*named, *([] if boundary is None else [boundary.boundary])])
    taken, made = shapely.union_all(named), dict[str, Building]()
    for feature, shape in found:
        if (not near.is_empty and shape.distance(near) > NEAR_M) or _is_one_of(shape, named):
            continue
        left = shapely.get_parts(shape.difference(taken))
        outline = max(left, key=lambda part: part.area, default=Polygon())
        if outline.buffer(-TOUCH_M / 2.0).is_empty:
            continue
        taken = taken.union(shape)
        name = f"{table.name} {feature}"
        while name in made:
            name += "+"
        where = written(shapes.complaints, ("building", number))
        walls = _wall_names(outline)
        made[name] = Building(name, outline, walls, None, None, where, (), neighbor=True)
    counts = {"count": len(made), "unusable": unusable, "within_m": NEAR_M}
    notices.append(Notice("buildings of a file", (table.outline.file,), counts))
    return tuple(made.values())


def _is_one_of(shape: Polygon, named: Sequence[Polygon]) -> bool:
    return any(
        shape.intersection(one).area > MOST_SHARED * min(shape.area, one.area) for one in named
    )


def off_the_lot(
    buildings: Sequence[Building],
    lot: Lot | None,
    kept: Collection[str | None],
    notices: list[Notice],
) -> tuple[Building, ...]:
    """The buildings, those off a drawn lot as neighbors' unless their names are in `kept`."""
    if lot is None:
        return tuple(buildings)
    off = [
        building.name
        for building in buildings
        if not building.neighbor
        and building.name not in kept
        and building.outline.intersection(lot.boundary).area < ON_LOT * building.outline.area
    ]
    if off:
        notices.append(Notice("off the lot", tuple(off)))
    return tuple(replace(b, neighbor=b.neighbor or b.name in off) for b in buildings)
