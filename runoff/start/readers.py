"""Readers of answers: lengths, names and words, and what every reader needs.

In: the text of an answer and the answers before it. Out: what it means, or `Expected`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any, get_args

from runoff.quantities import QuantityError, format_length, parse_length
from runoff.site.model import (
    BuildingKind,
    Neighbor,
    OpeningKind,
    OutletKind,
    PavingKind,
    SoilTexture,
)
from runoff.start.lot_answers import Draft, Expected

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
