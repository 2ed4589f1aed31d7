"""Break lines, barriers and drains: the tables of the site file to the records of the model."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np

from runoff.site.model import Barrier, BreakLine, Drain, SpotHeight, Written
from runoff.site.notices import Notice, SiteCode
from runoff.site.problems import Complaints
from runoff.site.shapes import Shapes
from runoff.site.survey.spots import unknown_spot
from runoff.site.written.document import BarrierTable, BreakLineTable, DrainTable
from runoff.site.written.entries import spread
from runoff.site.written.entry_lines import Path as Entry


@dataclass
class GroundReader:
    """Makes what shapes the ground; `spots` is None where the spot heights could not be read.

    `not_taken` names the points whose rows have no height: lines go on without them.
    """

    shapes: Shapes
    complaints: Complaints
    spots: Mapping[str, SpotHeight] | None
    not_taken: Collection[str]
    notices: list[Notice]

    def break_line(self, number: int, table: BreakLineTable) -> BreakLine | None:
        """A break line through spot heights or by coordinates."""
        entry: Entry = ("break_line", number)
        if table.through is not None:
            return self._through(table, table.through, entry)
        points = table.points or []
        line = self.shapes.line(points, (*entry, "points"))
        if line is None:
            return None
        top = table.top if table.height is None else table.height
        foot = None if table.foot is None else np.array(spread(table.foot, len(line)))
        return BreakLine(
            name=table.name,
            line=line,
            top=np.array(spread(top, len(line)), dtype=np.float64),
            foot=foot,
            foot_side=table.foot_side,
            spots=(),
            written=written(self.complaints, entry),
        )

    def _through(self, table: BreakLineTable, names: list[str], entry: Entry) -> BreakLine | None:
        if self.spots is None:
            return None
        before = len(self.complaints.problems)
        lacking = [name for name in dict.fromkeys(names) if name in self.not_taken]
        for place, name in enumerate(names):
            if name in lacking:
                continue
            if name not in self.spots:
                self.complaints.add(
                    (*entry, "through", place), unknown_spot(name, list(self.spots))
                )
            elif place and name == names[place - 1]:
                self.complaints.add(
                    (*entry, "through", place), "a spot height other than the one before it"
                )
        if len(self.complaints.problems) > before:
            return None
        names = [name for name in names if name not in lacking]
        names = [name for place, name in enumerate(names) if not place or name != names[place - 1]]
        if lacking:
            code: SiteCode = "line goes on past spots" if len(names) > 1 else "line without spots"
            self.notices.append(Notice(code, (table.name, *lacking)))
        if len(names) < 2:
            return None
        spots = [self.spots[name] for name in names]
        top = np.array([spot.z for spot in spots], dtype=np.float64)
        return BreakLine(
            name=table.name,
            line=np.array([(spot.x, spot.y) for spot in spots], dtype=np.float64),
            top=top,
            foot=None if table.drop is None else top - table.drop,
            foot_side=table.foot_side,
            spots=tuple(names),
            written=written(self.complaints, entry),
        )

    def barrier(self, number: int, table: BarrierTable) -> Barrier | None:
        """A barrier along its line."""
        entry: Entry = ("barrier", number)
        line = self.shapes.line(table.points, (*entry, "points"))
        if line is None:
            return None
        return Barrier(table.name, line, table.height, written(self.complaints, entry))

    def drain(self, number: int, table: DrainTable) -> Drain | None:
        """A drain from its inlet to its outlet."""
        entry: Entry = ("drain", number)
        inlet = self.shapes.spot(table.inlet, (*entry, "inlet"))
        outlet = None
        if not isinstance(table.outlet, str):
            outlet = self.shapes.spot(table.outlet, (*entry, "outlet"))
            if outlet is None:
                return None
        if inlet is None:
            return None
        if inlet == outlet:
            self.complaints.add((*entry, "outlet"), "an outlet at another place than the inlet")
            return None
        return Drain(table.name, inlet, outlet, table.capacity, written(self.complaints, entry))


def written(complaints: Complaints, entry: Entry) -> Written:
    """Where an entry of the site file stands."""
    return Written(complaints.file, complaints.line(entry), complaints.entry(entry))
