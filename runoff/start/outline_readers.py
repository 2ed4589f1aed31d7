"""Readers of places on the plan: outlines of buildings, the lot, paving, lines.

In: the text of an answer and the answers before it. Out: records of `lot_answers`, or `Expected`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from shapely import Polygon

from runoff.rules import Rules
from runoff.site.shapes import OutlineError, ring
from runoff.site.survey.wall_runs import RunError, parse_run, walk
from runoff.start.lot_answers import (
    HOUSE,
    SIDES,
    BuildingAnswer,
    Draft,
    Expected,
    LineAnswer,
    OutletAnswer,
    PavingAnswer,
    Place,
    buildings_of,
    counterclockwise,
    side_names,
)
from runoff.start.readers import (
    BETWEEN_SIDES,
    MOST_M,
    is_unknown,
    length,
    neighbor,
    new_name,
    outlet_kind,
    parts_of,
    paving_kind,
    tape,
    under,
)

_SHARED_WALL_M = 0.02
PUBLIC = "public sidewalk"


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
            "wall runs that come back to the first corner",
            f"these miss it by {tape(closed.misclosure, draft)}: tape the longest again",
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
        raise Expected(expected, f"an outline is to be {error}") from None


def places(text: str, draft: Draft, expected: str, fewest: int) -> tuple[Place, ...]:
    """Positions ``x, y; x, y; ...`` on the plan."""
    found: list[Place] = []
    for part in text.split(";"):
        if not part.strip():
            continue
        pair = parts_of(part)
        if len(pair) != 2:
            raise Expected(expected, f"{part.strip()!r} is no position x, y")
        x, y = (length(one, draft, expected, -MOST_M) for one in pair)
        found.append((x, y))
    if len(found) < fewest:
        raise Expected(expected)
    return tuple(found)


BY_TAPE = "22 ft x 24 ft, 12 ft behind the house, 3 ft to its right"


def building(text: str, draft: Draft) -> BuildingAnswer:
    """Another building: its name, what lies under it, its size and place or its corners."""
    expected = (
        f"name, kind, width x depth, and how far it stands from the house, such as garage, slab, "
        f"{BY_TAPE}; or name, kind, corners, such as garage, slab, 40, 44; 60, 44; 60, 64; 40, 64"
    )
    called, written, rest = _named(text, draft, expected)
    called = new_name(called, [b.name for b in buildings_of(draft)], expected)
    kind = None if not written or is_unknown(written) else under(written, draft)
    made = _building(called, kind, _placed(rest, draft, expected), expected)
    _stands_apart(made, buildings_of(draft), expected)
    return made


def _named(text: str, draft: Draft, expected: str) -> tuple[str, str, str]:
    """Name, kind (empty where a size stands in its place) and the rest of an answer."""
    called, _, rest = text.partition(",")
    first, _, after = rest.partition(",")
    if not rest.strip():
        raise Expected(expected)
    if len(BETWEEN_SIDES.split(first.strip())) == 2 and first.strip()[:1].isdigit():
        return called, "", rest
    return called, first, after


def _placed(text: str, draft: Draft, expected: str) -> tuple[Place, ...]:
    """Corners typed, or those of a rectangle by its size and two distances from a building."""
    if ";" in text:
        return places(text, draft, expected, fewest=3)
    size, *where = parts_of(text)
    sides = BETWEEN_SIDES.split(size)
    if len(sides) != 2:
        raise Expected(expected, f"{size!r} is no width x depth")
    width, depth = (length(side, draft, expected) for side in sides)
    x, y = _corner(where, (width, depth), draft, expected)
    return ((x, y), (x + width, y), (x + width, y + depth), (x, y + depth))


# By a word: the axis of the plan, and on which end of the building's extent.
_WAYS = {"behind": (1, 1), "in front of": (1, 0), "right": (0, 1), "left": (0, 0)}
_WALLS = {"rear": (1, 1), "front": (1, 0), "right": (0, 1), "left": (0, 0)}
_AWAY = re.compile(
    r"(?P<gap>.+?)\s+(?:(?P<way>behind|in front of)|(?:to |on )?(?:the |its )?"
    r"(?P<side>right|left)(?: side)?(?: of)?)(?:\s+(?:the )?(?P<what>.+))?",
    re.I,
)
_FLUSH = re.compile(
    r"(?P<how>flush with|even with|in line with|against|attached to|at) (?:the |its )?"
    r"(?:(?P<what>.+?)(?:'s)? )?(?P<side>right|left|front|rear)(?: wall| side)?",
    re.I,
)


def _corner(where: Sequence[str], size: tuple[float, float], draft: Draft, expected: str) -> Place:
    """The front left corner of a rectangle by what is said of its place, a phrase an axis."""
    found: dict[int, float] = {}
    other = HOUSE
    for phrase in where:
        words = " ".join(phrase.split())
        flush = _FLUSH.fullmatch(words)
        away = None if flush else _AWAY.fullmatch(words)
        said = flush or away
        if said is None:
            raise Expected(expected, f"{words!r} says no place beside a building")
        other = _other(said["what"], other, draft, expected)
        low, high = _extent(other, draft)
        if away is not None:
            axis, end = _WAYS[(away["way"] or away["side"]).lower()]
            gap, outside = length(away["gap"], draft, expected, least=0.0), True
        else:
            axis, end = _WALLS[said["side"].lower()]
            gap, outside = 0.0, said["how"].lower() in ("against", "attached to", "at")
        if axis in found:
            raise Expected(expected, f"{words!r} says once more what is said before it")
        beyond = high[axis] + gap if end else low[axis] - gap - size[axis]
        found[axis] = beyond if outside else (high[axis] - size[axis] if end else low[axis])
    for axis, lacking in ((1, "behind or in front of"), (0, "to the right or left of")):
        if axis not in found:
            wall = "rear" if axis else "right"
            hint = f"how far {lacking} the {other} it stands is not said"
            raise Expected(expected, f"{hint}; where their walls line up, flush with its {wall}")
    return found[0], found[1]


def _other(what: str | None, before: str, draft: Draft, expected: str) -> str:
    if what is None or what.lower() in ("it", "its"):
        return before
    names = {b.name.lower(): b.name for b in buildings_of(draft)}
    if what.lower() not in names:
        raise Expected(expected, f"no building is called {what!r}; there are {', '.join(names)}")
    return names[what.lower()]


def _extent(called: str, draft: Draft) -> tuple[Place, Place]:
    corners = next(b.corners for b in buildings_of(draft) if b.name == called)
    xs, ys = zip(*corners, strict=True)
    return (min(xs), min(ys)), (max(xs), max(ys))


def _stands_apart(made: BuildingAnswer, others: Sequence[BuildingAnswer], expected: str) -> None:
    for other in others:
        shared = Polygon(made.corners).intersection(Polygon(other.corners))
        if not shared.buffer(-_SHARED_WALL_M).is_empty:
            raise Expected(expected, f"it overlaps the {other.name}")


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
        raise Expected(expected, "the house must stand on the lot")


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
        beyond = part[len(side) :]
        found[side] = "unknown" if is_unknown(beyond) else neighbor(beyond, draft)
    if len(found) != len(sides):
        raise Expected(expected)
    return tuple(found[side] for side in sides)


def paving(text: str, draft: Draft) -> PavingAnswer:
    """A walk, drive or patio: its name, kind, and size and place or corners."""
    expected = (
        "name, kind, width x depth, and how far it lies from the house, such as patio, patio, "
        "12 ft x 10 ft, against its rear, flush with its left; or name, kind, corners, such as "
        "drive, drive, 44, -40; 54, -40; 54, 44; 44, 44"
    )
    called, kind, rest = _named(text, draft, expected)
    called = new_name(called, [p.name for p in draft.get("paving", [])], expected)
    if not kind:
        raise Expected(expected, "its kind is not said: walk, drive or patio")
    corners = _placed(rest, draft, expected)
    _closed_outline(corners, expected)
    return PavingAnswer(called, paving_kind(kind, draft), corners)


def outlet(text: str, draft: Draft) -> OutletAnswer:
    """What may take the water: name, kind, and the lot side it runs along or its points."""
    sides = dict(zip(side_names(draft["lot"]), _lines_of(draft["lot"]), strict=True))
    expected = (
        f"name, kind (street gutter, ditch, swale or storm inlet), the side of the lot it runs "
        f"along ({', '.join(sides)}) and how far beyond it, such as street, street gutter, "
        f"{next(iter(sides))}, 8 ft; or its points, such as inlet, storm inlet, 62, -44"
    )
    parts = text.split(",", 2)
    if len(parts) != 3:
        raise Expected(expected)
    called = new_name(parts[0], [o.name for o in draft.get("outlets", [])], expected)
    kind = outlet_kind(parts[1], draft)
    side, _, beyond = (part.strip() for part in parts[2].partition(","))
    if side.lower() not in sides:
        return OutletAnswer(called, kind, places(parts[2], draft, expected, fewest=1))
    out = length(beyond, draft, expected, least=0.0)
    (ax, ay), (bx, by) = sides[side.lower()]
    run = math.dist((ax, ay), (bx, by))
    ox, oy = out * (by - ay) / run, out * (ax - bx) / run
    return OutletAnswer(called, kind, ((ax + ox, ay + oy), (bx + ox, by + oy)))


def _lines_of(corners: Sequence[Place]) -> list[tuple[Place, Place]]:
    return list(zip(corners, [*corners[1:], corners[0]], strict=True))


def sidewalk(text: str, draft: Draft) -> PavingAnswer:
    """A public sidewalk along a side of the lot: how far beyond the lot line, and how wide."""
    sides = dict(zip(side_names(draft["lot"]), _lines_of(draft["lot"]), strict=True))
    expected = (
        f"the side ({', '.join(sides)}), how far beyond the lot line it begins, and its width, "
        f"such as {next(iter(sides))}, 1 ft, 5 ft"
    )
    parts = parts_of(text)
    if len(parts) != 3 or parts[0].lower() not in sides:
        raise Expected(expected)
    side = parts[0].lower()
    called = new_name(f"{side} sidewalk", [p.name for p in draft.get("sidewalk", [])], expected)
    near = length(parts[1], draft, expected, least=0.0)
    far = near + length(parts[2], draft, expected)
    (ax, ay), (bx, by) = sides[side]
    run = math.dist((ax, ay), (bx, by))
    ox, oy = (by - ay) / run, (ax - bx) / run
    outline = tuple(
        (x + out * ox, y + out * oy)
        for x, y, out in ((ax, ay, far), (bx, by, far), (bx, by, near), (ax, ay, near))
    )
    return PavingAnswer(called, PUBLIC, outline)


def line(text: str, draft: Draft) -> LineAnswer:
    """A swale or ditch: its name, and points along its bottom."""
    expected = "name, then points along its bottom, such as swale, -18, 70; 20, 68; 62, 64"
    called, _, rest = text.partition(",")
    called = new_name(called, [s.name for s in draft.get("swales", [])], expected)
    points = places(rest, draft, expected, fewest=2)
    if any(one == other for one, other in pairwise(points)):
        raise Expected(expected, "each point differs from the one before it")
    return LineAnswer(called, points)
