"""Why no place on a lot does for a seepage pit.

In: a site, and what the search for a place found. Out: a sentence for a homeowner.
"""

from __future__ import annotations

from runoff.discharge.pit_search import Search, in_the_way
from runoff.quantities import Shown
from runoff.site.model import Site


def why_not(site: Site, search: Search, refusals: list[str]) -> str:
    """The refusal that the most places met; with no place at all, what is in the way."""
    if refusals:
        commonest = max(refusals, key=refusals.count)
        return f"every place tried for a pit is refused: {commonest}"
    if not len(search.x):
        return (
            "no dry ground on the lot lies as low as the downspout's foot: a full pit would come "
            "out at the wall"
        )
    if not search.seen.any():
        return (
            "no straight line gets from the downspout to dry ground as low as its foot, clear of "
            "the buildings and of what must not be dug"
        )
    if search.depth[search.seen].max() < site.rules["pit_least_depth"]:
        return "nowhere would enough depth be left for a pit below the line that feeds it"
    ways = [
        f"{Shown.of(site).far(each.distance)} from {each.name}"
        if each.distance > 0
        else f"clear of {each.name}"
        for each in in_the_way(search)
    ]
    kept = f"keeps {', '.join(ways)} and " if ways else ""
    return (
        "in straight reach of the downspout, on ground no higher than its foot, no place for a pit "
        f"{kept}lies whole on known, dry ground that is not too steep"
    )
