"""The peer of the flow engine's benchmarks: richdem's filling, then its D8 counts.

It leaves the filled flats undrained, which is less work than `flow_accumulation` does.
"""

from __future__ import annotations

import numpy as np
import richdem
from numpy.typing import NDArray


def peer_array(z: NDArray[np.float32]) -> richdem.rdarray:
    """The terrain as richdem wants it, with the geotransform that it warns without."""
    return richdem.rdarray(z, no_data=-9999.0, geotransform=(0, 1, 0, 0, 0, -1))


def peer_accumulation(array: richdem.rdarray) -> richdem.rdarray:
    """Fill and count with richdem."""
    return richdem.FlowAccumulation(richdem.FillDepressions(array), method="D8")
