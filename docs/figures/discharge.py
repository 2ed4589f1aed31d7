"""Draw the figures of docs/pipes.md, docs/pits.md and docs/outlets.md."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.figure import Figure

from runoff.discharge import (
    SwaleSection,
    check_by_durations,
    design_profile,
    line_limits,
    part_full,
    pipe_of,
    swale_flow,
    trench_pit,
)

HERE = Path(__file__).parent
# The published ten-year rains of docs/pits.md: minutes, millimetres.
MINUTES = (10, 15, 30, 60, 120, 240, 360, 600, 1440, 2880, 5760)
MILLIMETRES = (12.69, 15.50, 19.84, 24.80, 30.01, 35.38, 38.72, 42.96, 52.86, 61.31, 70.15)


def draw_pipes() -> Figure:
    """The part-full circle: depth against area, velocity and flow."""
    figure = Figure(figsize=(6, 4.5), layout="constrained")
    axes = figure.subplots()
    depths = np.linspace(0, 1, 201)
    states = [part_full(depth) for depth in depths]
    axes.plot([s.area_ratio for s in states], depths, color="0.5", ls="--", label="area")
    axes.plot([s.velocity_ratio for s in states], depths, color="tab:orange", label="velocity")
    axes.plot([s.flow_ratio for s in states], depths, color="tab:blue", label="flow")
    axes.axvline(1, color="0.8", lw=1, zorder=0)
    axes.set(xlabel="share of the full pipe's", ylabel="depth / diameter", ylim=(0, 1))
    axes.set(xlim=(0, 1.2), title="A part-full pipe, the same slope and roughness")
    axes.legend(loc="upper left")
    return figure


def draw_pits() -> Figure:
    """Inflow, outflow and storage of the published trench, over the length of the rain."""
    figure = Figure(figsize=(6, 4.5), layout="constrained")
    axes = figure.subplots()
    rain = [(60 * t, d / 1000) for t, d in zip(MINUTES, MILLIMETRES, strict=True)]
    check = check_by_durations(690, rain, trench_pit(23, 5, 0.8, 0.4), 8.5e-6)
    hours = [each.seconds / 3600 for each in check.durations]
    axes.plot(hours, [each.inflow_m3 for each in check.durations], "o-", label="inflow")
    axes.plot(hours, [each.outflow_m3 for each in check.durations], "s-", label="outflow")
    axes.plot(hours, [each.storage_m3 for each in check.durations], "k^-", label="to be stored")
    axes.axhline(check.required_m3, color="0.6", ls=":", lw=1)
    axes.text(0.17, check.required_m3 + 0.6, f"{check.required_m3:.1f} m³ must be stored")
    axes.set_xscale("log")
    axes.set(xlabel="length of the rain, hours", ylabel="m³", ylim=(0, 50))
    axes.set(title="The rain that asks for most")
    axes.legend(loc="upper left", bbox_to_anchor=(0, 0.95))
    return figure


def draw_lines() -> Figure:
    """A line in section that goes under a dip and comes to daylight on the slope beyond."""
    figure = Figure(figsize=(8, 3.6), layout="constrained")
    axes = figure.subplots()
    stations, heights = [0, 8, 10, 12, 16, 26], [0, -0.05, -0.4, -0.1, -0.2, -1.6]
    line = design_profile(stations, heights, pipe_of(4, "smooth"), line_limits())
    shown = line.stations_m
    axes.fill_between(stations, heights, -2, color="0.88", lw=0)
    axes.plot(stations, heights, color="0.4", label="ground")
    axes.plot(shown, line.bottom_m, color="0.6", ls=":", label="trench bottom")
    axes.plot(shown, line.invert_m, color="tab:blue", label="invert")
    axes.plot(shown, line.invert_m + line.pipe.bore_m, color="tab:blue", lw=0.8, label="_top")
    exempt = shown >= line.exempt_from_m
    axes.plot(shown[exempt], line.ground_m[exempt], color="tab:orange", lw=3, label="below cover")
    axes.plot(line.daylight_m, line.invert_m[-1], "ko", label="daylight")
    axes.set(xlabel="station, metres", ylabel="height, metres", xlim=(0, 26), ylim=(-1.6, 0.2))
    axes.legend(loc="lower left", ncols=2)
    return figure


def draw_outlets() -> Figure:
    """A triangular grass swale: flow and velocity over the depth of the water."""
    figure = Figure(figsize=(6, 4), layout="constrained")
    axes = figure.subplots()
    section = SwaleSection(0, 4, 6 * 0.0254)
    depths = np.linspace(0.005, section.depth_m, 60)
    for slope, color in ((0.01, "tab:green"), (0.02, "tab:blue"), (0.05, "tab:orange")):
        flows = [1000 * swale_flow(section, d, slope, 0.05).flow_m3_per_s for d in depths]
        axes.plot(100 * depths, flows, color=color, label=f"{slope:.0%}")
    axes.axvline(100 * section.depth_m / 2, color="0.6", ls=":", lw=1)
    axes.text(7.4, 40, "3 in of freeboard above 3 in of water", fontsize=8, ha="right")
    axes.set(xlabel="depth of the water, cm", ylabel="flow, L/s", ylim=(0, None))
    axes.set(title="A grass swale 6 in deep, sides 4 to 1", xlim=(0, 100 * section.depth_m))
    axes.legend(title="slope", loc="upper left")
    return figure


FIGURES = {"lines": draw_lines, "outlets": draw_outlets, "pipes": draw_pipes, "pits": draw_pits}

if __name__ == "__main__":
    for name, draw in FIGURES.items():
        draw().savefig(HERE / f"discharge_{name}.png", dpi=110)
