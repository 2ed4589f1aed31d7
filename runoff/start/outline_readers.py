"""Readers of places on the plan: outlines of buildings, the lot, paving, lines.

In: the text of an answer and the answers before it. Out: records of `lot_answers`, or `Expected`.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from shapely import Polygon

from runoff.rules import Rules
from runoff.site.outlines import OutlineError, ring
from runoff.site.wall_runs import RunError, parse_run, walk
from runoff.start.lot_answers import (
    HOUSE,
    SIDES,
    BuildingAnswer,
    Draft,
    Expected,
    LineAnswer,
    PavingAnswer,
    Place,
    buildings_of,
    counterclockwise,
    side_names,
)
from runoff.start.readers import (
    BETWEEN_SIDES,
    MOST_M,
    length,
    neighbor,
    new_name,
    parts_of,
    paving_kind,
    tape,
    under,
)

_SHARED_WALL_M = 0.02


def outline(text: str, draft: Draft) -> BuildingAnswer:
    """The house, from its first corner at 0,0 on: width x depth, wall runs, or corners."""
    expected = (
        "width x depth such as 36 ft x 28 ft; wall runs such as E 36 ft, N 28 ft, W 36 ft, S 28 "
        "ft; or corners such as 0, 0; 36, 0; 36, 28; 0, 28"
    )
    closed = 0.0
    sides = BETWEEN_SIDES.split(text.strip())
    if ";" in text:
        corners = places(text, draft, expected, fewest=3)
    elif len(sides) == 2:
        width, depth = (length(side, draft, expected) for side in sides)
        corners = ((0.0, 0.0), (width, 0.0), (width, depth), (0.0, depth))
    else:
        corners, closed = _runs(text, draft, expected)
    return _building(HOUSE, None, corners, expected, closed)


def _runs(text: str, draft: Draft, expected: str) -> tuple[tuple[Place, ...], float]:
    parts = parts_of(text)
    if len(parts) < 3:
        raise Expected(expected)
    try:
        runs = [parse_run(part, draft.get("units", "ft")) for part in parts]
        closed = walk(runs, (0.0, 0.0))
    except RunError as error:
        raise Expected(str(error)) from None
    rules = Rules()
    if closed.misclosure > max(rules["tape_misfit"], rules["outline_misclosure"] * closed.length):
        raise Expected(
            f"wall runs that come back to the first corner; these miss it by "
            f"{tape(closed.misclosure, draft)}: tape the longest again"
        )
    return tuple((float(x), float(y)) for x, y in closed.corners), closed.misclosure


def _building(
    called: str, kind: str | None, corners: Sequence[Place], expected: str, closed: float = 0.0
) -> BuildingAnswer:
    _closed_outline(corners, expected)
    ordered = counterclockwise(corners)
    return BuildingAnswer(called, kind, ordered, side_names(ordered), closed)


def _closed_outline(corners: Sequence[Place], expected: str) -> None:
    try:
        ring(np.array(corners, dtype=np.float64))
    except OutlineError as error:
        raise Expected(f"{expected} ({error})") from None


def places(text: str, draft: Draft, expected: str, fewest: int) -> tuple[Place, ...]:
    """Positions ``x, y; x, y; ...`` on the plan."""
    found: list[Place] = []
    for part in text.split(";"):
        if not part.strip():
            continue
        pair = parts_of(part)
        if len(pair) != 2:
            raise Expected(f"{expected}; each position is x, y")
        x, y = (length(one, draft, expected, -MOST_M) for one in pair)
        found.append((x, y))
    if len(found) < fewest:
        raise Expected(expected)
    return tuple(found)


def building(text: str, draft: Draft) -> BuildingAnswer:
    """Another building: its name, what lies under it, and its corners."""
    expected = "name, kind, corners, such as garage, slab, 40, 44; 60, 44; 60, 64; 40, 64"
    parts = text.split(",", 2)
    if len(parts) != 3:
        raise Expected(expected)
    called = new_name(parts[0], [b.name for b in buildings_of(draft)], expected)
    corners = places(parts[2], draft, expected, fewest=3)
    made = _building(called, under(parts[1], draft), corners, expected)
    _stands_apart(made, buildings_of(draft), expected)
    return made


def _stands_apart(made: BuildingAnswer, others: Sequence[BuildingAnswer], expected: str) -> None:
    for other in others:
        shared = Polygon(made.corners).intersection(Polygon(other.corners))
        if not shared.buffer(-_SHARED_WALL_M).is_empty:
            raise Expected(f"{expected}; this one overlaps the {other.name}")


def lot(text: str, draft: Draft) -> tuple[Place, ...]:
    """The lot's corners, typed or by how far each lot line lies from the house."""
    expected = (
        "how far each lot line lies from the house, such as front 40 ft, right 26 ft, rear 52 ft, "
        "left 18 ft; or corners such as -18, -40; 62, -40; 62, 80; -18, 80"
    )
    if ";" in text:
        corners = places(text, draft, expected, fewest=3)
        _closed_outline(corners, expected)
        corners = counterclockwise(corners)
    else:
        corners = _lot_around(_by_side(text, expected), draft, expected)
    _holds_house(corners, draft, expected)
    return corners


def _by_side(text: str, expected: str) -> dict[str, str]:
    found = {}
    for part in parts_of(text):
        word, _, rest = part.partition(" ")
        if word.lower() not in SIDES or word.lower() in found or not rest.strip():
            raise Expected(expected)
        found[word.lower()] = rest.strip()
    if len(found) != len(SIDES):
        raise Expected(expected)
    return found


def _lot_around(room: dict[str, str], draft: Draft, expected: str) -> tuple[Place, ...]:
    gaps = {side: length(text, draft, expected, least=0.0) for side, text in room.items()}
    corners = draft["outline"].corners
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    left, right = min(xs) - gaps["left"], max(xs) + gaps["right"]
    front, rear = min(ys) - gaps["front"], max(ys) + gaps["rear"]
    return ((left, front), (right, front), (right, rear), (left, rear))


def _holds_house(corners: Sequence[Place], draft: Draft, expected: str) -> None:
    if not Polygon(corners).buffer(0.1).covers(Polygon(draft["outline"].corners)):
        raise Expected(f"{expected}; the house must stand on the lot")


def neighbors(text: str, draft: Draft) -> tuple[str, ...]:
    """What lies beyond each side of the lot, in the order of its sides."""
    sides = side_names(draft["lot"])
    expected = (
        f"what lies beyond each side ({', '.join(sides)}): street, alley, neighbor or open ground, "
        f"such as {sides[0]} street, {', '.join(f'{side} neighbor' for side in sides[1:])}"
    )
    found = {}
    for part in parts_of(text):
        side = next((s for s in sides if part.lower().startswith(f"{s} ")), None)
        if side is None or side in found:
            raise Expected(expected)
        found[side] = neighbor(part[len(side) :], draft)
    if len(found) != len(sides):
        raise Expected(expected)
    return tuple(found[side] for side in sides)


def paving(text: str, draft: Draft) -> PavingAnswer:
    """A walk, drive or patio: its name, kind, and corners."""
    expected = "name, kind, corners, such as drive, drive, 44, -40; 54, -40; 54, 44; 44, 44"
    parts = text.split(",", 2)
    if len(parts) != 3:
        raise Expected(expected)
    called = new_name(parts[0], [p.name for p in draft.get("paving", [])], expected)
    corners = places(parts[2], draft, expected, fewest=3)
    _closed_outline(corners, expected)
    return PavingAnswer(called, paving_kind(parts[1], draft), corners)


def line(text: str, draft: Draft) -> LineAnswer:
    """A swale or ditch: its name, and points along its bottom."""
    expected = "name, then points along its bottom, such as swale, -18, 70; 20, 68; 62, 64"
    called, _, rest = text.partition(",")
    called = new_name(called, [s.name for s in draft.get("swales", [])], expected)
    points = places(rest, draft, expected, fewest=2)
    if any(one == other for one, other in pairwise(points)):
        raise Expected(f"{expected}; each point differs from the one before it")
    return LineAnswer(called, points)
