"""One plain sentence for a homeowner about the soil that a wall wants."""

from __future__ import annotations

from runoff.foundation.model import SoilWedge
from runoff.foundation.walls import wall_words
from runoff.foundation.wedge_limits import clearance_known
from runoff.quantities import format_length, format_volume
from runoff.site.model import Site


def wedge_sentence(site: Site, wedge: SoilWedge) -> str:
    """Say what soil to bring, how high and how far out, or why soil is not the answer."""
    system = "us" if site.units == "ft" else "metric"

    def length(metres: float, denominator: int = 1) -> str:
        return format_length(metres, system, denominator)

    run = wedge.run
    where = (
        f"{wall_words(run.wall_name)} of {run.building!r} "
        f"from {length(run.start)} to {length(run.end)}"
    )
    if wedge.refused:
        return (
            f"Soil must not be placed along {where}: {wedge.refused}. "
            "It needs a swale or a drain instead."
        )
    if wedge.short_by > 0:
        return (
            f"Soil cannot correct {where}: it would stand {length(wedge.short_by, 8)} higher than "
            "the siding, weeps, vents and sills there allow. It needs a swale or a drain instead."
        )
    sentence = (
        f"Bring {format_volume(wedge.loose, system)} of soil, loose "
        f"({format_volume(wedge.compacted, system)} compacted), along {where}: "
        f"{length(wedge.height, 2)} at the wall, running out {length(wedge.out)} from it."
    )
    if clearance_known(site, run):
        return sentence
    siding = length(site.rules["siding_clearance"])
    brick = length(site.rules["foundation_above_grade_veneer"])
    return (
        f"{sentence} The clearance is not known: keep soil at least {siding} below siding and "
        f"{brick} below brick weeps, vents and sills; where that cannot be, it needs a swale or a "
        "drain instead."
    )
