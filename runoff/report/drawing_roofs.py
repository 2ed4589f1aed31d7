"""The roofs that downspouts carry, on a plan: outlines where they are known, and words for all.

In: a site. Out: artists on the plan, and a few words for each downspout.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from shapely import Polygon, contains_xy

from runoff.inspection import Findings
from runoff.quantities import Shown
from runoff.report.map_frame import Legend
from runoff.report.map_labels import Labels
from runoff.report.map_plan import patch_of
from runoff.roof.site_catchments import catchments_of
from runoff.site.model import Roof, Site

ROOF: dict[str, Any] = {"color": "0.25", "linewidth": 0.8, "linestyle": (0, (7, 2, 1.5, 2))}


def draw_roofs(axes: Axes, findings: Findings, labels: Labels, legend: Legend) -> None:
    """Draw each roof whose outline is known, with the numbers of the downspouts that carry it."""
    site = findings.site
    for roof in site.roofs:
        if roof.outline is None:
            continue
        style = {"edgecolor": ROOF["color"], "facecolor": "none"}
        style |= {key: ROOF[key] for key in ("linewidth", "linestyle")}
        axes.add_patch(patch_of(roof.outline, zorder=7.5, **style))
        legend.add(Line2D([], [], **ROOF), "roof, and the downspouts that carry it")
        labels.add(
            f"{roof.name}: {_carriers(findings, roof)}",
            _places_in(roof.outline),
            urgency=45,
            centered=True,
            leader=False,
            fixed=True,
            inside=roof.outline,
            fontsize=7,
            color="0.15",
        )


def _places_in(roof: Polygon) -> list[tuple[float, float]]:
    """Places for a label in a roof (plan metres): its middle, and a grid over it."""
    middle = roof.representative_point()
    left, bottom, right, top = roof.bounds
    x, y = np.meshgrid(np.linspace(left, right, 9)[1:-1], np.linspace(bottom, top, 9)[1:-1])
    inside = contains_xy(roof, x, y)
    grid = np.column_stack([x[inside], y[inside]])
    nearest = grid[np.argsort(np.hypot(*(grid - (middle.x, middle.y)).T), kind="stable")]
    return [(float(a), float(b)) for a, b in ((middle.x, middle.y), *nearest)]


def roof_words(site: Site) -> dict[str, str]:
    """What roof each downspout carries, in a few words, by its name."""
    shown = Shown.of(site)
    found = {}
    for catchment in catchments_of(site):
        names = " and ".join(f"'{part.roof}'" for part in catchment.parts)
        area = shown.area(catchment.plan_area_m2)
        found[catchment.downspout] = f"{area} of {names}" if names else "no roof that is given"
    return found


def roofs_left_out(site: Site) -> str:
    """A sentence on the roofs that are not drawn; empty where all are."""
    names = [f"'{roof.name}'" for roof in site.roofs if roof.outline is None]
    if not names:
        return ""
    return f" Not drawn, since no outline is given: the roofs {', '.join(names)}."


def _carriers(findings: Findings, roof: Roof) -> str:
    numbers = [
        str(number)
        for number, downspout in enumerate(findings.site.downspouts, start=1)
        if any(name == roof.name for name, _ in downspout.roofs)
    ]
    return f"to {' and '.join(numbers)}" if numbers else "to no downspout"
