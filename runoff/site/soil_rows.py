"""Rows of a soil test's sheet taken one by one: sizes, readings of the water, fillings.

In: a sheet whose header fits. Out: metres and seconds for `runoff.site.trial_pits` and
`runoff.site.percolation`; one problem for each cell that is wrong goes to the sheet.
"""

from __future__ import annotations

from collections.abc import Mapping

from runoff.quantities import format_length, system_of
from runoff.site.percolation import WaterReading
from runoff.site.sheet_times import Times, read_moment
from runoff.site.sheets import Reading, Sheet, SheetRow
from runoff.site.trial_pits import Filling

_YES = ("yes", "y", "x", "refill", "refilled", "true", "1")
_NO = ("", "no", "n", "-", "false", "0")
_READ = ("time", "depth", "down", "75 to 25", "at 75", "at 25", "refill")
_SAME_M = 1e-3


class WaterRows:
    """Takes the readings of water of one sheet, row by row."""

    def __init__(self, sheet: Sheet, time_units: Mapping[str, str]) -> None:
        self.sheet = sheet
        self.times = Times(sheet, "time", time_units.get("time", "min"))
        self.step = 0.0
        self.levels = False
        self._all_rows = not sheet.problems
        self._bottom = self._to_bottom() if "down" in sheet.columns else None
        self._last: tuple[float, SheetRow] | None = None

    def size(self, column: str, needed: bool = True) -> float | None:
        """A length (m) that stands once, in the first row that holds it."""
        sheet = self.sheet
        found: float | None = None
        if column not in sheet.columns:
            return None
        for row in sheet.rows:
            reading = sheet.reading(row, column, f"the {column}")
            if reading is None:
                needed = needed and not row[column]
            elif reading.metres == 0.0:
                self.refuse(row, column, f"the {column} above zero")
                needed = False
            elif found is None:
                found = reading.metres
            elif abs(reading.metres - found) > _SAME_M:
                self.refuse(row, column, f"one {column} for the whole test, once in the first row")
        if found is None and needed and sheet.rows and self._all_rows:
            self.refuse(sheet.rows[0], column, f'the {column} in the first row, such as "2 ft"')
        return found

    def _to_bottom(self) -> float | None:
        """How far down the bottom is (m), as noted or by the first depth of the water."""
        if "first depth" not in self.sheet.columns:
            return self.size("bottom")
        depth = self.size("first depth")
        first = next((row for row in self.sheet.rows if row["down"]), None)
        down = None if first is None else self.sheet.reading(first, "down", "how far down it is")
        return None if depth is None or down is None else depth + down.metres

    def restart(self) -> None:
        """Begin another filling."""
        self.times.restart()
        self._last = None

    def level(self, row: SheetRow, filled: bool) -> tuple[float, float] | None:
        """Seconds and the depth of the water (m); None, and a problem, where one is wrong."""
        seconds = self.times.next(row)
        depth = self._depth(row)
        if depth is None or seconds is None:
            return None
        self.levels = True
        last, self._last = self._last, (depth, row)
        if last is not None and not filled and depth > last[0]:
            column = "down" if "down" in self.sheet.columns else "depth"
            remedy = (
                "give it the number of the next fill"
                if "name" in self.sheet.columns
                else "write yes in a column refill"
            )
            self.refuse(
                row,
                column,
                f"water that does not rise, as it does after line {last[1].line}; where it was "
                f"filled up {remedy}",
            )
            return None
        return seconds, depth

    def refilled(self, row: SheetRow) -> bool:
        """Whether the water was filled up just before this reading."""
        said = row["refill"].lower()
        if said not in _YES and said not in _NO:
            self.refuse(row, "refill", "yes where it was filled up, and nothing elsewhere")
        return said in _YES or row["remark"].lower().startswith("refill")

    def hole(self) -> list[WaterReading]:
        """All rows as readings of one hole."""
        readings: list[WaterReading] = []
        for row in self.sheet.rows:
            if self.is_empty(row):
                continue
            filled = self.refilled(row)
            fall = self.sheet.reading(row, "fall", "a fall of the water")
            found = self.level(row, filled or fall is not None)
            if found is None:
                continue
            if readings and not filled and found[0] == readings[-1].seconds:
                self.refuse(row, "time", "a time after that of the reading before")
            if readings and not filled and fall is not None:
                readings += self._filled_before(row, readings[-1], found[1] + fall.metres)
            readings.append(WaterReading(*found, refilled=filled))
        return readings

    def _filled_before(self, row: SheetRow, last: WaterReading, start: float) -> list[WaterReading]:
        """The refill after the last reading, to where the fall noted began (m), if there was."""
        if abs(start - last.depth) <= max(self.step, _SAME_M):
            return []
        if start < last.depth:
            self.refuse(
                row, "fall", "the fall since the reading before, or since the hole was filled up"
            )
            return []
        self.sheet.notice("by the falls noted, the hole was filled up after readings")
        return [WaterReading(last.seconds, start, refilled=True)]

    def is_empty(self, row: SheetRow) -> bool:
        """Whether a row holds no reading at all, only sizes or a remark."""
        return not any(row[column] for column in _READ)

    def refuse(self, row: SheetRow, column: str, expected: str) -> None:
        """Complain about a cell."""
        self.sheet.complain(row.line, self.sheet.entry(row, column), row[column], expected)

    def _depth(self, row: SheetRow) -> float | None:
        column = "down" if "down" in self.sheet.columns else "depth"
        what = "how far down the water is" if column == "down" else "a depth of the water"
        reading: Reading | None = self.sheet.reading(row, column, what)
        if reading is None:
            if not row[column]:
                self.refuse(row, column, f"{what}, such as 14 1/2 in")
            return None
        self.step = max(self.step, reading.step)
        if column == "depth":
            return reading.metres
        if self._bottom is None:
            return None
        depth = self._bottom - reading.metres
        if depth < -_SAME_M:
            bottom = format_length(self._bottom, system_of(self.sheet.units))
            self.refuse(row, column, f"no more than the {bottom} down to the bottom")
            return None
        return max(depth, 0.0)


class PitRows:
    """Gathers the rows of a trial pit into fillings."""

    def __init__(self, water: WaterRows, time_units: Mapping[str, str]) -> None:
        self.water = water
        self.sheet = water.sheet
        self.unit = time_units.get("75 to 25", "min")
        self.readings: dict[str, list[tuple[float, float]]] = {}
        self.timed: dict[str, float] = {}
        self._lines: dict[str, int] = {}
        self._name = ""

    def fillings(self) -> list[Filling]:
        """The fillings in order."""
        for row in self.sheet.rows:
            if not self.water.is_empty(row):
                self._take(row)
        return [
            Filling(name, tuple(self.readings.get(name, ())), self.timed.get(name))
            for name in self._lines
        ]

    def _take(self, row: SheetRow) -> None:
        timed = bool(row["75 to 25"] or row["at 75"] or row["at 25"])
        name = self._named(row, timed)
        if name is None:
            return
        if timed and (row["time"] or name in self.readings or name in self.timed):
            self.water.refuse(
                row, "75 to 25", "for each fill either that time alone, or readings of the water"
            )
        elif timed:
            seconds = self._noted(row) if row["75 to 25"] else self._passed(row)
            if seconds is not None:
                self.timed[name] = seconds
        elif name in self.timed:
            self.water.refuse(row, "time", f"no readings; line {self._lines[name]} has its time")
        else:
            found = self.water.level(row, filled=name not in self.readings)
            kept = self.readings.setdefault(name, [])
            if found is not None:
                kept.append(found)

    def _noted(self, row: SheetRow) -> float | None:
        """Seconds from 75 % to 25 % as noted."""
        moment = read_moment(self.sheet, row, "75 to 25", self.unit)
        if moment is not None and (moment.by_clock or moment.seconds == 0.0):
            self.water.refuse(row, "75 to 25", 'how long it took, above zero, such as "67 min"')
            return None
        return None if moment is None else moment.seconds

    def _passed(self, row: SheetRow) -> float | None:
        """Seconds between the times at which the water passed 75 % and 25 %."""
        clock = Times(self.sheet, "at 75", "min")
        start = clock.next(row)
        clock.column = "at 25"
        end = clock.next(row)
        if start is None or end is None:
            return None
        if end == start:
            self.water.refuse(row, "at 25", "a time after that at 75 %")
            return None
        return end - start

    def _named(self, row: SheetRow, timed: bool) -> str | None:
        """The filling that a row belongs to; None, and a problem, where its rows lie apart."""
        filled = self.water.refilled(row)
        if "name" in self.sheet.columns:
            name = row["name"] or self._name
        else:
            name = str(len(self._lines) + 1) if filled or timed or not self._name else self._name
        if not name:
            self.water.refuse(row, "fill", "the number of the filling, such as 1")
            return None
        if name != self._name:
            if name in self._lines:
                self.water.refuse(
                    row, "fill", f"the rows of a fill together; line {self._lines[name]} begins it"
                )
                return None
            self._lines[name] = row.line
            self._name = name
            self.water.restart()
        return name
