"""Invented lots for the inspection's tests, written as a user would write them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

import runoff
from runoff.site import Site

Ground = Callable[[float, float], float]
BOX = [(-20.0, -20.0), (20.0, -20.0), (20.0, 20.0), (-20.0, 20.0)]
HEAD = '[site]\nname = "invented"\nunits = "m"\n'


def corners(points) -> str:
    return "[" + ", ".join(f"[{x}, {y}]" for x, y in points) + "]"


def write(
    folder: Path,
    ground: Ground,
    body: str = "",
    spacing: float = 4.0,
    reach: float = 20.0,
    cell_size: float | None = None,
    rows_apart: float | None = None,
) -> Path:
    """A site whose heights are taken on a net of points, plus `body` of the site file.

    The net is square but where `rows_apart` says otherwise: ground that is straight along y is the
    same ground with few rows.
    """
    columns, lines = (
        np.arange(-reach, reach + apart / 2, apart) for apart in (spacing, rows_apart or spacing)
    )
    rows = [
        f"p{i}_{j},{x:.3f},{y:.3f},{ground(x, y):.6f}"
        for i, x in enumerate(columns)
        for j, y in enumerate(lines)
    ]
    (folder / "spots.csv").write_text("name,x,y,z\n" + "\n".join(rows) + "\n")
    terrain = '[terrain]\nspot_heights = "spots.csv"\nheights_by = "laser level"\n'
    if cell_size:
        terrain += f"cell_size = {cell_size}\n"
    (folder / "site.toml").write_text(HEAD + terrain + body)
    return folder / "site.toml"


def read(folder: Path, ground: Ground, body: str = "", **net) -> Site:
    return runoff.read_site(write(folder, ground, body, **net))


def building(name: str, points) -> str:
    return f'[[building]]\nname = "{name}"\ncorners = {corners(points)}\n'


def square(x: float, y: float, side: float) -> list[tuple[float, float]]:
    return [(x, y), (x + side, y), (x + side, y + side), (x, y + side)]


def downspout(name: str, x: float, y: float, area: float | None = 50.0) -> str:
    roof = f'[[roof]]\nname = "roof of {name}"\nplan_area = "{area} m2"\n' if area else ""
    roofs = f'roofs = ["roof of {name}"]\n' if area else ""
    return f'{roof}[[downspout]]\nname = "{name}"\nat = [{x}, {y}]\n{roofs}'


def lot(*neighbors: str, points=BOX) -> str:
    """The lot, its sides named as they are walked from the first corner."""
    names = ("front", "right", "rear", "left")
    sides = ", ".join(
        f'{{ name = "{name}", neighbor = "{neighbor}" }}'
        for name, neighbor in zip(names, neighbors, strict=True)
    )
    return f"[lot]\ncorners = {corners(points)}\nsides = [{sides}]\n"
