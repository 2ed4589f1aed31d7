"""What in the findings a person should act on, a sentence each, the worst first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from runoff.quantities import format_length
from runoff.site.model import Site

if TYPE_CHECKING:
    from runoff.flow.model import DownspoutAnswer
    from runoff.inspection import Findings


def attention_of(findings: Findings) -> tuple[str, ...]:
    """The house first, then downspouts, suspect heights, and the engines where they differ."""
    site = findings.site
    told = list(findings.at_the_wall.headlines)
    told += [_downspout(site, answer) for answer in findings.downspouts]
    told += [f"Height '{suspect.name}' {suspect.reason}" for suspect in findings.terrain.suspects]
    if findings.second_engine.agrees is False:
        told.insert(0, findings.second_engine.note)
    return tuple(sentence for sentence in told if sentence)


def _length(site: Site, metres: float) -> str:
    return format_length(metres, "us", 4) if site.units == "ft" else f"{metres:.2f} m"


def _downspout(site: Site, answer: DownspoutAnswer) -> str:
    near = site.rules["near_foundation"]
    who = f"Downspout '{answer.name}'"
    if answer.returns:
        return ""  # told among the headlines at the house
    if answer.length_within_5_ft > 2 * near:
        return (
            f"{who}: {_length(site, answer.length_within_5_ft)} of its water's way lie within "
            f"{_length(site, near)} of a foundation."
        )
    if answer.end.kind == "low spot" and answer.length_within_10_ft >= answer.length:
        reach = _length(site, site.rules["foundation_reach"])
        return f"{who}: its water stays within {reach} of a foundation."
    if answer.end.kind == "terminal basin":
        return f"{who}: its water is shut in by walls."
    if answer.end.kind == "lot side" and answer.end.neighbor == "neighbor":
        return f"{who}: its water runs onto a neighbor's ground over the {answer.end.name} side."
    return ""
