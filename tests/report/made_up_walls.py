"""What was found at the walls of the made-up lot: written by hand, nothing computed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, cast

import numpy as np

from runoff.foundation import (
    REASONS,
    AtTheWall,
    Inflow,
    OpeningFinding,
    Remark,
    SafeArea,
    SoilWedge,
    Spill,
    StandingWater,
    Station,
    Verdict,
    WallRun,
    WettedWall,
    walls_of,
)
from runoff.site import Site
from runoff.terrain import Terrain
from tests.lots.made_up import FOOT

# Building, wall, feet from its first corner and to, verdict, inches of fall in 10 ft.
RUNS: tuple[tuple[str, int, float, float, Verdict, float], ...] = (
    ("house", 0, 0, 12, "drains away", 7.5),
    ("house", 0, 12, 22, "too flat", 3.0),
    ("house", 0, 22, 36, "drains away", 6.5),
    ("house", 1, 0, 16, "cut short: needs a drain or swale", 1.0),
    ("house", 1, 16, 28, "not surveyed", np.nan),
    ("house", 2, 0, 14, "too close to call", 5.75),
    ("house", 2, 14, 36, "drains away", 8.0),
    ("house", 3, 0, 15, "drains away", 6.25),
    ("house", 3, 15, 23, "holds water", -1.0),
    ("house", 3, 23, 28, "slopes back", -2.0),
    ("garage", 0, 0, 20, "slopes back", -1.5),
    ("garage", 1, 0, 20, "not surveyed", np.nan),
    ("garage", 2, 0, 20, "drains away", 6.5),
    ("garage", 3, 0, 20, "drains away", 6.5),
)


def made_up_walls(site: Site, terrain: Terrain) -> AtTheWall:
    """A run of every verdict, an opening that water reaches and two that stay dry, a pond."""
    runs = tuple(wall_run(site, *entry) for entry in RUNS)
    x, y = terrain.grid.centers()
    xx, yy = np.meshgrid(x, y)
    code = np.full(terrain.ground.shape, REASONS.index("too flat to leave"), dtype=np.uint8)
    code[np.hypot(xx - 2.0, yy + 10.0) < 5.0] = REASONS.index("safe")
    code[(xx > 14.0) & (yy < -2.0) & (yy > -9.0)] = REASONS.index("safe")
    code[(xx > 62 * FOOT) | (yy < -40 * FOOT) | (xx < -18 * FOOT)] = REASONS.index("off the lot")
    code[~np.isfinite(terrain.ground)] = REASONS.index("no ground")
    well = OpeningFinding(
        name="east well",
        kind="window well",
        building="house",
        wall_name="front",
        at=(27.0 * FOOT, 0.0),
        edge_m=30.0,
        rain_to_reach_m=0.0635,
        freeboard_m=-0.0381,
        reached=True,
        inflow=Inflow(feeds_m3={"downspout 'front right'": 0.2}),
    )
    door = replace(
        well,
        name="back door",
        kind="door",
        wall_name="rear",
        at=(16.0 * FOOT, 28.0 * FOOT),
        rain_to_reach_m=np.inf,
        freeboard_m=0.2032,
        reached=False,
        inflow=Inflow(),
        number=1,
    )
    unknown = replace(
        door,
        name="garage door",
        kind="garage door",
        building="garage",
        wall_name="front",
        at=(49.0 * FOOT, 44.0 * FOOT),
        edge_m=np.nan,
        rain_to_reach_m=np.nan,
        freeboard_m=np.nan,
        number=2,
    )
    pond = StandingWater(
        low_spot="low spot 2",
        building="house",
        distance_m=0.0,
        depth_m=0.0762,
        volume_m3=0.2,
        area_m2=2.4,
        storm_depth_m=0.06,
        storm_volume_m3=0.15,
        wetted_m=1.8,
        rain_to_fill_m=0.0254,
        feeds_m3={"downspout 'rear left'": 0.12, "yard": 0.03},
        spills_to=Spill("low spot", "low spot 1"),
        walls=(WettedWall("house", 3, "left", 1.5), WettedWall("garage", 0, "front", 0.3)),
    )
    wedge = SoilWedge(
        run=runs[1],
        compacted_m3=1.1,
        loose_m3=1.4,
        height_m=0.0762,
        out_m=3.048,
        short_by_m=0.0,
        refused=None,
    )
    return AtTheWall(
        openings=(well, door, unknown),
        runs=runs,
        standing=(pond,),
        safe_area=SafeArea(code),
        wedges=(wedge,),
    )


def wall_run(
    site: Site, building: str, wall: int, start: float, end: float, verdict: Verdict, fall: float
) -> WallRun:
    """A run of wall given in feet, its three stations alike but for the fall."""
    line = next(w for w in walls_of(site.buildings) if (w.building, w.number) == (building, wall))
    cut = verdict.startswith("cut short")
    stations = tuple(
        Station(
            building=building,
            wall=wall,
            along_m=along * FOOT,
            foot=cast(Any, tuple(map(float, line.point(np.array([along * FOOT]), np.zeros(1))[0]))),
            outward=line.outward,
            reach_m=(4.0 if cut else 10.0) * FOOT,
            cut_by="lot line" if cut else "",
            fall_m=(fall + more) * FOOT / 12.0,
            required_m=6.0 * FOOT / 12.0,
            paved_m=0.0,
            rise_m=0.0508 if verdict == "slopes back" else 0.0,
            back_slope=0.03 if verdict == "slopes back" else 0.0,
            back_at_m=1.2 if verdict == "slopes back" else 0.0,
            verdict=verdict,
        )
        for along, more in ((start + 0.5, 0.5), ((start + end) / 2.0, 0.0), (end - 0.5, 0.25))
    )
    return WallRun(
        building=building,
        wall=wall,
        wall_name=line.name,
        start_m=start * FOOT,
        end_m=end * FOOT,
        verdict=verdict,
        worst=stations[1],
        stations=stations,
        sigma_m=0.0025,
        indication=False,
        settled_by_m=0.0254 if verdict == "too close to call" else np.nan,
        remarks=tuple(
            Remark("traps water", name)
            for place, name in {("house", 0): "walk", ("garage", 2): "back walk"}.items()
            if place == (building, wall)
        ),
    )
