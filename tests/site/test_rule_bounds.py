"""Rules at their edges: refused in words, or the lot is planned by them.

`RUNOFF_MUTATIONS` says how many are planned (a few where it is not set); each is read.
"""

import json
import os
import random
from pathlib import Path

import pytest

import runoff
from runoff.quantities import QuantityError
from runoff.rules import RULES, Rules
from runoff.site import InputError
from tests.lots.small import write_small_lot

MANY = int(os.environ.get("RUNOFF_MUTATIONS", "6"))
NOTHING = {
    "length": "0 ft",
    "slope": "0 %",
    "intensity": "0 in/h",
    "velocity": "0 ft/s",
    "duration": "0 s",
    "flow": "0 gpm",
}
LITTLE = {
    "length": "0.01 in",
    "slope": "0.0001 m/m",
    "intensity": "0.000000001 m/s",
    "velocity": "0.0001 ft/s",
    "duration": "0.01 s",
    "flow": "0.0001 gpm",
    "count": "1",
    "curve number": "1",
}
MUCH = {
    "length": "1000 ft",
    "slope": "1000 %",
    "intensity": "1000 in/h",
    "velocity": "100 ft/s",
    "duration": "1000 h",
    "flow": "100000 gpm",
    "curve number": "100",
    "share": "1",
    "roughness": "1",
}
EDGES = [
    (name, value)
    for name, rule in RULES.items()
    for value in (
        NOTHING.get(rule.kind, "0"),
        LITTLE.get(rule.kind, "0.000001"),
        MUCH.get(rule.kind, "1000"),
    )
]
BROKE = [
    *(("roughness_short_grass", "1"), ("swale_side_run", "0"), ("station_spacing", "1 in")),
    *(("swale_greatest_cut", "0.01 in"), ("drainage_intensity", "1000 in/h")),
]
"""What once ended in a traceback, or comes near to what did."""


def test_what_a_message_allows_is_taken() -> None:
    """A value that is refused is outside the bounds that the message names, and no other is."""
    for name, value in EDGES:
        bounds = RULES[name].bounds
        nothing = value == NOTHING.get(RULES[name].kind, "0")
        out = (
            nothing
            if bounds == "above zero"
            else bounds.startswith("of at least")
            and (value in (NOTHING["length"], LITTLE["length"]))
        )
        if out:
            with pytest.raises(QuantityError):
                Rules().parse_override(name, value)
        else:
            read = Rules().parse_override(name, value)
            assert Rules().with_overrides({name: read})[name] == read, name


@pytest.mark.parametrize("kind", ["roughness", "curve number"])
def test_a_whole_kind_is_above_zero(kind: str) -> None:
    assert {rule.bounds for rule in RULES.values() if rule.kind == kind} == {"above zero"}


def test_a_lot_is_planned_by_any_rule_that_is_taken(tmp_path: Path) -> None:
    tried = EDGES[:]
    random.Random("rules").shuffle(tried)
    counts = {"planned": 0, "refused": 0}
    for name, value in [*BROKE, *tried][: MANY + len(BROKE)]:
        site = write_small_lot(tmp_path, f'[rules]\n{name} = "{value}"\n')
        try:
            found = runoff.plan(runoff.read_site(site))
        except InputError:
            counts["refused"] += 1
            continue
        except Exception as error:
            pytest.fail(f"{name} = {value}: {error!r}")
        json.dumps(found.to_dict(), allow_nan=False)
        counts["planned"] += 1
    print(f"\n{counts}")
    assert counts["planned"]
