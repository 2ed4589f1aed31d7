"""Lengths: tape notation in, metres out, and back.

A text is a sum of readings; a reading is a chain of parts, each a number and a unit, from the
large unit to the small (``9 ft 4 1/2 in``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from runoff.quantities.reading import (
    FOOT,
    INCH,
    LENGTHS,
    YARD,
    QuantityError,
    Refusal,
    Token,
    clean,
    is_customary,
    read_number,
    shorten,
    tokenize,
)

LARGEST_M = 10**8
_ONE = {YARD: "a yard", FOOT: "a foot", Fraction(1): "a meter", Fraction(1, 100): "a centimeter"}
_DECIMALS = {10: 1, 100: 2}
_TAPE_DENOMINATORS = (1, 2, 4, 8, 16)


@dataclass(frozen=True)
class _Part:
    """One number with its unit: `unit` is its spelling, None for a bare number."""

    value: Fraction
    whole: bool
    unit: str | None
    shown: str
    next: int


def parse_length(text: str | int | float, unit: str | None = None) -> float:
    """Read a length as people write it from a tape, a plan or a level rod.

    Parameters
    ----------
    text : str, int or float
        Such as ``9' 4 1/2"``, ``9 ft 4-1/2 in``, ``24'7``, ``.5 in``, ``2.86 m`` or
        ``18 ft + 4 ft 2 1/2 in``. A sign before a reading covers all of it.
    unit : {"ft", "in", "yd", "m", "cm", "mm"}, optional
        The unit of a bare number. Without it a bare number is refused.

    Returns
    -------
    float
        The length in metres.

    Raises
    ------
    QuantityError
        Where it is not a length; its `reason` says why.

    Examples
    --------
    >>> round(parse_length('9\\' 4 1/2"'), 5)
    2.8575
    >>> round(parse_length("24", unit="ft"), 4)
    7.3152
    >>> parse_length("9 ft 14 in")
    Traceback (most recent call last):
    ...
    runoff.quantities.reading.QuantityError: "9 ft 14 in" is not a length: 14 in is a foot or more
    """
    if unit is not None and unit not in LENGTHS:
        raise QuantityError(unit, "unit of length", "use ft, in, yd, m, cm or mm")
    try:
        if isinstance(text, str):
            metres = _sum(tokenize(clean(text)), unit)
        else:
            metres = bare_number(text) * LENGTHS[stated(unit)]
        if abs(metres) > LARGEST_M:
            raise Refusal("it is larger than any lot")
    except Refusal as refusal:
        raise QuantityError(text, "length", str(refusal)) from None
    return float(metres)


def bare_number(value: object) -> Fraction:
    """Take a number that is not text exactly; anything but a finite number is refused."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise Refusal("it is neither text nor a number")
    if isinstance(value, float) and not math.isfinite(value):
        raise Refusal("it is not a finite number")
    return Fraction(value)


def stated(unit: str | None) -> str:
    """Insist on a unit for a bare number."""
    if unit is None:
        raise Refusal("say the unit")
    return unit


def _sum(tokens: list[Token], unit: str | None) -> Fraction:
    at, sign = 0, 1
    if tokens[0].kind in ("plus", "hyphen", "minus"):
        sign, at = _sign(tokens[0]), 1
    terms: list[tuple[int, list[_Part]]] = []
    while True:
        parts = _reading(tokens, at)
        terms.append((sign, parts))
        at = parts[-1].next
        if at == len(tokens):
            break
        if tokens[at].kind not in ("plus", "hyphen", "minus"):
            raise Refusal(_unexpected(tokens, at, parts[-1]))
        _check_minus(tokens, at)
        sign, at = _sign(tokens[at]), at + 1
    _check_one_system({part.unit for _, parts in terms for part in parts})
    return sum((sign * _value(parts, unit) for sign, parts in terms), Fraction(0))


def _sign(token: Token) -> int:
    return 1 if token.kind == "plus" else -1


def _check_minus(tokens: list[Token], at: int) -> None:
    """Refuse a hyphen that may join rather than subtract, as in ``9'-4"-1/2"``."""
    spaced = tokens[at].spaced and at + 1 < len(tokens) and tokens[at + 1].spaced
    if tokens[at].kind == "hyphen" and not spaced:
        raise Refusal("it is not clear what a hyphen joins: put spaces on both sides of a minus")


def _check_one_system(units: set[str | None]) -> None:
    if None in units and len(units) > 1:
        raise Refusal("one figure has a unit and another has none")
    if len({is_customary(LENGTHS[unit]) for unit in units if unit}) > 1:
        raise Refusal("feet or inches and metric units are mixed")


def _unexpected(tokens: list[Token], at: int, before: _Part) -> str:
    if tokens[at].kind in ("number", "fraction"):
        return f'a figure follows "{before.shown}" without a unit of its own'
    if before.unit is None:
        return f'"{shorten(tokens[at].text)}" is not a unit of length'
    return f'"{shorten(tokens[at].text)}" is not expected after "{before.shown}"'


def _reading(tokens: list[Token], at: int) -> list[_Part]:
    """Read the chain of parts that starts at `at`."""
    parts = [_part(tokens, at)]
    while parts[-1].unit is not None:
        start = _joined(tokens, parts[-1])
        if start is None:
            break
        part = _part(tokens, start)
        hyphen = tokens[start - 1]
        if hyphen.kind == "hyphen" and not _is_join(hyphen, tokens[start], parts[-1], part):
            break
        if part.unit is None:
            if LENGTHS[stated(parts[-1].unit)] != FOOT:
                raise Refusal(f'a figure follows "{parts[-1].shown}" without a unit of its own')
            part = _Part(part.value, part.whole, "in", f"{part.shown} in", part.next)
        parts.append(part)
    return parts


def _joined(tokens: list[Token], before: _Part) -> int | None:
    """Find where the next part of the same reading starts, None where the reading ends."""
    at = before.next
    if at >= len(tokens):
        return None
    token = tokens[at]
    if token.kind in ("number", "fraction"):
        return at
    joins = token.kind in ("hyphen", "comma") or token.text.lower() == "and"
    follows = at + 1 < len(tokens) and tokens[at + 1].kind in ("number", "fraction")
    return at + 1 if joins and follows else None


def _is_join(hyphen: Token, after: Token, before: _Part, part: _Part) -> bool:
    """Tell the hyphen of ``9'-4"`` from a minus.

    Plans print ``9' - 4"`` with spaces and mean nine feet four; in words, ``9 ft - 4 in`` may be
    meant either way, and is refused.
    """
    if LENGTHS[stated(before.unit)] != FOOT or (part.unit and LENGTHS[part.unit] != INCH):
        return False
    if before.unit != "'" and (hyphen.spaced or after.spaced):
        raise Refusal(
            f'"{before.shown} - {part.shown}" may be a sum or a difference: write '
            f'"{before.shown} {part.shown}" or use feet and inches on both sides'
        )
    return True


def _part(tokens: list[Token], at: int) -> _Part:
    number = read_number(tokens, at)
    figure = _text(tokens, at, number.next)
    token = tokens[number.next] if number.next < len(tokens) else None
    if token is None or token.kind not in ("word", "feet", "inches") or token.text.lower() == "and":
        if number.thousands:
            raise Refusal(f'"{figure}" has a comma and no unit: write it without the comma')
        return _Part(number.value, number.whole, None, figure, number.next)
    unit = token.text.lower().rstrip(".")
    if unit not in LENGTHS:
        raise Refusal(f'"{shorten(token.text)}" is not a unit of length')
    if number.thousands and not is_customary(LENGTHS[unit]):
        raise Refusal(f'the comma in "{figure}" may be a decimal mark: write it with a point')
    name = {"'": "ft", '"': "in"}.get(unit, unit)
    return _Part(number.value, number.whole, unit, f"{figure} {name}", number.next + 1)


def _text(tokens: list[Token], start: int, end: int) -> str:
    pieces = [(" " if token.spaced else "") + token.text for token in tokens[start:end]]
    return shorten("".join(pieces))


def _value(parts: list[_Part], unit: str | None) -> Fraction:
    for large, small in pairwise(parts):
        _check_chain(large, small)
    return sum((p.value * LENGTHS[stated(p.unit or unit)] for p in parts), Fraction(0))


def _check_chain(large: _Part, small: _Part) -> None:
    one, lesser = LENGTHS[stated(large.unit)], LENGTHS[stated(small.unit)]
    _check_one_system({large.unit, small.unit})
    if lesser == one:
        raise Refusal(f'"{large.shown}" and "{small.shown}" have the same unit: put a + between')
    if lesser > one:
        raise Refusal(f'"{small.shown}" comes after "{large.shown}": write the larger unit first')
    if not large.whole:
        raise Refusal(f'"{large.shown}" is not whole, yet "{small.shown}" follows')
    if small.value * lesser >= one:
        raise Refusal(f"{small.shown} is {_ONE[one]} or more")


def format_length(metres: float, system: str = "us", denominator: int = 16) -> str:
    """Write a length in feet, inches and a fraction, in decimal feet, or in metric units.

    Parameters
    ----------
    metres : float
        The length in metres.
    system : {"us", "us decimal", "metric"}
        Feet and inches; feet with a decimal point; or metres, below one metre mm.
    denominator : int
        The finest fraction of an inch: 16, 8, 4, 2 or 1. 10 and 100 give tenths and hundredths of
        a foot; ``"us decimal"`` gives tenths unless 100 is asked for.

    Returns
    -------
    str
        Text that `parse_length` reads back to within half a step.

    Raises
    ------
    QuantityError
        Where `metres` is not a finite number.
    ValueError
        Where `system` or `denominator` is none of those listed.

    Examples
    --------
    >>> format_length(2.8575), format_length(0.3047), format_length(-0.0001)
    ('9 ft 4 1/2 in', '1 ft', '0 in')
    >>> format_length(3.75, "us decimal"), format_length(2.8575, "metric")
    ('12.3 ft', '2.86 m')
    """
    try:
        exact = bare_number(float(metres))
    except Refusal as refusal:
        raise QuantityError(metres, "length", str(refusal)) from None
    if system == "metric":
        return _metric(exact)
    if system == "us decimal" or (system == "us" and denominator in _DECIMALS):
        return _fixed(exact / FOOT, _DECIMALS.get(denominator, 1), "ft")
    if system != "us":
        raise ValueError(f'system is "us", "us decimal" or "metric", not {system!r}')
    if denominator not in _TAPE_DENOMINATORS:
        raise ValueError(f"denominator is 16, 8, 4, 2, 1, 10 or 100, not {denominator!r}")
    return _tape(exact, denominator)


def _tape(metres: Fraction, denominator: int) -> str:
    steps = round(metres / INCH * denominator)
    feet, rest = divmod(abs(steps), 12 * denominator)
    whole, part = divmod(rest, denominator)
    figures = [str(whole)] if whole else []
    if part:
        figures.append(str(Fraction(part, denominator)))
    pieces = [f"{feet} ft"] if feet else []
    if figures or not feet:
        pieces.append(f"{' '.join(figures) or '0'} in")
    return ("-" if steps < 0 else "") + " ".join(pieces)


def _metric(metres: Fraction) -> str:
    millimetres = abs(round(metres * 1000))
    if millimetres < 1000:
        return _fixed(metres * 1000, 0, "mm")
    return _fixed(metres, 2, "m")


def _fixed(value: Fraction, decimals: int, unit: str) -> str:
    steps = round(value * 10**decimals)
    whole, part = divmod(abs(steps), 10**decimals)
    tail = f".{part:0{decimals}d}" if decimals else ""
    return f"{'-' if steps < 0 else ''}{whole}{tail} {unit}"
