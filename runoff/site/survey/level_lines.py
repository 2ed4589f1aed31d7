"""Heights measured down from a level line: a string with a string level, or a water level.

In: a sheet with, for each point, how far it lies below the line, and where it was done, the same
again with the level reversed. Out: a `LevelTable` freed of the level's own error.

A string level that shows level when the string rises by e in a unit of length puts a point at
distance d too low by e d; turned end for end, too high by as much. So the mean of both readings is
right and half their difference is the error (common practice). Exchanging the two ends of a water
level does the same for what its marks differ by.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from runoff.quantities import format_length
from runoff.rules import Rules
from runoff.site.notices import Notation
from runoff.site.problems import InputError, Problem
from runoff.site.settings import SIGMA_RULES
from runoff.site.survey.levels import ASSUMED_HEIGHT, LevelPoint, LevelTable
from runoff.site.survey.sheets import Reading, Sheet, SheetRow, style

LINE_HEADINGS: Mapping[str, tuple[str, ...]] = {
    "down": ("down", "measured down", "drop", "below the line", "below line"),
    "reversed": ("reversed", "down reversed", "turned", "level turned"),
    "line": ("line", "level line", "string"),
}
_FEWEST_FOR_SPREAD = 3


@dataclass(frozen=True)
class _Mark:
    """A point below a line; `distance` from the end that was held, None where not noted."""

    name: str
    line: str
    down: Reading
    turned: Reading | None
    distance: float | None
    row: SheetRow

    @property
    def half_difference(self) -> float | None:
        return None if self.turned is None else (self.down.metres - self.turned.metres) / 2.0


def reduce_level_lines(
    sheet: Sheet, known: Mapping[str, float], rules: Rules, by: str = "string level"
) -> LevelTable:
    """Reduce heights measured down from level lines.

    Parameters
    ----------
    sheet : Sheet
        With the columns point and down, and where wanted line (several lines; else it is one),
        reversed, distance from the end that was held, height (known) and remark.
    known : mapping
        Heights (m) of points by name, beside those in the sheet.
    rules : Rules
        For the accuracy of the level.
    by : str
        What level it was, as ``heights_by`` has it. Only a string level's error grows with
        distance.

    Returns
    -------
    LevelTable
        Its `level_error` is the slope that a string level was off by, where distances are noted.

    Raises
    ------
    InputError
        Where the sheet cannot be read.
    """
    heights = dict(known)
    marks = _marks(sheet, heights)
    if sheet.problems:
        raise InputError(sheet.problems)
    slope = _slope(marks) if by == "string level" else None
    downs = {(m.line, m.name): _corrected(m, slope) for m in marks}
    resolution = min(mark.down.step for mark in marks)
    notation, _ = style((mark.down.text for mark in marks), sheet.units)
    sigma = _sigma(marks, slope, resolution, rules, by)
    _say_errors(sheet, marks, slope, notation)
    datum_assumed = not any(mark.name in heights for mark in marks)
    points, worst, problems = _levels(sheet, marks, downs, heights, 1.96 * math.sqrt(2) * sigma)
    return LevelTable(
        points=points,
        misclosure=worst,
        allowance=None if worst is None else 1.96 * math.sqrt(2.0) * sigma,
        backsights=0.0,
        foresights=0.0,
        difference=0.0,
        resolution=resolution,
        sigma=sigma,
        level_error=slope,
        problems=tuple(problems),
        warnings=tuple(sheet.notices),
        by=by,
        is_level_line=True,
        datum_assumed=datum_assumed,
    )


def _marks(sheet: Sheet, heights: dict[str, float]) -> list[_Mark]:
    if "name" not in sheet.columns:
        sheet.complain(
            sheet.header_line, "header", ", ".join(sheet.columns), "a column point beside down"
        )
        return []
    first: dict[tuple[str, str], int] = {}
    marks: list[_Mark] = []
    for row in sheet.rows:
        name, line = row["name"], row["line"] or "line"
        if not name or not (name + line).isprintable():
            sheet.complain(row.line, "point", name, "a name for the point, such as P1")
            continue
        if (line, name) in first:
            sheet.complain(
                row.line,
                "point",
                name,
                f"each point once below a line; line {first[line, name]} has this one already",
            )
            continue
        first[line, name] = row.line
        down = sheet.reading(row, "down", "how far the point lies below the line")
        turned = sheet.reading(row, "reversed", "the same with the level turned end for end")
        distance = sheet.reading(row, "distance", "the distance from the end that was held")
        height = sheet.length(row, "height", "a known height")
        if height is not None:
            heights[name] = height.metres
        if down is not None:
            far = None if distance is None else distance.metres
            marks.append(_Mark(name, line, down, turned, far, row))
        elif not row["down"]:
            sheet.complain(
                row.line, f"point {name!r} . down", "", "how far the point lies below the line"
            )
    return marks


def _slope(marks: list[_Mark]) -> float | None:
    """The slope that the level was off by, by least squares through the end that was held."""
    pairs = [
        (mark.distance, mark.half_difference)
        for mark in marks
        if mark.distance and mark.half_difference is not None
    ]
    if not pairs:
        return None
    return sum(d * e for d, e in pairs) / sum(d * d for d, _ in pairs)


def _corrected(mark: _Mark, slope: float | None) -> float:
    if mark.half_difference is not None:
        return mark.down.metres - mark.half_difference
    if slope is not None and mark.distance is not None:
        return mark.down.metres - slope * mark.distance
    return mark.down.metres


def _is_corrected(mark: _Mark, slope: float | None) -> bool:
    return mark.turned is not None or (slope is not None and mark.distance is not None)


def _sigma(
    marks: list[_Mark], slope: float | None, resolution: float, rules: Rules, by: str
) -> float:
    """Standard deviation of one height.

    Where every point is freed of the level's error: two readings, each good to its rounding or to
    what half differences scatter about the slope, and never better than a water level. Else that
    of the level as such.
    """
    if not all(_is_corrected(mark, slope) for mark in marks):
        return rules[SIGMA_RULES.get(by, "height_sigma_string_level")]
    left = [
        mark.half_difference - slope * mark.distance
        for mark in marks
        if slope is not None and mark.distance is not None and mark.half_difference is not None
    ]
    spread = 0.0
    if len(left) >= _FEWEST_FOR_SPREAD:
        spread = math.sqrt(sum(e * e for e in left) / (len(left) - 1))
    one = max(resolution / math.sqrt(12.0), spread)
    return max(math.sqrt(2.0) * one, rules["height_sigma_water_level"])


def _say_errors(sheet: Sheet, marks: list[_Mark], slope: float | None, notation: Notation) -> None:
    if slope is not None:
        sheet.notice("level's own error", notation=notation, slope_m_per_m=slope)
    left = [mark.name for mark in marks if not _is_corrected(mark, slope)]
    if left:
        sheet.notice("not reversed", *left)


def _levels(
    sheet: Sheet,
    marks: list[_Mark],
    downs: Mapping[tuple[str, str], float],
    heights: dict[str, float],
    allowed: float,
) -> tuple[tuple[LevelPoint, ...], float | None, list[Problem]]:
    """Heights line by line, from points of known height or measured below two lines."""
    if not any(mark.name in heights for mark in marks):
        first = marks[0].name
        heights[first] = ASSUMED_HEIGHT[sheet.units]
        sheet.notice("level line assumed", first, height_m=heights[first])
    problems: list[Problem] = []
    points: dict[str, LevelPoint] = {}
    worst: float | None = None
    waiting = list(dict.fromkeys(mark.line for mark in marks))
    while waiting:
        line = next((w for w in waiting if _ties(marks, w, heights)), None)
        if line is None:
            break
        waiting.remove(line)
        known = _ties(marks, line, heights)
        levels = [heights[mark.name] + downs[line, mark.name] for mark in known]
        for mark, level in zip(known[1:], levels[1:], strict=True):
            off = levels[0] - level
            worst = off if worst is None or abs(off) > abs(worst) else worst
            if abs(off) > allowed:
                problems.append(_apart(sheet, mark, known[0], off, allowed))
        level = sum(levels) / len(levels)
        for mark in (mark for mark in marks if mark.line == line):
            height = level - downs[line, mark.name]
            settled = heights.setdefault(mark.name, height)
            point = LevelPoint(mark.name, height, settled, 1, mark.row["remark"], mark.row.line)
            points.setdefault(mark.name, point)
    for line in waiting:
        row = next(mark.row for mark in marks if mark.line == line)
        problems.append(
            Problem(
                sheet.file, row.line, f"line {line!r}", "", "a point of known height below this "
                "line, or one that is measured below another line as well",
            )
        )  # fmt: skip
    return tuple(points.values()), worst, problems


def _ties(marks: list[_Mark], line: str, heights: Mapping[str, float]) -> list[_Mark]:
    return [mark for mark in marks if mark.line == line and mark.name in heights]


def _apart(sheet: Sheet, mark: _Mark, other: _Mark, off: float, allowed: float) -> Problem:
    system = style([mark.down.text], sheet.units)
    return Problem(
        sheet.file,
        mark.row.line,
        f"point {mark.name!r} . down",
        mark.down.text,
        f"a height within {format_length(allowed, *system)} of the one known for it; from "
        f"{other.name!r} it comes out {format_length(abs(off), *system)} "
        f"{'too high' if off > 0 else 'too low'}",
    )
