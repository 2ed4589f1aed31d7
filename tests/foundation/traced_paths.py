"""Confirm the safe discharge area path by path: the same definition on traced lines.

The map (`runoff.foundation.safe_area`) follows strides over cells; here one path is traced over the
surface and judged against outlines as they were drawn. In: a site, its ground and a storm that has
run. Out: the reason at a point, or how far the map and the traces agree.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from shapely import (
    LineString,
    Point,
    STRtree,
    get_coordinates,
    line_interpolate_point,
    line_locate_point,
    points,
)
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points, substring, unary_union

from runoff.flow.downspouts import PUBLIC, SPREADS, on_the_surface, paving_crossed, public_sidewalks
from runoff.flow.paths import (
    ENDS_AT_EDGE,
    ENDS_AT_INLET,
    Surface,
    Way,
    follow_storm,
    line_of,
    part_up_to,
    side_at,
    storm_surface,
)
from runoff.flow.storm import LotFlow, StormRun
from runoff.foundation.model import REASONS, SafeArea
from runoff.foundation.safe_area import limits_of, places_that_take
from runoff.site.model import OTHERS_GROUND, Site
from runoff.terrain.model import TerrainDrain, call_margin

# A path that touches the ground near a foundation for less than this does not come back, metres.
_TOUCH = 0.05


@dataclass(frozen=True)
class Traced:
    """A path up to where it ends: its line, the reason its end gives, the ponds that it crossed."""

    line: LineString
    end: str
    crossed: tuple[int, ...]


@dataclass(frozen=True)
class Confirmation:
    """How far the map and the traces agree.

    `traced` cells were traced and `agreed` of them have the map's reason; `unsure` is (k, 2) rows
    and columns where they differ beside a cell with another reason, where a path may go either
    way; `against` is the same for cells in the midst of one reason.
    """

    traced: int
    agreed: int
    unsure: NDArray[np.int64]
    against: NDArray[np.int64]


@dataclass(frozen=True)
class Tracer:
    """Judges single paths on one lot in a storm that has run."""

    site: Site
    flow: LotFlow
    run: StormRun

    @cached_property
    def _surface(self) -> Surface:
        terrain = self.flow.terrain
        return storm_surface(self.run.ponding, terrain.surface, terrain.closed)

    @cached_property
    def _walls(self) -> BaseGeometry:
        return unary_union([building.outline for building in self.site.buildings])

    @cached_property
    def _near(self) -> BaseGeometry:
        return self._walls.buffer(self.site.rules["near_foundation"])

    @cached_property
    def _neighbors(self) -> BaseGeometry:
        sides = self.site.lot.sides if self.site.lot is not None else ()
        return unary_union([LineString(s.line) for s in sides if s.neighbor in OTHERS_GROUND])

    @cached_property
    def _takes(self) -> BaseGeometry:
        return unary_union(places_that_take(self.site))

    @cached_property
    def _sidewalks(self) -> BaseGeometry:
        return unary_union([one.outline for one in public_sidewalks(self.site)]).buffer(SPREADS)

    @cached_property
    def _inlets(self) -> dict[int, TerrainDrain]:
        drains = self.flow.terrain.drains
        return {self.flow.flat(d.inlet): d for d in drains if d.name not in self.run.overwhelmed}

    def reason(self, x: float, y: float) -> str:
        """Why water may not be let go at a plan position, by the path from there."""
        grid, lot = self.flow.grid, self.site.lot
        row, col = grid.cell(x, y)
        if lot is not None and not lot.boundary.covers(Point(x, y)):
            return "off the lot"
        if not grid.holds(row, col) or np.isnan(self.flow.terrain.surface[row, col]):
            return "no ground"
        if self._distance(Point(x, y)) < self.site.rules["near_foundation"]:
            return "too near a foundation"
        traced = self.trace(x, y)
        if self.fall_missing(traced) > 0:
            return "too flat to leave"
        traced = self._up_to_level(traced)
        if self._comes_back(traced):
            return "comes back to a foundation"
        return traced.end

    def trace(self, x: float, y: float) -> Traced:
        """Follow water from a plan position, through drains, to where its path ends."""
        grid, legs, entered = self.flow.grid, [], set()
        crossed: list[int] = []
        while True:
            start = grid.in_cells(np.array([x, y])).tolist()
            way = follow_storm(self._surface, self.run.ponding, *start)
            legs.append(grid.on_plan(way.points))
            crossed += way.crossed
            drain = self._inlets.get(way.cell) if way.end == ENDS_AT_INLET else None
            cut = self._cut(np.concatenate(legs))
            if cut is not None:
                return Traced(*cut, tuple(crossed))
            if drain is None or drain.outlet is None or drain.name in entered:
                return Traced(line_of(np.concatenate(legs)), self._end(way), tuple(crossed))
            entered.add(drain.name)
            x, y = grid.center(*drain.outlet)

    def _cut(self, path: NDArray[np.float64]) -> tuple[LineString, str] | None:
        """The path up to where it first meets what takes it, or leaves the lot; None where not."""
        line = line_of(path)
        found = []
        meets = line.intersection(self._takes)
        if not meets.is_empty:
            found.append((_first(line, meets), "safe"))
        if self.site.lot is not None:
            out = line.difference(self.site.lot.boundary)
            if not out.is_empty and out.length > 0:
                station = _first(line, out)
                found.append((station, self._over_side(line.interpolate(station), np.inf, path)))
        crosses = on_the_surface(self.site, path).intersection(self._sidewalks)
        if not crosses.is_empty:
            found.append((_first(line, crosses), "over a public sidewalk"))
        if not found:
            return None
        station, end = min(found)
        walked = np.append(0.0, np.cumsum(np.hypot(*np.diff(path, axis=0).T)))
        keep = walked < station
        at = line.interpolate(station)
        return line_of(np.vstack([path[: max(keep.sum(), 1)], [at.x, at.y]])), end

    def _over_side(self, at: Point, within: float, path: NDArray[np.float64]) -> str:
        """What becomes of water that leaves the lot here and runs on along its path."""
        end = side_at(self.site, at.x, at.y, within)
        if end is None:
            return "leaves the survey"
        if end.neighbor in OTHERS_GROUND:
            return "onto a neighbor"
        taken = line_of(path).intersection(self._takes)
        if not taken.is_empty:
            path = part_up_to(path, _first(line_of(path), taken))
        crossed = paving_crossed(self.site, path, np.inf, end)
        public = any(paving.kind == PUBLIC for paving in crossed)
        return "over a public sidewalk" if public else "safe"

    def _end(self, way: Way) -> str:
        if way.end == ENDS_AT_EDGE:
            at = Point(self.flow.grid.on_plan(way.points[-1]))
            return self._over_side(
                at, 2.5 * self.flow.grid.cell_size, self.flow.grid.on_plan(way.points)
            )
        if way.end == ENDS_AT_INLET:
            return "safe"
        ponding = self.run.ponding
        d = ponding.outermost(int(ponding.depressions.node[way.cell]))
        terminal = ponding.depressions.hierarchy.spill_cell[d] < 0
        stands = terminal or self._pond_distance(d) < self.site.rules["pond_foundation_distance"]
        return "stands near a foundation" if stands else "safe"

    def _distance(self, at: Point) -> float:
        return np.inf if self._walls.is_empty else float(self._walls.distance(at))

    def _pond_distance(self, d: int) -> float:
        if self._walls.is_empty:
            return np.inf
        grid, cells = self.flow.grid, self.run.ponding.depressions.pond_cells(d)
        x, y = grid.centers()
        tree = STRtree(points(x[cells % grid.cols], y[cells // grid.cols]))
        nearest = tree.geometries[tree.nearest(self._walls)]
        return max(float(self._walls.distance(nearest)) - grid.cell_size / 2, 0.0)

    def fall_missing(self, traced: Traced) -> float:
        """How much fall (m) the first stretch lacks; 0 or less where it is enough."""
        limits = limits_of(self.site, self.flow.grid)
        length = limits.length * limits.cell_size
        stands = traced.end == "stands near a foundation"
        asked = length if stands else min(traced.line.length, length)
        ends = np.array([0.0, min(asked, traced.line.length)])
        first, last = self._heights(traced.line, ends)
        return float(limits.grade * asked - (first - last) - 1e-6)

    def _up_to_level(self, traced: Traced) -> Traced:
        """The path up to level ground from which its water may drift where it must not."""
        rules, line = self.site.rules, traced.line
        stretch, cell = rules["discharge_grade_length"], self.flow.grid.cell_size
        stations = np.arange(0.0, line.length - stretch, cell)
        falls = self._heights(line, stations) - self._heights(line, stations + stretch)
        for station in stations[~(falls >= call_margin(self.site.height_accuracy.sigma))]:
            at = line.interpolate(station)
            end = ""
            if self._drifts(
                at, self._walls, rules["pond_foundation_distance"], rules["near_foundation"]
            ):
                end = "stands near a foundation"
            elif self._drifts(at, self._neighbors, stretch, cell):
                end = "onto a neighbor"
            if end:
                return Traced(line_of(np.array(substring(line, 0, station).coords)), end, ())
        return traced

    def _drifts(self, at: Point, place: BaseGeometry, reach: float, within: float) -> bool:
        """Whether water may come within `within` of a place on the straight way, metres."""
        if place.is_empty or place.distance(at) >= reach:
            return False
        way = LineString([at, nearest_points(at, place)[1]])
        stations = np.arange(0.0, way.length - within, self.flow.grid.cell_size / 2)
        rise = self._heights(way, stations)
        return not len(rise) or float(np.nanmax(rise) - rise[0]) <= call_margin(
            self.site.height_accuracy.sigma
        )

    def _heights(self, line: LineString, stations: NDArray[np.float64]) -> NDArray[np.float64]:
        """Heights of the water's surface at (n,) stations of a line, metres."""
        grid, water = self.flow.grid, self._surface.water
        u, v = grid.in_cells(get_coordinates(line_interpolate_point(line, stations))).T
        c = np.clip(u.astype(np.int64), 0, grid.cols - 2)
        r = np.clip(v.astype(np.int64), 0, grid.rows - 2)
        u, v = np.clip(u - c, 0.0, 1.0), np.clip(v - r, 0.0, 1.0)
        four = np.stack([water[r, c], water[r, c + 1], water[r + 1, c], water[r + 1, c + 1]])
        shares = np.stack([(1 - v) * (1 - u), (1 - v) * u, v * (1 - u), v * u])
        heights: NDArray[np.float64] = (shares * four).sum(axis=0)
        unknown = np.isnan(heights)
        if unknown.any():
            # Beside a wall: of those cells that are known.
            heights[unknown] = np.nanmean(four[:, unknown], axis=0)
        return heights

    def _comes_back(self, traced: Traced) -> bool:
        near = self.site.rules["near_foundation"]
        if self._walls.is_empty:
            return False
        if traced.line.intersection(self._near).length > _TOUCH:
            return True
        return any(self._pond_distance(d) < near for d in traced.crossed)


def _first(line: LineString, part: BaseGeometry) -> float:
    """The least length along a line at which a part of it begins."""
    parts = [each for each in getattr(part, "geoms", [part]) if not each.is_empty]
    return min(float(line_locate_point(line, Point(each.coords[0]))) for each in parts)


def confirm(site: Site, flow: LotFlow, run: StormRun, area: SafeArea, n: int) -> Confirmation:
    """Trace `n` cells of the lot, spread evenly (all, where there are no more), and compare.

    Examples
    --------
    >>> from runoff.foundation.safe_area import safe_discharge_area
    >>> from runoff.flow.let_go import prepare_flow, run_storm
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> from runoff.terrain.build import build_terrain
    >>> site = read_site(sample_folder() / "site.toml")
    >>> flow = prepare_flow(site, build_terrain(site))
    >>> run = run_storm(site, flow)
    >>> area = safe_discharge_area(site, flow, run, run.ponding.depth())
    >>> confirm(site, flow, run, area, 20).traced
    20
    """
    tracer = Tracer(site, flow, run)
    ground = REASONS.index("no ground")
    cells = np.argwhere((area.code != REASONS.index("off the lot")) & (area.code != ground))
    chosen = cells[np.unique(np.linspace(0, len(cells) - 1, min(n, len(cells))).astype(int))]
    differ = [
        (row, col)
        for row, col in chosen
        if tracer.reason(*flow.grid.center(row, col)) != area.reason(row, col)
    ]
    beside = [_beside_another(area.code, row, col) for row, col in differ]
    differing = np.array(differ, dtype=np.int64).reshape(-1, 2)
    at_border = np.array(beside, dtype=bool)
    return Confirmation(
        traced=len(chosen),
        agreed=len(chosen) - len(differ),
        unsure=differing[at_border],
        against=differing[~at_border],
    )


def _beside_another(code: NDArray[np.uint8], row: int, col: int) -> bool:
    """Whether a cell within one of this one has another reason."""
    around = code[max(row - 1, 0) : row + 2, max(col - 1, 0) : col + 2]
    return bool((around != code[row, col]).any())
