"""The answer of a plan on one screen: what to build, what stays wrong, what to buy.

In: a plan. Out: blocks that `runoff.report.terminal.on_screen` sets. Everything is told from
numbers, names and codes; the rest of the figures stand in `runoff.report.plan_full`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import groupby
from typing import assert_never

from runoff.discharge.model import Failure
from runoff.discharge.ways import (
    AsItIs,
    BuriedLine,
    Design,
    Extension,
    Option,
    Recommendation,
    SeepagePit,
    Swale,
)
from runoff.discharge.work import work_of
from runoff.foundation.walls import wall_words
from runoff.planning import Plan
from runoff.quantities import Shown
from runoff.report.blocks import Block, Heading, Paragraph, paired, section
from runoff.report.names import price_words
from runoff.report.plan_attention import (
    parts_too_small,
    trouble_with_all_built,
    walls_without_soil,
    wet_wall_after,
)
from runoff.report.plan_full import everything, quantity_words
from runoff.site.model import Site
from runoff.words.amounts import listed
from runoff.words.designs import what_fails

CAUTION = (
    "Have buried utilities marked before you dig (in the US, dial 811); keep out of any trench "
    "that could cave in. The local code and licensed practice decide."
)
_PIECE = "each"
NO_WAY = "nothing found that keeps its water away (--only NAME)"
NOTHING_LEFT = "Nothing that this plan can tell."
ROUGH = "These heights are too rough to dig by: measure by level before anything is ordered."
NO_LOT = "No lot is given: whether water runs onto a neighbor cannot be told."


def plan_answer(plan: Plan, site_file: str) -> list[Block]:
    """The answer: at most 24 lines of a screen for a lot of two buildings and five downspouts.

    Parameters
    ----------
    plan : Plan
    site_file : str
        What the user typed for the site file, to name the next command with.

    Returns
    -------
    list of Block
    """
    site = plan.site
    rain = Shown.of(site).rain(site.storm.depth)
    at_downspouts = [way_in_brief(site, one) for one in plan.recommendations]
    return [
        Heading(f"{site.name}: what to build for a storm of {rain}", 1),
        *paired("At the downspouts", at_downspouts),
        *paired("At the walls", list(_soil(plan))),
        *section("What stays wrong", left_wrong(plan) or [NOTHING_LEFT]),
        *section(_buying_heading(plan), _bought(plan)),
        Paragraph(CAUTION),
        Paragraph(
            "All figures: --full; of one downspout or wall: --only NAME; drawings: --out DIR. "
            f"Next, to print it: runoff report {site_file}"
        ),
    ]


def way_in_brief(site: Site, one: Recommendation) -> tuple[str, str]:
    """A downspout's name, and what to build there, the soil first, with its price."""
    design, told = one.chosen.design, []
    if one.chosen.correction is not None:
        told.append("soil at the wall")
    told.append(NO_WAY if design is None else _in_brief(site, design))
    if price := price_words(one.chosen.work, site.prices):
        told.append(price)
    return one.downspout, ", ".join(told)


def _in_brief(site: Site, design: Design) -> str:
    """What is built of a way, with the figures that one would ask for first."""
    shown = Shown.of(site)
    match design:
        case AsItIs():
            return "a splash block at its foot"
        case Extension(wall=wall, length_m=length):
            out = f" out from {wall_words(wall)}" if wall else ""
            return f"{shown.far(length)} of extension{out}, falling {shown.height(design.fall_m)}"
        case Swale():
            return (
                f"swale {shown.far(design.stations_m[-1])} long, "
                f"{shown.height(design.greatest_cut_m)} deep, at {shown.slope(design.slope)}"
            )
        case BuriedLine(profile=profile):
            fall = (profile.invert_m[0] - profile.invert_m[-1]) / profile.stations_m[-1]
            return (
                f"bury {shown.far(design.length_m)} of {profile.pipe.size} pipe at "
                f"{shown.slope(fall)}, up to {shown.far(design.greatest_cut_m)} deep"
            )
        case SeepagePit():
            body = design.governing.pit
            return (
                f"dry well {shown.far(body.length_m)} x {shown.far(body.width_m)}, "
                f"{shown.far(design.dig_depth_m)} deep, {shown.far(design.line.length_m)} away"
            )
        case unknown:
            assert_never(unknown)


def _soil(plan: Plan) -> Iterator[tuple[str, str]]:
    """A row a building: how much soil along which walls, up to how high."""
    shown = Shown.of(plan.site)
    wedges = [] if plan.grade is None else [one for one in plan.grade.wedges if one.loose_m3 > 0]
    for building, of_one in groupby(wedges, key=lambda wedge: wedge.run.building):
        own = list(of_one)
        walls = ", ".join(dict.fromkeys(one.run.wall_name for one in own))
        yield (
            building,
            f"{shown.found_volume(sum(one.loose_m3 for one in own))} of loose soil, up to "
            f"{shown.height(max(one.height_m for one in own))} high: {walls}",
        )


def left_wrong(plan: Plan, all_of_it: str = "--full") -> list[str]:
    """What is wrong even so: ways that fail badly, walls, what the storm still does."""
    told = []
    if plan.findings.terrain.accuracy.indication_only:
        told.append(ROUGH)
    if plan.site.lot is None and plan.recommendations:
        told.append(NO_LOT)
    if plan.findings.second_engine.agrees is False:
        told.append(f"The two computations of this lot differ: do not build on this ({all_of_it}).")
    lost = [f"'{one.downspout}'" for one in plan.recommendations if one.chosen.kind == "refer"]
    if lost:
        told.append(f"No way was found to keep the water of {listed(lost)} away.")
    told += [text for one in plan.recommendations for text in _failing(one)]
    told += [
        f"'{one.name}': no height was taken around its foot." for one in plan.findings.unanswered
    ]
    told += trouble_with_all_built(plan)
    if wet := wet_wall_after(plan):
        told.append(f"Water still stands along {wet} of wall.")
    told += _walls(plan)
    told += parts_too_small(plan)
    suspects = [f"'{one.name}'" for one in plan.findings.terrain.suspects]
    if suspects:
        told.append(f"Measure again before anything is dug: height {listed(suspects)}.")
    return told


def _failing(one: Recommendation) -> list[str]:
    """How the chosen way fails, where that is not safe."""
    told = []
    for failure in one.chosen.failures:
        if not failure.is_safe:
            told.append(
                f"'{one.downspout}': where {what_fails(failure)}, its water runs "
                f"{listed(_harms(failure))}."
            )
    return list(dict.fromkeys(told))


def _harms(failure: Failure) -> list[str]:
    """Where water runs that it must not, whatever is planned against it."""
    places = {
        "to the foundation": failure.reaches_foundation and not failure.relieved,
        "over the public sidewalk": failure.over_sidewalk and not failure.relieved,
        "onto the neighbor": failure.onto_neighbor,
    }
    return [place for place, it_does in places.items() if it_does]


def _walls(plan: Plan) -> list[str]:
    """The walls that soil cannot put right, with what they need instead."""
    runs = walls_without_soil(plan)
    if not runs:
        return []
    told = []
    for building in plan.site.own_buildings:
        own = dict.fromkeys(run.wall_name for run in runs if run.building == building.name)
        if own:
            told.append(f"{building.name} ({', '.join(own)})")
    return [f"Soil cannot put all of these walls right: {listed(told)}."]


def _buying_heading(plan: Plan) -> str:
    """What the list is, with what all of it costs where the site file gives every price."""
    site = plan.site
    parts = [replace(one.chosen, correction=None) for one in plan.recommendations]
    if plan.grade is not None and plan.grade.loose_m3 > 0:
        parts.append(Option("refer", False, None, correction=plan.grade))
    prices = [work_of(site, each)[0].price for each in parts]
    if site.prices is None or not prices or None in prices:
        return "To buy"
    whole = sum(price for price in prices if price is not None)
    return f"To buy ({site.prices.currency} {whole:,.0f} with the digging, by your prices)"


def _bought(plan: Plan) -> list[str]:
    """What is bought by length, weight or roll; pieces are counted together."""
    items = everything(plan)
    told = [f"{quantity_words(item)} {item.name}" for item in items if item.unit != _PIECE]
    pieces = sum(item.quantity for item in items if item.unit == _PIECE)
    if pieces:
        told.append(f"{pieces:g} fittings and other pieces (--full)")
    return ["; ".join(told)] if told else []
