"""What each downspout must carry, and whether its gutters, outlet, leader and line can.

In: a site with its roofs, gutters, downspouts and design rains. Out: `RoofDrainage`, one a
downspout, in SI; nothing that is assumed on the way is left unsaid.

In: the parts as the site file has them, flows in m3/s. Out: a record a part, with what is to be
done where it is too small and what was assumed to reckon it.

In: a design flow and capacities in m3/s. Out: the part by name, and what would carry the flow.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from runoff.quantities.numbers import not_negative, positive
from runoff.roof.catchments import Catchment, catchments_of
from runoff.roof.flows import design_flow
from runoff.roof.gutters import (
    DESIGN_SHARE,
    GUTTERS,
    GUTTERS_METRIC,
    Gutter,
    Shape,
    gutter_capacity,
    outlet_capacity,
    outlet_head,
)
from runoff.roof.leaders import (
    choose_leader,
    leader_diameter,
    leader_flow,
    leader_sizes,
    rule_of_thumb_flow,
)
from runoff.rules import Rules
from runoff.site.model import Downspout, GutterRun, GutterShape, Leader, LeaderShape, Site
from runoff.site.problems import InputError, Problem


@dataclass(frozen=True)
class GutterChoice:
    """Which gutter carries a run.

    `gutter` and `downspouts` are the simplest way that does, None and 0 where none does;
    `remedies` are all that do where the one asked about does not, with one downspout. `asked` is
    that one, `largest` the largest that was looked at.
    """

    gutter: Gutter | None
    downspouts: int
    remedies: tuple[tuple[Gutter, int], ...]
    asked: Gutter
    largest: Gutter


@dataclass(frozen=True)
class Assumption:
    """What was taken of a roof's drainage for want of better.

    Parameters
    ----------
    code : str
    roof : str
        Which roof it is of.
    section : Gutter or None
        The gutter whose section is not that of every maker.
    leader, usual : Leader or None
        The leader taken where none is given, and the one in common use where that carries less.
    usual_gutter : GutterChoice or None
        What would carry where no gutter is given.
    """

    code: Literal[
        "ogee section",
        "one outlet",
        "outlet as the leader",
        "outlet as the sole",
        "leader not given",
        "equal area",
        "no pitch",
        "gutter not given",
        "all by each gutter",
    ]
    roof: str = ""
    section: Gutter | None = None
    leader: Leader | None = None
    usual: Leader | None = None
    usual_gutter: GutterChoice | None = None


@dataclass(frozen=True)
class GutterAtFlow:
    """A gutter with the flow that it brings to one downspout; m3/s.

    `choice` says what carries where it does not; `assumptions` what was taken for want of better.
    """

    run: GutterRun
    section: Gutter
    flow_m3_per_s: float
    capacity_m3_per_s: float
    choice: GutterChoice
    assumptions: tuple[Assumption, ...]

    @property
    def carries(self) -> bool:
        """Whether it is large enough."""
        return self.flow_m3_per_s <= self.capacity_m3_per_s


@dataclass(frozen=True)
class OutletAtFlow:
    """The outlet that gutters empty into: diameter and depth of water over it (m), m3/s.

    `larger` is one of the size that carries, where this one does not and one that is sold does.
    """

    diameter_m: float
    head_m: float
    flow_m3_per_s: float
    capacity_m3_per_s: float
    larger: Leader | None
    assumptions: tuple[Assumption, ...]

    @property
    def carries(self) -> bool:
        """Whether it is large enough."""
        return self.flow_m3_per_s <= self.capacity_m3_per_s


@dataclass(frozen=True)
class LeaderAtFlow:
    """The leader, with what the formula and what a rule of thumb let it carry; m3/s.

    `given` is whether its size was written. Nothing is sized by `rule_of_thumb_m3_per_s`. `larger`
    is the size that carries, where this one does not and one that is sold does.
    """

    leader: Leader
    given: bool
    flow_m3_per_s: float
    capacity_m3_per_s: float
    rule_of_thumb_m3_per_s: float
    larger: Leader | None
    assumptions: tuple[Assumption, ...]

    @property
    def carries(self) -> bool:
        """Whether it is large enough."""
        return self.flow_m3_per_s <= self.capacity_m3_per_s


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


def gutter_at_flow(run: GutterRun, flow_m3_per_s: float, rules: Rules) -> GutterAtFlow:
    """A gutter run with the flow that it brings to one downspout.

    Parameters
    ----------
    run : GutterRun
    flow_m3_per_s : float
        What comes to that downspout by this gutter.
    rules : Rules

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
    sizes = sizes_of(section.shape, metric=section in GUTTERS_METRIC)
    choice = choose_gutter(flow_m3_per_s, sizes[sizes.index(section) :], share)
    ogee = section.shape == "ogee"
    assumed = (Assumption("ogee section", section=section),) if ogee else ()
    return GutterAtFlow(run, section, flow_m3_per_s, capacity, choice, assumed)


def outlet_at_flow(
    gutters: Sequence[GutterAtFlow],
    leader: LeaderAtFlow,
    flow_m3_per_s: float,
    rules: Rules,
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

    Returns
    -------
    OutletAtFlow
    """
    share = rules["gutter_design_share"]
    head = min(outlet_head(part.section, share) for part in gutters)
    written = [part.run.outlet for part in gutters if part.run.outlet is not None]
    sole = min(_sole(part.section) for part in gutters)
    said = [] if len(gutters) == 1 else [Assumption("one outlet")]
    shape: LeaderShape = "round"
    if written:
        diameter = min(written)
    else:
        shape = leader.leader.shape
        diameter = leader_diameter(leader.leader)
        if min(leader.leader.width, leader.leader.depth) <= sole:
            said.append(Assumption("outlet as the leader"))
        else:
            diameter = min(diameter, sole)
            said.append(Assumption("outlet as the sole"))
    capacity = outlet_capacity(diameter, head)
    larger = None
    if flow_m3_per_s > capacity:
        larger = next(
            (
                size
                for size in leader_sizes(shape)
                if min(size.width, size.depth) <= sole
                and outlet_capacity(leader_diameter(size), head) >= flow_m3_per_s
            ),
            None,
        )
    return OutletAtFlow(diameter, head, flow_m3_per_s, capacity, larger, tuple(said))


def leader_at_flow(given: Leader | None, flow_m3_per_s: float, rules: Rules) -> LeaderAtFlow:
    """The leader of a downspout at its design flow.

    Parameters
    ----------
    given : Leader or None
        None where its size is not known: the round one of the rule `leader_diameter` is taken.
    flow_m3_per_s : float
    rules : Rules

    Returns
    -------
    LeaderAtFlow

    Examples
    --------
    >>> part = leader_at_flow(None, 0.005, Rules())
    >>> part.carries, round(part.leader.width / 0.0254), round(part.larger.width / 0.0254)
    (False, 3, 4)
    """
    fill = rules["leader_fill"]
    assumed = rules["leader_diameter"]
    leader = Leader("round", assumed, assumed) if given is None else given
    capacity = leader_flow(leader, fill)
    said = []
    if given is None:
        usual = leader_sizes("rectangular")[0]
        carries_less = leader_flow(usual, fill) < capacity
        in_use = usual if carries_less else None
        said.append(Assumption("leader not given", leader=leader, usual=in_use))
    if leader.shape == "rectangular":
        said.append(Assumption("equal area"))
    larger = None
    if flow_m3_per_s > capacity:
        larger = choose_leader(flow_m3_per_s, leader.shape, fill)
    thumb = rule_of_thumb_flow(leader)
    return LeaderAtFlow(
        leader, given is not None, flow_m3_per_s, capacity, thumb, larger, tuple(said)
    )


def _sole(section: Gutter) -> float:
    """The widest outlet that a gutter's sole takes; a half-round takes any up to its width."""
    return section.top_m if section.shape == "half-round" else section.bottom_m


@dataclass(frozen=True)
class Link:
    """One part that roof water passes, such as gutter, outlet, leader or line; m3/s.

    `flow_m3_per_s` is the part's own design flow where it is not the whole downspout's: one of two
    gutters, or a line sized for another rain.
    """

    name: str
    capacity_m3_per_s: float
    flow_m3_per_s: float | None = None


@dataclass(frozen=True)
class WeakestLink:
    """The part whose capacity is used up most, the share that its flow takes, and the verdict."""

    link: Link
    share_used: float
    carries: bool


def weakest_link(flow_m3_per_s: float, links: Sequence[Link]) -> WeakestLink:
    """Name the part that limits a downspout; of equal ones the first that water comes to.

    Where the same flow passes all parts, that is the one with the least capacity.

    Parameters
    ----------
    flow_m3_per_s : float
        Design flow of every part that has none of its own.
    links : sequence of Link
        In the order that water passes them.

    Returns
    -------
    WeakestLink

    Raises
    ------
    ValueError
        Where no part is given, or a capacity is not above 0.

    Examples
    --------
    >>> weakest = weakest_link(0.002, [Link("gutter", 0.003), Link("leader", 0.0016)])
    >>> weakest.link.name, round(weakest.share_used, 2), weakest.carries
    ('leader', 1.25, False)
    """
    flow = not_negative(flow_m3_per_s, "flow_m3_per_s")
    if not links:
        raise ValueError("links is empty; expected at least one part")
    for link in links:
        positive(link.capacity_m3_per_s, f"capacity of {link.name}")

    def used(link: Link) -> float:
        own = flow if link.flow_m3_per_s is None else link.flow_m3_per_s
        return not_negative(own, f"flow of {link.name}") / link.capacity_m3_per_s

    weakest = max(links, key=lambda link: (used(link), -link.capacity_m3_per_s))
    return WeakestLink(weakest, used(weakest), used(weakest) <= 1)


def choose_gutter(
    flow_m3_per_s: float, sizes: Sequence[Gutter], design_share: float = DESIGN_SHARE
) -> GutterChoice:
    """Say whether a gutter carries a run, and if not, whether a larger or one more downspout does.

    One more downspout halves what comes to either: it stands at the run's other end, and the
    gutter falls both ways from the middle.

    Parameters
    ----------
    flow_m3_per_s : float
        Design flow of the whole run.
    sizes : sequence of Gutter
        The one asked about, then larger ones, as of `sizes_of`.
    design_share : float
        Share of the nominal capacity counted on; the rule `gutter_design_share`.

    Returns
    -------
    GutterChoice

    Raises
    ------
    ValueError
        Where the flow is negative, the share is none, or there is no gutter.

    Examples
    --------
    >>> choice = choose_gutter(0.002, sizes_of("half-round"))
    >>> choice.asked.name, [(gutter.name, spouts) for gutter, spouts in choice.remedies]
    ('5 in half-round', [('6 in half-round', 1), ('5 in half-round', 2)])
    """
    flow = not_negative(flow_m3_per_s, "flow_m3_per_s")
    if not sizes:
        raise ValueError("sizes is empty; expected at least one gutter")

    def first_for(share_of_flow: float) -> list[Gutter]:
        return [each for each in sizes if share_of_flow <= gutter_capacity(each, design_share)][:1]

    least = sizes[0]
    alone, halved = first_for(flow), first_for(flow / 2)
    if alone == [least]:
        return GutterChoice(least, 1, (), least, sizes[-1])
    ways = [(gutter, 1) for gutter in alone]
    if halved == [least] or not ways:
        ways += [(gutter, 2) for gutter in halved]
    if not ways:
        return GutterChoice(None, 0, (), least, sizes[-1])
    return GutterChoice(*ways[0], tuple(ways), least, sizes[-1])


def sizes_of(shape: Shape, metric: bool = False) -> tuple[Gutter, ...]:
    """The gutters of a shape, the smallest first, as sold by the inch or by the millimeter.

    Raises
    ------
    ValueError
        Where there is no such shape.

    Examples
    --------
    >>> [gutter.name for gutter in sizes_of("ogee", metric=True)]
    ['100 mm ogee', '125 mm ogee', '150 mm ogee']
    """
    sold = GUTTERS_METRIC if metric else GUTTERS
    sizes = tuple(gutter for gutter in sold if gutter.shape == shape)
    if not sizes:
        raise ValueError(f'shape is "{shape}"; expected "half-round" or "ogee"')
    return sizes


# Rules that must be above 0 here, and the most that each may be.
_GREATEST = {
    "runoff_coefficient_roof": 1.0,
    "leader_fill": 1.0,
    "leader_diameter": math.inf,
    "gutter_design_share": 1.0,
}
# Asked of a gutter that nobody described; common practice in the US.
_USUAL_SHAPE: GutterShape = "ogee"


@dataclass(frozen=True)
class RoofDrainage:
    """What one downspout must carry, and the parts that the water passes.

    Parameters
    ----------
    downspout : str
    catchment : Catchment
    gutter_flow_m3_per_s : float, m3/s
        At the rain that gutters and leaders are sized for.
    line_flow_m3_per_s : float, m3/s
        At the rain that buried lines are sized for.
    storm_m3 : float, m3
        In the ponding storm: by plan area, since wind only moves where the rain falls.
    gutters : tuple of GutterAtFlow
        Those that lead to the downspout; none where none is written.
    outlet : OutletAtFlow or None
        None where no gutter is written.
    leader : LeaderAtFlow
    assumptions : tuple of Assumption
        What was taken for want of better.
    line_m3_per_s : float or None, m3/s
        Capacity of the buried line, once there is one.
    """

    downspout: str
    catchment: Catchment
    gutter_flow_m3_per_s: float
    line_flow_m3_per_s: float
    storm_m3: float
    gutters: tuple[GutterAtFlow, ...]
    outlet: OutletAtFlow | None
    leader: LeaderAtFlow
    assumptions: tuple[Assumption, ...]
    line_m3_per_s: float | None = None

    @property
    def links(self) -> tuple[Link, ...]:
        """The parts in the order that water passes them, each with its own design flow."""
        links = [
            Link(f"gutter '{part.run.name}'", part.capacity_m3_per_s, part.flow_m3_per_s)
            for part in self.gutters
        ]
        whole = self.gutter_flow_m3_per_s
        if self.outlet is not None:
            links.append(Link("outlet", self.outlet.capacity_m3_per_s, whole))
        links.append(Link("leader", self.leader.capacity_m3_per_s, whole))
        if self.line_m3_per_s is not None:
            links.append(Link("line", self.line_m3_per_s, self.line_flow_m3_per_s))
        return tuple(links)

    @property
    def weakest_link(self) -> WeakestLink:
        """The part whose capacity is used up most."""
        return weakest_link(self.gutter_flow_m3_per_s, self.links)

    @property
    def parts(self) -> tuple[GutterAtFlow | OutletAtFlow | LeaderAtFlow, ...]:
        """Gutters, outlet and leader, as water passes them."""
        outlet = () if self.outlet is None else (self.outlet,)
        return (*self.gutters, *outlet, self.leader)


def roof_drainage(site: Site) -> tuple[RoofDrainage, ...]:
    """What every downspout must carry and whether its parts can, in the site's order.

    Q = C i A with the design area of the downspout's catchment. A gutter brings to each downspout
    that downspout's share of its roof.

    Parameters
    ----------
    site : Site

    Returns
    -------
    tuple of RoofDrainage

    Raises
    ------
    InputError
        Where a rule that capacities rest on has been overridden by 0, or a share by more than 1.

    Examples
    --------
    >>> from runoff import read_site
    >>> from runoff.sample import sample_folder
    >>> site = read_site(sample_folder() / "site.toml")
    >>> drainage = roof_drainage(site)[0]
    >>> drainage.links[-1].name, drainage.gutter_flow_m3_per_s > 0
    ('leader', True)
    """
    _check_rules(site)
    catchments = catchments_of(site)
    return tuple(
        _one(site, spout, catchment)
        for spout, catchment in zip(site.downspouts, catchments, strict=True)
    )


def with_line(drainage: RoofDrainage, capacity_m3_per_s: float) -> RoofDrainage:
    """The same downspout with its buried line as the last link.

    Parameters
    ----------
    drainage : RoofDrainage
    capacity_m3_per_s : float
        What the line carries at its least slope, m3/s.

    Returns
    -------
    RoofDrainage

    Raises
    ------
    ValueError
        Where the capacity is not above 0.

    Examples
    --------
    >>> from runoff import read_site
    >>> from runoff.sample import sample_folder
    >>> drainage = roof_drainage(read_site(sample_folder() / "site.toml"))[0]
    >>> with_line(drainage, 0.0001).weakest_link.link.name
    'line'
    """
    return replace(drainage, line_m3_per_s=positive(capacity_m3_per_s, "capacity_m3_per_s"))


def _check_rules(site: Site) -> None:
    """Complain of rules that have been overridden to what no capacity can be reckoned with."""
    problems = []
    for name, greatest in _GREATEST.items():
        if not 0 < site.rules[name] <= greatest:
            limit = "above 0" if math.isinf(greatest) else f"above 0 and at most {greatest:g}"
            example = site.rules.rule(name).written
            problems.append(
                Problem(
                    str(site.path),
                    None,
                    f"[rules] {name}",
                    f"{site.rules[name]:g}",
                    f'a value {limit}, such as "{example}"',
                )
            )
    if problems:
        raise InputError(problems)


def _one(site: Site, spout: Downspout, catchment: Catchment) -> RoofDrainage:
    coefficient = site.rules["runoff_coefficient_roof"]
    rain = site.rains.gutter.intensity
    whole = design_flow(catchment.design_area_m2, rain, coefficient)
    gutters: list[GutterAtFlow] = []
    said: list[Assumption] = []
    for part in catchment.parts:
        flow = design_flow(part.design_area_m2, rain, coefficient)
        found, more = _gutters_of(site, part.roof, flow)
        gutters += found
        said += more
    leader = leader_at_flow(spout.leader, whole, site.rules)
    outlet = outlet_at_flow(gutters, leader, whole, site.rules) if gutters else None
    parts = (*gutters, outlet, leader)
    said += [each for part in parts if part is not None for each in part.assumptions]
    return RoofDrainage(
        downspout=spout.name,
        catchment=catchment,
        gutter_flow_m3_per_s=whole,
        line_flow_m3_per_s=design_flow(
            catchment.design_area_m2, site.rains.line.intensity, coefficient
        ),
        storm_m3=catchment.plan_area_m2 * site.storm.depth * coefficient,
        gutters=tuple(gutters),
        outlet=outlet,
        leader=leader,
        assumptions=tuple(dict.fromkeys(said)),
    )


def _gutters_of(site: Site, name: str, flow: float) -> tuple[list[GutterAtFlow], list[Assumption]]:
    """The gutters of a roof with what each brings to a downspout, and what that assumes."""
    roof = next(roof for roof in site.roofs if roof.name == name)
    said = []
    if roof.pitch is None and roof.wall_above == 0 and site.rains.allowance != "none":
        said.append(Assumption("no pitch", name))
    runs = [run for run in site.gutters if run.roof == name]
    if not runs:
        # The two largest that are sold are the usual ones: 5 and 6 in, 125 and 150 mm.
        sizes = sizes_of(_USUAL_SHAPE, metric=site.units == "m")[-2:]
        usual = choose_gutter(flow, sizes, site.rules["gutter_design_share"])
        said.append(Assumption("gutter not given", name, usual_gutter=usual))
    spouts = sum(1 for spout in site.downspouts if name in dict(spout.roofs))
    parts = _parts_of_runs(runs, spouts)
    if len(runs) > 1 and 1.0 in parts:
        said.append(Assumption("all by each gutter", name))
    found = [
        gutter_at_flow(run, flow * part, site.rules) for run, part in zip(runs, parts, strict=True)
    ]
    return found, said


def _parts_of_runs(runs: Sequence[GutterRun], spouts: int) -> list[float]:
    """The part of a roof's water for one downspout that comes by each of its gutters.

    By the lengths of their eaves where these are known and all lead to one downspout; else the
    worst, all of it by each.
    """
    eaves = [run.eave for run in runs if run.eave is not None]
    if spouts > 1 or len(eaves) < len(runs):
        return [1.0] * len(runs)
    return [eave / math.fsum(eaves) for eave in eaves]
