"""Lines that a swale may take from beside a downspout: straight, or along the wall and then away.

In: the foot of a downspout, the wall it stands at, and how far out the swale begins. Out: lines of
plan positions with at most one bend beyond the swale's head.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point

from runoff.foundation.walls import Wall, walls_of
from runoff.site.model import Downspout, Site

_SAME = 1e-6  # metres; stations nearer than this are one
_TURN = 10  # degrees between the directions that are tried
_BEND_EVERY = 2.0  # metres along the wall
_BENDS = (-90, -60, -30, 0, 30, 60, 90)


@dataclass(frozen=True)
class Head:
    """Where a swale begins: `foot` of the downspout, `at` the channel's head, the way outward."""

    foot: tuple[float, float]
    at: tuple[float, float]
    outward: tuple[float, float]
    wall: Wall | None


def head_of(site: Site, downspout: Downspout, away: float) -> Head:
    """The head of a swale that runs `away` metres from the wall of a downspout."""
    foot = (downspout.x, downspout.y)
    here = Point(foot)
    walls = walls_of(site.buildings)
    if not walls:
        return Head(foot, foot, (0.0, -1.0), None)
    wall = min(walls, key=lambda each: LineString([each.start, each.end]).distance(here))
    x, y = wall.outward
    out = (foot[0] - wall.start[0]) * x + (foot[1] - wall.start[1]) * y
    step = max(away - out, 0.0)
    return Head(foot, (foot[0] + step * x, foot[1] + step * y), wall.outward, wall)


def lines_from(head: Head, reach: float) -> Iterator[NDArray[np.float64]]:
    """Lines from a head, (2 or 3, 2) plan metres, `reach` metres past the last bend."""
    at = np.array(head.at)
    if head.wall is None:
        for turn in range(0, 360, _TURN):
            yield np.array([at, at + reach * _turned(head.outward, turn)])
        return
    for turn in range(-90, 91, _TURN):
        yield np.array([at, at + reach * _turned(head.outward, turn)])
    along = (np.array(head.wall.end) - head.wall.start) / head.wall.length
    foot = float((at - head.wall.start) @ along)
    for way, length in ((along, head.wall.length - foot), (-along, foot)):
        steps = math.ceil(max(length + _BEND_EVERY, 0.0) / _BEND_EVERY)
        for bend in (at + way * _BEND_EVERY * k for k in range(1, steps + 1)):
            for turn in _BENDS:
                onward = _turned(head.outward, turn)
                if abs(float(onward @ way)) < 0.99:
                    yield np.array([at, bend, bend + reach * onward])


def stations_of(line: NDArray[np.float64], spacing: float) -> tuple[NDArray, NDArray, NDArray]:
    """Stations (m) along a line, their plan positions (n, 2), and the unit vectors across it."""
    legs = np.diff(line, axis=0)
    lengths = np.hypot(*legs.T)
    corners = np.concatenate([[0.0], np.cumsum(lengths)])
    x = np.sort(np.concatenate([np.arange(0.0, corners[-1], spacing), corners]))
    # A bend may lie on a station but for rounding.
    x = x[np.diff(x, prepend=-1.0) > _SAME]
    at = np.column_stack([np.interp(x, corners, line[:, k]) for k in (0, 1)])
    leg = np.clip(np.searchsorted(corners, x, side="left") - 1, 0, len(legs) - 1)
    unit = legs / lengths[:, None]
    return x, at, np.column_stack([-unit[leg, 1], unit[leg, 0]])


def _turned(way: tuple[float, float], degrees: float) -> NDArray[np.float64]:
    angle = math.radians(degrees)
    c, s = math.cos(angle), math.sin(angle)
    return np.array([c * way[0] - s * way[1], s * way[0] + c * way[1]])
