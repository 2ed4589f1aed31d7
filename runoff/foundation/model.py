"""What the foundation room says: grade along walls, openings, standing water, where water may go.

Frozen records in SI: metres, m3; positions are plan metres, heights on the survey's datum.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

Verdict = Literal[
    "drains away",
    "too flat",
    "cut short: needs a drain or swale",
    "slopes back",
    "holds water",
    "too close to call",
    "not surveyed",
]
CutBy = Literal["", "lot line", "wall", "corner", "survey"]


@dataclass(frozen=True)
class Station:
    """The ground at one place along a wall.

    Parameters
    ----------
    building, wall : str, int
        Which wall, counted from 0.
    along_m : float, metres from the wall's first corner
    foot, outward : (x, y)
        Where the profile starts, and the unit vector away from the wall.
    reach_m : float, metres
        How far the profile goes; `cut_by` says what ends it short of 10 ft.
    fall_m : float, metres
        Height at the wall less height at the profile's end; NaN where not surveyed.
    required_m : float, metres
        Sum of rule x length over the surfaces crossed, or what a cut-short profile asks.
    paved_m : float, metres
        How much of the profile crosses paving.
    rise_m : float, metres
        Greatest rise of the ground above its low point further in.
    back_slope, back_at_m : float, metres
        Steepest slope toward the wall (m/m, 0 where there is none) and its distance from the wall.
    verdict : Verdict
    water_m : float, metres
        How deep the storm's water stands at the wall, as measured.
    """

    building: str
    wall: int
    along_m: float
    foot: tuple[float, float]
    outward: tuple[float, float]
    reach_m: float
    cut_by: CutBy
    fall_m: float
    required_m: float
    paved_m: float
    rise_m: float
    back_slope: float
    back_at_m: float
    verdict: Verdict
    water_m: float = 0.0


RemarkCode = Literal["falls to the wall", "traps water"]


@dataclass(frozen=True)
class Remark:
    """What is named beside a verdict: a drive that falls to the wall, a walk that traps water.

    `paving` is its name; `opening` the kind and name of the opening that a drive falls to, empty
    where it falls to none.
    """

    code: RemarkCode
    paving: str
    opening: tuple[str, str] = ("", "")


@dataclass(frozen=True)
class WallRun:
    """Neighboring stations of one verdict, joined.

    `start_m` and `end_m` are metres along the wall; `worst` is the station that decides; `sigma_m`
    is a height's standard deviation, metres; `indication` marks heights that give no verdict;
    `remarks` name drives that fall to the wall and walks that trap water against it. `settled_by_m`
    is the standard deviation, metres, of shots that would settle a close call: 0 where no level is
    good enough, NaN for any other verdict.
    """

    building: str
    wall: int
    wall_name: str
    start_m: float
    end_m: float
    verdict: Verdict
    worst: Station
    stations: tuple[Station, ...]
    sigma_m: float
    indication: bool
    remarks: tuple[Remark, ...]
    settled_by_m: float = float("nan")


@dataclass(frozen=True)
class Inflow:
    """What brings the water beside an opening; nothing where none comes to it.

    `feeds_m3` is m3 of the ponds over its edge by source, named as `StandingWater.feeds_m3` names
    them; where no pond stands over it, `streams` names the sources whose water runs against it.
    """

    feeds_m3: Mapping[str, float] = field(default_factory=dict)
    streams: tuple[str, ...] = ()


@dataclass(frozen=True)
class OpeningFinding:
    """Whether and when water reaches an opening.

    `edge_m` is the height water must reach (rim or sill); `rain_to_reach_m` the storm depth (m) at
    which it does, infinite where none tried does; `freeboard_m` is `edge_m` less the water's height
    beside it in the site's storm (less the ground's where it is dry), negative where it is over;
    `inflow` is what brings the water, in that storm or, where it stays out, in that rain. Freeboard
    and rain are NaN where it cannot be judged. `number` counts the site's openings from 0.
    """

    name: str
    kind: str
    building: str
    wall_name: str
    at: tuple[float, float]
    edge_m: float
    rain_to_reach_m: float
    freeboard_m: float
    reached: bool
    inflow: Inflow
    number: int = 0


@dataclass(frozen=True)
class WettedWall:
    """How much of one wall, counted from 0, a low spot's water touches: `length_m` in metres."""

    building: str
    wall: int
    wall_name: str
    length_m: float


SpillKind = Literal["nowhere", "low spot", "dip", "lot side", "outlet", "drain", "survey edge"]


@dataclass(frozen=True)
class Spill:
    """Where a low spot overflows to; `name` is empty for what has none.

    A ``dip`` is too small to be told as a low spot; of a drain the name may not be known. `joins`
    says that the other fills too until both become one.
    """

    kind: SpillKind
    name: str = ""
    joins: bool = False


@dataclass(frozen=True)
class StandingWater:
    """A low spot within reach of a wall.

    `wetted_m` is the length of wall (m) that the storm's water touches; `feeds_m3` is m3 of the
    storm's water by what brings it (``downspout 'x'``, ``eave of 'y'``, ``yard``, ``run-on``,
    ``sump``); `spills_to` is where it overflows next. `walls` are the walls wetted, the most wetted
    first, their lengths adding up to `wetted_m`. `overflows`, `undecided` and `rain_otherwise_m`
    are the low spot's own.
    """

    low_spot: str
    building: str
    distance_m: float
    depth_m: float
    volume_m3: float
    area_m2: float
    storm_depth_m: float
    storm_volume_m3: float
    wetted_m: float
    rain_to_fill_m: float
    feeds_m3: dict[str, float]
    spills_to: Spill
    walls: tuple[WettedWall, ...] = ()
    overflows: bool = False
    undecided: tuple[str, ...] = ()
    rain_otherwise_m: float = float("nan")


# Why water may not be let go in a cell, the first reason that holds; the index is the map's code.
SafeReason = Literal[
    "safe",
    "no ground",
    "too near a foundation",
    "too flat to leave",
    "comes back to a foundation",
    "stands near a foundation",
    "onto a neighbor",
    "over a public sidewalk",
    "leaves the survey",
    "off the lot",
]
REASONS: tuple[SafeReason, ...] = get_args(SafeReason)


@dataclass(frozen=True)
class SafeArea:
    """Where water can be let go: `code` is (rows, cols) uint8, an index into `REASONS`."""

    code: NDArray[np.uint8]

    def reason(self, row: int, col: int) -> SafeReason:
        """Why water may not be let go in this cell; ``safe`` where it may."""
        return REASONS[int(self.code[row, col])]


NoSoil = Literal[
    "too high",
    "buries paving",
    "dams an easement",
    "water still stands",
    "reaches a neighbor",
    "dams a wall",
    "undoes another wall",
    "never passes",
]


@dataclass(frozen=True)
class Refusal:
    """Why soil must not be placed along a stretch of wall.

    `name` is that of the paving, the easement, the lot's side or the wall that it harms, `of` the
    paving's kind or the wall's building, empty where the code names nothing; `over_m` is metres of
    the storm's water above the new ground. A wedge that would stand ``too high`` has no such
    record: its `short_by` says by how much.
    """

    code: NoSoil
    name: str = ""
    of: str = ""
    over_m: float = 0.0


@dataclass(frozen=True)
class SoilWedge:
    """Soil that makes a failing run of wall pass.

    Volumes in m3, compacted in place and loose as bought; `height_m` is the most soil at the wall
    and `out_m` how far it reaches, metres. `short_by_m` is how much higher than the clearance
    allows the soil would have to stand (0 where it can be done); `refused` is why it must not be
    placed. Either way no soil is asked for: volumes are 0. `cells` is (k, 2) rows and columns of
    the terrain that it covers, and `raised` (k,) metres by which it raises each.
    """

    run: WallRun
    compacted_m3: float
    loose_m3: float
    height_m: float
    out_m: float
    short_by_m: float
    refused: Refusal | None
    cells: NDArray[np.int64] = field(default_factory=lambda: np.empty((0, 2), dtype=np.int64))
    raised: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))


@dataclass(frozen=True)
class AtTheWall:
    """All that was found at the walls."""

    openings: tuple[OpeningFinding, ...]
    runs: tuple[WallRun, ...]
    standing: tuple[StandingWater, ...]
    safe_area: SafeArea
    wedges: tuple[SoilWedge, ...]
