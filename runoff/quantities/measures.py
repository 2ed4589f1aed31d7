"""Areas, volumes, flows, rates, durations, slopes and ratios: written text in, SI out, and back."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from fractions import Fraction

from runoff.quantities.lengths import bare_number, parse_length, stated
from runoff.quantities.reading import (
    AREAS,
    DEGREES,
    DURATIONS,
    FLOWS,
    FOOT,
    HOUR,
    INCH,
    RATES,
    RATIOS,
    SLOPES,
    VOLUMES,
    Number,
    QuantityError,
    Refusal,
    Token,
    clean,
    is_customary,
    read_number,
    shorten,
    tokenize,
    unit_key,
)

LARGEST = 10**15
_WITH_POWER = re.compile(r"([0-9]+(?:\.[0-9]+)?[eE][+-]?[0-9]{1,2})(?![0-9.,])(.*)")


def parse_area(text: str | int | float, unit: str | None = None) -> float:
    """Read an area such as ``1,200 sq ft``, ``ft2`` or ``111 m2``; square metres.

    `unit` is the unit of a bare number, here and in the functions below. What is no area raises
    `QuantityError`.

    Examples
    --------
    >>> round(parse_area("1,200 sq ft"), 3)
    111.484
    """
    return _parse(text, unit, "area", AREAS)


def parse_volume(text: str | int | float, unit: str | None = None) -> float:
    """Read a volume such as ``40 cu ft``, ``300 gal`` (US) or ``1.1 m3``; cubic metres.

    Examples
    --------
    >>> round(parse_volume("100 gal"), 6)
    0.378541
    """
    return _parse(text, unit, "volume", VOLUMES)


def parse_flow(text: str | int | float, unit: str | None = None) -> float:
    """Read a flow such as ``23 gpm``, ``0.5 cfs`` or ``2 L/s``; cubic metres a second.

    Examples
    --------
    >>> parse_flow("2 L/s")
    0.002
    """
    return _parse(text, unit, "flow", FLOWS)


def parse_rate(text: str | int | float, unit: str | None = None) -> float:
    """Read a rate such as ``4 in/h``, ``75 mm/h`` (rain, soil) or ``2 ft/s``; metres a second.

    Examples
    --------
    >>> parse_rate("36 mm/h"), parse_rate("2e-5 m/s")
    (1e-05, 2e-05)
    """
    return _parse(text, unit, "rate", RATES)


def parse_duration(text: str | int | float, unit: str | None = None) -> float:
    """Read a duration such as ``5 min``, ``24 h`` or ``1 h 30 min``; seconds.

    Examples
    --------
    >>> parse_duration("1 h 30 min")
    5400.0
    """
    try:
        if not isinstance(text, str):
            return _in_range(bare_number(text) * _size(stated(unit), "duration", DURATIONS))
        cleaned = clean(text)
        return _in_range(_chain(cleaned, tokenize(cleaned), unit))
    except Refusal as refusal:
        raise QuantityError(text, "duration", str(refusal)) from None


def _chain(text: str, tokens: list[Token], unit: str | None) -> Fraction:
    """Add the parts of a duration, each smaller than one of the unit before it."""
    total, at, above = Fraction(0), 0, None
    while at < len(tokens):
        number = read_number(tokens, at)
        following = range(number.next, len(tokens))
        end = next((i for i in following if tokens[i].kind in ("number", "fraction")), len(tokens))
        written = text[tokens[number.next - 1].end : tokens[end - 1].end].strip()
        size = _size(written or stated(unit if above is None else None), "duration", DURATIONS)
        if above is not None and number.value * size >= above:
            raise Refusal(f'"{shorten(written)}" is too large or in the wrong order here')
        total, at, above = total + number.value * size, end, size
    return total


def _parse(
    text: str | int | float, unit: str | None, kind: str, units: Mapping[str, Fraction]
) -> float:
    try:
        if not isinstance(text, str):
            return _in_range(bare_number(text) * _size(stated(unit), kind, units))
        number, written = _power_of_ten(text) or number_and_rest(text)
        if number.thousands and not written:
            raise Refusal("it has a comma and no unit: write it without the comma")
        size = _size(written or stated(unit), kind, units)
        if number.thousands and not is_customary(size):
            raise Refusal("the comma may be a decimal mark: write it with a point")
        return _in_range(number.value * size)
    except Refusal as refusal:
        raise QuantityError(text, kind, str(refusal)) from None


def _power_of_ten(text: str) -> tuple[Number, str] | None:
    """A number with a power of ten, such as ``2e-5``, as soil tests give rates; None for others."""
    found = _WITH_POWER.fullmatch(clean(text))
    if found is None:
        return None
    return Number(Fraction(found[1]), False, False, 0), found[2].strip()


def number_and_rest(text: str) -> tuple[Number, str]:
    """Split a text into the number it starts with and whatever follows.

    Examples
    --------
    >>> number, rest = number_and_rest("1,200 sq ft")
    >>> float(number.value), rest
    (1200.0, 'sq ft')
    """
    cleaned = clean(text)
    tokens = tokenize(cleaned)
    if tokens[0].kind in ("hyphen", "minus"):
        raise Refusal("it is negative")
    number = read_number(tokens, 1 if tokens[0].kind == "plus" else 0)
    return number, cleaned[tokens[number.next - 1].end :].strip()


def _size(written: str, kind: str, units: Mapping[str, Fraction]) -> Fraction:
    size = units.get(unit_key(written))
    if size is None:
        raise Refusal(f'"{shorten(written)}" is not a unit of {kind}')
    return size


def _in_range(value: Fraction) -> float:
    if value < 0:
        raise Refusal("it is negative")
    if value > LARGEST:
        raise Refusal("it is too large")
    return float(value)


def format_area(square_metres: float, system: str = "us", found: bool = False) -> str:
    """Write an area to three figures; `system` is ``"us"`` or ``"metric"``, here and below.

    One that is `found` on the ground, here and below, is rounded by `as_found`.

    Examples
    --------
    >>> format_area(111.484), format_area(111.484, "metric")
    ('1200 sq ft', '111 m2')
    >>> format_area(41.9, found=True), format_area(41.9, "metric", found=True)
    ('450 sq ft', '42 m2')
    """
    return _format(square_metres, system, ("sq ft", FOOT**2), ("m2", Fraction(1)), found)


def format_volume(cubic_metres: float, system: str = "us", good_to: float | None = None) -> str:
    """Write a volume to three figures, in cubic feet or cubic metres.

    One that was found on the ground is `good_to` so much only (m3, 0 where its heights are exact):
    it is rounded to the largest of 1, 2 or 5 of a decimal place that is not more, and by
    `as_found`; what rounds to nothing is told as less than that.

    Examples
    --------
    >>> format_volume(1.0), format_volume(1.0, "metric")
    ('35.3 cu ft', '1 m3')
    >>> format_volume(10.768, good_to=0.4), format_volume(0.02, "metric", good_to=0.06)
    ('380 cu ft', 'under 0.05 m3')
    >>> format_volume(1.295, good_to=0.0), format_volume(2.295, "metric", good_to=0.0)
    ('46 cu ft', '2.3 m3')
    """
    units = ("cu ft", FOOT**3), ("m3", Fraction(1))
    under = ""
    if good_to:
        size = float(units[system == "metric"][1])
        place = 10.0 ** math.floor(math.log10(good_to / size))
        step = size * max(n * place for n in (1, 2, 5) if n == 1 or n * place * size <= good_to)
        under = "under " if cubic_metres < step / 2 else ""
        cubic_metres = step * max(round(cubic_metres / step), 1)
    return under + _format(cubic_metres, system, *units, good_to is not None)


def format_flow(cubic_metres_per_second: float, system: str = "us") -> str:
    """Write a flow to three figures, in US gallons a minute or litres a second.

    Examples
    --------
    >>> format_flow(0.002), format_flow(0.002, "metric")
    ('31.7 gpm', '2 L/s')
    """
    return _format(
        cubic_metres_per_second, system, ("gpm", FLOWS["gpm"]), ("L/s", Fraction(1, 1000))
    )


def format_rate(metres_per_second: float, system: str = "us") -> str:
    """Write a rain or soil rate to three figures, in inches or millimetres an hour.

    Examples
    --------
    >>> format_rate(1e-5), format_rate(1e-5, "metric")
    ('1.42 in/h', '36 mm/h')
    """
    millimetres = Fraction(1, 1000) / HOUR
    return _format(metres_per_second, system, ("in/h", INCH / HOUR), ("mm/h", millimetres))


def format_rain(metres: float, system: str = "us", found: bool = False) -> str:
    """Write a depth of rain as rain is told: decimal inches to three figures, or millimetres.

    Examples
    --------
    >>> format_rain(0.10414), format_rain(1.0), format_rain(0.10414, "metric")
    ('4.1 in', '39.4 in', '104 mm')
    >>> format_rain(0.02106, found=True), format_rain(0.02106, "metric", found=True)
    ('0.83 in', '21 mm')
    """
    return _format(metres, system, ("in", INCH), ("mm", Fraction(1, 1000)), found)


def format_velocity(metres_per_second: float, system: str = "us") -> str:
    """Write a velocity to three figures, in feet or metres a second.

    Examples
    --------
    >>> format_velocity(0.6096), format_velocity(0.6096, "metric")
    ('2 ft/s', '0.61 m/s')
    """
    return _format(metres_per_second, system, ("ft/s", FOOT), ("m/s", Fraction(1)))


def format_duration(seconds: float) -> str:
    """Write a duration in hours and minutes, below one hour in minutes and seconds.

    Examples
    --------
    >>> format_duration(5400), format_duration(59.6), format_duration(3599.9)
    ('1 h 30 min', '1 min', '1 h')
    """
    whole = round(finite(seconds, "duration"))
    if whole >= HOUR:
        large, small = divmod(round(Fraction(whole, 60)), 60)
        names = ("h", "min")
    else:
        large, small = divmod(whole, 60)
        names = ("min", "s")
    pieces = [f"{large} {names[0]}"] if large else []
    if small or not large:
        pieces.append(f"{small} {names[1]}")
    return " ".join(pieces)


def _format(
    value: float,
    system: str,
    us: tuple[str, Fraction],
    metric: tuple[str, Fraction],
    found: bool = False,
) -> str:
    if system not in ("us", "metric"):
        raise ValueError(f'system is "us" or "metric", not {system!r}')
    name, size = us if system == "us" else metric
    number = finite(value, name) / float(size)
    return f"{three_figures(as_found(number) if found else number)} {name}"


def as_found(value: float) -> float:
    """Round a figure found on the ground: to two figures, to three where the first is 1.

    Low spots and the rain that fills them are those of the surveyed surface to about 2 %; a step
    of this is 1 to 5 % of the figure, so no figure is told that is not known.

    Examples
    --------
    >>> as_found(0.829), as_found(45.7), as_found(1388.4), as_found(2044.0), as_found(0.0)
    (0.83, 46.0, 1390.0, 2000.0, 0.0)
    """
    if not value or not math.isfinite(value):
        return value
    place = math.floor(math.log10(abs(value)))
    figures = 3 if abs(value) < 2 * 10.0**place else 2
    return round(value, figures - 1 - place)


def finite(value: float, kind: str) -> float:
    """Insist on a finite number."""
    if not math.isfinite(value):
        raise QuantityError(value, kind, "it is not a finite number")
    return float(value)


def three_figures(value: float) -> str:
    """Write a number to three significant figures, whole above 100, never with an exponent.

    Examples
    --------
    >>> three_figures(1234.5), three_figures(9.999), three_figures(0.05), three_figures(-1e-30)
    ('1234', '10', '0.05', '0')
    """
    decimals = 2 - math.floor(math.log10(abs(value))) if value else 0
    text = f"{value:.{min(max(decimals, 0), 12)}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


STEEPEST = 10**6
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
            return _ratio_in_range(bare_number(text))
        number, sign, rest = _split(clean(text))
        if not rest and not number.thousands:
            return _ratio_in_range(sign * number.value)
        if unit_key(rest) in RATIOS:
            return _ratio_in_range(sign * number.value * RATIOS[unit_key(rest)])
        return _ratio_in_range(sign * number.value / _divisor(rest, (":",)))
    except Refusal as refusal:
        raise QuantityError(text, "ratio", str(refusal)) from None


def _slope(text: str, unit: str | None) -> float:
    number, sign, rest = _split(text)
    if not rest:
        if unit is not None:
            return _scaled(sign * number.value, unit)
        if "/" not in text:
            raise Refusal(_FORMS)
        return _ratio_in_range(sign * number.value)
    key = unit_key(rest)
    if key in SLOPES or key in DEGREES:
        return _scaled(sign * number.value, rest)
    over_length = _length_in_length(text)
    if over_length is not None:
        return over_length
    return _ratio_in_range(sign * number.value / _divisor(rest, (":", "in")))


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
    return _ratio_in_range(value * SLOPES[key])


def _ratio_in_range(value: Fraction) -> float:
    if abs(value) > STEEPEST:
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
