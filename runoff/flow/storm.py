"""The storm on one lot: rain on its surfaces, roof water at the downspouts, drains, and ponding.

In: a site and its terrain. Out: where the water stands and where it left. What depends on the
ground alone is kept, so that moving a downspout asks only for its water to be run again.

In: a site and its terrain. Out: a curve number or a runoff coefficient of each cell. The first is
for water that stands, the second for a flow; a coefficient of a short hard rain is no share of a
day's rain.

More rain never does less, so halving would find it; where it is known how far a storm falls short
or goes beyond, the next storm to try is aimed by that, and halving is left for when aiming fails.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import ceil, floor, isfinite, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from runoff.flow.engine.depressions import Depressions, measure
from runoff.flow.engine.drainage import basins_of
from runoff.flow.engine.pouring import Arrivals, Ponding, arrivals, pond
from runoff.flow.running import Falls, NumberAt, Running
from runoff.flow.surveyed import on_surveyed_ground
from runoff.roof.catchments import shed_areas
from runoff.roof.flows import curve_number_runoff
from runoff.rules import Rules
from runoff.site.model import Downspout, LawnCover, Paving, Site, SoilGroup, Written
from runoff.site.problems import InputError, Problem
from runoff.terrain.model import Grid, Terrain, TerrainDrain

# TR-55 (1986), appendix A: the group of a soil whose profile was disturbed, by its texture.
GROUPS: dict[str, SoilGroup] = {
    "sand": "A",
    "loamy sand": "A",
    "sandy loam": "A",
    "silt loam": "B",
    "loam": "B",
    "sandy clay loam": "C",
    "clay loam": "D",
    "silty clay loam": "D",
    "sandy clay": "D",
    "silty clay": "D",
    "clay": "D",
}


@dataclass(frozen=True)
class YardCover:
    """The hydrologic soil group and cover of a lot's lawn, and what they were taken from."""

    group: SoilGroup
    group_from: Literal["given", "texture", "assumed"]
    lawn: LawnCover
    lawn_curve_number: float
    paving_curve_number: float


def yard_cover(site: Site) -> YardCover:
    """The soil group and cover that rain on the yard is reckoned with.

    The group is the one given, else the one of the texture, else D, which sheds most: most yards
    around a house are compacted fill. Grass counts as good where nothing is said.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> from runoff.site.model import Soil
    >>> cover = yard_cover(SimpleNamespace(soil=Soil(texture="loam"), rules=Rules()))
    >>> cover.group, cover.group_from, cover.lawn_curve_number
    ('B', 'texture', 61.0)
    """
    soil, rules = site.soil, site.rules
    group: SoilGroup = "D"
    group_from: Literal["given", "texture", "assumed"] = "assumed"
    if soil.group is not None:
        group, group_from = soil.group, "given"
    elif soil.texture is not None:
        group, group_from = GROUPS[soil.texture], "texture"
    number = rules[f"curve_number_lawn_{soil.lawn}_{group.lower()}"]
    return YardCover(group, group_from, soil.lawn, number, rules["curve_number_paving"])


def curve_numbers(site: Site, terrain: Terrain) -> NDArray[np.float64]:
    """Curve number of each cell, (rows, cols); 0 where there is no open ground."""
    cover = yard_cover(site)
    return _by_cell(
        site,
        terrain,
        np.full(terrain.ground.shape, cover.lawn_curve_number),
        cover.paving_curve_number,
    )


def curve_numbers_at(site: Site, places: NDArray[np.float64]) -> NDArray[np.float64]:
    """Curve numbers at (n, 2) places of the open ground."""
    from shapely import contains_xy, prepare

    cover = yard_cover(site)
    number = np.full(len(places), cover.lawn_curve_number)
    for paved in site.paving:
        prepare(paved.outline)
        number[contains_xy(paved.outline, places[:, 0], places[:, 1])] = cover.paving_curve_number
    return number


def lawn_coefficients(
    ground: NDArray[np.float64], cell_size: float, texture: str | None, rules: Rules
) -> NDArray[np.float64]:
    """Rational coefficient of unpaved ground by its slope, (rows, cols), for a peak flow.

    Sand has figures of its own; other soil, and soil not stated, takes those of clay, the higher.
    Where the slope is not known (beside missing ground) it counts as average.
    """
    soil = "sand" if texture in ("sand", "loamy sand") else "clay"
    flat, average, steep = (
        rules[f"runoff_coefficient_lawn_{soil}_{slope}"] for slope in ("flat", "average", "steep")
    )
    if min(ground.shape) < 2:
        return np.full(ground.shape, average)
    down, right = np.gradient(ground, cell_size)
    slope = np.hypot(down, right)
    known = ~np.isnan(slope)
    coefficient = np.full(ground.shape, average)
    coefficient[known & (slope < rules["lawn_slope_average"])] = flat
    coefficient[known & (slope > rules["lawn_slope_steep"])] = steep
    return coefficient


def runoff_coefficients(site: Site, terrain: Terrain) -> NDArray[np.float64]:
    """Share of a hard rain that runs off each cell at its peak, (rows, cols).

    It is 0 where there is no open ground. For flows alone: of a storm's depth another share runs
    off, which grows as the ground gets wet (`curve_numbers`).
    """
    lawn = lawn_coefficients(terrain.ground, terrain.grid.cell_size, site.soil.texture, site.rules)
    return _by_cell(site, terrain, lawn, site.rules["runoff_coefficient_paving"])


def _by_cell(
    site: Site, terrain: Terrain, lawn: NDArray[np.float64], paving: float
) -> NDArray[np.float64]:
    """The figures of lawn, that of paving on its cells, 0 where there is no open ground."""
    for paved in site.paving:
        window, inside = _centers_on(terrain.grid, paved)
        lawn[window][inside] = paving
    lawn[terrain.closed | np.isnan(terrain.surface)] = 0.0
    return lawn


def _centers_on(grid: Grid, paving: Paving) -> tuple[tuple[slice, slice], NDArray[np.bool_]]:
    """The window of a grid around a paving, and which of its cells have their centers on it."""
    from shapely import contains_xy, prepare

    left, bottom, right, top = paving.outline.bounds
    x, y = grid.centers()
    cols = slice(*np.searchsorted(x, [left, right + grid.cell_size]))
    rows = slice(*np.searchsorted(-y, [-top, grid.cell_size - bottom]))
    prepare(paving.outline)
    return (rows, cols), contains_xy(paving.outline, *np.meshgrid(x[cols], y[rows]))


# A downspout's foot is drawn at the wall: ground is looked for this far from it, metres.
_REACH = 0.6


def foot_of(downspout: Downspout, terrain: Terrain) -> tuple[int, int]:
    """The open cell that takes a downspout's water: its own, or the nearest beside it.

    Raises
    ------
    InputError
        Where there is no ground: outside the survey, or inside a building.
    """
    found = ground_near(downspout.x, downspout.y, terrain)
    if found is None:
        expected = "a downspout's foot on surveyed ground outside the walls"
        raise InputError(
            [no_ground(downspout.x, downspout.y, terrain, downspout.written, expected)]
        )
    return found


def ground_near(x: float, y: float, terrain: Terrain) -> tuple[int, int] | None:
    """The open cell at a place, or the nearest within 0.6 m or a cell; None where there is none.

    Away is how far the cell itself is, not its center: of a cell that a wall runs through the
    center may lie in the building and the place in the open, a hand's breadth off the wall.
    """
    grid = terrain.grid
    row, col = grid.cell(x, y)
    limit = max(_REACH, grid.cell_size)
    steps = int(np.ceil(limit / grid.cell_size))
    half = grid.cell_size / 2
    found = []
    for r in range(max(row - steps, 0), min(row + steps + 1, grid.rows)):
        for c in range(max(col - steps, 0), min(col + steps + 1, grid.cols)):
            if _is_open(terrain, r, c):
                across, up = np.abs(np.subtract(grid.center(r, c), (x, y)))
                away = float(np.hypot(max(across - half, 0.0), max(up - half, 0.0)))
                if away <= limit:
                    found.append((away, float(np.hypot(across, up)), (r, c)))
    return min(found)[2] if found else None


def _is_open(terrain: Terrain, row: int, col: int) -> bool:
    return not (terrain.closed[row, col] or np.isnan(terrain.surface[row, col]))


def no_ground(x: float, y: float, terrain: Terrain, written: Written, expected: str) -> Problem:
    """What is wrong with an entry that lets water go where there is no ground."""
    row, col = terrain.grid.cell(x, y)
    inside = terrain.grid.holds(row, col) and bool(terrain.closed[row, col])
    where = "inside a building" if inside else "where no ground was surveyed"
    return Problem(written.file, written.line, written.entry, f"a place {where}", expected)


def roof_area(site: Site, downspout: Downspout) -> float:
    """Plan area of roof (m2) that one downspout carries, with what drains onto it from above."""
    area = shed_areas(site)
    return sum(area[name] * share for name, share in downspout.roofs)


def roof_water(site: Site, downspout: Downspout, rain: float) -> float:
    """Water (m3) that one downspout brings to the ground in `rain` metres of rain."""
    return roof_area(site, downspout) * rain * site.rules["runoff_coefficient_roof"]


def runoff_depths(number: NDArray[np.float64], rain: float) -> NDArray[np.float64]:
    """What runs off (m) in `rain` metres of rain, by curve number; nothing where that is 0.

    Examples
    --------
    >>> runoff_depths(np.array([0.0, 100.0]), 0.05).round(4).tolist()
    [0.0, 0.05]
    """
    numbers, which = np.unique(number, return_inverse=True)
    depths = [curve_number_runoff(rain, each) if each > 0 else 0.0 for each in numbers]
    return np.array(depths)[which].reshape(number.shape)


@dataclass(frozen=True)
class LetGo:
    """Water let go at a cell: `per_rain` m3 for each metre of rain, `fixed` m3 in any rain.

    `place` is where exactly, plan metres; the cell's center where it is not given.
    """

    cell: tuple[int, int]
    per_rain: float
    fixed: float = 0.0
    place: tuple[float, float] | None = None


def water_of(site: Site, downspout: Downspout, terrain: Terrain) -> LetGo:
    """A downspout's water, let go at its foot.

    Raises
    ------
    InputError
        Where there is no ground, as `foot_of`.
    """
    foot, place = foot_of(downspout, terrain), (downspout.x, downspout.y)
    return LetGo(foot, roof_water(site, downspout, 1.0), place=place)


@dataclass(frozen=True)
class StormRun:
    """A storm that has run: the ponding, and what each drain took.

    `drained` is m3 by drain name. `overwhelmed` names the drains that are not open to all that
    comes; those of them in `circling` took nothing, since it would have come back to them.
    """

    ponding: Ponding
    drained: Mapping[str, float]
    overwhelmed: tuple[str, ...]
    circling: tuple[str, ...] = ()


@dataclass(frozen=True)
class Ready:
    """A lot's ground with some drains open: its depressions and where water comes to them.

    `of_a_metre` is, by curve number, where 1 m off the ground of that number comes to: a storm's
    water is that times its runoff.
    """

    found: Depressions
    running: Running
    falls: Falls
    of_a_metre: Mapping[float, Arrivals]


@dataclass
class LotFlow:
    """One lot's ground made ready for storms: the hierarchy and the yard's own rain.

    Parameters
    ----------
    terrain : Terrain
    curve_number : (rows, cols) float64, of each cell; 0 where no rain runs off
    duration : float, seconds, how long drains work at their capacity
    number_at : callable, optional
        Curve numbers at (n, 2) places of the plan; those of the cells where it is not given.
    """

    terrain: Terrain
    curve_number: NDArray[np.float64]
    duration: float
    number_at: NumberAt | None = None
    _grounds: dict[frozenset[str], Ready] = field(default_factory=dict)

    @property
    def grid(self) -> Grid:
        """The terrain's grid."""
        return self.terrain.grid

    def shed(self, rain: float) -> NDArray[np.float64]:
        """What runs off each cell in `rain` metres of rain, (rows, cols), metres."""
        return runoff_depths(self.curve_number, rain)

    def ground(self, drains: frozenset[str]) -> Ready:
        """The ground with these drains open; kept."""
        if drains not in self._grounds:
            inlets = [self.flat(d.inlet) for d in self.terrain.drains if d.name in drains]
            basins = basins_of(
                self.terrain.surface,
                self.terrain.closed,
                np.array(inlets, dtype=np.int64) if inlets else None,
            )
            found = on_surveyed_ground(measure(basins), self.terrain, drains)
            running = Running(found, self.terrain, drains)
            found = replace(found, onto=running.onto())
            falls = running.falls(self.curve_number, self.number_at)
            size, cell_area = self.curve_number.size, self.grid.cell_area
            of_a_metre = {}
            for number in np.unique(falls.number[falls.number > 0]).tolist():
                mine = falls.number == number
                cells = np.bincount(falls.to_cell[mine], falls.area[mine] / cell_area, size)
                of_a_metre[number] = arrivals(found, cells.astype(np.float64))
            self._grounds[drains] = Ready(found, running, falls, of_a_metre)
        return self._grounds[drains]

    def ground_of(self, run: StormRun) -> Ready:
        """The ground that a storm ran on."""
        names = {drain.name for drain in self.terrain.drains} - set(run.overwhelmed)
        return self.ground(frozenset(names))

    def yard_rain(self, rain: float, run: StormRun) -> float:
        """What runs off the ground (m3) in `rain` metres of rain."""
        falls = self.ground_of(run).falls
        return float(falls.area @ runoff_depths(falls.number, rain))

    def flat(self, cell: tuple[int, int]) -> int:
        """Flat index of a cell."""
        return cell[0] * self.grid.cols + cell[1]

    def run(self, rain: float, let_go: list[LetGo]) -> StormRun:
        """Let `rain` metres fall on the ground, with the water let go at points.

        Every drain first takes all that reaches it; one that is asked for more than its capacity
        for the duration then takes just that, and the rest runs on over its inlet. One whose water
        would come back to it (its outlet's ground is full and spills this way) takes none.
        """
        full: list[TerrainDrain] = []
        circling: list[str] = []
        while True:
            names = [drain.name for drain in full]
            taking = [drain for drain in self.terrain.drains if drain.name not in names]
            ponding, taken, growth = self._run_with(rain, let_go, taking, full)
            if growth:
                circling.append(max(growth, key=lambda name: growth[name]))
                full += [replace(d, capacity=0.0) for d in taking if d.name == circling[-1]]
                continue
            over = [d for d in taking if taken[d.name] > self._most(d)]
            if not over:
                return StormRun(ponding, taken, tuple(names), tuple(circling))
            # One at a time: what the first no longer takes may be what overwhelmed the next.
            full.append(over[0])

    def run_as(self, before: StormRun, rain: float, let_go: list[LetGo]) -> Ponding:
        """Another rain on the ground of a storm that has run, the same drains overwhelmed."""
        full = [
            replace(d, capacity=0.0) if d.name in before.circling else d
            for d in self.terrain.drains
            if d.name in before.overwhelmed
        ]
        taking = [d for d in self.terrain.drains if d.name not in before.overwhelmed]
        return self._run_with(rain, let_go, taking, full)[0]

    def comes_to(self, ready: Ready, let_go: Sequence[LetGo]) -> list[int]:
        """The flat cells that water let go comes to on ground made ready."""
        return [
            ready.running.from_place(
                each.place or self.grid.center(*each.cell), self.flat(each.cell)
            )
            for each in let_go
        ]

    def _outlets(self, ready: Ready) -> dict[str, int]:
        """The flat cells that water comes to which leaves the drains' outlets, by drain."""
        with_one = [(d.name, d.outlet) for d in self.terrain.drains if d.outlet is not None]
        cells = self.comes_to(ready, [LetGo(outlet, 0.0) for _, outlet in with_one])
        return dict(zip([name for name, _ in with_one], cells, strict=True))

    def _most(self, drain: TerrainDrain) -> float:
        """The most a drain takes in the storm, m3."""
        return np.inf if drain.capacity is None else drain.capacity * self.duration

    def _run_with(
        self,
        rain: float,
        let_go: list[LetGo],
        taking: list[TerrainDrain],
        full: list[TerrainDrain],
    ) -> tuple[Ponding, dict[str, float], dict[str, float]]:
        """Run with some drains open to all that comes and some taking just their capacity.

        Returns the ponding, what each drain took, and by how much each one's water still grows:
        where it does, water comes back to the drain that let it go.
        """
        ready = self.ground(frozenset(drain.name for drain in taking))
        found = ready.found
        yard = Arrivals(found, np.zeros(found.hierarchy.leaves + 1), np.zeros(found.node.size))
        for number, of_a_metre in ready.of_a_metre.items():
            yard = yard.with_(of_a_metre, curve_number_runoff(rain, number))
        amounts = [each.per_rain * rain + each.fixed for each in let_go]
        points = list(zip(self.comes_to(ready, let_go), amounts, strict=True))
        outlets = self._outlets(ready)
        wanted = [(self.flat(drain.inlet), -self._most(drain)) for drain in full]
        taken = {d.name: 0.0 for d in taking} | {d.name: self._most(d) for d in full}
        # Drains may feed each other; one more round than there are drains settles any chain.
        for _ in range(len(taken) + 1):
            released = [
                (outlets[d.name], taken[d.name])
                for d in (*taking, *full)
                if d.name in outlets and taken[d.name] > 0
            ]
            arriving = yard.plus(points + wanted + released, self.grid.cell_area)
            ponding = pond(found, arriving)
            reached = {
                d.name: float(ponding.left[self.flat(d.inlet)]) * self.grid.cell_area
                for d in taking
            } | self._taken_by(full, ponding)
            if reached == taken:
                return ponding, taken, {}
            before, taken = taken, reached
        grown = {d.name: taken[d.name] - before[d.name] for d in taking}
        return ponding, taken, {name: more for name, more in grown.items() if more != 0}

    def _taken_by(self, full: list[TerrainDrain], ponding: Ponding) -> dict[str, float]:
        """What overwhelmed drains took: their most, less what never came to where they lie.

        An open inlet also draws in what would have run past it; a full one does not.
        """
        found = ponding.depressions
        owed = ponding.owed * self.grid.cell_area
        taken = {}
        for drain in full:
            inlet = self.flat(drain.inlet)
            leaf = int(found.node[inlet])
            at = int(found.hierarchy.pit_cell[leaf] if leaf > 0 else found.exits[inlet])
            missing = min(owed[at], self._most(drain))
            owed[at] -= missing
            taken[drain.name] = float(self._most(drain) - missing)
        return taken


GREATEST_RAIN = 1.0
"""Storms are tried up to this depth, metres."""
_STEPS = 2**14
"""Steps in which storms up to the greatest are told apart: 0.06 mm."""
_AIMED = 2
"""So many aimed storms must halve the interval twice, or it is halved itself."""


def least_rain(
    beyond: Callable[[float], float], at_none: float = -float("inf"), tried: float | None = None
) -> float:
    """Least rain (m) for which `beyond` is above 0, to 0.1 mm; infinite where 1 m does not do it.

    Parameters
    ----------
    beyond : callable
        How far a rain (m) goes beyond what is asked: above 0 where it does it. Any unit; infinite
        where the sign alone is known. Its sign never falls back as rain grows.
    at_none : float
        The same for no rain at all, where it is known; 0 or below.
    tried : float, optional, metres
        A rain that costs nothing to ask about, as it has been run before.

    Returns
    -------
    float, metres

    Examples
    --------
    >>> asked = []
    >>> round(least_rain(lambda rain: asked.append(rain) or rain - 0.05, at_none=-0.05), 4)
    0.05
    >>> len(asked)
    3
    >>> least_rain(lambda rain: rain - 2.0)
    inf
    """
    search = _Search(at_none)
    if tried is not None and 0 < tried <= GREATEST_RAIN:
        search.learn(tried * _STEPS, beyond(tried))
    while search.enough - search.short > 1:
        step = search.next_step()
        search.learn(step, beyond(step * GREATEST_RAIN / _STEPS))
    return search.enough * GREATEST_RAIN / _STEPS if search.enough <= _STEPS else float("inf")


class _Search:
    """The interval that holds the answer, in steps, and what is known at and before its ends."""

    def __init__(self, at_none: float) -> None:
        self.short, self.enough = 0, _STEPS + 1
        self._lows = [(0.0, at_none)]
        self._high = (float(_STEPS + 1), float("inf"))
        self._widths = [self.enough - self.short]

    def learn(self, step: float, beyond: float) -> None:
        """Narrow the interval by one storm, which need not be of whole steps."""
        if beyond > 0:
            self.enough, self._high = ceil(step), (step, beyond)
        else:
            self.short = floor(step)
            self._lows.append((step, beyond))
        self._widths.append(self.enough - self.short)

    def next_step(self) -> int:
        """The step to try next."""
        stuck = len(self._widths) > _AIMED and self._widths[-1] * 4 > self._widths[-1 - _AIMED]
        aim = None if stuck else self._aim()
        if aim is None:
            aim = self._middle()
            self._widths = []
        return min(max(ceil(aim), self.short + 1), self.enough - 1)

    def _aim(self) -> float | None:
        """Where a straight line through what is known says that the answer lies."""
        low, ends = self._lows[-1], [self._high, *self._lows[-2:-1]]
        end = next((end for end in ends if isfinite(end[1])), None)
        if end is None or not isfinite(low[1]) or end[1] == low[1]:
            return None
        aim = low[0] - low[1] * (end[0] - low[0]) / (end[1] - low[1])
        return aim if low[0] <= aim <= self.enough else None

    def _middle(self) -> float:
        """The middle of the interval; by ratio where its ends are of different order."""
        if self.enough > _STEPS:
            return _STEPS
        if self.enough > 4 * self.short:
            return sqrt(max(self.short, 1) * self.enough)
        return (self.short + self.enough) / 2
