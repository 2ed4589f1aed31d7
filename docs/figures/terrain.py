"""Draw the figure of docs/terrain.md: an invented lot's ground, and a section through its swale."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from shapely.geometry import Polygon

from runoff.rules import Rules
from runoff.site import (
    BreakLine,
    Building,
    HeightAccuracy,
    Site,
    SpotHeight,
    Storm,
    Written,
    assumed_rains,
)
from runoff.terrain import Terrain, build_terrain

WRITTEN = Written("invented", None, "invented")
SWALE_X = 22.0  # metres
SECTION_Y = 8.6  # metres


def surface(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """An invented yard: it falls to a V-shaped swale, which falls down the plan."""
    return 30.0 + 0.06 * np.abs(x - SWALE_X) + 0.015 * y


def invented_lot() -> Site:
    """Shots 4 m apart, none in the swale's bottom but its two ends, and none behind the house."""
    x, y = np.meshgrid(np.arange(0.0, 28.1, 4.0), np.arange(0.0, 20.1, 4.0))
    shots = np.column_stack([x.ravel(), y.ravel()])
    rng = np.random.default_rng(4)
    shots[:, 0] += rng.uniform(-0.7, 0.7, len(shots))
    shots = shots[(shots[:, 0] > 8.0) | (shots[:, 1] < 14.0)]
    house = Polygon([(6, 9), (15, 9), (15, 16), (6, 16)])
    shots = shots[~shapely.contains_xy(house.buffer(0.2), *shots.T)]
    swale = np.array([(SWALE_X, 0.0), (SWALE_X, 20.0)])
    shots = np.vstack([shots, swale])
    storm = Storm(0.05, 3600.0)
    return Site(
        path=Path("invented"),
        name="invented lot",
        units="m",
        height_accuracy=HeightAccuracy(0.006, "laser level", False),
        storm=storm,
        rains=assumed_rains(storm, Rules()),
        rules=Rules(),
        spot_heights=tuple(
            SpotHeight(str(k), px, py, float(surface(px, py)), "", WRITTEN)
            for k, (px, py) in enumerate(shots.tolist(), start=1)
        ),
        break_lines=(BreakLine("swale", swale, surface(*swale.T), None, None, (), WRITTEN),),
        buildings=(Building("house", house, ("S", "E", "N", "W"), None, None, WRITTEN),),
        cell_size=0.1,
    )


def draw_plan(axes: Axes, site: Site, terrain: Terrain) -> None:
    """The ground as contours, with the shots, the swale and the house."""
    x, y = terrain.grid.centers()
    filled = axes.contourf(x, y, terrain.ground, levels=14, cmap="terrain", alpha=0.85)
    axes.figure.colorbar(filled, ax=axes, label="height, m", shrink=0.7)
    axes.plot(*site.spot_array[:, :2].T, "k.", label="shots")
    axes.plot(*site.break_lines[0].line.T, "b-", label="swale, a break line")
    axes.fill(*site.buildings[0].outline.exterior.xy, color="0.35", label="house")
    axes.axhline(SECTION_Y, color="0.2", linestyle=":", label="section")
    axes.set(aspect="equal", xlabel="x, m", ylabel="y, m", title="Ground from spot heights")
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.16), ncols=4, fontsize=7)


def draw_section(axes: Axes, with_line: Terrain, without: Terrain) -> None:
    """The section through the swale, with its break line and without."""
    for terrain, style, label in (
        (without, "r-", "plain triangulation"),
        (with_line, "b-", "with the break line"),
    ):
        x, _ = terrain.grid.centers()
        row, _ = terrain.grid.cell(0.0, SECTION_Y)
        axes.plot(x, terrain.ground[row], style, label=label)
    x = np.linspace(16.0, 27.0, 200)
    axes.plot(x, surface(x, np.full_like(x, SECTION_Y)), "k:", label="the invented ground")
    axes.set(xlim=(17, 27), ylim=(30.1, 30.55), xlabel="x, m", ylabel="height, m")
    axes.set_title("Section through the swale")
    axes.legend(fontsize=7)


def draw() -> Figure:
    """Both panels."""
    site = invented_lot()
    terrain = build_terrain(site)
    without = build_terrain(replace(site, break_lines=()))
    figure = Figure(figsize=(11, 4.2), layout="constrained")
    plan, section = figure.subplots(1, 2, width_ratios=(1.3, 1.0))
    draw_plan(plan, site, terrain)
    draw_section(section, terrain, without)
    return figure


if __name__ == "__main__":
    draw().savefig(Path(__file__).with_suffix(".png"), dpi=110)
