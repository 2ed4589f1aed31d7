"""The drawings of a report as figures, and where each belongs.

In: `Drawing`s. Out: blocks, and the files that they show.
"""

from __future__ import annotations

from collections.abc import Sequence

from runoff.report.blocks import Block, Figure
from runoff.report.drawings.sheets import Drawing

_PLAN = "plan"
_OF_DOWNSPOUTS = ("profile", "pit", "swale")


class Drawn:
    """Drawings by what they belong to; each is placed once.

    Parameters
    ----------
    drawings : sequence of Drawing
        Those of a downspout are a profile, a pit or a swale of its name, quoted.
    downspouts : sequence of str
        Names.
    """

    def __init__(self, drawings: Sequence[Drawing], downspouts: Sequence[str]) -> None:
        self._drawings = drawings
        self._downspouts = downspouts

    @property
    def pictures(self) -> dict[str, bytes]:
        """The files to set beside the template."""
        return {_file(number): one.svg for number, one in enumerate(self._drawings)}

    def plan(self) -> list[Block]:
        """The plans of the lot."""
        return [self._figure(k) for k, one in enumerate(self._drawings) if _is_plan(one)]

    def of_downspout(self, name: str) -> list[Block]:
        """Profile, pit, swale of one downspout."""
        return [self._figure(k) for k, one in enumerate(self._drawings) if _belongs(one, name)]

    def walls(self) -> list[Block]:
        """All others: the ground off the walls."""
        return [
            self._figure(k)
            for k, one in enumerate(self._drawings)
            if not _is_plan(one) and not any(_belongs(one, name) for name in self._downspouts)
        ]

    def _figure(self, number: int) -> Block:
        one = self._drawings[number]
        scale = f" Scale {one.scale}." if one.scale and one.scale not in one.caption else ""
        return Figure(
            _file(number), (one.width_mm, one.height_mm), one.caption + scale, one.alternative
        )


def _file(number: int) -> str:
    return f"drawing-{number}.svg"


def _is_plan(drawing: Drawing) -> bool:
    return drawing.name.startswith(_PLAN)


def _belongs(drawing: Drawing, downspout: str) -> bool:
    return any(drawing.name.startswith(f"{kind} of '{downspout}'") for kind in _OF_DOWNSPOUTS)
