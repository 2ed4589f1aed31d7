"""Draw the figure of docs/roof.md: leaders and gutters beside published tables, and rain."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from runoff.quantities import parse_area, parse_flow, parse_rate
from runoff.roof import GUTTERS, gutter_capacity, leader_capacity
from runoff.site import RainTable, depth

GPM = parse_flow("1 gpm")
INCH = 0.0254
# Gallons a minute for 2, 3 and 4 in; the second table is from memory.
TABLES = {
    "NSPC 2006, table 13.6": (23, 67, 144),
    "IPC, table 1106.3 (memory)": (30, 92, 192),
}
# NOAA Atlas 14 volume 9, latitude 26.6, longitude -81.9, partial duration: inches.
HOURS = (1 / 12, 1 / 6, 1 / 4, 1 / 2, 1, 2, 24)
RAIN = {
    10: (0.822, 1.20, 1.47, 2.37, 3.13, 3.90, 7.28),
    100: (1.15, 1.68, 2.05, 3.31, 4.38, 5.46, 12.1),
}
# Square feet of roof at 1 in/h by a home guide, in the order of GUTTERS.
GUIDE = (2500, 3840, 5520, 7960)


def draw_leaders(axes: Axes) -> None:
    """Capacity against diameter at the two fills of codes, and the tables' rows."""
    inches = np.linspace(1.5, 4.5, 61)
    for label, ratio in (("7/24 full", 7 / 24), ("1/3 full", 1 / 3)):
        carried = [leader_capacity(d * INCH, ratio) / GPM for d in inches]
        axes.plot(inches, carried, label=label)
    for (label, rows), marker in zip(TABLES.items(), "os", strict=True):
        axes.plot((2, 3, 4), rows, marker, color="black", mfc="none", label=label)
    axes.set(title="Leaders", xlabel="inside diameter, inches", ylabel="gallons a minute")
    axes.legend()


def draw_rain(axes: Axes) -> None:
    """Depth against duration: the table's rows, and what is read between them."""
    durations = tuple(3600.0 * hours for hours in HOURS)
    depths = INCH * np.array(list(RAIN.values())).T
    table = RainTable(durations, tuple(map(float, RAIN)), depths, "NOAA Atlas 14")
    between = np.geomspace(durations[0], durations[-1], 80).clip(durations[0], durations[-1])
    for years, row in RAIN.items():
        read = [depth(table, seconds, years) / INCH for seconds in between]
        (line,) = axes.loglog(between / 3600, read, label=f"{years} years")
        axes.loglog(HOURS, row, "o", color=line.get_color(), mfc="none")
    axes.set(title="Rain", xlabel="duration, hours", ylabel="depth, inches")
    axes.legend()


def draw_gutters(axes: Axes) -> None:
    """Roof that each gutter carries at 1 in/h, and what a home guide says."""
    square_foot = parse_area("1 sq ft") * parse_rate("1 in/h")
    names = [gutter.name for gutter in GUTTERS]
    ours = [gutter_capacity(gutter) / square_foot for gutter in GUTTERS]
    axes.barh(names, ours, color="tab:blue", label="level, 0.9 of nominal")
    axes.plot(GUIDE, names, "o", color="black", mfc="none", label="a home guide")
    axes.set(title="Gutters", xlabel="square feet of roof at 1 in/h")
    axes.legend()


def draw() -> Figure:
    """The figure, drawn from what the room computes now."""
    figure = Figure(figsize=(14, 4.5), layout="constrained")
    leaders, gutters, rain = figure.subplots(1, 3)
    draw_leaders(leaders)
    draw_gutters(gutters)
    draw_rain(rain)
    return figure


if __name__ == "__main__":
    draw().savefig(Path(__file__).with_suffix(".png"), dpi=110)
