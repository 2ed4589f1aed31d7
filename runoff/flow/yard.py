"""What runs off the ground: of a storm's depth by curve number, at a rain's peak by coefficient.

In: a site and its terrain. Out: a curve number or a runoff coefficient of each cell. The first is
for water that stands, the second for a flow; a coefficient of a short hard rain is no share of a
day's rain.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runoff.rules import Rules
from runoff.site.model import LawnCover, Paving, Site, SoilGroup
from runoff.terrain.model import Grid, Terrain

# TR-55 (1986), appendix A: the group of a soil whose profile was disturbed, by its texture.
GROUPS: dict[str, SoilGroup] = {
    "sand": "A",
    "loamy sand": "A",
    "sandy loam": "A",
    "silt loam": "B",
    "loam": "B",
    "sandy clay loam": "C",
    "clay loam": "D",
    "silty clay loam": "D",
    "sandy clay": "D",
    "silty clay": "D",
    "clay": "D",
}


@dataclass(frozen=True)
class YardCover:
    """The hydrologic soil group and cover of a lot's lawn, and what they were taken from."""

    group: SoilGroup
    group_from: str
    lawn: LawnCover
    lawn_curve_number: float
    paving_curve_number: float

    @property
    def sentence(self) -> str:
        """What was taken, in one line."""
        return (
            f"Rain on the yard: lawn of curve number {self.lawn_curve_number:g} (soil group "
            f"{self.group}, {self.group_from}; {self.lawn} grass), paving "
            f"{self.paving_curve_number:g}."
        )


def yard_cover(site: Site) -> YardCover:
    """The soil group and cover that rain on the yard is reckoned with.

    The group is the one given, else the one of the texture, else D, which sheds most: most yards
    around a house are compacted fill. Grass counts as good where nothing is said.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> from runoff.site.model import Soil
    >>> yard_cover(SimpleNamespace(soil=Soil(texture="loam"), rules=Rules())).sentence
    'Rain on the yard: lawn of curve number 61 (soil group B, of loam; good grass), paving 98.'
    """
    soil, rules = site.soil, site.rules
    if soil.group is not None:
        group, of = soil.group, "given"
    elif soil.texture is not None:
        group, of = GROUPS[soil.texture], f"of {soil.texture}"
    else:
        group, of = "D", "the wettest, as no texture is given"
    number = rules[f"curve_number_lawn_{soil.lawn}_{group.lower()}"]
    return YardCover(group, of, soil.lawn, number, rules["curve_number_paving"])


def curve_numbers(site: Site, terrain: Terrain) -> NDArray[np.float64]:
    """Curve number of each cell, (rows, cols); 0 where there is no open ground."""
    cover = yard_cover(site)
    return _by_cell(
        site,
        terrain,
        np.full(terrain.ground.shape, cover.lawn_curve_number),
        cover.paving_curve_number,
    )


def curve_numbers_at(site: Site, places: NDArray[np.float64]) -> NDArray[np.float64]:
    """Curve numbers at (n, 2) places of the open ground."""
    from shapely import contains_xy, prepare

    cover = yard_cover(site)
    number = np.full(len(places), cover.lawn_curve_number)
    for paved in site.paving:
        prepare(paved.outline)
        number[contains_xy(paved.outline, places[:, 0], places[:, 1])] = cover.paving_curve_number
    return number


def lawn_coefficients(
    ground: NDArray[np.float64], cell_size: float, texture: str | None, rules: Rules
) -> NDArray[np.float64]:
    """Rational coefficient of unpaved ground by its slope, (rows, cols), for a peak flow.

    Sand has figures of its own; other soil, and soil not stated, takes those of clay, the higher.
    Where the slope is not known (beside missing ground) it counts as average.
    """
    soil = "sand" if texture in ("sand", "loamy sand") else "clay"
    flat, average, steep = (
        rules[f"runoff_coefficient_lawn_{soil}_{slope}"] for slope in ("flat", "average", "steep")
    )
    if min(ground.shape) < 2:
        return np.full(ground.shape, average)
    down, right = np.gradient(ground, cell_size)
    slope = np.hypot(down, right)
    known = ~np.isnan(slope)
    coefficient = np.full(ground.shape, average)
    coefficient[known & (slope < rules["lawn_slope_average"])] = flat
    coefficient[known & (slope > rules["lawn_slope_steep"])] = steep
    return coefficient


def runoff_coefficients(site: Site, terrain: Terrain) -> NDArray[np.float64]:
    """Share of a hard rain that runs off each cell at its peak, (rows, cols).

    It is 0 where there is no open ground. For flows alone: of a storm's depth another share runs
    off, which grows as the ground gets wet (`curve_numbers`).
    """
    lawn = lawn_coefficients(terrain.ground, terrain.grid.cell_size, site.soil.texture, site.rules)
    return _by_cell(site, terrain, lawn, site.rules["runoff_coefficient_paving"])


def _by_cell(
    site: Site, terrain: Terrain, lawn: NDArray[np.float64], paving: float
) -> NDArray[np.float64]:
    """The figures of lawn, that of paving on its cells, 0 where there is no open ground."""
    for paved in site.paving:
        window, inside = _centers_on(terrain.grid, paved)
        lawn[window][inside] = paving
    lawn[terrain.closed | np.isnan(terrain.surface)] = 0.0
    return lawn


def _centers_on(grid: Grid, paving: Paving) -> tuple[tuple[slice, slice], NDArray[np.bool_]]:
    """The window of a grid around a paving, and which of its cells have their centers on it."""
    from shapely import contains_xy, prepare

    left, bottom, right, top = paving.outline.bounds
    x, y = grid.centers()
    cols = slice(*np.searchsorted(x, [left, right + grid.cell_size]))
    rows = slice(*np.searchsorted(-y, [-top, grid.cell_size - bottom]))
    prepare(paving.outline)
    return (rows, cols), contains_xy(paving.outline, *np.meshgrid(x[cols], y[rows]))
