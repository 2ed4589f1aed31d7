"""Spot heights that their neighbors do not bear out: named, never dropped.

A dropped digit, a foot misread, a point entered twice: each stands far from what the shots around
it say. Shots on break lines are exempt, for there the ground is meant to bend or step.

A neighbor counts only where it can be seen: not through a building nor across a break line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array, diags_array
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import spsolve
from scipy.spatial import cKDTree
from shapely import LineString, Point

from runoff.site.model import Site, SpotHeight, Units
from runoff.terrain.break_lines import Strand
from runoff.terrain.model import Looks, Suspect
from runoff.terrain.reach import Obstacles
from runoff.terrain.survey import Survey

_FLATTEST_SPREAD = 0.02
_FEWEST = 3


def visible_neighbors(
    places: NDArray[np.float64],
    points: NDArray[np.float64],
    obstacles: Obstacles,
    count: int,
) -> NDArray[np.int64]:
    """The nearest `count` points in view of each place, nearest first, -1 where there are fewer.

    Parameters
    ----------
    places : (m, 2) float array, metres
    points : (n, 2) float array, metres
    obstacles : Obstacles
    count : int

    Returns
    -------
    (m, count) int array
        Indices into `points`.
    """
    tried = min(4 * count, len(points))
    _, near = cKDTree(points).query(places, k=tried)
    near = near.reshape(len(places), tried)
    hidden = np.ones(near.shape, dtype=bool)
    short = np.arange(len(places))
    for first in range(0, tried, count):
        part = near[short, first : first + count]
        start = np.repeat(places[short], part.shape[1], axis=0)
        blocked = obstacles.blocked(start, points[part.ravel()])
        hidden[short, first : first + count] = blocked.reshape(part.shape)
        short = short[(~hidden[short]).sum(axis=1) < count]
    order = np.argsort(hidden, axis=1, kind="stable")[:, :count]
    chosen = np.take_along_axis(np.where(hidden, -1, near), order, axis=1)
    missing = count - chosen.shape[1]
    return np.pad(chosen, ((0, 0), (0, max(missing, 0))), constant_values=-1)


def plane_heights(
    places: NDArray[np.float64], xyz: NDArray[np.float64], neighbors: NDArray[np.int64]
) -> NDArray[np.float64]:
    """The height at each place of the plane through its neighbors, near ones weighing most.

    Weights fall with the square of the distance. Where the neighbors lie on one line the plane is
    level across it. Exact wherever the neighbors lie on one plane.

    Parameters
    ----------
    places : (m, 2) float array, metres
    xyz : (n, 3) float array, metres
    neighbors : (m, k) int array
        Indices into `xyz`, -1 for none.

    Returns
    -------
    (m,) float array, metres
        NaN where a place has fewer than three neighbors.

    Examples
    --------
    >>> xyz = np.array([[0.0, 0.0, 1.0], [2.0, 0.0, 3.0], [0.0, 2.0, 1.0]])
    >>> plane_heights(np.array([[1.0, 5.0]]), xyz, np.array([[0, 1, 2]])).round(9).tolist()
    [2.0]
    """
    heights = np.full(len(places), np.nan)
    for index, (place, row) in enumerate(zip(places, neighbors, strict=True)):
        used = row[row >= 0]
        if len(used) >= _FEWEST:
            heights[index] = _plane_height(place, xyz[used])
    return heights


def _plane_height(place: NDArray[np.float64], xyz: NDArray[np.float64]) -> float:
    offset = xyz[:, :2] - place
    distance = np.hypot(offset[:, 0], offset[:, 1])
    weight = 1.0 / np.maximum(distance, 1e-6) ** 2
    weight /= weight.sum()
    middle = weight @ offset
    level = float(weight @ xyz[:, 2])
    root = np.sqrt(weight)[:, None]
    slope = np.linalg.lstsq(
        root * (offset - middle), root[:, 0] * (xyz[:, 2] - level), rcond=_FLATTEST_SPREAD
    )[0]
    return level - float(slope @ middle)


def spread_heights(
    heights: NDArray[np.float64], xy: NDArray[np.float64], edges: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Fill unknown heights from the known ones along the edges that join them.

    Each unknown height is the mean of its neighbors', near ones weighing more: between two known
    ends of a narrow passage the ground falls evenly. What no known point is joined to stays NaN.

    Parameters
    ----------
    heights : (n,) float array, metres
        NaN where unknown.
    xy : (n, 2) float array, metres
    edges : (m, 2) int array

    Returns
    -------
    (n,) float array, metres

    Examples
    --------
    >>> xy = np.array([[0.0, 0.0], [1.0, 0.0], [4.0, 0.0]])
    >>> heights = np.array([2.0, np.nan, 6.0])
    >>> spread_heights(heights, xy, np.array([[0, 1], [1, 2]])).tolist()
    [2.0, 3.0, 6.0]
    """
    count = len(heights)
    weight = 1.0 / np.maximum(np.hypot(*(xy[edges[:, 0]] - xy[edges[:, 1]]).T), 1e-9)
    # Graph routines of older scipy take 32-bit node numbers only.
    both = np.concatenate([edges, edges[:, ::-1]]).astype(np.int32)
    graph = coo_array((np.tile(weight, 2), (both[:, 0], both[:, 1])), shape=(count, count)).tocsr()
    known = np.isfinite(heights)
    _, part = connected_components(graph, directed=False)
    solved = np.flatnonzero(~known & np.isin(part, part[known]))
    filled = heights.copy()
    if not len(solved):
        return filled
    rows = graph[solved]
    system = diags_array(rows.sum(axis=1)) - rows[:, solved]
    right = rows[:, np.flatnonzero(known)] @ heights[known]
    filled[solved] = spsolve(system.tocsc(), right)
    return filled


NEIGHBORS = 20
"""Shots that each is judged by: most of a list of 30 points, and few enough for 20,000."""
FEWEST_NEIGHBORS = 5
OUTLYING = 4.7
"""Misfits beyond this many times their expected spread are named."""
_WORTH_A_TRIAL = 0.6
"""Of that, what is set aside on trial: one wrong shot hides in the spread that it makes."""
OUTLYING_HERE = 3.0
"""And beyond this many times the misfits around them: a mound is borne out by its neighbors."""
_AROUND = 6
SMALLEST_MISFIT = 0.08
"""Misfits below this, metres, are the ground's own unevenness."""
_MOST_NAMED = 0.1
_QUARTILE = 1.1503
"""Half of a normal distribution's values, and half of the rest, lie within this of the middle."""
_LEVEL = 10.0
_PLENTY = 2000
"""Shots predicted at once, so that their matrices stay small in memory."""

_LOWEST_CURB, _HIGHEST_CURB = 0.05, 0.4
"""Curbs with their gutters step by 4 to 8 in; a misfit is of that size, metres, give or take."""
_BESIDE_CURB = 3.0
_AKIN_BESIDE, _AKIN_ELSEWHERE = 2.0, 1.25
"""Misfits that differ by no more than this factor are off alike: at neighbors, and anywhere."""
_FEWEST_ALIKE = 3
_MOST_TO_GROUP = 30
"""Where more than so many are off, as in a cloud, they are no bank that somebody shot."""
FOOT = 0.3048
_NEAR_A_STEP = 0.25
_NEAR_AT_MOST = 0.15


@dataclass(frozen=True)
class Unevenness:
    """How ground of a house lot strays from a plane, metres; the survey then scales it all.

    Two places `r` apart differ by a random height of standard deviation
    ``rise * (r / 10 m) ** (bend / 2)`` (a power variogram), over a plane of any slope a yard may
    have. Within `apron_m` of a wall the ground falls away or has settled: by `apron` in all, and by
    `apron_wall` otherwise at each wall, alike over `apron_length`. `turf` is what one shot strays
    from all that. `of_it` is the share of this that is expected before the survey has spoken, and
    counts as much as `shots` shots.
    """

    rise: float = 0.113
    bend: float = 1.3
    slope: float = 1.0
    apron_m: float = 3.048
    apron: float = 0.1
    apron_wall: float = 0.08
    apron_length: float = 6.0
    turf: float = 0.0105
    of_it: float = 0.7
    shots: float = 15.0


YARD = Unevenness()


def double_suspects(survey: Survey) -> list[Suspect]:
    """The shots that stand at the position of an earlier one with another height.

    Parameters
    ----------
    survey : Survey

    Returns
    -------
    list of Suspect
    """
    return [
        Suspect(
            *(again.name, again.x, again.y, again.z, first.z, again.z - first.z),
            looks_like="entered twice",
            beside=first.name,
        )
        for first, again in survey.doubles
    ]


def ask_for_curbs(site: Site, suspects: Sequence[Suspect]) -> list[Suspect]:
    """The same suspects, those at a street asked about as shots below an undrawn curb.

    A shot in the street that stands up to a foot or so below its neighbors, or one on the lot
    beside it that stands as much above them, is most likely right: a curb lies between, and the
    survey does not have it.
    """
    lot, asked = site.lot, []
    for each in suspects:
        here = Point(each.x, each.y)
        side = min(lot.sides, key=lambda s: LineString(s.line).distance(here)) if lot else None
        if lot is not None and side is not None and side.neighbor in ("street", "alley"):
            outside = not lot.boundary.contains(here)
            beside = outside or LineString(side.line).distance(here) <= _BESIDE_CURB
            step = -each.misfit if outside else each.misfit
            if beside and _LOWEST_CURB <= step <= _HIGHEST_CURB:
                each = replace(each, looks_like="curb", beside=side.neighbor)
        asked.append(each)
    return asked


def find_blunders(
    site: Site, survey: Survey, lines: list[Strand], obstacles: Obstacles
) -> list[Suspect]:
    """The shots that stand far from what their neighbors predict, the farthest first.

    Each shot is left out in turn and predicted from the shots in view of it, as ground of a house
    lot goes (`Unevenness`), together with how far that may be wrong there: much beyond a row of
    shots on one line or at the survey's end, little among many. What is far off is measured by the
    survey itself. The worst is set aside and its neighbors judged again, so that it casts no
    suspicion on them.

    Parameters
    ----------
    site : Site
    survey : Survey
    lines : list of Strand
    obstacles : Obstacles
        A shot beyond a break line is no neighbor; one behind a building is, for the ground goes
        around it, and on a list of few points there is often no other.

    Returns
    -------
    list of Suspect
    """
    judged = np.flatnonzero(~survey.on_line)
    if len(judged) <= FEWEST_NEIGHBORS:
        return []
    points = np.concatenate([survey.xyz[judged], *(strand.xyz for strand in lines)])
    in_view = Obstacles(shapely.Polygon(), obstacles.lines)
    near = visible_neighbors(points[: len(judged), :2], points[:, :2], in_view, 2 * NEIGHBORS)
    near = np.where(near == np.arange(len(judged))[:, None], -1, near)
    away = shapely.distance(obstacles.buildings, shapely.points(points[:, :2]))
    apron = np.clip(1.0 - np.nan_to_num(away, nan=np.inf) / YARD.apron_m, 0.0, None)
    noise = float(np.hypot(YARD.turf, site.height_accuracy.sigma))
    floor = max(SMALLEST_MISFIT, 4 * site.height_accuracy.sigma)
    found = _outliers(_Shots(points, near, apron, noise), floor)
    return [
        _suspect([survey.spots[judged[k]] for k in alike], points[alike[0], 2], height, site.units)
        for alike, height in _alike(found, points, near)
    ]


@dataclass(frozen=True)
class _Shots:
    """(n, 3) points, the first m judged, and their (n,) shares of a building's apron.

    `near` is (m, k), the neighbors of each by distance, -1 for none; `noise` of one height, metres.
    """

    points: NDArray[np.float64]
    near: NDArray[np.int64]
    apron: NDArray[np.float64]
    noise: float


def _outliers(shots: _Shots, floor: float) -> list[tuple[int, float]]:
    """(index, predicted height) of the shots that fail against all that do not, the worst first.

    Shots are set aside on trial, the worst of each neighborhood at a time, and all others judged
    without them; then those that the rest bears out after all come back.
    """
    count = len(shots.near)
    aside = np.zeros(len(shots.points), dtype=bool)
    judgment = _Judgment(shots, floor)
    most = max(1, int(_MOST_NAMED * count))
    while aside.sum() < most:
        score = np.where(aside[:count], 0.0, judgment.scores(aside))
        around = np.where(
            shots.near >= 0, np.append(score, np.zeros(len(aside) - count))[shots.near], 0.0
        )
        worst = np.flatnonzero((score > _WORTH_A_TRIAL) & (score >= around.max(axis=1)))
        if not len(worst):
            break
        aside[worst[np.argsort(-score[worst])][: most - int(aside.sum())]] = True
    while aside.any():
        back = np.flatnonzero(aside[:count] & (judgment.scores(aside) <= 1.0))
        if not len(back):
            break
        aside[back] = False
    score = judgment.scores(aside)
    named = [k for k in np.flatnonzero(aside) if judgment.stands_out(int(k))]
    return [(int(k), float(judgment.predicted[k])) for k in sorted(named, key=lambda k: -score[k])]


class _Judgment:
    """What the shots that are not set aside predict at each; kept, and mended where that changes.

    `predicted` and `spread` are (m,) metres, NaN where too few shots are in view.
    """

    def __init__(self, shots: _Shots, floor: float) -> None:
        self.shots = shots
        self.floor = floor
        self.predicted = np.full(len(shots.near), np.nan)
        self.spread = np.full(len(shots.near), np.nan)
        self.chosen = np.full((len(shots.near), NEIGHBORS), -2)

    def scores(self, aside: NDArray[np.bool_]) -> NDArray[np.float64]:
        """How far each misfit goes beyond what is allowed there; above 1 is a blunder."""
        chosen = _nearest_kept(self.shots.near, aside)
        changed = np.flatnonzero((chosen != self.chosen).any(axis=1))
        self.chosen = chosen
        self._predict(changed)
        misfit = np.abs(self.shots.points[: len(chosen), 2] - self.predicted)
        ratio = misfit / self.spread
        kept = ratio[~aside[: len(ratio)] & np.isfinite(ratio)]
        if not len(kept):
            return np.zeros(len(ratio))
        own = float(np.quantile(kept, 0.75)) / _QUARTILE
        pull = YARD.shots / (YARD.shots + len(kept))
        scale = np.sqrt(pull * YARD.of_it**2 + (1.0 - pull) * own**2)
        allowed = np.maximum(OUTLYING * scale * self.spread, self.floor)
        return np.nan_to_num(misfit / allowed, nan=0.0)

    def stands_out(self, shot: int) -> bool:
        """Whether a shot is much farther off than the third quartile of those nearest to it."""
        misfit = np.abs(self.shots.points[: len(self.predicted), 2] - self.predicted)
        ratio = misfit / self.spread
        near = self.shots.near[shot]
        around = ratio[near[(near >= 0) & (near < len(ratio))][:_AROUND]]
        around = around[np.isfinite(around)]
        usual = float(np.quantile(around, 0.75)) if len(around) else 0.0
        return bool(ratio[shot] > OUTLYING_HERE * usual)

    def _predict(self, rows: NDArray[np.int64]) -> None:
        counts = (self.chosen[rows] >= 0).sum(axis=1)
        self.predicted[rows] = self.spread[rows] = np.nan
        for count in np.unique(counts[counts >= FEWEST_NEIGHBORS]):
            alike = rows[counts == count]
            for part in np.array_split(alike, len(alike) // _PLENTY + 1):
                near = self.chosen[part, :count]
                self.predicted[part], self.spread[part] = _kriged(self.shots, part, near)


def _nearest_kept(near: NDArray[np.int64], aside: NDArray[np.bool_]) -> NDArray[np.int64]:
    kept = np.where((near >= 0) & aside[near], -1, near)
    order = np.argsort(kept < 0, axis=1, kind="stable")[:, :NEIGHBORS]
    return np.pad(
        np.take_along_axis(kept, order, axis=1),
        ((0, 0), (0, max(NEIGHBORS - order.shape[1], 0))),
        constant_values=-1,
    )


def _kriged(
    shots: _Shots, rows: NDArray[np.int64], near: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Height at each of (m,) shots from its (m, k) neighbors, and the spread of shot less height.

    Simple kriging: with the covariance C of the neighbors and c with the place, ``w = C^-1 c``,
    the height ``w' z`` and the variance ``c0 - w' c`` (Cressie 1993, Statistics for Spatial Data,
    section 3.2; a level and a slope that are hardly known beforehand make it universal kriging).
    """
    offset = shots.points[near, :2] - shots.points[rows, None, :2]
    apron = shots.apron[near]
    here = shots.apron[rows, None]
    apart = np.hypot(*np.moveaxis(offset[:, :, None] - offset[:, None, :], -1, 0))
    away = np.hypot(offset[:, :, 0], offset[:, :, 1])
    among = _covariance(apart, apron[:, :, None] * apron[:, None, :])
    among += YARD.slope**2 * (offset @ np.swapaxes(offset, 1, 2))
    among += shots.noise**2 * np.eye(near.shape[1])
    toward = _covariance(away, apron * here)
    weight = np.linalg.solve(among, toward[:, :, None])[:, :, 0]
    level = np.median(shots.points[near, 2], axis=1)
    predicted = level + (weight * (shots.points[near, 2] - level[:, None])).sum(axis=1)
    own = _covariance(np.zeros(len(rows)), here[:, 0] ** 2)
    variance = own - (weight * toward).sum(axis=1)
    return predicted, np.sqrt(np.maximum(variance, 0.0) + shots.noise**2)


def _covariance(apart: NDArray[np.float64], aprons: NDArray[np.float64]) -> NDArray[np.float64]:
    """Of heights `apart` metres from each other, with the product of their shares of an apron."""
    yard = _LEVEL**2 - YARD.rise**2 / 2 * (apart / 10.0) ** YARD.bend
    wall = YARD.apron_wall**2 * np.exp(-apart / YARD.apron_length)
    return yard + aprons * (YARD.apron**2 + wall)


def _alike(
    found: list[tuple[int, float]], points: NDArray[np.float64], near: NDArray[np.int64]
) -> list[tuple[list[int], float]]:
    """Shots that are off alike as one, with the height predicted at the first.

    Three that stand as far above their neighbors, the far bank of a swale that no line tells of,
    were hardly all misread: that is one question about the ground, and not three about readings.
    """
    if len(found) > _MOST_TO_GROUP:
        return [([k], height) for k, height in found]
    misfit = {k: points[k, 2] - height for k, height in found}

    def akin(one: int, other: int) -> bool:
        beside = other in near[one] or one in near[other]
        a, b = misfit[one], misfit[other]
        most = _AKIN_BESIDE if beside else _AKIN_ELSEWHERE
        return a * b > 0 and max(abs(a), abs(b)) <= most * min(abs(a), abs(b))

    left, told = dict(found), []
    for first, height in found:
        if first not in left:
            continue
        group = [first]
        for member in group:
            group += [k for k in left if k not in group and akin(member, k)]
        group = group if len(group) >= _FEWEST_ALIKE else [first]
        for k in group:
            del left[k]
        told.append((group, height))
    return told


def _suspect(spots: Sequence[SpotHeight], height: float, predicted: float, units: Units) -> Suspect:
    """The first of some shots that are off alike, the others named with it."""
    first, *others = spots
    misfit = height - predicted
    looks_like = _guess(misfit, units)
    if others and looks_like == "unknown":
        looks_like = "bend"
    with_it = tuple(spot.name for spot in others)
    return Suspect(
        first.name, first.x, first.y, height, predicted, misfit, looks_like, with_it=with_it
    )


def _guess(misfit: float, units: Units) -> Looks:
    """What a misfit near a whole foot, or near one digit of the unit, looks like."""
    off = abs(misfit)
    digits = [10.0 * FOOT] if units == "ft" else [0.1, 1.0, 10.0]
    if units == "ft" and _is_near(off, FOOT):
        return "foot misread"
    return "digit misread" if any(_is_near(off, digit) for digit in digits) else "unknown"


def _is_near(off: float, step: float) -> bool:
    return abs(off - step) <= min(_NEAR_A_STEP * step, _NEAR_AT_MOST)
