"""Level notes as they stand in a field book: from rows to setups of the level.

In: a sheet with backsights, intermediate sights and foresights. Out: setups in order, each with the
point it starts from and its sights, and problems for rows that make no sense.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal

from runoff.quantities import format_length
from runoff.site.survey.sheets import Reading, Sheet, SheetRow

Kind = Literal["intermediate", "foresight"]

HEADINGS: Mapping[str, tuple[str, ...]] = {
    "backsight": ("backsight", "back sight", "bs", "back", "plus"),
    "intermediate": ("intermediate", "intermediate sight", "is", "side shot", "ss"),
    "foresight": ("foresight", "fore sight", "fs", "fore", "minus"),
    "name": ("point", "name", "station", "sta", "pt"),
    "height": ("height", "benchmark height", "known height", "benchmark", "elevation", "elev"),
    "distance": ("distance", "dist", "length", "distance from the end"),
    "remark": ("remark", "remarks", "note", "notes", "comment"),
}
IGNORED: Mapping[str, tuple[str, ...]] = {
    "reckoned": ("hi", "h i", "height of instrument", "instrument height", "rise", "fall", "mean"),
}
HEADER = "a header row such as point,backsight,intermediate,foresight,height,remark"
SIGHTS = ("backsight", "intermediate", "foresight")


@dataclass(frozen=True)
class Sight:
    """A rod reading from a setup; `distance` (m) is the length of the sight, 0 where not noted."""

    point: str
    reading: Reading
    kind: Kind
    line: int
    distance: float
    remark: str


@dataclass
class Setup:
    """One place of the level: a backsight on `start`, then its sights in order.

    `follows` says whether it starts on the foresight of the setup before it.
    """

    start: str
    backsight: Reading
    line: int
    follows: bool
    distance: float
    sights: list[Sight] = field(default_factory=list)

    @property
    def foresight(self) -> Sight | None:
        """The sight that carries the run on, or closes it."""
        return next((sight for sight in self.sights if sight.kind == "foresight"), None)


@dataclass
class Notes:
    """Level notes: their sheet, the heights that are known (m), and their setups in order."""

    sheet: Sheet
    known: dict[str, float]
    setups: list[Setup] = field(default_factory=list)


def read_notes(sheet: Sheet, known: Mapping[str, float]) -> Notes:
    """Setups from a sheet of level notes; what is wrong is added to the sheet's problems."""
    notes = Notes(sheet, dict(known))
    missing = [name for name in ("backsight", "name") if name not in sheet.columns]
    if "name" in missing and "remark" in sheet.columns:
        missing.remove("name")
    if missing and not sheet.problems:
        sheet.complain(
            sheet.header_line,
            "header",
            ", ".join(sheet.columns),
            "the columns point, backsight, intermediate, foresight, or for heights measured down "
            "from a level line point and down",
        )
    if sheet.problems:
        return notes
    readings = [(row, _readings(sheet, row)) for row in _named(sheet)]
    for row, _ in readings:
        _known_height(notes, row)
    if not sheet.problems:
        for row, found in readings:
            _take(notes, row, found)
    for setup in notes.setups:
        if not setup.sights:
            sheet.notice("nothing sighted", setup.start, line=setup.line)
    notes.setups = [setup for setup in notes.setups if setup.sights]
    if not sheet.problems and not notes.setups:
        sheet.complain(None, "", "", "at least one backsight, and a sight after it")
    return notes


def _named(sheet: Sheet) -> Iterable[SheetRow]:
    """Rows with the name of their point, which may stand among the remarks."""
    for row in sheet.rows:
        name = row["name"]
        if name and name.isprintable():
            yield row
        elif (
            not name
            and row["remark"].isprintable()
            and row["remark"]
            and "name" not in sheet.columns
        ):
            yield SheetRow(row.line, {**row.cells, "name": row["remark"], "remark": ""})
        else:
            sheet.complain(
                row.line, "point", name, "a name for the point, such as TP1 for a turning point"
            )


def _readings(sheet: Sheet, row: SheetRow) -> dict[str, Reading]:
    found = {}
    for column in SIGHTS:
        reading = sheet.reading(row, column, "a rod reading")
        if reading is not None:
            found[column] = reading
    return found


def _known_height(notes: Notes, row: SheetRow) -> None:
    height = notes.sheet.length(row, "height", "a known height")
    if height is None:
        return
    name, before = row["name"], notes.known.get(row["name"])
    if before is not None and abs(before - height.metres) > 1e-6:
        notes.sheet.complain(
            row.line,
            f"point {name!r} . height",
            row["height"],
            f"one known height for {name!r}; {format_length(before, 'us decimal', 100)} "
            f"({before:.3f} m) is given for it elsewhere",
        )
        return
    notes.known[name] = height.metres


def _take(notes: Notes, row: SheetRow, found: Mapping[str, Reading]) -> None:
    """Take one row: its foresight closes a setup, its backsight opens the next."""
    sheet, name = notes.sheet, row["name"]
    length = sheet.reading(row, "distance", "the length of the sight")
    distance = 0.0 if length is None else length.metres
    if not found:
        if not row["height"]:
            sheet.notice("no reading", name, line=row.line)
        return
    if "intermediate" in found and len(found) > 1:
        sheet.complain(
            row.line,
            f"point {name!r}",
            ", ".join(reading.text for reading in found.values()),
            "one reading in a row, or for a turning point its foresight and its backsight",
        )
        return
    closed = _is_closed(notes)
    for kind in ("intermediate", "foresight"):
        if kind not in found:
            continue
        if not notes.setups or closed:
            sheet.complain(
                row.line,
                f"point {name!r} . {kind}",
                found[kind].text,
                "a backsight before it, on a point whose height is known; a backsight and a "
                "foresight may stand in each other's column",
            )
            return
        notes.setups[-1].sights.append(
            Sight(name, found[kind], kind, row.line, distance, row["remark"])
        )
    if "backsight" in found:
        _open(notes, row, found["backsight"], distance)


def _is_closed(notes: Notes) -> bool:
    return bool(notes.setups) and notes.setups[-1].foresight is not None


def _open(notes: Notes, row: SheetRow, backsight: Reading, distance: float) -> None:
    name = row["name"]
    last = notes.setups[-1] if notes.setups else None
    carried = None if last is None else last.foresight
    follows = carried is not None and carried.point == name
    used = [setup for setup in notes.setups if setup.sights]
    seen = {sight.point for setup in used for sight in setup.sights}
    seen |= {setup.start for setup in used}
    if used and not follows and name not in notes.known and name not in seen:
        where = "" if carried is None else f", such as {carried.point!r}, the last foresight's"
        notes.sheet.complain(
            row.line,
            f"point {name!r} . backsight",
            backsight.text,
            f"a backsight on a point that has a height by then{where}",
        )
        return
    notes.setups.append(Setup(name, backsight, row.line, follows, distance))
