"""Whose a building is and whose the ground under it, where outlines lie off the lot or overlap.

In: buildings as read. Out: the same, neighbors' ones marked, all of them off each other's ground.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import Polygon

from runoff.quantities import format_area
from runoff.site.complaints import Complaints
from runoff.site.document import BuildingTable
from runoff.site.ground import written
from runoff.site.model import Building, Lot
from runoff.site.outlines import OutlineError
from runoff.site.shapes import Shapes

TOUCH_M = 0.05
"""Two outlines drawn from one survey miss each other by about this much at a shared wall."""
MOST_SHARED = 0.5
"""Of two outlines that share more than this of the smaller, one is a mistake."""
ON_LOT = 0.05
"""A building with less of its ground than this on the lot lies off it."""
NEAR_M = 60.0
"""Of a whole file's buildings those farther from the named ones are left out, metres."""
_MOST_NAMED = 3


def apart(
    buildings: Sequence[Building],
    numbers: Mapping[str, int],
    complaints: Complaints,
    notices: list[str],
    system: str,
) -> tuple[Building, ...]:
    """The buildings, told where two outlines share ground; a complaint where they share most of it.

    Outlines of a land register overlap by what two surveys differ. The ground counts once, as the
    first one's; a wall inside another building is no outside wall. A neighbor's outline is cut;
    that of a judged building stays, since places along its walls are counted on it.
    """
    outlines = np.array([building.outline for building in buildings], dtype=object)
    pairs = shapely.STRtree(outlines).query(outlines, predicate="intersects").T
    shared: list[str] = []
    made = list(buildings)
    for first, second in sorted((int(a), int(b)) for a, b in pairs if a < b):
        one, other = made[first], made[second]
        common = one.outline.intersection(other.outline)
        if common.buffer(-TOUCH_M / 2.0).is_empty:
            continue
        area = format_area(common.area, system)
        if common.area > MOST_SHARED * min(one.outline.area, other.outline.area):
            expected = f"ground of its own; it overlaps building {one.name!r} by {area}"
            complaints.add(("building", numbers[other.name]), expected, written="")
            continue
        shared.append(f"{one.name!r} and {other.name!r} ({area})")
        for at, mine, its in ((second, other, one), (first, one, other)):
            if mine.neighbor and not mine.clearances:
                made[at] = _cut(mine, its.outline)
                break
    notices += _overlaps(shared)
    return tuple(made)


def _overlaps(shared: Sequence[str]) -> list[str]:
    if not shared:
        return []
    more = len(shared) - _MOST_NAMED
    listed = ", ".join(shared[:_MOST_NAMED]) + (f" and {more} more pairs" if more > 0 else "")
    return [
        f"Outlines of buildings overlap: {listed}. That ground is cut from one of the two, and "
        "walls inside the other count as shared, not as outside walls; correct the outlines where "
        "it matters."
    ]


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
    notices: list[str],
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
    kinds = f"; {unusable} of its features enclose no ground and are left out" if unusable else ""
    notices.append(
        f"{table.outline.file}: {len(made)} buildings within {NEAR_M:.0f} m that no other "
        f"[[building]] names count as neighbors'{kinds}."
    )
    return tuple(made.values())


def _is_one_of(shape: Polygon, named: Sequence[Polygon]) -> bool:
    return any(
        shape.intersection(one).area > MOST_SHARED * min(shape.area, one.area) for one in named
    )


def off_the_lot(
    buildings: Sequence[Building], lot: Lot | None, kept: Collection[str | None], notices: list[str]
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
        notices.append(
            f"Off the lot, and so not judged: {', '.join(repr(name) for name in off)}; give "
            "neighbor = false to have a building judged all the same."
        )
    return tuple(replace(b, neighbor=b.neighbor or b.name in off) for b in buildings)
