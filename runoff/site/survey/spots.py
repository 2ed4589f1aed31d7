"""Points from a CSV file, each row checked on its own so that every mistake names its line.

In: rows of a name, a place (x and y, a distance along a wall, or tape ties), a height and, if
wanted, a remark. Out: names, places as typed, heights in metres.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from pydantic_core import PydanticCustomError

from runoff.site.files import read_text
from runoff.site.notices import Notice
from runoff.site.problems import InputError, hint, shorten
from runoff.site.survey.sheets import Form, Sheet, SheetRow, parse_sheet
from runoff.site.written.fields import Metres, read_coordinate

MOST_TIES = 6
_TIES = {
    key: (f"{word} {k}", f"{word}{k}")
    for k in range(1, MOST_TIES + 1)
    for key, word in ((f"from {k}", "from"), (f"tie {k}", "tie"))
}
HEADINGS: Mapping[str, Sequence[str]] = {
    "name": ("name", "point"),
    "x": ("x",),
    "y": ("y",),
    "z": ("z", "height"),
    "remark": ("remark", "remarks", "note", "notes"),
    "building": ("building",),
    "wall": ("wall",),
    "along": ("along", "along wall"),
    "out": ("out", "out from wall"),
    "side": ("side",),
    **_TIES,
}
HEADER = "a header row such as name,x,y,z,remark or name,from_1,tie_1,from_2,tie_2,side,z"
FORM = Form(HEADINGS, {}, HEADER)
SIDES = ("left", "right")
FEWEST_HEIGHTS = 3


@dataclass(frozen=True)
class WallSpot:
    """A place along a wall as typed; distances in metres."""

    building: str
    wall: str
    along: float
    out: float


@dataclass(frozen=True)
class TypedTie:
    """A tie as typed: the name of the point it is taped from, and metres."""

    point: str
    distance: float


@dataclass(frozen=True)
class SpotRow:
    """One row: x and y as typed (`Metres` where a unit is written), z in metres; None for none.

    `side` is "left", "right", "near" with a point's name behind it, or empty.
    """

    name: str
    x: float | None
    y: float | None
    z: float | None
    remark: str
    line: int
    file: str = ""
    wall: WallSpot | None = None
    ties: tuple[TypedTie, ...] = ()
    side: str = ""

    @property
    def is_placed(self) -> bool:
        """Whether the row says where the point is."""
        return self.x is not None or self.wall is not None or bool(self.ties)


def read_spots(
    path: Path,
    shown: str,
    units: str,
    places_elsewhere: bool = False,
    heights_elsewhere: bool = False,
) -> tuple[list[SpotRow], list[Notice]]:
    """Read points.

    Parameters
    ----------
    path : Path
        The CSV file.
    shown : str
        Its name as the user wrote it.
    units : {"ft", "m"}
        Unit of bare heights and of bare distances.
    places_elsewhere, heights_elsewhere : bool
        Whether a row may leave its place, or its height, to another sheet.

    Returns
    -------
    rows : list of SpotRow
    notices : list of Notice
        What was taken for granted in reading it.

    Raises
    ------
    InputError
        With one problem for each mistake, naming its line.
    """
    text = read_text(path, shown, "a CSV file of spot heights in UTF-8")
    sheet = Sheet(shown, units, "spot height")
    parse_sheet(text, sheet, FORM)
    reader = _SpotReader(sheet, places_elsewhere, heights_elsewhere)
    if reader.header_fits():
        for row in sheet.rows:
            reader.row(row)
        reader.refuse_too_few_heights()
    if sheet.problems:
        raise InputError(sheet.problems)
    return reader.rows, sheet.notices


class _SpotReader:
    """Takes the rows of one sheet."""

    def __init__(self, sheet: Sheet, places_elsewhere: bool, heights_elsewhere: bool) -> None:
        self.sheet = sheet
        self.places_elsewhere = places_elsewhere
        self.heights_elsewhere = heights_elsewhere
        self.rows: list[SpotRow] = []
        self._lines: dict[str, int] = {}

    def header_fits(self) -> bool:
        """Whether the columns can say what is needed; a problem where they cannot."""
        columns = self.sheet.columns
        if not columns:
            return False
        written, line = ", ".join(columns), self.sheet.header_line
        if "x" in columns and "y" in columns and columns.index("y") < columns.index("x"):
            self.sheet.complain(line, "header", written, "the columns in this order: x before y")
        elif (
            "name" not in columns
            or ("x" in columns) != ("y" in columns)
            or not (self._places_in(columns) or self.places_elsewhere)
        ):
            self.sheet.complain(line, "header", written, HEADER)
        elif "z" not in columns and not self.heights_elsewhere:
            self.sheet.complain(
                line, "header", written, f'{HEADER}; without z, levels = "levels.csv" in [terrain]'
            )
        return not self.sheet.problems

    @staticmethod
    def _places_in(columns: Sequence[str]) -> bool:
        return "x" in columns or "wall" in columns or "tie 1" in columns

    def row(self, row: SheetRow) -> None:
        """Take one row, complaining about all that is wrong with it."""
        before = len(self.sheet.problems)
        name = self._name(row)
        x, y = self._coordinate(row, "x"), self._coordinate(row, "y")
        z = self._height(row)
        wall = self._wall(row)
        ties, side = self._ties(row)
        ways = (x is not None or y is not None, wall is not None, bool(ties))
        if len(self.sheet.problems) > before:
            return
        if sum(ways) > 1:
            self._refuse(row, "", "its place in one way: x and y, along a wall, or tape ties")
        elif not any(ways) and not self.places_elsewhere:
            self._refuse(row, "", "its place: x and y, along a wall, or two tape ties")
        else:
            self.rows.append(
                SpotRow(name, x, y, z, row["remark"], row.line, self.sheet.file, wall, ties, side)
            )

    def refuse_too_few_heights(self) -> None:
        """Complain about empty heights where no ground can be made without some of them.

        Else rows without one are passed over: not every point of a list is taken.
        """
        taken = sum(row["z"] != "" for row in self.sheet.rows)
        if self.heights_elsewhere or taken >= FEWEST_HEIGHTS:
            return
        for row in self.sheet.rows:
            if not row["z"]:
                self._refuse(
                    row,
                    "z",
                    'a height, such as 12.5 or "12 ft 6 in"; take the row out if it was not taken',
                )

    def _name(self, row: SheetRow) -> str:
        name = row["name"]
        if not name or not name.isprintable():
            self.sheet.complain(
                row.line, "name", name, "a name for the spot height on one line, such as P1"
            )
        elif name in self._lines:
            self.sheet.complain(
                row.line,
                "name",
                name,
                f"a name of its own; line {self._lines[name]} has this one already",
            )
        else:
            self._lines[name] = row.line
        return name

    def _coordinate(self, row: SheetRow, column: str) -> float | None:
        other = "y" if column == "x" else "x"
        others = "wall" in self.sheet.columns or "tie 1" in self.sheet.columns
        may_miss = others or self.places_elsewhere
        if column not in self.sheet.columns or (not row[column] and not row[other] and may_miss):
            return None
        expected = 'a coordinate, such as 12.5 or "12 ft 6 in"'
        if not row[column]:
            self._refuse(row, column, expected)
        elif column in self.sheet.column_units:
            found = self.sheet.length(row, column, "a coordinate")
            return None if found is None else Metres(found.metres)
        else:
            try:
                return read_coordinate(row[column], expected)
            except PydanticCustomError as error:
                self._refuse(row, column, str((error.context or {})["expected"]))
        return None

    def _height(self, row: SheetRow) -> float | None:
        height = self.sheet.length(row, "z", "a height")
        return None if height is None else height.metres

    def _wall(self, row: SheetRow) -> WallSpot | None:
        if not (row["wall"] or row["along"] or row["out"] or row["building"]):
            return None
        along = self.sheet.reading(row, "along", "a distance along the wall")
        out = self.sheet.reading(row, "out", "a distance out from the wall")
        if row["wall"] and along is not None:
            away = 0.0 if out is None else out.metres
            return WallSpot(row["building"], row["wall"], along.metres, away)
        if not (row["along"] and along is None):
            self._refuse(
                row, "wall", "a wall and a distance along it, such as wall = front, along = 12 ft"
            )
        return None

    def _ties(self, row: SheetRow) -> tuple[tuple[TypedTie, ...], str]:
        ties: list[TypedTie] = []
        for k in range(1, MOST_TIES + 1):
            point, column = row[f"from {k}"], f"tie {k}"
            tie = self.sheet.reading(row, column, "a taped distance")
            if tie is not None and tie.metres == 0.0:
                self._refuse(row, column, "a taped distance above zero")
            elif point and tie is not None:
                ties.append(TypedTie(point, tie.metres))
            elif bool(point) != bool(row[column]):
                lacking = column if point else f"from {k}"
                self._refuse(row, lacking, f"both from_{k} and tie_{k}: a point and a distance")
        if len(ties) == 1:
            self._refuse(row, "tie 2", "two ties or more, and the side they meet on")
        side = " ".join(row["side"].lower().split())
        if side and side not in SIDES and not (side.startswith("near ") and len(side) > 5):
            self._refuse(row, "side", "left, right, or near and the name of a point, as near P3")
        elif side.startswith("near"):
            side = "near " + " ".join(row["side"].split()[1:])
        return tuple(ties), side

    def _refuse(self, row: SheetRow, column: str, expected: str) -> None:
        name = row["name"]
        entry = self.sheet.entry(row, column) if column else f"spot height {shorten(name)!r}"
        self.sheet.complain(row.line, entry, row[column] if column else "", expected)


def unknown_spot(name: str, known: Sequence[str]) -> str:
    """What is expected in place of a spot height's name that is not in the file."""
    return f"the name of a spot height, {hint(name, known)}"
