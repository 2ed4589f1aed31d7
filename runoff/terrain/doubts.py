"""Ground and openings that do not go together, and data that is no ground: refused with figures.

In: a site and its ground. Out: nothing, or an `InputError` with a line a mistake.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from runoff.site.model import ElevationSource, Site, Written
from runoff.site.problems import InputError, Problem
from runoff.terrain.elevation.files import refused
from runoff.terrain.model import Grid, Terrain
from runoff.terrain.wording import length_text

_BESIDE = 3.0
"""The ground of an opening is that within this of its wall, metres, as far as it is known."""
_TOWER = 3
"""Cells side by side may differ by so many times `height_off_ground`: trees and houses do."""
_FEET_PER_METRE = 3.2808
_LIKE_IT = 0.06


def refuse_openings_off_ground(site: Site, terrain: Terrain) -> None:
    """Refuse sills, rims and floors that stand far off the ground before them.

    One of them, or the ground, is on another datum, in another unit or misread.

    Raises
    ------
    InputError
    """
    x, y = terrain.grid.centers()
    row, col = np.nonzero(np.isfinite(terrain.ground))
    known, heights = np.column_stack([x[col], y[row]]), terrain.ground[row, col]
    outlines = {building.name: building.outline for building in site.buildings}
    problems = []
    for opening in site.openings:
        outline = outlines[opening.building]
        corners = np.asarray(outline.exterior.coords)[opening.wall : opening.wall + 2]
        place = shapely.line_interpolate_point(shapely.LineString(corners), opening.distance)
        away = np.hypot(known[:, 0] - place.x, known[:, 1] - place.y)
        near = away <= _BESIDE + opening.projection + opening.width / 2
        if not near.any():
            continue
        ground = float(np.median(heights[near]))
        for entry in ("sill", "rim", "floor"):
            height = getattr(opening, entry)
            if height is None or abs(height - ground) <= site.rules["height_off_ground"]:
                continue
            problems.append(_off_ground(site, opening.name, opening.written, entry, height, ground))
    if problems:
        raise InputError(problems)


def _off_ground(
    site: Site, name: str, written: Written, entry: str, height: float, ground: float
) -> Problem:
    unit = 0.3048 if site.units == "ft" else 1.0
    off = length_text(abs(height - ground), site.units)
    ratio = max(height, ground) / max(min(height, ground), 1e-3)
    unlike = (
        "; one of the two looks like meters, the other like feet"
        if abs(ratio / _FEET_PER_METRE - 1.0) < _LIKE_IT
        else ""
    )
    expected = (
        f"a {entry} near the ground before it, which is at {ground / unit:.2f}; this stands {off} "
        f"{'above' if height > ground else 'below'} it: check the figure and the datum{unlike}"
    )
    entry = f"opening {name!r} . {entry}"
    return Problem(written.file, written.line, entry, f"{height / unit:.2f}", expected)


def refuse_no_ground(
    site: Site, source: ElevationSource, grid: Grid, heights: NDArray[np.float64]
) -> None:
    """Refuse elevation data that climbs farther than the lot is wide, or steps like a tower.

    So do undeclared fill, a wrong unit and damaged tiles.

    Raises
    ------
    InputError
    """
    known = heights[np.isfinite(heights)]
    wide = np.hypot(grid.rows, grid.cols) * grid.cell_size
    off = np.abs(known - np.median(known))
    with np.errstate(invalid="ignore"):
        steps = [np.abs(np.diff(heights, axis=axis)) for axis in (0, 1)]
    step = max(float(np.nanmax(each, initial=0.0)) for each in steps)
    allowed = _TOWER * site.rules["height_off_ground"] + 2.0 * grid.cell_size
    if off.max() <= wide and step <= allowed:
        return
    worst = float(known[off.argmax()])
    count = int((np.abs(known - worst) < 0.5).sum())
    raise refused(
        source,
        f"heights of bare ground; it holds {worst:,.0f} m on {count} of {known.size} cells around "
        f"the lot, {off.max():,.0f} m off the middle of the rest, and steps by {step:,.0f} m from "
        "cell to cell. If that figure stands for *not known*, declare it as the file's nodata "
        "value; else check vertical_unit, and whether the tile is whole",
    )
