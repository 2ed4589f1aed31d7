"""Numbers, names and codes of the stored lots stay what they were, however they are told."""

from __future__ import annotations

import pytest

from tests.stored_facts import LOTS, facts_of, plan_of, stored


@pytest.mark.parametrize("lot", LOTS)
def test_the_facts_are_those_stored(lot):
    found, before = facts_of(plan_of(lot)), stored(lot)
    assert sorted(found) == sorted(before)
    # Heights in meters to a hundredth of a millimeter; other machines round otherwise.
    apart = {
        key: (before[key], found[key])
        for key in before
        if found[key] != before[key]
        and found[key] != pytest.approx(before[key], rel=1e-4, abs=1e-5)
    }
    assert apart == {}
