"""An outline paced or taped as runs of wall, one after another, closed by the compass rule.

In: runs such as ``E 36 ft``, ``N 24 ft``, ``left 12 ft`` and the corner they start from. Out: the
corners in plan metres, and by how much the runs missed the corner that they came back to.

The compass (Bowditch) rule moves each corner by the misclosure times its share of the length walked
so far (common practice in traversing).
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runoff.quantities import QuantityError, parse_length
from runoff.site.survey.ties import NamedPoints

# Degrees clockwise from plan up.
_COMPASS = {
    "n": 0.0, "ne": 45.0, "e": 90.0, "se": 135.0, "s": 180.0, "sw": 225.0, "w": 270.0, "nw": 315.0,
    "north": 0.0, "northeast": 45.0, "east": 90.0, "southeast": 135.0, "south": 180.0,
    "southwest": 225.0, "west": 270.0, "northwest": 315.0,
    "up": 0.0, "down": 180.0,
}  # fmt: skip
_ALONG_DEGREES = 15.0
_TURNS = {"left": -1.0, "right": 1.0}
_ANGLE = r"(\d{1,3}(?:\.\d{1,6})?)"
_QUADRANT = re.compile(rf"([ns])\s*{_ANGLE}\s*(?:deg(?:rees)?|°)?\s*([ew])\s+(.+)", re.I)
_AZIMUTH = re.compile(rf"{_ANGLE}\s*(?:deg(?:rees)?|°)\s+(.+)", re.I)
_TURN = re.compile(rf"(left|right)\s+{_ANGLE}\s*(?:deg(?:rees)?|°)\s+(.+)", re.I)
_WORD = re.compile(r"([a-z]+)\s+(.+)", re.I)
EXAMPLES = 'such as "E 36 ft", "N 30 E 12 ft", "120 deg 12 ft", "left 24 ft" or "left 45 deg 9 ft"'


class RunError(ValueError):
    """A run that cannot be read; its text says what is expected."""


@dataclass(frozen=True)
class Run:
    """A run of wall: its length (m), and its bearing or the turn before it.

    `bearing` is degrees clockwise from plan up; `turn` degrees to the right of the run before it.
    One of the two is None.
    """

    length: float
    bearing: float | None
    turn: float | None


@dataclass(frozen=True)
class Traverse:
    """Corners (k, 2) in plan metres after closing, the misclosure and the whole length, metres."""

    corners: NDArray[np.float64]
    misclosure: float
    length: float


def parse_run(text: str, units: str) -> Run:
    """Read one run of wall.

    Directions are on the plan: N is plan up, whichever way north lies. ``left`` and ``right`` turn
    by a right angle from the run before, or by the angle that follows.

    Raises
    ------
    RunError

    Examples
    --------
    >>> parse_run("E 10 m", "ft").bearing, parse_run("s 30 w 10 m", "ft").bearing
    (90.0, 210.0)
    >>> parse_run("left 45 deg 3 m", "ft")
    Run(length=3.0, bearing=None, turn=-45.0)
    """
    text = text.strip()
    if match := _QUADRANT.fullmatch(text):
        return Run(_length(match[4], units), _quadrant(match), None)
    if match := _AZIMUTH.fullmatch(text):
        if float(match[1]) >= 360.0:
            raise RunError(f"a bearing below 360 degrees, {EXAMPLES}")
        return Run(_length(match[2], units), float(match[1]), None)
    if match := _TURN.fullmatch(text):
        if float(match[2]) >= 180.0:
            raise RunError(f"a turn below 180 degrees, {EXAMPLES}")
        return Run(_length(match[3], units), None, _TURNS[match[1].lower()] * float(match[2]))
    match = _WORD.fullmatch(text)
    word = match[1].lower() if match else ""
    if match and word in _TURNS:
        return Run(_length(match[2], units), None, _TURNS[word] * 90.0)
    if match and word in _COMPASS:
        return Run(_length(match[2], units), _COMPASS[word], None)
    raise RunError(f"a direction and a length, {EXAMPLES}")


def _quadrant(match: re.Match[str]) -> float:
    angle = float(match[2])
    if angle > 90.0:
        raise RunError(f"an angle of at most 90 degrees from north or south, {EXAMPLES}")
    east = 1.0 if match[3].lower() == "e" else -1.0
    return (east * angle if match[1].lower() == "n" else 180.0 - east * angle) % 360.0


def _length(text: str, units: str) -> float:
    try:
        metres = parse_length(text, unit=units)
    except QuantityError as error:
        raise RunError(f"a direction and a length, {EXAMPLES} ({error.reason})") from None
    if metres <= 0.0:
        raise RunError(f"a direction and a length above zero, {EXAMPLES}")
    return metres


def steps_of(runs: Sequence[Run]) -> tuple[NDArray[np.float64], list[float]]:
    """How far each run goes, (k, 2) metres right and up, and its bearing in degrees."""
    bearing, steps, bearings = 0.0, [], []
    for run in runs:
        bearing = run.bearing if run.bearing is not None else bearing + (run.turn or 0.0)
        angle = math.radians(bearing)
        steps.append((run.length * _exact(math.sin(angle)), run.length * _exact(math.cos(angle))))
        bearings.append(bearing)
    return np.array(steps), bearings


def walk(runs: Sequence[Run], start: tuple[float, float]) -> Traverse:
    """Walk the runs from a corner, and close them by the compass rule.

    Parameters
    ----------
    runs : sequence of Run
        At least three, the first with a bearing; the last comes back to the start.
    start : (x, y), plan metres

    Raises
    ------
    RunError
        Where the first run turns from nothing.

    Examples
    --------
    >>> sides = [parse_run(text, "m") for text in ("E 4", "left 3.02", "W 4", "S 3")]
    >>> closed = walk(sides, (0.0, 0.0))
    >>> closed.corners.round(3).tolist(), round(closed.misclosure, 3)
    ([[0.0, 0.0], [4.0, -0.006], [4.0, 3.01], [0.0, 3.004]], 0.02)
    """
    if runs[0].bearing is None:
        raise RunError(f"a first run with a direction of its own, {EXAMPLES}")
    steps, _ = steps_of(runs)
    walked = np.vstack([(0.0, 0.0), np.cumsum(steps, axis=0)])
    lengths = np.concatenate([[0.0], np.cumsum([run.length for run in runs])])
    missed = walked[-1]
    corners = np.asarray(start) + walked - missed * (lengths / lengths[-1])[:, None]
    return Traverse(corners[:-1], float(np.hypot(*missed)), float(lengths[-1]))


def close(runs: Sequence[Run], start: tuple[float, float], points: NamedPoints) -> Traverse:
    """Walk the runs, and refuse them where they miss their start by more than taping does.

    Raises
    ------
    RunError
        Naming the misclosure, and the run that is as long as it where there is one.
    """
    traverse = walk(runs, start)
    allowed = max(points.allowed, points.share * traverse.length)
    if traverse.misclosure > allowed:
        raise RunError(
            f"runs that come back to their start within {points.show(allowed)}; they miss it by "
            f"{points.show(traverse.misclosure)} in {points.show(traverse.length)}{_along(runs)}"
        )
    return traverse


def _along(runs: Sequence[Run]) -> str:
    """Which runs a wrong length could stand in: those along the way that the end misses by."""
    steps, angles = steps_of(runs)
    missed = steps.sum(axis=0)
    toward = math.degrees(math.atan2(missed[0], missed[1]))
    found = [
        str(number)
        for number, angle in enumerate(angles, 1)
        if min((angle - toward) % 180.0, (toward - angle) % 180.0) <= _ALONG_DEGREES
    ]
    if not found or len(found) == len(runs):
        return ""
    return f", along {'run' if len(found) == 1 else 'runs'} {', '.join(found)}"


def _exact(value: float) -> float:
    """A sine or cosine with the rounding of right angles taken out."""
    nearest = round(value)
    return float(nearest) if abs(value - nearest) < 1e-12 else value
