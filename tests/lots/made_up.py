"""A made-up lot and its ground: one of everything that the map draws."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import numpy as np
from shapely.geometry import LineString, Point, Polygon

from runoff.rules import Rules
from runoff.site import (
    Barrier,
    BreakLine,
    Building,
    Downspout,
    Drain,
    HeightAccuracy,
    KeepOut,
    Lot,
    LotSide,
    Opening,
    Outlet,
    Paving,
    Site,
    Storm,
    Units,
    Written,
    assumed_rains,
)
from runoff.terrain import Grid, Suspect, Terrain

FOOT = 0.3048
HERE = Written("made up", None, "")


def feet(points: list[tuple[float, float]]) -> np.ndarray:
    """Plan positions in metres from feet."""
    return np.array(points, dtype=np.float64) * FOOT


def polygon(points: list[tuple[float, float]]) -> Polygon:
    return Polygon(feet(points))


def made_up_site(units: Units = "ft", north: float | None = 20.0) -> Site:
    """A lot with one of everything that the map draws."""
    accuracy = HeightAccuracy(0.0025, "laser level", indication_only=False)
    corners = feet([(-18, -40), (62, -40), (62, 80), (-18, 80)])
    names = (("front", "street"), ("right", "neighbor"), ("rear", "open ground"))
    sides = tuple(
        LotSide(name, np.array([corners[i], corners[(i + 1) % 4]]), cast(Any, neighbor))
        for i, (name, neighbor) in enumerate((*names, ("left", "neighbor")))
    )
    walls = ("front", "right", "rear", "left")
    house = polygon([(0, 0), (36, 0), (36, 28), (0, 28)])
    garage = polygon([(40, 44), (60, 44), (60, 64), (40, 64)])
    swale = feet([(-12, 66), (-12, 0), (-12, -40)])
    curb = feet([(-30, -48), (42, -48)])
    storm = Storm(4 * FOOT / 12, 86400.0)
    return Site(
        path=Path("site.toml"),
        name="Made-up lot",
        units=units,
        height_accuracy=accuracy,
        storm=storm,
        rains=assumed_rains(storm, Rules()),
        rules=Rules(),
        north_degrees=north,
        break_lines=(
            BreakLine("swale bottom", swale, np.array([30.2, 29.9, 29.3]), None, None, (), HERE),
            BreakLine("curb", curb, np.full(2, 29.3), np.full(2, 29.1), "right", (), HERE),
        ),
        barriers=(Barrier("garden edging", feet([(-18, 76), (30, 76)]), 0.1, HERE),),
        drains=(Drain("yard inlet", (8 * FOOT, -30 * FOOT), None, None, HERE),),
        buildings=(
            Building("house", house, walls, "basement", 2.1, HERE),
            Building("garage", garage, walls, "slab", 1.0, HERE),
        ),
        lot=Lot(Polygon(corners), sides, HERE),
        paving=(
            Paving("drive", "drive", polygon([(44, -48), (54, -48), (54, 44), (44, 44)]), HERE),
            Paving("walk", "walk", polygon([(16, -48), (20, -48), (20, 0), (16, 0)]), HERE),
        ),
        keep_outs=(
            KeepOut(
                "maple",
                "tree roots",
                Point(-6 * FOOT, -28 * FOOT).buffer(1.8),
                "hand digging",
                HERE,
            ),
        ),
        outlets=(
            Outlet(
                "street gutter",
                "street gutter",
                LineString(feet([(-30, -48.5), (74, -48.5)])),
                "",
                HERE,
            ),
        ),
        downspouts=tuple(
            Downspout(name, x * FOOT, y * FOOT, (("roof", 0.5),), "house", HERE)
            for name, x, y in (
                ("front left", 1.0, -0.3),
                ("front right", 35.0, -0.3),
                ("rear right", 33.0, 28.3),
                ("rear left", -0.3, 26.5),
            )
        ),
        openings=(
            opening("east well", "window well", ("house", 0), 27.0, 3.5, projection=3.0),
            opening("back door", "door", ("house", 2), 20.0, 3.0),
            opening("garage door", "garage door", ("garage", 0), 9.0, 10.0),
        ),
    )


def opening(
    name: str,
    kind: str,
    wall: tuple[str, int],
    distance: float,
    width: float,
    projection: float = 0.0,
) -> Opening:
    """An opening by feet along its wall; its edge is 30 m high."""
    well = kind == "window well"
    return Opening(
        name=name,
        kind=cast(Any, kind),
        building=wall[0],
        wall=wall[1],
        distance=distance * FOOT,
        width=width * FOOT,
        sill=None if well else 30.0,
        rim=30.0 if well else None,
        floor=29.0 if well else None,
        projection=projection * FOOT,
        drained=False,
        written=HERE,
    )


def made_up_terrain(site: Site) -> Terrain:
    """A yard that falls to the street, with a bowl at the back and a trough beside the house."""
    from shapely import contains_xy

    cell = 0.2
    grid = Grid(rows=232, cols=158, cell_size=cell, x0=-30 * FOOT, y0=-58 * FOOT)
    x, y = grid.centers()
    xx, yy = np.meshgrid(x, y)
    bowl = 0.3 * np.clip(1 - ((xx - 5.5) ** 2 + (yy - 17.0) ** 2) / 5.0**2, 0, None)
    ground = 30.0 + 0.035 * np.clip(yy, None, 8.5) + 0.0 * xx - bowl
    ground -= 0.15 * np.exp(-((xx / 1.0) ** 2 + ((yy - 2.4) / 2.0) ** 2))
    building = np.full(ground.shape, -1, dtype=np.int16)
    for index, entry in enumerate(site.buildings):
        building[contains_xy(entry.outline, xx, yy)] = index
    closed = building >= 0
    ground[closed] = np.nan
    ground[(xx > 20.0) & (yy > 26.0)] = np.nan
    suspect = Suspect("F6", 0.6, -7.3, 29.9, 29.6, 0.3048, "foot misread")
    return Terrain(
        grid=grid,
        ground=ground,
        surface=ground.copy(),
        closed=closed,
        building=building,
        drains=(),
        accuracy=site.height_accuracy,
        suspects=(suspect,),
        notices=(),
    )
