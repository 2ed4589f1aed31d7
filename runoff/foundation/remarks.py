"""What is named beside a verdict: drives that fall to the wall, walks that trap water.

In: a site, its terrain and the stations of a run. Out: remarks.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from runoff.foundation.grade import ROUNDING
from runoff.foundation.model import Remark, Station
from runoff.site.model import Opening, Paving, Site
from runoff.terrain.model import Terrain, call_margin

_STEP = 0.15
_AT_THE_WALL = 0.3
"""Paving this near the wall, metres, meets it."""
_TRAPPED = 0.006
"""Depth of water behind a walk, metres, that is worth a word."""


def remarks_on(site: Site, terrain: Terrain, stations: Sequence[Station]) -> tuple[Remark, ...]:
    """Name the drives that fall to the wall and the walks that trap water against it.

    Parameters
    ----------
    site : Site
    terrain : Terrain
    stations : sequence of Station, along one wall

    Returns
    -------
    tuple of Remark
    """
    kinds = ("drive", "walk", "public sidewalk")
    near = [p for p in site.paving if p.kind in kinds and _within(p, stations, site)]
    surveyed = [s for s in stations if s.reach > 0 and np.isfinite(s.fall)]
    if not near or not surveyed:
        return ()
    points, z = _sampled(terrain, surveyed, site.rules["foundation_reach"])
    least = call_margin(terrain.accuracy.sigma) + ROUNDING
    said = []
    for paving in near:
        on = shapely.contains_xy(paving.outline, points[..., 0], points[..., 1]) & np.isfinite(z)
        if paving.kind == "drive":
            falls = _falls_to_wall(on, z, least)
            if falls.any():
                at = _opening_at(site, [surveyed[k] for k in falls.nonzero()[0]])
                said.append(Remark("falls to the wall", paving.name, at))
        elif _traps(on, z, max(least, _TRAPPED)).any():
            said.append(Remark("traps water", paving.name))
    return tuple(said)


def _within(paving: Paving, stations: Sequence[Station], site: Site) -> bool:
    feet = shapely.multipoints([s.foot for s in stations])
    return bool(paving.outline.distance(feet) <= site.rules["foundation_reach"])


def _sampled(terrain: Terrain, stations: Sequence[Station], limit: float):
    feet = np.array([s.foot for s in stations])
    outward = np.array([s.outward for s in stations])
    out = np.arange(0.0, limit + _STEP / 2, _STEP)
    points = feet[:, None, :] + out[None, :, None] * outward[:, None, :]
    shape = points.shape
    z = terrain.heights(
        points.reshape(-1, 2),
        np.broadcast_to(feet[:, None, :], shape).reshape(-1, 2),
        np.broadcast_to(outward[:, None, :], shape).reshape(-1, 2),
    ).reshape(shape[:2])
    reach = np.array([s.reach for s in stations])
    return points, np.where(out[None, :] <= reach[:, None] + ROUNDING, z, np.nan)


def _falls_to_wall(on: NDArray[np.bool_], z, least: float) -> NDArray[np.bool_]:
    """Where paving meets the wall and is lower there than farther out."""
    first = on.argmax(axis=1)
    last = on.shape[1] - 1 - on[:, ::-1].argmax(axis=1)
    line = np.arange(len(on))
    meets = on.any(axis=1) & (first * _STEP <= _AT_THE_WALL)
    return meets & (np.nan_to_num(z[line, last] - z[line, first]) > least)


def _traps(on: NDArray[np.bool_], z, least: float) -> NDArray[np.bool_]:
    """Where a walk stands higher than the ground between it and the wall."""
    before = ~np.logical_or.accumulate(on, axis=1) & on.any(axis=1, keepdims=True) & np.isfinite(z)
    low = np.where(before, z, np.inf).min(axis=1)
    high = np.where(on, z, -np.inf).max(axis=1)
    return before.any(axis=1) & (high - low > least)


def _opening_at(site: Site, stations: Sequence[Station]) -> tuple[str, str]:
    """Kind and name of an opening at these stations, a garage door before all; else empty."""
    openings = [o for o in site.openings if any(_beside(o, s) for s in stations)]
    doors = [o for o in openings if o.kind == "garage door"] or openings
    return (doors[0].kind, doors[0].name) if doors else ("", "")


def _beside(opening: Opening, station: Station) -> bool:
    same = (opening.building, opening.wall) == (station.building, station.wall)
    return same and abs(station.along - opening.distance) <= opening.width / 2 + ROUNDING
