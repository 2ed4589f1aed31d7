"""The answer to an inspection on one screen: the worst first, a line each, what to do next last.

In: findings. Out: blocks that `runoff.report.terminal.on_screen` sets. Everything is told from
numbers, names and codes; the rest of the figures stand in `runoff.report.findings_full`.
"""

from __future__ import annotations

import math
from itertools import groupby

from runoff.flow.downspouts import Implication, implications_of
from runoff.flow.model import DownspoutAnswer, LowSpotOnTheWay, PathEnd
from runoff.foundation.model import OpeningFinding, StandingWater, Verdict, WallRun
from runoff.foundation.walls import Wall, from_left, wall_words, walls_of
from runoff.inspection import Findings
from runoff.quantities import Shown
from runoff.report.blocks import Block, Heading, Pairs, Paragraph, section
from runoff.site.model import Site
from runoff.words.amounts import found_rain, listed
from runoff.words.notices import notices_in_words

NOTHING_WRONG = "Nothing that these heights can tell."
_TOUCHES_M = 0.01
_MOST_PLACES = 2

VERDICTS: dict[Verdict, str] = {
    "holds water": "water stands",
    "slopes back": "slopes back to the wall",
    "too flat": "too flat",
    "cut short: needs a drain or swale": "no room for the grade",
    "too close to call": "too close to call",
    "not surveyed": "not measured",
}
"""How each verdict that is no pass is told, the worst first."""

_GROUND: dict[str, str] = {
    "street": "the street",
    "alley": "the alley",
    "neighbor": "the neighbor",
    "open ground": "open ground",
    "unknown": "ground that is not known",
}


def inspection_answer(findings: Findings, site_file: str) -> list[Block]:
    """The answer: at most 24 lines of a screen for a lot of two buildings and five downspouts.

    Parameters
    ----------
    findings : Findings
    site_file : str
        What the user typed for the site file, to name the next command with.

    Returns
    -------
    list of Block
    """
    site = findings.site
    rain = Shown.of(site).rain(site.storm.depth)
    indication = "; indication only" if findings.terrain.accuracy.indication_only else ""
    return [
        Heading(
            f"{site.name}: a storm of {rain}, heights by {findings.terrain.accuracy.method}"
            f"{indication}",
            1,
        ),
        *section("To put right, the worst first", wrong_now(findings) or [NOTHING_WRONG]),
        Heading("Where each downspout's water goes", 3),
        _pairs(_downspouts(findings), "No downspout is given."),
        Heading(_walls_heading(site), 3),
        _pairs(_walls(findings), "No building is given."),
        *section("Not sure (more heights would tell)", _unsure(findings)),
        Paragraph(
            "All figures: --full; of one downspout or wall: --only NAME; a picture: --map map.png. "
            f"Next, what to build: runoff plan {site_file}"
        ),
    ]


def _pairs(rows: list[tuple[str, str]], none: str) -> Block:
    return Pairs(rows) if rows else Paragraph(none, alone=True)


def wrong_now(findings: Findings, where: str = "below", all_of_it: str = "--full") -> list[str]:
    """What is wrong now, in the order in which it hurts; `where` the walls are told one by one."""
    site, found, shown = findings.site, findings.at_the_wall, Shown.of(findings.site)
    told = notices_in_words(site, site.questions)
    if findings.second_engine.agrees is False:
        told.insert(
            0, f"The two computations of this lot differ: do not build on this ({all_of_it})."
        )
    told += [
        f"Water gets into {_named(opening)} from {found_rain(site, opening.rain_to_reach_m)} "
        "of rain on."
        for opening in found.openings
        if opening.reached
    ]
    told += [
        _standing(site, water)
        for water in sorted(found.standing, key=lambda water: -water.wetted_m)
        if water.wetted_m > _TOUCHES_M
    ]
    for code, words in _LET.items():
        names = [
            f"'{answer.name}'"
            for answer in findings.downspouts
            if code in implications_of(site, answer)
        ]
        if names:
            told.append(f"{listed(names)} let{'s' * (len(names) == 1)} roof water {words}.")
    failing = [run for run in found.runs if run.verdict in _FAILS]
    if failing:
        length = shown.far(sum(run.end_m - run.start_m for run in failing))
        told.append(f"The ground along {length} of wall does not carry water away ({where}).")
    return told


_LET: dict[Implication, str] = {
    "comes back": "come back to the house",
    "onto a neighbor": "run onto a neighbor",
    "over a public sidewalk": "run over a public sidewalk: ice",
}
_FAILS = ("slopes back", "too flat", "cut short: needs a drain or swale")


def _named(opening: OpeningFinding) -> str:
    kind = "" if opening.name.endswith(opening.kind) else f"{opening.kind} "
    return f"{kind}'{opening.name}'"


def _standing(site: Site, water: StandingWater) -> str:
    shown = Shown.of(site)
    walls = ", ".join(wall.wall_name for wall in water.walls)
    return (
        f"{water.low_spot.capitalize()}: water {shown.height(water.storm_depth_m)} deep along "
        f"{shown.far(water.wetted_m)} of '{water.building}' ({walls})."
    )


def _downspouts(findings: Findings) -> list[tuple[str, str]]:
    told = [(answer.name, _goes(findings, answer)) for answer in findings.downspouts]
    return told + [
        (one.name, "not known: no height was taken around its foot") for one in findings.unanswered
    ]


def _goes(findings: Findings, answer: DownspoutAnswer) -> str:
    """Where a downspout's water goes: past what, into what, onto whose ground."""
    site, shown = findings.site, Shown.of(findings.site)
    implied = implications_of(site, answer)
    parts = []
    if "comes back" in implied:
        parts.append("comes back to the house")
    if "runs beside a foundation" in implied:
        parts.append(f"{shown.far(answer.length_within_near_m)} beside the wall")
    if "stays near a foundation" in implied:
        reach = shown.far(site.rules["foundation_reach"])
        parts.append(f"never leaves the {reach} beside the wall")
    last = answer.end.name if answer.end.kind in ("low spot", "terminal basin") else ""
    parts += [_fills(each) for each in answer.on_the_way if each.name != last]
    parts.append(_end(findings, answer.end))
    told = ", ".join(parts)
    if answer.crosses:
        crossed = listed([f"{each.kind} '{each.name}'" for each in answer.crosses])
        told += f"; over {crossed} (ice in winter)"
    if answer.may_fill:
        told += f"; or into {listed(list(answer.may_fill))} (not sure)"
    return told


def _fills(spot: LowSpotOnTheWay) -> str:
    way = "perhaps " if spot.perhaps or spot.in_doubt else ""
    return f"{way}{'fills' if spot.overflows else 'into'} {spot.name}"


def _end(findings: Findings, end: PathEnd) -> str:
    if end.kind == "lot side":
        return f"to {_GROUND.get(end.neighbor, 'what lies beyond')} ({end.name})"
    if end.kind == "survey edge":
        return "off the measured ground: not known where to"
    if end.kind in ("low spot", "terminal basin"):
        return f"stays in {_named_spot(findings, end.name)}"
    return f"into the {end.kind} {end.name}" if end.name != end.kind else f"into the {end.name}"


def _named_spot(findings: Findings, name: str) -> str:
    """A low spot with what tells it from others: how deep, and how far from which wall."""
    shown = Shown.of(findings.site)
    spot = next((each for each in findings.low_spots if each.name == name), None)
    if spot is None:
        return name or "ground with no way out"
    if spot.wall_distance_m is None:
        return f"{name}, {shown.height(spot.storm_depth_m)} deep"
    at = (
        f"at '{spot.building}'"
        if spot.wall_distance_m < _TOUCHES_M
        else f"{shown.far(spot.wall_distance_m)} from '{spot.building}'"
    )
    return f"{name}, {shown.height(spot.storm_depth_m)} deep, {at}"


def _walls_heading(site: Site) -> str:
    shown, rules = Shown.of(site), site.rules
    reach = rules["foundation_reach"]
    fall = shown.height(rules["soil_grade"] * reach)
    return f"The ground along the walls ({fall} of fall in {shown.far(reach)} is asked for)"


def _walls(findings: Findings) -> list[tuple[str, str]]:
    """A row a building: each verdict that is no pass with its walls, the worst first."""
    site, runs = findings.site, findings.at_the_wall.runs
    told = []
    for building in site.own_buildings:
        own = [run for run in runs if run.building == building.name]
        if own:
            told.append((building.name, _of_building(site, own)))
    return told


def _of_building(site: Site, runs: list[WallRun]) -> str:
    parts = [
        f"{listed(_sides(site, runs, verdict))} {words}"
        for verdict, words in VERDICTS.items()
        if any(run.verdict == verdict for run in runs)
    ]
    return "; ".join(parts) or "drains away on all sides"


def _sides(site: Site, runs: list[WallRun], verdict: Verdict) -> list[str]:
    """The walls with that verdict, each once; *part of* where the rest of it has another."""
    sides = []
    for _, of_wall in groupby(runs, key=lambda run: run.wall):
        own = list(of_wall)
        found = [run for run in own if run.verdict == verdict]
        if found:
            sides.append(f"{'' if len(found) == len(own) else 'part of '}{own[0].wall_name}")
    return sides


def _unsure(findings: Findings) -> list[str]:
    """What the heights do not tell, and which to take again."""
    site, shown = findings.site, Shown.of(findings.site)
    told = []
    suspects = [f"'{one.name}'" for one in findings.terrain.suspects]
    if suspects:
        told.append(f"{_counted('Height', suspects)} not fit the ground around: measure again.")
    close = [run for run in findings.at_the_wall.runs if run.verdict == "too close to call"]
    reach = shown.far(site.rules["foundation_reach"])
    if len(close) > _MOST_PLACES:
        told.append(
            f"{len(close)} stretches of wall are too close to call: level the wall's foot and "
            f"{reach} out again (--full says where)."
        )
    else:
        told += [f"{_place(site, run)}: level its foot and {reach} out again." for run in close]
    told += [
        f"How deep {spot.name} is: too shallow for these heights."
        for spot in findings.low_spots
        if spot.on_lot and spot.in_doubt and spot.storm_volume_m3 > 0
    ]
    told += [
        f"Is {spot.name}, {shown.height(spot.depth_m)} deep, ground at all? Look there (--full)."
        for spot in findings.low_spots
        if spot.on_lot and spot.question
    ]
    parted = sorted({name for spot in findings.low_spots for name in spot.undecided})
    if parted:
        names = listed([f"'{name}'" for name in parted])
        told.append(f"The ground parts the water at {names}: take heights around it.")
    holes = findings.terrain.holes
    if holes:
        area = shown.found_area(math.fsum(hole.area for hole in holes))
        told.append(f"No height tells {area} of the lot: runoff check says where.")
    return told


def _counted(what: str, names: list[str]) -> str:
    """As *Height 'A' does* or *Heights 'A' and 'B' do*."""
    return f"{what} {names[0]} does" if len(names) == 1 else f"{what}s {listed(names)} do"


def _place(site: Site, run: WallRun) -> str:
    """Which stretch of which wall, from its left corner."""
    wall = next(each for each in walls_of(site.buildings) if _is_of(each, run))
    left = from_left(wall, run.start_m, run.end_m)
    start, end = (Shown.of(site).far(at) if at > _TOUCHES_M else "0" for at in left)
    whose = "" if len(site.own_buildings) == 1 else f" of '{run.building}'"
    words = f"{wall_words(run.wall_name)}{whose}, {start} to {end} from its left corner"
    return words[:1].upper() + words[1:]


def _is_of(wall: Wall, run: WallRun) -> bool:
    return (wall.building, wall.number) == (run.building, run.wall)
