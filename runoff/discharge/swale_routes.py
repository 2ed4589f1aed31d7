"""Lines that a swale may take from beside a downspout: straight, or along the wall and then away.

In: the foot of a downspout, the wall it stands at, and how far out the swale begins. Out: lines of
plan positions with at most one bend beyond the swale's head.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point

from runoff.discharge.routes import split_like
from runoff.foundation.walls import Wall, walls_of
from runoff.site.model import Downspout, Site

SPACING = 0.15
"""Metres between the stations of a swale."""
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
    walls = walls_of(site.own_buildings)
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


def stations_of(
    lines: Sequence[NDArray[np.float64]], spacing: float
) -> list[tuple[NDArray, NDArray, NDArray]]:
    """Stations (m) along each line, their plan positions (n, 2), and the unit vectors across it.

    Parameters
    ----------
    lines : sequence of (2 or 3, 2) plan metres
    spacing : float, metres

    Examples
    --------
    >>> ((x, at, across),) = stations_of([np.array([[0.0, 0.0], [1.5, 0.0]])], 1.0)
    >>> x.tolist(), at.tolist(), across[0].tolist()
    ([0.0, 1.0, 1.5], [[0.0, 0.0], [1.0, 0.0], [1.5, 0.0]], [-0.0, 1.0])
    """
    if not lines:
        return []
    # A straight line has its end twice, and no second leg.
    corner = np.array([np.concatenate([line, line[-1:]])[:3] for line in lines])
    legs = np.diff(corner, axis=1)
    lengths = np.hypot(legs[..., 0], legs[..., 1])
    bend, end = lengths[:, 0], lengths.sum(axis=1)
    regular = np.ceil(end / spacing).astype(np.int64)
    number = np.arange(regular.sum()) - np.repeat(np.cumsum(regular) - regular, regular)
    every = np.arange(len(lines))
    whose = np.concatenate([np.repeat(every, regular), every, every])
    x = np.concatenate([number * spacing, bend, end])
    order = np.lexsort((x, whose))
    x, whose = x[order], whose[order]
    # A bend may lie on a station but for rounding.
    new = np.diff(x, prepend=-1.0) > _SAME
    new[np.flatnonzero(np.diff(whose)) + 1] = True
    x, whose = x[new], whose[new]
    second = (x >= bend[whose]) & (lengths[whose, 1] > 0)
    leg = second.astype(np.int64)
    past = x - np.where(second, bend[whose], 0.0)
    along = legs / np.where(lengths > 0, np.stack([bend, end - bend], axis=1), 1.0)[..., None]
    at = along[whose, leg] * past[:, None] + corner[whose, leg]
    last = x >= end[whose]
    at[last] = corner[whose[last], 2]
    unit = (legs / np.where(lengths > 0, lengths, 1.0)[..., None])[
        whose, np.where(x > bend[whose], leg, 0)
    ]
    across = np.column_stack([-unit[:, 1], unit[:, 0]])
    parts = np.split(x, np.flatnonzero(np.diff(whose)) + 1)
    return list(zip(parts, split_like(at, parts), split_like(across, parts), strict=True))


def _turned(way: tuple[float, float], degrees: float) -> NDArray[np.float64]:
    angle = math.radians(degrees)
    c, s = math.cos(angle), math.sin(angle)
    return np.array([c * way[0] - s * way[1], s * way[0] + c * way[1]])
