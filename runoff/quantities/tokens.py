"""Written text to tokens, and tokens to exact numbers: what all the parsers of quantities share.

One left-to-right pass with no backtracking, so that no text, however hostile, takes long.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from runoff.quantities.errors import Refusal, shorten

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
