"""Independent libraries, called as each wants to be; pytest keeps what they print."""

from __future__ import annotations

import numpy as np
import richdem
from skimage.morphology import reconstruction

RAISED = 1.0e4  # metres: the height that walls are raised to for libraries that know none


def rd_array(values):
    """An array for richdem, with the geotransform that it warns without."""
    grid = richdem.rdarray(np.array(values), no_data=-9999.0)
    grid.geotransform = [0, 1, 0, 0, 0, -1]
    return grid


def richdem_fill(z):
    """richdem's priority-flood filling, of the same float type."""
    return np.array(richdem.FillDepressions(rd_array(z)))


def reconstruction_fill(z, closed):
    """Filling by morphological reconstruction (erosion), from the border and the missing cells.

    Walls are at `RAISED`, and so is all ground that they enclose.
    """
    missing = np.isnan(z) & ~closed
    ground = np.where(closed, RAISED, np.where(missing, -RAISED, z))
    seed = np.full(z.shape, RAISED)
    edge = missing.copy()
    edge[0], edge[-1], edge[:, 0], edge[:, -1] = True, True, True, True
    seed[edge] = ground[edge]
    return reconstruction(seed, ground, method="erosion", footprint=np.ones((3, 3)))
