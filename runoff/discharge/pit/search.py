"""Places on the lot for a seepage pit, the nearest first: what it keeps away from, how deep it
may be.

In: a site, its terrain, and the pits that stand already. Out: setbacks as shapes on the plan with
the distance each asks for, and the ground that is too steep for a pit.

In: a site, and heights of the ground over a pit (metres). Out: heights and depths in metres, and
the reasons where too little depth is left.

In: the lot's ground, what a pit keeps away from, and how large it must be for a depth. Out: places
whose whole plan keeps every setback and lies on known ground that is neither steep nor under water;
cells are filtered on arrays first, by the circle inside the plan, and the rest is checked exactly.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property, partial
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, maximum_filter, minimum_filter
from shapely import (
    LineString,
    Polygon,
    contains_xy,
    intersects,
    linestrings,
    points,
    polygons,
    union_all,
)
from shapely import distance as distances
from shapely.geometry.base import BaseGeometry

from runoff.discharge.ground import LotGround
from runoff.discharge.line.pipes import Pipe, pipe_of
from runoff.discharge.pit.size import PitCheck, PitNeeds, TooLarge, height_over_inlet_m, whole_steps
from runoff.discharge.reasons import KeptFrom, Layer, LayerTooNear, NoDepthLeft, NotPossible
from runoff.discharge.routes import building_distance
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

    `name` is whose foundation or lot line it is, or the thing itself.
    """

    of: KeptFrom
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
    >>> [(each.of, each.name, round(each.distance, 3)) for each in found][1:3]
    [('foundation', 'garage', 3.048), ('lot line', 'front', 3.048)]
    """
    found = [
        Setback("foundation", each.name, each.outline, foundation_distance(site, each))
        for each in site.buildings
    ]
    if site.lot is not None:
        found += [
            Setback(
                "lot line",
                side.name,
                LineString(side.line),
                pit_distance(site, "pit_lot_line_distance"),
            )
            for side in site.lot.sides
        ]
    found += [_of_keep_out(each, site) for each in site.keep_outs]
    found += [Setback("named", each.name, each.outline, 0.0) for each in site.paving]
    found += [Setback("named", each.name, each.area, 0.0) for each in site.easements]
    found += [Setback("named", each.name, each.place, 0.0) for each in site.outlets]
    found += [Setback("named", each.name, LineString(each.line), 0.0) for each in site.barriers]
    found += [*_of_drains(site), *_of_steps(site)]
    found += [
        Setback("another pit", "", each, pit_distance(site, "pit_pit_distance")) for each in pits
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
    distance = pit_distance(site, rule) if rule else 0.0
    return Setback("named", keep_out.name, keep_out.area, distance)


def _of_drains(site: Site) -> Iterator[Setback]:
    for drain in site.drains:
        ends = [drain.inlet, drain.inlet if drain.outlet is None else drain.outlet]
        yield Setback("named", drain.name, LineString(ends), 0.0)


def _of_steps(site: Site) -> Iterator[Setback]:
    """Surveyed steps of the ground: from a certain height on they are retaining walls."""
    for line in site.break_lines:
        if line.foot is None:
            continue
        retains = np.abs(line.top - line.foot).max() >= site.rules["pit_retained_height"]
        distance = pit_distance(site, "pit_bank_distance") if retains else 0.0
        yield Setback("named", line.name, LineString(line.line), distance)


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


Heights = TypeVar("Heights", float, NDArray[np.float64])
# The inlet's depth is foreseen with this pipe where none is chosen, nominal inches.
_USUAL_PIPE = 4


def layers_below(site: Site) -> list[tuple[Layer, float, float]]:
    """What a pit's bottom stays above: its name, its depth and the clearance, metres.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> from runoff.rules import Rules
    >>> from runoff.site.model import Soil
    >>> layers_below(SimpleNamespace(rules=Rules(), soil=Soil(bedrock=2.0)))
    [('bedrock', 2.0, 0.9144)]
    """
    known: list[tuple[Layer, float | None, float]] = [
        ("groundwater", site.soil.groundwater, site.rules["pit_groundwater_clearance"]),
        ("bedrock", site.soil.bedrock, site.rules["pit_bedrock_clearance"]),
    ]
    return [(name, deep, clear) for name, deep, clear in known if deep is not None]


def deepest_m(site: Site) -> float:
    """How deep below the ground a pit's bottom may lie, metres."""
    allowed = [deep - clear for _, deep, clear in layers_below(site)]
    return min([site.rules["pit_greatest_dig"], *allowed])


def inlet_depth_m(site: Site) -> float:
    """How deep a line's invert lies at its start, metres."""
    pipe = usual_pipe(site)
    return site.rules["line_cover"] + pipe.bore_m + pipe.wall_m


def usual_pipe(site: Site) -> Pipe:
    """The pipe that the inlet's depth is foreseen with."""
    return pipe_of(
        site.pipe.nominal_in or _USUAL_PIPE, site.pipe.wall, site.rules, site.units == "m"
    )


def soil_over_inlet_m(site: Site, bore_m: float) -> float:
    """From the inlet's invert up to the lowest ground over the pit, at least."""
    return height_over_inlet_m(bore_m, site.rules) + site.rules["pit_soil_over_stone"]


def least_bottom_m(site: Site, middle: Heights, high: Heights) -> Heights:
    """Height below which a pit's bottom must not lie, of the ground at its middle and its highest.

    Groundwater and bedrock lie their depth below the ground at the middle, from which the pit's own
    depth is told and drawn: on a slope that is higher than below the lowest edge.
    """
    bottom = high - site.rules["pit_greatest_dig"]
    for _, deep, clear in layers_below(site):
        bottom = np.maximum(bottom, middle - deep + clear)
    return bottom


def refuse_no_depth(site: Site) -> None:
    """Refuse any pit where groundwater or bedrock leaves no depth for one.

    Raises
    ------
    NotPossible
        Where less than the least depth is left below a line at its least depth.
    """
    layers = layers_below(site)
    if not layers or (
        deepest_m(site) - inlet_depth_m(site) >= site.rules["pit_least_depth"] - 1e-9
    ):
        return
    raise NotPossible(LayerTooNear(*min(layers, key=lambda layer: layer[1] - layer[2])))


def no_depth_left(site: Site) -> NoDepthLeft:
    """Why a line that comes in deep leaves no depth for a pit."""
    least, layers = site.rules["pit_least_depth"], layers_below(site)
    if not layers or deepest_m(site) >= site.rules["pit_greatest_dig"]:
        return NoDepthLeft(least, "deepest dig")
    return NoDepthLeft(least, min(layers, key=lambda layer: layer[1] - layer[2])[0])


Floats = NDArray[np.float64]
Sizing = Callable[[PitNeeds, float], PitCheck]
# Places are tried no nearer together than this, metres; farther on ground of more cells than that.
STRIDE, _MOST = 0.3, 40_000
# Before its size is known a pit is taken to reach this far to each side of its middle, metres.
HALF = 1.5
# Another place is tried this far from one that was refused, metres.
_APART = 2.0
# Ground under more standing water than this is no place for a pit, metres.
_WET = 0.01
# Lines are judged to this by their design, metres.
_ABOUT = 0.05
_AT_ONCE = 256


@dataclass(frozen=True)
class PitPlace:
    """A place for a pit of a size: its center and outline, plan metres, and the ground there.

    `low_at` is the lowest place over it; `low_m`, `middle_m`, `high_m` are heights of the ground.
    """

    center: tuple[float, float]
    angle: float
    check: PitCheck
    outline: Polygon
    low_at: tuple[float, float]
    low_m: float
    middle_m: float
    high_m: float


@dataclass(frozen=True)
class Search:
    """What is known of every cell where the middle of a pit might lie; arrays of shape (n,).

    `away` is metres from the downspout's foot; `depth` what a pit could have below its inlet,
    `margin` how much farther the cell lies from everything than it must, metres, and `tightest`
    the setback that leaves it least; `reached` says whether it keeps them all and a straight line
    gets there.
    """

    ground: LotGround
    setbacks: tuple[Setback, ...]
    foot: tuple[float, float]
    row: NDArray[np.int64]
    col: NDArray[np.int64]
    x: Floats
    y: Floats
    away: Floats
    depth: Floats
    margin: Floats
    tightest: NDArray[np.int64]
    reached: NDArray[np.bool_]
    steep_away: Floats
    usable: NDArray[np.bool_]

    @cached_property
    def seen(self) -> NDArray[np.bool_]:
        """Whether a straight line gets to a cell, whatever it lies too near to."""
        return _seen(self.ground, self.foot, self.x, self.y)


def search_of(
    ground: LotGround,
    foot: tuple[float, float],
    setbacks: tuple[Setback, ...],
    highest_m: float,
    depth_at: Callable[[Floats, Floats, Floats, Floats], Floats],
) -> Search:
    """Gather the cells of the lot where a pit might be.

    Parameters
    ----------
    foot : (x, y) of the downspout
    highest_m : float, metres, height over which no pit's ground may lie
    depth_at : function of distances from the foot, lowest, middle and highest ground over a pit
        In metres. What depth a pit could have below its inlet; foreseen here, settled by the line.
    """
    cells = ground.once("cells for pits", lambda: _cells_of(ground))
    low_enough = ground.terrain.ground[cells.row, cells.col] <= highest_m
    row, col = cells.row[low_enough], cells.col[low_enough]
    x, y = cells.x[low_enough], cells.y[low_enough]
    away = np.hypot(x - foot[0], y - foot[1])
    margins = _margins(ground, setbacks, cells)[:, low_enough]
    margin = margins.min(axis=0)
    reached, keeps = np.zeros(len(x), bool), margin >= 0
    reached[keeps] = _seen(ground, foot, x[keeps], y[keeps])
    return Search(
        ground=ground,
        setbacks=setbacks,
        foot=foot,
        row=row,
        col=col,
        x=x,
        y=y,
        away=away,
        depth=depth_at(
            away, cells.low[row, col], ground.terrain.ground[row, col], cells.high[row, col]
        ),
        margin=margin,
        tightest=margins.argmin(axis=0),
        reached=reached,
        steep_away=cells.steep_away,
        usable=cells.usable,
    )


@dataclass(frozen=True)
class _Cells:
    """Cells of the lot that are tried, (n,), and arrays over the whole grid, as of `Search`."""

    row: NDArray[np.int64]
    col: NDArray[np.int64]
    x: Floats
    y: Floats
    low: Floats
    high: Floats
    steep_away: Floats
    usable: NDArray[np.bool_]


def _cells_of(ground: LotGround) -> _Cells:
    terrain, grid = ground.terrain, ground.flow.grid
    known = np.isfinite(terrain.ground) & ~terrain.closed
    usable = known & (ground.depth <= _WET)
    step = max(int(STRIDE / grid.cell_size), int(np.ceil(np.sqrt(usable.sum() / _MOST))), 1)
    x, y = (each.ravel() for each in np.meshgrid(*grid.centers()))
    tried = np.zeros(usable.shape, bool)
    tried[::step, ::step] = True
    cells = np.flatnonzero(tried & usable)
    if ground.site.lot is not None:
        cells = cells[contains_xy(ground.site.lot.boundary, x[cells], y[cells])]
    low, high = _low_and_high(terrain.ground, max(round(HALF / grid.cell_size), 1))
    row, col = np.divmod(cells, grid.cols)
    away = _away_from_steep(ground)
    return _Cells(row, col, x[cells], y[cells], low, high, away, usable)


def _low_and_high(ground: Floats, reach: int) -> tuple[Floats, Floats]:
    """The lowest and highest known ground within `reach` cells of each."""
    known, size = np.isfinite(ground), 2 * reach + 1
    low = minimum_filter(np.where(known, ground, np.inf), size, mode="nearest")
    return low, maximum_filter(np.where(known, ground, -np.inf), size, mode="nearest")


def _margins(ground: LotGround, setbacks: tuple[Setback, ...], cells: _Cells) -> Floats:
    """By setback and cell, metres beyond what is asked; a first row of no setback at all."""
    here = ground.once("points of cells", lambda: points(cells.x, cells.y))
    margins = [np.full(len(here), np.inf)]
    for each in setbacks:
        away = ground.once(("cells from", each.shape.wkb), partial(distances, each.shape, here))
        margins.append(away - each.least)
    return np.stack(margins)


def _away_from_steep(ground: LotGround) -> Floats:
    """Metres from each cell's center to the nearest that is too steep."""
    steep = steep_ground(ground.terrain, ground.site.rules)
    if not steep.any():
        return np.full(steep.shape, np.inf)
    return distance_transform_edt(~steep) * ground.flow.grid.cell_size


def _seen(ground: LotGround, foot: tuple[float, float], x: Floats, y: Floats) -> NDArray[np.bool_]:
    """Whether a straight line from the foot gets to a cell, clear of buildings and keep-outs.

    It leaves the wall at 45 degrees or more; whether it can be built is settled by its design.
    """
    site, seen = ground.site, np.ones(len(x), bool)
    keeps = building_distance(site)
    middles = np.stack([x, y], axis=1)
    start = np.broadcast_to(foot, middles.shape)
    away = np.hypot(*(middles - start).T)[:, None]
    clear = start + (middles - start) * np.minimum(
        keeps * np.sqrt(2.0) / np.maximum(away, keeps), 1
    )
    if site.buildings:
        walls = union_all([each.outline for each in site.buildings])
        seen = distances(linestrings(np.stack([clear, middles], axis=1)), walls) >= keeps - _ABOUT
    shut = [each.area for each in site.keep_outs if each.allowed == "nothing"]
    if shut:
        seen &= ~intersects(linestrings(np.stack([start, middles], axis=1)), union_all(shut))
    return seen


def places_for(search: Search, needs: PitNeeds, sizing: Sizing, angle: float) -> Iterator[PitPlace]:
    """The places for a pit, nearest first; each next one lies apart from those before.

    Parameters
    ----------
    sizing : function of the needs and a depth in metres
        The pit that does at no more than this depth below its inlet.
    angle : float, degrees counterclockwise from the plan's x that its length is turned

    Raises
    ------
    TooLarge
        Where there is depth for a pit, and none is enough at any depth there is.
    """
    rules, cell = search.ground.site.rules, search.ground.flow.grid.cell_size
    steps = np.floor(search.depth / needs.step_m + _TOUCH).astype(np.int64)
    enough = steps * needs.step_m >= rules["pit_least_depth"] - _TOUCH
    open_to = search.reached & enough
    sizes: dict[int, PitCheck] = {}
    for n in np.unique(steps[open_to]).tolist():
        with suppress(TooLarge):
            sizes[n] = sizing(needs, whole_steps(n, needs))
    if open_to.any() and not sizes:
        raise TooLarge
    open_to &= np.isin(steps, list(sizes))
    inside = np.zeros(len(steps))
    for n, check in sizes.items():
        inside[steps == n] = _inner_radius(check)
    steep = search.steep_away[search.row, search.col] - rules["pit_bank_distance"]
    likely = open_to & (search.margin >= inside) & (steep >= inside - cell)
    order = np.flatnonzero(likely)
    order = order[np.argsort(search.away[order], kind="stable")]
    yielded: list[tuple[float, float]] = []
    for first in range(0, len(order), _AT_ONCE):
        some = order[first : first + _AT_ONCE]
        keeps = np.zeros(len(some), bool)
        for n in np.unique(steps[some]):
            same = steps[some] == n
            keeps[same] = _keeps_all(search, some[same], sizes[int(n)], angle)
        for i in some[keeps]:
            here = (float(search.x[i]), float(search.y[i]))
            if all(np.hypot(here[0] - x, here[1] - y) >= _APART for x, y in yielded):
                yielded.append(here)
                yield place_at(search, int(i), sizes[int(steps[i])], angle)


def _inner_radius(check: PitCheck) -> float:
    return min(check.pit.length_m, check.pit.width_m) / 2


def _corners(check: PitCheck, angle: float) -> Floats:
    """Corners of a plan about its middle, (4, 2)."""
    half = np.array([check.pit.length_m, check.pit.width_m]) / 2
    turn = np.radians(angle)
    along = np.array([np.cos(turn), np.sin(turn)]) * half[0]
    across = np.array([-np.sin(turn), np.cos(turn)]) * half[1]
    return np.array([along + across, across - along, -along - across, along - across])


def _keeps_all(
    search: Search, cells: NDArray[np.int64], check: PitCheck, angle: float
) -> NDArray[np.bool_]:
    """Whether the whole plan with its middle in these cells keeps everything, (k,)."""
    middles = np.stack([search.x[cells], search.y[cells]], axis=1)
    plans = polygons(middles[:, None, :] + _corners(check, angle)[None])
    keeps = np.ones(len(cells), bool)
    for each in search.setbacks:
        keeps[keeps] = distances(plans[keeps], each.shape) >= each.least
    rows, cols, held = _under(search, cells, check, angle)
    far = search.ground.site.rules["pit_bank_distance"]
    usable = search.usable[rows, cols] & (search.steep_away[rows, cols] >= far)
    return keeps & held & usable.all(axis=1)


def _under(
    search: Search, cells: NDArray[np.int64], check: PitCheck, angle: float
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """Rows and columns under the plan, each (k, m), and whether the grid holds them all, (k,)."""
    grid = search.ground.flow.grid
    corners = _corners(check, angle)
    reach = int(np.ceil(np.abs(corners).max() / grid.cell_size))
    down, right = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    plan = Polygon(corners).buffer(grid.cell_size, join_style="mitre")
    covered = contains_xy(plan, right * grid.cell_size, -down * grid.cell_size)
    rows = search.row[cells][:, None] + down[covered][None]
    cols = search.col[cells][:, None] + right[covered][None]
    held = (rows >= 0) & (rows < grid.rows) & (cols >= 0) & (cols < grid.cols)
    return rows.clip(0, grid.rows - 1), cols.clip(0, grid.cols - 1), held.all(axis=1)


def place_at(search: Search, cell: int, check: PitCheck, angle: float) -> PitPlace:
    """The place with its middle in one of the cells."""
    ground, grid = search.ground.terrain.ground, search.ground.flow.grid
    rows, cols, _ = _under(search, np.array([cell]), check, angle)
    heights = ground[rows[0], cols[0]]
    middle = (int(search.row[cell]), int(search.col[cell]))
    # Where it is level the middle overflows as soon as any other place.
    off = np.hypot(rows[0] - middle[0], cols[0] - middle[1])
    low = np.lexsort((off, np.round(heights, 6)))[0]
    center = (float(search.x[cell]), float(search.y[cell]))
    return PitPlace(
        center=center,
        angle=angle,
        check=check,
        outline=Polygon(np.array(center) + _corners(check, angle)),
        low_at=grid.center(int(rows[0, low]), int(cols[0, low])),
        low_m=float(heights.min()),
        middle_m=float(ground[middle]),
        high_m=float(heights.max()),
    )


def keeps_at(search: Search, place: PitPlace, check: PitCheck) -> PitPlace | None:
    """The same place for a pit of another size; None where that keeps not all it must."""
    here = np.flatnonzero((search.x == place.center[0]) & (search.y == place.center[1]))
    if not _keeps_all(search, here, check, place.angle)[0]:
        return None
    return place_at(search, int(here[0]), check, place.angle)


def in_the_way(search: Search, most: int = 3) -> tuple[Setback, ...]:
    """The setbacks that rule out most of the ground in reach, each the tightest where it does."""
    tightest = search.tightest[search.seen & (search.margin < HALF)]
    count = np.bincount(tightest, minlength=len(search.setbacks) + 1)[1:]
    order = np.argsort(-count, kind="stable")[:most]
    return tuple(search.setbacks[i] for i in order if count[i] > 0)
