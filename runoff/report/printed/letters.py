"""Which characters the fonts of a report have, and what is written for those that they lack.

In: text. Out: text that every font of the report can set and that is read back as it was set.
"""

from __future__ import annotations

import unicodedata
from functools import cache
from pathlib import Path

import matplotlib
from matplotlib.ft2font import FT2Font

_FILES = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")


def font_folder() -> Path:
    """Where matplotlib keeps the fonts that it brings."""
    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


@cache
def known() -> frozenset[int]:
    """The characters that the report's fonts have, upright and bold."""
    charmaps = [set(FT2Font(str(font_folder() / name)).get_charmap()) for name in _FILES]
    return frozenset(set.intersection(*charmaps))


def settable(text: str) -> str:
    r"""Text with the names of signs, and the numbers of letters, that the fonts lack.

    Examples
    --------
    >>> settable("gutter \U0001f44d"), settable("caf\u00e9 \u4e2d")
    ('gutter [thumbs up sign]', 'café \\u4e2d')
    """
    here = known()
    return "".join(letter if ord(letter) in here else _told(letter) for letter in text)


def _told(letter: str) -> str:
    name = unicodedata.name(letter, "").lower()
    if name and unicodedata.category(letter).startswith("S"):
        return f"[{name}]"
    return letter.encode("unicode_escape").decode("ascii")
