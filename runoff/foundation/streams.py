"""Streams that run past an opening: the paths of water let go at one point, rain by rain.

In: a storm's ponding and its sources. Out: lines on the plan, and which of them cross some cells.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, box, intersects

from runoff.flow.paths import follow_storm, storm_surface
from runoff.flow.pouring import Ponding
from runoff.flow.sources import Source
from runoff.flow.storm import LotFlow

Stream = tuple[str, LineString]


def streams_of(
    flow: LotFlow, ponding: Ponding, sources: Sequence[Source], rain: float
) -> list[Stream]:
    """Follow the water of every downspout and sump over a storm's ground; name and line (m).

    An eave drips along its whole length and makes no stream.
    """
    surface = storm_surface(ponding, flow.terrain.surface, flow.terrain.closed)
    streams = []
    for source in sources:
        if len(source.let_go) != 1 or source.water(rain) <= 0:
            continue
        row, col = source.let_go[0].cell
        line = flow.grid.on_plan(follow_storm(surface, ponding, col, row).points)
        streams.append((source.name, LineString(line if len(line) > 1 else np.repeat(line, 2, 0))))
    return streams


def crossing(flow: LotFlow, streams: Sequence[Stream], cells: NDArray[np.int64]) -> tuple[str, ...]:
    """Names of the streams that cross any of these cells, flat indices."""
    if not cells.size:
        return ()
    grid = flow.grid
    x, y = grid.centers()
    half = grid.cell_size / 2
    across, up = x[cells % grid.cols], y[cells // grid.cols]
    boxes = box(across - half, up - half, across + half, up + half)
    return tuple(name for name, line in streams if intersects(boxes, line).any())
