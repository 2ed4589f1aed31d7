"""A made-up `Plan` for the made-up lot, so that its texts, files and figures are checked alone.

Routes, failures and places are written by hand; sections, profiles and checks are made by the pure
functions of the discharge room.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from runoff.discharge import (
    AtTheWall,
    BuriedLine,
    Caution,
    Clearance,
    Crossing,
    Design,
    Extension,
    Failure,
    Fitting,
    GradeCorrection,
    Harm,
    Item,
    LineEnd,
    NotLeft,
    Onward,
    Option,
    Proof,
    Reached,
    Recommendation,
    SeepagePit,
    Swale,
    SwaleSection,
    Trouble,
    WaterToMove,
    Work,
    box_pit,
    check_whole_storm,
    design_profile,
    design_rate,
    dig_table,
    line_limits,
    pipe_at_flow,
    pipe_of,
    stone_apron,
    swale_at_flow,
    texture_soil,
    trench_width,
)
from runoff.flow import PathEnd
from runoff.planning import Plan
from runoff.roof import Catchment, RoofDrainage, RoofPart, RunTakeOff, leader_at_flow, take_off
from runoff.rules import Rules
from runoff.site import GutterRun, Prices, Units
from runoff.words import CAUTIONS
from tests.lots.made_up import FOOT, HERE, feet
from tests.report.made_up import made_up_findings

FLOW = 0.0015
STREET = PathEnd("lot side", "front", 10.0, 0.0, "street")
SAFE = Failure("line blocked", (0.0, 0.0), np.empty((0, 2)), None, False, STREET)
STANDS = Trouble(
    "rear left", "water does harm", (Harm("foundation", Reached("stands near", 5 * FOOT, "house")),)
)
UNSAFE = replace(SAFE, kind="extension blocked", reached=Reached("comes back", 5 * FOOT))


def made_up_line(daylight: bool = True, instrument: float | None = 31.0) -> BuriedLine:
    """A 4 in line that falls 1 % under ground that falls 3 %, to daylight or into a pit."""
    stations = np.linspace(0.0, 24.0, 121)
    pipe, limits = pipe_of(4, "smooth"), line_limits()
    if daylight:
        profile = design_profile(stations, 30.0 - 0.03 * stations, pipe, limits)
    else:
        near = stations[stations <= 8.0]
        profile = design_profile(
            near, 30.0 - 0.015 * near, pipe, limits, buried_to_m=float(near[-1])
        )
    end = float(profile.stations_m[-1])
    route = np.array([[0.3, -0.1], [0.3, -0.1 - end]])
    return BuriedLine(
        route=route,
        drawn=False,
        profile=profile,
        flow=pipe_at_flow(pipe, 0.01, FLOW),
        trench_width_m=trench_width(pipe.outside_m),
        greatest_cut_m=float(profile.cut_m.max()),
        rows=dig_table(profile, 5 * FOOT, instrument, (4.0,)),
        instrument_m=instrument,
        fittings=(
            Fitting(0.0, "leaf screen"),
            Fitting(0.0, "cleanout", "foot"),
            Fitting(4.0, "bend", "route turns", (45.0,), 45.0),
            Fitting(end, "outlet grate", size="4 in"),
        ),
        crossings=(Crossing(5.0, 6.2, "front walk", "walk", cover_m=FOOT),),
        ends=LineEnd("daylight" if daylight else "pit"),
        end=(0.3, -0.1 - end),
        head_m=None,
        apron=stone_apron(FLOW, pipe.bore_m) if daylight else None,
        protection="stone apron" if daylight else "",
        cautions=(Caution("frost not given"),),
        end_velocity_m_per_s=0.9,
    )


def made_up_pit() -> SeepagePit:
    """A box that holds a 4 in storm from 25 m2, in loamy sand."""
    rate = design_rate(texture_soil("loamy sand"))
    line = made_up_line(daylight=False)
    check = check_whole_storm(25.0, 4 * FOOT / 12, box_pit(2.8, 2.8, 0.9, 0.4), rate.rate_m_per_s)
    inlet = float(line.profile.invert_m[-1])
    return SeepagePit(
        center=(3.0, -9.5),
        angle=30.0,
        by_durations=None,
        by_whole_storm=check,
        governing=check,
        rate=rate,
        ground_m=inlet + 0.6,
        inlet_m=inlet,
        dig_depth_m=1.5,
        line=line,
        clearances=(Clearance("foundation", "house", 3.048, 6.0),),
        overflow=replace(SAFE, kind="pit full", comes_out="observation pipe"),
        warnings=(Caution("roofs that poison"),),
    )


def made_up_swale() -> Swale:
    """A swale 10 m long at 1 %."""
    stations = np.linspace(0.0, 10.0, 21)
    section = SwaleSection(0.3, 3.0, 0.15)
    return Swale(
        line=feet([(33, 28.3), (33, 61)]),
        stations_m=stations,
        ground_m=30.0 - 0.012 * stations,
        bottom_m=30.0 - 0.15 * np.minimum(stations, 1.0) - 0.01 * stations,
        slope=0.01,
        section=section,
        design_flow_m3_per_s=FLOW,
        flow=swale_at_flow(section, FLOW, 0.01, 0.05),
        capacity_m3_per_s=0.011,
        greatest_velocity_m_per_s=1.2,
        dig_m3=0.9,
        ends=Onward(PathEnd("lot side", "rear", 10.0, 20.0, "street")),
        cautions=(Caution("dish the ground", figures=(0.05,)),),
        path=feet([(33, 61), (32, 63), (32, 66)]),
    )


def made_up_extension() -> Extension:
    """Six feet straight out, its water then to the street."""
    start, end = (35 * FOOT, -0.3 * FOOT), (35 * FOOT, -6.3 * FOOT)
    path = feet([(35, -6.3), (34, -20), (34, -40)])
    return Extension(
        start,
        end,
        6 * FOOT,
        180.0,
        0.1,
        0.08,
        path,
        Onward(STREET),
        "splash pad",
        None,
    )


def made_up_plan(units: Units = "ft", prices: bool = False) -> Plan:
    """Four downspouts: a line, an extension that fails badly, a swale, and a pit."""
    findings = made_up_findings(units)
    if prices:
        site = replace(findings.site, prices=Prices("USD", {"pipe": 12.0}))
        findings = replace(findings, site=site)
    ways = (
        ("front left", _option(made_up_line(), SAFE)),
        ("front right", _option(made_up_extension(), UNSAFE)),
        ("rear right", _option(made_up_swale(), SAFE)),
        ("rear left", _option(made_up_pit(), SAFE)),
    )
    return Plan(
        findings=findings,
        drainage=tuple(_drainage(name) for name, _ in ways),
        take_offs=(_take_off(),),
        recommendations=tuple(_recommended(name, option) for name, option in ways),
        grade=GradeCorrection(findings.at_the_wall.wedges, 1.0, 1.25),
        walls_left=(),
        proof=Proof(7.0, 0.0, 0.25, 0.02, (STANDS,)),
        assumptions=("Gutters and leaders: 8 in/h assumed.",),
        cautions=CAUTIONS,
    )


def referred(plan: Plan) -> Plan:
    """The same with nothing that works for the first downspout."""
    ask = Option("refer", True, None, asks=("storm sewer",))
    first = plan.recommendations[0]
    changed = replace(first, options=(*first.options[:1], ask), chosen=ask)
    return replace(plan, recommendations=(changed, *plan.recommendations[1:]))


def harmless(plan: Plan) -> Plan:
    """The same with nothing in it that needs attention."""
    kept = tuple(
        replace(one, chosen=replace(one.chosen, failures=(SAFE,))) for one in plan.recommendations
    )
    terrain = replace(plan.findings.terrain, suspects=())
    return replace(
        plan,
        findings=replace(plan.findings, terrain=terrain),
        recommendations=kept,
        grade=None,
        proof=replace(plan.proof, trouble=()),
    )


def _option(design: Design, failure: Failure) -> Option:
    items = (
        Item("4 in pipe", 3, "lengths of 10 ft", "solid"),
        Item("stone", 0.5, "cu yd", "under the pipe; about 0.7 tons"),
    )
    work = Work(dig_m3=2.0, pipe_m=3.048, price=812.0)
    return Option(design.kind, True, None, design, failures=(failure,), work=work, shopping=items)


def _recommended(name: str, chosen: Option) -> Recommendation:
    water = WaterToMove(name, 25.0, 27.0, FLOW, FLOW, 2.5)
    basement = AtTheWall("not a slab", 5 * FOOT, "house", "basement")
    no = Option("as it is", False, NotLeft(basement, ()))
    return Recommendation(name, water, (no, chosen), chosen)


def _drainage(name: str) -> RoofDrainage:
    part = RoofPart("roof", 0.5, 25.0, 0.0, (), 27.0, "none")
    leader = leader_at_flow(None, FLOW, Rules())
    return RoofDrainage(name, Catchment(name, (part,)), FLOW, FLOW, 2.5, (), None, leader, ())


def _take_off() -> RunTakeOff:
    run = GutterRun("front", "roof", "ogee", "5 in", 26 * FOOT + 4 * FOOT / 12, "right", None, HERE)
    assert run.eave is not None
    return RunTakeOff(run, "5 in ogee", take_off(run.eave, "right"), False, 0.0)
