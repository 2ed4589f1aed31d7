"""The one error for text or numbers that are not the quantity they should be."""

from __future__ import annotations

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
