"""The shortest extension on the surface that takes a downspout's water to where it may be let go.

In: the lot's ground, a downspout and its water. Out: the extension, or in one sentence why there is
none. The method is in docs/extensions.md.

In: the lot's ground and the foot of a leader. Out: arrays over the extensions tried, and for each
hindrance, in words, which of them it holds for. Where the water runs from the end is not asked.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Point
from shapely.geometry.base import BaseGeometry

from runoff.discharge.ground import LotGround, reaches_foundation, reaches_neighbor
from runoff.discharge.line.outlet import Apron, stone_apron
from runoff.discharge.routes import apron_beyond
from runoff.discharge.ways import Extension, NotPossible, Onward, Protection, WaterToMove
from runoff.discharge.wording import reached_words
from runoff.flow.downspouts import ICY
from runoff.flow.model import DownspoutAnswer
from runoff.flow.paths import part_up_to
from runoff.flow.sentences import over_sidewalk
from runoff.foundation.model import REASONS
from runoff.foundation.walls import WELLS, Wall, walls_of, well_footprint
from runoff.quantities import Shown, format_length, format_slope, system_of
from runoff.roof.leaders import equal_area_diameter
from runoff.site.model import Downspout, LotSide, Opening, Paving, Site
from runoff.terrain.model import Grid, Terrain

_BEARINGS = np.arange(0.0, 360.0, 5.0)
_STEP = {"ft": 0.3048, "m": 0.25}
_SHARES = np.linspace(0.0, 1.0, 41)
_PARED = 0.006
"""Ground that rises less than this over an extension, metres, is pared off with a spade."""
_GRAZE = 0.05
"""A wall whose edge an extension passes by less than this, metres, is not crossed."""
_TOUCH = 0.01
"""The same for paving, which may be narrow."""
_ELBOW = 0.3
"""Metres from the leader within which an extension turns off the wall: it is not yet beside it."""
_DOORS = ("door", "garage door")
_ROUNDING = 1e-9
_PASSED_BY = ("street", "alley")

# Places of which nobody would think: they do not tell why there is no extension.
PLAIN = (
    "would end where no ground was surveyed",
    "would end off the lot",
    "would leave the lot",
    "would end too near a foundation",
    "would run through a building",
)
_AT_THE_END = {
    "no ground": PLAIN[0],
    "off the lot": PLAIN[1],
    "too near a foundation": PLAIN[3],
    "too flat to leave": "would end on ground too flat for the water to leave",
    "comes back to a foundation": "would end where the water comes back to a foundation",
    "stands near a foundation": "would end where the water stands near a foundation",
    "onto a neighbor": "would end where the water runs onto a neighbor",
    "over a public sidewalk": (
        "would end where the water runs over a public sidewalk, which city codes commonly forbid"
    ),
    "leaves the survey": "would end where the water leaves the survey",
}

Flags = NDArray[np.bool_]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Tried:
    """Straight extensions from one foot, an entry each.

    `ends` is (n, 2) plan metres; `length` (n,) metres; `bearing` (n,) degrees clockwise from the
    plan's up; `drop` (n,) metres from the ground at the foot to that at the end; `outlet` (n,)
    metres over the ground at the foot that the leader's end must stand for it to fall. Both are NaN
    where no ground lies under it. `gap` is (n, samples) metres of air under it, evenly spaced from
    the leader to the end. All heights are of the ground as it will be, with the soil ordered on it.
    """

    start: tuple[float, float]
    ends: Floats
    length: Floats
    bearing: Floats
    drop: Floats
    outlet: Floats
    gap: Floats


def wall_beside(
    site: Site, x: float, y: float, end: tuple[float, float] | None = None
) -> Wall | None:
    """The wall that a place stands at; None where there is no building.

    At a corner, where an `end` is given, it is the wall that the way there leaves behind.
    """
    here = shapely.Point(x, y)

    def away(wall: Wall) -> float:
        return float(shapely.LineString([wall.start, wall.end]).distance(here))

    nearest = min(walls_of(site.buildings), key=away, default=None)
    if nearest is None or end is None:
        return nearest
    before = [
        wall
        for wall in walls_of(site.buildings)
        if wall.building == nearest.building
        and np.dot(np.array(end) - np.array(wall.start), wall.outward) > _ROUNDING
    ]
    return min(before, key=away, default=nearest)


def extensions_from(
    ground: LotGround, start: tuple[float, float], built: Terrain | None = None
) -> Tried:
    """Every straight extension from a foot that is tried, the shorter first.

    Every 5 degrees from straight out, in steps of 1 ft (0.25 m on metric sites), to the rule
    ``extension_length``.

    Parameters
    ----------
    ground : LotGround
    start : (x, y), plan metres
    built : Terrain, optional
        The ground as it will be, where soil is ordered whatever is built at the downspout.
    """
    rules = ground.site.rules
    step = _STEP[ground.site.units]
    count = int(np.floor(rules["extension_length"] / step + _ROUNDING))
    length = np.repeat(step * np.arange(1, count + 1), len(_BEARINGS))
    wall = wall_beside(ground.site, *start)
    out = 0.0 if wall is None else np.degrees(np.arctan2(*wall.outward))
    bearing = np.tile(np.sort(np.round((_BEARINGS + out) % 360.0, 9) % 360.0), count)
    way = np.column_stack([np.sin(np.radians(bearing)), np.cos(np.radians(bearing))])
    ends = np.array(start) + length[:, None] * way
    under = np.array(start) + _SHARES[None, :, None] * (length[:, None] * way)[:, None, :]
    terrain, under = built or ground.terrain, under.reshape(-1, 2)
    z = terrain.heights(under)
    if ground.site.barriers:
        z += np.nan_to_num(heights_at(terrain.surface - terrain.ground, terrain.grid, under))
    z = z.reshape(len(length), len(_SHARES))
    drop = z[:, 0] - z[:, -1]
    outlet = np.maximum(rules["extension_slope"] * length - drop, _over_the_ground(z))
    outlet = np.maximum(outlet, 0.0)
    line = (1 - _SHARES) * (z[:, :1] + outlet[:, None]) + _SHARES * z[:, -1:]
    return Tried(start, ends, length, bearing, drop, outlet, np.maximum(line - z, 0.0))


def _over_the_ground(z: Floats) -> Floats:
    """How high over the foot a line to the ground at the end starts that no ground rises above."""
    share = _SHARES[1:-1]
    least = (z[:, 1:-1] - _PARED - z[:, -1:] * share) / (1 - share) - z[:, :1]
    return least.max(axis=1)


def heights_at(heights: Floats, grid: Grid, points: Floats) -> Floats:
    """Heights at plan positions, bilinear over the cells around that have ground.

    Parameters
    ----------
    heights : (rows, cols) float64, metres
    grid : Grid
    points : (k, 2) float64, plan metres

    Returns
    -------
    (k,) float64, metres; NaN where no cell around has ground

    Examples
    --------
    >>> grid = Grid(rows=1, cols=3, cell_size=1.0, x0=0.0, y0=0.0)
    >>> heights = np.array([[4.0, 5.0, np.nan]])
    >>> heights_at(heights, grid, np.array([[1.0, 0.5], [2.2, 0.5], [9.0, 0.5]]))
    array([4.5, 5. , nan])
    """
    col, row = grid.in_cells(points).T
    left, top = np.floor(col).astype(np.int64), np.floor(row).astype(np.int64)
    total, weight = np.zeros(len(points)), np.zeros(len(points))
    for down in (0, 1):
        for right in (0, 1):
            r, c = top + down, left + right
            held = (r >= 0) & (r < grid.rows) & (c >= 0) & (c < grid.cols)
            z = np.where(held, heights[r.clip(0, grid.rows - 1), c.clip(0, grid.cols - 1)], np.nan)
            share = (1 - np.abs(row - r)) * (1 - np.abs(col - c))
            share = np.where(np.isfinite(z), share, 0.0)
            total += share * np.nan_to_num(z)
            weight += share
    return np.where(weight > _ROUNDING, total / np.maximum(weight, _ROUNDING), np.nan)


def hindrances(ground: LotGround, tried: Tried) -> dict[str, Flags]:
    """What speaks against the extensions: words that follow *it*, with a flag for each of them.

    Parameters
    ----------
    ground : LotGround
    tried : Tried

    Returns
    -------
    dict of str to (n,) bool
        Such as ``would cross the walk 'front walk'``; only those that hold somewhere.
    """
    site = ground.site
    found: dict[str, Flags] = {}
    _at_the_end(ground, tried, found)
    _crossed(site, tried, found)
    _near_walks(site, tried, found)
    _near_lot_lines(site, tried, found)
    with np.errstate(invalid="ignore"):
        high = ~(tried.outlet <= site.rules["leader_outlet_height"] + _ROUNDING)
    height = _words_of(site)(site.rules["leader_outlet_height"])
    slope = format_slope(site.rules["extension_slope"])
    found[
        f"would not fall {slope} (rule extension_slope) with the leader's end {height} over the "
        "ground (rule leader_outlet_height)"
    ] = high
    most = site.rules["extension_support_height"]
    with np.errstate(invalid="ignore"):
        hangs = tried.gap.max(axis=1) > most + _ROUNDING
    found[f"would hang more than {_words_of(site)(most)} over the ground"] = hangs & ~high
    return {words: flags for words, flags in found.items() if flags.any()}


def walks_and_drives(site: Site) -> list[Paving]:
    """The paving that people walk or drive on in winter."""
    return [paving for paving in site.paving if paving.kind in ICY]


def _at_the_end(ground: LotGround, tried: Tried, found: dict[str, Flags]) -> None:
    grid, code = ground.flow.grid, ground.safe_area.code
    col = np.floor((tried.ends[:, 0] - grid.x0) / grid.cell_size).astype(np.int64)
    row = grid.rows - 1 - np.floor((tried.ends[:, 1] - grid.y0) / grid.cell_size).astype(np.int64)
    held = (row >= 0) & (row < grid.rows) & (col >= 0) & (col < grid.cols)
    at = code[row.clip(0, grid.rows - 1), col.clip(0, grid.cols - 1)]
    at = np.where(held, at, REASONS.index("no ground"))
    for reason, words in _AT_THE_END.items():
        found[words] = at == REASONS.index(reason)
    points = shapely.points(tried.ends)
    for building in ground.site.buildings:
        # A cell at the limit is answered by its center.
        near = shapely.distance(points, building.outline) < ground.site.rules["near_foundation"]
        found[PLAIN[3]] |= near
    for keep_out in ground.site.keep_outs:
        if keep_out.kind in ("septic field", "well"):
            words = f"would end on the {keep_out.kind} {keep_out.name!r}"
            found[words] = shapely.contains_xy(keep_out.area, *tried.ends.T)


def _crossed(site: Site, tried: Tried, found: dict[str, Flags]) -> None:
    start = np.broadcast_to(np.array(tried.start), tried.ends.shape)
    lines = shapely.linestrings(np.stack([start, tried.ends], axis=1))
    off = start + (tried.ends - start) * np.minimum(_ELBOW / tried.length, 0.99)[:, None]
    beyond = shapely.linestrings(np.stack([off, tried.ends], axis=1))
    half = site.rules["extension_width"] / 2

    def cross(shape: BaseGeometry, graze: float = _GRAZE) -> Flags:
        """Whether it runs over a shape, beyond its elbow by any of its own width."""
        inner = shape.buffer(-graze)
        shapely.prepare([inner, shape])
        wide = shapely.distance(beyond, shape) < half - _ROUNDING
        return shapely.intersects(lines, inner) | wide

    through = [cross(building.outline) for building in site.buildings]
    found[PLAIN[4]] = np.logical_or.reduce([np.zeros(len(lines), bool), *through])
    if site.lot is not None:
        lot = site.lot.boundary.buffer(_GRAZE)
        shapely.prepare(lot)
        # Where it ends off the lot that is said once.
        found[PLAIN[2]] = ~shapely.covers(lot, lines) & ~found[PLAIN[1]]
    for paving in site.paving:
        over = cross(paving.outline, _TOUCH)
        found[f"would lie across the {paving.kind} {paving.name!r}"] = over
    for keep_out in site.keep_outs:
        if keep_out.kind == "retaining wall":
            wall = shapely.intersects(lines, keep_out.area)
            found[f"would cross the retaining wall {keep_out.name!r}"] = wall
    walls = {(wall.building, wall.number): wall for wall in walls_of(site.buildings)}
    for opening in site.openings:
        if opening.kind in _DOORS:
            step = _threshold(walls[opening.building, opening.wall], opening, site)
            words = f"would lie across the threshold of the {opening.kind} {opening.name!r}"
            found[words] = cross(step, 0.0)
        if opening.kind in WELLS:
            well = well_footprint(walls[opening.building, opening.wall], opening)
            found[f"would cross the {opening.kind} {opening.name!r}"] = cross(well)


def _threshold(wall: Wall, opening: Opening, site: Site) -> shapely.Polygon:
    """The ground that a door opens on, a landing deep."""
    along = opening.distance + opening.width / 2 * np.array([-1.0, 1.0, 1.0, -1.0])
    deep = site.rules["extension_door_distance"]
    return shapely.Polygon(wall.point(along, np.array([0.0, 0.0, deep, deep])))


def _near_walks(site: Site, tried: Tried, found: dict[str, Flags]) -> None:
    limit = site.rules["extension_walk_distance"]
    points = shapely.points(tried.ends)
    for paving in walks_and_drives(site):
        near = shapely.distance(points, paving.outline) < limit - _ROUNDING
        length = _words_of(site)(limit)
        words = f"would end within {length} of the {paving.kind} {paving.name!r}: ice in winter"
        found[words] = near


def _near_lot_lines(site: Site, tried: Tried, found: dict[str, Flags]) -> None:
    limit = site.rules["extension_lot_line_distance"]
    points = shapely.points(tried.ends)
    sides: tuple[LotSide, ...] = site.lot.sides if site.lot is not None else ()
    for side in sides:
        if side.neighbor not in _PASSED_BY:
            near = shapely.distance(points, shapely.LineString(side.line)) < limit - _ROUNDING
            within = f"would end within {_words_of(site)(limit)} of {side.words} of the lot"
            found[within] = near


def _words_of(site: Site) -> Callable[[float], str]:
    system = system_of(site.units)
    return lambda metres: format_length(metres, system, 1)


_BEFORE_A_WALL = 0.05
"""Metres before a wall that a leader stands which was written a little inside it."""
_SAME_DROP = 1e-4  # metres
_LEVEL = 5e-4  # less fall than this, 1 in 2000, is told as none


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
        if not reason:
            answer = ground.answer_at(downspout, x, y)
            reason = _reason_against(ground, answer)
        if not reason:
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


def _reason_against(ground: LotGround, answer: DownspoutAnswer) -> str:
    """What the water does after the end that it must not, in words that follow *it*."""
    reached = reaches_foundation(ground, answer)
    if reached:
        onto = ", and runs onto a neighbor" if reaches_neighbor(answer) else ""
        told = reached_words(ground.site, reached)
        return f"would end where the water comes to a foundation{onto}: {told}"
    if reaches_neighbor(answer):
        return "would end where the water runs onto a neighbor"
    if answer.end.kind == "survey edge":
        return "would end where the water leaves the survey"
    if sidewalk := over_sidewalk(answer.crosses):
        return f"would send its water {sidewalk}"
    return _soon_on_a_walk(ground.site, answer.path)


def _soon_on_a_walk(site: Site, path: NDArray[np.float64]) -> str:
    """The walk or drive that water comes to too soon after the end, in words; empty for none."""
    run = site.rules["extension_walk_run"]
    crossed = _walks_crossed(site, part_up_to(path, run)) if len(path) else []
    if crossed:
        return f"would send its water over {crossed[0]} within {Shown.of(site).far(run)}: ice"
    return ""


def _walks_crossed(site: Site, path: NDArray[np.float64]) -> list[str]:
    """The walks and drives that a path crosses, in words."""
    if len(path) < 2:
        return []
    line = shapely.LineString(path)
    return [
        f"the {paving.kind} {paving.name!r}"
        for paving in walks_and_drives(site)
        if line.intersects(paving.outline)
    ]


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
    against: dict[str, Flags],
    order: NDArray[np.int64],
) -> str:
    limit = Shown.of(site).far(site.rules["extension_length"])
    head = f"No extension up to {limit} works for downspout {downspout.name!r}"
    plain = np.logical_or.reduce(
        [np.zeros(len(order), bool), *(against[words] for words in PLAIN if words in against)]
    )
    if plain.all():
        return f"{head}: no place within its reach lies on the lot and away from the foundations."
    many = np.where(plain, len(against) + 1, np.sum(list(against.values()), axis=0))
    most = max(against, key=lambda words: int((against[words] & ~plain).sum()))
    every = bool(against[most][~plain].all())
    best = int(order[np.argmin(many[order])])
    reasons = " and ".join(words for words, flags in against.items() if flags[best])
    told = f"{head}: {'every one' if every else 'most'} {most}"
    lies = (
        f"{Shown.of(site).far(tried.length[best])} long, lies on ground that {_fall(tried, best)}"
    )
    if reasons == most:
        return f"{told}; the best of them, {lies}."
    return f"{told}; the best of them, {lies}, and {reasons}."


def _fall(tried: Tried, best: int) -> str:
    """How the ground under one lies from foot to end."""
    slope = float(tried.drop[best] / tried.length[best])
    if not np.isfinite(slope):
        return "was not surveyed"
    if abs(slope) < _LEVEL:
        return "is level"
    way = "falls" if slope >= 0 else "rises"
    return f"{way} {format_slope(abs(slope))} to its end"
