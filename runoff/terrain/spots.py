"""The ground from spot heights, break lines and building outlines.

The outlines are edges of the triangulation; what the ground does at a wall, where nobody measured,
is told by the shots in view of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.geometry.base import BaseGeometry

from runoff.site.model import BreakLine, Site
from runoff.site.notices import Notice
from runoff.site.problems import InputError, Problem
from runoff.terrain.blunders import (
    ask_for_curbs,
    double_suspects,
    find_blunders,
    plane_heights,
    spread_heights,
    visible_neighbors,
)
from runoff.terrain.break_lines import Strand, heights_from_lines, sight_lines, strands
from runoff.terrain.cells import bounds_of, spot_grid, union_of
from runoff.terrain.heights import Triangles
from runoff.terrain.model import BareGround, Grid, TriangulatedGround
from runoff.terrain.reach import (
    Obstacles,
    Reach,
    bays_without_heights,
    surveyed_area,
    triangles_within,
)
from runoff.terrain.sampling import sample_triangles
from runoff.terrain.survey import Survey, usable_survey
from runoff.terrain.triangulation import (
    STEP_WIDTH,
    TOLERANCE,
    median_spacing,
    merge_positions,
    settle_ties,
    thread_edges,
    triangulate,
    unique_edges,
)
from runoff.terrain.wording import length_text

_WALL_STEP = 0.5
_SHOTS_AT_WALL = 8
_FLATTEST = 1e-3
_ONE_CORNER = 1e-7
"""Corners this close, metres, are the same one, computed twice."""
_LINE_STEP = 1.0
"""Points along a break line (m) that count as heights in telling where ground is known."""


@dataclass(frozen=True)
class _Mesh:
    """Positions and heights (NaN not known), edges to keep, and which points were measured."""

    xyz: NDArray[np.float64]
    edges: NDArray[np.int64]
    measured: NDArray[np.bool_]


def spot_ground(site: Site, on: Grid | None = None) -> BareGround:
    """The ground between the spot heights of a site.

    Parameters
    ----------
    site : Site
    on : Grid or None
        The grid to give heights on; None for one that suits the survey.

    Returns
    -------
    BareGround

    Raises
    ------
    InputError
        Where fewer than three usable shots are left, all lie on one line, or break lines cross.
    """
    outlines = union_of(site.buildings)
    raw = np.unique(site.spot_array[:, :2], axis=0)
    spacing = max(median_spacing(raw), 0.1)
    lines, line_notices = strands(site.break_lines, outlines, spacing, site.units)
    survey = usable_survey(site.spot_heights, lines, outlines, site.rules["shot_at_wall"])
    known = _known_points(survey, lines)
    _refuse_too_few(site, known)
    reach = Reach(site.rules["survey_reach"], site.rules["survey_reach_at_wall"])
    covered = _covered(known, outlines, reach)
    grid, grid_notices = spot_grid(site, bounds_of(covered), spacing) if on is None else (on, [])
    obstacles = Obstacles(outlines, sight_lines(lines, outlines))
    mesh = _told_by_lines(_mesh(survey, lines, outlines), site.break_lines, outlines)
    mesh = _with_wall_heights(mesh, lines, obstacles, reach.between)
    area = _known_area(site, survey, outlines, reach)
    xyz, kept = triangles_within(*_open_triangles(mesh, outlines), area)
    if not len(kept):
        raise InputError([_too_far_apart(site, reach)])
    # Where triangles were cut along the area's edge, each had corners of its own.
    kept = merge_positions(xyz[:, :2], _ONE_CORNER)[kept]
    heights = sample_triangles(xyz, kept, grid)
    suspects = (
        *double_suspects(survey),
        *ask_for_curbs(site, find_blunders(site, survey, lines, obstacles)),
    )
    notices = (
        *line_notices,
        *survey.notices,
        *grid_notices,
        *_strays(survey, xyz[np.unique(kept), :2]),
    )
    surface = TriangulatedGround(xyz, kept, _open_edge(xyz[:, :2], kept, outlines, area), heights)
    return BareGround(
        grid, heights, suspects, notices, relief=Triangles(xyz, kept), triangulated=surface
    )


def _known_points(survey: Survey, lines: list[Strand]) -> NDArray[np.float64]:
    xyz = np.concatenate([survey.xyz, *(strand.xyz for strand in lines if len(strand.xyz))])
    return xyz[np.unique(merge_positions(xyz[:, :2]))]


def _refuse_too_few(site: Site, known: NDArray[np.float64]) -> None:
    if len(known) < 3:
        counted = f"{len(known) or 'none'} found"
        expected = (
            "at least three spot heights on ground outside the buildings, not on one line "
            f"({counted})"
        )
    else:
        spread = np.linalg.svd(known[:, :2] - known[:, :2].mean(axis=0), compute_uv=False)
        if spread[1] > _FLATTEST * spread[0]:
            return
        expected = "spot heights that are not all on one line: add shots to one side of it"
    file = site.spot_heights[0].written.file if site.spot_heights else site.path.name
    raise InputError([Problem(file, None, "[terrain] spot_heights", "", expected)])


def _covered(
    known: NDArray[np.float64], outlines: BaseGeometry, reach: Reach
) -> NDArray[np.float64]:
    """The measured positions, and the outlines of the buildings that they surround or touch."""
    around = shapely.MultiPoint(known[:, :2]).convex_hull.buffer(reach.beyond)
    near = [part for part in shapely.get_parts(outlines) if part.intersects(around)]
    return np.concatenate([known[:, :2], *(shapely.get_coordinates(part) for part in near)])


def _known_area(site: Site, survey: Survey, outlines: BaseGeometry, reach: Reach) -> BaseGeometry:
    """Where this survey knows the ground.

    Shots count where they were taken, not where a step beside them puts them, and break lines by
    points of their own, whatever the spacing of the shots is: so neither adding shots nor adding
    lines moves a place that counts.
    """
    taken = site.spot_array[:, :2]
    if not outlines.is_empty:
        taken = taken[~shapely.contains_xy(outlines, taken[:, 0], taken[:, 1])]
    along, _ = strands(site.break_lines, outlines, _LINE_STEP, site.units)
    walls = np.concatenate(
        [np.empty((0, 2)), *(shapely.get_coordinates(ring) for ring in _rings(outlines))]
    )
    told = walls[np.isfinite(heights_from_lines(walls, site.break_lines, outlines))]
    blocks = [taken, survey.xyz[:, :2], told, *(strand.xyz[:, :2] for strand in along)]
    heights = np.unique(np.concatenate(blocks), axis=0)
    area, _ = surveyed_area(heights, walls, outlines, reach)
    if site.lot is not None:
        area = area.difference(bays_without_heights(site.lot.boundary, heights))
    return area


def _too_far_apart(site: Site, reach: Reach) -> Problem:
    file = site.spot_heights[0].written.file
    between = length_text(reach.between, site.units)
    expected = (
        f"spot heights no farther apart than {between}, or none tells the ground between them: "
        f'take more, or state another distance, such as survey_reach = "{between}" under [rules]'
    )
    return Problem(file, None, "[terrain] spot_heights", "", expected)


def _mesh(survey: Survey, lines: list[Strand], outlines: BaseGeometry) -> _Mesh:
    """Gather points and edges: break lines first, for they give the height of what lies on them."""
    walls = [shapely.get_coordinates(ring) for ring in _rings(outlines)]
    blocks = [strand.xyz for strand in lines]
    wall_blocks = [np.column_stack([xy, np.full(len(xy), np.nan)]) for xy in walls]
    chains = []
    start = 0
    for block in blocks:
        chains.append(np.arange(start, start + len(block)))
        start += len(block)
    start += len(survey.xyz)
    for block in wall_blocks:
        chains.append(np.arange(start, start + len(block)))
        start += len(block)
    xyz = np.concatenate([*blocks, survey.xyz, *wall_blocks])
    first = merge_positions(xyz[:, :2])
    kept, index = np.unique(first, return_inverse=True)
    pairs = [np.column_stack([chain[:-1], chain[1:]]) for chain in chains]
    edges = index[np.concatenate(pairs)] if pairs else np.empty((0, 2), dtype=np.int64)
    xyz = xyz[kept]
    return _Mesh(xyz, thread_edges(xyz[:, :2], edges), np.isfinite(xyz[:, 2]))


def _rings(outlines: BaseGeometry) -> list[BaseGeometry]:
    """The outlines' rings, with points no farther apart than a short step along the wall."""
    boundary = shapely.segmentize(outlines.boundary, _WALL_STEP)
    return [ring for ring in shapely.get_parts(boundary) if not ring.is_empty]


def _told_by_lines(mesh: _Mesh, lines: Sequence[BreakLine], outlines: BaseGeometry) -> _Mesh:
    """Give the points of walls along which a break line runs the line's height there."""
    walls = np.flatnonzero(~mesh.measured)
    xyz = mesh.xyz.copy()
    xyz[walls, 2] = heights_from_lines(xyz[walls, :2], lines, outlines)
    return _Mesh(xyz, mesh.edges, np.isfinite(xyz[:, 2]))


def _with_wall_heights(
    mesh: _Mesh, lines: Sequence[Strand], obstacles: Obstacles, limit: float
) -> _Mesh:
    """Give the points along the walls the height that the shots in view of them tell.

    Of one break line no more than half of them: its points alone would tell nothing of the fall
    toward the wall.
    """
    walls = np.flatnonzero(~mesh.measured)
    if not len(walls):
        return mesh
    points = mesh.xyz[mesh.measured]
    places = mesh.xyz[walls, :2]
    seen = visible_neighbors(places, points[:, :2], obstacles, 3 * _SHOTS_AT_WALL)
    away = np.hypot(*(points[seen, :2] - places[:, None]).transpose(2, 0, 1))
    seen[away > limit] = -1
    line_of = _line_of(points, lines)
    chosen = np.full((len(walls), _SHOTS_AT_WALL), -1)
    for row, near in zip(chosen, seen, strict=True):
        near = near[near >= 0]
        on = line_of[near]
        earlier = np.tril(on[:, None] == on, -1).sum(axis=1)
        near = near[(on < 0) | (earlier < _SHOTS_AT_WALL // 2)][:_SHOTS_AT_WALL]
        row[: len(near)] = near
    xyz = mesh.xyz.copy()
    xyz[walls, 2] = plane_heights(places, points, chosen)
    return _Mesh(xyz, mesh.edges, mesh.measured)


def _line_of(points: NDArray[np.float64], lines: Sequence[Strand]) -> NDArray[np.int64]:
    """For each point the strand that it is a point of, -1 for none."""
    line_of = np.full(len(points), -1)
    for index, strand in enumerate(lines):
        away, _ = cKDTree(strand.xyz[:, :2]).query(points[:, :2])
        line_of[away <= TOLERANCE] = index
    return line_of


def _open_triangles(
    mesh: _Mesh, outlines: BaseGeometry
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The triangles outside buildings, known at all corners."""
    xy, triangles = triangulate(mesh.xyz[:, :2], mesh.edges)
    if not outlines.is_empty:
        shapely.prepare(outlines)
        middle = xy[triangles].mean(axis=1)
        triangles = triangles[~shapely.contains_xy(outlines, middle[:, 0], middle[:, 1])]
    heights = np.full(len(xy), np.nan)
    heights[: len(mesh.xyz)] = mesh.xyz[:, 2]
    heights = spread_heights(heights, xy, unique_edges(triangles))
    known = np.isfinite(heights[triangles]).all(axis=1)
    xyz = np.column_stack([xy, heights])
    # Where edges cross they were split, at a point of their own.
    split = np.flatnonzero(np.arange(len(xy)) >= len(mesh.xyz))
    return xyz, settle_ties(xyz, triangles[known], mesh.edges, split)


def _open_edge(
    xy: NDArray[np.float64],
    triangles: NDArray[np.int64],
    outlines: BaseGeometry,
    area: BaseGeometry,
) -> NDArray[np.bool_]:
    """Which corners lie where the ground ends, other than along a wall."""
    sides = np.concatenate([triangles[:, pair] for pair in ([0, 1], [1, 2], [2, 0])])
    across = np.concatenate([triangles[:, corner] for corner in (2, 0, 1)])
    _, at, uses = np.unique(np.sort(sides), axis=0, return_index=True, return_counts=True)
    ends, inward = sides[at[uses == 1]], xy[across[at[uses == 1]]]
    middle = xy[ends].mean(axis=1)
    out = (xy[ends[:, 1]] - xy[ends[:, 0]]) @ np.array([[0.0, 1.0], [-1.0, 0.0]])
    out *= -np.sign((out * (inward - middle)).sum(axis=1))[:, None]
    out /= np.maximum(np.hypot(*out.T), 1e-12)[:, None]
    # Where triangles were cut, a side may lie along parts of two others: there ground goes on.
    beyond = middle + TOLERANCE * out
    last = ~shapely.contains_xy(area, beyond[:, 0], beyond[:, 1])
    if not outlines.is_empty:
        last &= shapely.distance(shapely.points(middle), outlines.boundary) > TOLERANCE
    found = np.zeros(len(xy), dtype=bool)
    found[ends[last]] = True
    return found


def _strays(survey: Survey, used: NDArray[np.float64]) -> list[Notice]:
    """A sentence on the shots that no triangle reaches, if any."""
    if not len(used):
        return []
    away, _ = cKDTree(used).query(survey.xyz[:, :2])
    far = tuple(spot.name for spot, off in zip(survey.spots, away, strict=True) if off > STEP_WIDTH)
    return [Notice("stray shots", far)] if far else []
