"""What is printed gets onto any terminal and into any pipe, whatever its encoding.

In: the standard streams. Out: the same streams, which write what their encoding lacks in plain
letters (``1/2`` for one half) or by its number, and never fail.
"""

from __future__ import annotations

import codecs
import io
import json
import re
import sys
import unicodedata
from functools import partial

_PLAIN = {
    "×": "x",
    "·": "-",
    "–": "-",
    "—": "-",
    "−": "-",
    "‐": "-",
    "‑": "-",
    "⁄": "/",
    "∕": "/",
    "‘": "'",
    "’": "'",
    "′": "'",
    "“": '"',
    "”": '"',
    "″": '"',
    "°": " deg",
    "→": "->",
    "≤": "<=",
    "≥": ">=",
}


def in_plain_letters(text: str, encoding: str) -> str:
    r"""Characters that an encoding lacks, in those that it has.

    Examples
    --------
    >>> in_plain_letters("½ × 4′ é", "ascii")
    "1/2 x 4' e"
    >>> in_plain_letters("→ \u0416", "cp437"), in_plain_letters("─", "ascii")
    ('-> \\u0416', '-')
    """
    return "".join(_plain(character, encoding) for character in text)


def _plain(character: str, encoding: str) -> str:
    decomposed = "".join(
        _PLAIN.get(c, c)
        for c in unicodedata.normalize("NFKD", character)
        if not unicodedata.combining(c)
    )
    escaped = character.encode("ascii", "backslashreplace").decode("ascii")
    drawn = {"─": "-", "│": "|"}.get(character, "+") if "─" <= character <= "╿" else escaped
    for candidate in (character, _PLAIN.get(character, character), decomposed, drawn):
        try:
            candidate.encode(encoding)
        except UnicodeEncodeError:
            continue
        return candidate
    return escaped


def print_json(text: str) -> None:
    """Print JSON text that means the same in any encoding.

    Where the stream is not Unicode, what is not ASCII is escaped as JSON does.
    """
    if not (sys.stdout.encoding or "").lower().startswith("utf"):
        text = re.sub(r"[^\x00-\x7f]", lambda found: json.dumps(found[0])[1:-1], text)
    print(text, end="")


def write_on_any_terminal() -> None:
    """Have the standard streams write plainly what their encoding lacks."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A handler is not told the encoding (a code page calls itself "charmap"), so each
            # stream has its own.
            name = f"runoff-plain-{stream.encoding}"
            codecs.register_error(name, partial(_write_plainly, stream.encoding))
            stream.reconfigure(errors=name)


def _write_plainly(encoding: str, error: UnicodeError) -> tuple[str, int]:
    """What `codecs` asks for: the text in place of what cannot be encoded, and where to go on."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return in_plain_letters(error.object[error.start : error.end], encoding), error.end
