"""A plan that another process made is the plan that this one would have made."""

from __future__ import annotations

import numpy as np
import pytest

from runoff.planning import plan
from runoff.site import read_site
from tests.lots import STORE
from tests.lots.planned import once
from tests.lots.small import write_small_lot


def test_what_was_kept_is_what_was_made(tmp_path, monkeypatch):
    monkeypatch.setenv(STORE, str(tmp_path))
    site = read_site(write_small_lot(tmp_path / "lot"))
    made = once("a plan", lambda: plan(site))

    def never():
        raise AssertionError("made again")

    kept = once("a plan", never)
    assert kept is not made
    assert kept.to_dict() == made.to_dict()
    places = np.random.default_rng(1).uniform(-3.0, 9.0, (200, 2))
    told = [each.findings.terrain.heights(places) for each in (made, kept)]
    assert np.isfinite(told[0]).any()
    np.testing.assert_array_equal(*told)


def test_nothing_is_kept_where_making_fails(tmp_path, monkeypatch):
    monkeypatch.setenv(STORE, str(tmp_path))
    with pytest.raises(ZeroDivisionError):
        once("nothing", lambda: 1 / 0)
    assert once("nothing", lambda: 1) == 1
    assert [path.name for path in tmp_path.iterdir()] == ["nothing.pickle"]
