"""Written text to tokens, tokens to exact numbers and units: what all the parsers of quantities
share.

The international foot is 0.3048 m, the US gallon 231 cubic inches, both exact by definition
(NIST Special Publication 811, appendix B).

One left-to-right pass with no backtracking, so that no text, however hostile, takes long.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

LONGEST_SHOWN = 40


class QuantityError(ValueError):
    """What was written is not the quantity that was asked for.

    Parameters
    ----------
    written : object
        What the user wrote; shortened where it is long.
    kind : str
        The kind of quantity, such as ``"length"``.
    reason : str
        What is wrong, in plain words, without naming the text again.

    Examples
    --------
    >>> print(QuantityError("4 lb", "length", '"lb" is not a unit of length'))
    "4 lb" is not a length: "lb" is not a unit of length
    """

    def __init__(self, written: object, kind: str, reason: str) -> None:
        self.written = shorten(written)
        self.kind = kind
        self.reason = reason
        article = "an" if kind[0] in "aeiou" else "a"
        super().__init__(f'"{self.written}" is not {article} {kind}: {reason}')


class Refusal(Exception):
    """Why a text is refused, raised where the text as a whole is not at hand."""


def shorten(written: object) -> str:
    """Show what was written on one line of bounded length.

    Examples
    --------
    >>> shorten("9" * 1000)
    '9999999999999999999999999999999999999999...'
    """
    if isinstance(written, int) and abs(written) >= 10**LONGEST_SHOWN:
        return "a number of more than 40 digits"
    text = " ".join(str(written).split())
    return text if len(text) <= LONGEST_SHOWN else text[:LONGEST_SHOWN] + "..."


FOOT = Fraction(3048, 10000)
INCH = FOOT / 12
YARD = FOOT * 3
GALLON = 231 * INCH**3
LITRE = Fraction(1, 1000)
ACRE = 43560 * FOOT**2
MINUTE, HOUR, DAY = Fraction(60), Fraction(3600), Fraction(86400)


def _table(*rows: tuple[str, Fraction | int]) -> dict[str, Fraction]:
    return {name: Fraction(size) for names, size in rows for name in names.split()}


# Spellings are as `unit_key` leaves them: lower case, no spaces or full stops, "per" as "/".
LENGTHS = _table(
    ("ft ' foot feet", FOOT),
    ('in " inch inches ins', INCH),
    ("yd yds yard yards", YARD),
    ("m meter meters metre metres", 1),
    ("cm centimeter centimeters centimetre centimetres", Fraction(1, 100)),
    ("mm millimeter millimeters millimetre millimetres", Fraction(1, 1000)),
)
AREAS = _table(
    ("sqft ft2 sf sqfoot sqfeet", FOOT**2),
    ("sqin in2 sqinch sqinches", INCH**2),
    ("sqyd yd2 sqyard sqyards", YARD**2),
    ("acre acres ac", ACRE),
    ("m2 sqm sqmeter sqmeters sqmetre sqmetres", 1),
    ("cm2 sqcm", Fraction(1, 10**4)),
    ("mm2 sqmm", Fraction(1, 10**6)),
)
VOLUMES = _table(
    ("cuft ft3 cf cufoot cufeet", FOOT**3),
    ("cuin in3 cuinch cuinches", INCH**3),
    ("cuyd yd3 cuyard cuyards", YARD**3),
    ("gal gals gallon gallons usgal usgallon usgallons", GALLON),
    ("l liter liters litre litres", LITRE),
    ("m3 cum cumeter cumeters cumetre cumetres", 1),
)
FLOWS = _table(
    ("gpm gal/min gallon/minute gallons/minute", GALLON / MINUTE),
    ("gph gal/h gal/hr gallons/hour", GALLON / HOUR),
    ("cfs ft3/s cuft/s cuft/sec cufeet/second", FOOT**3),
    ("cfm ft3/min cuft/min", FOOT**3 / MINUTE),
    ("l/s lps liters/second litres/second", LITRE),
    ("l/min lpm liters/minute litres/minute", LITRE / MINUTE),
    ("l/h", LITRE / HOUR),
    ("m3/s", 1),
    ("m3/h", 1 / HOUR),
)
RATES = _table(
    ("in/h in/hr iph in/hour inch/hour inches/hour inches/h inches/hr", INCH / HOUR),
    ("in/min", INCH / MINUTE),
    ("in/day in/d", INCH / DAY),
    ("ft/s fps ft/sec ft/second feet/second", FOOT),
    ("ft/min", FOOT / MINUTE),
    ("ft/h ft/hr", FOOT / HOUR),
    ("ft/day ft/d feet/day", FOOT / DAY),
    ("mm/h mm/hr mm/hour", Fraction(1, 1000) / HOUR),
    ("mm/min", Fraction(1, 1000) / MINUTE),
    ("cm/h cm/hr", Fraction(1, 100) / HOUR),
    ("m/day m/d", 1 / DAY),
    ("m/h", 1 / HOUR),
    ("m/s", 1),
)
DURATIONS = _table(
    ("day days d", DAY),
    ("h hr hrs hour hours", HOUR),
    ("min mins minute minutes", MINUTE),
    ("s sec secs second seconds", 1),
)
RATIOS = _table(("% percent pct", Fraction(1, 100)))
SLOPES = RATIOS | _table(
    ("in/ft in/foot inch/foot inches/foot inch/ft inches/ft", Fraction(1, 12)),
    ("ft/ft m/m", 1),
    ("cm/m", Fraction(1, 100)),
    ("mm/m", Fraction(1, 1000)),
)
DEGREES = frozenset({"°", "deg", "degree", "degrees"})


def is_customary(size: Fraction) -> bool:
    """Tell whether a unit is built on the inch, whose size (127/5000 m) alone holds the prime 127.

    Examples
    --------
    >>> is_customary(GALLON), is_customary(LITRE)
    (True, False)
    """
    return size.numerator % 127 == 0


def unit_key(text: str) -> str:
    """Bring a written unit to the spelling of the tables.

    Examples
    --------
    >>> unit_key("Square Feet"), unit_key("in. per hr."), unit_key("m³")
    ('sqfeet', 'in/hr', 'm3')
    """
    words = text.lower().replace(".", "").replace("²", "2").replace("³", "3").replace("^", "")
    spelled = {"square": "sq", "cubic": "cu", "per": "/", "a": "/", "an": "/"}
    parts = words.replace("/", " / ").split()
    return "".join(
        spelled.get(part, part) if i or part not in ("a", "an") else part
        for i, part in enumerate(parts)
    )


LONGEST = 200

TokenKind = Literal[
    "number",
    "fraction",
    "word",
    "feet",
    "inches",
    "plus",
    "hyphen",
    "minus",
    "slash",
    "comma",
    "other",
]

_ALIKE = str.maketrans(
    dict.fromkeys("′’‘´`ʹʼ＇", "'")
    | dict.fromkeys("″”“ʺ˝＂", '"')
    | dict.fromkeys("⁄∕", "/")
    | dict.fromkeys("‐‑–—", "-")
)
_FRACTIONS = {
    "½": (1, 2), "⅓": (1, 3), "⅔": (2, 3), "¼": (1, 4), "¾": (3, 4), "⅕": (1, 5), "⅖": (2, 5),
    "⅗": (3, 5), "⅘": (4, 5), "⅙": (1, 6), "⅚": (5, 6), "⅛": (1, 8), "⅜": (3, 8), "⅝": (5, 8),
    "⅞": (7, 8), "⅒": (1, 10),
}  # fmt: skip
_SIGNS: dict[str, TokenKind] = {
    "'": "feet", '"': "inches", "+": "plus", "-": "hyphen", "−": "minus", "/": "slash", ",": "comma"
}  # fmt: skip
_RUN = re.compile(r"[0-9.][0-9.,]*")
_WORD = re.compile(r"[^\W\d_]+\.?")
_THOUSANDS = re.compile(r"[1-9][0-9]{0,2}(,[0-9]{3})+(\.[0-9]+)?")
_DECIMAL = re.compile(r"[0-9]+(\.[0-9]+)?|\.[0-9]+")


@dataclass(frozen=True)
class Token:
    """A piece of text from `start` to `end`, with whether a space stands before it."""

    kind: TokenKind
    text: str
    start: int
    end: int
    spaced: bool


@dataclass(frozen=True)
class Number:
    """An exact number as it was written, and the token that follows it."""

    value: Fraction
    whole: bool
    thousands: bool
    next: int


def clean(text: str) -> str:
    """Bring look-alike marks to one form and check that there is text of sensible length."""
    if len(text) > LONGEST:
        raise Refusal(f"it is longer than {LONGEST} characters")
    cleaned = text.translate(_ALIKE).replace("''", '"').strip()
    if not cleaned:
        raise Refusal("nothing is written")
    return cleaned


def tokenize(text: str) -> list[Token]:
    """Split cleaned text into tokens.

    Examples
    --------
    >>> [token.kind for token in tokenize("9'-4 1/2")]
    ['number', 'feet', 'hyphen', 'number', 'number', 'slash', 'number']
    """
    tokens: list[Token] = []
    at, spaced = 0, False
    while at < len(text):
        if text[at].isspace():
            at, spaced = at + 1, True
            continue
        kind, end = _next(text, at)
        tokens.append(Token(kind, text[at:end], at, end, spaced))
        at, spaced = end, False
    return tokens


def _next(text: str, at: int) -> tuple[TokenKind, int]:
    sign = text[at]
    if sign in _SIGNS:
        return _SIGNS[sign], at + 1
    if sign in _FRACTIONS:
        return "fraction", at + 1
    if run := _RUN.match(text, at):
        return "number", at + len(run.group().rstrip(","))
    if word := _WORD.match(text, at):
        return "word", word.end()
    return "other", at + 1


def read_number(tokens: list[Token], at: int) -> Number:
    """Read a whole, decimal or mixed number such as ``4``, ``.5``, ``4 1/2``, ``4-1/2``, ``4½``.

    Raises
    ------
    Refusal
        Where no number stands at `at`, or it is not a sensible one.
    """
    token = tokens[at] if at < len(tokens) else None
    if token is None or token.kind not in ("number", "fraction"):
        where = f'before "{shorten(token.text)}"' if token else "at the end"
        raise Refusal(f"a figure is missing {where}")
    if token.kind == "fraction":
        return Number(Fraction(*_FRACTIONS[token.text]), False, False, at + 1)
    if _kind(tokens, at + 1) == "slash" and _kind(tokens, at + 2) == "number":
        return Number(_ratio(tokens[at], tokens[at + 2]), False, False, at + 3)
    value, thousands = _figure(token.text)
    whole = value.denominator == 1 and "." not in token.text
    part = _fraction_after(tokens, at + 1)
    if part is None:
        return Number(value, whole, thousands, at + 1)
    if not whole:
        raise Refusal("a decimal figure is followed by a fraction")
    if part.value >= 1:
        raise Refusal("the fraction after a whole number is 1 or more")
    return Number(value + part.value, False, thousands, part.next)


def _fraction_after(tokens: list[Token], at: int) -> Number | None:
    """Read the fraction of a mixed number, joined by a space, a tight hyphen, or nothing."""
    if _kind(tokens, at) == "hyphen" and at + 1 < len(tokens):
        if tokens[at].spaced or tokens[at + 1].spaced:
            return None
        at += 1
    if _kind(tokens, at) == "fraction":
        return read_number(tokens, at)
    kinds = [_kind(tokens, at + i) for i in range(3)]
    return read_number(tokens, at) if kinds == ["number", "slash", "number"] else None


def _ratio(above: Token, below: Token) -> Fraction:
    if not (above.text.isdecimal() and below.text.isdecimal()):
        raise Refusal("a fraction has a figure that is not a whole number")
    if int(below.text) == 0:
        raise Refusal("a fraction is divided by zero")
    return Fraction(int(above.text), int(below.text))


def _figure(text: str) -> tuple[Fraction, bool]:
    if "," in text:
        if not _THOUSANDS.fullmatch(text):
            raise Refusal(
                f'"{shorten(text)}" has a comma: write a decimal with a point (24.7) and large '
                "figures without commas"
            )
        return Fraction(text.replace(",", "")), True
    if not _DECIMAL.fullmatch(text):
        raise Refusal(f'"{shorten(text)}" is not a figure; write 4 or 4.5')
    return Fraction(text if text[0] != "." else "0" + text), False


def _kind(tokens: list[Token], at: int) -> str | None:
    return tokens[at].kind if at < len(tokens) else None
