"""The ways to take one downspout's water away, and what each of them is: the records of a plan.

Frozen records in SI: metres, m2, m3, m3/s, seconds; positions are plan metres, heights on the
survey's datum. The rooms to the right draw and print from these and compute nothing anew.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from runoff.flow.model import DownspoutAnswer, PathEnd
from runoff.foundation.model import SoilWedge
from runoff.site.model import Allowed, KeepOutKind, Leader, Paving, PavingKind

if TYPE_CHECKING:
    from runoff.discharge.ground import Reached
    from runoff.discharge.line.outlet import Apron
    from runoff.discharge.line.parts import DigRow
    from runoff.discharge.line.pipes import PipeAtFlow
    from runoff.discharge.line.profile import LineProfile
    from runoff.discharge.pit.size import PitCheck
    from runoff.discharge.pit.soil import DesignRate
    from runoff.discharge.swale.section import SwaleFlow, SwaleSection

# From the simplest to the last resort. A way with corrected grade comes after the way itself.
WayKind = Literal[
    "as it is",
    "extension",
    "corrected grade",
    "corrected grade and extension",
    "swale",
    "buried line",
    "seepage pit",
    "corrected grade and swale",
    "corrected grade and buried line",
    "corrected grade and seepage pit",
    "refer",
]


@dataclass(frozen=True)
class WaterToMove:
    """How much water one downspout brings.

    Parameters
    ----------
    downspout : str
    plan_area_m2, design_area_m2 : float, m2
        Roof on the plan, and with the allowance for wind-blown rain.
    gutter_flow_m3_per_s, line_flow_m3_per_s : float, m3/s
        At the design intensities of gutters (with leaders) and of buried lines.
    storm_m3 : float, m3
        In the ponding storm.
    """

    downspout: str
    plan_area_m2: float
    design_area_m2: float
    gutter_flow_m3_per_s: float
    line_flow_m3_per_s: float
    storm_m3: float


FailureKind = Literal[
    "greater storm",
    "extension blocked",
    "swale blocked",
    "line blocked",
    "line to pit blocked",
    "pit full",
]
ComesOut = Literal["foot", "overflow gap", "bank", "swale end", "observation pipe"]
Relief = Literal["", "overflow fitting", "corrected grade"]


@dataclass(frozen=True)
class Failure:
    """What happens when a way does not work: blocked, frozen, over capacity, or full.

    Parameters
    ----------
    kind : FailureKind
        What fails.
    at : (x, y)
        Where the water then comes out.
    path : (k, 2) plan metres, where it runs
    reached : Reached or None
        How it then stands at, comes back to or gets into a foundation.
    onto_neighbor : bool
        Whether it then runs onto a neighbor.
    end : PathEnd
        Where it then ends.
    relief : Relief
        What is planned against it, empty where nothing is needed or nothing helps.
    relieved : bool
        Whether that keeps it from the foundation.
    fitting_m : float or None, metres
        How far from the downspout the relief sets an overflow fitting on the pipe.
    over_sidewalk : bool
        Whether it then runs over a public sidewalk; a relief is only planned where it does not.
    comes_out : ComesOut
        What it comes out of.
    bank_m : float, metres
        How far from the downspout it comes over a swale's bank.
    crosses : tuple of Paving
        What it then freezes on.
    spreads : bool
        Whether it stands about on flat ground and runs nowhere.
    """

    kind: FailureKind
    at: tuple[float, float]
    path: NDArray[np.float64]
    reached: Reached | None
    onto_neighbor: bool
    end: PathEnd
    relief: Relief = ""
    relieved: bool = False
    fitting_m: float | None = None
    over_sidewalk: bool = False
    comes_out: ComesOut = "foot"
    bank_m: float = 0.0
    crosses: tuple[Paving, ...] = ()
    spreads: bool = False

    @property
    def reaches_foundation(self) -> bool:
        """Whether it comes to a foundation."""
        return self.reached is not None

    @property
    def is_safe(self) -> bool:
        """Whether no foundation or sidewalk is reached, or the relief helps, and no neighbor."""
        harms = self.reaches_foundation or self.over_sidewalk
        return not self.onto_neighbor and (not harms or self.relieved)


Protection = Literal["", "gutter paving", "splash pad", "stone apron"]


@dataclass(frozen=True)
class Onward:
    """Where water that a way lets go then ends, and what it freezes on on its way there."""

    end: PathEnd
    crosses: tuple[Paving, ...] = ()


CautionCode = Literal[
    "first stretch shallow",
    "last stretch shallow",
    "stiff under drive",
    "approved under building",
    "less cover than districts ask",
    "not for hand digging",
    "shoring",
    "way out",
    "frost not given",
    "frost below cover",
    "footing assumed",
    "sump near",
    "permission",
    "no permission",
    "backwater valve",
    "invert not given",
    "level too low",
    "apron over side",
    "dish the ground",
    "dig by hand",
    "easement",
    "near the wall",
    "bluegrass",
    "sod before water",
    "silt trap drop",
    "freezes below pit",
    "groundwater not given",
    "bedrock not given",
    "roofs that poison",
    "lot not given",
    "basement not given",
    "disposal well by depth",
    "disposal well by pipe",
    "overflow may drift",
]


@dataclass(frozen=True)
class Caution:
    """What one who builds a way must know: a code, whom it is about, its figures in SI.

    What each code's figures are is said where it is made and where it is worded; `note` is what
    the user noted, `names` whom it is about where they are many.
    """

    code: CautionCode
    name: str = ""
    figures: tuple[float, ...] = ()
    note: str = ""
    names: tuple[str, ...] = ()


@dataclass(frozen=True)
class Extension:
    """A pipe or trough on the surface, straight from the downspout's foot.

    `bearing` is degrees clockwise from the plan's up; `fall_m` from the leader's end, `outlet_m`
    over the ground at the foot, to the ground at the end. `path` is where the water runs from the
    end, (k, 2) plan metres, and `ends` where it goes. `apron` is None where a splash pad does;
    `reaches_over` are the sides of the lot that it reaches over.
    `wall` is the wall that it starts at, `out_m` how far out from it the end lies and `aside_m` how
    far from straight out, to the right of one who looks away from the wall. `gap_m` is the most air
    under it and `props` how many blocks hold it there; `soil_m` is the soil ordered at its start,
    on which the heights stand.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    length_m: float
    bearing: float
    outlet_m: float
    fall_m: float
    path: NDArray[np.float64]
    ends: Onward
    protection: Protection
    apron: Apron | None
    wall: str = ""
    out_m: float = 0.0
    aside_m: float = 0.0
    gap_m: float = 0.0
    props: int = 0
    soil_m: float = 0.0
    reaches_over: tuple[str, ...] = ()
    kind: ClassVar[Literal["extension"]] = "extension"

    @property
    def is_straight_out(self) -> bool:
        """Whether it is laid square to its wall."""
        return bool(self.wall) and abs(self.aside_m) < 0.02 * self.length_m


FittingKind = Literal[
    "leaf screen",
    "adapter",
    "bend",
    "cleanout",
    "outlet grate",
    "connection",
    "overflow fitting",
]
FittingWhy = Literal["", "foot", "route turns", "grade changes", "sharp bend", "spacing"]


@dataclass(frozen=True)
class Fitting:
    """A fitting or cleanout of a line, or the bends that make one turn.

    Parameters
    ----------
    station_m : float, metres
    kind : FittingKind
    why : FittingWhy
        Why there; empty where its kind says it.
    bends : tuple of float, degrees
        The bends sold that it is made of, such as 45 and 45.
    turn_degrees : float, degrees
        How much the line turns there.
    size : str
        The pipe's size as sold, where the name of the fitting says it.
    leader : Leader or None
        What an adapter joins; None where its size is not known.
    """

    station_m: float
    kind: FittingKind
    why: FittingWhy = ""
    bends: tuple[float, ...] = ()
    turn_degrees: float = 0.0
    size: str = ""
    leader: Leader | None = None


CrossingKind = (
    PavingKind | KeepOutKind | Literal["easement", "off the lot", "less than least cover"]
)


@dataclass(frozen=True)
class Crossing:
    """What a line passes, and what is asked of it there.

    Parameters
    ----------
    start_m, end_m : float, stations in metres
    name : str
        As the user named it; empty for ground off the lot and stretches of less than least cover.
    kind : CrossingKind
    allowed : str
        What may be done in a keep-out, ``nothing``, ``hand digging`` or ``sleeve``.
    cover_m : float or None, metres
        The cover to keep under paving; of a first stretch with less than least cover the least
        there, of a last one None.
    """

    start_m: float
    end_m: float
    name: str
    kind: CrossingKind
    allowed: Allowed | Literal[""] = ""
    cover_m: float | None = None


@dataclass(frozen=True)
class LineEnd:
    """Where a line ends: at daylight, in an outlet (with its name and kind), or in its pit.

    `crosses` is what its water freezes on from daylight on.
    """

    kind: Literal["daylight", "outlet", "pit"]
    outlet: str = ""
    outlet_kind: str = ""
    crosses: tuple[Paving, ...] = ()


@dataclass(frozen=True)
class BuriedLine:
    """A buried solid pipe from a downspout to where its water comes out.

    Parameters
    ----------
    route : (k, 2) plan metres, from the downspout's foot
    drawn : bool
        Whether the user drew the route.
    profile : LineProfile
    flow : PipeAtFlow
        The pipe at its least slope with the design flow.
    trench_width_m, greatest_cut_m : float, metres
    rows : tuple of DigRow
    instrument_m : float or None, metres
        Height of the line of sight that the rod readings are from.
    fittings, crossings
        In the order of their stations.
    ends : LineEnd
        Where it comes out.
    end : (x, y)
    head_m : float or None, metres
        Height of the water in the line at its start where the outlet can be submerged; None
        where it runs free.
    apron : Apron or None
    protection : Protection
        What protects the ground where it comes out.
    cautions : tuple of Caution
        What is particular to this line: frost, depth, drives, the stretch below least cover.
    end_velocity_m_per_s : float
        Of the water where it comes out in the open.
    """

    route: NDArray[np.float64]
    drawn: bool
    profile: LineProfile
    flow: PipeAtFlow
    trench_width_m: float
    greatest_cut_m: float
    rows: tuple[DigRow, ...]
    instrument_m: float | None
    fittings: tuple[Fitting, ...]
    crossings: tuple[Crossing, ...]
    ends: LineEnd
    end: tuple[float, float]
    head_m: float | None
    apron: Apron | None
    protection: Protection
    cautions: tuple[Caution, ...]
    end_velocity_m_per_s: float = 0.0
    kind: ClassVar[Literal["buried line"]] = "buried line"

    @property
    def length_m(self) -> float:
        """Length of the pipe on the plan."""
        return float(self.profile.stations_m[-1])


@dataclass(frozen=True)
class SeepagePit:
    """A seepage pit (dry well), roof water only, and the solid line that feeds it.

    Parameters
    ----------
    center : (x, y)
    angle : float, degrees counterclockwise from the plan's x that its length is turned
    by_durations : PitCheck or None
        By the rains of a table (BRE Digest 365); None where no table is given.
    by_whole_storm : PitCheck
    governing : PitCheck
        The one that the pit is built by: by durations where a table is given.
    rate : DesignRate
    ground_m, inlet_m : float, metres
        Heights of the ground at the pit and of the inlet's invert; the depth counts from it.
    dig_depth_m : float, metres
        From the ground to the pit's bottom.
    line : BuriedLine
        From the downspout to the pit.
    clearances : tuple of (str, float, float)
        What it keeps away from, how far it is, how far it must be; metres.
    overflow : Failure
        Where its water runs when it is full.
    warnings : tuple of Caution
        What is particular to this pit, besides those of its rate and of its check.
    """

    center: tuple[float, float]
    angle: float
    by_durations: PitCheck | None
    by_whole_storm: PitCheck
    governing: PitCheck
    rate: DesignRate
    ground_m: float
    inlet_m: float
    dig_depth_m: float
    line: BuriedLine
    clearances: tuple[tuple[str, float, float], ...]
    overflow: Failure
    warnings: tuple[Caution, ...]
    kind: ClassVar[Literal["seepage pit"]] = "seepage pit"


@dataclass(frozen=True)
class Swale:
    """A shallow graded channel from beside the downspout to where its water may go.

    `line` is (k, 2) plan metres, `stations_m`, `ground_m` and `bottom_m` (n,) along it; `flow` the
    section at the design flow; `greatest_velocity_m_per_s` what its grass bears. `path` is where
    the water runs from its end, (n, 2) plan metres, and `ends` where it goes.
    """

    line: NDArray[np.float64]
    stations_m: NDArray[np.float64]
    ground_m: NDArray[np.float64]
    bottom_m: NDArray[np.float64]
    slope: float
    section: SwaleSection
    design_flow_m3_per_s: float
    flow: SwaleFlow
    capacity_m3_per_s: float
    greatest_velocity_m_per_s: float
    dig_m3: float
    ends: Onward
    cautions: tuple[Caution, ...] = ()
    path: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 2)))
    kind: ClassVar[Literal["swale"]] = "swale"

    @property
    def deepest(self) -> int:
        """Where it is cut deepest, an index of `stations_m`."""
        return int(np.argmax(self.ground_m - self.bottom_m))

    @property
    def greatest_cut_m(self) -> float:
        """Depth of the cut there."""
        return float(self.ground_m[self.deepest] - self.bottom_m[self.deepest])

    @property
    def greatest_width_m(self) -> float:
        """Width from bank to bank there, on the ground as it is."""
        return self.section.bottom_m + 2 * self.section.side_run * max(self.greatest_cut_m, 0.0)


@dataclass(frozen=True)
class GradeCorrection:
    """Soil along the walls of the building that a downspout stands at; volumes in m3."""

    wedges: tuple[SoilWedge, ...]
    compacted_m3: float
    loose_m3: float


@dataclass(frozen=True)
class Work:
    """What a way takes: m3 dug, m of pipe in the ground and on it, m3 of stone and loose soil.

    `spoil_m3` is the loose soil that is left over once all is filled again.
    """

    dig_m3: float = 0.0
    pipe_m: float = 0.0
    extension_m: float = 0.0
    stone_m3: float = 0.0
    soil_m3: float = 0.0
    fabric_m2: float = 0.0
    price: float | None = None
    spoil_m3: float = 0.0


@dataclass(frozen=True)
class Item:
    """A line of the shopping list: quantity as sold, its unit, and what it is for."""

    name: str
    quantity: float
    unit: str
    use: str


@dataclass(frozen=True)
class PavingBeside:
    """Paving that water is let go beside, and how far from it (m)."""

    paving: Paving
    away_m: float


@dataclass(frozen=True)
class AsItIs:
    """The water left where it comes out, on a splash block: where it goes, what it is beside."""

    goes: DownspoutAnswer
    ice_beside: tuple[PavingBeside, ...] = ()
    kind: ClassVar[Literal["as it is"]] = "as it is"


Design = AsItIs | Extension | Swale | BuriedLine | SeepagePit
"""What is built of one way, told apart by its `kind`; soil at the wall may go with any of them."""


@dataclass(frozen=True)
class Option:
    """One way for one downspout: whether it can be done, why (not), and what it is.

    `reason` says why it cannot be built, or what is left to ask for; it is empty where a design
    says what the way is. `correction` is the soil that is placed at the wall first, if any.
    `failures` is what happens when it does not work; `asks` are those who must be asked.
    """

    kind: WayKind
    feasible: bool
    reason: str
    design: Design | None = None
    correction: GradeCorrection | None = None
    failures: tuple[Failure, ...] = ()
    work: Work = field(default_factory=Work)
    shopping: tuple[Item, ...] = ()
    asks: tuple[str, ...] = ()

    @property
    def fails_safely(self) -> bool:
        """Whether no failure of it reaches a foundation, a neighbor or a public sidewalk."""
        return all(failure.is_safe for failure in self.failures)

    @property
    def line(self) -> BuriedLine | None:
        """The line that is laid: the way itself, or what feeds its pit."""
        laid = self.design.line if isinstance(self.design, SeepagePit) else self.design
        return laid if isinstance(laid, BuriedLine) else None


@dataclass(frozen=True)
class Recommendation:
    """The ways for one downspout side by side, in the order of `WayKind`, and the one to take."""

    downspout: str
    water: WaterToMove
    options: tuple[Option, ...]
    chosen: Option
    why: str


class NotPossible(Exception):
    """A way that cannot be built here; its text says why, for a homeowner."""
