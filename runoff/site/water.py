"""Roofs and downspouts: the tables of the site file to the records of the model."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shapely import Point

from runoff.site.complaints import Complaints, hint
from runoff.site.document import DownspoutTable, RoofShareTable, RoofTable
from runoff.site.ground import written
from runoff.site.model import Building, Downspout, Roof
from runoff.site.places import wall_place
from runoff.site.positions import Path as Entry
from runoff.site.shapes import Shapes

ON_EDGE_M = 0.02
SHARE_ROUNDING = 1e-9


@dataclass
class WaterReader:
    """Makes roofs and downspouts.

    Parameters
    ----------
    buildings : sequence of Building
        Those that could be made.
    building_names, roof_names : sequence of str
        All that the file names, so that one mistake is not told twice.
    """

    shapes: Shapes
    complaints: Complaints
    buildings: Sequence[Building]
    building_names: Sequence[str]
    roof_names: Sequence[str]

    def roof(self, number: int, table: RoofTable) -> Roof | None:
        """A roof plane with its plan area."""
        entry: Entry = ("roof", number)
        outline = None
        if table.corners is not None:
            found = self.shapes.polygon(table.corners, (*entry, "corners"))
            if found is None:
                return None
            outline = found[0]
            area = float(outline.area)
        elif table.plan_area is not None:
            area = table.plan_area
        else:
            area = (table.length or 0.0) * (table.width or 0.0)
        where = written(self.complaints, entry)
        return Roof(table.name, area, table.pitch, outline, where)

    def downspout(self, number: int, table: DownspoutTable) -> Downspout | None:
        """A downspout at its place, with the roofs it carries."""
        entry: Entry = ("downspout", number)
        roofs = self._roofs(table, entry)
        building = None
        if isinstance(table.at, tuple):
            position = self.shapes.point(table.at, (*entry, "at"))
        else:
            building = table.at.building
            position = self._on_wall(table, entry)
        if position is None or roofs is None:
            return None
        if not self._outside(position, (*entry, "at")):
            return None
        where = written(self.complaints, entry)
        return Downspout(table.name, *position, roofs, building, where)

    def _on_wall(self, table: DownspoutTable, entry: Entry) -> tuple[float, float] | None:
        if table.at.building not in self.building_names:
            self.complaints.add(
                (*entry, "at", "building"),
                f"the name of a building, {hint(table.at.building, self.building_names)}",
            )
            return None
        for building in self.buildings:
            if building.name == table.at.building:
                return wall_place(table.at, building, (*entry, "at"), self.shapes)
        return None

    def _outside(self, position: tuple[float, float], entry: Entry) -> bool:
        """Whether a downspout's foot stands outside the buildings or on the edge of one."""
        foot = Point(position)
        for building in self.buildings:
            inside = building.outline.covers(foot)
            if inside and building.outline.boundary.distance(foot) > ON_EDGE_M:
                self.complaints.add(
                    entry, f"a place outside building {building.name!r} or on its wall"
                )
                return False
        return True

    def _roofs(self, table: DownspoutTable, entry: Entry) -> tuple[tuple[str, float], ...] | None:
        carried: list[tuple[str, float]] = []
        before = len(self.complaints.problems)
        for place, item in enumerate(table.roofs):
            path: Entry = (*entry, "roofs", place)
            if isinstance(item, RoofShareTable):
                name, share, path = item.roof, item.share, (*path, "roof")
            else:
                name, share = item, 1.0
            if name not in self.roof_names:
                known = hint(name, self.roof_names)
                self.complaints.add(path, f"the name of a roof, {known}")
            elif name in dict(carried):
                self.complaints.add(path, "each roof once for a downspout")
            carried.append((name, share))
        return None if len(self.complaints.problems) > before else tuple(carried)

    def check_shares(
        self, downspouts: Sequence[Downspout], numbers: Mapping[str, int]
    ) -> list[str]:
        """Complain where downspouts carry more than a roof sheds; notices where they carry less."""
        carried: dict[str, list[float]] = {name: [] for name in self.roof_names}
        for spout in downspouts:
            for place, (roof, share) in enumerate(spout.roofs):
                carried[roof].append(share)
                before = math.fsum(carried[roof][:-1])
                total = math.fsum(carried[roof])
                if before <= 1.0 + SHARE_ROUNDING < total:
                    self.complaints.add(
                        ("downspout", numbers[spout.name], "roofs", place),
                        f"shares of roof {roof!r} that add up to 1 at most; with this one they "
                        f'are {total:g}; write such as {{roof = "{roof}", share = 0.5}}',
                    )
        return [
            f"roof {name!r}: downspouts carry {math.fsum(shares):g} of it; the rest is left out"
            for name, shares in carried.items()
            if math.fsum(shares) < 1.0 - SHARE_ROUNDING
        ]
