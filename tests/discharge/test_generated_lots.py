"""Generated lots planned, and every recommendation checked by its rules by plain means.

`RUNOFF_GENERATED_LOTS=200` in the environment checks more of them than a usual run.
"""

from __future__ import annotations

import os

import pytest

from runoff.planning import plan
from tests.discharge.generated_lots import a_generated_lot
from tests.discharge.plain_checks import check

COUNT = int(os.environ.get("RUNOFF_GENERATED_LOTS", "30"))


@pytest.mark.parametrize("seed", range(COUNT))
def test_what_is_recommended_keeps_its_rules(seed):
    site = a_generated_lot(seed)
    found = plan(site)
    for spout, each in zip(site.downspouts, found.recommendations, strict=True):
        if each.chosen.kind != "refer":
            assert check(found, spout, each.water, each.chosen).broken == [], spout.name
