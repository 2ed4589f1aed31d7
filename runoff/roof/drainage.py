"""What each downspout must carry, and whether its gutters, outlet, leader and line can.

In: a site with its roofs, gutters, downspouts and design rains. Out: `RoofDrainage`, one a
downspout, in SI; nothing that is assumed on the way is left unsaid.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from runoff.quantities import system_of
from runoff.roof.amounts import positive
from runoff.roof.drainage_parts import (
    GutterAtFlow,
    LeaderAtFlow,
    OutletAtFlow,
    gutter_at_flow,
    leader_at_flow,
    outlet_at_flow,
)
from runoff.roof.flows import design_flow
from runoff.roof.links import Link, WeakestLink, choose_gutter, sizes_of, weakest_link
from runoff.roof.site_catchments import Catchment, catchments_of
from runoff.site.model import Downspout, GutterRun, GutterShape, Site
from runoff.site.problems import InputError, Problem

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
    assumptions : tuple of str
        What was taken for want of better, a sentence each.
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
    assumptions: tuple[str, ...]
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
    def remedies(self) -> tuple[str, ...]:
        """What to do about each part that is too small, a sentence each; empty where none is."""
        parts = (*self.gutters, self.outlet, self.leader)
        return tuple(part.remedy for part in parts if part is not None and part.remedy)


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
    return replace(drainage, line_m3_per_s=positive("capacity_m3_per_s", capacity_m3_per_s))


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
    said: list[str] = []
    for part in catchment.parts:
        flow = design_flow(part.design_area_m2, rain, coefficient)
        found, more = _gutters_of(site, part.roof, flow)
        gutters += found
        said += more
    system = system_of(site.units)
    leader = leader_at_flow(spout.leader, whole, site.rules, system)
    outlet = outlet_at_flow(gutters, leader, whole, site.rules, system) if gutters else None
    parts = (*gutters, outlet, leader)
    said += [words for part in parts if part is not None for words in part.assumptions]
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


def _gutters_of(site: Site, name: str, flow: float) -> tuple[list[GutterAtFlow], list[str]]:
    """The gutters of a roof with what each brings to a downspout, and what that assumes."""
    roof = next(roof for roof in site.roofs if roof.name == name)
    said = []
    if roof.pitch is None and roof.wall_above == 0 and site.rains.allowance != "none":
        said.append(f"The pitch of roof '{name}' is not known: nothing is added for wind.")
    runs = [run for run in site.gutters if run.roof == name]
    if not runs:
        # The two largest that are sold are the usual ones: 5 and 6 in, 125 and 150 mm.
        sizes = sizes_of(_USUAL_SHAPE, metric=site.units == "m")[-2:]
        usual = choose_gutter(flow, sizes, site.rules["gutter_design_share"])
        said.append(
            f"The gutter of roof '{name}' is not given and is not checked; for what it brings "
            f"to this downspout, {usual.words}"
        )
    spouts = sum(1 for spout in site.downspouts if name in dict(spout.roofs))
    parts = _parts_of_runs(runs, spouts)
    if len(runs) > 1 and 1.0 in parts:
        said.append(
            f"Roof '{name}' has several gutters, and how much each brings to this downspout is not "
            "known: each is checked with all of it."
        )
    found = [
        gutter_at_flow(run, flow * part, site.rules, system_of(site.units))
        for run, part in zip(runs, parts, strict=True)
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
