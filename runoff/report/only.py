"""One downspout, wall, opening or low spot by its name: all that is known of it, and nothing else.

In: findings or a plan. Out: blocks by the names that they go by.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from runoff.foundation.model import AtTheWall
from runoff.inspection import Findings
from runoff.planning import Plan
from runoff.report.blocks import Block, section
from runoff.report.findings_full import downspout_lines, low_spots, wall_numbers
from runoff.report.plan_full import downspout_parts
from runoff.words.dig_sheet import Style
from runoff.words.walls import soil_lines, wall_lines
from runoff.words.water import opening_sentence, standing_sentence

Named = dict[str, list[Block]]


class NotNamed(LookupError):
    """Nothing on the lot is called so; `names` are those that are."""

    def __init__(self, names: Sequence[str]) -> None:
        self.names = tuple(names)
        super().__init__(", ".join(names))


def only(named: Named, name: str) -> list[Block]:
    """What goes by a name, however it is capitalized.

    Raises
    ------
    NotNamed
        Where nothing does.

    Examples
    --------
    >>> only({"rear left": section("Water", ["It stands."])}, "Rear  Left")[1].lines
    ['It stands.']
    """
    by_name = {each.casefold(): each for each in named}
    found = by_name.get(" ".join(name.split()).casefold())
    if found is None:
        raise NotNamed(list(named))
    return named[found]


def named_findings(findings: Findings) -> Named:
    """Of an inspection: downspouts, walls and buildings, openings, low spots."""
    found, told = findings.at_the_wall, Named()
    for spot in findings.low_spots:
        alone = replace(findings, low_spots=(spot,))
        water = tuple(each for each in found.standing if each.low_spot == spot.name)
        lines = [standing_sentence(findings.site, each) for each in water]
        told[spot.name] = [*low_spots(alone), *section("Beside the house", lines)]
    for opening in found.openings:
        here = replace(_nothing(found), openings=(opening,))
        told[opening.name] = [
            *section(opening.name, [opening_sentence(findings.site, opening)]),
            *wall_numbers(replace(findings, at_the_wall=here)),
        ]
    for name, walls in _walls(findings).items():
        told[name] = _of_walls(findings, walls)
    for answer in findings.downspouts:
        told[answer.name] = downspout_lines(replace(findings, downspouts=(answer,)))
    return told


def named_plan(plan: Plan, style: Style | None) -> Named:
    """Of a plan: downspouts, and walls and buildings with the soil that they need."""
    told = Named()
    for name, walls in _walls(plan.findings).items():
        wedges = [] if plan.grade is None else list(plan.grade.wedges)
        wedges = [one for one in wedges if (one.run.building, one.run.wall) in walls]
        left = [run for run in plan.walls_left if (run.building, run.wall) in walls]
        lines = soil_lines(plan.site, wedges)
        lines += [line.text for line in wall_lines(plan.site, left, ())]
        told[name] = [
            *_of_walls(plan.findings, walls),
            *section("What it needs", lines or ["No soil."]),
        ]
    for number, each in enumerate(plan.recommendations, start=1):
        told[each.downspout] = downspout_parts(plan, number, each, style)
    return told


def _walls(findings: Findings) -> dict[str, set[tuple[str, int]]]:
    """The walls that a building's name means, and a wall's; a wall's own where it is the only one.

    Walls are their building's name and their number.
    """
    named: dict[str, set[tuple[str, int]]] = {}
    alone = len(findings.site.own_buildings) == 1
    for run in findings.at_the_wall.runs:
        wall = (run.building, run.wall)
        for name in (run.building, run.wall_name if alone else f"{run.building} {run.wall_name}"):
            named.setdefault(name, set()).add(wall)
    return named


def _of_walls(findings: Findings, walls: set[tuple[str, int]]) -> list[Block]:
    found = findings.at_the_wall
    here = replace(
        _nothing(found),
        runs=tuple(run for run in found.runs if (run.building, run.wall) in walls),
        wedges=tuple(one for one in found.wedges if (one.run.building, one.run.wall) in walls),
        standing=tuple(
            water
            for water in found.standing
            if any((wet.building, wet.wall) in walls for wet in water.walls)
        ),
    )
    return wall_numbers(replace(findings, at_the_wall=here))


def _nothing(found: AtTheWall) -> AtTheWall:
    return replace(found, openings=(), runs=(), standing=(), wedges=())
