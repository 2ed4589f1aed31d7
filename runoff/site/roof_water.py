"""Roofs, gutters, downspouts and sumps: the tables of the site file to the records of the model."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from runoff.site.ground import written
from runoff.site.model import Building, Downspout, GutterRun, Roof, Sump
from runoff.site.notices import Notice
from runoff.site.problems import Complaints, hint
from runoff.site.shapes import Shapes
from runoff.site.wall_places import along_wall, check_wall, named_building, stretch, wall_place
from runoff.site.written.document import (
    DownspoutTable,
    EaveTable,
    GutterTable,
    RoofShareTable,
    RoofTable,
    SumpTable,
    WallPlaceTable,
)
from runoff.site.written.entry_lines import Path as Entry

ON_EDGE_M = 0.02
SHARE_ROUNDING = 1e-9


@dataclass
class WaterReader:
    """Makes roofs, gutters, downspouts and sumps.

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
        eave = None
        if table.eave is not None:
            eave = self._eave(table.eave, (*entry, "eave"))
            if eave is None:
                return None
        if table.onto is not None and table.onto not in self.roof_names:
            known = hint(table.onto, self.roof_names)
            self.complaints.add((*entry, "onto"), f"the name of a lower roof, {known}")
            return None
        where = written(self.complaints, entry)
        return Roof(
            name=table.name,
            plan_area=area,
            pitch=table.pitch,
            outline=outline,
            written=where,
            eave=eave,
            onto=table.onto or "",
            wall_above=table.wall_above or 0.0,
            length=table.length,
        )

    def _eave(self, eave: list[tuple[float, float]] | EaveTable, entry: Entry) -> Any:
        """The (k, 2) drip line of an eave without a gutter."""
        if not isinstance(eave, EaveTable):
            return self.shapes.line(eave, entry)
        building = self._building(eave.building, (*entry, "building"))
        if building is None:
            check_wall(eave.wall, eave.building, (*entry, "wall"), self.complaints)
            return None
        run = stretch(eave, building, entry, self.shapes)
        if run is None:
            return None
        wall, start, end = run
        return np.array([along_wall(building, wall, at, eave.out) for at in (start, end)])

    def check_onto(self, roofs: Sequence[Roof], numbers: Mapping[str, int]) -> None:
        """Complain, once a ring, where roofs drain onto each other in a ring."""
        onto = {roof.name: roof.onto for roof in roofs if roof.onto}
        told: set[str] = set()
        for roof in roofs:
            ring = [roof.name]
            while onto.get(ring[-1]) and onto[ring[-1]] not in ring:
                ring.append(onto[ring[-1]])
            if onto.get(ring[-1]) == roof.name and not told & set(ring):
                told |= set(ring)
                self.complaints.add(
                    ("roof", numbers[roof.name], "onto"),
                    "a lower roof, whose water does not come back to this one",
                )

    def gutter(self, number: int, table: GutterTable, roofs: Sequence[Roof]) -> GutterRun | None:
        """A gutter; its eave is the roof's length where no other is given."""
        entry: Entry = ("gutter", number)
        if table.roof not in self.roof_names:
            known = hint(table.roof, self.roof_names)
            self.complaints.add((*entry, "roof"), f"the name of a roof, {known}")
            return None
        lengths = {roof.name: roof.length for roof in roofs}
        return GutterRun(
            name=table.name,
            roof=table.roof,
            shape=table.shape,
            size=table.size,
            eave=table.eave or lengths.get(table.roof),
            outlet_ends=table.outlet_ends,
            outlet=table.outlet,
            written=written(self.complaints, entry),
        )

    def sump(self, number: int, table: SumpTable) -> Sump | None:
        """A sump pump's outlet."""
        entry: Entry = ("sump", number)
        outlet = self.shapes.spot(table.outlet, (*entry, "outlet"))
        if outlet is None or not self._outside(outlet, (*entry, "outlet")):
            return None
        return Sump(table.name, outlet, table.rate, written(self.complaints, entry))

    def downspout(self, number: int, table: DownspoutTable) -> Downspout | None:
        """A downspout at its place, with the roofs it carries."""
        entry: Entry = ("downspout", number)
        roofs = self._roofs(table, entry)
        building = None
        if isinstance(table.at, WallPlaceTable):
            building = table.at.building
            position = self._on_wall(table.at, (*entry, "at"))
        else:
            position = self.shapes.spot(table.at, (*entry, "at"))
        if position is None or roofs is None:
            return None
        if not self._outside(position, (*entry, "at")):
            return None
        route = None
        if table.route is not None:
            route = self._route(table.route, position, (*entry, "route"))
            if route is None:
                return None
        where = written(self.complaints, entry)
        return Downspout(table.name, *position, roofs, building, where, table.size, route)

    def _route(
        self, typed: list[tuple[float, float]], foot: tuple[float, float], entry: Entry
    ) -> NDArray[np.float64] | None:
        """The (k, 2) way of a buried line, without the downspout's foot that it starts from."""
        route = self.shapes.line(typed, entry)
        if route is not None and np.hypot(*(route[0] - foot)) <= ON_EDGE_M:
            self.complaints.add(
                (*entry, 0), "a point away from the downspout's foot, which the route starts from"
            )
            return None
        return route

    def _on_wall(self, at: WallPlaceTable, entry: Entry) -> tuple[float, float] | None:
        building = self._building(at.building, (*entry, "building"))
        if building is None:
            check_wall(at.wall, at.building, (*entry, "wall"), self.complaints)
            return None
        return wall_place(at, building, entry, self.shapes)

    def _building(self, name: str, entry: Entry) -> Building | None:
        return named_building(name, entry, self.buildings, self.building_names, self.complaints)

    def _outside(self, position: tuple[float, float], entry: Entry) -> bool:
        """Whether a place lies outside the buildings or on the edge of one."""
        foot = shapely.Point(position)
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
        self,
        downspouts: Sequence[Downspout],
        numbers: Mapping[str, int],
        with_rest: Collection[str],
    ) -> list[Notice]:
        """Complain where downspouts carry more than a roof sheds; notices where they carry less.

        `with_rest` names the roofs whose rest goes over an eave or onto a lower roof.
        """
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
            Notice("roof carried in part", (name,), {"share": math.fsum(shares)})
            for name, shares in carried.items()
            if math.fsum(shares) < 1.0 - SHARE_ROUNDING and name not in with_rest
        ]
