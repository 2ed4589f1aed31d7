"""The inspection in words, for the terminal and for a text file.

In: findings. Out: blocks, or plain text. Figures come from the findings alone and are
written in the site's own units.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from runoff.flow.model import DownspoutAnswer, LowSpot
from runoff.foundation.model import AtTheWall, OpeningFinding, StandingWater, WallRun
from runoff.foundation.walls import Wall, walls_of
from runoff.foundation.walls import from_left as stretch_from_left
from runoff.inspection import Findings
from runoff.quantities import Shown
from runoff.report.blocks import Block, Heading, Paragraph, Step, Steps, section, titled_table
from runoff.report.terminal import as_text
from runoff.site.model import Site
from runoff.terrain.model import call_margin
from runoff.words.amounts import found_rain
from runoff.words.attention import engines_note
from runoff.words.missing import hole_words, suspect_reason
from runoff.words.notices import notices_in_words
from runoff.words.walls import remark_words, soil_lines
from runoff.words.water import downspout_sentence, spill_words

NOTHING_FOUND = "Nothing found at the walls."
NO_WALLS = "No building is given: there is no wall to judge the ground at."
ROUGH = (
    "Indication only: these heights are too rough for a verdict; measure where a line says so, by "
    "level, before anything is dug or filled."
)

_MOST_FEEDS = 2
_NO_DISTANCE_M = 0.01
_NO_FIGURE = "-"


def house(findings: Findings) -> list[Block]:
    """A line for everything at the walls that needs attention, the worst first."""
    told = findings.headlines
    if not told:
        said = NOTHING_FOUND if findings.site.own_buildings else NO_WALLS
        return [Paragraph(said, alone=True)]
    rough = findings.terrain.accuracy.indication_only
    return section("At the house", [*told, *([ROUGH] if rough else [])])


def wall_numbers(findings: Findings, told: Sequence[str] = ()) -> list[Block]:
    """Tables of wall runs, openings and standing water, and the soil that corrects the grade.

    Remarks that are `told` elsewhere are left out.
    """
    found, site = findings.at_the_wall, findings.site
    return [
        *wall_tables(findings, told),
        *section("Soil to bring in", soil_lines(site, found.wedges)),
    ]


def wall_tables(findings: Findings, told: Sequence[str]) -> list[Block]:
    """Tables of wall runs, openings and standing water; remarks but those that are `told`."""
    found, site = findings.at_the_wall, findings.site
    return [*_runs(site, found, told), *_openings(site, found), *_standing(site, found)]


def from_left(wall: Wall, run: WallRun) -> tuple[float, float]:
    """Where a run starts and ends, metres from the left corner as one faces the wall outside."""
    return stretch_from_left(wall, run.start_m, run.end_m)


def _runs(site: Site, found: AtTheWall, told: Sequence[str]) -> list[Block]:
    walls = {(wall.building, wall.number): wall for wall in walls_of(site.buildings)}
    rows = [_run(site, walls[run.building, run.wall], run) for run in found.runs]
    columns = ("wall", "from its left corner", "verdict", "worst fall", "asked")
    untold = dict.fromkeys(
        f"{_wall(site, run)}: {remark}"
        for run in found.runs
        for remark in map(remark_words, run.remarks)
        if not any(remark in line for line in told)
    )
    return [
        *titled_table("Grade along the walls", columns, rows, ["asked"]),
        *section("Along the walls as well", list(untold)),
    ]


def _run(site: Site, wall: Wall, run: WallRun) -> tuple[str, ...]:
    shown = Shown.of(site)
    start, end = from_left(wall, run)
    return (
        _wall(site, run),
        f"{shown.far(start) if start > _NO_DISTANCE_M else 0} to {shown.far(end)}",
        run.verdict + (" (indication only)" if run.indication else ""),
        _fall(site, run),
        _NO_FIGURE if _unknown(run) else shown.height(run.worst.required_m),
    )


def _wall(site: Site, run: WallRun) -> str:
    return run.wall_name if len(site.own_buildings) == 1 else f"{run.building}, {run.wall_name}"


def _unknown(run: WallRun) -> bool:
    """Whether the ground off a run was not surveyed as far as it is judged."""
    return math.isnan(run.worst.fall_m) or math.isnan(run.worst.required_m)


def _fall(site: Site, run: WallRun) -> str:
    shown = Shown.of(site)
    worst = run.worst
    if _unknown(run):
        return _NO_FIGURE
    told = shown.height(abs(worst.fall_m))
    way = " back" if worst.fall_m < 0.0 and not told.startswith("0 ") else ""
    rise = f", rises {shown.height(worst.rise_m)}" if run.verdict == "slopes back" else ""
    return f"{told}{way} over {shown.far(worst.reach_m)}{rise}"


def _openings(site: Site, found: AtTheWall) -> list[Block]:
    rows = [_opening(site, opening) for opening in found.openings]
    columns = ("opening", "kind", "height of edge", "water reaches it at", "freeboard")
    return titled_table("Openings", columns, rows, ["height of edge"])


def _opening(site: Site, opening: OpeningFinding) -> tuple[str, ...]:
    return (
        opening.name,
        opening.kind,
        "not known" if math.isnan(opening.edge_m) else Shown.of(site).height(opening.edge_m),
        _reached_at(site, opening.rain_to_reach_m),
        _freeboard(site, opening.freeboard_m),
    )


def _reached_at(site: Site, depth: float) -> str:
    if math.isnan(depth):
        return "not judged"
    return f"{found_rain(site, depth)} of rain" if math.isfinite(depth) else "no storm tried"


def _freeboard(site: Site, freeboard: float) -> str:
    if math.isnan(freeboard):
        return _NO_FIGURE
    over = "over its edge by " if freeboard < 0.0 else ""
    return f"{over}{Shown.of(site).height(abs(freeboard))}"


def _standing(site: Site, found: AtTheWall) -> list[Block]:
    rows = [_pond(site, water) for water in found.standing]
    columns = ("low spot", "from", "storm leaves", "wets", "filled by", "fed by", "spills to")
    return titled_table("Standing water near walls", columns, rows)


def _pond(site: Site, water: StandingWater) -> tuple[str, ...]:
    shown = Shown.of(site)
    at_wall = water.distance_m < _NO_DISTANCE_M
    return (
        water.low_spot,
        f"at {water.building}" if at_wall else f"{shown.far(water.distance_m)}, {water.building}",
        shown.height(water.storm_depth_m) if water.storm_volume_m3 > 0.0 else "dry",
        f"{shown.far(water.wetted_m)} of wall" if water.wetted_m > 0.0 else "no wall",
        _reached_at(site, water.rain_to_fill_m),
        _fed_by(water.feeds_m3),
        spill_words(water.spills_to),
    )


def _fed_by(feeds: dict[str, float]) -> str:
    """The sources that bring most, with their share of the water."""
    whole = sum(feeds.values())
    if whole <= 0.0:
        return _NO_FIGURE
    most = sorted(feeds.items(), key=lambda item: -item[1])[:_MOST_FEEDS]
    return ", ".join(f"{name} {100.0 * part / whole:.0f} %" for name, part in most if part > 0.0)


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
        *wall_numbers(findings, findings.headlines),
        *low_spots(findings),
        *section("Needs attention too", _beyond_the_house(findings)),
        *section(WITHOUT_HEIGHTS, without_heights(findings)),
        *_suspects(findings),
        *_notices(findings),
        *section("Second engine", [engines_note(findings.second_engine)]),
        *section("Mind", CAUTIONS),
    ]


def summary_text(findings: Findings, width: int = _TEXT_WIDTH) -> str:
    """The same as plain text, without colors, lines no longer than `width`."""
    return as_text(summary(findings), width)


def _beyond_the_house(findings: Findings) -> list[str]:
    """What needs attention beside the headlines, which stand first."""
    told = findings.headlines
    return [sentence for sentence in findings.attention if sentence not in told]


def without_heights(findings: Findings) -> list[str]:
    """A line for each part of the lot that no height tells, the largest first."""
    site = findings.site
    return [f"{hole_words(site, hole)}." for hole in findings.terrain.holes]


def _heading(findings: Findings) -> list[Block]:
    site = findings.site
    rain = Shown.of(site).rain(site.storm.depth)
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
    shown, rules = Shown.of(site), site.rules
    near, reach = shown.far(rules["near_foundation"]), shown.far(rules["foundation_reach"])
    return (
        f"{shown.far(answer.length_m)} long, "
        f"{shown.far(answer.length_within_near_m)} of it within {near} and "
        f"{shown.far(answer.length_within_reach_m)} within {reach} of a foundation"
    )


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
        least = Shown.of(findings.site).height(margin)
        doubt = (
            f"(?) Too close to call: these heights tell no depth under {least} from level ground, "
            "so it may be shallower, deeper or not there."
        )
        table.append(Paragraph(doubt))
    table += [Paragraph(_beside_a_divide(spot, findings.site)) for spot in spots if spot.undecided]
    return table


def _beside_a_divide(spot: LowSpot, site: Site) -> str:
    fills = found_rain(site, spot.rain_to_fill_m)
    names = " and ".join(f"'{name}'" for name in spot.undecided)
    other = (
        found_rain(site, spot.rain_otherwise_m)
        if math.isfinite(spot.rain_otherwise_m)
        else "no storm"
    )
    return (
        f"(?) The water let go at {names} starts so near a divide that these heights do not tell "
        f"whether it runs to {spot.name}: {fills} of rain fills it one way, "
        f"{other} the other. Take more heights there."
    )


def _low_spot_row(spot: LowSpot, site: Site) -> tuple[str, ...]:
    shown = Shown.of(site)
    return (
        spot.name,
        shown.height(spot.depth_m) + " (?)" * spot.in_doubt,
        shown.found_area(spot.area_m2),
        shown.volume_as_good(spot.volume_m3, spot.area_m2 * site.height_accuracy.sigma),
        _rain_to_fill(spot, site),
        _after_storm(spot, shown),
        _nearest_wall(spot, shown),
    )


def _rain_to_fill(spot: LowSpot, site: Site) -> str:
    if spot.terminal:
        return "no way out"
    if not math.isfinite(spot.rain_to_fill_m):
        return "no storm tried"
    return f"{found_rain(site, spot.rain_to_fill_m)} of rain" + " (?)" * bool(spot.undecided)


def _after_storm(spot: LowSpot, shown: Shown) -> str:
    if spot.storm_volume_m3 <= 0.0:
        return "dry"
    depth = shown.height(spot.storm_depth_m)
    return depth + (", overflows" if spot.overflows else "")


def _nearest_wall(spot: LowSpot, shown: Shown) -> str:
    if spot.wall_distance_m is None:
        return "none near"
    if spot.wall_distance_m < 0.01:
        return f"at {spot.building}"
    return f"{shown.far(spot.wall_distance_m)}, {spot.building}"


def _suspects(findings: Findings) -> list[Block]:
    site = findings.site
    lines = [f"{one.name}: {suspect_reason(site, one)}" for one in findings.terrain.suspects]
    return section("Spot heights to look at again", lines)


def _notices(findings: Findings) -> list[Block]:
    return section(
        "Taken for granted", list(dict.fromkeys(notices_in_words(findings.site, findings.notices)))
    )
