"""Draw the figure of docs/safe_discharge.md: an invented lot, its safe area and traced paths.

From the repository's root, since the paths are traced as the tests trace them:
``python -m docs.figures.safe_discharge``.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from runoff.flow import prepare_flow
from runoff.foundation import REASONS, safe_discharge_area
from runoff.site import read_site
from runoff.terrain import build_terrain
from tests.foundation.traced_paths import Tracer

# One color a reason, in the order of REASONS.
COLORS = (
    *("#4f9d69", "#5a5a5a", "#b03a2e", "#e8d9a8", "#e59866"),
    *("#7d8fb3", "#a886b5", "#c9c9c9", "#ffffff"),
)
STARTS = ((-14.0, 1.0), (-8.0, 14.0), (9.0, 2.0))

SITE = """[site]
name = "invented"
units = "m"
[terrain]
spot_heights = "spots.csv"
heights_by = "laser level"
cell_size = 0.25
[[building]]
name = "house"
corners = [[-4, -3], [3, -3], [3, 4], [-4, 4]]
[lot]
corners = [[-18, -18], [18, -18], [18, 18], [-18, 18]]
sides = [
  { name = "front", neighbor = "neighbor" },
  { name = "right", neighbor = "street" },
  { name = "rear", neighbor = "neighbor" },
  { name = "left", neighbor = "neighbor" },
]
"""


def height(x: float, y: float) -> float:
    """Ground that falls to the street, with a flat place and a spur toward the front."""
    flat = 0.03 * x * np.exp(-(((x - 8) / 4) ** 2) - ((y - 11) / 4) ** 2)
    return 10.0 - 0.03 * x + flat + 0.012 * y * np.exp(-(((y + 12) / 8) ** 2)) * 3


def site_of(folder: Path):
    """The invented lot, its heights on a net of points."""
    net = np.arange(-20.0, 20.1, 2.0)
    rows = [
        f"p{i}_{j},{x},{y},{height(x, y):.4f}" for i, x in enumerate(net) for j, y in enumerate(net)
    ]
    (folder / "spots.csv").write_text("name,x,y,z\n" + "\n".join(rows) + "\n")
    (folder / "site.toml").write_text(SITE)
    return read_site(folder / "site.toml")


def draw() -> Figure:
    """The figure, drawn from an answer computed now."""
    with tempfile.TemporaryDirectory() as folder:
        site = site_of(Path(folder))
        terrain = build_terrain(site)
    flow = prepare_flow(site, terrain)
    run = flow.run(site.storm.depth, [])
    area = safe_discharge_area(site, flow, run, run.ponding.depth())
    figure = Figure(figsize=(8.6, 5.4), layout="constrained")
    axes = figure.subplots()
    norm = BoundaryNorm(np.arange(len(REASONS) + 1) - 0.5, len(REASONS))
    extent = flow.grid.extent
    axes.imshow(area.code, ListedColormap(COLORS), norm, extent=extent, interpolation="nearest")
    x, y = flow.grid.centers()
    axes.contour(x, y, terrain.ground, 16, colors="0.3", linewidths=0.5, alpha=0.6)
    tracer = Tracer(site, flow, run)
    for start in STARTS:
        axes.plot(*tracer.trace(*start).line.xy, color="white", lw=1.8)
        axes.plot(*start, "o", color="black", ms=5, label=tracer.reason(*start))
    shown = [code for code in np.unique(area.code) if REASONS[code] != "off the lot"]
    handles = [Patch(color=COLORS[code], label=REASONS[code]) for code in shown]
    figure.legend(handles=handles, loc="outside right center", frameon=False)
    axes.set(title="Where water may be let go (invented lot)", xlabel="metres", ylabel="metres")
    for text, at in (("street", (18.6, 0)), ("neighbor", (0, -19.4)), ("neighbor", (0, 18.6))):
        axes.text(*at, text, fontsize=8, ha="center" if at[0] == 0 else "left")
    axes.set(xlim=(-20.5, 23), ylim=(-20.5, 20.5))
    return figure


if __name__ == "__main__":
    draw().savefig(Path(__file__).with_suffix(".png"), dpi=110)
