"""The inspection in words, for the terminal and for a text file.

In: findings. Out: blocks, or plain text. Figures come from the findings alone and are
written in the site's own units.
"""

from __future__ import annotations

import math

from runoff import quantities
from runoff.flow.model import DownspoutAnswer, LowSpot
from runoff.foundation.wording import found_rain
from runoff.inspection import Findings
from runoff.missing import hole_words
from runoff.quantities import system_of
from runoff.report.blocks import Block, Heading, Paragraph, Step, Steps, section, titled_table
from runoff.report.summary_walls import house, wall_numbers
from runoff.report.terminal import as_text
from runoff.site.model import Site
from runoff.terrain.model import call_margin
from runoff.words.downspouts import downspout_sentence
from runoff.words.headlines import headlines_of

CAUTIONS = (
    "This says where water goes on the ground as it was measured; it is not a design.",
    "Before any digging have buried utilities marked (in the US, dial 811); private lines "
    "(sprinkler, septic, gas to a grill) are not marked by that service.",
    "Let no water go onto a neighbor, into a sanitary sewer, a septic field, a footing drain or a "
    "window well.",
    "The local code and a licensed professional decide.",
)

WITHOUT_HEIGHTS = "Ground without heights (where water runs there is not known)"

_TEXT_WIDTH = 100
_INCH_FRACTION = 4
_FOOT_FRACTION = 1


def summary(findings: Findings) -> list[Block]:
    """Everything that an inspection has to say.

    Parameters
    ----------
    findings : Findings

    Returns
    -------
    list of Block
    """
    return [
        *_heading(findings),
        *house(findings),
        *downspout_lines(findings),
        *wall_numbers(findings, headlines_of(findings)),
        *low_spots(findings),
        *section("Needs attention too", _beyond_the_house(findings)),
        *section(WITHOUT_HEIGHTS, without_heights(findings)),
        *_suspects(findings),
        *_notices(findings),
        *section("Second engine", [findings.second_engine.note]),
        *section("Mind", CAUTIONS),
    ]


def summary_text(findings: Findings, width: int = _TEXT_WIDTH) -> str:
    """The same as plain text, without colors, lines no longer than `width`."""
    return as_text(summary(findings), width)


def _beyond_the_house(findings: Findings) -> list[str]:
    """What needs attention beside the headlines, which stand first."""
    told = headlines_of(findings)
    return [sentence for sentence in findings.attention if sentence not in told]


def without_heights(findings: Findings) -> list[str]:
    """A line for each part of the lot that no height tells, the largest first."""
    site = findings.site
    return [f"{hole_words(site, hole)}." for hole in findings.terrain.holes]


def _heading(findings: Findings) -> list[Block]:
    site = findings.site
    rain = quantities.format_rain(site.storm.depth, system_of(site.units))
    told = f"storm of {rain}; heights by {findings.terrain.accuracy.method}"
    return [Heading(site.name, 1), Paragraph(told)]


def downspout_lines(findings: Findings) -> list[Block]:
    """Where each downspout's water goes, in a sentence or two, and how near to foundations."""
    if not findings.downspouts:
        return [Paragraph("No downspout is given.", alone=True)]
    steps = [
        Step("", [downspout_sentence(findings.site, answer)], _measures(answer, findings.site))
        for answer in findings.downspouts
    ]
    return [Heading("Where each downspout's water goes", 3), Steps(steps)]


def _measures(answer: DownspoutAnswer, site: Site) -> str:
    system, rules = system_of(site.units), site.rules
    near, reach = _far(rules["near_foundation"], system), _far(rules["foundation_reach"], system)
    return (
        f"{_far(answer.length, system)} long, "
        f"{_far(answer.length_within_near, system)} of it within {near} and "
        f"{_far(answer.length_within_reach, system)} within {reach} of a foundation"
    )


def _far(metres: float, system: str) -> str:
    """A distance along the ground: whole inches say enough."""
    return quantities.format_length(metres, system, _FOOT_FRACTION)


def low_spots(findings: Findings) -> list[Block]:
    """A table of the low spots on the lot."""
    spots = [spot for spot in findings.low_spots if spot.on_lot]
    if not spots:
        return [Paragraph("No low spot holds water on the lot.", alone=True)]
    columns = ("low spot", "depth", "area", "holds", "filled by", "storm leaves", "nearest wall")
    rows = [_low_spot_row(spot, findings.site) for spot in spots]
    table = titled_table("Low spots on the lot", columns, rows)
    if any(spot.in_doubt for spot in spots):
        margin = call_margin(findings.site.height_accuracy.sigma)
        least = quantities.format_length(margin, system_of(findings.site.units), _INCH_FRACTION)
        doubt = (
            f"(?) Too close to call: these heights tell no depth under {least} from level ground, "
            "so it may be shallower, deeper or not there."
        )
        table.append(Paragraph(doubt))
    table += [Paragraph(_beside_a_divide(spot, findings.site)) for spot in spots if spot.undecided]
    return table


def _beside_a_divide(spot: LowSpot, site: Site) -> str:
    fills = found_rain(site, spot.rain_to_fill)
    names = " and ".join(f"'{name}'" for name in spot.undecided)
    other = (
        found_rain(site, spot.rain_otherwise) if math.isfinite(spot.rain_otherwise) else "no storm"
    )
    return (
        f"(?) The water let go at {names} starts so near a divide that these heights do not tell "
        f"whether it runs to {spot.name}: {fills} of rain fills it one way, "
        f"{other} the other. Take more heights there."
    )


def _low_spot_row(spot: LowSpot, site: Site) -> tuple[str, ...]:
    system = system_of(site.units)
    return (
        spot.name,
        quantities.format_length(spot.depth, system, _INCH_FRACTION) + " (?)" * spot.in_doubt,
        quantities.format_area(spot.area, system, found=True),
        quantities.format_volume(spot.volume, system, spot.area * site.height_accuracy.sigma),
        _rain_to_fill(spot, site),
        _after_storm(spot, system),
        _wall(spot, system),
    )


def _rain_to_fill(spot: LowSpot, site: Site) -> str:
    if spot.terminal:
        return "no way out"
    if not math.isfinite(spot.rain_to_fill):
        return "no storm tried"
    return f"{found_rain(site, spot.rain_to_fill)} of rain" + " (?)" * bool(spot.undecided)


def _after_storm(spot: LowSpot, system: str) -> str:
    if spot.storm_volume <= 0.0:
        return "dry"
    depth = quantities.format_length(spot.storm_depth, system, _INCH_FRACTION)
    return depth + (", overflows" if spot.overflows else "")


def _wall(spot: LowSpot, system: str) -> str:
    if spot.wall_distance is None:
        return "none near"
    if spot.wall_distance < 0.01:
        return f"at {spot.building}"
    return f"{_far(spot.wall_distance, system)}, {spot.building}"


def _suspects(findings: Findings) -> list[Block]:
    lines = [f"{suspect.name}: {suspect.reason}" for suspect in findings.terrain.suspects]
    return section("Spot heights to look at again", lines)


def _notices(findings: Findings) -> list[Block]:
    return section("Taken for granted", list(dict.fromkeys(findings.notices)))
