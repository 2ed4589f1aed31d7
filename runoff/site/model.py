"""What the user wrote down about a lot, read and resolved: the frozen records the rooms share.

Everything is SI: metres, seconds, cubic metres. Positions are plan coordinates, x to the right and
y up on the plan; heights share the survey's datum. Only `runoff.site.reading` makes these records.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from runoff.site.notices import Notice

if TYPE_CHECKING:
    from shapely.geometry import Polygon
    from shapely.geometry.base import BaseGeometry

    from runoff.rules import Rules

Units = Literal["ft", "m"]
Side = Literal["left", "right"]
Neighbor = Literal["street", "alley", "neighbor", "open ground", "unknown"]
# Ground onto which no water is led: what nobody has said is taken for a neighbor's.
OTHERS_GROUND = ("neighbor", "unknown")
BuildingKind = Literal["basement", "crawl space", "slab"]
PavingKind = Literal["walk", "drive", "patio", "public sidewalk"]
KeepOutKind = Literal[
    "tree roots",
    "septic field",
    "well",
    "utility",
    "private line",
    "water service",
    "road",
    "retaining wall",
    "other",
]
Allowed = Literal["nothing", "hand digging", "sleeve"]
OutletKind = Literal["street gutter", "ditch", "swale", "storm inlet"]
ClearanceKind = Literal["siding", "brick weeps", "vent", "sill"]
OpeningKind = Literal["window well", "stairwell", "door", "garage door", "crawl-space vent"]
SoilTexture = Literal[
    "sand",
    "loamy sand",
    "sandy loam",
    "loam",
    "silt loam",
    "sandy clay loam",
    "clay loam",
    "silty clay loam",
    "sandy clay",
    "silty clay",
    "clay",
]
SoilGroup = Literal["A", "B", "C", "D"]
LawnCover = Literal["good", "fair", "poor"]
GutterShape = Literal["half-round", "ogee"]
LeaderShape = Literal["round", "rectangular"]
PipeWall = Literal["smooth", "corrugated", "unknown"]
PercolationForm = Literal["shaft", "county form"]
WindAllowance = Literal["none", "pitch factor", "half tangent"]
OutletEnds = Literal["left", "right", "both ends"]


@dataclass(frozen=True)
class Written:
    """Where an entry stands in the user's files: file as named, line from 1, entry in its words."""

    file: str
    line: int | None
    entry: str


@dataclass(frozen=True)
class SpotHeight:
    """A ground height measured at a point; x, y, z in metres."""

    name: str
    x: float
    y: float
    z: float
    remark: str
    written: Written


@dataclass(frozen=True)
class BreakLine:
    """A line along which the ground bends or steps.

    `line` is (k, 2) plan positions and `top` their (k,) heights. A step (curb, wall) also has
    `foot`, the (k,) heights at its foot, which lies on `foot_side` of the line as it is walked.
    `spots` names the spot heights it runs through, empty where it was given by coordinates.
    """

    name: str
    line: NDArray[np.float64]
    top: NDArray[np.float64]
    foot: NDArray[np.float64] | None
    foot_side: Side | None
    spots: tuple[str, ...]
    written: Written


@dataclass(frozen=True)
class Barrier:
    """Something thin that dams surface water: (k, 2) line, height above the ground in metres."""

    name: str
    line: NDArray[np.float64]
    height: float
    written: Written


@dataclass(frozen=True)
class Drain:
    """Something that takes water under the surface from `inlet` to `outlet`, plan positions.

    `outlet` is None where the drain leaves the lot (a storm sewer). `capacity` is in m3/s, None
    where it is not known.
    """

    name: str
    inlet: tuple[float, float]
    outlet: tuple[float, float] | None
    capacity: float | None
    written: Written


@dataclass(frozen=True)
class Clearance:
    """Something on a wall that soil must stay below: siding, brick weeps, a vent or a sill.

    `start` and `end` are metres along the wall (`wall` counts from 0), `height` is its lower edge
    on the survey's datum.
    """

    wall: int
    start: float
    end: float
    kind: ClearanceKind
    height: float


@dataclass(frozen=True)
class Building:
    """A building: outline with any courtyard as a hole, walls in the order of its corners.

    `walls` names each wall; wall i runs from corner i to corner i + 1 of the outline as it was
    written. `footing_depth` is metres below the ground outside, None where not known. A
    `neighbor`'s building is in the water's way and is spared it, but is not judged.
    """

    name: str
    outline: Polygon
    walls: tuple[str, ...]
    kind: BuildingKind | None
    footing_depth: float | None
    written: Written
    clearances: tuple[Clearance, ...] = ()
    neighbor: bool = False


@dataclass(frozen=True)
class Opening:
    """Where water at the wall gets in.

    `distance` is metres along wall `wall` (from 0) of building `building` to its middle, `width`
    along the wall. A window well or stairwell is a low place in the ground in front of the wall:
    `rim` is the lowest height of its edge, `floor` of its bottom, `projection` how far it stands
    out of the wall, `drained` whether its floor has a drain. Doors, garages, vents have a `sill`.
    Heights are on the survey's datum, None where they do not apply or are not known.
    """

    name: str
    kind: OpeningKind
    building: str
    wall: int
    distance: float
    width: float
    sill: float | None
    rim: float | None
    floor: float | None
    projection: float
    drained: bool
    written: Written


@dataclass(frozen=True)
class Sump:
    """A sump pump's outlet on the plan and its rate in m3/s."""

    name: str
    outlet: tuple[float, float]
    rate: float
    written: Written


@dataclass(frozen=True)
class LotSide:
    """One side of the lot: its (2, 2) end points and what lies beyond it."""

    name: str
    line: NDArray[np.float64]
    neighbor: Neighbor

    @property
    def words(self) -> str:
        """The side in words: ``the front side``, or ``side 1`` where it has no name.

        Examples
        --------
        >>> [LotSide(name, np.zeros((2, 2)), "street").words for name in ("front", "side 1")]
        ['the front side', 'side 1']
        """
        return self.name if "side" in self.name.split() else f"the {self.name} side"


@dataclass(frozen=True)
class Lot:
    """The lot's boundary and its sides, in the order of its corners."""

    boundary: Polygon
    sides: tuple[LotSide, ...]
    written: Written


@dataclass(frozen=True)
class Paving:
    """A walk, drive, patio or public sidewalk, by its outline."""

    name: str
    kind: PavingKind
    outline: Polygon
    written: Written


@dataclass(frozen=True)
class KeepOut:
    """Ground not to be dug freely; `allowed` says what may be done there."""

    name: str
    kind: KeepOutKind
    area: Polygon
    allowed: Allowed
    written: Written


@dataclass(frozen=True)
class Easement:
    """A strip that others have rights in; `may_take_water` where discharge is permitted."""

    name: str
    area: Polygon
    may_take_water: bool
    written: Written


@dataclass(frozen=True)
class Outlet:
    """A place that may take the water: point, line or area; `permission` as noted by the user.

    `invert` is the height of its inside bottom where a pipe may come in, `water` that of the water
    that may stand in it; survey's datum, None where not known.
    """

    name: str
    kind: OutletKind
    place: BaseGeometry
    permission: str
    written: Written
    invert: float | None = None
    water: float | None = None


@dataclass(frozen=True)
class Roof:
    """A roof plane by its plan area in m2; `pitch` is rise over run, None where not known.

    `eave` is the (k, 2) line along which an eave without a gutter drips; `onto` names the lower
    roof that an upper one drains onto; `wall_above` is the area (m2) of wall that stands over it
    and sheds wind-blown rain onto it; `length` its plan length along the eave where it was given.
    """

    name: str
    plan_area: float
    pitch: float | None
    outline: Polygon | None
    written: Written
    eave: NDArray[np.float64] | None = None
    onto: str = ""
    wall_above: float = 0.0
    length: float | None = None


@dataclass(frozen=True)
class GutterRun:
    """A gutter along the eave of a roof.

    `size` is the one it is sold by, such as "5 in" or "125 mm", `eave` the length of the shingles'
    edge (m), None where not known, `outlet_ends` where its outlets are, as seen from the ground
    facing the wall. `outlet` is the diameter of an outlet (m), None where it is the leader's.
    """

    name: str
    roof: str
    shape: GutterShape
    size: str
    eave: float | None
    outlet_ends: OutletEnds | None
    outlet: float | None
    written: Written


@dataclass(frozen=True)
class Leader:
    """The section of a downspout: round by its diameter (twice the same) or rectangular; metres."""

    shape: LeaderShape
    width: float
    depth: float


@dataclass(frozen=True)
class Downspout:
    """A downspout's foot on the plan, and the roofs it carries as (roof name, share 0 to 1).

    `building` names the building whose wall it stands on, where it was placed along a wall.
    `leader` is None where its size is not known; `route` is the (k, 2) line drawn for a buried
    line, without the downspout's own foot, None where none is drawn.
    """

    name: str
    x: float
    y: float
    roofs: tuple[tuple[str, float], ...]
    building: str | None
    written: Written
    leader: Leader | None = None
    route: NDArray[np.float64] | None = None


@dataclass(frozen=True)
class Georeference:
    """How plan metres lie on a map.

    Map coordinates of a plan point are ``(origin + plan metres) / metres_per_unit`` along the axes
    of `crs` (WKT of a projected CRS), the plan turned by `rotation`: the angle in radians,
    counterclockwise, from the map's x axis to the plan's.
    """

    crs: str
    metres_per_unit: float
    origin: tuple[float, float]
    rotation: float = 0.0


@dataclass(frozen=True)
class ElevationSource:
    """Elevation data: a file or an address, band from 1, metres per unit of its heights.

    `vertical_unit` is None where only the file says it; `crs` is the map system (WKT) of a file
    that names none; `network` whether addresses may be read; `others` are further tiles; `shift`
    is added to all heights, metres, to bring them to the survey's datum.
    """

    path: Path | str
    band: int
    vertical_unit: float | None
    written: Written
    crs: str | None = None
    network: bool = False
    others: tuple[ElevationSource, ...] = ()
    shift: float = 0.0

    @property
    def name(self) -> str:
        """The file's own name."""
        return str(self.path).replace("\\", "/").rsplit("/", 1)[-1]


@dataclass(frozen=True)
class HeightAccuracy:
    """How good one height is: standard deviation `sigma` in metres, and how it is known.

    `indication_only` marks heights (lidar tiles) that give an indication, never a verdict.
    """

    sigma: float
    method: str
    indication_only: bool


@dataclass(frozen=True)
class Basis:
    """Where a rain comes from: what was typed, the rules, a rain table, or an assumption.

    Of a rain table `years` is the return period, `duration_s` the rain's, where it is one rain;
    `table` is its file and `says` what that says of itself. A pit's rain can be the whole storm.
    """

    code: Literal["site file", "rules", "assumed", "table", "storm"]
    years: float = 0.0
    duration_s: float = 0.0
    table: str = ""
    says: str = ""


TYPED = Basis("site file")


@dataclass(frozen=True)
class Storm:
    """The storm that ponding is judged by: its depth in metres, and where that comes from.

    Drains work for its `duration`, seconds.
    """

    depth: float
    duration: float
    basis: Basis = TYPED
    duration_basis: Basis = TYPED


@dataclass(frozen=True)
class DesignRain:
    """The rain that gutters, leaders or lines are sized for: intensity in m/s, and its basis."""

    intensity: float
    basis: Basis = TYPED


@dataclass(frozen=True)
class PitRain:
    """The rain that a seepage pit is sized for.

    `durations` are (seconds, metres) of a rain table's return period, empty where none is given;
    the pit then holds all of `depth` (m), a whole storm. `basis` says where it comes from.
    """

    depth: float
    durations: tuple[tuple[float, float], ...] = ()
    basis: Basis = TYPED


@dataclass(frozen=True)
class DesignRains:
    """The rains that gutters (with their leaders), buried lines and pits are sized for.

    `allowance` is the one allowance for wind-blown rain; a roof with a wall above takes half of
    the wall instead.
    """

    gutter: DesignRain
    line: DesignRain
    pit: PitRain
    allowance: WindAllowance


@dataclass(frozen=True)
class TrialPit:
    """A trial pit: plan and effective depth (m), and the seconds from 75 % to 25 % of each fill."""

    length: float
    width: float
    depth: float
    times: tuple[float, ...]


@dataclass(frozen=True)
class Percolation:
    """A percolation test: fall (m) in a time (s), hole's diameter and first water depth (m)."""

    fall: float
    time: float
    diameter: float
    first_depth: float
    form: PercolationForm


@dataclass(frozen=True)
class Soil:
    """What is known of the soil: at most one of a measured rate (m/s), a trial pit, a percolation.

    `groundwater`, `bedrock` and `frost` are depths below the ground in metres, None where not
    known; `expansive` and `karst` are None where nobody said. `group` is the hydrologic soil group
    where it is given; `lawn` how much of the lawn grass covers.
    """

    texture: SoilTexture | None = None
    rate: float | None = None
    trial_pit: TrialPit | None = None
    percolation: Percolation | None = None
    groundwater: float | None = None
    frost: float | None = None
    expansive: bool | None = None
    group: SoilGroup | None = None
    lawn: LawnCover = "good"
    bedrock: float | None = None
    karst: bool | None = None


@dataclass(frozen=True)
class PipeChoice:
    """The pipe that the user means to lay: its wall, and its nominal size in inches if chosen."""

    wall: PipeWall = "unknown"
    nominal_in: int | None = None


@dataclass(frozen=True)
class Benchmark:
    """A point of known height (m) to level from, and the rod read on it (m) where it was read.

    `map_height` is its height (m) on the datum of the elevation data, None where not known.
    """

    name: str
    height: float
    backsight: float | None
    map_height: float | None = None


@dataclass(frozen=True)
class Prices:
    """Unit prices by item, in `currency` for each SI unit (m, m2, m3) or piece."""

    currency: str
    by_item: Mapping[str, float]


@dataclass(frozen=True)
class Photograph:
    """A photograph: its file and what it shows."""

    file: Path
    caption: str
    written: Written


@dataclass(frozen=True)
class Site:
    """All that the user wrote about one lot, in SI, every reference resolved."""

    path: Path
    name: str
    units: Units
    height_accuracy: HeightAccuracy
    storm: Storm
    rains: DesignRains
    rules: Rules
    address: str = ""
    date: str = ""
    observer: str = ""
    weather: str = ""
    hidden: str = ""
    notes: str = ""
    north_degrees: float | None = None
    georeference: Georeference | None = None
    elevation: ElevationSource | None = None
    cell_size: float | None = None
    spot_heights: tuple[SpotHeight, ...] = ()
    break_lines: tuple[BreakLine, ...] = ()
    barriers: tuple[Barrier, ...] = ()
    drains: tuple[Drain, ...] = ()
    buildings: tuple[Building, ...] = ()
    lot: Lot | None = None
    paving: tuple[Paving, ...] = ()
    keep_outs: tuple[KeepOut, ...] = ()
    easements: tuple[Easement, ...] = ()
    outlets: tuple[Outlet, ...] = ()
    roofs: tuple[Roof, ...] = ()
    downspouts: tuple[Downspout, ...] = ()
    openings: tuple[Opening, ...] = ()
    sumps: tuple[Sump, ...] = ()
    gutters: tuple[GutterRun, ...] = ()
    soil: Soil = field(default_factory=Soil)
    pipe: PipeChoice = field(default_factory=PipeChoice)
    benchmark: Benchmark | None = None
    prices: Prices | None = None
    photographs: tuple[Photograph, ...] = ()
    notices: tuple[Notice, ...] = ()
    questions: tuple[Notice, ...] = ()
    """What of the heights is doubtful as a whole: told first, and no verdict rests on them."""

    @cached_property
    def own_buildings(self) -> tuple[Building, ...]:
        """The buildings that are judged: all but the neighbors'."""
        return tuple(building for building in self.buildings if not building.neighbor)

    @cached_property
    def spot_array(self) -> NDArray[np.float64]:
        """The spot heights as an (n, 3) array of x, y, z in metres."""
        return np.array([(s.x, s.y, s.z) for s in self.spot_heights], dtype=np.float64).reshape(
            -1, 3
        )
