"""A local survey tied to a map by common points: turned and moved, never stretched.

In: the same points in plan metres and in map metres. Out: how the plan lies on the map, and how
far the two sets of distances disagree.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runoff.site.map_error import MapError

NEAREST = 3.0
"""Common points closer together than this, metres, turn the plan too loosely."""
SCALE_OFF = 0.02
"""How far the distances between common points may disagree, as a share."""


@dataclass(frozen=True)
class Tie:
    """How a plan lies on a map.

    Parameters
    ----------
    origin : (x, y), metres
        Map position of plan 0,0.
    rotation : float, radians
        Counterclockwise, from the map's x axis to the plan's.
    scale : float
        Distances on the map over those on the plan; 1 where both were measured well.
    misfit : float, metres
        How far the worst common point lies from its place on the map.
    """

    origin: tuple[float, float]
    rotation: float
    scale: float
    misfit: float


def tie_plan(plan: NDArray[np.float64], on_map: NDArray[np.float64]) -> Tie:
    """Turn and move a plan onto a map so that its common points fit best.

    The rotation is the one of least squares in the plane,
    ``atan2(sum(p x m), sum(p . m))`` with both sets about their centroids. The plan keeps its
    lengths, for it was taped on the ground; the scale is only looked at.

    Parameters
    ----------
    plan, on_map : (n, 2) float arrays, metres
        The same points, at least two.

    Raises
    ------
    MapError
        Where the points lie together, their distances disagree by more than 2 %, or the plan is a
        mirror image of the map.

    References
    ----------
    Least squares with a rotation: P. H. Schoenemann (1966), A generalized solution of the
    orthogonal Procrustes problem, Psychometrika 31, doi 10.1007/BF02289451.

    Examples
    --------
    >>> plan = np.array([[0.0, 0.0], [10.0, 0.0]])
    >>> tie = tie_plan(plan, np.array([[500.0, 100.0], [500.0, 110.0]]))
    >>> tie.origin, round(float(np.degrees(tie.rotation)), 6), tie.scale, tie.misfit
    ((500.0, 100.0), 90.0, 1.0, 0.0)
    """
    p, m = plan - plan.mean(axis=0), on_map - on_map.mean(axis=0)
    if min(np.hypot(*p.T).max(), np.hypot(*m.T).max()) < NEAREST / 2.0:
        raise MapError(
            "common points at least 10 ft (3 m) apart, such as two far corners of the house"
        )
    rotation, scale, turned = _fit(p, m)
    off = float(np.hypot(*(turned - m).T).max())
    if len(plan) > 2 and off > SCALE_OFF * np.hypot(*p.T).max():
        mirrored = _fit(p * [1.0, -1.0], m)[2]
        if np.hypot(*(mirrored - m).T).max() < off / 2.0:
            raise MapError(
                "a plan with x to the right and y up; these common points are a mirror image of "
                "the map"
            )
    if abs(scale - 1.0) > SCALE_OFF:
        raise MapError(
            f"common points as far apart on the plan as on the map, to {SCALE_OFF:.0%}; on the map "
            f"they are {scale:.3f} times as far apart"
        )
    cos, sin = np.cos(rotation), np.sin(rotation)
    x, y = on_map.mean(axis=0) - np.array([[cos, -sin], [sin, cos]]) @ plan.mean(axis=0)
    return Tie((float(x), float(y)), rotation, scale, round(off, 9))


def _fit(
    p: NDArray[np.float64], m: NDArray[np.float64]
) -> tuple[float, float, NDArray[np.float64]]:
    """Rotation, scale, and the turned points of two sets about their centroids."""
    cross = float((p[:, 0] * m[:, 1] - p[:, 1] * m[:, 0]).sum())
    dot = float((p * m).sum())
    rotation = float(np.arctan2(cross, dot))
    cos, sin = np.cos(rotation), np.sin(rotation)
    scale = float(np.hypot(cross, dot) / (p**2).sum())
    return rotation, scale, p @ np.array([[cos, sin], [-sin, cos]])
