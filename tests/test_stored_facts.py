"""Numbers, names and codes of the stored lots stay what they were, however they are told."""

from __future__ import annotations

import pytest

from tests.stored_facts import LOTS, facts_of, libraries, made_with, plan_of, stored


@pytest.mark.parametrize("lot", LOTS)
def test_the_facts_are_those_stored(lot):
    """All of them with the libraries that they were stored with.

    Others round otherwise, and where two stations of a wall are equally bad, or a cell is just wet,
    that picks another one: nearly all facts stay all the same.
    """
    found, before = facts_of(plan_of(lot)), stored(lot)
    # Heights in meters to a hundredth of a millimeter.
    alike = [
        key
        for key in before
        if key in found
        and (
            found[key] == before[key]
            or found[key] == pytest.approx(before[key], rel=1e-4, abs=1e-5)
        )
    ]
    if libraries() == made_with():
        assert sorted(found) == sorted(before)
        apart = {key: (before[key], found[key]) for key in before if key not in set(alike)}
        assert apart == {}
    assert len(alike) >= 0.97 * len(before)
