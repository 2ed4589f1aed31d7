"""The ways to take one downspout's water away, side by side: the records of a plan.

Frozen records in SI; the rooms to the right draw and print from these and compute nothing anew.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Literal

from runoff.discharge.as_it_is import AS_IT_IS, AsItIs
from runoff.discharge.correction import correct_grade
from runoff.discharge.extension.way import EXTENSION, Extension
from runoff.discharge.failure import Failing
from runoff.discharge.ground import LotGround
from runoff.discharge.line.record import BuriedLine
from runoff.discharge.line.way import BURIED_LINE
from runoff.discharge.model import Failure, GradeCorrection, Item, WaterToMove, Way, WayKind, Work
from runoff.discharge.pit.size import SeepagePit
from runoff.discharge.pit.way import SEEPAGE_PIT
from runoff.discharge.reasons import WhyNot
from runoff.discharge.swale.section import Swale
from runoff.discharge.swale.way import SWALE
from runoff.site.model import Downspout

__all__ = [
    "WAYS",
    "AsItIs",
    "BuriedLine",
    "Design",
    "Extension",
    "Option",
    "Recommendation",
    "SeepagePit",
    "Swale",
    "failures_of",
    "way_of",
]

Design = AsItIs | Extension | Swale | BuriedLine | SeepagePit
"""What is built of one way, told apart by its `kind`; soil at the wall may go with any of them."""
WAYS: tuple[Way[Any], ...] = (AS_IT_IS, EXTENSION, SWALE, BURIED_LINE, SEEPAGE_PIT)
"""From the simplest to the last resort."""
_BY_KIND = {way.kind: way for way in WAYS}


def way_of(design: Design) -> Way[Any]:
    """The row of a design's way."""
    return _BY_KIND[design.kind]


Ask = Literal["swale over the yard", "storm sewer", "pumped basin", "roof"]
"""What is left where no way can be built, each with somebody to be asked; of a roof that is not
given the user."""


@dataclass(frozen=True)
class Option:
    """One way for one downspout: whether it can be done, why (not), and what it is.

    `way` is the kind of its design, or that nothing is built and others are asked; `graded` whether
    the grade is corrected first, and `correction` the soil that this takes where it can be done.
    `reason` says why it cannot be built; it is None where it can. `failures` is what happens when
    it does not work; `asks` are those who must be asked.
    """

    way: WayKind
    feasible: bool
    reason: WhyNot | None
    design: Design | None = None
    correction: GradeCorrection | None = None
    graded: bool = False
    failures: tuple[Failure, ...] = ()
    work: Work = field(default_factory=Work)
    shopping: tuple[Item, ...] = ()
    asks: tuple[Ask, ...] = ()

    @property
    def kind(self) -> str:
        """The way, with corrected grade where it is corrected first."""
        if not self.graded:
            return self.way
        return "corrected grade" if self.way == "as it is" else f"corrected grade and {self.way}"

    @property
    def fails_safely(self) -> bool:
        """Whether no failure of it reaches a foundation, a neighbor or a public sidewalk."""
        return all(failure.is_safe for failure in self.failures)

    @property
    def line(self) -> BuriedLine | None:
        """The line that is laid: the way itself, or what feeds its pit."""
        return None if self.design is None else way_of(self.design).line(self.design)


@dataclass(frozen=True)
class Recommendation:
    """The ways for one downspout side by side, from the simplest on, and the one to take."""

    downspout: str
    water: WaterToMove
    options: tuple[Option, ...]
    chosen: Option


def failures_of(
    ground: LotGround,
    downspout: Downspout,
    option: Option,
    corrected: Callable[[], LotGround] | None = None,
) -> tuple[Failure, ...]:
    """Say for a way how it fails, where the water then runs, and what relieves it.

    Parameters
    ----------
    ground : LotGround
        As it will be: with the grade corrected where the option corrects it. A swale is cut here.
    downspout : Downspout
    option : Option
    corrected : callable, optional
        The ground with the grade corrected, asked for only where a relief needs it.

    Examples
    --------
    >>> from runoff.discharge.ground import lot_ground
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> from runoff.terrain.build import build_terrain
    >>> site = read_site(sample_folder() / "site.toml")
    >>> ground = lot_ground(site, build_terrain(site))
    >>> left = Option("as it is", True, None, AsItIs(None))
    >>> [f.kind for f in failures_of(ground, site.downspouts[0], left)]
    ['greater storm']
    """
    if option.design is None:
        return ()
    corrected = corrected or (lambda: correct_grade(ground, downspout)[0])
    failing = Failing(ground, downspout, option.correction is not None, corrected)
    return way_of(option.design).fails(failing, option.design)
