"""The points of a survey made ready for triangulation: usable, distinct, each with its height.

Shots inside buildings are left out, shots at one position merged, shots on a step put on its top
or its foot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.geometry.base import BaseGeometry

from runoff.site.model import SpotHeight
from runoff.site.notices import Notice
from runoff.terrain.break_lines import AT_WALL, Strand
from runoff.terrain.triangulation import STEP_WIDTH, TOLERANCE, merge_positions

_SAME_HEIGHT = 0.002


@dataclass(frozen=True)
class Survey:
    """What the triangulation stands on.

    Parameters
    ----------
    spots : tuple of SpotHeight
        The usable shots, the first at each position.
    xyz : (n, 3) float array, metres
        Their positions, moved onto a wall or a step where they were taken there.
    on_line : (n,) bool array
        Which of them lie on a break line: the line gives their height.
    doubles : tuple of (SpotHeight, SpotHeight)
        Shots at one position with two heights.
    notices : tuple of Notice
    """

    spots: tuple[SpotHeight, ...]
    xyz: NDArray[np.float64]
    on_line: NDArray[np.bool_]
    doubles: tuple[tuple[SpotHeight, SpotHeight], ...]
    notices: tuple[Notice, ...]


def usable_survey(
    spots: Sequence[SpotHeight],
    strands: Sequence[Strand],
    buildings: BaseGeometry,
    at_wall: float,
) -> Survey:
    """Sort out the shots of a survey.

    Parameters
    ----------
    spots : sequence of SpotHeight
    strands : sequence of Strand
        Break lines; the two edges of a step follow each other.
    buildings : shapely geometry
    at_wall : float, metres
        Shots this near to a corner or wall were taken at it (the rule `shot_at_wall`).

    Returns
    -------
    Survey
    """
    xyz = np.array([(s.x, s.y, s.z) for s in spots], dtype=np.float64).reshape(-1, 3)
    inside, xyz = _out_of_buildings(xyz, buildings, at_wall)
    notices = []
    if inside.any():
        names = tuple(s.name for s, out in zip(spots, inside, strict=True) if out)
        notices.append(Notice("inside a building", names))
    used = [spot for spot, out in zip(spots, inside, strict=True) if not out]
    on_line, xyz = _onto_lines(xyz[~inside], strands)
    first = merge_positions(xyz[:, :2])
    doubles = []
    for position in np.unique(first[first != np.arange(len(first))]):
        same = np.flatnonzero(first == position)
        heights = xyz[same, 2]
        if np.ptp(heights) > _SAME_HEIGHT and not on_line[position]:
            doubles += [
                (used[position], used[k]) for k in same[1:] if used[k].z != used[position].z
            ]
        xyz[position, 2] = heights.mean()
    kept = np.flatnonzero(first == np.arange(len(first)))
    return Survey(
        tuple(used[k] for k in kept), xyz[kept], on_line[kept], tuple(doubles), tuple(notices)
    )


def _out_of_buildings(
    xyz: NDArray[np.float64], buildings: BaseGeometry, at_wall: float
) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """Which shots lie inside a building, and the positions with those at a wall moved onto it.

    The nearest shot to a corner is the corner's: left a hair off it, one of the two walls would not
    see it.
    """
    if buildings.is_empty or not len(xyz):
        return np.zeros(len(xyz), dtype=bool), xyz
    points = shapely.points(xyz[:, :2])
    wall = buildings.boundary
    inside = shapely.contains(buildings, points)
    away = shapely.distance(points, wall)
    near = away <= np.where(inside, max(AT_WALL, at_wall), max(at_wall, TOLERANCE))
    moved = xyz.copy()
    on_wall = shapely.get_point(shapely.shortest_line(wall, points[near]), 0)
    moved[near, :2] = shapely.get_coordinates(on_wall).reshape(-1, 2)
    corners = np.unique(shapely.get_coordinates(wall), axis=0)
    off, nearest = cKDTree(xyz[:, :2]).query(corners)
    held = off <= at_wall
    moved[nearest[held], :2] = corners[held]
    return inside & ~near, moved


def _onto_lines(
    xyz: NDArray[np.float64], strands: Sequence[Strand]
) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """Which shots lie on a break line; those beside a step are moved onto its nearer edge."""
    on_line = np.zeros(len(xyz), dtype=bool)
    moved = xyz.copy()
    misfit = np.full(len(xyz), np.inf)
    points = shapely.points(xyz[:, :2])
    for strand in strands:
        line = shapely.linestrings(strand.xyz[:, :2])
        shapely.prepare(line)
        reach = 1.5 * STEP_WIDTH if strand.step else TOLERANCE
        near = np.flatnonzero(shapely.dwithin(line, points, reach))
        on_line[near] = True
        if not strand.step:
            continue
        station = shapely.line_locate_point(line, points[near])
        along = shapely.line_locate_point(line, shapely.points(strand.xyz[:, :2]))
        off = np.abs(np.interp(station, along, strand.xyz[:, 2]) - xyz[near, 2])
        better = off < misfit[near]
        misfit[near[better]] = off[better]
        moved[near[better], :2] = shapely.get_coordinates(
            shapely.line_interpolate_point(line, station[better])
        )
    return on_line, moved
