"""The proof of a plan: the storm run again with all of it built, beside the storm as it is.

In: the ground as it is and as it will be, and the recommendations. Out: what stands at the walls
before and after, and whether each downspout's water then keeps away.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from runoff.discharge.ground import LotGround, harms_of
from runoff.discharge.reasons import Harm, NotPossible, WhyNot
from runoff.discharge.ways import Option, Recommendation, way_of
from runoff.flow.storm import LetGo, ground_near, roof_water
from runoff.foundation.grade import judge_walls
from runoff.foundation.model import WallRun
from runoff.foundation.soil_storm import WaterAlong, water_along, wetted
from runoff.site.model import Downspout


@dataclass(frozen=True)
class Trouble:
    """Why one downspout's water still does not keep away, with all of it built.

    `harms` is what its water does; none where its swale fails, `why` then says how, or where no
    way takes it.
    """

    downspout: str
    code: Literal["swale fails", "no way takes it", "water does harm"]
    harms: tuple[Harm, ...] = ()
    why: WhyNot | None = None


@dataclass(frozen=True)
class WetterWall:
    """A wall at which water stands `now_m` deep with all of it built, `before_m` as it is.

    `code` says what leaves it there.
    """

    building: str
    wall: str
    code: Literal["soil", "what is built"]
    now_m: float
    before_m: float


@dataclass(frozen=True)
class Proof:
    """What the storm leaves at the walls before and after; lengths in metres, volumes in m3.

    `wet_wall_before_m` and `wet_wall_after_m` are lengths of wall that hold water, and
    `standing_before_m3`, `standing_after_m3` the water standing within 10 ft of a foundation.
    `trouble` is of each downspout whose water still does not keep away, `wetter` of each wall that
    is wetter than before.
    """

    wet_wall_before_m: float
    wet_wall_after_m: float
    standing_before_m3: float
    standing_after_m3: float
    trouble: tuple[Trouble, ...]
    wetter: tuple[WetterWall, ...] = ()


def prove(before: LotGround, graded: LotGround, recommendations: Sequence[Recommendation]) -> Proof:
    """Build everything that is recommended and let the storm run on it.

    Parameters
    ----------
    before : LotGround
        As it is.
    graded : LotGround
        With the grade put right where it can be.
    recommendations : one a downspout
    """
    after = graded
    trouble = []
    spouts = {spout.name: spout for spout in before.site.downspouts}
    for each in recommendations:
        design = each.chosen.design
        if design is not None:
            try:
                after = way_of(design).in_ground(after, design)
            except NotPossible as reason:
                trouble.append(Trouble(each.downspout, "swale fails", why=reason.why))
    moved = {
        each.downspout: _let_go(after, spouts[each.downspout], each.chosen)
        for each in recommendations
        if each.chosen.kind != "refer"
    }
    depth = after.run_with(moved).ponding.depth()
    for each in recommendations:
        if each.chosen.kind == "refer":
            trouble.append(Trouble(each.downspout, "no way takes it"))
        elif harms := _still(after, spouts[each.downspout], each.chosen):
            trouble.append(Trouble(each.downspout, "water does harm", harms))
    return Proof(
        wet_wall_before_m=_wet(before.walls),
        wet_wall_after_m=_wet(judge_walls(after.site, after.terrain, depth)),
        standing_before_m3=_near_walls(before, before.depth),
        standing_after_m3=_near_walls(after, depth),
        trouble=tuple(trouble),
        wetter=_wetter(before, graded, water_along(after.terrain, before.walls, depth)),
    )


def where_let_go(downspout: Downspout, option: Option) -> tuple[float, float] | None:
    """Where an option lets the water go in the design storm; None where the ground takes it."""
    if option.design is None:
        return downspout.x, downspout.y
    return way_of(option.design).lets_go(downspout, option.design)


def _let_go(ground: LotGround, downspout: Downspout, option: Option) -> LetGo | None:
    place = where_let_go(downspout, option)
    cell = None if place is None else ground_near(*place, ground.terrain)
    if cell is None:
        return None
    return LetGo(cell, roof_water(ground.site, downspout, 1.0), place=place)


def _still(ground: LotGround, downspout: Downspout, option: Option) -> tuple[Harm, ...]:
    """What its water still does that it must not."""
    place = where_let_go(downspout, option)
    if place is None or ground_near(*place, ground.terrain) is None:
        return ()
    return harms_of(ground, ground.answer_at(downspout, *place))


def _wet(walls: Sequence[WallRun]) -> float:
    return sum(run.end_m - run.start_m for run in walls if run.verdict == "holds water")


def _wetter(before: LotGround, graded: LotGround, after: WaterAlong) -> tuple[WetterWall, ...]:
    """Each wall that is wetter than before, and what leaves the water there."""
    was = water_along(before.terrain, before.walls, before.depth)
    soil = water_along(graded.terrain, before.walls, graded.depth)
    by_soil = {(each[0].building, each[0].wall) for each in wetted(was, soil)}
    names = {(run.building, run.wall): run.wall_name for run in before.walls}
    told = []
    for stations in wetted(was, after):
        wall = stations[0].building, stations[0].wall
        now, then = (max(depth for _, depth in water[wall]) for water in (after, was))
        by: Literal["soil", "what is built"] = "soil" if wall in by_soil else "what is built"
        told.append(WetterWall(wall[0], names[wall], by, now, then))
    return tuple(told)


def _near_walls(ground: LotGround, depth: np.ndarray) -> float:
    """Water standing within reach of a foundation, m3."""
    from shapely import contains_xy, prepare
    from shapely.ops import unary_union

    reach = ground.site.rules["foundation_reach"]
    zone = unary_union([b.outline for b in ground.site.buildings]).buffer(reach)
    prepare(zone)
    rows, cols = np.nonzero(depth > 0)
    x, y = ground.flow.grid.centers()
    near = contains_xy(zone, x[cols], y[rows])
    return float(depth[rows, cols][near].sum()) * ground.flow.grid.cell_area
