"""What a seepage pit keeps away from, and how far; metres.

In: a site, its terrain, and the pits that stand already. Out: setbacks as shapes on the plan with
the distance each asks for, and the ground that is too steep for a pit.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from runoff.rules import Rules
from runoff.site.model import Building, KeepOut, Site
from runoff.terrain.model import Terrain

# Nearer than this is touching, metres.
_TOUCH = 1e-6
# The slope of the ground is taken over twice this, about the size of a pit: a curb is no bank.
_SLOPE_REACH = 1.5
_KEEP_OUT_RULES = {
    "well": "pit_well_distance",
    "septic field": "pit_septic_distance",
    "road": "pit_road_distance",
    "water service": "pit_water_service_distance",
    "retaining wall": "pit_bank_distance",
}
# On metric sites the distances of British guidance are kept in place of US ones.
_METRIC = frozenset(
    ("pit_foundation_distance", "pit_lot_line_distance", "pit_bank_distance", "pit_pit_distance")
)


@dataclass(frozen=True)
class Setback:
    """Something that a pit's whole plan keeps `distance` metres away from; 0: it is not under it.

    `name` is in the user's words.
    """

    name: str
    shape: BaseGeometry
    distance: float

    @property
    def least(self) -> float:
        """The least distance that keeps it, metres."""
        return max(self.distance, _TOUCH) if self.distance == 0 else self.distance - _TOUCH


def setbacks_of(site: Site, pits: Iterable[BaseGeometry] = ()) -> tuple[Setback, ...]:
    """All that a seepage pit keeps away from on a lot.

    Parameters
    ----------
    site : Site
    pits : shapes of seepage pits that are placed already

    Examples
    --------
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> found = setbacks_of(read_site(sample_folder() / "site.toml"))
    >>> [(each.name, round(each.distance, 3)) for each in found][:3]
    [("the house's foundation", 5.0), ("the garage's foundation", 3.048), \
('the front lot line', 3.048)]
    """
    found = [
        Setback(f"the {each.name}'s foundation", each.outline, foundation_distance(site, each))
        for each in site.buildings
    ]
    if site.lot is not None:
        found += [
            Setback(
                f"the {side.name} lot line",
                LineString(side.line),
                pit_distance(site, "pit_lot_line_distance"),
            )
            for side in site.lot.sides
        ]
    found += [_of_keep_out(each, site) for each in site.keep_outs]
    found += [Setback(f"the {each.name}", each.outline, 0.0) for each in site.paving]
    found += [Setback(f"the {each.name}", each.area, 0.0) for each in site.easements]
    found += [Setback(f"the {each.name}", each.place, 0.0) for each in site.outlets]
    found += [Setback(f"the {each.name}", LineString(each.line), 0.0) for each in site.barriers]
    found += [*_of_drains(site), *_of_steps(site)]
    found += [
        Setback("another seepage pit", each, pit_distance(site, "pit_pit_distance"))
        for each in pits
    ]
    return tuple(found)


def foundation_distance(site: Site, building: Building) -> float:
    """How far a pit stays from a building: farther from a basement, and on metric sites."""
    if building.kind == "basement":
        return site.rules["pit_basement_distance"]
    return pit_distance(site, "pit_foundation_distance")


def pit_distance(site: Site, rule: str) -> float:
    """The distance of a pit by a rule, or by that rule's own figure for metric sites, metres."""
    return site.rules[f"{rule}_metric" if site.units == "m" and rule in _METRIC else rule]


def _of_keep_out(keep_out: KeepOut, site: Site) -> Setback:
    """No pit is dug by hand or put through a sleeve: what is allowed there does not count."""
    rule = _KEEP_OUT_RULES.get(keep_out.kind)
    return Setback(f"the {keep_out.name}", keep_out.area, pit_distance(site, rule) if rule else 0.0)


def _of_drains(site: Site) -> Iterator[Setback]:
    for drain in site.drains:
        ends = [drain.inlet, drain.inlet if drain.outlet is None else drain.outlet]
        yield Setback(f"the {drain.name}", LineString(ends), 0.0)


def _of_steps(site: Site) -> Iterator[Setback]:
    """Surveyed steps of the ground: from a certain height on they are retaining walls."""
    for line in site.break_lines:
        if line.foot is None:
            continue
        retains = np.abs(line.top - line.foot).max() >= site.rules["pit_retained_height"]
        distance = pit_distance(site, "pit_bank_distance") if retains else 0.0
        yield Setback(f"the {line.name}", LineString(line.line), distance)


def steep_ground(terrain: Terrain, rules: Rules) -> NDArray[np.bool_]:
    """Where the ground is steeper than a pit bears, (rows, cols); slopes over about a pit's size.

    Next to missing ground the slope is taken to the one side that is known.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> from runoff.terrain.model import Grid
    >>> bank = np.where(np.arange(12) < 6, 1.2, 0.0) * np.ones((3, 1))
    >>> terrain = SimpleNamespace(ground=bank, grid=Grid(3, 12, 1.0, 0.0, 0.0))
    >>> steep_ground(terrain, Rules())[1].astype(int).tolist()
    [0, 0, 0, 0, 1, 1, 1, 1, 0, 0, 0, 0]
    """
    ground, size = terrain.ground, terrain.grid.cell_size
    reach = max(round(_SLOPE_REACH / size), 1)
    along = [_slope(ground, reach, axis) / (reach * size) for axis in (0, 1)]
    return np.hypot(*along) > rules["pit_greatest_slope"]


def _slope(ground: NDArray[np.float64], reach: int, axis: int) -> NDArray[np.float64]:
    """Mean of the rise before and after each cell over `reach` cells, or the one that is known."""
    padding = [(reach, reach) if each == axis else (0, 0) for each in (0, 1)]
    rise = np.moveaxis(np.pad(ground, padding, constant_values=np.nan), axis, 0)
    rise = rise[reach:] - rise[:-reach]
    sides = np.stack([rise[:-reach], rise[reach:]])
    known = np.isfinite(sides)
    total = np.where(known, sides, 0.0).sum(axis=0)
    return np.moveaxis(total / np.maximum(known.sum(axis=0), 1), 0, axis)
