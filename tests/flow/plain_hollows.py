"""Hollows of a triangulated surface once more, plainly: what the engine is checked against.

The spill height by flooding from the pit, level by level; volumes by cutting each triangle along
the water line and summing the pieces.
"""

from __future__ import annotations

import numpy as np


def flooded(xyz, triangles, start, level):
    """The corners under `level` that are joined to `start` by edges under it."""
    wet, pending = {start}, [start]
    beside = neighbors(triangles)
    while pending:
        for other in beside[pending.pop()]:
            if other not in wet and xyz[other, 2] < level:
                wet.add(other)
                pending.append(other)
    return wet


def neighbors(triangles):
    """The corners that each corner shares an edge with."""
    beside: dict[int, set[int]] = {}
    for corners in triangles.tolist():
        for corner in corners:
            beside.setdefault(corner, set()).update(set(corners) - {corner})
    return beside


def spill_height(xyz, triangles, open_edge, pit):
    """Height at which water rising from the corner `pit` first finds ground where it runs away.

    Runs away: an open edge of the ground, or a corner lower than the pit.
    """
    for level in np.unique(xyz[xyz[:, 2] >= xyz[pit, 2], 2]):
        reached = flooded(xyz, triangles, pit, np.nextafter(level, np.inf))
        if any(open_edge[k] or xyz[k, 2] < xyz[pit, 2] for k in reached - {pit}):
            return float(level)
    return float("inf")


def held(xyz, triangles, pit, level):
    """Volume and plan area of the water under `level` that stands over the corner `pit`."""
    wet = flooded(xyz, triangles, pit, level)
    volume = area = 0.0
    for corners in triangles:
        lowest = corners[np.argmin(xyz[corners, 2])]
        if lowest not in wet:
            continue
        piece = under(xyz[corners], level)
        for k in range(1, len(piece) - 1):
            part = piece[[0, k, k + 1]]
            (ax, ay), (bx, by) = part[1, :2] - part[0, :2], part[2, :2] - part[0, :2]
            flat = abs(ax * by - ay * bx) / 2
            area += flat
            volume += flat * float(np.mean(level - part[:, 2]))
    return volume, area


def under(corners, level):
    """The part of a triangle under a level, as corners in order (Sutherland and Hodgman's cut)."""
    kept = []
    for here, there in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if here[2] < level:
            kept.append(here)
        if (here[2] < level) != (there[2] < level):
            share = (level - here[2]) / (there[2] - here[2])
            kept.append(here + share * (there - here))
    return np.array(kept).reshape(-1, 3)
