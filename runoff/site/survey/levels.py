"""Level notes reduced: heights by the height of instrument, checked, adjusted where they close,
and where a run went wrong.

In: a run with its checks. Out: one problem that names the misclosure, the allowance, and the
setups or readings to look at.

In: level notes, or a sheet of heights measured down from a level line. Out: a `LevelTable` with
heights in metres, the misclosure beside its allowance, and how good one height is.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from runoff.quantities import QuantityError, format_length, parse_length
from runoff.rules import Rules
from runoff.site.files import read_text
from runoff.site.notices import Notice
from runoff.site.problems import InputError, Problem
from runoff.site.survey.level_notes import (
    HEADER,
    HEADINGS,
    IGNORED,
    Notes,
    Setup,
    Sight,
    read_notes,
)
from runoff.site.survey.sheets import Form, Reading, Sheet, parse_sheet, style, typed_sheet

# Slips of a whole step of the rod, by the system it is shown in: metres, and its name.
_STEPS = {
    "us": [(0.3048, "foot", "feet"), (0.0254, "inch", "inches")],
    "us decimal": [(0.3048, "foot", "feet"), (0.03048, "tenth of a foot", "tenths of a foot")],
    "metric": [(1.0, "meter", "meters"), (0.1, "decimeter", "decimeters")],
}
MOST_STEPS = 12
MOST_NAMED = 4


@dataclass(frozen=True)
class Check:
    """Two heights of one point that should agree: their difference `off` (m) is an error.

    It lies in transfers `first` to `last` of the run (transfer t joins setup t - 1 to setup t,
    both from 0; the last is the closing sight), or in `sight` itself. `before` is the setup that
    saw the point first, None where its height was known.
    """

    first: int
    last: int
    off: float
    sight: Sight
    before: int | None


def blame(
    file: str, run: Sequence[Setup], checks: Sequence[Check], allowed: float, shown: tuple[str, int]
) -> Problem:
    """The problem of a run whose first check is off by more than is allowed."""
    check = checks[0]
    if check.first > check.last:
        return _read_twice(file, check, allowed, shown)
    tolerance = 1.5 * allowed
    transfers = _suspects(checks, tolerance)
    slips = [slip for t in transfers for slip in _slips(run, t, check, allowed, shown)]
    whole = _whole_steps(check.off, allowed, shown)
    where = "; ".join(
        part
        for part in (
            whole,
            " or ".join(slips[:MOST_NAMED]),
            f"look at {_setups(run, transfers, check)}",
            "the rule level_per_reading sets the allowance",
        )
        if part
    )
    lines = {_line(run, t, check) for t in transfers}
    line = lines.pop() if len(lines) == 1 else check.sight.line
    missed, limit = format_length(abs(check.off), *shown), format_length(allowed, *shown)
    way = "too high" if check.off > 0 else "too low"
    return Problem(
        file,
        line,
        f"point {check.sight.point!r}",
        "",
        f"a height within {limit}, the allowance, of {_other(check)} {missed} {way} ({where})",
    )


def _read_twice(file: str, check: Check, allowed: float, shown: tuple[str, int]) -> Problem:
    apart = format_length(abs(check.off), *shown)
    return Problem(
        file,
        check.sight.line,
        f"point {check.sight.point!r}",
        check.sight.reading.text,
        f"a reading within {format_length(allowed, *shown)} of the one before from the same "
        f"setup, or a name of its own; they are {apart} apart",
    )


def _other(check: Check) -> str:
    if check.before is None:
        return "the known one; the misclosure is"
    return f"the one from setup {check.before + 1}; it comes out"


def _suspects(checks: Sequence[Check], tolerance: float) -> list[int]:
    """Transfers whose one error would explain every check; all of the first's where none does."""
    main = checks[0]
    within = list(range(main.first, main.last + 1))
    found = [t for t in within if all(_explains(t, main.off, c, tolerance) for c in checks)]
    return found or within


def _explains(transfer: int, error: float, check: Check, tolerance: float) -> bool:
    expected = error if check.first <= transfer <= check.last else 0.0
    return abs(check.off - expected) <= tolerance


def _readings(
    run: Sequence[Setup], transfer: int, check: Check
) -> list[tuple[int, str, Reading, int]]:
    """Readings of a transfer as (line, name, reading, sign with which it enters the heights)."""
    found: list[tuple[int, str, Reading, int]] = []
    ahead = run[transfer - 1].foresight if 0 < transfer <= len(run) else None
    if transfer == len(run):
        ahead = check.sight
    if ahead is not None:
        found.append((ahead.line, f"foresight on {ahead.point!r}", ahead.reading, -1))
    if transfer < len(run):
        setup = run[transfer]
        found.append((setup.line, f"backsight on {setup.start!r}", setup.backsight, 1))
    return found


def _line(run: Sequence[Setup], transfer: int, check: Check) -> int:
    return _readings(run, transfer, check)[-1][0]


def _setups(run: Sequence[Setup], transfers: Sequence[int], check: Check) -> str:
    """The rows to look at, in words."""
    found = [item for t in transfers for item in _readings(run, t, check)]
    if len(transfers) > MOST_NAMED:
        return f"the backsights and foresights of all {len(run)} setups"
    return ", ".join(f"the {name} (line {line})" for line, name, _, _ in found)


def _whole_steps(off: float, allowed: float, shown: tuple[str, int]) -> str:
    """What a miscounted foot or a dropped leading digit would look like."""
    for step, one, many in _STEPS[shown[0]]:
        count = round(abs(off) / step)
        if 1 <= count <= MOST_STEPS and abs(abs(off) - count * step) <= allowed < step / 2.0:
            what = f"1 {one}" if count == 1 else f"{count} {many}"
            return f"that is {what} to within the allowance, as where a figure is misread"
    return ""


def _slips(
    run: Sequence[Setup], transfer: int, check: Check, allowed: float, shown: tuple[str, int]
) -> Iterator[str]:
    """Slips of the pen in the readings of one transfer that would explain the error."""
    readings = _readings(run, transfer, check)
    if len(readings) == 2 and readings[0][2].metres != readings[1][2].metres:
        exchanged = 2.0 * (readings[1][2].metres - readings[0][2].metres)
        if abs(exchanged - check.off) <= allowed:
            line = readings[1][0]
            yield f"backsight and foresight in line {line} may stand in each other's place"
    for line, name, reading, sign in readings:
        for text in _written_wrong(reading.text):
            metres = _as_length(text, shown)
            if metres is not None and abs(sign * (reading.metres - metres) - check.off) <= allowed:
                yield f"the {name} (line {line}) may be {text} where {reading.text} is written"
                break


def _written_wrong(text: str) -> Iterator[str]:
    """A reading with two neighboring digits exchanged, or with the digit that it lacks."""
    for pair in re.finditer(r"(?=(\d)(\.?)(\d))", text):
        start, (one, point, other) = pair.start(), pair.groups()
        if one != other:
            end = start + len(one + point + other)
            yield text[:start] + other + point + one + text[end:]
    decimals = re.fullmatch(r"(\d*)\.(\d)", text)
    if decimals:
        for digit in "123456789":
            yield f"{decimals[1]}.{digit}{decimals[2]}"


def _as_length(text: str, shown: tuple[str, int]) -> float | None:
    try:
        return parse_length(text, unit="m" if shown[0] == "metric" else "ft")
    except QuantityError:
        return None


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
    warnings: tuple[Notice, ...] = ()
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
        the column ``down`` it is a sheet of `runoff.site.survey.level_lines`.
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
        from runoff.site.survey.level_lines import reduce_level_lines

        return reduce_level_lines(sheet, known or {}, rules, by or "string level")
    read = read_notes(sheet, known or {})
    if sheet.problems:
        raise InputError(sheet.problems)
    return _Reduction(read, rules).table()


def _sheet(
    notes: str | Path | Iterable[Mapping[str, object]], units: str, shown: str | None
) -> Sheet:
    from runoff.site.survey.level_lines import LINE_HEADINGS

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
            self.sheet.notice("sights without length")
        if self.misclosure is None:
            self.sheet.notice("levels not closed")
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
                "first height assumed", first, notation=self.shown[0], height_m=height
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
