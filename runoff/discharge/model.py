"""What every way shares: the water, how it fails, what to mind, what it takes, why it cannot be.

Frozen records in SI: metres, m2, m3, m3/s, seconds; positions are plan metres, heights on the
survey's datum. The rooms to the right draw and print from these and compute nothing anew.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from runoff.discharge.ground import LotGround, Reached
from runoff.flow.model import PathEnd
from runoff.foundation.model import SoilWedge
from runoff.site.model import Downspout, Paving, Site
from runoff.terrain.model import Terrain

if TYPE_CHECKING:
    from runoff.discharge.failure import Failing
    from runoff.discharge.line.record import BuriedLine


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
class GradeCorrection:
    """Soil along the walls of the building that a downspout stands at; volumes in m3."""

    wedges: tuple[SoilWedge, ...]
    compacted_m3: float
    loose_m3: float


@dataclass(frozen=True)
class Part:
    """Something to buy: how much in SI (m, m2, m3, or pieces), and by which price.

    `key` is the entry of the prices that it is bought by.
    """

    name: str
    key: str
    amount: float
    use: str


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
class Task:
    """A downspout's water, and the lot that a way is to be designed for.

    `ground` is as surveyed or with the grade corrected, `soiled` the terrain with all soil that is
    ordered for the walls; `before` are the designs for other downspouts, to keep away from.
    """

    ground: LotGround
    downspout: Downspout
    water: WaterToMove
    soiled: Terrain
    before: Sequence[object]


WayKind = Literal["as it is", "extension", "swale", "buried line", "seepage pit", "refer"]
D = TypeVar("D")


@dataclass(frozen=True)
class Way(Generic[D]):
    """A row of the table of ways: what one needs, does, takes, and how it fails.

    Parameters
    ----------
    kind : WayKind
        Of its design's record.
    design : Task -> D
        Raises `NotPossible` with what it lacks.
    parts : (Site, D) -> Part ...
        What is bought for it.
    fails : (Failing, D) -> tuple of Failure
    lets_go : (Downspout, D) -> (x, y) or None
        Where the design storm's water is let go; None where the ground takes it.
    digs : bool
        Whether it is dug for. Ways that are not come first, with corrected grade too; one that is
        takes corrected grade only where it cannot be built without.
    dug_m3 : D -> float
    spoil_m3 : (Site, D) -> float
        Loose soil that nothing of it takes up again.
    line : D -> BuriedLine or None
        The line that is laid: the way itself, or what feeds it.
    with_fitting : (Site, D, float) -> D
        With an overflow fitting so far (m) from the downspout.
    in_ground : (LotGround, D) -> LotGround
        The ground with it built; raises `NotPossible` where it then does not work.
    """

    kind: WayKind
    design: Callable[[Task], D]
    parts: Callable[[Site, D], Iterator[Part]]
    fails: Callable[[Failing, D], tuple[Failure, ...]]
    lets_go: Callable[[Downspout, D], tuple[float, float] | None]
    digs: bool
    dug_m3: Callable[[D], float] = lambda _: 0.0
    spoil_m3: Callable[[Site, D], float] = lambda *_: 0.0
    line: Callable[[D], BuriedLine | None] = lambda _: None
    with_fitting: Callable[[Site, D, float], D] = lambda _site, design, _station: design
    in_ground: Callable[[LotGround, D], LotGround] = lambda ground, _: ground
