"""Break lines as strands: chains of positions with heights that the triangulation must keep.

A line that bends gives one strand; a step gives two, its foot a hair beside its top.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from runoff.site.model import BreakLine, Units
from runoff.site.notices import Notice
from runoff.site.problems import InputError, Problem
from runoff.terrain.triangulation import STEP_WIDTH, TOLERANCE
from runoff.terrain.wording import length_text, place_text

AT_WALL = 0.15
"""What is drawn no farther inside an outline than this, metres, was measured at the wall."""
_MOST_POINTS = 5_000
"""A break line this many times as long as the points are apart holds a point that is far off."""


@dataclass(frozen=True)
class Strand:
    """(k, 3) positions and heights along a break line; `step` where it is one edge of a step."""

    line: BreakLine
    xyz: NDArray[np.float64]
    step: bool


def strands(
    lines: Sequence[BreakLine], buildings: BaseGeometry, spacing: float, units: Units
) -> tuple[list[Strand], list[Notice]]:
    """Every break line as strands outside the buildings, with points at most `spacing` apart.

    Parameters
    ----------
    lines : sequence of BreakLine
    buildings : shapely geometry
        Union of the outlines; what lies inside it is cut off, and said.
    spacing : float, metres
    units : {"ft", "m"}
        For messages.

    Returns
    -------
    strands : list of Strand
    notices : list of Notice

    Raises
    ------
    InputError
        Where two break lines cross, or one crosses itself, away from a shared point, or one has no
        length or is far longer than a lot.
    """
    _refuse_lengths(lines, spacing, units)
    _refuse_crossings(lines, units)
    made: list[Strand] = []
    notices: list[Notice] = []
    for line in lines:
        edges = _edges(line, spacing)
        notices += _cut_notices(line, buildings)
        for xyz in edges:
            made += [Strand(line, piece, len(edges) == 2) for piece in _clip(xyz, buildings)]
    return made, notices


def _cut_notices(line: BreakLine, buildings: BaseGeometry) -> list[Notice]:
    """What of a line is left out inside a building, or taken to its wall."""
    drawn = LineString(line.line)
    if line.foot is None and not drawn.intersects(buildings.buffer(-AT_WALL)):
        inside = drawn.intersection(buildings.buffer(-TOLERANCE))
        if inside.length <= AT_WALL:
            return []
        along = shapely.get_coordinates(shapely.segmentize(inside, AT_WALL))
        deepest = shapely.distance(buildings.boundary, shapely.points(along)).max()
        return [Notice("line inside a wall", (line.name,), {"deepest_m": float(deepest)})]
    if drawn.intersection(buildings.buffer(-TOLERANCE)).length <= TOLERANCE:
        return []
    outside = drawn.difference(buildings.buffer(TOLERANCE)).length
    cut = outside > TOLERANCE
    return [Notice("line cut at a building" if cut else "line in a building", (line.name,))]


def heights_from_lines(
    places: NDArray[np.float64], lines: Sequence[BreakLine], buildings: BaseGeometry
) -> NDArray[np.float64]:
    """The heights (n,) that break lines along walls give to (n, 2) places on those walls.

    A line tells the ground of a wall that it lies on, or that it lies no farther inside of than a
    tape is off; NaN elsewhere. Of a step nobody can say which of its edges is at the wall.

    Examples
    --------
    >>> from runoff.site.model import Written
    >>> ends, top = np.array([[0.0, 0.05], [4.0, 0.05]]), np.array([10.0, 12.0])
    >>> foot = BreakLine("foot", ends, top, None, None, (), Written("site.toml", 1, "break_line"))
    >>> house = shapely.box(0, 0, 9, 6)
    >>> heights_from_lines(np.array([[1.0, 0.0], [7.0, 0.0]]), [foot], house).tolist()
    [10.5, nan]
    """
    heights = np.full(len(places), np.nan)
    points = shapely.points(places)
    for line in lines:
        drawn = LineString(line.line)
        away = shapely.distance(drawn, points)
        near = np.flatnonzero(np.isnan(heights) & (away <= AT_WALL))
        if line.foot is not None or not len(near):
            continue
        station = shapely.line_locate_point(drawn, points[near])
        beside = shapely.line_interpolate_point(drawn, station)
        at_wall = (away[near] <= TOLERANCE) | shapely.contains(buildings, beside)
        told = np.interp(station[at_wall], _stations(line.line), line.top)
        heights[near[at_wall]] = told
    return heights


def sight_lines(made: Sequence[Strand], buildings: BaseGeometry) -> BaseGeometry:
    """The strands as what blocks the view, steps a little longer than they are.

    From below a step nothing on its top can be seen, past its very end neither. A line that bends
    along a wall, no farther from it than a tape is off, hides nothing from the wall.
    """
    seen = []
    for strand in made:
        line = LineString(_lengthened(strand.xyz[:, :2]) if strand.step else strand.xyz[:, :2])
        if not strand.step and not buildings.is_empty:
            beside = line.intersection(buildings.buffer(AT_WALL))
            along = [part for part in shapely.get_parts(beside) if part.length > 3 * AT_WALL]
            line = line.difference(shapely.union_all(along).buffer(TOLERANCE))
        seen.append(line)
    return shapely.union_all(seen)


def _lengthened(xy: NDArray[np.float64]) -> NDArray[np.float64]:
    before, after = xy[0] - xy[1], xy[-1] - xy[-2]
    reach = 3 * STEP_WIDTH
    first = xy[0] + reach * before / np.hypot(*before)
    last = xy[-1] + reach * after / np.hypot(*after)
    return np.vstack([first, xy, last])


def _edges(line: BreakLine, spacing: float) -> list[NDArray[np.float64]]:
    heights = [line.top] if line.foot is None else [line.top, line.foot]
    dense = _densify(np.column_stack([line.line, *heights]), spacing)
    top = dense[:, :3]
    if line.foot is None:
        return [top]
    side = 1.0 if line.foot_side == "left" else -1.0
    beside = _beside(dense[:, :2], side * STEP_WIDTH)
    drawn_in = shapely.line_locate_point(LineString(dense[:, :2]), shapely.points(beside))
    station = _stations(dense[:, :2])
    ends = np.array([0, -1])
    foot = dense[:, 3].copy()
    foot[ends] = np.interp(drawn_in[ends], station, foot)
    return [top, np.column_stack([beside, foot])]


def _stations(xy: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])


def _densify(rows: NDArray[np.float64], spacing: float) -> NDArray[np.float64]:
    """Insert rows so that no two are farther apart on the plan than `spacing`."""
    station = _stations(rows[:, :2])
    wanted = [station[:1]]
    for start, end in pairwise(station):
        if end > start:
            wanted.append(
                np.linspace(start, end, max(1, int(np.ceil((end - start) / spacing))) + 1)[1:]
            )
    at = np.concatenate(wanted)
    distinct = np.concatenate([[True], np.diff(station) > 0])
    return np.column_stack(
        [np.interp(at, station[distinct], column[distinct]) for column in rows.T]
    )


def _beside(xy: NDArray[np.float64], offset: float) -> NDArray[np.float64]:
    """The line moved sideways by `offset` (left positive), its free ends drawn in a little."""
    along = np.diff(xy, axis=0)
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    closed = bool(np.hypot(*(xy[0] - xy[-1])) <= TOLERANCE) and len(xy) > 3
    before = np.vstack([along[-1:] if closed else along[:1], along])
    after = np.vstack([along, along[:1] if closed else along[-1:]])
    left_before = np.column_stack([-before[:, 1], before[:, 0]])
    left_after = np.column_stack([-after[:, 1], after[:, 0]])
    bisector = left_before + left_after
    share = np.maximum((bisector * left_before).sum(axis=1), 0.25)
    moved = xy + offset * bisector / share[:, None]
    if not closed:
        pull = 2 * abs(offset)
        moved[0] += pull * along[0]
        moved[-1] -= pull * along[-1]
    return moved


def _clip(xyz: NDArray[np.float64], buildings: BaseGeometry) -> list[NDArray[np.float64]]:
    """The parts of a strand outside the buildings, heights linear along it."""
    if buildings.is_empty:
        return [xyz]
    line = LineString(xyz[:, :2])
    if not line.intersects(buildings) or line.touches(buildings):
        return [xyz]
    station = _stations(xyz[:, :2])
    outside = shapely.line_merge(line.difference(buildings))
    pieces = [part for part in shapely.get_parts(outside) if part.length > TOLERANCE]
    clipped = []
    for piece in pieces:
        xy = shapely.get_coordinates(piece)
        at = shapely.line_locate_point(line, shapely.points(xy))
        clipped.append(np.column_stack([xy, np.interp(at, station, xyz[:, 2])]))
    return clipped


def _refuse_lengths(lines: Sequence[BreakLine], spacing: float, units: Units) -> None:
    without = [line for line in lines if _stations(line.line)[-1] <= TOLERANCE]
    if without:
        expected = "a line from one place to another; all of its points lie at one place"
        raise InputError([_problem(line, expected) for line in without])
    endless = [line for line in lines if _stations(line.line)[-1] > _MOST_POINTS * spacing]
    if endless:
        most = length_text(_MOST_POINTS * spacing, units)
        expected = f"a line of at most {most}; is one of its points far off?"
        raise InputError([_problem(line, expected) for line in endless])


def _refuse_crossings(lines: Sequence[BreakLine], units: Units) -> None:
    shapes = [LineString(line.line) for line in lines]
    problems = []
    for line, shape in zip(lines, shapes, strict=True):
        if not shape.is_simple:
            problems.append(_problem(line, "a line that does not cross itself"))
    for (one, first), (other, second) in combinations(zip(lines, shapes, strict=True), 2):
        place = _crossing(first, second)
        if place is not None:
            problems.append(
                _problem(
                    other,
                    f"a line that does not cross break line '{one.name}' (they cross at "
                    f"{place_text(place.x, place.y, units)}); let both run through one spot height "
                    "there",
                )
            )
    if problems:
        raise InputError(problems)


def _problem(line: BreakLine, expected: str) -> Problem:
    entry = f"break_line '{line.name}'"
    return Problem(line.written.file, line.written.line, entry, "", expected)


def _crossing(first: LineString, second: LineString) -> Point | None:
    """Where two lines cross away from the points of either, or None."""
    if not first.crosses(second):
        return None
    corners = shapely.multipoints(
        np.vstack([shapely.get_coordinates(first), shapely.get_coordinates(second)])
    )
    for part in shapely.get_parts(first.intersection(second)):
        if part.geom_type == "Point" and part.distance(corners) > TOLERANCE:
            return part
    return None
