"""Spot heights that their neighbors do not bear out: named, never dropped.

A dropped digit, a foot misread, a point entered twice: each stands far from what the shots around
it say. Shots on break lines are exempt, for there the ground is meant to bend or step.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runoff.site.model import Site, SpotHeight, Units
from runoff.terrain.lines import Strand
from runoff.terrain.model import Suspect
from runoff.terrain.neighbors import visible_neighbors
from runoff.terrain.sight import Obstacles
from runoff.terrain.survey import Survey
from runoff.terrain.triangulation import median_spacing
from runoff.terrain.wording import length_text

NEIGHBORS = 14
FEWEST_NEIGHBORS = 5
OUTLYING = 4.5
"""Misfits beyond this many robust standard deviations of the survey are named."""
OUTLYING_HERE = 3.0
"""And beyond this many times the misfits around them: a mound is borne out by its neighbors."""
_AROUND = 6
SMALLEST_MISFIT = 0.08
"""Misfits below this, metres, are the ground's own unevenness."""
_SHOTS_NOISE = 0.05
_ON_ONE_LINE = 1e-9
_MOST_NAMED = 0.1
_MAD_TO_SIGMA = 1.4826
FOOT = 0.3048


def double_suspects(survey: Survey, units: Units) -> list[Suspect]:
    """The shots that stand at the position of an earlier one with another height.

    Parameters
    ----------
    survey : Survey
    units : {"ft", "m"}
        What the user works in; the reasons are written in it.

    Returns
    -------
    list of Suspect
    """
    named = []
    for first, again in survey.doubles:
        misfit = again.z - first.z
        reason = (
            f"lies where '{first.name}' does and stands {_said(misfit, units)} it: entered twice? "
            "the mean of the two is used"
        )
        named.append(Suspect(again.name, again.x, again.y, again.z, first.z, misfit, reason))
    return named


def find_blunders(
    site: Site, survey: Survey, lines: list[Strand], obstacles: Obstacles
) -> list[Suspect]:
    """The shots that stand far from what their neighbors predict, the farthest first.

    Each shot is left out in turn and predicted from the shots in view of it by a thin-plate
    surface, which follows a mound or a hollow. What is far off is measured by the survey itself:
    the median misfit of all shots, each beside how well its place can be predicted at all. The
    worst is set aside and its neighbors judged again, so that it casts no suspicion on them.

    Parameters
    ----------
    site : Site
    survey : Survey
    lines : list of Strand
    obstacles : Obstacles
        A shot beyond a break line or a building is no neighbor.

    Returns
    -------
    list of Suspect
    """
    judged = np.flatnonzero(~survey.on_line)
    if len(judged) <= FEWEST_NEIGHBORS:
        return []
    points = np.concatenate([survey.xyz[judged], *(strand.xyz for strand in lines)])
    near = visible_neighbors(points[: len(judged), :2], points[:, :2], obstacles, 3 * NEIGHBORS)
    near = np.where(near == np.arange(len(judged))[:, None], -1, near)
    shots = _Shots(points, near, max(median_spacing(points[:, :2]), 1e-3))
    floor = max(SMALLEST_MISFIT, 4 * site.height_accuracy.sigma)
    found = _set_aside_the_worst(shots, floor)
    return [
        _suspect(survey.spots[judged[k]], points[k, 2], predicted, site.units)
        for k, predicted in found
    ]


@dataclass(frozen=True)
class _Shots:
    """(n, 3) points, the first rows judged; (m, k) their neighbors by distance, -1 for none."""

    points: NDArray[np.float64]
    near: NDArray[np.int64]
    spacing: float


def _set_aside_the_worst(shots: _Shots, floor: float) -> list[tuple[int, float]]:
    """(index, predicted height) of the shots that fail against all that do not."""
    aside: list[int] = []
    most = max(1, int(_MOST_NAMED * len(shots.near)))
    for _ in range(most):
        predicted, spread = _predict(shots, aside)
        score = _scores(shots, predicted, spread, floor)
        score[aside] = 0.0
        worst = int(np.argmax(score))
        if score[worst] <= 1.0:
            break
        aside.append(worst)
    predicted, spread = _predict(shots, aside)
    score = _scores(shots, predicted, spread, floor)
    ratio = np.abs(shots.points[: len(predicted), 2] - predicted) / spread
    return [
        (k, float(predicted[k]))
        for k in aside
        if score[k] > 1.0 and ratio[k] > OUTLYING_HERE * _ratio_around(shots, ratio, k)
    ]


def _ratio_around(shots: _Shots, ratio: NDArray[np.float64], shot: int) -> float:
    """The third quartile of the misfits of the judged shots nearest to one."""
    near = shots.near[shot]
    near = near[(near >= 0) & (near < len(ratio))][:_AROUND]
    around = ratio[near]
    around = around[np.isfinite(around)]
    return float(np.quantile(around, 0.75)) if len(around) else 0.0


def _scores(
    shots: _Shots, predicted: NDArray[np.float64], spread: NDArray[np.float64], floor: float
) -> NDArray[np.float64]:
    """How far each misfit goes beyond what is allowed there; above 1 is a blunder."""
    misfit = np.abs(shots.points[: len(predicted), 2] - predicted)
    ratio = misfit / spread
    if not np.isfinite(ratio).any():
        return np.zeros(len(predicted))
    sigma = _MAD_TO_SIGMA * float(np.nanmedian(ratio))
    allowed = np.maximum(OUTLYING * sigma * spread, floor)
    return np.nan_to_num(misfit / allowed, nan=0.0)


def _predict(shots: _Shots, aside: list[int]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Height at each judged shot from its neighbors, and how much it varies in relative terms.

    The neighbors' weights are those of a thin-plate spline with a plane: with phi = r^2 log r,
    ``[[phi + noise, P], [P', 0]] [w, m] = [phi0, p0]``, and the variance of the prediction is
    ``w' phi w - 2 w' phi0`` (any text on kriging with a generalized covariance).
    """
    chosen = _nearest_kept(shots.near, aside)
    usable = (chosen >= 0).sum(axis=1) >= FEWEST_NEIGHBORS
    predicted = np.full(len(chosen), np.nan)
    spread = np.full(len(chosen), np.nan)
    for count in np.unique((chosen[usable] >= 0).sum(axis=1)):
        rows = np.flatnonzero(usable & ((chosen >= 0).sum(axis=1) == count))
        offset = shots.points[chosen[rows, :count], :2] - shots.points[rows, None, :2]
        weight, variance = _thin_plate(offset / shots.spacing)
        predicted[rows] = (weight * shots.points[chosen[rows, :count], 2]).sum(axis=1)
        spread[rows] = np.sqrt(variance)
    return predicted, spread


def _nearest_kept(near: NDArray[np.int64], aside: list[int]) -> NDArray[np.int64]:
    kept = np.where(np.isin(near, aside), -1, near)
    order = np.argsort(kept < 0, axis=1, kind="stable")[:, :NEIGHBORS]
    return np.take_along_axis(kept, order, axis=1)


def _thin_plate(offset: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Weights and variance of the prediction at the origin from (m, k, 2) positions around it."""
    sets, count = offset.shape[:2]
    apart = np.hypot(*np.moveaxis(offset[:, :, None] - offset[:, None, :], -1, 0))
    phi = _phi(apart)
    away = _phi(np.hypot(offset[:, :, 0], offset[:, :, 1]))
    plane = np.concatenate([np.ones((sets, count, 1)), offset], axis=2)
    system = np.zeros((sets, count + 3, count + 3))
    system[:, :count, :count] = phi + _SHOTS_NOISE * np.eye(count)
    system[:, :count, count:] = plane
    system[:, count:, :count] = np.swapaxes(plane, 1, 2)
    system[:, count:, count:] = -_ON_ONE_LINE * np.eye(3)
    right = np.concatenate([away, np.broadcast_to([1.0, 0.0, 0.0], (sets, 3))], axis=1)
    weight = np.linalg.solve(system, right[:, :, None])[:, :count, 0]
    inner = (weight[:, None, :] @ phi @ weight[:, :, None])[:, 0, 0]
    variance = inner - 2 * (weight * away).sum(axis=1)
    noise = _SHOTS_NOISE * (1 + (weight**2).sum(axis=1))
    return weight, np.maximum(variance, 0.0) + noise


def _phi(distance: NDArray[np.float64]) -> NDArray[np.float64]:
    return distance**2 * np.log(np.maximum(distance, 1e-12))


def _suspect(spot: SpotHeight, height: float, predicted: float, units: Units) -> Suspect:
    misfit = height - predicted
    reason = f"stands {_said(misfit, units)} what its neighbors say: {_guess(misfit)}"
    return Suspect(spot.name, spot.x, spot.y, height, predicted, misfit, reason)


def _said(misfit: float, units: Units) -> str:
    return f"{length_text(abs(misfit), units)} {'above' if misfit > 0 else 'below'}"


def _guess(misfit: float) -> str:
    feet = abs(misfit) / FOOT
    if abs(feet - 1) < 0.35:
        return "a foot misread?"
    if abs(feet - 10) < 1 or abs(abs(misfit) - 10) < 1 or abs(abs(misfit) - 1) < 0.1:
        return "a digit misread?"
    return "look at the reading and the position again"
