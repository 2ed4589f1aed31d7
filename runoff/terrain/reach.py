"""Where a survey knows the ground: what is in sight of its heights, and the ground on which
nobody measured.

Almost every view plainly crosses an edge or plainly misses all; arithmetic on arrays settles those,
and the geometry library the few that touch.

In: the places of heights, points on walls, buildings. Out: the plan area in which the ground is
known, whatever its heights are. Nothing here follows from how close together the heights stand, so
another height or line can only add to it.

In: a lot and its cells. Out: records in plan metres; words are made of them elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from runoff.site.model import Site
from runoff.terrain.cells import union_of
from runoff.terrain.model import Grid, Hole
from runoff.terrain.triangulation import merge_positions, triangulate

_SEEN_FROM = 1e-3
_PAIRS_AT_ONCE = 32_000
"""Views by edges: so few that the arrays of a pass stay in the processor's cache."""
_STRAIGHT = 1e-9
"""Points of a line that leave it straight within this, metres, part no edges."""
_ROUNDING = 1e-12
"""Above the error of a cross product, as a share of the greatest coordinate squared."""


@dataclass(frozen=True)
class Obstacles:
    """What blocks the view: the union of buildings, and the break lines."""

    buildings: BaseGeometry
    lines: BaseGeometry

    def blocked(self, start: NDArray[np.float64], end: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Whether each straight view from `start` to `end`, (m, 2) metres, is blocked.

        Examples
        --------
        >>> house = shapely.box(0, 0, 2, 2)
        >>> obstacles = Obstacles(house, shapely.LineString([(3, -1), (3, 1)]))
        >>> start = np.array([[-1.0, 1.0], [-1.0, 3.0], [2.5, 0.0], [0.5, 0.5]])
        >>> end = np.array([[2.5, 1.0], [2.5, 3.0], [4.0, 0.0], [1.5, 1.5]])
        >>> obstacles.blocked(start, end).tolist()
        [True, False, True, True]
        """
        inside = self.buildings.buffer(-_SEEN_FROM, join_style="mitre")
        view = _drawn_in(start, end)
        depth, slack = _crossing(view, _edges(inside.boundary, self.lines.simplify(_STRAIGHT)))
        blocked = depth < -slack
        touching = np.flatnonzero(np.abs(depth) <= slack)
        if touching.size:
            drawn = shapely.linestrings(view[touching])
            for obstacle in (inside, self.lines):
                shapely.prepare(obstacle)
                blocked[touching] |= shapely.intersects(drawn, obstacle)
        if not inside.is_empty:
            shapely.prepare(inside)
            clear = np.flatnonzero(depth > slack)
            blocked[clear] = shapely.contains_xy(inside, view[clear, 0])
        return blocked


def _drawn_in(start: NDArray[np.float64], end: NDArray[np.float64]) -> NDArray[np.float64]:
    """Views that stop short of both ends, so that a point on a line is not hidden by it."""
    step = end - start
    length = np.hypot(step[:, 0], step[:, 1])[:, None]
    step = step * np.minimum(_SEEN_FROM / np.maximum(length, 1e-12), 0.25)
    return np.stack([start + step, end - step], axis=1)


def _edges(*shapes: BaseGeometry) -> NDArray[np.float64]:
    """The straight edges of lines, (k, 2, 2) metres."""
    coordinates, part = shapely.get_coordinates(
        [part for shape in shapes for part in shapely.get_parts(shape)], return_index=True
    )
    joined = part[:-1] == part[1:]
    return np.stack([coordinates[:-1][joined], coordinates[1:][joined]], axis=1)


def _crossing(
    view: NDArray[np.float64], edges: NDArray[np.float64]
) -> tuple[NDArray[np.float64], float]:
    """For each view below 0 where it crosses an edge, above 0 where it misses them all.

    A value within the second number of 0, an area, is not told from touching.
    """
    depth = np.full(len(view), np.inf)
    if not len(edges) or not len(view):
        return depth, 0.0
    middle = view.mean(axis=(0, 1))
    view, edges = view - middle, edges - middle
    low, high = edges.min(axis=1), edges.max(axis=1)
    at_once = max(_PAIRS_AT_ONCE // len(edges), 1)
    for start in range(0, len(view), at_once):
        part = slice(start, start + at_once)
        ends = view[part]
        near = (low <= ends.max(axis=(0, 1))) & (high >= ends.min(axis=(0, 1)))
        met = edges[near.all(axis=1)]
        if len(met):
            depth[part] = _least_apart(ends, met)
    reach = max(float(np.abs(view).max()), float(np.abs(edges).max()))
    return depth, _ROUNDING * reach**2 + 8 * _STRAIGHT * reach


def _least_apart(view: NDArray[np.float64], edges: NDArray[np.float64]) -> NDArray[np.float64]:
    """Two segments cross where each has its ends on both sides of the other's line.

    The sides are signs of cross products; of the four, the one nearest to not crossing counts, and
    of all edges the one nearest to crossing.
    """
    across, along = _line(edges), _line(view)
    first, second = (_with_one(view[:, end]) @ across for end in (0, 1))
    third, fourth = (along.T @ _with_one(edges[:, end]).T for end in (0, 1))
    below = np.maximum(np.minimum(first, second), np.minimum(third, fourth))
    above = np.minimum(np.maximum(first, second), np.maximum(third, fourth))
    least: NDArray[np.float64] = np.maximum(below, -above).min(axis=1)
    return least


def _line(segment: NDArray[np.float64]) -> NDArray[np.float64]:
    """(3, k): the cross product with a segment of what is seen from its start, as a product."""
    start, step = segment[:, 0], segment[:, 1] - segment[:, 0]
    offset = step[:, 1] * start[:, 0] - step[:, 0] * start[:, 1]
    return np.stack([-step[:, 1], step[:, 0], offset])


def _with_one(point: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.column_stack([point, np.ones(len(point))])


Floats = NDArray[np.float64]

"""A wall's own points, this little (m) before it, see along it."""
_EDGE = 1e-3
"""A place on the outermost line between heights is known; metres of slack for rounding."""
_NARROW = 1.0
"""Half the width, metres, below which a bay of the lot line is a bend in it."""
_IN_BAY = 0.3
"""A height this far, metres, beyond the lot line stands in the bay and not on the line."""
_ROUNDED = 1e-5
"""Areas are put together on a lattice as fine as this, metres: slivers upset exact arithmetic."""
_NO_AREA = 1e-8
_SAME_CORNER = 1e-7
"""Corners of a cut triangle this close, metres, are one."""
_TOLD_ALREADY = 5e-5
"""What lies no farther than this, metres, beyond known ground is known: some roundings."""
_SAME_PLACE = 1e-3
_SQUARES_WITHIN = 8
"""Heights in a square of this share of the reach find their hulls together."""


@dataclass(frozen=True)
class Reach:
    """How far heights may stand `between` each other, and a wall `beyond` them, metres."""

    between: float
    beyond: float


def surveyed_area(
    heights: Floats, walls: Floats, outlines: BaseGeometry, reach: Reach
) -> tuple[BaseGeometry, NDArray[np.bool_]]:
    """The area in which ground is known, and which points on walls have ground before them.

    Around each height the ground is known inside the convex hull of the heights in sight of it and
    no farther from it than `reach.between`, as far as it is in sight itself; buildings block the
    view, break lines do not. A point on a wall no farther than `reach.beyond` outside such a hull
    is told by its heights, and then counts as one. Each hull grows with the heights that are
    added, and so does their union.

    Parameters
    ----------
    heights : (n, 2) float array, metres
        Places with a known height, those along break lines among them.
    walls : (w, 2) float array, metres
        Points of the outlines.
    outlines : shapely geometry
        The buildings.
    reach : Reach

    Returns
    -------
    area : shapely geometry
        Plan metres; the buildings are cut out of it.
    told : (w,) bool array

    Examples
    --------
    >>> corners = np.array([[0.0, 0.0], [9.0, 0.0], [9.0, 6.0], [0.0, 6.0], [80.0, 0.0]])
    >>> none = np.empty((0, 2))
    >>> area, _ = surveyed_area(corners, none, shapely.Polygon(), Reach(14.0, 4.0))
    >>> round(area.area)
    54
    """
    views = _Views(heights, outlines.buffer(-_SEEN_FROM, join_style="mitre"), reach)
    told = _told(views, walls)
    points = np.vstack([heights, walls[told]])
    tree = cKDTree(points)
    hulls = _hulls_around(heights, points, reach.between)
    known = covered = shapely.Polygon()
    for turn in _spread_out(heights, reach.between):
        # Most of a dense survey's heights tell nothing that those before them have not told.
        new = turn[~shapely.covers(covered, hulls[turn])]
        if not len(new):
            continue
        open_ground = ~shapely.intersects(views.walled, hulls[new])
        found = [*hulls[new[open_ground]]]
        for at in new[~open_ground]:
            near = points[tree.query_ball_point(heights[at], reach.between)]
            found.append(views[at].cut(_hull(views[at].seen(near))))
        known = shapely.union_all([known, *found], grid_size=_ROUNDED)
        covered = shapely.union_all([known, outlines]).buffer(_TOLD_ALREADY, join_style="mitre")
        shapely.prepare(covered)
    parts = shapely.get_parts(known)
    grounds = shapely.union_all(parts[shapely.area(parts) > _NO_AREA])
    return grounds.buffer(_EDGE).difference(outlines), told


def _told(views: _Views, walls: Floats) -> NDArray[np.bool_]:
    """Which points on walls stand no farther than `beyond` outside what a height sees them from."""
    heights, reach = views.heights, views.reach
    told = np.zeros(len(walls), dtype=np.bool_)
    if not len(walls):
        return told
    tree = cKDTree(heights)
    beside = cKDTree(walls).query_ball_point(heights, reach.between + reach.beyond)
    for at in np.concatenate(list(_spread_out(heights, reach.between))):
        feet = np.array([foot for foot in beside[at] if not told[foot]], dtype=np.int64)
        feet = feet[views[at].sees(walls[feet])] if len(feet) else feet
        if len(feet):
            hull = _hull(views[at].seen(heights[tree.query_ball_point(heights[at], reach.between)]))
            away = shapely.distance(hull, shapely.points(walls[feet]))
            told[feet[away <= reach.beyond]] = True
    return told


def _spread_out(places: Floats, apart: float) -> Iterator[NDArray[np.int64]]:
    """All places in turns: one of each square of half `apart`, then of half that, and so on."""
    left = np.arange(len(places))
    while len(left):
        apart /= 2
        square = np.floor(places[left] / apart)
        turn = np.unique(square, axis=0, return_index=True)[1]
        if apart < _SAME_PLACE:
            turn = np.arange(len(left))
        yield left[turn]
        left = np.delete(left, turn)


def _hulls_around(places: Floats, points: Floats, within: float) -> NDArray[np.object_]:
    """The convex hull of the `points` no farther than `within`, metres, from each place.

    Places close together share nearly all their points: of those that all of them share, only the
    corners of one hull are looked at again, and of the rest only what lies outside it.
    """
    tree = cKDTree(points)
    hulls = np.empty(len(places), dtype=object)
    square = np.floor(places / (within / _SQUARES_WITHIN))
    _, square = np.unique(square, axis=0, return_inverse=True)
    order = np.argsort(square.ravel(), kind="stable")
    for group in np.split(order, np.flatnonzero(np.diff(square.ravel()[order])) + 1):
        middle = places[group].mean(axis=0)
        spread = np.hypot(*(places[group] - middle).T).max()
        near = points[tree.query_ball_point(middle, within + spread)]
        shared = np.hypot(*(near - middle).T) <= within - spread
        core = _hull(near[shared])
        rim = near[~shared]
        rim = rim[~shapely.contains_xy(core, rim[:, 0], rim[:, 1])]
        corners = shapely.get_coordinates(core)
        for at in group:
            reached = np.hypot(*(rim - places[at]).T) <= within
            hulls[at] = _hull(np.vstack([corners, rim[reached]])) if reached.any() else core
    return hulls


def _hull(places: Floats) -> BaseGeometry:
    """Their convex hull; through one line, which is made many times faster than many points."""
    if len(places) < 2:
        return shapely.multipoints(places).convex_hull
    return shapely.linestrings(places).convex_hull


class _Views:
    """The view from each height, made when it is first asked for; few of a dense survey's are."""

    def __init__(self, heights: Floats, walled: BaseGeometry, reach: Reach) -> None:
        self.heights, self.walled, self.reach = heights, walled, reach
        shapely.prepare(walled)
        self._made: dict[int, _View] = {}

    def __getitem__(self, at: int) -> _View:
        if at not in self._made:
            self._made[at] = _View(self.heights[at], self.walled, self.reach)
        return self._made[at]


class _View:
    """What can be seen from a place past the buildings: all but their shadows."""

    def __init__(self, place: Floats, walled: BaseGeometry, reach: Reach) -> None:
        far = reach.between + reach.beyond
        around = shapely.box(*(place - far), *(place + far))
        self.shadow: BaseGeometry | None = None
        if walled.intersects(around):
            near = walled.intersection(around)
            hidden = [near, *_shadows(place, near.boundary, 4 * far)]
            self.shadow = shapely.union_all(hidden, grid_size=_ROUNDED)
            shapely.prepare(self.shadow)

    def sees(self, places: Floats) -> NDArray[np.bool_]:
        if self.shadow is None:
            return np.ones(len(places), dtype=np.bool_)
        hidden: NDArray[np.bool_] = shapely.contains_xy(self.shadow, places[:, 0], places[:, 1])
        return ~hidden

    def seen(self, places: Floats) -> Floats:
        return places[self.sees(places)]

    def cut(self, area: BaseGeometry) -> BaseGeometry:
        return area if self.shadow is None else area.difference(self.shadow)


def _shadows(place: Floats, walls: BaseGeometry, far: float) -> list[BaseGeometry]:
    """What each straight piece of wall hides from a place, out to `far`, metres."""
    at, part = shapely.get_coordinates(shapely.get_parts(walls), return_index=True)
    joined = part[:-1] == part[1:]
    start, end = at[:-1][joined] - place, at[1:][joined] - place
    along = end - start
    squared = np.maximum((along**2).sum(axis=1), _SEEN_FROM**2)
    share = -(start * along).sum(axis=1) / squared
    before = (share > 0.0) & (share < 1.0)
    across = np.abs(start[:, 0] * end[:, 1] - start[:, 1] * end[:, 0])
    # A wall seen end on hides nothing.
    hides = before | (across >= 2 * _SEEN_FROM * np.sqrt(squared))
    middle = start + np.where(before, share, 0.5)[:, None] * along
    beyond = [each * far / np.hypot(*each.T)[:, None] for each in (end, middle, start)]
    corners = np.stack([start, end, *beyond], axis=1)[hides] + place
    return list(shapely.polygons(corners))


def bays_without_heights(lot: BaseGeometry, heights: Floats) -> BaseGeometry:
    """The bays of a lot, within its convex hull and outside its line, in which no height stands.

    An L-shaped lot surveyed along its L tells nothing of the ground in the notch.

    Examples
    --------
    >>> lot = shapely.Polygon([(0, 0), (30, 0), (30, 12), (12, 12), (12, 30), (0, 30)])
    >>> on_the_line = np.array([[12.0, 30.0], [30.0, 12.0], [12.0, 12.0]])
    >>> bays_without_heights(lot, on_the_line).area
    162.0
    >>> bays_without_heights(lot, np.array([[15.0, 15.0]])).area
    0.0
    """
    bays = [
        bay
        for bay in shapely.get_parts(lot.convex_hull.difference(lot))
        if not bay.buffer(-_NARROW).is_empty
        and not shapely.contains_xy(bay.buffer(-_IN_BAY), heights[:, 0], heights[:, 1]).any()
    ]
    return shapely.union_all(bays)


def triangles_within(
    xyz: Floats, triangles: NDArray[np.int64], area: BaseGeometry
) -> tuple[Floats, NDArray[np.int64]]:
    """The triangles inside an area, those on its edge cut along it; the surface stays as it was.

    Parameters
    ----------
    xyz : (n, 3) float array, metres
    triangles : (t, 3) int array
    area : shapely geometry

    Returns
    -------
    xyz : (n + added, 3) float array, metres
    triangles : (k, 3) int array

    Examples
    --------
    >>> xyz = np.array([[0.0, 0.0, 0.0], [2.0, 0.0, 2.0], [0.0, 2.0, 4.0]])
    >>> cut, kept = triangles_within(xyz, np.array([[0, 1, 2]]), shapely.box(0, 0, 1, 2))
    >>> bool(np.allclose(cut[:, 2], cut[:, 0] + 2 * cut[:, 1]))
    True
    >>> round(sum(shapely.Polygon(cut[corners, :2]).area for corners in kept), 9)
    1.5
    """
    shapely.prepare(area)
    flat = shapely.polygons(xyz[triangles][:, :, :2])
    whole = shapely.covers(area, flat)
    points, kept = [xyz], [triangles[whole]]
    count = len(xyz)
    for index in np.flatnonzero(~whole & shapely.intersects(area, flat)):
        corner = xyz[triangles[index]]
        for part in shapely.get_parts(flat[index].intersection(area)):
            if part.geom_type == "Polygon" and part.area > _NO_AREA:
                at, pieces = _triangles_of(part)
                share = np.linalg.solve(
                    np.vstack([corner[:, :2].T, np.ones(3)]), np.vstack([at.T, np.ones(len(at))])
                )
                points.append(np.column_stack([at, share.T @ corner[:, 2]]))
                kept.append(pieces + count)
                count += len(at)
    return np.concatenate(points), np.concatenate(kept)


def _triangles_of(part: BaseGeometry) -> tuple[Floats, NDArray[np.int64]]:
    """A polygon in triangles: (n, 2) metres and (t, 3)."""
    rings = [shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(part)]
    edges, start = [], 0
    for corners in rings:
        index = start + np.arange(len(corners))
        edges.append(np.column_stack([index, np.roll(index, -1)]))
        start += len(corners)
    # Where an area's edge grazes a corner, two of the polygon's corners are one but for rounding.
    same = np.concatenate(rings)
    kept, at = np.unique(merge_positions(same, _SAME_CORNER), return_inverse=True)
    edge = at[np.concatenate(edges)]
    xy, triangles = triangulate(same[kept], edge[edge[:, 0] != edge[:, 1]])
    middle = xy[triangles].mean(axis=1)
    return xy, triangles[shapely.contains_xy(part, middle[:, 0], middle[:, 1])]


LEAST_AREA = 50 * 0.3048**2
LEAST_WIDTH = 6 * 0.3048
"""Holes of less than 50 sq ft or narrower than 6 ft are slivers: a shot would not help there."""


def holes_of(
    site: Site, grid: Grid, ground: NDArray[np.float64], closed: NDArray[np.bool_]
) -> tuple[Hole, ...]:
    """The parts of the lot without ground, the largest first.

    Where no lot is drawn it is what the known ground surrounds.

    Parameters
    ----------
    site : Site
    grid : Grid
    ground : (rows, cols) float array, metres
        NaN where no ground is known.
    closed : (rows, cols) bool array
        Cells that buildings cover.

    Returns
    -------
    tuple of Hole

    Examples
    --------
    >>> from pathlib import Path
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> from runoff.terrain import build_terrain
    >>> build_terrain(read_site(sample_folder() / "site.toml")).holes
    ()
    """
    known = _cells(grid, np.isfinite(ground) | closed)
    if site.lot is None:
        inside = shapely.union_all([Polygon(p.exterior) for p in shapely.get_parts(known)])
    else:
        inside = site.lot.boundary
    unknown = inside.difference(known).difference(union_of(site.buildings))
    half = LEAST_WIDTH / 2
    wide = unknown.buffer(-half).buffer(half).intersection(unknown)
    parts = shapely.get_parts(wide.simplify(grid.cell_size))
    holes = [Hole(part) for part in parts if part.area >= LEAST_AREA]
    return tuple(sorted(holes, key=lambda hole: -hole.area))


def _cells(grid: Grid, chosen: NDArray[np.bool_]) -> BaseGeometry:
    """The plan area of the chosen cells."""
    step = np.diff(np.pad(chosen, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    row, first = np.nonzero(step == 1)
    _, last = np.nonzero(step == -1)
    # Whole numbers first: rows of cells then meet exactly.
    area = shapely.union_all(shapely.box(first, -row - 1, last, -row))
    corner = np.array([grid.x0, grid.y0 + grid.rows * grid.cell_size])
    return shapely.transform(area, lambda at: corner + at * grid.cell_size)
