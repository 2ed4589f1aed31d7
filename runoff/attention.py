"""What in the findings a person should act on, a sentence each, the worst first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from runoff.quantities import format_length
from runoff.site.model import Site

if TYPE_CHECKING:
    from runoff.flow.model import DownspoutAnswer, LowSpot
    from runoff.inspection import Findings

# Water shallower than this against a wall is not told from damp ground, metres (about 1/4 in).
_DAMP = 0.006


def attention_of(findings: Findings) -> tuple[str, ...]:
    """Sentences on standing water near walls, downspouts, suspect heights, engine agreement."""
    site = findings.site
    told = [_standing(site, spot) for spot in findings.low_spots]
    told += [_downspout(site, answer) for answer in findings.downspouts]
    told += [f"Height '{suspect.name}' {suspect.reason}" for suspect in findings.terrain.suspects]
    if findings.second_engine.agrees is False:
        told.insert(0, findings.second_engine.note)
    return tuple(sentence for sentence in told if sentence)


def _length(site: Site, metres: float) -> str:
    return format_length(metres, "us", 4) if site.units == "ft" else f"{metres:.2f} m"


def _standing(site: Site, spot: LowSpot) -> str:
    near = site.rules["foundation_reach"]
    if spot.wall_distance is None or spot.wall_distance > near or spot.storm_depth < _DAMP:
        return ""
    where = (
        f"against a wall of '{spot.building}'"
        if spot.wall_distance < 0.05
        else f"{_length(site, spot.wall_distance)} from '{spot.building}'"
    )
    return f"Water stands {_length(site, spot.storm_depth)} deep in {spot.name}, {where}."


def _downspout(site: Site, answer: DownspoutAnswer) -> str:
    near = site.rules["near_foundation"]
    who = f"Downspout '{answer.name}'"
    if answer.returns:
        return f"{who}: its water comes back to a foundation."
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
