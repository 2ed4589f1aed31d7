"""What is said of a seepage pit: warnings beside its numbers, and why there is none.

In: a site, and what the search for a place found. Out: sentences for a homeowner.
"""

from __future__ import annotations

from collections.abc import Iterator

from runoff.discharge.pit import Pit
from runoff.discharge.pit_search import Search, in_the_way
from runoff.discharge.pit_setbacks import pit_distance
from runoff.quantities import Shown, format_length, system_of
from runoff.site.model import Site

_ROUNDING = 1e-6


def of_drop(site: Site, drop: float) -> Iterator[str]:
    """The line's end lies this much (m) above the pit's inlet."""
    if drop > _ROUNDING:
        shown = format_length(drop, system_of(site.units), 4)
        yield (
            "the ground falls over the pit: in the silt trap before it the water drops "
            f"{shown}, so that soil lies over all its stone"
        )


def of_frost(site: Site, dig_depth: float) -> Iterator[str]:
    """The ground may freeze below a pit of this depth (m)."""
    shown = Shown.of(site)
    if site.soil.frost is not None and site.soil.frost >= dig_depth:
        yield (
            f"the ground freezes {shown.far(site.soil.frost)} deep, below the pit's bottom: in "
            "hard frost it takes no water, and roof water overflows"
        )


def of_site(site: Site) -> Iterator[str]:
    """What nobody said, and a pit depends on."""
    shown = Shown.of(site)
    for name, deep in (("groundwater", site.soil.groundwater), ("bedrock", site.soil.bedrock)):
        if deep is None:
            clearance = shown.far(site.rules[f"pit_{name}_clearance"])
            yield f"how deep {name} lies is not given: the bottom must stay {clearance} above it"
    yield ("no roof of copper, zinc or treated wood, or with moss killer on it, may drain to a pit")
    if site.lot is None:
        distance = shown.far(pit_distance(site, "pit_lot_line_distance"))
        yield f"the lot lines are not given: the pit must stay {distance} from each"
    unsaid = [each.name for each in site.own_buildings if each.kind is None]
    if unsaid and site.units == "ft":
        distance = shown.far(site.rules["pit_basement_distance"])
        yield (
            f"whether {' and '.join(unsaid)} has a basement is not given: the pit must stay "
            f"{distance} from one"
        )


def of_well(site: Site, body: Pit, dig_depth: float) -> Iterator[str]:
    """In the US some pits count as disposal wells (EPA, Class V, read)."""
    if site.units != "ft":
        return
    deep = dig_depth > max(body.length_m, body.width_m)
    if deep or body.kind in ("trench", "chamber"):
        why = "deeper than wide" if deep else "with perforated pipe in it"
        yield (
            f"{why}, it may count as a disposal well (EPA Class V) that must be registered: ask "
            "the state before it is dug"
        )


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
