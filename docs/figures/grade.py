"""Draw the figure of docs/grade.md: an invented house's walls judged, and one profile corrected."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from shapely.geometry import Polygon

from runoff.foundation import SoilWedge, Station, WallRun, apply_wedges, judge_walls, soil_wedges
from runoff.rules import Rules
from runoff.site import Building, HeightAccuracy, Site, SpotHeight, Storm, Written, assumed_rains
from runoff.terrain import Terrain, build_terrain

WRITTEN = Written("invented", None, "invented")
FOOT, INCH = 0.3048, 0.0254
COLORS = {
    "drains away": "tab:green",
    "too close to call": "0.6",
    "too flat": "tab:orange",
    "slopes back": "tab:red",
}


def surface(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """An invented yard: it falls off to the left, less and less along the front, and leans back."""
    left, right = np.maximum(-x, 0.0), np.maximum(x - 11.0, 0.0)
    front, rear = np.maximum(-y, 0.0), np.maximum(y - 8.5, 0.0)
    return 30.0 - 0.08 * left + 0.01 * right - (0.075 - 0.005 * x) * front - 0.02 * rear


def invented_lot() -> Site:
    """Shots 1.5 m apart by laser level around a house of 36 x 28 ft."""
    x, y = np.meshgrid(np.arange(-6.0, 18.1, 1.5), np.arange(-6.0, 15.1, 1.5))
    storm = Storm(0.1, 3600.0)
    house = Polygon([(0, 0), (10.97, 0), (10.97, 8.53), (0, 8.53)])
    return Site(
        path=Path("invented"),
        name="invented lot",
        units="ft",
        height_accuracy=HeightAccuracy(0.003, "laser level", False),
        storm=storm,
        rains=assumed_rains(storm, Rules()),
        rules=Rules(),
        spot_heights=tuple(
            SpotHeight(str(k), px, py, float(surface(px, py)), "", WRITTEN)
            for k, (px, py) in enumerate(
                zip(x.ravel().tolist(), y.ravel().tolist(), strict=True), start=1
            )
        ),
        buildings=(
            Building("house", house, ("front", "right", "rear", "left"), None, None, WRITTEN),
        ),
        cell_size=0.15,
    )


def judged() -> tuple[Site, Terrain, tuple[WallRun, ...], tuple[SoilWedge, ...]]:
    """The lot, its ground, the runs of wall and the soil that corrects them; no water stands."""
    site = invented_lot()
    terrain = build_terrain(site)
    dry = np.zeros(terrain.ground.shape)
    runs = judge_walls(site, terrain, dry)
    return site, terrain, runs, soil_wedges(site, terrain, runs, dry)


def draw_plan(axes: Axes, site: Site, terrain: Terrain, runs: tuple[WallRun, ...]) -> None:
    """The ground as contours, and each profile in its verdict's color."""
    x, y = terrain.grid.centers()
    lines = axes.contour(x, y, terrain.ground, levels=16, colors="0.75", linewidths=0.7)
    axes.clabel(lines, fontsize=5)
    axes.fill(*site.buildings[0].outline.exterior.xy, color="0.35")
    for run in runs:
        for station in run.stations:
            foot, away = np.array(station.foot), np.array(station.outward)
            ends = np.stack([foot, foot + station.reach_m * away]).T
            axes.plot(*ends, color=COLORS[station.verdict], linewidth=1.2)
    for verdict in COLORS:
        if any(station.verdict == verdict for run in runs for station in run.stations):
            axes.plot([], [], color=COLORS[verdict], label=verdict)
    axes.set(aspect="equal", xlabel="x, m", ylabel="y, m", title="Stations along the walls")
    axes.legend(loc="upper right", fontsize=7)


def heights_along(terrain: Terrain, station: Station) -> tuple[np.ndarray, np.ndarray]:
    """Metres out and heights of the ground along a profile."""
    out = np.linspace(0.0, station.reach_m, 60)
    foot = np.broadcast_to(station.foot, (60, 2))
    outward = np.broadcast_to(station.outward, (60, 2))
    points = foot + out[:, None] * outward
    return out, terrain.heights(points, foot, outward)


def draw_profile(axes: Axes, terrain: Terrain, wedge: SoilWedge) -> None:
    """The worst profile of a run, as it is and with the soil on it."""
    station = wedge.run.worst
    out, before = heights_along(terrain, station)
    _, after = heights_along(apply_wedges(terrain, (wedge,)), station)
    zero = before[0]
    axes.fill_between(out / FOOT, (before - zero) / INCH, (after - zero) / INCH, color="tan")
    axes.plot(out / FOOT, (before - zero) / INCH, "k-", label="ground as it is")
    axes.plot(out / FOOT, (after - zero) / INCH, color="saddlebrown", label="with the soil")
    axes.set(xlabel="out from the wall, ft", ylabel="height, in")
    axes.set_title(f"The worst profile of the {wedge.run.wall_name} wall: {wedge.run.verdict}")
    axes.legend(fontsize=7)


def draw() -> Figure:
    """Both panels."""
    site, terrain, runs, wedges = judged()
    figure = Figure(figsize=(11, 4.6), layout="constrained")
    plan, profile = figure.subplots(1, 2, width_ratios=(1.2, 1.0))
    draw_plan(plan, site, terrain, runs)
    placed = [wedge for wedge in wedges if not wedge.refused and not wedge.short_by_m]
    draw_profile(profile, terrain, max(placed, key=lambda wedge: wedge.height_m))
    return figure


if __name__ == "__main__":
    draw().savefig(Path(__file__).with_suffix(".png"), dpi=110)
