"""Invented lots for the terrain tests, built without any file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from runoff.rules import Rules
from runoff.site import (
    Barrier,
    BreakLine,
    Building,
    Drain,
    HeightAccuracy,
    Lot,
    LotSide,
    Side,
    Site,
    SpotHeight,
    Storm,
    Written,
    assumed_rains,
)

WRITTEN = Written("site.toml", 1, "invented")
SIDES = ("front", "right", "rear", "left")
Surface = Callable[[Any, Any], Any]


def a_site(rain: float = 0.05, **fields: Any) -> Site:
    """A site with a storm of `rain` metres in an hour and nothing on it but what is given."""
    storm = Storm(rain, 3600.0)
    given: dict[str, Any] = {
        "units": "ft",
        "height_accuracy": HeightAccuracy(0.006, "laser level", False),
    }
    return Site(
        path=Path("site.toml"),
        name="invented lot",
        storm=storm,
        rains=assumed_rains(storm, Rules()),
        rules=Rules(),
        **given | fields,
    )


def spots_at(xy: Sequence[Any] | NDArray[np.float64], surface: Surface) -> tuple[SpotHeight, ...]:
    """Shots of a surface at the given positions, named S1, S2 and so on."""
    return tuple(
        SpotHeight(f"S{k}", float(x), float(y), float(surface(x, y)), "", WRITTEN)
        for k, (x, y) in enumerate(xy, start=1)
    )


def grid_positions(width: float, depth: float, step: float) -> NDArray[np.float64]:
    """Positions in rows from (0, 0) to (width, depth)."""
    x, y = np.meshgrid(np.arange(0, width + 1e-9, step), np.arange(0, depth + 1e-9, step))
    return np.column_stack([x.ravel(), y.ravel()])


def a_plane(x: Any, y: Any) -> Any:
    """3 % down to the right, 2 % up the plan."""
    return 100.0 - 0.03 * x + 0.02 * y


def a_building(
    name: str, corners: Sequence[tuple[float, float]], holes: Sequence[Any] = ()
) -> Building:
    """A building by its corners."""
    walls = tuple(f"wall {k}" for k in range(1, len(corners) + 1))
    return Building(name, Polygon(corners, holes), walls, "basement", None, WRITTEN)


def a_box(name: str, left: float, bottom: float, right: float, top: float) -> Building:
    """A rectangular building."""
    return a_building(name, [(left, bottom), (right, bottom), (right, top), (left, top)])


def a_house(
    left: float,
    bottom: float,
    right: float,
    top: float,
    name: str = "house",
    kind: str | None = "basement",
) -> Building:
    """A rectangular house: front wall below, then right, rear, left."""
    outline = Polygon([(left, bottom), (right, bottom), (right, top), (left, top)])
    return Building(name, outline, SIDES, kind, None, WRITTEN)  # type: ignore[arg-type]


def a_rectangle(left: float, bottom: float, right: float, top: float, *beyond: str) -> Lot:
    """A rectangular lot with what lies beyond its front, right, rear and left side."""
    corners = np.array([(left, bottom), (right, bottom), (right, top), (left, top)])
    sides = tuple(
        LotSide(name, corners[[k, (k + 1) % 4]], neighbor)  # type: ignore[arg-type]
        for k, (name, neighbor) in enumerate(zip(SIDES, beyond, strict=True))
    )
    return Lot(Polygon(corners), sides, WRITTEN)


def a_lot(corners: Sequence[tuple[float, float]], *names: str) -> Lot:
    """A lot by its corners, its sides named in their order where names are given."""
    sides = tuple(
        LotSide(names[k] if names else f"side {k + 1}", np.array([start, end]), "neighbor")
        for k, (start, end) in enumerate(zip(corners, [*corners[1:], corners[0]], strict=True))
    )
    return Lot(Polygon(corners), sides, WRITTEN)


def a_break_line(
    name: str,
    line: Sequence[tuple[float, float]],
    top: Sequence[float],
    foot: Sequence[float] | None = None,
    side: Side | None = None,
) -> BreakLine:
    """A break line by coordinates; a step where `foot` is given."""
    return BreakLine(
        name,
        np.array(line, dtype=float),
        np.array(top, dtype=float),
        None if foot is None else np.array(foot, dtype=float),
        side,
        (),
        WRITTEN,
    )


def a_barrier(name: str, line: Sequence[tuple[float, float]], height: float) -> Barrier:
    """A barrier by coordinates."""
    return Barrier(name, np.array(line, dtype=float), height, WRITTEN)


def a_drain(
    name: str, inlet: tuple[float, float], outlet: tuple[float, float] | None = None
) -> Drain:
    """A drain of unknown capacity."""
    return Drain(name, inlet, outlet, None, WRITTEN)


def expected_heights(terrain: Any, surface: Surface) -> NDArray[np.float64]:
    """The surface at every cell center of a terrain."""
    x, y = terrain.grid.centers()
    return surface(x[None, :], y[:, None]) + np.zeros((len(y), len(x)))
