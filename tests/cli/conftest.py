"""For tests of what the commands print and write, where one answer of a lot serves many of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

import runoff


@pytest.fixture(scope="module")
def worked_out_once() -> Iterator[None]:
    """A lot is read, inspected and planned by the first command of a file; the others get that."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("read_site", "inspect", "plan", "check"):
            patch.setattr(runoff, name, once(getattr(runoff, name)))
        yield


def once(work: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """The same, worked out once for a site file as it is written, or for one and the same site."""
    kept: dict[Any, Any] = {}

    def looked_up(of: Any) -> Any:
        if isinstance(of, Path) and not of.is_file():
            return work(of)
        key = (of, of.read_bytes()) if isinstance(of, Path) else id(of)
        if key not in kept:
            kept[key] = of, work(of)  # held with what came of it, so that its id stays its own
        return kept[key][1]

    return looked_up
