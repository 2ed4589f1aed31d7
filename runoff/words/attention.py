"""What in the findings a person should act on, a sentence each, the worst first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from runoff.flow.downspouts import implications_of
from runoff.flow.sentences import over_sidewalk
from runoff.quantities import Shown, format_area, system_of
from runoff.site.model import Downspout, Site
from runoff.words.headlines import headlines_of

if TYPE_CHECKING:
    from runoff.flow.model import DownspoutAnswer, LowSpot
    from runoff.inspection import Findings


def attention_of(findings: Findings) -> tuple[str, ...]:
    """The house first, then downspouts, suspect heights, and the engines where they differ."""
    site = findings.site
    told = [*site.questions, *headlines_of(findings)]
    told += [told for answer in findings.downspouts for told in _downspout(site, answer)]
    told += [unanswered_sentence(one) for one in findings.unanswered]
    told += [_question(site, spot) for spot in findings.low_spots if spot.on_lot and spot.question]
    told += [f"Height '{suspect.name}' {suspect.reason}" for suspect in findings.terrain.suspects]
    if findings.second_engine.agrees is False:
        told.insert(0, findings.second_engine.note)
    return tuple(told)


def unanswered_sentence(downspout: Downspout) -> str:
    """What is said of a downspout that the survey does not reach."""
    return (
        f"Downspout '{downspout.name}': no height was taken around its foot, so that nothing is "
        "said of where its water goes, and it is not counted in the storm; take heights there."
    )


def _question(site: Site, spot: LowSpot) -> str:
    """What to look at before a low spot that is hardly ground is believed."""
    shown = Shown.of(site)
    who = f"{spot.name[0].upper()}{spot.name[1:]}"
    area = format_area(spot.area, system_of(site.units), found=True)
    if spot.question == "deep":
        return (
            f"{who} would be {shown.height(spot.depth)} deep over {area}. Is there such a pit? If "
            "not, heights are wrong there, or the water has a way out that they do not show (a "
            "culvert, a drain, a bridge); do not build on what is said of it."
        )
    return (
        f"{who}, {shown.height(spot.depth)} deep over {area}, has sheer sides and a flat floor. "
        "Does a building stand there that is not drawn, or did one? Draw it as [[building]], or "
        "take heights; do not build on what is said of it."
    )


def _downspout(site: Site, answer: DownspoutAnswer) -> list[str]:
    """A sentence for each implication but that its water comes back, told at the house."""
    shown = Shown.of(site)
    near, reach = site.rules["near_foundation"], site.rules["foundation_reach"]
    words = {
        "runs beside a foundation": (
            f"{shown.height(answer.length_within_near)} of its water's way lie within "
            f"{shown.height(near)} of a foundation"
        ),
        "stays near a foundation": f"its water stays within {shown.height(reach)} of a foundation",
        "shut in": "its water is shut in by walls",
        "onto a neighbor": (f"its water runs onto a neighbor's ground over {answer.end.side}"),
        "over a public sidewalk": f"its water runs {over_sidewalk(answer.crosses)}",
    }
    return [
        f"Downspout '{answer.name}': {words[implied]}."
        for implied in implications_of(site, answer)
        if implied != "comes back"
    ]
