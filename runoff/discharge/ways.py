"""The ways to take one downspout's water away, side by side: the records of a plan.

Frozen records in SI; the rooms to the right draw and print from these and compute nothing anew.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from runoff.discharge.as_it_is import AsItIs
from runoff.discharge.extension.way import Extension
from runoff.discharge.line.record import BuriedLine
from runoff.discharge.model import Failure, GradeCorrection, Item, WaterToMove, Work
from runoff.discharge.pit.size import SeepagePit
from runoff.discharge.swale.section import Swale

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
