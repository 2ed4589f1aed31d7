"""The rows of a rain table while a file is read, and the checks that every file's rows must pass.

In: what a reader found in the text. Out: depths in metres by duration in seconds, or problems with
their lines.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from runoff.quantities.units import HOUR, LENGTHS, RATES
from runoff.site.problems import Problem

_NUMBER = re.compile(r"\d+(\.\d*)?|\.\d+")


@dataclass(frozen=True)
class Unit:
    """A unit of depth, or of intensity; `size` in metres, or metres an hour."""

    size: float
    is_intensity: bool


@dataclass(frozen=True)
class Row:
    """One duration: its line and label in the file, seconds, and values in `unit`."""

    line: int
    label: str
    duration: float
    values: tuple[float, ...]
    unit: Unit

    def depths(self) -> tuple[float, ...]:
        """The values as depths in metres."""
        hours = self.duration / float(HOUR) if self.unit.is_intensity else 1.0
        return tuple(value * self.unit.size * hours for value in self.values)


@dataclass
class Rows:
    """What a reader has found so far, with all that is wrong in it."""

    file: str
    return_periods: tuple[float, ...] = ()
    rows: list[Row] = field(default_factory=list)
    basis: str = ""
    problems: list[Problem] = field(default_factory=list)

    def complain(self, line: int | None, entry: str, written: str, expected: str) -> None:
        """Keep one problem."""
        self.problems.append(Problem(self.file, line, entry, written, expected))

    def take(
        self, line: int, label: str, duration: float, cells: Sequence[str], unit: Unit
    ) -> None:
        """Keep a row, or complain about each cell that is not a rain."""
        if len(cells) != len(self.return_periods):
            count = len(self.return_periods)
            self.complain(line, label, ", ".join(cells), f"{count} values, one a return period")
            return
        values = [_number(cell) for cell in cells]
        for cell, value in zip(cells, values, strict=True):
            if value is None:
                self.complain(line, label, cell, "a number above 0, such as 0.82")
        good = tuple(value for value in values if value is not None)
        if len(good) == len(values):
            self.rows.append(Row(line, label, duration, good, unit))

    def check(self) -> None:
        """Complain where longer or rarer rain is less than shorter or more frequent rain."""
        for row in self.rows:
            if any(after < before for before, after in pairwise(row.values)):
                self.complain(row.line, row.label, "", "values that grow with the return period")
        for before, after in pairwise(self.rows):
            if after.duration <= before.duration:
                self.complain(
                    after.line, after.label, "", "durations from short to long, each once"
                )
            elif _shrinks(before, after):
                self.complain(
                    after.line,
                    after.label,
                    "",
                    "depths that grow, or intensities that fall, from one duration to the next",
                )


def unit_of(written: str) -> Unit | None:
    """The unit that a file writes; None where it is none of depth or intensity.

    Examples
    --------
    >>> unit_of("in/h").is_intensity, unit_of("mm").size, unit_of("gal")
    (True, 0.001, None)
    """
    key = written.strip().lower().replace(" ", "")
    if key in LENGTHS:
        return Unit(float(LENGTHS[key]), False)
    if key in RATES:
        return Unit(float(RATES[key] * HOUR), True)
    length, _, per = key.partition("/")
    if length in LENGTHS and per in ("h", "hr", "hour"):
        return Unit(float(LENGTHS[length]), True)
    return None


def _shrinks(before: Row, after: Row) -> bool:
    """Compared as written: depths reckoned from rounded intensities may shrink by rounding."""
    pairs = list(zip(before.values, after.values, strict=True))
    if before.unit != after.unit:
        return any(a < b for b, a in zip(before.depths(), after.depths(), strict=True))
    if after.unit.is_intensity:
        return any(a > b for b, a in pairs)
    return any(a < b for b, a in pairs)


def _number(cell: str) -> float | None:
    if not _NUMBER.fullmatch(cell):
        return None
    value = float(cell)
    return value if 0 < value < 1e6 else None
