"""The house in words: what needs attention at its walls, and the numbers behind it.

In: findings. Out: blocks, none where the walls were not looked at.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from runoff.foundation.model import AtTheWall, OpeningFinding, StandingWater, WallRun
from runoff.foundation.walls import Wall, walls_of
from runoff.foundation.wording import found_rain
from runoff.foundation.wording import from_left as stretch_from_left
from runoff.inspection import Findings
from runoff.quantities import Shown
from runoff.report.blocks import Block, Paragraph, section, titled_table
from runoff.site.model import Site
from runoff.words.headlines import headlines_of
from runoff.words.soil import soil_lines
from runoff.words.standing import spill_words
from runoff.words.verdicts import remark_words

NOTHING_FOUND = "Nothing found at the walls."
NO_WALLS = "No building is given: there is no wall to judge the ground at."
ROUGH = (
    "Indication only: these heights are too rough for a verdict; measure where a line says so, by "
    "level, before anything is dug or filled."
)

_INCH_FRACTION = 4
_WHOLE_INCH = 1
_MOST_FEEDS = 2
_NO_DISTANCE_M = 0.01
_NO_FIGURE = "-"


def house(findings: Findings) -> list[Block]:
    """A line for everything at the walls that needs attention, the worst first."""
    told = headlines_of(findings)
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
    return stretch_from_left(wall, run.start, run.end)


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
        _NO_FIGURE if _unknown(run) else shown.height(run.worst.required),
    )


def _wall(site: Site, run: WallRun) -> str:
    return run.wall_name if len(site.own_buildings) == 1 else f"{run.building}, {run.wall_name}"


def _unknown(run: WallRun) -> bool:
    """Whether the ground off a run was not surveyed as far as it is judged."""
    return math.isnan(run.worst.fall) or math.isnan(run.worst.required)


def _fall(site: Site, run: WallRun) -> str:
    shown = Shown.of(site)
    worst = run.worst
    if _unknown(run):
        return _NO_FIGURE
    told = shown.height(abs(worst.fall))
    way = " back" if worst.fall < 0.0 and not told.startswith("0 ") else ""
    rise = f", rises {shown.height(worst.rise)}" if run.verdict == "slopes back" else ""
    return f"{told}{way} over {shown.far(worst.reach)}{rise}"


def _openings(site: Site, found: AtTheWall) -> list[Block]:
    rows = [_opening(site, opening) for opening in found.openings]
    columns = ("opening", "kind", "height of edge", "water reaches it at", "freeboard")
    return titled_table("Openings", columns, rows, ["height of edge"])


def _opening(site: Site, opening: OpeningFinding) -> tuple[str, ...]:
    return (
        opening.name,
        opening.kind,
        "not known" if math.isnan(opening.edge) else Shown.of(site).height(opening.edge),
        _reached_at(site, opening.rain_to_reach),
        _freeboard(site, opening.freeboard),
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
    at_wall = water.distance < _NO_DISTANCE_M
    return (
        water.low_spot,
        f"at {water.building}" if at_wall else f"{shown.far(water.distance)}, {water.building}",
        shown.height(water.storm_depth) if water.storm_volume > 0.0 else "dry",
        f"{shown.far(water.wetted)} of wall" if water.wetted > 0.0 else "no wall",
        _reached_at(site, water.rain_to_fill),
        _fed_by(water.feeds),
        spill_words(water.spills_to),
    )


def _fed_by(feeds: dict[str, float]) -> str:
    """The sources that bring most, with their share of the water."""
    whole = sum(feeds.values())
    if whole <= 0.0:
        return _NO_FIGURE
    most = sorted(feeds.items(), key=lambda item: -item[1])[:_MOST_FEEDS]
    return ", ".join(f"{name} {100.0 * part / whole:.0f} %" for name, part in most if part > 0.0)
