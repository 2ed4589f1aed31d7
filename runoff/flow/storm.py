"""The storm on one lot: rain on its surfaces, roof water at the downspouts, drains, and ponding.

In: a site and its terrain. Out: where the water stands and where it left. What depends on the
ground alone is kept, so that moving a downspout asks only for its water to be run again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from runoff.flow.depressions import Depressions, measure
from runoff.flow.drainage import basins_of
from runoff.flow.pouring import Arrivals, Ponding, arrivals, pond
from runoff.flow.surveyed import on_surveyed_ground
from runoff.roof.flows import curve_number_runoff
from runoff.roof.shed import shed_areas
from runoff.site.model import Downspout, Site, Written
from runoff.site.problems import InputError, Problem
from runoff.terrain.model import Grid, Terrain, TerrainDrain

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


@dataclass(frozen=True)
class LetGo:
    """Water let go at a cell: `per_rain` m3 for each metre of rain, `fixed` m3 in any rain."""

    cell: tuple[int, int]
    per_rain: float
    fixed: float = 0.0


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


@dataclass
class LotFlow:
    """One lot's ground made ready for storms: the hierarchy and the yard's own rain.

    Parameters
    ----------
    terrain : Terrain
    curve_number : (rows, cols) float64, of each cell; 0 where no rain runs off
    duration : float, seconds, how long drains work at their capacity
    """

    terrain: Terrain
    curve_number: NDArray[np.float64]
    duration: float
    _grounds: dict[frozenset[str], tuple[Depressions, dict[float, Arrivals]]] = field(
        default_factory=dict
    )

    @property
    def grid(self) -> Grid:
        """The terrain's grid."""
        return self.terrain.grid

    def shed(self, rain: float) -> NDArray[np.float64]:
        """What runs off each cell in `rain` metres of rain, (rows, cols), metres."""
        numbers, which = np.unique(self.curve_number, return_inverse=True)
        depths = [curve_number_runoff(rain, each) if each > 0 else 0.0 for each in numbers]
        return np.array(depths)[which].reshape(self.curve_number.shape)

    def ground(self, drains: frozenset[str]) -> tuple[Depressions, dict[float, Arrivals]]:
        """Depressions with these drains open, and by curve number where its ground drains to; kept.

        Each is for 1 m off the cells of that number: a storm's water is that times its runoff.
        """
        if drains not in self._grounds:
            inlets = [self.flat(d.inlet) for d in self.terrain.drains if d.name in drains]
            basins = basins_of(
                self.terrain.surface,
                self.terrain.closed,
                np.array(inlets, dtype=np.int64) if inlets else None,
            )
            found = on_surveyed_ground(measure(basins), self.terrain, drains)
            number = self.curve_number.ravel()
            self._grounds[drains] = (
                found,
                {
                    float(each): arrivals(found, (number == each).astype(np.float64))
                    for each in np.unique(number)
                },
            )
        return self._grounds[drains]

    def flat(self, cell: tuple[int, int]) -> int:
        """Flat index of a cell."""
        return cell[0] * self.grid.cols + cell[1]

    def run(self, rain: float, let_go: list[LetGo]) -> StormRun:
        """Let `rain` metres fall on the ground, with the water let go at points.

        Every drain first takes all that reaches it; one that is asked for more than its capacity
        for the duration then takes just that, and the rest runs on over its inlet. One whose water
        would come back to it (its outlet's ground is full and spills this way) takes none.
        """
        points = self._points(rain, let_go)
        full: list[TerrainDrain] = []
        circling: list[str] = []
        while True:
            names = [drain.name for drain in full]
            taking = [drain for drain in self.terrain.drains if drain.name not in names]
            ponding, taken, growth = self._run_with(rain, points, taking, full)
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
        return self._run_with(rain, self._points(rain, let_go), taking, full)[0]

    def _points(self, rain: float, let_go: list[LetGo]) -> list[tuple[int, float]]:
        return [(self.flat(each.cell), each.per_rain * rain + each.fixed) for each in let_go]

    def _most(self, drain: TerrainDrain) -> float:
        """The most a drain takes in the storm, m3."""
        return np.inf if drain.capacity is None else drain.capacity * self.duration

    def _run_with(
        self,
        rain: float,
        points: list[tuple[int, float]],
        taking: list[TerrainDrain],
        full: list[TerrainDrain],
    ) -> tuple[Ponding, dict[str, float], dict[str, float]]:
        """Run with some drains open to all that comes and some taking just their capacity.

        Returns the ponding, what each drain took, and by how much each one's water still grows:
        where it does, water comes back to the drain that let it go.
        """
        found, by_number = self.ground(frozenset(drain.name for drain in taking))
        yard = Arrivals(found, np.zeros(found.hierarchy.leaves + 1), np.zeros(found.node.size))
        for number, of_a_metre in by_number.items():
            if number > 0:
                yard = yard.with_(of_a_metre, curve_number_runoff(rain, number))
        wanted = [(self.flat(drain.inlet), -self._most(drain)) for drain in full]
        taken = {d.name: 0.0 for d in taking} | {d.name: self._most(d) for d in full}
        # Drains may feed each other; one more round than there are drains settles any chain.
        for _ in range(len(taken) + 1):
            released = [
                (self.flat(d.outlet), taken[d.name])
                for d in (*taking, *full)
                if d.outlet is not None and taken[d.name] > 0
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
