"""Whether a downspout may stay as it is, its water let go on a splash block at the wall.

In: the lot's ground, a downspout and its water. Out: where the water goes, or why it may not
stay. The method is in docs/extensions.md.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import ClassVar, Literal

import numpy as np
from shapely import Point

from runoff.discharge.failure import Failing, in_a_greater_storm
from runoff.discharge.ground import (
    LotGround,
    distance_to_foundation,
    harms_of,
    nearest_building,
    run_beside,
)
from runoff.discharge.model import Failure, Part, Task, WaterToMove, Way
from runoff.discharge.reasons import AtTheWall, ComesTo, NeverAway, NotLeft, NotPossible
from runoff.flow.downspouts import ICY
from runoff.flow.model import DownspoutAnswer
from runoff.flow.paths import line_of
from runoff.site.model import Downspout, Paving, Site


@dataclass(frozen=True)
class PavingBeside:
    """Paving that water is let go beside, and how far from it (m)."""

    paving: Paving
    away_m: float


@dataclass(frozen=True)
class AsItIs:
    """The water left where it comes out, on a splash block: where it goes, what it is beside."""

    goes: DownspoutAnswer
    ice_beside: tuple[PavingBeside, ...] = ()
    kind: ClassVar[Literal["as it is"]] = "as it is"


def ice_beside(site: Site, answer: DownspoutAnswer) -> tuple[PavingBeside, ...]:
    """What water is let go beside, within the rule `extension_walk_distance`, and never crosses."""
    here = Point(answer.start)
    near = [
        PavingBeside(paving, paving.outline.distance(here))
        for paving in site.paving
        if paving.kind in ICY and paving not in answer.crosses
    ]
    return tuple(each for each in near if each.away_m < site.rules["extension_walk_distance"])


_TAKEN = ("outlet", "drain")
_TAKEN_BEYOND = ("street", "alley")


def leave_as_it_is(ground: LotGround, downspout: Downspout, water: WaterToMove) -> DownspoutAnswer:
    """Where the water goes if the downspout stays, with a splash block at its foot.

    Beside a basement or a crawl space roof water soaks to the footing however well the ground
    falls, so it is let go at least 5 ft out (common practice); on expansive soil the code asks for
    that (International Residential Code R801.3, recalled).

    Parameters
    ----------
    ground : LotGround
    downspout : Downspout
    water : WaterToMove
        Not asked for: the answer is of the site's ponding storm.

    Returns
    -------
    DownspoutAnswer

    Raises
    ------
    NotPossible
        Where the building is no slab or its kind is not given, the soil is expansive, the wall
        beside it does not drain away, or the water comes to a foundation, onto a neighbor, over
        a public sidewalk or to ground where it may not be let go. Of the wall and of the water, all
        is told that holds.

    Examples
    --------
    >>> from runoff.discharge.ground import lot_ground
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> from runoff.terrain.build import build_terrain
    >>> site = read_site(sample_folder() / "site.toml")
    >>> ground = lot_ground(site, build_terrain(site))
    >>> water = WaterToMove("front left", 41.8, 41.8, 0.0024, 0.0024, 2.5)
    >>> try:
    ...     leave_as_it_is(ground, site.downspouts[0], water)
    ... except NotPossible as reason:
    ...     print(reason.why.wall.code, reason.why.wall.kind)
    not a slab basement
    """
    x, y = downspout.x, downspout.y
    wall = None
    if distance_to_foundation(ground, x, y) < ground.site.rules["near_foundation"]:
        wall = _at_a_wall(ground, downspout)
    answer = ground.answer_at(downspout, x, y)
    harms = harms_of(ground, answer)
    if wall is not None or harms:
        raise NotPossible(NotLeft(wall, harms))
    _onward(ground, answer)
    return answer


def _at_a_wall(ground: LotGround, downspout: Downspout) -> AtTheWall | None:
    """Why water may not be let go at the wall beside a downspout; None where it may."""
    site, x, y = ground.site, downspout.x, downspout.y
    near = site.rules["near_foundation"]
    named = (b for b in site.buildings if b.name == downspout.building)
    building = next(named, nearest_building(ground, x, y))
    assert building is not None
    if building.kind != "slab":
        return AtTheWall("not a slab", near, building.name, building.kind or "")
    if site.soil.expansive:
        return AtTheWall("expansive soil", near)
    run = run_beside(ground, x, y)
    if run is None:
        return AtTheWall("wall not surveyed", near)
    if run.verdict != "drains away":
        return AtTheWall("wall fails", near, run.building, "", run.wall_name, run.verdict)
    return None


def _onward(ground: LotGround, answer: DownspoutAnswer) -> None:
    """Refuse water that comes out of the strip beside the walls where it may not be let go."""
    near, cell = ground.site.rules["near_foundation"], ground.flow.grid.cell_size
    line = line_of(answer.path)
    for station in np.arange(0.0, min(answer.length_m, line.length) + cell / 2, cell / 2):
        at = line.interpolate(station)
        # A cell whose center is still nearer is of the strip.
        if distance_to_foundation(ground, at.x, at.y) >= near + cell:
            reason = ground.reason_against(at.x, at.y)
            if reason == "safe":
                return
            if not _is_taken(answer) or station < answer.length_m - cell:
                raise NotPossible(ComesTo(near, reason))
    if not _is_taken(answer):
        raise NotPossible(NeverAway(near))


def _is_taken(answer: DownspoutAnswer) -> bool:
    """Whether the water ends where it may go: an outlet, a drain, a street or an alley."""
    return answer.end.kind in _TAKEN or answer.end.neighbor in _TAKEN_BEYOND


def _design(task: Task) -> AsItIs:
    answer = leave_as_it_is(task.ground, task.downspout, task.water)
    return AsItIs(answer, ice_beside(task.ground.site, answer))


def _parts(_: Site, __: AsItIs) -> Iterator[Part]:
    yield Part("splash block", "splash_block", 1, "at the foot of the downspout")


def _overrun(failing: Failing, _: AsItIs) -> Failure:
    greater = replace(failing, ground=in_a_greater_storm(failing.ground))
    return greater.relieved_by_grade(greater.spilled("greater storm", greater.foot, "foot"))


AS_IT_IS = Way[AsItIs](
    kind=AsItIs.kind,
    design=_design,
    parts=_parts,
    fails=lambda failing, left: (_overrun(failing, left),),
    lets_go=lambda downspout, _: (downspout.x, downspout.y),
    digs=False,
)
