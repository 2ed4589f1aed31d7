"""A made-up `Findings` on the sample lot's ground, so that pictures and texts can be checked alone.

Nothing here is computed by the flow room: paths, low spots and volumes are drawn by hand.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import numpy as np
from shapely.geometry import LineString, Point, Polygon

from runoff.flow.model import (
    DownspoutAnswer,
    EngineComparison,
    LowSpot,
    LowSpotOnTheWay,
    PathEnd,
    WaterBalance,
)
from runoff.inspection import Findings
from runoff.rules import Rules
from runoff.site.model import (
    Barrier,
    BreakLine,
    Building,
    Downspout,
    Drain,
    HeightAccuracy,
    KeepOut,
    Lot,
    LotSide,
    Outlet,
    Paving,
    Site,
    Storm,
    Units,
    Written,
)
from runoff.terrain.model import Grid, Suspect, Terrain

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
    return Site(
        path=Path("site.toml"),
        name="Made-up lot",
        units=units,
        height_accuracy=accuracy,
        storm=Storm(4 * FOOT / 12, 86400.0, "4 in as written in [rain]"),
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
    suspect = Suspect("F6", 0.6, -7.3, 29.9, 29.6, 0.3048, "reads 1 ft higher than its neighbors")
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


def bowl_cells(terrain: Terrain, radius: float) -> np.ndarray:
    """Cells of the bowl within `radius` metres of its middle."""
    x, y = terrain.grid.centers()
    xx, yy = np.meshgrid(x, y)
    return np.argwhere(np.hypot(xx - 5.5, yy - 17.0) < radius)


def made_up_findings(units: Units = "ft", north: float | None = 20.0) -> Findings:
    """Four downspouts that end in four ways, two low spots, one suspect."""
    site = made_up_site(units, north)
    terrain = made_up_terrain(site)
    cells = bowl_cells(terrain, 4.6)
    depth = np.zeros(terrain.ground.shape)
    level = terrain.ground[tuple(cells.T)].max()
    depth[tuple(cells.T)] = np.clip(level - 0.05 - terrain.ground[tuple(cells.T)], 0, None)
    x, y = terrain.grid.centers()
    near = np.argwhere(np.hypot(x[None, :] + 0.3, y[:, None] - 2.4) < 0.9)
    near = near[~terrain.closed[tuple(near.T)]]
    depth[tuple(near.T)] = 0.06
    low_spots = (
        low_spot("low spot 1", (5.5, 17.0), 8.9, 2.9, cells, overflows=False),
        low_spot("low spot 2", (-0.3, 2.4), 0.2, 0.0, near, overflows=True),
    )
    street = PathEnd("lot side", "front", 0.2, -40 * FOOT, "street")
    neighbor = PathEnd("lot side", "right", 62 * FOOT, -8 * FOOT, "neighbor")
    hollow = PathEnd("low spot", "low spot 1", 5.5, 17.0)
    edge = PathEnd("survey edge", "", -30 * FOOT, -30 * FOOT)
    on_the_way = LowSpotOnTheWay("low spot 2", 0.2, 0.2, overflows=True)
    answers = (
        answer("front left", [(1, -0.3), (1, -20), (0, -40), (0, -57)], street, ()),
        answer("front right", [(35, -0.3), (50, -4), (62, -8), (73, -11)], neighbor, ()),
        answer("rear right", [(33, 28.3), (24, 44), (18, 56)], hollow, ()),
        answer(
            "rear left", [(-0.3, 26.5), (-1, 8), (-2, -4), (-30, -30)], edge, (on_the_way,), True
        ),
    )
    return Findings(
        site=site,
        terrain=terrain,
        standing_depth=depth,
        low_spots=low_spots,
        downspouts=answers,
        balance=WaterBalance(30.0, 9.0, 4.0, {"survey edge": 35.0}),
        second_engine=EngineComparison(0.0, 9.3, 9.3, True, "Both engines agree to rounding."),
        notices=("No [rain] is given: 4 in is taken.",),
    )


def low_spot(
    name: str,
    lowest: tuple[float, float],
    volume: float,
    distance: float,
    cells: np.ndarray,
    overflows: bool,
) -> LowSpot:
    return LowSpot(
        name=name,
        lowest=lowest,
        pour_point=(lowest[0] - 2.0, lowest[1]),
        spill_height=30.2,
        depth=0.28,
        volume=volume,
        area=len(cells) * 0.04,
        rain_to_fill=0.14 if not overflows else 0.02,
        storm_depth=0.25,
        storm_volume=volume * 0.6,
        overflows=overflows,
        terminal=False,
        wall_distance=distance,
        building="house",
        on_lot=True,
        cells=cells,
    )


def answer(
    name: str,
    points: list[tuple[float, float]],
    end: PathEnd,
    on_the_way: tuple[LowSpotOnTheWay, ...],
    returns: bool = False,
) -> DownspoutAnswer:
    path = feet(points)
    length = float(np.hypot(*np.diff(path, axis=0).T).sum())
    return DownspoutAnswer(
        name=name,
        start=(float(path[0, 0]), float(path[0, 1])),
        roof_area=26.5,
        roof_volume=2.6,
        path=path,
        length=length,
        length_within_5_ft=min(length, 9.0 if returns else 1.6),
        length_within_10_ft=min(length, 12.0 if returns else 3.2),
        returns=returns,
        end=end,
        on_the_way=on_the_way,
        sentence=f"Water from {name} ends as this made-up sentence says.",
    )
