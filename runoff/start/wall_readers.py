"""Readers of what is at a wall or over it: roofs, downspouts, openings.

In: the text of an answer and the answers before it. Out: records of `lot_answers`, or `Expected`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from runoff.quantities import QuantityError, parse_ratio
from runoff.site.sizes import read_leader
from runoff.site.wall_tables import WELLS
from runoff.start.lot_answers import (
    HOUSE,
    DownspoutAnswer,
    Draft,
    Expected,
    OpeningAnswer,
    RoofAnswer,
    WallPlace,
    buildings_of,
)
from runoff.start.readers import (
    BETWEEN_SIDES,
    MOST_M,
    is_unknown,
    length,
    new_name,
    opening_kind,
    parts_of,
    tape,
)

_SHARE = re.compile(r"(?P<roof>.*?)\s+(?:(?P<percent>\d{1,3}(?:\.\d{1,3})?)\s*%|(?P<half>half))")
_STEEPEST = 5.0
_SIDE = r"\d[\d\s./]*(?:\"|in|mm|cm)?"
_SIZE = re.compile(rf"(?:round )?{_SIDE}(?:\s*[x×]\s*{_SIDE})?", re.I)
_SILL = re.compile(r"sill(?: at)?\s+(?P<height>.+)", re.I)


def _wall(text: str, distance: str, draft: Draft, expected: str) -> WallPlace:
    """A wall by its name, with its building's before it where that is not the house."""
    words = " ".join(text.lower().split())
    walls = {
        (wall if b.name == HOUSE else f"{b.name} {wall}").lower(): (b, wall)
        for b in buildings_of(draft)
        for wall in b.walls
    }
    if words not in walls:
        raise Expected(expected, f"no wall is called {words!r}; the walls are {', '.join(walls)}")
    held, wall = walls[words]
    at = length(distance, draft, expected, least=0.0)
    if at > held.wall_length(wall) + 1e-6:
        long = tape(held.wall_length(wall), draft)
        raise Expected(expected, f"{distance!r} is too far; the wall {words!r} is {long} long")
    return WallPlace(held.name, wall, at)


def roof(text: str, draft: Draft) -> RoofAnswer:
    """A roof plane: name, length x width on the plan, and its pitch."""
    expected = (
        "name, length x width as seen from above, and if known the pitch, "
        "such as front, 38 ft x 15 ft, 6:12"
    )
    parts = parts_of(text)
    if len(parts) not in (2, 3):
        raise Expected(expected)
    called = new_name(parts[0], [r.name for r in draft.get("roofs", [])], expected)
    sides = BETWEEN_SIDES.split(parts[1])
    if len(sides) != 2:
        raise Expected(expected)
    along, across = (length(side, draft, expected) for side in sides)
    pitch = parts[2] if len(parts) == 3 and not is_unknown(parts[2]) else ""
    if pitch:
        _check_pitch(pitch, expected)
    return RoofAnswer(called, along, across, pitch)


def _check_pitch(pitch: str, expected: str) -> None:
    try:
        steep = parse_ratio(pitch)
    except QuantityError as error:
        raise Expected(expected, f"{pitch!r}: {error.reason}") from None
    if not 0.0 <= steep <= _STEEPEST:
        raise Expected(expected, "a pitch is rise over run, such as 6:12")


def downspout(text: str, draft: Draft) -> DownspoutAnswer:
    """A downspout: name, wall, distance from its left end, the roof it carries, leader's size."""
    roofs = [r.name for r in draft.get("roofs", [])]
    expected = (
        "name, wall, distance from the wall's left end as you face it, roof and share, and if "
        f"known the leader's size, such as front left, front, 1 ft, {roofs[0]} 50 %, 2 x 3 in"
    )
    parts = parts_of(text)
    size = ""
    if len(parts) > 3 and (is_unknown(parts[-1]) or _SIZE.fullmatch(parts[-1])):
        size = _leader(parts.pop(), draft, expected)
    if len(parts) not in (3, 4):
        raise Expected(expected)
    called = new_name(parts[0], [d.name for d in draft.get("downspouts", [])], expected)
    at = _wall(parts[1], parts[2], draft, expected)
    if len(parts) == 3 and len(roofs) != 1:
        raise Expected(expected, f"which roof is not said; the roofs are {', '.join(roofs)}")
    left = {
        r: 1.0 - sum(d.share for d in draft.get("downspouts", []) if d.roof == r) for r in roofs
    }
    carried, share = _share(parts[3] if len(parts) == 4 else roofs[0], roofs, expected)
    if share > left[carried] + 1e-9:
        rest = 100 * max(left[carried], 0)
        raise Expected(expected, f"of roof {carried!r} only {rest:.0f} % is left")
    return DownspoutAnswer(called, at, carried, share, size)


def _leader(text: str, draft: Draft, expected: str) -> str:
    """A leader's size as the site file has it; empty where it is not known."""
    if is_unknown(text):
        return ""
    size = " ".join(text.lower().replace("×", "x").removeprefix("round ").split())
    if draft.get("units", "ft") == "ft" and not size.endswith(("in", '"', "mm", "cm")):
        size += " in"
    try:
        read_leader(size)
    except (ValueError, TypeError) as error:
        raise Expected(expected, f"{text!r} is no leader's size: {error}") from None
    return size


def _share(text: str, roofs: Sequence[str], expected: str) -> tuple[str, float]:
    words = " ".join(text.split())
    share = 1.0
    found = _SHARE.fullmatch(words)
    if found and words not in roofs:
        words = found["roof"]
        share = 0.5 if found["half"] else float(found["percent"]) / 100.0
    if words not in roofs:
        raise Expected(expected, f"no roof is called {words!r}; the roofs are {', '.join(roofs)}")
    if not 0.0 < share <= 1.0:
        raise Expected(expected, "a share is above 0 % and at most 100 %")
    return words, share


def opening(text: str, draft: Draft) -> OpeningAnswer:
    """An opening: name, kind, wall, distance to its middle, width, and a well's projection."""
    expected = (
        "name, kind, wall, distance from the wall's left end to its middle, width, and last how "
        "far a well stands out, or a sill's height if it is measured, such as well 1, window well, "
        "left, 20 ft, 3 ft, 2 ft 6 in"
    )
    parts = parts_of(text)
    if len(parts) not in (5, 6):
        raise Expected(expected)
    called = new_name(parts[0], [o.name for o in draft.get("openings", [])], expected)
    kind = opening_kind(parts[1], draft)
    at = _wall(parts[2], parts[3], draft, expected)
    width = length(parts[4], draft, expected)
    last = parts[5] if len(parts) == 6 and not is_unknown(parts[5]) else ""
    if kind in WELLS:
        if not last:
            raise Expected(expected, f"for a {kind} say how far it stands out last")
        return OpeningAnswer(called, kind, at, width, length(last, draft, expected))
    sill = _SILL.fullmatch(last)
    if last and not sill:
        raise Expected(expected, f"for a {kind} nothing after its width but sill and its height")
    height = length(sill["height"], draft, expected, -MOST_M) if sill else None
    return OpeningAnswer(called, kind, at, width, 0.0, height)
