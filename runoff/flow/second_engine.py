"""The second engine: our filling beside richdem's on the same grid, in every inspection.

Two programs that share no code and agree to rounding are worth more than one that is tested alone.
Walls are raised for both, drains are left out of both. Missing ground inside the survey is a wall
to both, since richdem knows an open edge only at the grid's own border.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from runoff.flow.drainage import fill_depressions
from runoff.flow.model import EngineComparison

# Above any ground by more than any fill: the height that walls are raised to for richdem.
_WALL_ABOVE = 1000.0
_EVERY_NEIGHBOR = np.ones((3, 3), bool)


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


def _richdem_fill(heights: NDArray[np.float64]) -> NDArray[np.float64]:
    with _quiet():
        import richdem

        grid = richdem.rdarray(heights, no_data=-1e30)
        grid.geotransform = [0.0, 1.0, 0.0, 0.0, 0.0, -1.0]
        return np.array(richdem.FillDepressions(grid))


def _holes(missing: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Missing cells from which the grid's border cannot be reached over missing cells."""
    label, _ = ndimage.label(missing, structure=_EVERY_NEIGHBOR)
    border = np.unique(np.concatenate([label[0], label[-1], label[:, 0], label[:, -1]]))
    return missing & ~np.isin(label, border)


def compare_engines(
    surface: NDArray[np.float64], closed: NDArray[np.bool_], cell_area: float
) -> EngineComparison:
    """Fill the same grid with both engines and say how far they differ.

    Parameters
    ----------
    surface : (rows, cols) float64, metres, NaN where missing
    closed : (rows, cols) bool
    cell_area : float, m2

    Examples
    --------
    >>> bowl = np.full((3, 3), 2.0)
    >>> bowl[1, 1] = 0.0
    >>> compare_engines(bowl, bowl < 0, 0.25).our_volume
    0.5
    """
    missing = np.isnan(surface) & ~closed
    holes = _holes(missing)
    walls = closed | holes
    ground = np.where(walls | missing, np.nan, surface)
    if np.isnan(ground).all():
        return EngineComparison(0.0, 0.0, 0.0, None, "There is no ground to compare engines on.")
    ours = fill_depressions(ground, walls)
    high, low = np.nanmax(ground) + _WALL_ABOVE, np.nanmin(ground) - _WALL_ABOVE
    raised = np.where(walls, high, np.where(missing, low, ground))
    try:
        theirs = _richdem_fill(raised)
    except ImportError:
        volume = float(np.nansum(ours - ground)) * cell_area
        note = "The second engine (richdem) is not installed; depressions were computed once only."
        return EngineComparison(0.0, volume, 0.0, None, note)
    # A terminal basin is filled to the walls by richdem and left as it is by us.
    compared = ~walls & ~missing & (theirs < high)
    difference = float(np.abs(np.where(compared, ours - theirs, 0.0)).max())
    our_volume = float(np.where(compared, ours - ground, 0.0).sum()) * cell_area
    their_volume = float(np.where(compared, theirs - ground, 0.0).sum()) * cell_area
    agrees = difference == 0.0
    note = (
        "Both engines fill the ground to the same heights."
        if agrees
        else f"DEFECT: the two engines differ by up to {difference:.3g} m; do not rely on this "
        "inspection before that is explained."
    )
    return EngineComparison(difference, our_volume, their_volume, agrees, note)
