"""Level notes reduced: heights by the height of instrument, checked, and adjusted where they close.

In: level notes, or a sheet of heights measured down from a level line. Out: a `LevelTable` with
heights in metres, the misclosure beside its allowance, and how good one height is.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from runoff.quantities import format_length
from runoff.rules import Rules
from runoff.site.files import read_text
from runoff.site.level_faults import Check, blame
from runoff.site.level_notes import HEADER, HEADINGS, IGNORED, Notes, Setup, Sight, read_notes
from runoff.site.problems import InputError, Problem
from runoff.site.sheets import Form, Sheet, parse_sheet, style, typed_sheet

ASSUMED_HEIGHT = {"ft": 100.0 * 0.3048, "m": 100.0}


@dataclass(frozen=True)
class LevelPoint:
    """A point's height as first reduced, and `adjusted` by what the run closed with; metres.

    `setups` counts the places of the level between the known height and this point.
    """

    name: str
    height: float
    adjusted: float
    setups: int
    remark: str
    line: int


@dataclass(frozen=True)
class LevelTable:
    """Level notes reduced; everything in metres.

    Parameters
    ----------
    points : tuple of LevelPoint
        In the order in which they were first sighted, the first being what was leveled from.
    misclosure, allowance : float or None
        How far the worst run missed the known height that it ended on, computed less known, and
        what it may miss it by; None where no run ended on a known height.
    backsights, foresights, difference : float
        Sums of the backsights and of the foresights of the runs (a run that ends on an
        intermediate sight counts it as its foresight), and the sum of last heights less first.
    resolution : float
        Step that the rod, or the tape, was read to.
    sigma : float
        Standard deviation of one height by its readings alone.
    level_error : float or None
        The slope (m/m) that a string level was off by, as reversing it showed.
    problems : tuple of Problem
        What forbids the use of the heights; `warnings` what does not.
    by : str
        How the heights were taken, as ``heights_by`` has it.
    datum_assumed : bool
        Whether no height was known, so that the first point's is a round figure.
    is_level_line : bool
        Whether heights were measured down from a level line; `sigma` then has the level's own part.
    """

    points: tuple[LevelPoint, ...]
    misclosure: float | None
    allowance: float | None
    backsights: float
    foresights: float
    difference: float
    resolution: float
    sigma: float
    level_error: float | None = None
    problems: tuple[Problem, ...] = ()
    warnings: tuple[str, ...] = ()
    by: str = "builder's level"
    datum_assumed: bool = False
    is_level_line: bool = False

    @property
    def heights(self) -> dict[str, float]:
        """Adjusted heights by name, metres."""
        return {point.name: point.adjusted for point in self.points}

    @property
    def arithmetic_error(self) -> float:
        """Backsights less foresights, less the difference of heights: zero but for rounding."""
        return self.backsights - self.foresights - self.difference


def reduce_levels(
    notes: str | Path | Iterable[Mapping[str, object]],
    units: str = "ft",
    known: Mapping[str, float] | None = None,
    rules: Rules | None = None,
    shown: str | None = None,
    by: str | None = None,
) -> LevelTable:
    """Reduce level notes, or heights measured down from a level line.

    Parameters
    ----------
    notes : str, Path, or rows
        A CSV file with the columns point, backsight, intermediate, foresight and, where wanted,
        height (known), distance (length of the sight) and remark; or such rows as mappings. With
        the column ``down`` it is a sheet of `runoff.site.level_sheets`.
    units : {"ft", "m"}
        Unit of bare numbers.
    known : mapping, optional
        Heights (m) of points by name, beside those that the notes hold.
    rules : Rules, optional
        For the allowance, ``level_misclosure``.
    shown : str, optional
        The file's name for messages.
    by : str, optional
        How heights below a level line were taken, such as ``"water level"``; else a string level.

    Returns
    -------
    LevelTable
        Its `problems` say where a misclosure beyond the allowance is to be looked for.

    Raises
    ------
    InputError
        Where the notes cannot be read, with one problem for each row that is wrong.

    Examples
    --------
    >>> table = reduce_levels([
    ...     {"point": "BM", "backsight": 8.42, "height": 820},
    ...     {"point": "A", "foresight": 1.20},
    ... ])
    >>> round(table.heights["A"] / 0.3048, 2)
    827.22
    """
    rules = rules or Rules()
    sheet = _sheet(notes, units, shown)
    if "down" in sheet.columns:
        from runoff.site.level_sheets import reduce_level_lines

        return reduce_level_lines(sheet, known or {}, rules, by or "string level")
    read = read_notes(sheet, known or {})
    if sheet.problems:
        raise InputError(sheet.problems)
    return _Reduction(read, rules).table()


def _sheet(
    notes: str | Path | Iterable[Mapping[str, object]], units: str, shown: str | None
) -> Sheet:
    from runoff.site.level_sheets import LINE_HEADINGS

    headings = {**HEADINGS, **LINE_HEADINGS}
    if isinstance(notes, str | Path):
        name = shown or str(notes)
        text = read_text(Path(notes), name, "level notes as a CSV file in UTF-8")
        sheet = Sheet(name, units)
        parse_sheet(text, sheet, Form(headings, IGNORED, HEADER))
    else:
        sheet = typed_sheet(notes, units, headings)
    if sheet.problems:
        raise InputError(sheet.problems)
    return sheet


def allowance(length_m: float, readings: int, resolution: float, rules: Rules) -> float:
    """What a run may miss by, metres: by its length, never less than its readings can tell.

    ``max(level_misclosure sqrt(km), level_per_reading sqrt(readings), resolution sqrt(readings))``.
    The first, 12 mm sqrt(km), is third-order levelling, and the 0.05 ft sqrt(miles) of American
    practice (from memory) is the same to 0.1 %; on a house lot it is less than a builder's level
    can hold, and where no sight's length is noted it is nothing. An override of `level_misclosure`
    is obeyed alone where the length is known.

    Parameters
    ----------
    length_m : float, metres
        Of the run; 0 where not every sight's length is noted.
    readings : int
    resolution : float, metres
        Step that the rod was read to.
    rules : Rules

    Examples
    --------
    >>> round(allowance(1000.0, 4, 0.001, Rules()), 6), round(allowance(0.0, 4, 0.001, Rules()), 6)
    (0.012, 0.006)
    """
    by_length = rules["level_misclosure"] * math.sqrt(length_m / 1000.0)
    one = max(resolution, rules["level_per_reading"])
    if length_m > 0.0 and "level_misclosure" in rules.overridden:
        one = resolution
    return max(by_length, one * math.sqrt(readings))


class _Reduction:
    """Works through the runs in order; each starts from heights that are settled by then."""

    def __init__(self, notes: Notes, rules: Rules) -> None:
        self.notes = notes
        self.rules = rules
        self.sheet = notes.sheet
        readings = [setup.backsight for setup in notes.setups]
        readings += [sight.reading for setup in notes.setups for sight in setup.sights]
        self.resolution = min(reading.step for reading in readings)
        self.shown = style((reading.text for reading in readings), notes.sheet.units)
        self.settled = dict(notes.known)
        self.points: dict[str, LevelPoint] = {}
        self.misclosure: float | None = None
        self.allowed: float | None = None
        self.sums = [0.0, 0.0, 0.0]
        self.scatter = self.resolution / math.sqrt(12.0)
        self.problems: list[Problem] = []
        self.datum_assumed = False

    def table(self) -> LevelTable:
        self._first_height()
        for run in _runs(self.notes.setups):
            self._run(run)
        if "level_misclosure" in self.rules.overridden and not _length(self.notes.setups):
            self.sheet.notice(
                "the rule level_misclosure goes by the length of the run, and not every sight's "
                "distance is noted: level_per_reading holds instead"
            )
        if self.misclosure is None:
            self.sheet.notice(
                "the levels end on no point of known height, so that a foot misread would not "
                "show; sight the first point again at the end"
            )
        most = max((point.setups for point in self.points.values()), default=1)
        return LevelTable(
            points=tuple(self.points.values()),
            misclosure=self.misclosure,
            allowance=self.allowed,
            backsights=self.sums[0],
            foresights=self.sums[1],
            difference=self.sums[2],
            resolution=self.resolution,
            sigma=self.scatter * math.sqrt(2.0 * max(most, 1)),
            problems=tuple(self.problems),
            warnings=tuple(self.sheet.notices),
            datum_assumed=self.datum_assumed,
        )

    def _first_height(self) -> None:
        first = self.notes.setups[0].start
        if first in self.settled:
            return
        relative = self._relative()
        if relative is not None:
            self.settled[first] = relative
        else:
            self.datum_assumed = True
            height = ASSUMED_HEIGHT[self.sheet.units]
            self.settled[first] = height
            self.sheet.notice(
                f"no height is given for {first!r}, where the levels start; it is taken as "
                f"{format_length(height, self.shown[0], self.shown[1])}"
            )

    def _relative(self) -> float | None:
        """The first point's height by the first point of known height in the first run."""
        run = _runs(self.notes.setups)[0]
        height = 0.0
        for setup in run:
            instrument = height + setup.backsight.metres
            for sight in setup.sights:
                if sight.point in self.settled:
                    return self.settled[sight.point] - instrument + sight.reading.metres
            if setup.foresight is not None:
                height = instrument - setup.foresight.reading.metres
        return None

    def _run(self, run: list[Setup]) -> None:
        start = self.settled[run[0].start]
        self._settle(LevelPoint(run[0].start, start, start, 0, "", run[0].line))
        closing = self._closing(run)
        raw, checks = self._raw(run, start, closing)
        ends = raw[-1][-1]
        correction = [0.0] * (len(run) + 1)
        if closing is not None:
            ends = raw[-1][run[-1].sights.index(closing)]
            correction = self._close(run, ends, closing, checks)
        elif checks:
            self._doubles(run, checks)
        last = closing or run[-1].sights[-1]
        self.sums[0] += sum(setup.backsight.metres for setup in run)
        carried = [s.foresight for s in run[:-1]] + [last]
        self.sums[1] += sum(sight.reading.metres for sight in carried if sight is not None)
        self.sums[2] += ends - start
        self._points(run, raw, correction)

    def _closing(self, run: list[Setup]) -> Sight | None:
        """The last sight of a run where it is on a point whose height is settled already."""
        ends = [s for s in reversed(run[-1].sights) if s.point in self.settled]
        foresights = [s for s in ends if s.kind == "foresight"]
        if foresights:
            return foresights[0]
        return ends[0] if ends and run[-1].foresight is None else None

    def _raw(
        self, run: list[Setup], start: float, closing: Sight | None
    ) -> tuple[list[list[float]], list[Check]]:
        """Heights of every sight before adjustment, and the checks that the run holds.

        Transfer t of a run is the backsight of setup t + 1 with the foresight of setup t; a check
        says by how much the errors of transfers `first` to `last` together stand apart.
        """
        raw: list[list[float]] = []
        seen: dict[str, tuple[int, float]] = {}
        checks: list[Check] = []
        height = start
        for number, setup in enumerate(run):
            instrument = height + setup.backsight.metres
            found = [instrument - sight.reading.metres for sight in setup.sights]
            raw.append(found)
            for sight, value in zip(setup.sights, found, strict=True):
                if sight is closing:
                    continue
                if sight.point in self.settled:
                    off = value - self.settled[sight.point]
                    checks.append(Check(0, number, off, sight, None))
                elif sight.point in seen:
                    before, first = seen[sight.point]
                    checks.append(Check(before + 1, number, value - first, sight, before))
                else:
                    seen[sight.point] = (number, value)
            carried = setup.foresight
            if carried is not None:
                height = found[setup.sights.index(carried)]
        return raw, checks

    def _close(
        self, run: list[Setup], ends: float, closing: Sight, checks: list[Check]
    ) -> list[float]:
        """What to add to the height that each setup starts from, and to the closing point's.

        What setup n (from 0) sights, its foresight and its intermediate sights alike, is corrected
        by the value after its own.
        """
        missed = ends - self.settled[closing.point]
        allowed = allowance(_length(run), 2 * len(run), self.resolution, self.rules)
        if self.misclosure is None or abs(missed) > abs(self.misclosure):
            self.misclosure, self.allowed = missed, allowed
        tolerance = allowed + 1e-9
        if abs(missed) > tolerance:
            closure = Check(0, len(run), missed, closing, None)
            self.problems.append(
                blame(self.sheet.file, run, [closure, *checks], allowed, self.shown)
            )
            return [0.0] * (len(run) + 1)
        self.scatter = max(self.scatter, abs(missed) / math.sqrt(2.0 * len(run)))
        self._doubles(run, checks)
        shares = _shares(run)
        return [-missed * share for share in shares]

    def _doubles(self, run: list[Setup], checks: list[Check]) -> None:
        """Refuse points whose sights from two setups, or beside their known height, disagree."""
        for check in checks:
            readings = 2 * (check.last - check.first + 1) + 2
            length = _length(run[max(check.first - 1, 0) : check.last + 1])
            allowed = allowance(length, readings, self.resolution, self.rules)
            if abs(check.off) > allowed + 1e-9:
                self.problems.append(blame(self.sheet.file, run, [check], allowed, self.shown))

    def _points(self, run: list[Setup], raw: list[list[float]], correction: list[float]) -> None:
        sighted: dict[str, list[tuple[float, float, Sight, int]]] = {}
        for number, (setup, heights) in enumerate(zip(run, raw, strict=True)):
            for sight, height in zip(setup.sights, heights, strict=True):
                corrected = height + correction[number + 1]
                sighted.setdefault(sight.point, []).append((height, corrected, sight, number + 1))
        for name, found in sighted.items():
            mean = sum(corrected for _, corrected, _, _ in found) / len(found)
            first, _, sight, count = found[0]
            self._settle(LevelPoint(name, first, mean, count, sight.remark, sight.line))

    def _settle(self, point: LevelPoint) -> None:
        if point.name in self.points:
            return
        adjusted = self.settled.get(point.name, point.adjusted)
        self.points[point.name] = LevelPoint(
            point.name, point.height, adjusted, point.setups, point.remark, point.line
        )
        self.settled[point.name] = adjusted


def _runs(setups: list[Setup]) -> list[list[Setup]]:
    """Setups that follow one from another, run by run."""
    runs: list[list[Setup]] = []
    for setup in setups:
        if setup.follows:
            runs[-1].append(setup)
        else:
            runs.append([setup])
    return runs


def _length(run: list[Setup]) -> float:
    """Length of a run, metres, without sights to the side; 0 where one is not noted."""
    sights = [setup.distance for setup in run]
    sights += [setup.foresight.distance for setup in run if setup.foresight is not None]
    return sum(sights) if all(sight > 0.0 for sight in sights) else 0.0


def _shares(run: list[Setup]) -> list[float]:
    """Share of the misclosure by the start of each setup, and at the end: by length, or setups."""
    lengths = [_length([setup]) for setup in run]
    if not all(length > 0.0 for length in lengths):
        lengths = [1.0] * len(run)
    total = sum(lengths)
    return [sum(lengths[:number]) / total for number in range(len(run) + 1)]
