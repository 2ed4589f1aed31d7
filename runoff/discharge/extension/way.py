"""The shortest extension on the surface that takes a downspout's water to where it may be let go.

In: the lot's ground, a downspout and its water. Out: the extension, or why there is
none. The method is in docs/extensions.md.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import ClassVar, Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Point

from runoff.discharge.extension.tried import (
    PLAIN,
    Flags,
    Floats,
    Tried,
    extensions_from,
    hindrances,
    walks_and_drives,
    wall_beside,
)
from runoff.discharge.ground import LotGround, harms_of
from runoff.discharge.line.apron import Apron, end_parts, stone_apron
from runoff.discharge.model import Onward, Part, Protection, Task, WaterToMove, Way
from runoff.discharge.reasons import BestExtension, Hindrance, NoExtension, NotPossible
from runoff.discharge.routes import apron_beyond
from runoff.flow.model import DownspoutAnswer
from runoff.flow.paths import part_up_to
from runoff.foundation.walls import Wall
from runoff.roof.leaders import equal_area_diameter
from runoff.site.model import Downspout, Site
from runoff.terrain.model import Terrain


@dataclass(frozen=True)
class Extension:
    """A pipe or trough on the surface, straight from the downspout's foot.

    `bearing` is degrees clockwise from the plan's up; `fall_m` from the leader's end, `outlet_m`
    over the ground at the foot, to the ground at the end. `path` is where the water runs from the
    end, (k, 2) plan metres, and `ends` where it goes. `apron` is None where a splash pad does;
    `reaches_over` are the sides of the lot that it reaches over.
    `wall` is the wall that it starts at, `out_m` how far out from it the end lies and `aside_m` how
    far from straight out, to the right of one who looks away from the wall. `gap_m` is the most air
    under it and `props` how many blocks hold it there; `soil_m` is the soil ordered at its start,
    on which the heights stand. `fitting_m` is how far along it an overflow fitting is set.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    length_m: float
    bearing: float
    outlet_m: float
    fall_m: float
    path: NDArray[np.float64]
    ends: Onward
    protection: Protection
    apron: Apron | None
    wall: str = ""
    out_m: float = 0.0
    aside_m: float = 0.0
    gap_m: float = 0.0
    props: int = 0
    soil_m: float = 0.0
    reaches_over: tuple[str, ...] = ()
    fitting_m: float | None = None
    kind: ClassVar[Literal["extension"]] = "extension"

    @property
    def is_straight_out(self) -> bool:
        """Whether it is laid square to its wall."""
        return bool(self.wall) and abs(self.aside_m) < 0.02 * self.length_m


_BEFORE_A_WALL = 0.05
"""Metres before a wall that a leader stands which was written a little inside it."""
_SAME_DROP = 1e-4  # metres


def surface_extension(
    ground: LotGround, downspout: Downspout, water: WaterToMove, built: Terrain | None = None
) -> Extension:
    """The shortest straight extension whose end lies where the water may be let go.

    Among extensions of one length the one to the lowest ground is taken. The safe discharge area
    chooses the ends, and each is confirmed by running the storm with the water let go there.

    Parameters
    ----------
    ground : LotGround
    downspout : Downspout
    water : WaterToMove
        Its flow decides between a splash pad and a stone apron.
    built : Terrain, optional
        The ground that it is laid on, where soil is ordered whatever is built at the downspout.

    Returns
    -------
    Extension

    Raises
    ------
    NotPossible
        Where none up to the rule ``extension_length`` works; it says what hinders most of them, and
        what the best of them.

    Examples
    --------
    >>> from runoff.discharge.ground import lot_ground
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> from runoff.terrain.build import build_terrain
    >>> site = read_site(sample_folder() / "site.toml")
    >>> ground = lot_ground(site, build_terrain(site))
    >>> water = WaterToMove("front left", 41.8, 41.8, 0.0024, 0.0024, 2.5)
    >>> found = surface_extension(ground, site.downspouts[0], water)
    >>> ground.reason_against(*found.end), found.protection
    ('safe', 'splash pad')
    """
    tried = extensions_from(ground, _start(ground, downspout), built)
    against = hindrances(ground, tried)
    many = np.sum(list(against.values()), axis=0) if against else np.zeros(len(tried.length), int)
    order = np.lexsort((tried.bearing, -np.round(tried.drop / _SAME_DROP), tried.length))
    for number in order[many[order] == 0]:
        x, y = tried.ends[number]
        reason = _soon_on_a_walk(ground.site, ground.first_stretch(x, y))
        if reason is None:
            answer = ground.answer_at(downspout, x, y)
            reason = _reason_against(ground, answer)
        if reason is None:
            found = _extension(ground.site, downspout, water, tried, int(number), answer)
            return replace(found, soil_m=_soil_at(ground.terrain, built, found.start))
        against.setdefault(reason, np.zeros(len(order), bool))[number] = True
    raise NotPossible(_why_none(ground.site, downspout, tried, against, order))


def _start(ground: LotGround, downspout: Downspout) -> tuple[float, float]:
    """The leader's own place, or a hand's breadth before the wall where that is inside it."""
    x, y = downspout.x, downspout.y
    wall = wall_beside(ground.site, x, y)
    if wall is None or not any(b.outline.contains(Point(x, y)) for b in ground.site.buildings):
        return x, y
    depth = np.dot(np.array([x, y]) - wall.start, wall.outward)
    moved = np.array([x, y]) + (_BEFORE_A_WALL - depth) * np.array(wall.outward)
    return float(moved[0]), float(moved[1])


def _soil_at(now: Terrain, built: Terrain | None, place: tuple[float, float]) -> float:
    """How much soil is ordered at a place, metres."""
    if built is None:
        return 0.0
    before, after = (terrain.heights(np.array([place]))[0] for terrain in (now, built))
    return max(float(np.nan_to_num(after - before)), 0.0)


def _reason_against(ground: LotGround, answer: DownspoutAnswer) -> Hindrance | None:
    """What the water does after the end that it must not."""
    harms = harms_of(ground, answer)
    codes = [harm.code for harm in harms]
    if "foundation" in codes:
        told = tuple(harm for harm in harms if harm.code != "sidewalk")
        return Hindrance("ends where water comes to a foundation", harms=told)
    if "neighbor" in codes:
        return Hindrance("ends on unsafe ground", ground="onto a neighbor")
    if answer.end.kind == "survey edge":
        return Hindrance("ends on unsafe ground", ground="leaves the survey")
    if "sidewalk" in codes:
        return Hindrance("sends water over a public sidewalk", harms[0].sidewalk)
    return _soon_on_a_walk(ground.site, answer.path)


def _soon_on_a_walk(site: Site, path: NDArray[np.float64]) -> Hindrance | None:
    """The walk or drive that water comes to too soon after the end."""
    run = site.rules["extension_walk_run"]
    soon = part_up_to(path, run) if len(path) else path
    if len(soon) < 2:
        return None
    line = shapely.LineString(soon)
    for paving in walks_and_drives(site):
        if line.intersects(paving.outline):
            return Hindrance("sends water over a walk", paving.name, paving.kind, run)
    return None


def _extension(
    site: Site,
    downspout: Downspout,
    water: WaterToMove,
    tried: Tried,
    number: int,
    answer: DownspoutAnswer,
) -> Extension:
    protection, apron = _protection(site, downspout, water)
    x, y = tried.ends[number]
    outlet = float(tried.outlet[number])
    wall = wall_beside(site, *tried.start, end=(float(x), float(y)))
    out, aside = (0.0, 0.0) if wall is None else _from_wall(wall, tried.start, tried.ends[number])
    gap = tried.gap[number]
    toward = (float(x) - tried.start[0], float(y) - tried.start[1])
    over = () if apron is None else apron_beyond(site, apron, (float(x), float(y)), toward)
    return Extension(
        start=tried.start,
        end=(float(x), float(y)),
        length_m=float(tried.length[number]),
        bearing=float(tried.bearing[number]),
        outlet_m=outlet,
        fall_m=float(tried.drop[number]) + outlet,
        path=part_up_to(answer.path, answer.length_m),
        ends=Onward(answer.end, answer.crosses),
        protection=protection,
        apron=apron,
        wall="" if wall is None else wall.name,
        out_m=out,
        aside_m=aside,
        gap_m=float(gap.max()),
        props=_props(site, gap, float(tried.length[number])),
        reaches_over=tuple(side.name for side in over),
    )


def _from_wall(wall: Wall, start: tuple[float, float], end: Floats) -> tuple[float, float]:
    """How far an end lies out from a wall, and to the right of straight out; metres."""
    out_x, out_y = wall.outward
    out = np.dot(end - np.array(wall.start), wall.outward)
    return float(out), float(np.dot(end - np.array(start), (out_y, -out_x)))


def _props(site: Site, gap: Floats, length_m: float) -> int:
    """How many blocks hold an extension where there is air under it, none at the leader itself."""
    apart = length_m / (len(gap) - 1)
    hung = np.flatnonzero(gap[1:] > site.rules["extension_support_from"])
    if not len(hung):
        return 0
    stretch = (hung[-1] - hung[0] + 1) * apart
    return int(np.ceil(stretch / site.rules["extension_support_spacing"] - 1e-9))


def _protection(
    site: Site, downspout: Downspout, water: WaterToMove
) -> tuple[Protection, Apron | None]:
    """A splash pad, or stone where the flow is above the rule ``extension_apron_flow``."""
    flow = water.gutter_flow_m3_per_s
    if flow <= site.rules["extension_apron_flow"]:
        return "splash pad", None
    leader = downspout.leader
    bore = site.rules["leader_diameter"]
    if leader is not None:
        round_one = leader.shape == "round"
        bore = leader.width if round_one else equal_area_diameter(leader.width, leader.depth)
    return "stone apron", stone_apron(flow, bore, rules=site.rules)


def _why_none(
    site: Site,
    downspout: Downspout,
    tried: Tried,
    against: dict[Hindrance, Flags],
    order: NDArray[np.int64],
) -> NoExtension:
    limit = site.rules["extension_length"]
    plain = np.logical_or.reduce(
        [np.zeros(len(order), bool), *(against[each] for each in PLAIN if each in against)]
    )
    if plain.all():
        return NoExtension(downspout.name, limit)
    many = np.where(plain, len(against) + 1, np.sum(list(against.values()), axis=0))
    most = max(against, key=lambda each: int((against[each] & ~plain).sum()))
    best = int(order[np.argmin(many[order])])
    return NoExtension(
        downspout.name,
        limit,
        most,
        every=bool(against[most][~plain].all()),
        best=BestExtension(
            float(tried.length[best]),
            float(tried.drop[best] / tried.length[best]),
            tuple(each for each, flags in against.items() if flags[best]),
        ),
    )


def _design(task: Task) -> Extension:
    # The soil that the walls need is ordered whatever is built, so it is laid on that.
    return surface_extension(task.ground, task.downspout, task.water, task.soiled)


def _parts(site: Site, extension: Extension) -> Iterator[Part]:
    yield Part("extension pipe", "extension", extension.length_m, "on the surface")
    yield Part("adapter from leader to extension", "fitting", 1, "the leader goes inside it")
    if extension.props:
        under = "under the extension, laid on their side"
        yield Part("concrete block", "block", extension.props, under)
    yield from end_parts(site, extension.apron)
    if extension.fitting_m is not None:
        yield Part("overflow fitting with a grate", "fitting", 1, "on the extension")


EXTENSION = Way[Extension](
    kind=Extension.kind,
    design=_design,
    parts=_parts,
    fails=lambda failing, laid: (
        failing.blocked("extension blocked", "foot", np.array([laid.start, laid.end])),
    ),
    lets_go=lambda _, laid: laid.end,
    digs=False,
    with_fitting=lambda _, laid, station: replace(laid, fitting_m=station),
)
