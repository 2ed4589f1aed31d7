"""Lots that many tests look at, planned once in a whole run of the tests.

A plan takes seconds, and tests of every room read the same ones. The first that asks for a lot's
plan makes it; the others of the same run get the very same, in other processes by way of a folder
that `tests/conftest.py` makes and takes away again. A test that changes a plan replaces parts.
"""

from __future__ import annotations

import os
import pickle
from collections.abc import Callable
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from matplotlib.tri import TrapezoidMapTriFinder, Triangulation

from runoff.planning import Plan, plan
from runoff.sample import sample_folder
from runoff.site import Site, read_site
from tests.lots import STORE
from tests.lots.generated import a_generated_lot

GALLERY = Path(__file__).parents[2] / "docs" / "gallery"
WRITTEN = {
    "sample": sample_folder() / "site.toml",
    "hillside": GALLERY / "hillside" / "site.toml",
    "flat_clay": GALLERY / "flat_clay" / "site.toml",
}


def site_of(lot: str | int) -> Site:
    """A written lot by its name, a generated one by its seed."""
    return a_generated_lot(lot) if isinstance(lot, int) else read_site(WRITTEN[lot])


@cache
def planned(lot: str | int) -> Plan:
    """The plan of a lot, its findings within."""
    return once(f"plan of {lot}", lambda: plan(site_of(lot)))


@cache
def planned_from(write: Callable[[Path], Path]) -> Plan:
    """The plan of a lot whose files a function writes into a folder; the folder is gone then."""

    def make() -> Plan:
        with TemporaryDirectory() as folder:
            return plan(read_site(write(Path(folder))))

    return once(f"plan from {write.__name__}", make)


def once(name: str, make: Callable[[], Any]) -> Any:
    """What another process of this run has made, or what is made now and kept for the others."""
    if STORE not in os.environ:
        return make()
    kept = Path(os.environ[STORE]) / f"{name}.pickle"
    if kept.exists():
        return pickle.loads(kept.read_bytes())
    made = make()
    being_written = kept.with_suffix(f".{os.getpid()}")
    with being_written.open("wb") as file:
        _Pickler(file).dump(made)
    being_written.replace(kept)
    return made


class _Pickler(pickle.Pickler):
    """Knows what finds the triangle of a place, which cannot be pickled, by its triangles."""

    def reducer_override(self, value: Any) -> Any:
        if isinstance(value, TrapezoidMapTriFinder):
            return TrapezoidMapTriFinder, (value._triangulation,)
        if isinstance(value, Triangulation):
            return Triangulation, (value.x, value.y, value.triangles, value.mask)
        return NotImplemented
