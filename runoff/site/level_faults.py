"""Where a level run went wrong: the readings that would explain by how much it misses.

In: a run with its checks. Out: one problem that names the misclosure, the allowance, and the
setups or readings to look at.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from runoff.quantities import QuantityError, format_length, parse_length
from runoff.site.level_notes import Setup, Sight
from runoff.site.problems import Problem
from runoff.site.sheets import Reading

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
