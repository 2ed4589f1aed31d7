"""That a way cannot be built, and the sentence that is made of the reason."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import pytest

from runoff.discharge import NotPossible
from runoff.words import reason_sentence

IN_FEET = SimpleNamespace(units="ft", lot=None, north_degrees=None)


@dataclass
class Refused:
    """What was said."""

    said: str = ""


@contextmanager
def refused(match: str = "", site: Any = IN_FEET) -> Iterator[Refused]:
    """Expect that a way cannot be built, and that the sentence says why, in a site's units."""
    found = Refused()
    with pytest.raises(NotPossible) as reason:
        yield found
    found.said = reason_sentence(site, reason.value.why)
    assert re.search(match, found.said), found.said
