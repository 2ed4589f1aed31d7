"""What the flow room says of a lot: low spots, downspout answers, and how the two engines agree.

Frozen records in SI: metres, square metres, cubic metres; positions are plan metres.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from runoff.site.model import Paving

EndKind = Literal["lot side", "outlet", "drain", "low spot", "terminal basin", "survey edge"]


Question = Literal["", "deep", "sheer"]


@dataclass(frozen=True)
class LowSpot:
    """A closed low area of the ground, and what the storm leaves in it.

    Parameters
    ----------
    name : str
        ``low spot 1``, numbered from the largest volume held on the lot.
    lowest, pour_point : (x, y)
        Where it is deepest and where it overflows; `pour_point` is None for a terminal basin.
    spill_height_m : float, metres
        Height at which it overflows; NaN for a terminal basin.
    depth_m, volume_m3, area_m2 : float, metres, m3, m2
        Brim-full. For a terminal basin, as the storm leaves it.
    rain_to_fill_m : float, metres
        Depth of rain, falling on the whole survey and on the roofs, at which it starts to overflow;
        infinite where no storm up to the largest one tried does.
    storm_depth_m, storm_volume_m3 : float, metres, m3
        Greatest depth and volume of the water standing in it once the storm has run.
    overflows : bool
        Whether the storm fills it to its spill height.
    terminal : bool
        Ground enclosed by walls alone: it has no way out.
    wall_distance_m : float or None, metres
        From its brim-full pond to the nearest wall; None where there is no building.
    building : str
        Name of the building with that wall, empty where there is none.
    on_lot : bool
        Whether any of its pond lies on the lot.
    cells : (k, 2) int array
        Rows and columns of its brim-full pond.
    question : Question
        Why it may be no ground at all: ``deep`` beyond what yards have, or ``sheer``, a box as the
        pit of a building is; empty where nothing speaks against it.
    in_doubt : bool
        Whether it is no deeper than two heights' error: there may be none, or a deeper one.
    undecided : tuple of str
        Downspouts that let go so near a divide that the heights do not tell whether their water
        comes to it.
    rain_otherwise_m : float, metres
        As `rain_to_fill_m`, with the water of those on the other side of their divides.
    """

    name: str
    lowest: tuple[float, float]
    pour_point: tuple[float, float] | None
    spill_height_m: float
    depth_m: float
    volume_m3: float
    area_m2: float
    rain_to_fill_m: float
    storm_depth_m: float
    storm_volume_m3: float
    overflows: bool
    terminal: bool
    wall_distance_m: float | None
    building: str
    on_lot: bool
    cells: NDArray[np.int64]
    in_doubt: bool = False
    question: Question = ""
    undecided: tuple[str, ...] = ()
    rain_otherwise_m: float = float("nan")


@dataclass(frozen=True)
class PathEnd:
    """Where water ends: what kind of place, its name as the user knows it, and the position.

    For a lot side `neighbor` says what lies beyond it.
    """

    kind: EndKind
    name: str
    x: float
    y: float
    neighbor: str = ""

    @property
    def side(self) -> str:
        """The side of the lot in words: ``the front side``, or ``side 1`` where it has no name.

        Examples
        --------
        >>> [PathEnd("lot side", name, 0.0, 0.0).side for name in ("front", "side 1")]
        ['the front side', 'side 1']
        """
        return self.name if "side" in self.name.split() else f"the {self.name} side"

    @property
    def own_side(self) -> str:
        """The same of the lot's own: ``its front side``."""
        return self.side.replace("the ", "its ", 1)


@dataclass(frozen=True)
class LowSpotOnTheWay:
    """A low spot that a downspout's water fills before it runs on (or ends there); m3, m2.

    `perhaps` says that it starts beside a divide, and may as well run past it.
    """

    name: str
    holds_m3: float
    storm_volume_m3: float
    overflows: bool
    in_doubt: bool = False
    area_m2: float = 0.0
    perhaps: bool = False


@dataclass(frozen=True)
class DownspoutAnswer:
    """Where one downspout's water goes in the storm.

    `path` is (k, 2) plan metres from the downspout to where the water ends or leaves the survey;
    `length_m`, `length_within_near_m` and `length_within_reach_m` of a foundation (by the rules
    `near_foundation` and `foundation_reach`), are metres along the part of it up to `end`;
    `along_m` is by how much the former is more than straight out. `on_the_way` lists the low spots
    it meets, in order, `may_fill` those that it may run into instead, as it starts beside a divide;
    `crosses` the walks, drives and public sidewalks on which it is ice in winter. `returns` says
    that it comes back near a foundation after having left.
    """

    name: str
    start: tuple[float, float]
    roof_area_m2: float
    roof_volume_m3: float
    path: NDArray[np.float64]
    length_m: float
    length_within_near_m: float
    length_within_reach_m: float
    along_m: float
    returns: bool
    end: PathEnd
    on_the_way: tuple[LowSpotOnTheWay, ...]
    may_fill: tuple[str, ...] = ()
    crosses: tuple[Paving, ...] = ()


@dataclass(frozen=True)
class EngineComparison:
    """Our filling and ponding beside the second engine's, walls raised and drains left out.

    `greatest_difference_m` is the largest difference of filled height, metres; `our_volume_m3` and
    `their_volume_m3` the total volume of all depressions, m3. `agrees` is None where the second
    engine is not installed; `not_compared` is why, or that the storm was not. `depth_difference_m`
    is the largest difference of the storm's standing water, metres, and `standing_m3` that water,
    m3, by cells. In `pools_apart` of its pools the two let the overflow run to different sides:
    those count brim-full only.
    """

    greatest_difference_m: float
    our_volume_m3: float
    their_volume_m3: float
    agrees: bool | None
    not_compared: Literal["", "no ground", "not installed", "storm without end"] = ""
    depth_difference_m: float = 0.0
    standing_m3: float = 0.0
    pools_apart: int = 0


@dataclass(frozen=True)
class WaterBalance:
    """All water of the storm, m3: what came, what stands, and what left, by where it left.

    `roofs_m3` came by downspouts, `eaves_m3` off eaves without a gutter, `sumps_m3` out of sump
    pumps. `over_edge_m3` left the survey, `drained_m3` went by those drains, by their names, that
    come out nowhere on it.
    """

    rain_m3: float
    roofs_m3: float
    standing_m3: float
    over_edge_m3: float
    drained_m3: dict[str, float] = field(default_factory=dict)
    eaves_m3: float = 0.0
    sumps_m3: float = 0.0

    @property
    def error(self) -> float:
        """What came less what stands and left, m3; rounding only."""
        came = self.rain_m3 + self.roofs_m3 + self.eaves_m3 + self.sumps_m3
        return came - self.standing_m3 - self.over_edge_m3 - sum(self.drained_m3.values())
