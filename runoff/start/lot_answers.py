"""What a homeowner answers about a lot, understood: the frozen records that `start` writes from.

Lengths are metres and positions plan metres, x to the right and y to the back of the lot.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

Place = tuple[float, float]
Draft = dict[str, Any]
"""Answers so far by the key of their question; what may be given several times is a list."""

SIDES = ("front", "right", "rear", "left")
HOUSE = "house"


class Expected(ValueError):
    """An answer that cannot be used: what is expected instead, and first why, where that is known.

    Examples
    --------
    >>> print(Expected("a depth, such as 4 in", "it has no unit"))
    it has no unit; expected a depth, such as 4 in
    """

    def __init__(self, expected: str, reason: str = "") -> None:
        super().__init__(f"{reason}; expected {expected}" if reason else f"expected {expected}")
        self.expected = expected
        self.reason = reason


@dataclass(frozen=True)
class BuildingAnswer:
    """A building: corners counterclockwise, and a name for the wall from each to the next.

    `closed` says in metres by how much wall runs missed the corner they came back to.
    """

    name: str
    kind: str | None
    corners: tuple[Place, ...]
    walls: tuple[str, ...]
    closed: float = 0.0

    def wall_length(self, wall: str) -> float:
        """Length of a wall by its name, metres."""
        at = self.walls.index(wall)
        return math.dist(self.corners[at], self.corners[(at + 1) % len(self.corners)])


@dataclass(frozen=True)
class WallPlace:
    """A place along a wall, metres from its left end as one faces it from outside."""

    building: str
    wall: str
    distance: float


@dataclass(frozen=True)
class RoofAnswer:
    """A roof plane by its size on the plan, metres; `pitch` as typed, empty where not given."""

    name: str
    length: float
    width: float
    pitch: str


@dataclass(frozen=True)
class DownspoutAnswer:
    """A downspout, the roof that it carries, what share of it, and the leader's size as typed."""

    name: str
    at: WallPlace
    roof: str
    share: float
    size: str = ""


@dataclass(frozen=True)
class OpeningAnswer:
    """An opening by its middle and width; `projection` of a well out of the wall, else 0.

    `sill` is a door's or a vent's height, metres as spot heights are, None where not known.
    """

    name: str
    kind: str
    at: WallPlace
    width: float
    projection: float
    sill: float | None = None


@dataclass(frozen=True)
class PavingAnswer:
    """A walk, drive or patio by its corners."""

    name: str
    kind: str
    corners: tuple[Place, ...]


@dataclass(frozen=True)
class OutletAnswer:
    """A place that may take the water, by one point or by the points of its line."""

    name: str
    kind: str
    points: tuple[Place, ...]


@dataclass(frozen=True)
class LineAnswer:
    """A swale or ditch by points along its bottom."""

    name: str
    points: tuple[Place, ...]


def counterclockwise(corners: Sequence[Place]) -> tuple[Place, ...]:
    """The same outline from the same first corner, walked with the building on the left.

    A wall then runs from left to right as one faces it from outside.

    Examples
    --------
    >>> counterclockwise([(0, 0), (0, 2), (3, 2), (3, 0)])
    ((0, 0), (3, 0), (3, 2), (0, 2))
    """
    following = [*corners[1:], corners[0]]
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(corners, following, strict=True))
    first, *rest = corners
    return tuple(corners) if area > 0 else (first, *reversed(rest))


def side_names(corners: Sequence[Place]) -> tuple[str, ...]:
    """A name for each side of a counterclockwise outline by the way it faces on the plan.

    Examples
    --------
    >>> side_names([(0, 0), (3, 0), (3, 2), (0, 2)])
    ('front', 'right', 'rear', 'left')
    >>> side_names([(0, 0), (4, 0), (4, 2), (2, 2), (2, 4), (0, 4)])
    ('front', 'right 1', 'rear 1', 'right 2', 'rear 2', 'left')
    """
    following = [*corners[1:], corners[0]]
    faces = [
        SIDES[round(math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])) / 90.0) % 4]
        for a, b in zip(corners, following, strict=True)
    ]
    return tuple(
        face if faces.count(face) == 1 else f"{face} {faces[: k + 1].count(face)}"
        for k, face in enumerate(faces)
    )


def buildings_of(draft: Mapping[str, Any]) -> list[BuildingAnswer]:
    """The house, with what lies under it, and the other buildings."""
    house: BuildingAnswer | None = draft.get("outline")
    others: list[BuildingAnswer] = draft.get("buildings") or []
    if house is None:
        return list(others)
    return [
        BuildingAnswer(house.name, draft.get("under"), house.corners, house.walls, house.closed),
        *others,
    ]
