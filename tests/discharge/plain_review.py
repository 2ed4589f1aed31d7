"""A generated lot planned and reviewed by plain means, and the counts over many of them.

Run as a module, with how many lots, it prints the counts:
``python -m tests.discharge.plain_review 200``.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import dataclass
from itertools import combinations

from runoff.discharge import SeepagePit
from runoff.planning import Plan
from runoff.words import way_reason
from tests.discharge.plain_checks import Grounds, check
from tests.discharge.plain_pits import pit_outline
from tests.discharge.plain_searches import simpler
from tests.lots.planned import planned


@dataclass(frozen=True)
class Review:
    """What one lot's plan comes to: what is broken, what was simpler after all, and counts."""

    broken: tuple[str, ...]
    contradicted: tuple[str, ...]
    counts: Counter[str]


def review(seed: int) -> Review:
    """Plan the lot of a seed; check what is chosen, and look for what comes before it."""
    found = planned(seed)
    grounds = Grounds(found)
    broken, contradicted = [*_pits_together(found)], []
    counts = Counter({"lots": 1, "downspouts": len(found.recommendations)})
    for spout, each in zip(found.site.downspouts, found.recommendations, strict=True):
        chosen = each.chosen
        counts[f"recommended: {chosen.kind}"] += 1
        if chosen.kind != "refer":
            told = check(grounds, spout, each.water, chosen)
            broken += [f"{spout.name} {chosen.kind}: {what}" for what in told.broken]
            counts[f"borderline: {chosen.kind}"] += bool(told.close)
        for option in each.options[: each.options.index(chosen)]:
            what = simpler(grounds, spout, each.water, option)
            counts["infeasible and looked for"] += 1
            counts[f"nearly feasible: {option.kind}"] += what == "close"
            if what not in ("", "close"):
                reason = way_reason(found.site, option)
                contradicted.append(f"{spout.name} {option.kind}: {what}, but {reason}")
    return Review(tuple(broken), tuple(contradicted), counts)


def _pits_together(found: Plan) -> list[str]:
    """Pits of several downspouts, all to be built, that lie too near each other."""
    least = found.site.rules["pit_pit_distance"] - 0.01
    pits = [
        (each.downspout, pit_outline(each.chosen.design))
        for each in found.recommendations
        if isinstance(each.chosen.design, SeepagePit)
    ]
    return [
        f"the pits of {a} and {b} lie {one.distance(other):.2f} m apart"
        for (a, one), (b, other) in combinations(pits, 2)
        if one.distance(other) < least
    ]


def main(count: int) -> None:
    """Print what is wrong lot by lot, then the counts."""
    total: Counter[str] = Counter()
    for seed in range(count):
        found = review(seed)
        total += found.counts
        total["broken"] += len(found.broken)
        total["contradicted"] += len(found.contradicted)
        for line in (*found.broken, *found.contradicted):
            print(f"lot {seed}: {line}", flush=True)
    for name in sorted(total):
        print(f"{total[name]:6d} {name}")


if __name__ == "__main__":
    main(int(sys.argv[1]))
