"""Openings that one downspout's water gets into, let go at a place, and that it spares otherwise.

In: the lot's ground, a downspout, where its water is let go. Out: the openings it gets into.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from runoff.discharge.lot import LotGround
from runoff.flow.model import DownspoutAnswer
from runoff.flow.storm import LetGo, ground_near, roof_water
from runoff.foundation.beside import WELLS, cells_beside
from runoff.foundation.walls import walls_of
from runoff.site.model import Downspout, Opening

# Water no higher than this over an edge is rounding, metres.
_ROUNDING = 1e-9


@dataclass(frozen=True)
class OpeningsBeside:
    """A lot's openings as one downspout's water meets them on a ground."""

    ground: LotGround
    downspout: Downspout

    def got_into(self, answer: DownspoutAnswer) -> tuple[Opening, ...]:
        """Openings that the water gets into, standing or running, and not without it.

        `answer` is what becomes of it where it is let go.
        """
        if not self._edges:
            return ()
        at = ground_near(*answer.start, self.ground.terrain)
        if at is None:
            return ()
        brought = roof_water(self.ground.site, self.downspout, 1.0)
        water = LetGo(at, brought, place=answer.start)
        level = self._level(water)
        crossed = self._cells(answer.path)
        return tuple(
            opening
            for opening, edge, cells in self._edges
            if not self._is_in(self._without, edge, cells)
            and (self._is_in(level, edge, cells) or self._runs_in(crossed, edge, cells))
        )

    def _is_in(self, level: NDArray[np.float64], edge: float, cells: NDArray[np.int64]) -> bool:
        return bool((level[cells] > edge + _ROUNDING).any())

    def _runs_in(self, crossed: set[int], edge: float, cells: NDArray[np.int64]) -> bool:
        surface = self.ground.terrain.surface.ravel()
        return any(int(c) in crossed and surface[c] >= edge for c in cells)

    def _level(self, water: LetGo | None) -> NDArray[np.float64]:
        """Height of the water over each cell, flat; -inf where none stands."""
        depth = self.ground.run_with({self.downspout.name: water}).ponding.depth()
        return np.where(depth > 0, self.ground.terrain.surface + depth, -np.inf).ravel()

    def _cells(self, path: NDArray[np.float64]) -> set[int]:
        """Cells under a path."""
        grid = self.ground.flow.grid
        steps = np.hypot(*np.diff(path, axis=0).T)
        along = np.concatenate([[0.0], np.cumsum(steps)])
        every = np.arange(0.0, along[-1] + grid.cell_size / 2, grid.cell_size / 2)
        places = zip(*(np.interp(every, along, path[:, k]) for k in (0, 1)), strict=True)
        cells = [grid.cell(float(x), float(y)) for x, y in places]
        return {self.ground.flow.flat(cell) for cell in cells if grid.holds(*cell)}

    @cached_property
    def _without(self) -> NDArray[np.float64]:
        return self._level(None)

    @cached_property
    def _edges(self) -> list[tuple[Opening, float, NDArray[np.int64]]]:
        """Openings with a known edge, its height, and the cells beside them."""
        site = self.ground.site
        walls = {(wall.building, wall.number): wall for wall in walls_of(site.buildings)}
        found = []
        for opening in site.openings:
            edge = opening.rim if opening.kind in WELLS else opening.sill
            if edge is None:
                continue
            wall = walls[opening.building, opening.wall]
            cells = cells_beside(self.ground.terrain, wall, opening)
            if cells.size:
                found.append((opening, edge, cells))
        return found
