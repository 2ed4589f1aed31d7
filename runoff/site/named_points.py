"""Points by name, and places taped from them.

In: positions of spot heights and of buildings' corners, plan metres. Out: where ties from them
meet, or what is expected instead.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from runoff.quantities import format_length
from runoff.site.complaints import hint, shorten
from runoff.site.model import Building, Side
from runoff.site.ties import Located, Position, Tie, is_weak, locate


@dataclass
class NamedPoints:
    """Points that can be taped from.

    Parameters
    ----------
    system : {"us", "metric"}
        The measures to show.
    allowed : float, metres
        What ties, or the runs of an outline, may miss by.
    share : float
        What the runs of an outline may miss by, by their length, where that is more.
    """

    system: str
    allowed: float
    share: float = 0.0
    at: dict[str, Position] = field(default_factory=dict)
    notices: list[str] = field(default_factory=list)

    def add_corners(self, buildings: Iterable[Building]) -> None:
        """Name the corners of each building ``house 1``, ``house 2``, ... in their order."""
        for building in buildings:
            corners = np.asarray(building.outline.exterior.coords)[:-1, :2]
            for number, (x, y) in enumerate(corners, 1):
                self.at.setdefault(f"{building.name} {number}", (float(x), float(y)))

    def show(self, metres: float) -> str:
        """A length for the user."""
        return format_length(metres, self.system)

    def unknown(self, names: Iterable[str]) -> list[str]:
        """Those of the names that no point has."""
        return [name for name in names if name not in self.at]

    def expected(self, name: str, others: Iterable[str] = ()) -> str:
        """What is expected in place of a name that no point has."""
        known = hint(name, [*self.at, *others])
        if len(known) > 200:
            known = 'such as "P1", or "house 1" for a corner of a building'
        return f"the name of a point to tape from, {known}"

    def tied(
        self, ties: Sequence[tuple[str, float]], side: Side | None, near: str | None, what: str
    ) -> Position:
        """Where ties of (point, metres) meet; what the user should know of it goes to the notices.

        Raises
        ------
        TieError
        """
        taped = [Tie(name, self.at[name], distance) for name, distance in ties]
        aim = None if near is None else self.at[near]
        found = locate(taped, side, aim, self.allowed, self.show)
        self._say(taped, found, what)
        return found.position

    def _say(self, ties: Sequence[Tie], found: Located, what: str) -> None:
        if found.on_line > 0.0:
            self.notices.append(
                f"{what}: the ties miss each other by {self.show(found.on_line)}; the point is "
                f"put on the line through {ties[0].point!r} and {ties[1].point!r}"
            )
        elif is_weak(ties, found.position):
            self.notices.append(
                f"{what}: its ties meet at a sharp angle, so that 1/8 in in each moves it by as "
                f"much as {self.show(min(found.spread, 1e3) * 0.0254 / 8.0)}"
            )
        if len(ties) > 2:
            off = ", ".join(
                f"{tie.point!r} {'+' if residual >= 0 else '-'}{self.show(abs(residual))}"
                for tie, residual in zip(ties, found.residuals, strict=True)
            )
            self.notices.append(
                f"{what}: its {len(ties)} ties are adjusted by least squares; taped less computed: "
                f"{off}"
            )


def shown_ties(ties: Iterable[tuple[str, float]], show: NamedPoints) -> str:
    """Ties as they might be written."""
    return shorten(", ".join(f"{name} {show.show(distance)}" for name, distance in ties))
