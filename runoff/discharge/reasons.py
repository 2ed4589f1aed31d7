"""Why a way cannot be built here: small frozen records, each with a `code` and its figures.

Lengths are metres, flows m3/s, rates m/s, slopes m/m; `name` is as the user named it, `kind` what
that is. Sentences are made of them in `runoff.words.reasons`.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, replace
from math import nan
from typing import TYPE_CHECKING, ClassVar, Literal

from runoff.foundation.model import Refusal, SafeReason, Verdict

if TYPE_CHECKING:
    from runoff.discharge.ground import Reached
    from runoff.discharge.model import WayKind

HarmCode = Literal["foundation", "neighbor", "sidewalk", "survey's edge"]


@dataclass(frozen=True)
class Harm:
    """What water does that it must not: how it comes to a foundation, which sidewalk it runs over.

    A `sidewalk` is a public one.
    """

    code: HarmCode
    reached: Reached | None = None
    sidewalk: str = ""


@dataclass(frozen=True)
class NotNeeded:
    """A way with corrected grade where the way alone works."""

    without: WayKind
    code: ClassVar[Literal["not needed"]] = "not needed"


WaterFrom = Literal["line", "swale", "full pit"]


@dataclass(frozen=True)
class WaterDoesHarm:
    """What the water does from the end of a line or a swale, or over a full pit."""

    water: WaterFrom
    harm: Harm
    code: ClassVar[Literal["water does harm"]] = "water does harm"


# Water left as it is.


@dataclass(frozen=True)
class AtTheWall:
    """Why water may not be let go at the wall beside a downspout, nearer than `near_m`.

    `kind` is the building's, empty where it is not given; `wall` and `verdict` those beside it.
    """

    code: Literal["not a slab", "expansive soil", "wall not surveyed", "wall fails"]
    near_m: float
    building: str = ""
    kind: str = ""
    wall: str = ""
    verdict: Verdict | None = None


@dataclass(frozen=True)
class NotLeft:
    """All that speaks against leaving the water where it comes out: the wall, and what it does."""

    wall: AtTheWall | None
    harms: tuple[Harm, ...]
    code: ClassVar[Literal["not left as it is"]] = "not left as it is"


@dataclass(frozen=True)
class ComesTo:
    """Water left at the wall comes, `near_m` out, to ground where it may not be let go."""

    near_m: float
    ground: SafeReason
    code: ClassVar[Literal["comes to unsafe ground"]] = "comes to unsafe ground"


@dataclass(frozen=True)
class NeverAway:
    """Water left at the wall never gets `near_m` away from it."""

    near_m: float
    code: ClassVar[Literal["never away from the wall"]] = "never away from the wall"


# Corrected grade.


@dataclass(frozen=True)
class NothingToCorrect:
    """No wall of a building, or of any where `building` is empty, that soil corrects."""

    code: Literal["no wall on the ground", "an indication only", "every wall drains", "not by soil"]
    building: str = ""


@dataclass(frozen=True)
class NoBuilding:
    """No building stands beside the downspout."""

    downspout: str
    code: ClassVar[Literal["no building"]] = "no building"


@dataclass(frozen=True)
class SoilDoesNot:
    """Soil is refused along a wall, or would stand `short_m` higher than siding allows.

    `asked_m` of fall over `reach_m` are asked there, `there_m` is there, below 0 toward the wall.
    """

    building: str
    wall: str
    refusal: Refusal | None
    asked_m: float
    reach_m: float
    there_m: float
    short_m: float
    code: ClassVar[Literal["soil does not"]] = "soil does not"


# An extension.

HindranceCode = Literal[
    "ends on unsafe ground",
    "ends on keep-out",
    "ends beside paving",
    "ends beside lot side",
    "ends where water comes to a foundation",
    "leaves the lot",
    "through a building",
    "across paving",
    "across retaining wall",
    "across threshold",
    "across well",
    "does not fall",
    "hangs",
    "sends water over a public sidewalk",
    "sends water over a walk",
]


@dataclass(frozen=True)
class Hindrance:
    """What speaks against one extension.

    `within_m` is how near to paving or a side it ends, or how soon its water comes to a walk;
    `slope` and `height_m` the fall asked and how high the leader's end may stand, or how high over
    the ground it may hang; `ground` what is wrong where it ends; `harms` what its water then does.
    """

    code: HindranceCode
    name: str = ""
    kind: str = ""
    within_m: float = 0.0
    slope: float = 0.0
    height_m: float = 0.0
    ground: SafeReason = "safe"
    harms: tuple[Harm, ...] = ()


@dataclass(frozen=True)
class BestExtension:
    """The extension that least speaks against; `slope` is NaN where its ground was not surveyed."""

    length_m: float
    slope: float
    against: tuple[Hindrance, ...]


@dataclass(frozen=True)
class NoExtension:
    """No extension up to `limit_m`: what hinders most or `every` one, and the best of them.

    `most` and `best` are None where no place in reach lies on the lot and off the foundations.
    """

    downspout: str
    limit_m: float
    most: Hindrance | None = None
    every: bool = False
    best: BestExtension | None = None
    code: ClassVar[Literal["no extension"]] = "no extension"


# A line or a pit's line.

Simple = Literal[
    "no roof drains here",
    "no length",
    "too short",
    "no ground at the foot",
    "does not come out",
    "little cover under paving",
    "comes out under a drive",
    "farther than tried",
    "no ground at the swale's head",
    "no ground where a swale would begin",
    "leaves the swale",
    "more water than the swale carries",
    "too fast for grass",
    "expansive soil",
    "karst",
    "soil not tested",
    "roof too large for a pit",
    "outgrows its place",
    "no low ground for a pit",
    "no straight line to a pit",
    "no depth for a pit",
]


@dataclass(frozen=True)
class Simply:
    """A reason without figures."""

    code: Simple


StopCode = Literal[
    "crosses keep-out",
    "under a building",
    "along a building",
    "near a building",
    "leaves the lot",
    "leaves the survey",
]


@dataclass(frozen=True)
class Stopped:
    """What a route must not cross, or must be `clear_m` clear of within its first `within_m`."""

    code: StopCode
    name: str = ""
    kind: str = ""
    clear_m: float = 0.0
    within_m: float = 0.0


@dataclass(frozen=True)
class NotHere:
    """Where no water may come out: unsafe ground, or on or within `within_m` of something."""

    code: SafeReason | Literal["on paving", "in keep-out", "ices paving", "near lot side"]
    name: str = ""
    kind: str = ""
    within_m: float = 0.0


@dataclass(frozen=True)
class EndsWrongly:
    """A line comes out where it must not."""

    where: NotHere
    code: ClassVar[Literal["comes out where it must not"]] = "comes out where it must not"


@dataclass(frozen=True)
class ByHowMuch:
    """How near to coming out a line is: held at its least slope the pipe's bottom lies `below_m`.

    Below the ground, `out_m` from its start; with `cover_m` it would come out, None where not even
    with the least that its pipe is given.
    """

    below_m: float
    out_m: float
    cover_m: float | None = None


@dataclass(frozen=True)
class TooFlat:
    """The ground does not fall enough for a line with its cover and slope to come out."""

    cover_m: float
    slope: float
    on: Literal["lot", "survey"]
    by: ByHowMuch | None = None
    code: ClassVar[Literal["too flat"]] = "too flat"


@dataclass(frozen=True)
class Undercuts:
    """A trench or a swale would undercut a footing; `assumed_m` where its depth is not given."""

    what: Literal["trench", "swale"]
    building: str
    assumed_m: float | None = None
    code: ClassVar[Literal["undercuts a footing"]] = "undercuts a footing"


@dataclass(frozen=True)
class LittleCover:
    """Clear of the footing a line has too little cover under a drive."""

    drive: str
    code: ClassVar[Literal["little cover under a drive"]] = "little cover under a drive"


@dataclass(frozen=True)
class TooMuchWater:
    """More water than one line of the largest pipe (nominal inches) carries."""

    flow_m3_per_s: float
    largest_in: int
    code: ClassVar[Literal["too much water for a line"]] = "too much water for a line"


@dataclass(frozen=True)
class PipeTooSmall:
    """The pipe chosen carries less than comes, or is smaller than the leader: `carries` is None.

    `size` is as it is sold; `needed_in` nominal inches.
    """

    size: str
    needed_in: int
    flow_m3_per_s: float
    carries_m3_per_s: float | None
    code: ClassVar[Literal["pipe too small"]] = "pipe too small"


@dataclass(frozen=True)
class StandsBack:
    """Water stands back in the line, `above_m` over the ground at the leader's foot."""

    above_m: float
    code: ClassVar[Literal["stands back"]] = "stands back"


@dataclass(frozen=True)
class ApronOnNeighbor:
    """The stone apron would lie on a neighbor's ground beyond a side."""

    side: str
    length_m: float
    code: ClassVar[Literal["apron on the neighbor"]] = "apron on the neighbor"


@dataclass(frozen=True)
class BelowOutlet:
    """A line arrives below an outlet's invert, or, under `cover_m`, not above its bottom."""

    outlet: str
    cover_m: float | None = None
    code: ClassVar[Literal["below the outlet"]] = "below the outlet"


@dataclass(frozen=True)
class DrawnRoute:
    """Why the line along the route drawn cannot be built."""

    why: WhyNot
    code: ClassVar[Literal["route drawn"]] = "route drawn"


@dataclass(frozen=True)
class TowardOutlet:
    """Why the straight line toward an outlet cannot be built."""

    outlet: str
    why: WhyNot
    code: ClassVar[Literal["toward an outlet"]] = "toward an outlet"


@dataclass(frozen=True)
class LineToPit:
    """What stops the line to a pit."""

    why: WhyNot
    code: ClassVar[Literal["line to the pit"]] = "line to the pit"


@dataclass(frozen=True)
class Met:
    """A reason, and how often it was met."""

    why: WhyNot
    times: int


@dataclass(frozen=True)
class NoStraightLine:
    """No straight line works: what most directions and outlets met, and the nearest to it.

    `apart_degrees` lie between the directions.
    """

    apart_degrees: float
    to_outlets: bool
    most: tuple[Met, ...]
    nearest: ByHowMuch | None
    code: ClassVar[Literal["no straight line"]] = "no straight line"


# A swale.


@dataclass(frozen=True)
class InTheWay:
    """What a swale must not touch."""

    code: Literal[
        "building in the way",
        "well in the way",
        "barrier in the way",
        "paving in the way",
        "keep-out in the way",
    ]
    name: str
    kind: str = ""


@dataclass(frozen=True)
class NoWayOut:
    """A swale does not come out of the ground where water may be let go."""

    within: Literal["lot", "survey"]
    code: ClassVar[Literal["no way out of the ground"]] = "no way out of the ground"


@dataclass(frozen=True)
class TooDeep:
    """A swale would be cut deeper than `greatest_m`."""

    greatest_m: float
    code: ClassVar[Literal["cut too deep"]] = "cut too deep"


@dataclass(frozen=True)
class TooMuchForSwale:
    """More water comes than a swale of the deepest cut carries."""

    deepest_m: float
    code: ClassVar[Literal["too much water for a swale"]] = "too much water for a swale"


@dataclass(frozen=True)
class SwaleEnds:
    """A swale comes out where water must not be let go."""

    ground: SafeReason
    code: ClassVar[Literal["swale ends on unsafe ground"]] = "swale ends on unsafe ground"


@dataclass(frozen=True)
class LacksFall:
    """The line with most of the fall asked: `found_m` of `asked_m` lower than at its head.

    Found `away_m` from the downspout, in the direction of `bearing_degrees` clockwise from the
    plan's up.
    """

    away_m: float
    bearing_degrees: float
    found_m: float
    asked_m: float


@dataclass(frozen=True)
class NoSwale:
    """No line for a swale: what most lines met, and the one that has most of the fall asked."""

    most: tuple[WhyNot, ...]
    lacks: LacksFall | None
    code: ClassVar[Literal["no swale"]] = "no swale"


@dataclass(frozen=True)
class SwaleFails:
    """Why a swale, cut into a ground, does not carry its water away."""

    why: WhyNot
    code: ClassVar[Literal["swale fails"]] = "swale fails"


# A seepage pit.

Layer = Literal["groundwater", "bedrock"]
KeptFrom = Literal["foundation", "lot line", "named", "another pit", "groundwater", "bedrock"]


@dataclass(frozen=True)
class Clearance:
    """What a pit keeps `least_m` away from, and how far it is: `far_m`, NaN where no pit is yet.

    `name` is whose foundation, which lot line, or the thing itself.
    """

    of: KeptFrom
    name: str
    least_m: float
    far_m: float = nan


@dataclass(frozen=True)
class SoilTooSlow:
    """The soil takes less than a pit needs."""

    rate_m_per_s: float
    least_m_per_s: float
    code: ClassVar[Literal["soil too slow"]] = "soil too slow"


@dataclass(frozen=True)
class NothingToStore:
    """The downspout carries no roof."""

    downspout: str
    code: ClassVar[Literal["nothing to store"]] = "nothing to store"


@dataclass(frozen=True)
class LayerTooNear:
    """Groundwater or bedrock lies `deep_m` below the ground, a pit stays `clear_m` above it."""

    layer: Layer
    deep_m: float
    clear_m: float
    code: ClassVar[Literal["layer too near"]] = "layer too near"


@dataclass(frozen=True)
class NoDepthLeft:
    """The line comes in so deep that less than `least_m` is left above a layer or what is dug."""

    least_m: float
    above: Layer | Literal["deepest dig"]
    code: ClassVar[Literal["no depth left"]] = "no depth left"


@dataclass(frozen=True)
class OverflowsOn:
    """A full pit lets its water go on ground where it must not be."""

    ground: SafeReason
    code: ClassVar[Literal["pit overflows on unsafe ground"]] = "pit overflows on unsafe ground"


@dataclass(frozen=True)
class GrowsAtFoundation:
    """A full pit's water spreads and stands higher within `near_m` of a foundation."""

    near_m: float
    code: ClassVar[Literal["grows at a foundation"]] = "grows at a foundation"


@dataclass(frozen=True)
class EveryPlace:
    """The refusal that most of the places tried for a pit met."""

    why: WhyNot
    code: ClassVar[Literal["every place refused"]] = "every place refused"


@dataclass(frozen=True)
class NoPlace:
    """No place for a pit keeps what is most in the way."""

    keeps: tuple[Clearance, ...]
    code: ClassVar[Literal["no place for a pit"]] = "no place for a pit"


@dataclass(frozen=True)
class RoofNotGiven:
    """How much water comes is not known."""

    code: ClassVar[Literal["roof not given"]] = "roof not given"


WhyNot = (
    NotNeeded
    | RoofNotGiven
    | Simply
    | WaterDoesHarm
    | NotLeft
    | ComesTo
    | NeverAway
    | NothingToCorrect
    | NoBuilding
    | SoilDoesNot
    | NoExtension
    | Stopped
    | EndsWrongly
    | TooFlat
    | Undercuts
    | LittleCover
    | TooMuchWater
    | PipeTooSmall
    | StandsBack
    | ApronOnNeighbor
    | BelowOutlet
    | DrawnRoute
    | TowardOutlet
    | LineToPit
    | NoStraightLine
    | InTheWay
    | NoWayOut
    | TooDeep
    | TooMuchForSwale
    | SwaleEnds
    | NoSwale
    | SwaleFails
    | SoilTooSlow
    | NothingToStore
    | LayerTooNear
    | NoDepthLeft
    | OverflowsOn
    | GrowsAtFoundation
    | EveryPlace
    | NoPlace
)
"""Why a way cannot be built, told apart by its class and `code`."""


class NotPossible(Exception):
    """A way that cannot be built here, and why."""

    def __init__(self, why: WhyNot) -> None:
        super().__init__(why)
        self.why = why


class Tally:
    """Reasons in the order in which they were first met, and by how many.

    How far water runs along a wall tells no two reasons apart; the first one met is told.

    Examples
    --------
    >>> met = Tally()
    >>> for why in (Simply("karst"), Simply("too short"), Simply("too short")):
    ...     met.add(why)
    >>> met.most(1)
    (Met(why=Simply(code='too short'), times=2),)
    """

    def __init__(self) -> None:
        self._met: dict[WhyNot, tuple[WhyNot, set[Hashable]]] = {}

    def add(self, why: WhyNot, whose: Hashable = None) -> None:
        """Count a reason: once for each of `whose`, or each time where nobody is named."""
        _, met = self._met.setdefault(_without_metres(why), (why, set()))
        met.add(object() if whose is None else whose)

    def most(self, count: int) -> tuple[Met, ...]:
        """The reasons met by most, the first met before others as frequent."""
        every = [Met(why, len(whose)) for why, whose in self._met.values()]
        return tuple(sorted(every, key=lambda each: -each.times)[:count])


def _without_metres(why: WhyNot) -> WhyNot:
    if isinstance(why, TowardOutlet):
        return replace(why, why=_without_metres(why.why))
    if isinstance(why, WaterDoesHarm) and why.harm.reached is not None:
        reached = replace(why.harm.reached, metres=0.0)
        return replace(why, harm=replace(why.harm, reached=reached))
    return why
