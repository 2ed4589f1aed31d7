"""The soil that walls want, in plain sentences for a homeowner."""

from __future__ import annotations

from collections.abc import Sequence

from runoff.foundation.beside import WELLS
from runoff.foundation.model import SoilWedge, WallRun
from runoff.foundation.refusal_words import refusal_words
from runoff.foundation.walls import wall_words, walls_of
from runoff.foundation.wedge_limits import clearance_known
from runoff.foundation.wording import from_left, listed, run_length
from runoff.quantities import format_length, format_volume, system_of
from runoff.site.model import Site

_CORNER = 0.01
_LEAST_TOLD_M = 0.0254 / 4


def soil_lines(site: Site, wedges: Sequence[SoilWedge]) -> list[str]:
    """A sentence for each stretch of wall; the caution that many of them share is told once."""
    lines = [soil_sentence(site, wedge, "Clearance not known.") for wedge in wedges]
    shared = any(_clearance_unknown(site, wedge) for wedge in wedges)
    return [*lines, clearance_caution(site)] if shared else lines


def soil_sentence(site: Site, wedge: SoilWedge, caution: str = "") -> str:
    """Say what soil to bring, how high and how far out, or why soil is not the answer.

    `caution` stands in place of `clearance_caution` where the clearance is not known.
    """
    system = system_of(site.units)

    def length(metres: float, denominator: int = 1) -> str:
        return format_length(metres, system, denominator)

    run = wedge.run
    where = f"{wall_words(run.wall_name)} of {run.building!r} {_stretch(site, run)}"
    if wedge.refused is not None:
        return (
            f"Soil must not be placed along {where}: {refusal_words(site, wedge.refused)}. "
            "It needs a swale or a drain instead."
        )
    if wedge.short_by > 0:
        return (
            f"Soil cannot correct {where}: it would stand {length(wedge.short_by, 8)} higher than "
            "the siding, weeps, vents and sills there allow. It needs a swale or a drain instead."
        )
    sentence = (
        f"Bring {format_volume(wedge.loose, system, good_to=0.0)} of soil, loose "
        f"({format_volume(wedge.compacted, system, good_to=0.0)} compacted), along {where}: "
        f"up to {soil_height(site, wedge.height)} at the wall, running out "
        f"{length(wedge.out)} from it.{_settling(site, wedge)}{_wells(site, run)}"
    )
    if not _clearance_unknown(site, wedge):
        return sentence
    return f"{sentence} {caution or clearance_caution(site)}"


def _clearance_unknown(site: Site, wedge: SoilWedge) -> bool:
    """Whether soil is placed where nothing says how high it may stand."""
    placed = wedge.refused is None and wedge.short_by <= 0
    return placed and not clearance_known(site, wedge.run)


def soil_height(site: Site, metres: float) -> str:
    """A height of soil as text, drawings and tables write it: to what a rake can do, 1/2 in.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> soil_height(SimpleNamespace(units="ft"), 0.157)
    '6 in'
    """
    return format_length(metres, system_of(site.units), 2)


def settles_by(site: Site, wedge: SoilWedge) -> float:
    """How much higher than it is to end the soil is to lie at the wall at first, metres."""
    share = site.rules["soil_settlement"]
    return wedge.height * share / (1.0 - share)


def _settling(site: Site, wedge: SoilWedge) -> str:
    """To tamp it, and how much higher to leave it where that is more than a rake leaves."""
    higher = settles_by(site, wedge)
    if higher < _LEAST_TOLD_M:
        return " Tamp it."
    words = format_length(higher, system_of(site.units), 4)
    share = 100 * site.rules["soil_settlement"]
    return (
        f" Tamp it, and leave it {words} higher than that, for it settles by about {share:.0f} %."
    )


def _wells(site: Site, run: WallRun) -> str:
    """What to do with wells that stand in the soil; empty where there are none."""
    names = [
        f"'{opening.name}'"
        for opening in site.openings
        if opening.kind in WELLS
        and (opening.building, opening.wall) == (run.building, run.wall)
        and opening.distance + opening.width / 2 > run.start
        and opening.distance - opening.width / 2 < run.end
    ]
    if not names:
        return ""
    return f" Raise the rim of {listed(names)} above the new ground first."


def clearance_caution(site: Site) -> str:
    """What to mind where nothing is known of what stands on the wall."""
    system = system_of(site.units)
    siding = format_length(site.rules["siding_clearance"], system, 1)
    brick = format_length(site.rules["foundation_above_grade_veneer"], system, 1)
    return (
        f"The clearance is not known: keep soil at least {siding} below siding and "
        f"{brick} below brick weeps, vents and sills; where that cannot be, it needs a swale or a "
        "drain instead."
    )


def _stretch(site: Site, run: WallRun) -> str:
    """Where the run lies on its wall, from the left corner as one faces it from outside."""
    walls = walls_of(site.buildings)
    wall = next(w for w in walls if (w.building, w.number) == (run.building, run.wall))
    start, end = from_left(wall, run.start, run.end)
    if start < _CORNER and end > wall.length - _CORNER:
        return "(all of it)"
    first = "0" if start < _CORNER else run_length(site, start)
    return f"from {first} to {run_length(site, end)} from its left corner"


def refusal_of(site: Site, wedge: SoilWedge) -> str:
    """Why soil must not be placed, as a clause; empty where it may."""
    return "" if wedge.refused is None else refusal_words(site, wedge.refused)
