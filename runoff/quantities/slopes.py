"""Slopes, roof pitches and plain ratios, all as a pure number: rise over run, part over whole."""

from __future__ import annotations

import math
from fractions import Fraction

from runoff.quantities.errors import QuantityError, Refusal, shorten
from runoff.quantities.lengths import bare_number, parse_length
from runoff.quantities.measures import finite, three_figures
from runoff.quantities.tokens import Number, clean, read_number, tokenize
from runoff.quantities.units import DEGREES, RATIOS, SLOPES, unit_key

LARGEST = 10**6
_FORMS = "write it like 2 %, 6:12, 1/4 in per ft or 30 degrees"


def parse_slope(text: str | int | float, unit: str | None = None) -> float:
    """Read a slope or roof pitch; rise over run.

    A bare figure such as ``6`` is refused: it may be a pitch in twelfths or a percentage.

    Parameters
    ----------
    text : str, int or float
        Such as ``2 %``, ``6:12``, ``6/12``, ``6 in 12``, ``1/4 in per ft``, ``6 in in 10 ft`` or
        ``30 degrees``.
    unit : str, optional
        The unit of a bare number: ``"%"``, ``"degrees"``, ``"in/ft"`` or ``"m/m"``.

    Returns
    -------
    float
        Rise over run.

    Raises
    ------
    QuantityError
        Where it is not a slope.

    Examples
    --------
    >>> parse_slope("6:12"), parse_slope("2 %"), parse_slope("6 in in 10 ft")
    (0.5, 0.02, 0.05)
    """
    try:
        if not isinstance(text, str):
            if unit is None:
                raise Refusal(_FORMS)
            return _scaled(bare_number(text), unit)
        return _slope(clean(text), unit)
    except Refusal as refusal:
        raise QuantityError(text, "slope", str(refusal)) from None


def parse_ratio(text: str | int | float) -> float:
    """Read a plain number or part of a whole: ``0.95``, ``95 %``, ``7/24``, ``1:2``.

    Raises
    ------
    QuantityError
        Where it is not a ratio.

    Examples
    --------
    >>> parse_ratio("95 %"), parse_ratio(0.9), parse_ratio("1/4")
    (0.95, 0.9, 0.25)
    """
    try:
        if not isinstance(text, str):
            return _in_range(bare_number(text))
        number, sign, rest = _split(clean(text))
        if not rest and not number.thousands:
            return _in_range(sign * number.value)
        if unit_key(rest) in RATIOS:
            return _in_range(sign * number.value * RATIOS[unit_key(rest)])
        return _in_range(sign * number.value / _divisor(rest, (":",)))
    except Refusal as refusal:
        raise QuantityError(text, "ratio", str(refusal)) from None


def _slope(text: str, unit: str | None) -> float:
    number, sign, rest = _split(text)
    if not rest:
        if unit is not None:
            return _scaled(sign * number.value, unit)
        if "/" not in text:
            raise Refusal(_FORMS)
        return _in_range(sign * number.value)
    key = unit_key(rest)
    if key in SLOPES or key in DEGREES:
        return _scaled(sign * number.value, rest)
    over_length = _length_in_length(text)
    if over_length is not None:
        return over_length
    return _in_range(sign * number.value / _divisor(rest, (":", "in")))


def _split(text: str) -> tuple[Number, int, str]:
    tokens = tokenize(text)
    signed = tokens[0].kind in ("plus", "hyphen", "minus")
    number = read_number(tokens, int(signed))
    sign = -1 if tokens[0].kind in ("hyphen", "minus") else 1
    return number, sign, text[tokens[number.next - 1].end :].strip()


def _divisor(rest: str, separators: tuple[str, ...]) -> Fraction:
    """Read what follows the first number of ``6:12`` or ``6 in 12``."""
    for separator in separators:
        if rest.lower().startswith(separator):
            after = rest[len(separator) :].strip()
            number, sign, left = _split(after) if after else (None, 1, "")
            if number is None or left or sign < 0 or number.value == 0:
                break
            return number.value
    raise Refusal(f'"{shorten(rest)}" is not expected; {_FORMS}')


def _length_in_length(text: str) -> float | None:
    """Read ``1/4 in per ft`` or ``6 in in 10 ft``, None where it is neither."""
    lowered = f"{text.lower()} "
    for separator in (" per ", " in ", "/"):
        at = lowered.find(separator)
        while at >= 0:
            rise, run = text[:at], text[at + len(separator) :].strip()
            found = _over(rise, run)
            if found is not None:
                return found
            at = lowered.find(separator, at + 1)
    return None


def _over(rise: str, run: str) -> float | None:
    if not run:
        return None
    try:
        one = run if any(mark.isdigit() for mark in run) else f"1 {run}"
        rise_m, run_m = parse_length(rise), parse_length(one)
    except QuantityError:
        return None
    return rise_m / run_m if run_m > 0 else None


def _scaled(value: Fraction, unit: str) -> float:
    key = unit_key(unit)
    if key in DEGREES:
        if abs(value) >= 90:
            raise Refusal("a slope is less than 90 degrees")
        return math.tan(math.radians(value))
    if key not in SLOPES:
        raise Refusal(f'"{shorten(unit)}" is not a unit of slope; {_FORMS}')
    return _in_range(value * SLOPES[key])


def _in_range(value: Fraction) -> float:
    if abs(value) > LARGEST:
        raise Refusal("it is too large")
    return float(value)


def format_slope(slope: float) -> str:
    """Write a slope in percent.

    Examples
    --------
    >>> format_slope(0.05), format_slope(1 / 96)
    ('5 %', '1.04 %')
    """
    return f"{three_figures(100 * finite(slope, 'slope'))} %"


def format_pitch(pitch: float) -> str:
    """Write a roof pitch as its rise in twelve.

    Examples
    --------
    >>> format_pitch(0.5), format_pitch(1 / 3)
    ('6:12', '4:12')
    """
    return f"{three_figures(12 * finite(pitch, 'pitch'))}:12"
