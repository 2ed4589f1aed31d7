"""From field sheets to spot heights: places from ties and walls, heights from level notes.

In: the sheets that ``[terrain]`` names. Out: spot heights with a place and a height each, and the
accuracy that their leveling gives; problems name sheet and row.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, cast

from runoff.rules import Rules
from runoff.site.model import Building, HeightAccuracy, Side, SpotHeight, Written
from runoff.site.notices import Notice
from runoff.site.problems import Complaints, InputError, Problem, hint
from runoff.site.settings import SIGMA_RULES
from runoff.site.survey.levels import LevelTable, reduce_levels
from runoff.site.survey.spots import FEWEST_HEIGHTS, SIDES, SpotRow, WallSpot, read_spots
from runoff.site.survey.ties import NamedPoints, TieError, shown_ties
from runoff.site.wall_places import ROUNDING_M, along_wall, wall_length
from runoff.site.written.document import TerrainTable

ToPlan = Callable[[tuple[float, float]], tuple[float, float] | None]


@dataclass
class Survey:
    """Reads the field sheets of one site.

    Parameters
    ----------
    terrain : TerrainTable
    folder : Path
        The site file's folder.
    units : {"ft", "m"}
    not_taken : set of str
        Names of points without a height, known once the spot heights are placed.
    """

    terrain: TerrainTable
    folder: Path
    units: str
    rules: Rules
    complaints: Complaints
    notices: list[Notice]
    not_taken: set[str] = field(default_factory=set)

    def rows(self) -> list[SpotRow] | None:
        """Rows of the sheets of points, joined by name; None where one could not be read."""
        terrain = self.terrain
        by_levels = terrain.levels is not None
        spots = self._sheet("spot_heights", terrain.ties is not None, by_levels)
        tied = self._sheet("ties", False, True)
        if spots is None or tied is None:
            return None
        return self._joined(spots, tied)

    def _sheet(
        self, entry: str, places_elsewhere: bool, heights_elsewhere: bool
    ) -> list[SpotRow] | None:
        name = getattr(self.terrain, entry)
        if name is None:
            return []
        try:
            rows, notices = read_spots(
                self.folder / name, name, self.units, places_elsewhere, heights_elsewhere
            )
        except InputError as error:
            self._complain(error.problems, entry)
            return None
        self.notices += notices
        return rows

    def _complain(self, problems: Sequence[Problem], entry: str) -> None:
        """Problems of a sheet, or of the entry that asks for it."""
        for problem in problems:
            if problem.line is None:
                self.complaints.add(("terrain", entry), problem.expected)
            else:
                self.complaints.problems.append(problem)

    def _joined(self, spots: list[SpotRow], tied: list[SpotRow]) -> list[SpotRow]:
        """Rows of both sheets; a point in both has its place in one and its height in one."""
        rows = {row.name: row for row in spots}
        for row in tied:
            other = rows.get(row.name)
            if other is None:
                rows[row.name] = row
            elif other.is_placed or (other.z is not None and row.z is not None):
                what = "place" if other.is_placed else "height"
                _complain(
                    self.complaints,
                    row,
                    "",
                    "",
                    f"its {what} in one sheet; {other.file}, line {other.line} has it already",
                )
            else:
                remark = other.remark or row.remark
                height = row.z if other.z is None else other.z
                rows[row.name] = replace(row, z=height, remark=remark)
        return list(rows.values())

    def levels(
        self, rows: Sequence[SpotRow] | None, known: Mapping[str, float]
    ) -> LevelTable | None:
        """The level notes reduced; None where there are none, or they cannot be used."""
        name = self.terrain.levels
        if name is None:
            return None
        typed = {row.name: row.z for row in rows or () if row.z is not None}
        try:
            table = reduce_levels(
                self.folder / name,
                self.units,
                {**known, **typed},
                self.rules,
                name,
                self.terrain.heights_by,
            )
        except InputError as error:
            self._complain(error.problems, "levels")
            return None
        self.complaints.problems += table.problems
        self.notices += table.warnings
        if table.datum_assumed and typed:
            self.complaints.add(
                ("terrain", "levels"),
                "level notes with a point whose height is given, as other heights are typed: a "
                "height on the first row, or a sight on one of those points",
            )
        return table

    def placed(
        self,
        rows: Sequence[SpotRow] | None,
        levels: LevelTable | None,
        buildings: Sequence[Building],
        points: NamedPoints,
        to_plan: ToPlan,
    ) -> list[SpotHeight] | None:
        """Spot heights on the plan; None, and complaints, where one has no place.

        A row without a height is passed over, for not every point of a list is taken; but where
        fewer than three have one, or a reading's name is nearly the row's, the row is told.
        """
        if rows is None or (self.terrain.levels is not None and levels is None):
            return None
        before = len(self.complaints.problems)
        self._places(rows, buildings, points, to_plan)
        heights = {} if levels is None else levels.heights
        known = {row.name: heights.get(row.name) if row.z is None else row.z for row in rows}
        few = sum(height is not None for height in known.values()) < FEWEST_HEIGHTS
        found: list[SpotHeight] = []
        for row in rows:
            height = known[row.name]
            near = "" if height is not None else hint(row.name, heights)
            if height is None and (few or near.startswith("such")):
                self._lacks(row, near)
            elif height is None:
                self.not_taken.add(row.name)
            elif row.name in points.at:
                x, y = points.at[row.name]
                where = Written(row.file, row.line, f"spot height {row.name!r}")
                found.append(SpotHeight(row.name, x, y, height, row.remark, where))
        self._say_not_taken(rows)
        if levels is not None:
            self._say_unplaced(levels, rows)
        return found if len(self.complaints.problems) == before else None

    def _lacks(self, row: SpotRow, near: str) -> None:
        sheet = self.terrain.levels
        expected = 'a height, such as 12.5 or "12 ft 6 in"; take the row out if it was not taken'
        if sheet is not None:
            known = f" ({near} there)" if near.startswith("such") else ""
            expected = f"a height here, or a reading on it in {sheet}{known}"
        _complain(self.complaints, row, "z", "", expected)

    def _say_not_taken(self, rows: Sequence[SpotRow]) -> None:
        left = [row for row in rows if row.name in self.not_taken]
        if left:
            names = tuple(row.name for row in left)
            self.notices.append(Notice("spots without height", names, file=left[0].file))

    def _say_unplaced(self, levels: LevelTable, rows: Sequence[SpotRow]) -> None:
        placed = {row.name for row in rows}
        left = [point.name for point in levels.points if point.name not in placed]
        if left:
            file = str(self.terrain.levels)
            self.notices.append(Notice("levels without place", tuple(left), file=file))

    def _places(
        self,
        rows: Sequence[SpotRow],
        buildings: Sequence[Building],
        points: NamedPoints,
        to_plan: ToPlan,
    ) -> None:
        """Put the rows on the plan, tied ones once what they are taped from is placed."""
        names = {row.name for row in rows}
        for row in rows:
            place: tuple[float, float] | None = None
            if row.x is not None and row.y is not None:
                place = to_plan((row.x, row.y))
            elif row.wall is not None:
                place = self._on_wall(row, row.wall, buildings, points)
            if place is not None:
                points.at[row.name] = place
        waiting = [row for row in rows if row.ties]
        for row in list(waiting):
            strange = [name for name in _taped_from(row) if name not in names | set(points.at)]
            if strange:
                expected = points.expected(strange[0], names)
                _complain(self.complaints, row, "ties", strange[0], expected)
                waiting.remove(row)
        while waiting:
            ready = [row for row in waiting if not points.unknown(_taped_from(row))]
            if not ready:
                break
            for row in ready:
                waiting.remove(row)
                self._tied(row, points)
        said = {problem.entry for problem in self.complaints.problems}
        for row in waiting:
            missing = points.unknown(_taped_from(row))
            if not any(f"{name!r}" in entry for name in missing for entry in said):
                _complain(
                    self.complaints,
                    row,
                    "ties",
                    ", ".join(missing),
                    "ties from points that have a place of their own, and not from each other",
                )

    def _tied(self, row: SpotRow, points: NamedPoints) -> None:
        ties = [(tie.point, tie.distance) for tie in row.ties]
        side = cast(Side, row.side) if row.side in SIDES else None
        near = row.side.removeprefix("near ") if row.side.startswith("near ") else None
        try:
            place = points.tied(ties, side, near, f"{row.file}, line {row.line}: {row.name!r}")
        except TieError as error:
            _complain(self.complaints, row, "ties", shown_ties(ties, points), str(error))
            return
        points.at[row.name] = place

    def _on_wall(
        self,
        row: SpotRow,
        spot: WallSpot,
        buildings: Sequence[Building],
        points: NamedPoints,
    ) -> tuple[float, float] | None:
        named = [b for b in buildings if b.name == spot.building or not spot.building]
        if len(named) != 1:
            known = hint(spot.building, [building.name for building in buildings])
            expected = f"the building that the wall belongs to, {known}"
            _complain(self.complaints, row, "building", spot.building, expected)
            return None
        building = named[0]
        wall = _wall(spot.wall, building)
        if wall is None:
            expected = f"a wall of building {building.name!r}, {hint(spot.wall, building.walls)}"
            _complain(self.complaints, row, "wall", spot.wall, expected)
            return None
        length = wall_length(building, wall)
        if spot.along > length + ROUNDING_M:
            expected = (
                f"a distance along {building.walls[wall]!r} of at most its length, "
                f"{points.show(length)}"
            )
            _complain(self.complaints, row, "along", points.show(spot.along), expected)
            return None
        return along_wall(building, wall, min(spot.along, length), spot.out)

    def accuracy(
        self,
        levels: LevelTable | None,
        stated: HeightAccuracy,
        rows: Sequence[SpotRow] | None,
        said: Sequence[Notice],
    ) -> HeightAccuracy:
        """How good a height is: as stated, else as the leveling has it, else as is assumed.

        One height's standard deviation by its instrument, and what the rod was read to over the
        setups to the farthest point, are independent: the root of the sum of their squares. Where
        heights were typed as well, the worse of both.

        Parameters
        ----------
        stated : HeightAccuracy
            What ``[terrain]`` says, or what is assumed where it does not.
        said : sequence of Notice
            The notices of that assumption.
        """
        if levels is None or self.terrain.accuracy is not None or stated.indication_only:
            self.notices += said
            return stated
        by = levels.by if self.terrain.heights_by is None else stated.method
        sigma = levels.sigma
        if not levels.is_level_line:
            sigma = math.hypot(self.rules[SIGMA_RULES[by]], sigma)
        found = HeightAccuracy(sigma, by, False)
        typed = [r for r in rows or () if r.z is not None and r.name not in levels.heights]
        if typed and stated.sigma > sigma:
            self.notices += said
            return stated
        return found


def _taped_from(row: SpotRow) -> list[str]:
    near = [row.side.removeprefix("near ")] if row.side.startswith("near ") else []
    return [tie.point for tie in row.ties] + near


def _wall(written: str, building: Building) -> int | None:
    if written in building.walls:
        return building.walls.index(written)
    if written.isascii() and written.isdigit() and 1 <= int(written[:9]) <= len(building.walls):
        return int(written[:9]) - 1
    return None


def _complain(complaints: Complaints, row: SpotRow, column: str, said: str, expected: str) -> None:
    entry: Any = f"spot height {row.name!r}" + (f" . {column}" if column else "")
    complaints.problems.append(Problem(row.file, row.line, entry, said, expected))
