"""The second engine: our filling and ponding beside richdem's on the same grid and water.

Two programs that share no code and agree to rounding are worth more than one that is tested alone.
Walls are raised for both, drains are left out of both. Missing ground inside the survey is a wall
to both, since richdem knows an open edge only at the grid's own border.
"""

from __future__ import annotations

import os
import pickle
import select
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from runoff.flow.engine.depressions import Depressions, measure
from runoff.flow.engine.drainage import basins_of, fill_depressions
from runoff.flow.engine.pouring import Arrivals, Ponding, arrivals, pond
from runoff.flow.model import EngineComparison

# Above any ground by more than any fill: the height that walls are raised to for richdem.
_WALL_ABOVE = 1000.0
_EVERY_NEIGHBOR = np.ones((3, 3), bool)
_PATIENCE_S, _PATIENCE_S_PER_CELL = 4.0, 1e-5
"""How long the second engine may take; it takes a hundredth of that where it ends at all."""
ROUNDING_M = 1e-8
"""Depths of water, metres, that are sums over many cells, differ by no more than this."""


@contextmanager
def _quiet() -> Iterator[None]:
    """Send what native code prints to nowhere; richdem reports its progress to both streams."""
    try:
        kept = [os.dup(1), os.dup(2)]
    except OSError:  # no such streams: nothing to keep quiet
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        for stream in (1, 2):
            os.dup2(nowhere, stream)
        yield
    finally:
        for stream, copy in zip((1, 2), kept, strict=True):
            os.dup2(copy, stream)
            os.close(copy)
        os.close(nowhere)


def _rdarray(values: NDArray[np.float64]) -> Any:
    import richdem

    grid = richdem.rdarray(values, no_data=-1e30)
    grid.geotransform = [0.0, 1.0, 0.0, 0.0, 0.0, -1.0]
    return grid


def _richdem_fill(heights: NDArray[np.float64]) -> NDArray[np.float64]:
    with _quiet():
        import richdem

        return np.array(richdem.FillDepressions(_rdarray(heights)))


class _Depression(NamedTuple):
    """What richdem knows of a depression."""

    pit_cell: int
    lchild: int
    rchild: int
    geolink: int


def _richdem_pond(
    heights: NDArray[np.float64], outside: NDArray[np.bool_], water: NDArray[np.float64]
) -> tuple[NDArray[np.float64], list[_Depression]]:
    """Standing depth by richdem's fill-spill-merge, and its depressions; `outside` is open."""
    with _quiet():
        import richdem

        ground, depth = _rdarray(heights), _rdarray(water)
        labels = richdem.get_new_depression_hierarchy_labels(heights.shape)
        np.asarray(labels)[outside] = 0
        depressions, directions = richdem.get_depression_hierarchy(ground, labels)
        richdem.fill_spill_merge(ground, labels, directions, depressions, depth)
        told = [
            _Depression(int(d.pit_cell), int(d.lchild), int(d.rchild), int(d.geolink))
            for d in depressions
        ]
        return np.array(depth), told


def _in_time(work: Callable[[], Any], seconds: float) -> Any:
    """What some work gives, done in a process of its own; None where it does not end in time.

    On some grounds richdem's fill-spill-merge never ends, and native code cannot be stopped from
    within. Where processes cannot be forked the work is left out.
    """
    if not hasattr(os, "fork"):
        return None
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(reader)
            with os.fdopen(writer, "wb") as stream:
                pickle.dump(work(), stream)
        finally:
            os._exit(0)
    os.close(writer)
    content, deadline = bytearray(), time.monotonic() + seconds
    try:
        while select.select([reader], [], [], max(deadline - time.monotonic(), 0.0))[0]:
            piece = os.read(reader, 1 << 20)
            if not piece:
                return pickle.loads(content) if content else None
            content += piece
        return None
    finally:
        os.close(reader)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)


def _named(left: list[int], right: list[int], leaf: list[int]) -> list[tuple[int, int]]:
    """What names a depression in both engines: the first of our leaves in it, and how many it has.

    Parts come before what they merge into; `left` is below 0 where a depression has none.
    """
    named: list[tuple[int, int]] = []
    for a, b, own in zip(left, right, leaf, strict=True):
        if a < 0:
            named.append((own, 1))
        else:
            named.append((min(named[a][0], named[b][0]), named[a][1] + named[b][1]))
    return named


def _elsewhere(ours: Ponding, theirs: list[_Depression]) -> NDArray[np.bool_]:
    """Outermost depressions (by number) that an overflow reaches in one engine and not the other.

    Over a saddle richdem goes to the lowest neighbor and this engine to the steepest, and where
    several ways are equally high each takes one. Where those lie in different basins the two answer
    different questions from there on.
    """
    found, tree = ours.depressions, ours.depressions.hierarchy
    none = 2**32 - 1  # what richdem writes for no depression
    size = tree.parent.size
    own = [d if d <= tree.leaves else 0 for d in range(size)]
    names = _named(tree.left.tolist(), tree.right.tolist(), own)
    their_leaf = [0, *(max(int(found.node[d.pit_cell]), 0) for d in theirs[1:])]
    left = [-1 if d.lchild == none else int(d.lchild) for d in theirs]
    right = [-1 if d.rchild == none else int(d.rchild) for d in theirs]
    their_names = _named(left, right, their_leaf)
    onto = [0 if d.geolink in (0, none) else their_leaf[d.geolink] for d in theirs]
    beyond = dict(zip(their_names[1:], onto[1:], strict=True))
    pending: list[int] = []
    for d in np.flatnonzero(ours.full).tolist():
        over = max(int(tree.over[d]), 0)
        if beyond.get(names[d]) != over:
            pending += [d, over, beyond.get(names[d], 0)]
    for name in beyond.keys() - set(names[1:]):
        pending += [name[0], beyond[name]]
    outer = list(range(size))
    for d in range(size - 1, 0, -1):
        outer[d] = d if tree.parent[d] <= 0 else outer[tree.parent[d]]
    reached = np.zeros(size, bool)
    while pending:
        d = outer[pending.pop()]
        if d and not reached[d]:
            reached[d] = True
            pending += [max(int(tree.over[d]), 0), beyond.get(names[d], 0)]
    return reached


def _pond_ours(
    ground: NDArray[np.float64], walls: NDArray[np.bool_], water: NDArray[np.float64]
) -> tuple[Depressions, Arrivals, Ponding]:
    found = measure(basins_of(ground, walls))
    arriving = arrivals(found, water.ravel())
    return found, arriving, pond(found, arriving)


def _depth_difference(
    ground: NDArray[np.float64],
    walls: NDArray[np.bool_],
    raised: NDArray[np.float64],
    water: NDArray[np.float64],
) -> tuple[float | None, float, int]:
    """Greatest difference of standing depth (m), our volume (m x cells), and pools not compared.

    Both get the water that comes to each pit, at that pit. The difference is None where the second
    engine came to no end.
    """
    outside = np.isnan(ground) & ~walls
    outside[[0, -1]], outside[:, [0, -1]] = True, True
    found, arriving, ours = _pond_ours(ground, walls, water)
    if (walls | outside).all():  # no ground that could hold any
        return 0.0, 0.0, 0
    at_pits = np.zeros(ground.size)
    at_pits[found.hierarchy.pit_cell[1:]] = arriving.at_leaf[1:]
    depth = ours.depth()
    done = _in_time(
        lambda: _richdem_pond(raised, outside, at_pits.reshape(ground.shape)),
        _PATIENCE_S + _PATIENCE_S_PER_CELL * ground.size,
    )
    if done is None:
        return None, float(depth.sum()), 0
    theirs, depressions = done
    difference = np.where(walls | outside, 0.0, np.abs(theirs - depth))
    if float(difference.max()) <= ROUNDING_M:
        return float(difference.max()), float(depth.sum()), 0
    apart = _elsewhere(ours, depressions)
    top = np.append(found.hierarchy.top, 0)[found.node].reshape(ground.shape)
    difference[apart[top]] = 0.0
    return float(difference.max()), float(depth.sum()), int(np.count_nonzero(apart))


def _holes(missing: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Missing cells from which the grid's border cannot be reached over missing cells."""
    label, _ = ndimage.label(missing, structure=_EVERY_NEIGHBOR)
    border = np.unique(np.concatenate([label[0], label[-1], label[:, 0], label[:, -1]]))
    return missing & ~np.isin(label, border)


def compare_engines(
    surface: NDArray[np.float64],
    closed: NDArray[np.bool_],
    cell_area: float,
    water: NDArray[np.float64] | None = None,
) -> EngineComparison:
    """Fill the same grid with both engines, let the same water run, and say how far they differ.

    Parameters
    ----------
    surface : (rows, cols) float64, metres, NaN where missing
    closed : (rows, cols) bool
    cell_area : float, m2
    water : (rows, cols) float64, metres over each cell, put where it falls; none by default

    Examples
    --------
    >>> bowl = np.full((3, 3), 2.0)
    >>> bowl[1, 1] = 0.0
    >>> compare_engines(bowl, bowl < 0, 0.25).our_volume_m3
    0.5
    """
    missing = np.isnan(surface) & ~closed
    holes = _holes(missing)
    walls = closed | holes
    ground = np.where(walls | missing, np.nan, surface)
    if np.isnan(ground).all():
        return EngineComparison(0.0, 0.0, 0.0, None, "no ground")
    ours = fill_depressions(ground, walls)
    high, low = np.nanmax(ground) + _WALL_ABOVE, np.nanmin(ground) - _WALL_ABOVE
    raised = np.where(walls, high, np.where(missing, low, ground))
    try:
        theirs = _richdem_fill(raised)
    except ImportError:
        volume = float(np.nansum(ours - ground)) * cell_area
        return EngineComparison(0.0, volume, 0.0, None, "not installed")
    # A terminal basin is filled to the walls by richdem and left as it is by us.
    compared = ~walls & ~missing & (theirs < high)
    difference = float(np.abs(np.where(compared, ours - theirs, 0.0)).max())
    our_volume = float(np.where(compared, ours - ground, 0.0).sum()) * cell_area
    their_volume = float(np.where(compared, theirs - ground, 0.0).sum()) * cell_area
    if water is None:
        water = np.zeros(ground.shape)
    water = np.where(compared, water, 0.0)
    deeper, standing, apart = _depth_difference(ground, walls, raised, water)
    agrees = difference == 0.0 and (deeper is None or deeper <= ROUNDING_M)
    return EngineComparison(
        difference,
        our_volume,
        their_volume,
        agrees,
        "storm without end" if deeper is None else "",
        deeper or 0.0,
        standing * cell_area,
        apart,
    )
