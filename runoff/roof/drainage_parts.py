"""The parts that roof water passes, each at its design flow: gutter, outlet, leader.

In: the parts as the site file has them, flows in m3/s. Out: a record a part, with what is to be
done where it is too small and what was assumed to reckon it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from runoff.quantities import format_length
from runoff.roof.gutters import (
    GUTTERS,
    GUTTERS_METRIC,
    Gutter,
    gutter_capacity,
    outlet_capacity,
    outlet_head,
)
from runoff.roof.leader_choice import (
    choose_leader,
    leader_diameter,
    leader_flow,
    leader_name,
    leader_sizes,
    rule_of_thumb_flow,
)
from runoff.roof.links import choose_gutter, sizes_of
from runoff.rules import Rules
from runoff.site.model import GutterRun, Leader, LeaderShape


@dataclass(frozen=True)
class GutterAtFlow:
    """A gutter with the flow that it brings to one downspout; m3/s.

    `remedy` says what to do where it is too small, empty where it carries; `assumptions` what was
    taken for want of better.
    """

    run: GutterRun
    section: Gutter
    flow_m3_per_s: float
    capacity_m3_per_s: float
    remedy: str
    assumptions: tuple[str, ...]


@dataclass(frozen=True)
class OutletAtFlow:
    """The outlet that gutters empty into: diameter and depth of water over it (m), m3/s."""

    diameter_m: float
    head_m: float
    flow_m3_per_s: float
    capacity_m3_per_s: float
    remedy: str
    assumptions: tuple[str, ...]


@dataclass(frozen=True)
class LeaderAtFlow:
    """The leader, with what the formula and what a rule of thumb let it carry; m3/s.

    `given` is whether its size was written. Nothing is sized by `rule_of_thumb_m3_per_s`.
    """

    leader: Leader
    name: str
    given: bool
    flow_m3_per_s: float
    capacity_m3_per_s: float
    rule_of_thumb_m3_per_s: float
    remedy: str
    assumptions: tuple[str, ...]


def section_of(run: GutterRun) -> Gutter:
    """The section of a gutter run, as `GUTTERS` and `GUTTERS_METRIC` have it.

    Examples
    --------
    >>> from runoff.site.model import Written
    >>> where = Written("site.toml", 1, "gutter 'front'")
    >>> section_of(GutterRun("front", "main", "ogee", "6 in", None, None, None, where)).name
    '6 in ogee'
    """
    name = f"{run.size} {run.shape}"
    found = next((gutter for gutter in (*GUTTERS, *GUTTERS_METRIC) if gutter.name == name), None)
    if found is None:
        raise ValueError(f'gutter is "{name}"; expected one that is sold, such as "5 in ogee"')
    return found


def gutter_at_flow(
    run: GutterRun, flow_m3_per_s: float, rules: Rules, system: str = "us"
) -> GutterAtFlow:
    """A gutter run with the flow that it brings to one downspout.

    Parameters
    ----------
    run : GutterRun
    flow_m3_per_s : float
        What comes to that downspout by this gutter.
    rules : Rules
    system : {"us", "metric"}
        Units of the texts.

    Returns
    -------
    GutterAtFlow

    Raises
    ------
    ValueError
        Where the flow is negative or nobody makes such a gutter.
    """
    section = section_of(run)
    share = rules["gutter_design_share"]
    capacity = gutter_capacity(section, share)
    remedy = ""
    if flow_m3_per_s > capacity:
        remedy = f"Gutter '{run.name}': {_more_than(section, flow_m3_per_s, share)}"
    assumptions: tuple[str, ...] = ()
    if section.shape == "ogee":
        top, sole, depth = (
            format_length(size, system)
            for size in (section.top_m, section.bottom_m, section.depth_m)
        )
        assumptions = (
            f"A {section.name} gutter is taken as {top} wide at the brim, {sole} at the sole and "
            f"{depth} deep.",
        )
    return GutterAtFlow(run, section, flow_m3_per_s, capacity, remedy, assumptions)


def outlet_at_flow(
    gutters: Sequence[GutterAtFlow],
    leader: LeaderAtFlow,
    flow_m3_per_s: float,
    rules: Rules,
    system: str = "us",
) -> OutletAtFlow:
    """The outlet at the head of a leader, all of the downspout's water passing it.

    Two gutters are taken to meet in one outlet, under the lower water of the two; where outlets
    of two sizes are written, the smaller counts.

    Parameters
    ----------
    gutters : sequence of GutterAtFlow
        Those that lead to it, one at least.
    leader : LeaderAtFlow
        Gives the outlet its size where none is written.
    flow_m3_per_s : float
    rules : Rules
    system : {"us", "metric"}
        How sizes are written.

    Returns
    -------
    OutletAtFlow
    """
    share = rules["gutter_design_share"]
    head = min(outlet_head(part.section, share) for part in gutters)
    written = [part.run.outlet for part in gutters if part.run.outlet is not None]
    sole = min(_sole(part.section) for part in gutters)
    said = [] if len(gutters) == 1 else ["The gutters are taken to meet in one outlet."]
    shape: LeaderShape = "round"
    if written:
        diameter = min(written)
    else:
        shape = leader.leader.shape
        diameter = leader_diameter(leader.leader)
        if min(leader.leader.width, leader.leader.depth) <= sole:
            said.append("The outlet is taken to be of the leader's size.")
        else:
            diameter = min(diameter, sole)
            said.append("The outlet is taken to be as wide as the gutter's sole.")
    capacity = outlet_capacity(diameter, head)
    remedy = ""
    if flow_m3_per_s > capacity:
        larger = _first(
            shape,
            lambda size: (
                min(size.width, size.depth) <= sole
                and outlet_capacity(leader_diameter(size), head) >= flow_m3_per_s
            ),
        )
        better = (
            f"one of {leader_name(larger, system)}"
            if larger
            else "a second one or one more downspout"
        )
        remedy = f"The outlet is not enough; {better} is."
    return OutletAtFlow(diameter, head, flow_m3_per_s, capacity, remedy, tuple(said))


def leader_at_flow(
    given: Leader | None, flow_m3_per_s: float, rules: Rules, system: str = "us"
) -> LeaderAtFlow:
    """The leader of a downspout at its design flow.

    Parameters
    ----------
    given : Leader or None
        None where its size is not known: the round one of the rule `leader_diameter` is taken.
    flow_m3_per_s : float
    rules : Rules
    system : {"us", "metric"}
        How sizes are written.

    Returns
    -------
    LeaderAtFlow

    Examples
    --------
    >>> part = leader_at_flow(None, 0.005, Rules())
    >>> part.name, part.remedy
    ('3 in round', 'A 3 in round leader is not enough; 4 in round is.')
    """
    fill = rules["leader_fill"]
    assumed = rules["leader_diameter"]
    leader = Leader("round", assumed, assumed) if given is None else given
    name = leader_name(leader, system)
    capacity = leader_flow(leader, fill)
    said = []
    if given is None:
        said.append(_assumed(name, capacity, fill, system))
    if leader.shape == "rectangular":
        said.append("The rectangular leader is reckoned as the round one of equal area.")
    remedy = ""
    if flow_m3_per_s > capacity:
        larger = choose_leader(flow_m3_per_s, leader.shape, fill)
        better = leader_name(larger, system) if larger else "one more downspout"
        remedy = f"A {name} leader is not enough; {better} is."
    thumb = rule_of_thumb_flow(leader)
    return LeaderAtFlow(
        leader, name, given is not None, flow_m3_per_s, capacity, thumb, remedy, tuple(said)
    )


def _assumed(name: str, capacity: float, fill: float, system: str) -> str:
    """Say which leader is assumed, and that one in common use carries less where it does."""
    said = f"The leader's size is not given: {name} is assumed"
    usual = leader_sizes("rectangular")[0]
    if leader_flow(usual, fill) < capacity:
        said += f"; one of {leader_name(usual, system)}, as is common, carries less"
    return f"{said}."


def _more_than(section: Gutter, flow: float, share: float) -> str:
    """What carries a flow that is too much for a section, in words."""
    sizes = sizes_of(section.shape, metric=section in GUTTERS_METRIC)
    return choose_gutter(flow, sizes[sizes.index(section) :], share).words


def _sole(section: Gutter) -> float:
    """The widest outlet that a gutter's sole takes; a half-round takes any up to its width."""
    return section.top_m if section.shape == "half-round" else section.bottom_m


def _first(shape: LeaderShape, fits: Callable[[Leader], bool]) -> Leader | None:
    return next((size for size in leader_sizes(shape) if fits(size)), None)
