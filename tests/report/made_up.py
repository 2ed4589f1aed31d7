"""A made-up `Findings` on the sample lot's ground, so that pictures and texts can be checked alone.

Nothing here is computed by the flow room: paths, low spots and volumes are drawn by hand.
"""

from __future__ import annotations

import numpy as np

from runoff.flow import (
    DownspoutAnswer,
    EngineComparison,
    LowSpot,
    LowSpotOnTheWay,
    PathEnd,
    WaterBalance,
)
from runoff.inspection import Findings
from runoff.site import Notice, Units
from runoff.terrain import Terrain
from tests.lots.made_up import FOOT, feet, made_up_site, made_up_terrain
from tests.report.made_up_walls import made_up_walls


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
        balance=WaterBalance(30.0, 9.0, 4.0, 35.0),
        second_engine=EngineComparison(0.0, 9.3, 9.3, True),
        notices=(Notice("storm"),),
        at_the_wall=made_up_walls(site, terrain),
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
        spill_height_m=30.2,
        depth_m=0.28,
        volume_m3=volume,
        area_m2=len(cells) * 0.04,
        rain_to_fill_m=0.14 if not overflows else 0.02,
        storm_depth_m=0.25,
        storm_volume_m3=volume * 0.6,
        overflows=overflows,
        terminal=False,
        wall_distance_m=distance,
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
        roof_area_m2=26.5,
        roof_volume_m3=2.6,
        path=path,
        length_m=length,
        length_within_near_m=min(length, 9.0 if returns else 1.6),
        length_within_reach_m=min(length, 12.0 if returns else 3.2),
        along_m=0.0,
        returns=returns,
        end=end,
        on_the_way=on_the_way,
    )
