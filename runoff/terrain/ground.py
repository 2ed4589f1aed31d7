"""What each source of heights hands on: a grid of bare ground, before buildings and barriers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runoff.terrain.model import Grid, Suspect, TriangulatedGround
from runoff.terrain.relief import Relief


@dataclass(frozen=True)
class BareGround:
    """Heights on a grid, and what was noticed while making them.

    Parameters
    ----------
    grid : Grid
    heights : (rows, cols) float array, metres
        NaN where no ground is known.
    suspects : tuple of Suspect
    notices : tuple of str
    data_cell : float or None, metres
        Cells of the elevation data that the ground was made from; None for a survey.
    relief : Relief or None
        The same ground between the cells' centers; None where the cells are all there is.
    triangulated : TriangulatedGround or None
        The surface that the heights were read from; None for elevation data.
    """

    grid: Grid
    heights: NDArray[np.float64]
    suspects: tuple[Suspect, ...]
    notices: tuple[str, ...]
    data_cell: float | None = None
    relief: Relief | None = None
    triangulated: TriangulatedGround | None = None
