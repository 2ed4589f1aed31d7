"""What a check by plain means finds: what is broken, and what it cannot tell.

In: conditions, and places where water is let go on a `PlainGround`. Out: lists of words.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from tests.discharge.plain_ground import MAYBE, SAFE, PlainGround

WAYS_OUT = (
    "safe", "may be", "too near a foundation", "too flat", "comes back to a foundation",
    "stands near a foundation", "runs onto a neighbor", "off the lot", "no ground",
)  # fmt: skip


@dataclass
class Found:
    """What is broken, and what is too close to tell by plain means."""

    broken: list[str] = field(default_factory=list)
    close: list[str] = field(default_factory=list)

    def ask(self, holds: bool, what: str) -> None:
        """Note what does not hold."""
        if not holds:
            self.broken.append(what)

    def let_go(
        self, ground: PlainGround, at: tuple[float, float], water: float, at_wall: bool = False
    ) -> None:
        """Walk water down from a place and from around it: one in nine may say otherwise."""
        outcomes = ground.around(at, water, at_wall)
        if outcomes[0] == SAFE:
            return
        bad = outcomes[(outcomes != SAFE) & (outcomes != MAYBE)]
        words = ", ".join(sorted({WAYS_OUT[k] for k in bad})) or WAYS_OUT[MAYBE]
        told = self.broken if len(bad) >= len(outcomes) - 1 else self.close
        told.append(f"its water let go at ({at[0]:.2f}, {at[1]:.2f}): {words}")
