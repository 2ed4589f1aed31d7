"""The soil before one run of wall: along its profiles, on the terrain's cells, and its volume.

In: a run of wall, and the ground as its neighbors' soil leaves it. Out: how much each profile and
each cell is raised, metres above the ground as it is.

In: a site, the stations of a run, and the fill that they want. Out: how far it is short, and why it
is refused.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, fields
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from runoff.foundation.grade import ROUNDING, WET, limits_of
from runoff.foundation.model import Refusal, SoilWedge, Station, WallRun
from runoff.foundation.walls import Array, Profiles, Stations, measure
from runoff.site.model import OTHERS_GROUND, LotSide, Site
from runoff.terrain.model import Grid, Terrain

Said = Refusal | None
"""What is said of soil before a station; None where it may lie there."""
_A_LITTLE = 0.006
"""Soil on paving or in an easement thinner than this, metres, is not placed there."""
_STAKED_TO = 0.0254 / 8
"""Metres to which soil is staked and the grid lifts it: over by no more is not too high."""


@dataclass(frozen=True)
class Fill:
    """Soil over the profiles of a run.

    `out` and `depth` are (n, samples) metres from the wall and of soil; `toe` is (n,) metres from
    the wall where it runs out, `top` (n,) the height of the corrected ground at the wall.
    """

    out: Array
    depth: Array
    toe: Array
    top: Array


def over_the_clearance(site: Site, run: WallRun, members: Sequence[Station], fill: Fill) -> Array:
    """How much higher than the clearances allow the soil stands at each station, (n,) metres."""
    caps = np.array([_highest_soil(site, run, s.along_m) for s in members])
    over = np.where(fill.depth[:, 0] > 0, fill.top - caps, 0.0)
    return np.where(over > _STAKED_TO, over, 0.0)


def clearance_known(site: Site, run: WallRun) -> bool:
    """Whether something on the wall says how high soil may stand, at every station."""
    return all(np.isfinite(_highest_soil(site, run, s.along_m)) for s in run.stations)


def _highest_soil(site: Site, run: WallRun, along: float) -> float:
    """The greatest height of soil at a place on a wall, infinite where nothing is known."""
    below = {"siding": site.rules["siding_clearance"]}
    other = site.rules["foundation_above_grade_veneer"]
    building = next(b for b in site.buildings if b.name == run.building)
    edges = [
        clearance.height - below.get(clearance.kind, other)
        for clearance in building.clearances
        if clearance.wall == run.wall and clearance.start <= along <= clearance.end
    ]
    edges += [
        opening.sill - other
        for opening in site.openings
        if opening.sill is not None
        and (opening.building, opening.wall) == (run.building, run.wall)
        and abs(along - opening.distance) <= opening.width / 2
    ]
    return min(edges, default=np.inf)


def what_it_buries(site: Site, terrain: Terrain, stations: Stations, fill: Fill) -> list[Said]:
    """What forbids soil before each station by lying there; None where nothing does.

    What lies within a cell beside the profile forbids it too: half of its soil would lie there.
    """
    line, sample = (fill.depth > _A_LITTLE).nonzero()
    at = stations.feet[line] + fill.out[line, sample, None] * stations.outward[line]
    aside = terrain.grid.cell_size * stations.outward[line][:, ::-1] * (1.0, -1.0)
    line = np.tile(line, 3)
    x, y = np.concatenate([at, at - aside, at + aside]).T
    said: list[Said] = [None] * len(fill.depth)
    for outline, reason in _in_the_way(site):
        left, bottom, right, top = outline.bounds
        near = np.flatnonzero((x >= left) & (x <= right) & (y >= bottom) & (y <= top))
        met = near[shapely.contains_xy(outline, x[near], y[near])]
        for k in np.unique(line[met]):
            said[k] = said[k] or reason
    return said


def _in_the_way(site: Site) -> Iterator[tuple[shapely.Geometry, Refusal]]:
    for paving in site.paving:
        yield paving.outline, Refusal("buries paving", paving.name, of=paving.kind)
    for easement in site.easements:
        yield easement.area, Refusal("dams an easement", easement.name)


def still_standing(left_standing: float) -> Said:
    """Why soil is no use where the storm's water stands this much above it, metres."""
    if left_standing <= WET:
        return None
    return Refusal("water still stands", over_m=left_standing)


def onto_neighbor(site: Site, terrain: Terrain, stations: Stations, fill: Fill) -> list[Said]:
    """Why soil must not lie before each station for reaching a neighbor's side; None if it may."""
    said: list[Said] = [None] * len(fill.toe)
    for side in _neighbors(site):
        toes = shapely.points(stations.feet + fill.toe[:, None] * stations.outward)
        near = shapely.distance(toes, shapely.LineString(side.line)) <= terrain.grid.cell_size
        for k in np.flatnonzero(near & (fill.toe > 0)):
            said[k] = Refusal("reaches a neighbor", side.name)
    return said


def _neighbors(site: Site) -> list[LotSide]:
    sides = () if site.lot is None else site.lot.sides
    return [side for side in sides if side.neighbor in OTHERS_GROUND]


def no_soil_on(site: Site, cell_size: float) -> shapely.Geometry:
    """Where no cell is raised whatever is asked: paving, easements, a neighbor's side."""
    beside = [shapely.LineString(side.line).buffer(cell_size) for side in _neighbors(site)]
    return shapely.union_all([*(outline for outline, _ in _in_the_way(site)), *beside])


BESIDE_CELLS = 3.0
"""Cells by which the soil runs on past a run's ends, so that its last stations lie on it."""

_LEAST_SPARE = 1e-4
_MOST_SPARE = 0.002
_MOST_LIFT = 0.03
_THIN = 1e-4
"""Soil thinner than this, metres, is not told from the ground."""
_BLEND = 1.0 / 3.0
"""Steepest slope along the wall between soil of two heights: what a mower climbs."""


@dataclass(frozen=True)
class _Covered:
    """Open cells before a run: (k, 2) rows and columns, metres along the wall and out from it."""

    cells: NDArray[np.int64]
    along: Array
    out: Array

    @cached_property
    def extent(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """The least and the greatest row and column."""
        if not len(self.cells):
            return np.full(2, 1), np.full(2, -1)
        return self.cells.min(axis=0), self.cells.max(axis=0)


@dataclass
class Soil:
    """The soil before one run of wall.

    `first` is what the run asks for by itself. `asked` is (n, samples) metres over the profiles as
    they are, and `lift` (n,) metres by which the top is lifted at the wall for the little that the
    grid takes off the toe. `placed` is how much each covered cell is raised, metres.
    `spare` is metres of fall that are given beyond what is required. `lean` is (n,) the slope that
    the least soil falls at, 0 where a plane is to clear all the ground; `kept_off` is where no soil
    may lie.
    """

    run: WallRun
    members: Sequence[Station]
    stations: Stations
    before: Profiles
    first: Fill
    ground: Array
    grid: Grid
    boundary: shapely.Polygon | None
    kept_off: shapely.Geometry
    rise_limit: float
    lean: Array
    asked: Array
    lift: Array
    spare: float = 0.0
    placed: Array = field(default_factory=lambda: np.zeros(0))

    @cached_property
    def covered(self) -> _Covered:
        """The cells with ground, on the lot, that the soil may cover."""
        stations, grid = self.stations, self.grid
        reach = float(stations.reach.max())
        beside = BESIDE_CELLS * grid.cell_size
        rows, cols = _window(grid, stations, reach + 2 * beside)
        centers_x, centers_y = grid.centers()
        row, col = (v.ravel() for v in np.meshgrid(rows, cols, indexing="ij"))
        x, y = centers_x[col], centers_y[row]
        along, out = _along_and_out(stations, np.stack([x, y], axis=1))
        near = (along >= stations.along[0] - beside) & (along <= stations.along[-1] + beside)
        farthest = reach + np.ptp(_rims(stations)) + grid.cell_size
        near &= (out >= -grid.cell_size) & (out <= farthest)
        near &= np.isfinite(self.ground[row, col])
        if self.boundary is not None:
            at = np.flatnonzero(near)
            near[at] = shapely.contains_xy(self.boundary, x[at], y[at])
        at = np.flatnonzero(near)
        shapely.prepare(self.kept_off)
        near[at] = ~shapely.intersects_xy(self.kept_off, x[at], y[at])
        at = np.flatnonzero(near)
        return _Covered(np.stack([row[at], col[at]], axis=1), along[at], out[at])

    def make_leaner(self, where: NDArray[np.bool_], slope: float) -> None:
        """Ask at some stations for the least soil that passes, falling this steeply at least."""
        grade = np.array([s.required_m / s.reach_m for s in self.members])
        self.lean = np.where(where, np.maximum(grade, slope), self.lean)
        self.first = fill_over(self.members, self.before, self.rise_limit, self.lean)

    def start_again(self) -> None:
        """Forget the soil, the neighbors' being no longer what it was."""
        self.asked, self.lift = np.zeros_like(self.asked), np.zeros_like(self.lift)
        self.spare, self.placed = 0.0, np.zeros(len(self.covered.cells))

    def ask(self, terrain: Terrain, profiles: Profiles) -> None:
        """Ask for the soil that makes the run pass on this ground, which has these profiles."""
        # The oftener its neighbors' soil undoes it, the more it gets to spare.
        self.spare = min(max(4.0 * self.spare, _LEAST_SPARE), _MOST_SPARE)
        fill = fill_over(self.members, profiles, self.rise_limit, self.lean)
        above = profiles.z + fill.depth - self.before.z
        asked = np.fmax(self.asked, np.where(fill.depth > 0, above, 0.0))
        rows, cols = self.covered.cells.T
        # At the wall a profile's height is a plane's, which a step in the soil may tilt too far.
        most = (terrain.ground[rows, cols] - self.ground[rows, cols]).max(initial=0.0)
        others = np.minimum(np.nan_to_num(profiles.z - self.before.z), most)
        self.asked = _blended(self.stations.along, np.maximum(asked, others))
        self.lift = np.zeros_like(self.lift)  # what there was of it stands in the profiles

    def place(self, terrain: Terrain) -> None:
        """Raise this ground to the soil that is asked for, where it is not as high already."""
        self.placed = np.maximum(self.placed, self._raised())
        rows, cols = self.covered.cells.T
        there = terrain.ground[rows, cols]
        terrain.ground[rows, cols] = np.maximum(there, self.ground[rows, cols] + self.placed)

    def lift_by(self, wanting: Array) -> None:
        """Lift the soil's top by the little that is wanting at each station, metres."""
        # A station's cells are its neighbors' too.
        more = self.lift + maximum_filter1d(wanting, 3, mode="nearest")
        self.lift = np.minimum(more, _MOST_LIFT)

    def meets(self, other: Soil) -> bool:
        """Whether another run's soil comes near enough to change this one's profiles."""
        low, high = self.covered.extent
        other_low, other_high = other.covered.extent
        return bool((low <= other_high).all() and (other_low <= high).all())

    def made_fill(self, made: Profiles) -> Fill:
        """What lies over the profiles on ground with all the soil placed, its neighbors' too."""
        depth = np.maximum(np.nan_to_num(made.z - self.before.z), 0.0)
        depth[depth < _THIN] = 0.0
        return Fill(self.before.out, depth, _toe(self.before.out, depth), made.z[:, 0])

    def cells(self) -> tuple[NDArray[np.int64], Array]:
        """The cells that the soil covers, (k, 2), and how much it raises each, metres."""
        keep = self.placed > 0
        return self.covered.cells[keep], self.placed[keep]

    def before_the_run(self) -> NDArray[np.bool_]:
        """Which of those cells lie before the run itself, not past its ends."""
        along = self.covered.along[self.placed > 0]
        return (along >= self.run.start_m) & (along <= self.run.end_m)

    def reaches(self, other: Soil, start: float, end: float) -> NDArray[np.bool_]:
        """Which profiles come over another run's, those from `start` to `end` (m) on its wall."""
        out = self.before.out[:, :, None]
        points = self.stations.feet[:, None, :] + out * self.stations.outward[:, None, :]
        along, away = _along_and_out(other.stations, points.reshape(-1, 2))
        over = (along >= start) & (along <= end)
        over &= (away >= 0) & (away <= float(other.stations.reach.max()))
        return np.any(over.reshape(out.shape[:2]), axis=1)

    def wanting(self, made: Profiles, spare: float = 0.0) -> Array:
        """By how much each station fails on this ground to pass with some to spare, metres."""
        required = np.array([s.required_m for s in self.members])
        wanting = np.maximum(required - made.fall, made.rise - self.rise_limit) + spare
        return np.where(wanting > ROUNDING / 2, wanting, 0.0)

    def _raised(self) -> Array:
        toe = np.maximum(_toe(self.before.out, self.asked), ROUNDING)[:, None]
        share = np.clip(1.0 - self.before.out / toe, 0.0, None)
        depth = self.asked + self.lift[:, None] * share
        raised = _interpolated(self.stations, self.before.out, depth, self.covered)
        for end, past in ((0, self._past[0]), (-1, self._past[1])):
            raised[past] = self._beyond(end, past, depth, raised[past])
        return raised

    @cached_property
    def _past(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """The covered cells past the run's start and past its end."""
        along = self.covered.along
        return np.flatnonzero(along < self.run.start_m), np.flatnonzero(along > self.run.end_m)

    def _beyond(self, end: int, past: NDArray[np.int64], depth: Array, raised: Array) -> Array:
        """The soil past an end: it falls on as steeply as before the wall, whatever lies under it.

        So the next wall's soil round a corner need not be higher than this one's.
        """
        station, covered = self.members[end], self.covered
        which = np.full(len(past), end % len(self.members))
        top = np.nan_to_num(self.before.z + depth, nan=-np.inf)
        height = _on_profile(self.before.out, top, covered.out[past], which)
        corner = self.run.start_m if end == 0 else self.run.end_m
        fall = np.abs(covered.along[past] - corner) * station.required_m / station.reach_m
        rows, cols = covered.cells[past].T
        return np.where(raised > 0, np.maximum(height - fall - self.ground[rows, cols], 0.0), 0.0)


def soil_along(
    site: Site,
    terrain: Terrain,
    run: WallRun,
    members: Sequence[Station],
    before: Profiles,
    lean: Array | None = None,
) -> Soil:
    """The soil before a run of wall, or the part of it that these stations stand for.

    Parameters
    ----------
    site : Site
    terrain : Terrain
    run : WallRun
    members : sequence of Station
        Those of the run that have a profile.
    before : Profiles
        Theirs, on the ground as it is.
    lean : (n,) float64, optional
        As `Soil` holds it.

    Returns
    -------
    Soil
        None of it placed yet.
    """
    stations = stations_of(members)
    rise_limit = limits_of(site, terrain).rise
    lean = np.zeros(len(members)) if lean is None else lean
    return Soil(
        run=run,
        members=members,
        stations=stations,
        before=before,
        first=fill_over(members, before, rise_limit, lean),
        ground=terrain.ground,
        grid=terrain.grid,
        boundary=None if site.lot is None else site.lot.boundary,
        kept_off=no_soil_on(site, terrain.grid.cell_size),
        rise_limit=rise_limit,
        lean=lean,
        asked=np.zeros(before.z.shape),
        lift=np.zeros(len(members)),
    )


def measure_all(
    terrain: Terrain, groups: Sequence[Sequence[Station]], longest: float
) -> list[Profiles]:
    """The profiles of several groups of stations, measured at once; `longest` is metres."""
    stations = stations_of([station for group in groups for station in group])
    if not len(stations.along):
        return []
    profiles = measure(terrain, stations, ends_of(stations), longest)
    bounds = np.cumsum([0, *(len(group) for group in groups)])
    return [some_of(profiles, slice(start, end)) for start, end in pairwise(bounds)]


def some_of(profiles: Profiles, which: slice) -> Profiles:
    """The profiles of some of the stations."""
    return Profiles(*(getattr(profiles, each.name)[which] for each in fields(profiles)))


def fill_over(
    members: Sequence[Station], profiles: Profiles, rise_limit: float, lean: Array
) -> Fill:
    """The soil over each profile: nothing where the station drains away as it is.

    The plane at the required grade that clears all the ground; at stations that `lean`, the least
    that passes: as high at the wall as the fall over the whole profile asks, falling at the slope
    given to where it first meets the ground.
    """
    out, z = profiles.out, profiles.z
    known = np.isfinite(z)
    required = np.array([s.required_m for s in members])
    grade = required / np.array([s.reach_m for s in members])
    wanting = np.array([s.verdict != "drains away" for s in members])
    wanting |= (profiles.fall < required) | (profiles.rise > rise_limit)
    over = np.where(known, z + grade[:, None] * out, -np.inf)
    top = over.max(axis=1)
    # The last sample that the plane touches is where it meets the ground.
    touch = over.shape[1] - 1 - (over[:, ::-1] >= top[:, None] - ROUNDING).argmax(axis=1)
    level = np.fmax.accumulate(np.where(known, z, -np.inf)[:, ::-1], axis=1)[:, ::-1]
    leans = lean > 0
    if leans.any():
        least = np.maximum(z[:, 0] - profiles.fall + required, level[:, 0])
        steep = np.where(known, z + lean[:, None] * out, -np.inf)
        met = (steep >= least[:, None] - ROUNDING).argmax(axis=1)
        top, touch = np.where(leans, least, top), np.where(leans, met, touch)
        over = np.where(leans[:, None], steep, over)
    inside = np.arange(over.shape[1])[None, :] <= touch[:, None]
    low = np.nan_to_num(level - z)
    traps = np.where(inside, 0.0, low).max(axis=1) > rise_limit
    beyond = np.where(traps[:, None], low, 0.0)
    depth = np.where(inside, top[:, None] - over, beyond)
    depth = np.where(wanting[:, None] & known, np.maximum(depth, 0.0), 0.0)
    depth[depth < ROUNDING] = 0.0
    return Fill(out, depth, _toe(out, depth), np.where(wanting, top, z[:, 0]))


def settles_by(site: Site, wedge: SoilWedge) -> float:
    """How much higher than it is to end the soil is to lie at the wall at first, metres."""
    share = site.rules["soil_settlement"]
    return wedge.height_m * share / (1.0 - share)


def _blended(along: Array, depth: Array) -> Array:
    """The depth of the soil, raised where it would drop off along the wall too steeply."""
    blended = depth.copy()
    for k, step in enumerate(np.abs(np.diff(along))):
        blended[k + 1] = np.maximum(blended[k + 1], blended[k] - _BLEND * step)
    for k in range(len(along) - 1, 0, -1):
        step = abs(along[k] - along[k - 1])
        blended[k - 1] = np.maximum(blended[k - 1], blended[k] - _BLEND * step)
    return blended


def _toe(out: Array, depth: Array) -> Array:
    """How far from the wall the soil over each profile runs out, metres."""
    filled = depth > 0
    last = depth.shape[1] - 1 - filled[:, ::-1].argmax(axis=1)
    end = np.minimum(last + 1, depth.shape[1] - 1)
    return np.where(filled.any(axis=1), out[np.arange(len(out)), end], 0.0)


def stations_of(members: Sequence[Station]) -> Stations:
    return Stations(
        walls=(),
        wall=np.zeros(len(members), dtype=np.int64),
        along=np.array([s.along_m for s in members]),
        feet=np.array([s.foot for s in members]),
        outward=np.array([s.outward for s in members]),
        reach=np.array([s.reach_m for s in members]),
        cut_by=tuple(s.cut_by for s in members),
    )


def ends_of(stations: Stations) -> Array:
    return stations.feet + stations.reach[:, None] * stations.outward


def _along_and_out(stations: Stations, points: Array) -> tuple[Array, Array]:
    """Metres along the wall from its first corner, and out from it, of plan positions."""
    away = stations.outward[0]
    along_wall = np.array([-away[1], away[0]])
    if len(stations.feet) > 1 and (stations.feet[-1] - stations.feet[0]) @ along_wall < 0:
        along_wall = -along_wall
    # A window well's profile starts at its rim, out from the line of the wall.
    nearest = _rims(stations).min()
    from_first = points - stations.feet[0]
    return stations.along[0] + from_first @ along_wall, from_first @ away - nearest


def _rims(stations: Stations) -> Array:
    """How far out of the first one each profile starts, metres."""
    return ((stations.feet - stations.feet[0]) * stations.outward).sum(axis=1)


def _window(
    grid: Grid, stations: Stations, margin: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows and columns of the cells within a margin of the stations' feet."""
    left, bottom = stations.feet.min(axis=0) - margin
    right, top = stations.feet.max(axis=0) + margin
    last_row, first_col = grid.cell(left, bottom)
    first_row, last_col = grid.cell(right, top)
    rows = np.arange(max(first_row, 0), min(last_row + 1, grid.rows))
    return rows, np.arange(max(first_col, 0), min(last_col + 1, grid.cols))


def _interpolated(stations: Stations, out: Array, depth: Array, at: _Covered) -> Array:
    """Depth at each place, linear between stations and between samples."""
    count = len(stations.along)
    place = np.interp(at.along, stations.along, np.arange(count))
    first = np.minimum(place.astype(np.int64), max(count - 2, 0))
    share = place - first
    second = np.minimum(first + 1, count - 1)
    rims = _rims(stations)
    rims = rims - rims.min()
    one, other = (_on_profile(out, depth, at.out - rims[k], k) for k in (first, second))
    return np.maximum((1 - share) * one + share * other, 0.0)


def _on_profile(out: Array, depth: Array, at: Array, which: NDArray[np.int64]) -> Array:
    samples = out.shape[1]
    place = np.maximum(at, 0.0) / (out[which, -1] / (samples - 1))
    low = np.clip(np.floor(place).astype(np.int64), 0, samples - 2)
    share = place - low
    value = depth[which, low] * (1 - share) + depth[which, low + 1] * share
    return np.where(place > samples - 1, 0.0, value)
