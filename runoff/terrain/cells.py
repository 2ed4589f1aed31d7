"""How large the cells are and where the grid lies."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from runoff.site.model import Site
from runoff.site.problems import InputError, Problem
from runoff.terrain.buildings import narrowest_gap
from runoff.terrain.model import Grid
from runoff.terrain.wording import length_text

NEAR_BUILDING = 0.3
"""Largest cell beside a building, metres."""
SMALLEST, LARGEST = 0.05, 1.0
CELLS_A_SPACING = 10
MOST_CELLS_A_SPACING, MOST_CELLS_A_PIXEL = 30, 4
"""A gap makes no more cells than these of the spacing of the heights, or of the data's own cell."""
MOST_CELLS = 4_000_000
CELLS_IN_GAP = 3.0
"""Cells across the narrowest gap: so many that two are open where it runs diagonally."""
MARGIN_CELLS = 2


def spot_grid(
    site: Site, bounds: tuple[float, float, float, float], spacing: float
) -> tuple[Grid, list[str]]:
    """The grid over a survey, a margin of two cells around it.

    Parameters
    ----------
    site : Site
    bounds : (left, bottom, right, top), metres
    spacing : float, metres
        Median distance between neighboring points.

    Returns
    -------
    grid : Grid
    notices : list of str

    Raises
    ------
    InputError
        Where the site's own cell size would make too many cells.
    """
    size, notices = _wanted_size(site, spacing)
    width, height = bounds[2] - bounds[0], bounds[3] - bounds[1]
    coarsest = _coarsest_that_fits(width, height)
    if size < coarsest:
        if site.cell_size is not None and site.cell_size < coarsest:
            raise InputError([_too_many(site, size, coarsest)])
        notices.append(
            f"The survey is so large that cells of {length_text(coarsest, site.units)} are used "
            f"instead of {length_text(size, site.units)}; state a cell_size for others."
        )
        size = coarsest
    notices += gap_notices(site, size)
    left = bounds[0] - MARGIN_CELLS * size
    bottom = bounds[1] - MARGIN_CELLS * size
    rows = math.ceil(height / size - 1e-9) + 2 * MARGIN_CELLS
    cols = math.ceil(width / size - 1e-9) + 2 * MARGIN_CELLS
    return Grid(rows, cols, size, left, bottom), notices


def gap_size(site: Site, finest: float = 0.0) -> float:
    """The largest cell that leaves two open ones in every gap between buildings; infinite if none.

    Parameters
    ----------
    site : Site
    finest : float, metres
        What the heights can tell apart: a gap that would need finer cells does not set them.
    """
    gap = narrowest_gap(site.buildings, site.lot)
    return math.inf if gap is None else max(gap / CELLS_IN_GAP, SMALLEST, finest)


def gap_notices(site: Site, size: float) -> list[str]:
    """Say where cells of a size close a gap between buildings."""
    gap = narrowest_gap(site.buildings, site.lot)
    if gap is None or size <= max(gap / CELLS_IN_GAP, SMALLEST) * (1 + 1e-9):
        return []
    return [
        f"The narrowest gap between buildings, {length_text(gap, site.units)}, is narrower than "
        "the cells can show; water may seem held back there. A smaller cell_size shows it."
    ]


def _wanted_size(site: Site, spacing: float) -> tuple[float, list[str]]:
    fit = gap_size(site, spacing / MOST_CELLS_A_SPACING)
    if site.cell_size is not None:
        if site.cell_size > fit:
            return fit, [
                f"Cells are {length_text(fit, site.units)} instead of "
                f"{length_text(site.cell_size, site.units)} so that the narrowest "
                "gap between buildings stays open."
            ]
        return site.cell_size, []
    size = float(np.clip(spacing / CELLS_A_SPACING, 2 * SMALLEST, LARGEST))
    if site.buildings:
        size = min(size, NEAR_BUILDING)
    return min(size, fit), []


def _coarsest_that_fits(width: float, height: float) -> float:
    around = 2 * MARGIN_CELLS + 1
    size = math.sqrt(width * height / MOST_CELLS)
    while size and (width / size + around) * (height / size + around) > MOST_CELLS:
        size *= 1.01
    return math.ceil(size * 100) / 100 if size > SMALLEST / 10 else 0.0


def _too_many(site: Site, size: float, fits: float) -> Problem:
    return Problem(
        site.path.name,
        None,
        "[terrain] cell_size",
        f"{size:g} m",
        f"at least {fits:.2f} m ({fits / 0.3048:.2f} ft) for a survey as large as this one",
    )


def bounds_of(xy: NDArray[np.float64]) -> tuple[float, float, float, float]:
    """(left, bottom, right, top) of (n, 2) positions.

    Examples
    --------
    >>> bounds_of(np.array([[1.0, 2.0], [3.0, -4.0]]))
    (1.0, -4.0, 3.0, 2.0)
    """
    left, bottom = xy.min(axis=0).tolist()
    right, top = xy.max(axis=0).tolist()
    return left, bottom, right, top
