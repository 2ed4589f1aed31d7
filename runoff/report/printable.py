"""Names as they may be printed anywhere: characters that print nothing are shown by their number.

In: the user's own words. Out: one line of text that every file format holds.
"""

from __future__ import annotations

import re
import unicodedata

from runoff.site.problems import escaped

_SHOWN = frozenset({"Cc", "Cs", "Zl", "Zp"})


def printable(text: str) -> str:
    r"""One line of text, with control characters, line ends and half characters written out.

    Letters of every script, marks, and the joiners inside emoji stay.

    Examples
    --------
    >>> printable("front\tleft\x07")
    'front\\x09left\\x07'
    >>> printable('#"[x]$'), printable("\u2028")
    ('#"[x]$', '\\u2028')
    """
    return "".join(escaped(c) if _is_hidden(c) else c for c in text)


def csv_text(text: str) -> str:
    """A text as a cell of a CSV file that no spreadsheet takes for a formula.

    A leading apostrophe makes it text, as is common practice.

    Examples
    --------
    >>> csv_text("=1+1"), csv_text("front left")
    ("'=1+1", 'front left')
    """
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def csv_note(text: str) -> str:
    """A line of remarks over a CSV table; what follows a comma in it may be taken for a cell.

    Examples
    --------
    >>> csv_note("Lot: a,=1+1")
    "# Lot: a, '=1+1"
    """
    return "# " + re.sub(r"([,;\t])\s*(?=[=+\-@])", r"\1 '", printable(text))


def _is_hidden(character: str) -> bool:
    code = ord(character)
    no_character = code & 0xFFFE == 0xFFFE or 0xFDD0 <= code <= 0xFDEF
    return no_character or unicodedata.category(character) in _SHOWN
