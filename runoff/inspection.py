"""From a site to its findings: the steps of an inspection, in order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from runoff.flow.model import DownspoutAnswer, EngineComparison, LowSpot, WaterBalance
from runoff.site.model import Site
from runoff.terrain.model import Terrain


@dataclass(frozen=True)
class Findings:
    """All that an inspection found on one lot.

    `standing_depth` is (rows, cols) metres on the terrain's grid once the storm has run, 0 where
    there is no ground.
    """

    site: Site
    terrain: Terrain
    standing_depth: NDArray[np.float64]
    low_spots: tuple[LowSpot, ...]
    downspouts: tuple[DownspoutAnswer, ...]
    balance: WaterBalance
    second_engine: EngineComparison
    notices: tuple[str, ...]

    @property
    def needs_attention(self) -> bool:
        """Whether anything was found that a person should act on."""
        raise NotImplementedError

    def to_dict(self) -> dict[str, Any]:
        """What ``--json`` writes: SI values, the unit in every key."""
        raise NotImplementedError


def inspect(site: Site) -> Findings:
    """Say where each downspout's water goes on this lot and where water stands."""
    raise NotImplementedError
