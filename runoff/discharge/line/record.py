"""A buried line as it is laid: its pipe, its trench, what it passes, and where it ends.

Frozen records in SI: metres, m3/s; positions are plan metres, heights on the survey's datum.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from runoff.discharge.line.apron import Apron
from runoff.discharge.line.pipes import PipeAtFlow
from runoff.discharge.model import Caution, Protection
from runoff.site.model import Allowed, KeepOutKind, Leader, Paving, PavingKind

if TYPE_CHECKING:
    from runoff.discharge.line.profile import LineProfile


@dataclass(frozen=True)
class DigRow:
    """One station of a line, all in metres; the rod readings are None without an instrument.

    `cut_m` is the depth from the ground to the trench's bottom.
    """

    station_m: float
    ground_m: float
    invert_m: float
    bottom_m: float
    cut_m: float
    cover_m: float
    rod_at_invert_m: float | None
    rod_at_bottom_m: float | None


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
