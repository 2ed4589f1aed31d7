"""The shortest extension on the surface that takes a downspout's water to where it may be let go.

In: the lot's ground, a downspout and its water. Out: the extension, or why there is
none. The method is in docs/extensions.md.

In: the lot's ground and the foot of a leader. Out: arrays over the extensions tried, and for each
hindrance which of them it holds for. Where the water runs from the end is not asked.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from runoff.discharge.ground import LotGround
from runoff.discharge.reasons import Hindrance
from runoff.flow.downspouts import ICY
from runoff.foundation.model import REASONS, SafeReason
from runoff.foundation.walls import WELLS, Wall, walls_of, well_footprint
from runoff.site.model import LotSide, Opening, Paving, Site
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
_OFF_THE_LOT = Hindrance("ends on unsafe ground", ground="off the lot")
_LEAVES_THE_LOT = Hindrance("leaves the lot")
_TOO_NEAR = Hindrance("ends on unsafe ground", ground="too near a foundation")
_THROUGH = Hindrance("through a building")
_UNSAFE: tuple[SafeReason, ...] = (
    "no ground",
    "off the lot",
    "too near a foundation",
    "too flat to leave",
    "comes back to a foundation",
    "stands near a foundation",
    "onto a neighbor",
    "over a public sidewalk",
    "leaves the survey",
)
PLAIN = (
    Hindrance("ends on unsafe ground", ground="no ground"),
    _OFF_THE_LOT,
    _LEAVES_THE_LOT,
    _TOO_NEAR,
    _THROUGH,
)

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


def hindrances(ground: LotGround, tried: Tried) -> dict[Hindrance, Flags]:
    """What speaks against the extensions, with a flag for each of them.

    Parameters
    ----------
    ground : LotGround
    tried : Tried

    Returns
    -------
    dict of Hindrance to (n,) bool
        Only those that hold somewhere.
    """
    site = ground.site
    found: dict[Hindrance, Flags] = {}
    _at_the_end(ground, tried, found)
    _crossed(site, tried, found)
    _near_walks(site, tried, found)
    _near_lot_lines(site, tried, found)
    with np.errstate(invalid="ignore"):
        high = ~(tried.outlet <= site.rules["leader_outlet_height"] + _ROUNDING)
    slope, height = site.rules["extension_slope"], site.rules["leader_outlet_height"]
    found[Hindrance("does not fall", slope=slope, height_m=height)] = high
    most = site.rules["extension_support_height"]
    with np.errstate(invalid="ignore"):
        hangs = tried.gap.max(axis=1) > most + _ROUNDING
    found[Hindrance("hangs", height_m=most)] = hangs & ~high
    return {each: flags for each, flags in found.items() if flags.any()}


def walks_and_drives(site: Site) -> list[Paving]:
    """The paving that people walk or drive on in winter."""
    return [paving for paving in site.paving if paving.kind in ICY]


def _at_the_end(ground: LotGround, tried: Tried, found: dict[Hindrance, Flags]) -> None:
    grid, code = ground.flow.grid, ground.safe_area.code
    col = np.floor((tried.ends[:, 0] - grid.x0) / grid.cell_size).astype(np.int64)
    row = grid.rows - 1 - np.floor((tried.ends[:, 1] - grid.y0) / grid.cell_size).astype(np.int64)
    held = (row >= 0) & (row < grid.rows) & (col >= 0) & (col < grid.cols)
    at = code[row.clip(0, grid.rows - 1), col.clip(0, grid.cols - 1)]
    at = np.where(held, at, REASONS.index("no ground"))
    for reason in _UNSAFE:
        found[Hindrance("ends on unsafe ground", ground=reason)] = at == REASONS.index(reason)
    points = shapely.points(tried.ends)
    for building in ground.site.buildings:
        # A cell at the limit is answered by its center.
        near = shapely.distance(points, building.outline) < ground.site.rules["near_foundation"]
        found[_TOO_NEAR] |= near
    for keep_out in ground.site.keep_outs:
        if keep_out.kind in ("septic field", "well"):
            on_it = Hindrance("ends on keep-out", keep_out.name, keep_out.kind)
            found[on_it] = shapely.contains_xy(keep_out.area, *tried.ends.T)


def _crossed(site: Site, tried: Tried, found: dict[Hindrance, Flags]) -> None:
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
    found[_THROUGH] = np.logical_or.reduce([np.zeros(len(lines), bool), *through])
    if site.lot is not None:
        lot = site.lot.boundary.buffer(_GRAZE)
        shapely.prepare(lot)
        # Where it ends off the lot that is said once.
        found[_LEAVES_THE_LOT] = ~shapely.covers(lot, lines) & ~found[_OFF_THE_LOT]
    for paving in site.paving:
        over = cross(paving.outline, _TOUCH)
        found[Hindrance("across paving", paving.name, paving.kind)] = over
    for keep_out in site.keep_outs:
        if keep_out.kind == "retaining wall":
            wall = shapely.intersects(lines, keep_out.area)
            found[Hindrance("across retaining wall", keep_out.name)] = wall
    walls = {(wall.building, wall.number): wall for wall in walls_of(site.buildings)}
    for opening in site.openings:
        if opening.kind in _DOORS:
            step = _threshold(walls[opening.building, opening.wall], opening, site)
            found[Hindrance("across threshold", opening.name, opening.kind)] = cross(step, 0.0)
        if opening.kind in WELLS:
            well = well_footprint(walls[opening.building, opening.wall], opening)
            found[Hindrance("across well", opening.name, opening.kind)] = cross(well)


def _threshold(wall: Wall, opening: Opening, site: Site) -> shapely.Polygon:
    """The ground that a door opens on, a landing deep."""
    along = opening.distance + opening.width / 2 * np.array([-1.0, 1.0, 1.0, -1.0])
    deep = site.rules["extension_door_distance"]
    return shapely.Polygon(wall.point(along, np.array([0.0, 0.0, deep, deep])))


def _near_walks(site: Site, tried: Tried, found: dict[Hindrance, Flags]) -> None:
    limit = site.rules["extension_walk_distance"]
    points = shapely.points(tried.ends)
    for paving in walks_and_drives(site):
        near = shapely.distance(points, paving.outline) < limit - _ROUNDING
        found[Hindrance("ends beside paving", paving.name, paving.kind, limit)] = near


def _near_lot_lines(site: Site, tried: Tried, found: dict[Hindrance, Flags]) -> None:
    limit = site.rules["extension_lot_line_distance"]
    points = shapely.points(tried.ends)
    sides: tuple[LotSide, ...] = site.lot.sides if site.lot is not None else ()
    for side in sides:
        if side.neighbor not in _PASSED_BY:
            near = shapely.distance(points, shapely.LineString(side.line)) < limit - _ROUNDING
            found[Hindrance("ends beside lot side", side.name, within_m=limit)] = near
