"""Numbers, names and codes of some lots' plans, stored so that a change of words changes none.

`python -m tests.stored_facts` writes them anew where a change is meant: the commit says which
figure changes and why.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator
from importlib.metadata import version
from pathlib import Path
from typing import Any

from runoff.planning import Plan
from tests.lots.planned import WRITTEN, planned

FOLDER = Path(__file__).parent / "facts"
GENERATED = (3, 11, 20, 28, 33, 59)
LOTS = (*WRITTEN, *(f"generated_{seed}" for seed in GENERATED))
# What is said, and not what is: these may be worded anew.
WORDS = frozenset(
    (
        "action",
        "allowance",
        "asks",
        "assumptions",
        "attention",
        "basis",
        "cautions",
        "comes_from",
        "ends",
        "fall_note",
        "format",
        "group_from",
        "headlines",
        "laps",
        "line_words",
        "note",
        "notices",
        "protection",
        "reason",
        "refused",
        "relief",
        "remarks",
        "remedy",
        "sentence",
        "settle",
        "spills_to",
        "storm_basis",
        "use",
        "warnings",
        "what",
        "why",
        "written_by",
    )
)
DIGITS = 7


def plan_of(lot: str) -> Plan:
    """The plan of a stored lot."""
    return planned(lot if lot in WRITTEN else int(lot.removeprefix("generated_")))


def facts_of(plan: Plan) -> dict[str, Any]:
    """What a plan and its findings say in numbers, names and codes, by the path of keys to it."""
    found = plan.to_dict()
    # The options hold the chosen one.
    for each in found["recommendations"]:
        each["chosen"] = each["chosen"]["kind"]
    return dict(_leaves(found, ""))


def _leaves(value: Any, path: str) -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for key, each in value.items():
            if key not in WORDS and not (key == "line" and isinstance(each, str)):
                yield from _leaves(each, f"{path}.{key}" if path else key)
    elif isinstance(value, list) and value and all(isinstance(v, (int, float)) for v in value):
        yield path, [_rounded(each) for each in value]
    elif isinstance(value, list):
        yield f"{path}#", len(value)
        for number, each in enumerate(value):
            yield from _leaves(each, f"{path}.{number}")
    else:
        yield path, _rounded(value)


def _rounded(value: Any) -> Any:
    return float(f"{value:.{DIGITS}g}") if isinstance(value, float) else value


def libraries() -> dict[str, str]:
    """The versions that figures may hang on in their last digits."""
    return {name: version(name) for name in ("numpy", "scipy", "numba", "shapely")}


def made_with() -> dict[str, str]:
    """The versions that the facts were stored with."""
    found: dict[str, str] = json.loads((FOLDER / "made_with.json").read_text(encoding="utf-8"))
    return found


def stored(lot: str) -> dict[str, Any]:
    """The facts as they were stored."""
    with gzip.open(FOLDER / f"{lot}.json.gz", "rt", encoding="utf-8") as file:
        found: dict[str, Any] = json.load(file)
    return found


def store(lot: str) -> None:
    """Write a lot's facts anew."""
    text = json.dumps(facts_of(plan_of(lot)), indent=0, sort_keys=True)
    (FOLDER / f"{lot}.json.gz").write_bytes(gzip.compress(text.encode(), 9, mtime=0))


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    (FOLDER / "made_with.json").write_text(json.dumps(libraries(), indent=1) + "\n")
    for name in LOTS:
        store(name)
        print(name)
