"""Several tiles of elevation data made one ground, and how well they agree where they meet."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runoff.site.model import Georeference
from runoff.terrain.elevation_grid import on_grid, to_its_edge
from runoff.terrain.elevation_parts import Part, apply, same_map, shifted
from runoff.terrain.model import Grid

_SAME_LATTICE = 0.01
_FEWEST_PAIRS = 3


@dataclass(frozen=True)
class Meeting:
    """How far one tile stands above another where they meet, metres (the median)."""

    upper: str
    lower: str
    step: float


def joined(parts: Sequence[Part]) -> tuple[Part, tuple[Meeting, ...]] | None:
    """One part of tiles whose pixels lie on one lattice, with no seam; None where they do not.

    Where tiles overlap the first that has a height gives it.

    Parameters
    ----------
    parts : sequence of Part

    Returns
    -------
    part : Part
    meetings : tuple of Meeting
    """
    first = parts[0]
    corners = [_lattice(first, part) for part in parts]
    known = [corner for corner in corners if corner is not None]
    if len(known) < len(parts):
        return None
    left, top = min(c for c, _ in known), min(r for _, r in known)
    ends = [
        (col + part.heights.shape[1], row + part.heights.shape[0])
        for part, (col, row) in zip(parts, known, strict=True)
    ]
    shape = max(r for _, r in ends) - top, max(c for c, _ in ends) - left
    layers = []
    for part, (col, row) in zip(parts, known, strict=True):
        layer = np.full(shape, np.nan)
        rows, cols = part.heights.shape
        layer[row - top : row - top + rows, col - left : col - left + cols] = part.heights
        layers.append(layer)
    names = [part.name for part in parts]
    heights, meetings = _laid(layers, names)
    return Part(first.name, heights, shifted(first.pixels, left, top), first.crs), meetings


def _lattice(first: Part, part: Part) -> tuple[int, int] | None:
    """Column and row, in pixels of the first part, of another's corner; None on another lattice."""
    one, other = first.pixels, part.pixels
    size = math.hypot(one.a, one.d)
    pairs = ((one.a, other.a), (one.b, other.b), (one.d, other.d), (one.e, other.e))
    if not same_map(first.crs, part.crs) or any(abs(p - q) > 1e-6 * size for p, q in pairs):
        return None
    col, row = (float(v) for v in apply(~one, other.c, other.f))
    if max(abs(col - round(col)), abs(row - round(row))) > _SAME_LATTICE:
        return None
    return round(col), round(row)


def laid_on(
    parts: Sequence[Part], place: Georeference, grid: Grid
) -> tuple[NDArray[np.float64], tuple[Meeting, ...]]:
    """Heights on a plan grid of tiles that lie on different lattices, or in different systems.

    What no tile's pixel centers enclose, but a tile's outermost pixels cover, is continued on the
    slope of those: half a pixel on each side of a seam.

    Parameters
    ----------
    parts : sequence of Part
    place : Georeference
    grid : Grid

    Returns
    -------
    heights : (rows, cols) float array, metres
    meetings : tuple of Meeting
    """
    names = [part.name for part in parts]
    inner = [on_grid(part, place, grid) for part in parts]
    outer = [to_its_edge(part, place, grid) for part in parts]
    return _laid([*inner, *outer], [*names, *names])


def _laid(
    layers: Sequence[NDArray[np.float64]], names: Sequence[str]
) -> tuple[NDArray[np.float64], tuple[Meeting, ...]]:
    """Layers on one grid laid over each other, the first with a height on top."""
    heights = np.full(layers[0].shape, np.nan)
    owner = np.full(layers[0].shape, -1)
    known = list(dict.fromkeys(names))
    meetings: dict[tuple[str, str], float] = {}
    for layer, name in zip(layers, names, strict=True):
        _overlaps(heights, owner, layer, name, known, meetings)
        new = np.isnan(heights) & np.isfinite(layer)
        heights[new] = layer[new]
        owner[new] = known.index(name)
    for one in range(len(known)):
        for other in range(one + 1, len(known)):
            pair = (known[one], known[other])
            step = _seam(heights, owner, one, other)
            if pair not in meetings and step is not None:
                meetings[pair] = step
    found = [
        Meeting(one, other, -step) if step < 0 else Meeting(other, one, step)
        for (one, other), step in meetings.items()
    ]
    return heights, tuple(found)


def _overlaps(
    heights: NDArray[np.float64],
    owner: NDArray[np.int64],
    layer: NDArray[np.float64],
    name: str,
    known: Sequence[str],
    meetings: dict[tuple[str, str], float],
) -> None:
    """Note how far a layer stands above those under it, where both have heights."""
    for number, other in enumerate(known):
        both = (owner == number) & np.isfinite(layer)
        if other == name or (other, name) in meetings or both.sum() < _FEWEST_PAIRS:
            continue
        if known.index(name) > number:
            meetings[other, name] = float(np.median((layer - heights)[both]))


def _seam(
    heights: NDArray[np.float64], owner: NDArray[np.int64], one: int, other: int
) -> float | None:
    """How far `other` stands above `one` across their seam, the slope on both sides taken off."""
    steps = []
    for z, who in ((heights, owner), (heights.T, owner.T)):
        if z.shape[1] < 4:
            continue
        rise = np.diff(z, axis=1)
        step = rise[:, 1:-1] - (rise[:, :-2] + rise[:, 2:]) / 2
        left, right = who[:, 1:-2], who[:, 2:-1]
        for sign, low, high in ((1.0, one, other), (-1.0, other, one)):
            here = step[(left == low) & (right == high)]
            steps.append(sign * here[np.isfinite(here)])
    together = np.concatenate(steps) if steps else np.empty(0)
    return float(np.median(together)) if len(together) >= _FEWEST_PAIRS else None
