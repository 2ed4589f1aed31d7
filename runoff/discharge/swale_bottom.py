"""The bottom of a swale along its line: held at its grade, it ends where it meets the ground.

In: the ground along the line and on both banks, metres, and the section. Out: the bottom at every
station, or why there is none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runoff.discharge.swale import SwaleSection

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Ground:
    """What a swale meets along a line; arrays of shape (n,), metres.

    `middle` is the ground on the line, `low` and `high` the lowest and highest of it and of both
    banks. `grade` is the fall (m/m) asked for, `room` how far anything lies that the swale must
    not touch, and `safe` whether water may be let go.
    """

    stations: Array
    middle: Array
    low: Array
    high: Array
    grade: Array
    room: Array
    safe: NDArray[np.bool_]


@dataclass(frozen=True)
class Bottom:
    """A swale's bottom; arrays of shape (n,), metres. From `full_to` on its banks are lower."""

    stations: Array
    ground: Array
    bottom: Array
    full_to: float


@dataclass(frozen=True)
class Shortfall:
    """How near a bottom that lacks fall is to coming out; metres.

    At station `at` the lower bank must lie `asked` lower than at the swale's head (the depth there
    and the fall of the grade) and lies `found` lower; below 0 it lies higher. It is the station
    that has the most of what is asked, the farthest of them where several have.
    """

    at: float
    asked: float
    found: float

    @property
    def share(self) -> float:
        """How much of the fall asked is found."""
        return self.found / self.asked


@dataclass(frozen=True)
class NoBottom:
    """Why a line has no bottom: `no fall`, `unsafe end`, `no room` or `too deep`; station, m."""

    why: str
    at: float
    short: Shortfall | None = None


def lay_bottom(
    ground: Ground, section: SwaleSection, start: float, greatest_cut: float
) -> Bottom | NoBottom:
    """Lay the bottom of a swale that comes out of the ground as soon as it may.

    It starts at a height of `start` or lower, the section's depth under the lower bank. From there
    it keeps depth and grade (going down with the ground), up to a station from which it is held at
    the grade until it meets the lower bank. The first such station is taken for which the ground
    is safe from where the banks are lower than the section, the cut nowhere too deep, and the
    sides touch nothing.

    With S the fall that the grade asks for up to a station and h = low bank - depth + S, a bottom
    that keeps both is the running minimum of h, less S.

    Examples
    --------
    >>> x = np.linspace(0, 20, 201)
    >>> flat = np.full(201, 0.01)
    >>> z = 10 - 0.03 * x
    >>> clear, safe = np.full(201, 9.0), np.ones(201, bool)
    >>> found = lay_bottom(
    ...     Ground(x, z, z, z, flat, clear, safe), SwaleSection(0.3, 3, 0.2), 10, 0.6)
    >>> round(float(found.stations[-1]), 6)  # 0.2 m deep, 3 % of ground against 1 % of bottom
    10.0
    """
    x = ground.stations
    fall = np.concatenate([[0.0], np.cumsum(ground.grade[1:] * np.diff(x))])
    h = ground.low - section.depth_m + fall
    h[0] = min(h[0], start)
    level = np.minimum.accumulate(h)
    after = np.arange(x.size)[None, :] > np.arange(x.size)[:, None]
    out = after & ((ground.low + fall)[None, :] <= level[:, None])
    releases = np.flatnonzero(out.any(axis=1))
    if not releases.size:
        return NoBottom("no fall", float(x[-1]), _shortfall(ground, float(level[0]), fall))
    ends = out[releases].argmax(axis=1)
    worst = NoBottom("unsafe end", float(x[ends[0]]))
    for release, end in zip(releases.tolist(), ends.tolist(), strict=True):
        bottom = np.where(np.arange(x.size) < release, level, level[release]) - fall
        trouble = _trouble(ground, section, bottom, release, end, greatest_cut)
        if trouble is None:
            return _ended(ground, section, bottom, release, end)
        if trouble.why != "unsafe end":
            worst = trouble
            if trouble.at <= x[release]:
                break
    return worst


def _shortfall(ground: Ground, start: float, fall: Array) -> Shortfall:
    asked, found = ground.low[0] - start + fall, ground.low[0] - ground.low
    # The last station may lie in what ends the line.
    share = np.where(ground.room > 0, np.round(found / asked, 6), -np.inf)[1:]
    at = len(share) - int(share[::-1].argmax())
    return Shortfall(float(ground.stations[at]), float(asked[at]), float(found[at]))


def _trouble(ground, section, bottom, release, end, greatest_cut) -> NoBottom | None:
    x = ground.stations
    cut = np.maximum(ground.high - bottom, 0)[: end + 1]
    for why, bad in (
        ("no room", ground.room[: end + 1] < section.bottom_m / 2 + section.side_run * cut),
        ("too deep", (ground.middle - bottom)[: end + 1] > greatest_cut),
    ):
        if bad.any():
            return NoBottom(why, float(x[bad.argmax()]))
    run_out = slice(_first_shallow(ground, section, bottom, release), end + 1)
    return None if ground.safe[run_out].all() else NoBottom("unsafe end", float(x[end]))


def _first_shallow(ground: Ground, section: SwaleSection, bottom: Array, release: int) -> int:
    """The first station whose lower bank is lower than the section's depth."""
    shallow = ground.low - bottom < section.depth_m - 1e-9
    shallow[: release + 1] = False
    return int(shallow.argmax())


def _ended(ground: Ground, section: SwaleSection, bottom: Array, release: int, end: int) -> Bottom:
    """Cut the line off where the bottom meets the lower bank."""
    x, over = ground.stations, ground.low - bottom
    share = over[end - 1] / (over[end - 1] - over[end])
    last = x[end - 1] + share * (x[end] - x[end - 1])
    stations = np.append(x[:end], last)
    shallow = _first_shallow(ground, section, bottom, release)
    return Bottom(
        stations,
        np.interp(stations, x, ground.middle),
        np.interp(stations, x, bottom),
        float(x[max(shallow - 1, 0)]),
    )
