"""Readers of answers: lengths, names and words, and what is at a wall or over it.

In: the text of an answer and the answers before it. Out: records of `lot_answers`, or `Expected`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any, get_args

from runoff.quantities import QuantityError, format_length, parse_length, parse_ratio
from runoff.site.model import (
    BuildingKind,
    Neighbor,
    OpeningKind,
    OutletKind,
    PavingKind,
    SoilTexture,
)
from runoff.site.written.document import WELLS
from runoff.site.written.fields import read_leader
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

Reader = Callable[[str, Draft], Any]
HEIGHTS_BY = ("laser level", "builder's level", "water level", "string level")
LEAST_M, MOST_M = 0.05, 3000.0
BETWEEN_SIDES = re.compile(r"\s*(?:x|×|\bby\b)\s*", re.I)
_LONGEST_NAME = 40
_DEEPEST_FOOTING_M = 15.0
_DEEPEST_RAIN_M = 3.0 * 0.3048


def length(text: str, draft: Draft, expected: str, least: float = LEAST_M) -> float:
    """A length in tape notation, bare numbers in the lot's units."""
    try:
        metres = parse_length(text, unit=draft.get("units", "ft"))
    except QuantityError as error:
        raise Expected(expected, f"{text!r}: {error.reason}") from None
    if not least <= metres <= MOST_M:
        raise Expected(expected, f"{text!r} is too {'short' if metres < least else 'long'}")
    return metres


def tape(metres: float, draft: Draft) -> str:
    """A length in the lot's units, as a tape shows it.

    Examples
    --------
    >>> tape(7.493, {"units": "ft"}), tape(7.493, {"units": "m"})
    ('24 ft 7 in', '7.49 m')
    """
    return format_length(metres, "us" if draft.get("units", "ft") == "ft" else "metric")


UNKNOWN = re.compile(
    r"\?+|unknown|not known|no idea|not sure|(?:i )?(?:do not|don.?t) know(?: it)?|dunno", re.I
)


def is_unknown(text: str) -> bool:
    """Whether an answer, or a part of one, says that it is not known.

    Examples
    --------
    >>> is_unknown("do not know"), is_unknown("I don't know."), is_unknown("?"), is_unknown("loam")
    (True, True, True, False)
    """
    return UNKNOWN.fullmatch(" ".join(text.split()).rstrip(".")) is not None


def name(text: str, draft: Draft) -> str:
    """A name on one line."""
    words = " ".join(text.split())
    if not words or len(words) > _LONGEST_NAME or not words.isprintable():
        raise Expected(f"a name of at most {_LONGEST_NAME} letters")
    return words


def new_name(text: str, taken: Sequence[str], expected: str) -> str:
    """A name that nothing else of its kind has."""
    try:
        called = name(text, {})
    except Expected as error:
        raise Expected(expected, f"the name is to be {error.expected}") from None
    if called in taken:
        raise Expected("a name of its own", f"{called!r} is there already")
    return called


def parts_of(text: str) -> list[str]:
    """What stands between the commas; one at the end does no harm."""
    parts = [part.strip() for part in text.split(",")]
    return parts[:-1] if len(parts) > 1 and not parts[-1] else parts


def one_of(words: Sequence[str], what: str) -> Callable[[str, Draft], str]:
    """A reader of one of several words; enough of its beginning will do."""
    expected = f"{what}: {', '.join(words[:-1])} or {words[-1]}"

    def read(text: str, draft: Draft) -> str:
        wanted = " ".join(text.lower().split())
        if wanted in words:
            return wanted
        found = [word for word in words if wanted and word.startswith(wanted)]
        if len(found) != 1:
            raise Expected(expected)
        return found[0]

    return read


def units(text: str, draft: Draft) -> str:
    """Feet or metres."""
    words = {"ft": "ft", "feet": "ft", "foot": "ft", "m": "m", "meters": "m", "metres": "m"}
    try:
        return words[text.strip().lower()]
    except KeyError:
        raise Expected("ft or m") from None


under = one_of(get_args(BuildingKind), "what lies under the house")
heights_by = one_of(HEIGHTS_BY, "how the heights are taken")
texture = one_of(get_args(SoilTexture), "the soil's texture")
neighbor = one_of(get_args(Neighbor), "what lies beyond each side")
opening_kind = one_of(get_args(OpeningKind), "the kind of opening")
paving_kind = one_of(get_args(PavingKind), "the kind of paving")
outlet_kind = one_of(get_args(OutletKind), "what may take the water")


def footing(text: str, draft: Draft) -> float:
    """Depth of the footing."""
    depth = length(text, draft, "a depth below the ground outside, such as 7 ft")
    if depth > _DEEPEST_FOOTING_M:
        expected = "a depth of less than 50 ft below the ground outside, such as 7 ft"
        raise Expected(expected, "no footing of a house lies so deep")
    return depth


def storm(text: str, draft: Draft) -> float:
    """A depth of rain; a bare number does not say its unit."""
    expected = "a depth of rain with its unit, up to 3 ft, such as 4 in or 100 mm"
    try:
        depth = parse_length(text)
    except QuantityError as error:
        raise Expected(expected, error.reason) from None
    if not 0.0 < depth <= _DEEPEST_RAIN_M:
        raise Expected(expected)
    return depth


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
