"""Words in a drawing: texts that no program takes for a command, and labels that keep apart.

In: names as the user wrote them, stations of labels. Out: the content of TEXT entities, places.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from runoff.report.printable import printable

_BACKSLASH = "\\U+005C"


def drawing_text(text: str) -> str:
    r"""The content of a TEXT entity that is shown as `text`.

    In a drawing ``%%d`` is a degree sign, ``^J`` the end of a line and ``\U+0041`` an A; names that
    happen to hold these are written so that they come out as they are.

    Examples
    --------
    >>> drawing_text("50% of 3%%d"), drawing_text("a^Jb"), drawing_text(r"\U+0041")
    ('50% of 3%%%%%%d', 'a^ Jb', '\\U+005CU+0041')
    """
    shown = printable(text)
    shown = re.sub(r"\\(?=[UM]\+)", lambda _: _BACKSLASH, shown)
    shown = re.sub("%{2,}", lambda found: "%%%" * len(found[0]), shown)
    return shown.replace("^", "^ ")


def spread(places: Sequence[float], rooms: Sequence[float]) -> list[float]:
    """Places in rising order, moved up where they lie in the room that those before them take.

    Examples
    --------
    >>> spread([0.0, 0.1, 0.2, 5.0], [1.0, 2.0, 1.0, 1.0])
    [0.0, 1.0, 3.0, 5.0]
    """
    found: list[float] = []
    free = -math.inf
    for place, room in zip(places, rooms, strict=True):
        found.append(max(place, free))
        free = found[-1] + room
    return found
