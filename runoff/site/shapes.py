"""Typed positions, corners and outlines to plan geometry, complaining where they cannot be used.

In: what the tables hold. Out: arrays and polygons in plan metres, or None once a complaint is made.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon

from runoff.site.area_tables import AreaTable
from runoff.site.complaints import Complaints
from runoff.site.entries import Outlined, OutlineTable
from runoff.site.georeference import Frame, MapError
from runoff.site.named_points import NamedPoints, shown_ties
from runoff.site.outlines import (
    LEAST_AREA_M2,
    SAME_PLACE_M,
    OutlineError,
    VectorFiles,
    polygon,
)
from runoff.site.positions import Path as Entry
from runoff.site.tie_tables import TiedTable
from runoff.site.ties import TieError
from runoff.site.wall_runs import Run, RunError, close, parse_run

Typed = Sequence[tuple[float, float]]


@dataclass
class Shapes:
    """Makes plan geometry for one site.

    Parameters
    ----------
    folder : Path
        The site file's folder, which relative paths start from.
    frame : Frame
        How typed positions become plan metres.
    complaints : Complaints
        Takes what is wrong.
    files : VectorFiles
        Outlines from vector files.
    points : NamedPoints
        Points that places may be taped from.
    """

    folder: Path
    frame: Frame
    complaints: Complaints
    files: VectorFiles
    points: NamedPoints

    @property
    def system(self) -> str:
        """The measures to show to this user."""
        return "metric" if self.frame.unit == 1.0 else "us"

    def spot(self, typed: Any, entry: Entry) -> tuple[float, float] | None:
        """One position on the plan, by coordinates or by tape ties."""
        return self.tied(typed, entry) if isinstance(typed, TiedTable) else self.point(typed, entry)

    def tied(self, table: TiedTable, entry: Entry) -> tuple[float, float] | None:
        """Where tape ties from named points meet."""
        strange = [
            ((*entry, "ties", place, "from"), tie.point)
            for place, tie in enumerate(table.ties)
            if tie.point not in self.points.at
        ]
        if table.near is not None and table.near not in self.points.at:
            strange.append(((*entry, "near"), table.near))
        for where, name in strange:
            self.complaints.add(where, self.points.expected(name))
        if strange:
            return None
        ties = [(tie.point, tie.distance) for tie in table.ties]
        try:
            return self.points.tied(ties, table.side, table.near, self.complaints.entry(entry))
        except TieError as error:
            self.complaints.add((*entry, "ties"), str(error), shown_ties(ties, self.points))
            return None

    def point(self, typed: tuple[float, float], entry: Entry) -> tuple[float, float] | None:
        """One position on the plan."""
        placed = self.placed([typed], entry)
        return None if placed is None else (float(placed[0, 0]), float(placed[0, 1]))

    def placed(self, typed: Typed, entry: Entry) -> NDArray[np.float64] | None:
        """(k, 2) positions on the plan."""
        try:
            return self.frame.to_plan(typed)
        except MapError as error:
            self.complaints.add(entry, str(error))
            return None

    def line(self, typed: Typed, entry: Entry) -> NDArray[np.float64] | None:
        """A line of (k, 2) positions, each different from the one before."""
        placed = self.placed(typed, entry)
        if placed is None:
            return None
        repeated = np.flatnonzero(np.hypot(*np.diff(placed, axis=0).T) == 0.0)
        if repeated.size:
            number = int(repeated[0]) + 1
            self.complaints.add(
                (*entry, number), "a point that differs from the one before it in the line"
            )
            return None
        return placed

    def outlined(
        self, table: Outlined, entry: Entry, courtyards: Sequence[Typed] = ()
    ) -> tuple[Polygon, NDArray[np.float64]] | None:
        """The polygon of a table with corners or a vector file, and its corners in order."""
        if table.outline is not None:
            found = self.from_file(table.outline, (*entry, "outline"))
            if found is None or not courtyards:
                return found
            self.complaints.add(
                (*entry, "courtyards"), "courtyards as holes of the outline in the vector file"
            )
            return None
        if table.runs is not None:
            return self._by_runs(table, table.runs, entry, courtyards)
        return self.polygon(table.corners or [], (*entry, "corners"), courtyards)

    def _by_runs(
        self, table: Outlined, texts: Sequence[str], entry: Entry, courtyards: Sequence[Typed]
    ) -> tuple[Polygon, NDArray[np.float64]] | None:
        """The polygon that runs of wall enclose, closed by the compass rule."""
        start = self.point(table.start, (*entry, "start")) if table.start is not None else None
        runs: list[Run] = []
        for number, text in enumerate(texts):
            try:
                runs.append(parse_run(text, "m" if self.frame.unit == 1.0 else "ft"))
            except RunError as error:
                self.complaints.add((*entry, "runs", number), str(error))
        if start is None or len(runs) < len(texts):
            return None
        try:
            closed = close(runs, start, self.points)
        except RunError as error:
            where: Entry = (*entry, "runs", 0) if runs[0].bearing is None else (*entry, "runs")
            self.complaints.add(where, str(error))
            return None
        if closed.misclosure > SAME_PLACE_M:
            self.points.notices.append(
                f"{self.complaints.entry(entry)}: its runs miss their start by "
                f"{self.points.show(closed.misclosure)} in {self.points.show(closed.length)}; the "
                "corners are adjusted by the compass rule"
            )
        try:
            holes = [self.frame.to_plan(hole) for hole in courtyards]
            return polygon(closed.corners, holes)
        except (MapError, OutlineError) as error:
            self.complaints.add((*entry, "runs"), str(error))
            return None

    def polygon(
        self, corners: Typed, entry: Entry, courtyards: Sequence[Typed] = ()
    ) -> tuple[Polygon, NDArray[np.float64]] | None:
        """The polygon with these corners, and the corners in order."""
        try:
            holes = [self.frame.to_plan(hole) for hole in courtyards]
            return polygon(self.frame.to_plan(corners), holes)
        except (MapError, OutlineError) as error:
            self.complaints.add(entry, str(error))
            return None

    def from_file(
        self, outline: OutlineTable, entry: Entry
    ) -> tuple[Polygon, NDArray[np.float64]] | None:
        """An outline from a vector file."""
        try:
            return self.files.outline(
                self.folder / outline.file, outline.file, outline.layer, outline.pick
            )
        except OutlineError as error:
            self.complaints.add(entry, str(error))
            return None

    def area(self, table: AreaTable, entry: Entry) -> Polygon | None:
        """The ground of a keep-out or an easement."""
        if table.outline is not None:
            found = self.from_file(table.outline, (*entry, "outline"))
            return None if found is None else found[0]
        if table.corners is not None:
            found = self.polygon(table.corners, (*entry, "corners"))
            return None if found is None else found[0]
        if table.point is not None and table.radius is not None:
            center = self.spot(table.point, (*entry, "point"))
            return None if center is None else Point(center).buffer(table.radius, quad_segs=16)
        middle = self.line(table.line or [], (*entry, "line"))
        if middle is None or table.width is None:
            return None
        strip = LineString(middle).buffer(table.width / 2.0, cap_style="flat")
        if not isinstance(strip, Polygon) or strip.area < LEAST_AREA_M2:
            self.complaints.add((*entry, "line"), "a line whose strip is one piece of ground")
            return None
        return strip

    def place(self, table: Any, entry: Entry) -> Any:
        """A point, line or area that may take water."""
        if table.point is not None:
            position = self.spot(table.point, (*entry, "point"))
            return None if position is None else Point(position)
        if table.line is not None:
            line = self.line(table.line, (*entry, "line"))
            return None if line is None else LineString(line)
        found = self.polygon(table.corners, (*entry, "corners"))
        return None if found is None else found[0]
