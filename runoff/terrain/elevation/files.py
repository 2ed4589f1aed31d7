"""Elevation files as the lot needs them: the part of each, in metres on the plan's grid, tiles
made one ground, how fine it is.

Rough ground is rough at every distance; what was interpolated between coarse cells is not.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from runoff.site.elevation.files import kind_of, opened, read_text_grid, unit_of_band
from runoff.site.elevation.georeference import (
    map_to_plan,
    plan_to_map,
    read_crs,
    transform,
)
from runoff.site.model import ElevationSource, Georeference, Site
from runoff.site.problems import InputError, MapError, Problem
from runoff.terrain.cells import MOST_CELLS, MOST_CELLS_A_PIXEL, NEAR_BUILDING, Bounds, gap_size
from runoff.terrain.elevation.cloud import read_cloud
from runoff.terrain.heights import Cells
from runoff.terrain.model import Grid

if TYPE_CHECKING:
    from affine import Affine


def metres_per_height(source: ElevationSource, said: float | None) -> float:
    """Metres in one unit of the heights.

    Parameters
    ----------
    source : ElevationSource
    said : float or None
        Metres in the unit that the file itself says, None where it says none.

    Raises
    ------
    InputError
        Where no place says it: the horizontal unit would be a guess.
    """
    unit = source.vertical_unit if source.vertical_unit is not None else said
    if unit is not None:
        return unit
    written = source.written
    raise InputError(
        [
            Problem(
                written.file,
                written.line,
                "[terrain] vertical_unit",
                "",
                f'the unit of the heights in {source.name}, such as vertical_unit = "m" or '
                '"ft"; the file does not say it',
            )
        ]
    )


def plan_grid(
    parts: Sequence[Part], place: Georeference, wanted: Bounds | None, site: Site
) -> Grid:
    """The grid on the plan: a raster's own cells where it is square, split where a gap asks.

    Several parts are covered together, with cells as large as those of the first.
    """
    first = parts[0]
    own = pixel_size(first, place)
    outlines = [_outline(part, place) for part in parts]
    left, bottom = np.min([each.min(axis=0) for each in outlines], axis=0).tolist()
    right, top = np.max([each.max(axis=0) for each in outlines], axis=0).tolist()
    square = len(parts) == 1 and is_square(first, place)
    if wanted is not None and not square:
        left, bottom = max(left, wanted[0]), max(bottom, wanted[1])
        right, top = min(right, wanted[2]), min(top, wanted[3])
    rows, cols = first.heights.shape
    if not square:
        rows, cols = (
            max(1, math.ceil((top - bottom) / own)),
            max(1, math.ceil((right - left) / own)),
        )
    split = _split(site, own, rows * cols)
    size = own / split
    if square:
        return Grid(rows * split, cols * split, size, left, bottom)
    return Grid(
        max(1, math.ceil((top - bottom) / size)),
        max(1, math.ceil((right - left) / size)),
        size,
        left,
        bottom,
    )


def _outline(part: Part, place: Georeference) -> NDArray[np.float64]:
    rows, cols = part.heights.shape
    return to_plan(part, place, around((0.0, 0.0, float(cols), float(rows))))


def _split(site: Site, own: float, pixels: int) -> int:
    """Into how many parts, each way, a pixel is divided: for gaps, and for the user's own shots."""
    largest = min(own, gap_size(site, own / MOST_CELLS_A_PIXEL), site.cell_size or math.inf)
    if site.spot_heights and site.cell_size is None:
        largest = min(largest, NEAR_BUILDING)
    most = math.isqrt(max(1, MOST_CELLS // pixels))
    return max(1, min(math.ceil(own / largest - 1e-6), most))


def on_grid(part: Part, place: Georeference, grid: Grid) -> NDArray[np.float64]:
    """Heights of a part at the centers of a plan grid, NaN where it has none."""
    if is_square(part, place) and part.heights.shape == (grid.rows, grid.cols):
        columns = slice(None, None, 1 if part.pixels.a > 0 else -1)
        return part.heights[:: 1 if part.pixels.e < 0 else -1, columns].copy()
    col, row = _pixels_of(part, place, grid).T
    return bilinear(part.heights, row - 0.5, col - 0.5).reshape(grid.rows, grid.cols)


@dataclass(frozen=True)
class Raster:
    """The ground of elevation data, between its pixels' centers as the data means it: bilinear.

    Parameters
    ----------
    part : Part
    place : Georeference
    cells : Cells
        The same on the plan's grid, for what lies beside a gap in the data or beyond its outermost
        centers.
    """

    part: Part
    place: Georeference
    cells: Cells

    @property
    def blur(self) -> float:
        """A pixel, metres."""
        return max(pixel_size(self.part, self.place), self.cells.blur)

    def heights(
        self,
        points: NDArray[np.float64],
        feet: NDArray[np.float64] | None = None,
        outward: NDArray[np.float64] | None = None,
    ) -> NDArray[np.float64]:
        """As `Relief.heights`."""
        col, row = to_pixels(self.part, self.place, points).T
        found = bilinear(self.part.heights, row - 0.5, col - 0.5)
        lost = np.flatnonzero(np.isnan(found))
        side = [None if each is None else each[lost] for each in (feet, outward)]
        found[lost] = self.cells.heights(points[lost], *side)
        return found


def to_its_edge(part: Part, place: Georeference, grid: Grid) -> NDArray[np.float64]:
    """The same out to the outer edge of the pixels, along the slope between the outermost two."""
    col, row = _pixels_of(part, place, grid).T
    rows, cols = part.heights.shape
    inside = (col >= 0) & (row >= 0) & (col <= cols) & (row <= rows)
    heights = bilinear(_padded(part.heights), row + 0.5, col + 0.5)
    return np.where(inside, heights, np.nan).reshape(grid.rows, grid.cols)


def _padded(heights: NDArray[np.float64]) -> NDArray[np.float64]:
    """Heights with one more pixel on each side, continued on a straight line."""
    for axis in (0, 1):
        turned = heights if axis == 0 else heights.T
        inner = min(1, len(turned) - 1)
        before = 2 * turned[0] - turned[inner]
        after = 2 * turned[-1] - turned[-1 - inner]
        turned = np.concatenate([before[None], turned, after[None]])
        heights = turned if axis == 0 else turned.T
    return heights


def _pixels_of(part: Part, place: Georeference, grid: Grid) -> NDArray[np.float64]:
    x, y = np.meshgrid(*grid.centers())
    return to_pixels(part, place, np.column_stack([x.ravel(), y.ravel()]))


def bilinear(
    heights: NDArray[np.float64], row: NDArray[np.float64], col: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Heights between pixel centers; NaN beyond the outermost ones and beside a missing pixel.

    Parameters
    ----------
    heights : (rows, cols) float array
    row, col : (n,) float arrays
        Positions in pixels, whole numbers at the centers.

    Returns
    -------
    (n,) float array

    Examples
    --------
    >>> bilinear(np.array([[0.0, 2.0], [4.0, 6.0]]), np.array([0.5]), np.array([0.25])).tolist()
    [2.5]
    """
    rows, cols = heights.shape
    slack = 1e-6
    known = (row >= -slack) & (col >= -slack) & (row <= rows - 1 + slack)
    known &= col <= cols - 1 + slack
    row, col = np.clip(row, 0, rows - 1), np.clip(col, 0, cols - 1)
    r, c = np.rint(row), np.rint(col)
    row = np.where(np.abs(row - r) < slack, r, row)
    col = np.where(np.abs(col - c) < slack, c, col)
    top, left = np.floor(row).astype(np.int64), np.floor(col).astype(np.int64)
    down, across = row - top, col - left
    low, right = np.minimum(top + (down > 0), rows - 1), np.minimum(left + (across > 0), cols - 1)
    upper = heights[top, left] * (1 - across) + heights[top, right] * across
    lower = heights[low, left] * (1 - across) + heights[low, right] * across
    return np.where(known, upper * (1 - down) + lower * down, np.nan)


_LAGS = (1, 2, 3, 4, 6, 8, 12, 16)
"""Cells over which the ground's bends are measured."""
_SMOOTH, _ROUGH = 3.1, 2.5
"""Exponents of the bends' mean square over distance: from the first up the ground has no detail;
below the second it has."""
_LEAST_BEND = 0.02
"""Ground that bends less than this (m) over the coarse cell is near a plane: it tells nothing."""
_QUIET = 0.02
_LEAST_LINES = 5


def cells_of_detail(heights: NDArray[np.float64]) -> float | None:
    """How many cells wide the finest detail is, where a coarser model was resampled to these cells.

    The bend at a place is the second difference of three heights in a row, k cells apart. On
    ground whose rises over a distance h go as h^H, H up to 1 (a fractal surface: Mark & Aronson
    1984), the mean square of the bends grows as k^2H, at most k^2, and error of single heights
    keeps it level. Between the cells of a coarser model the ground is a smooth curve whose bends
    grow with k^2, their mean square with k^4, up to that model's cell, and as rough ground beyond.
    Planes or steps between the coarse cells bend at evenly spaced lines alone: found first.
    Nothing is said of ground near a plane or smooth throughout, nor of fewer than three cells.

    Parameters
    ----------
    heights : (rows, cols) float64, metres, NaN where there are none

    Returns
    -------
    float or None
        None where the data is as fine as its cells, or too little is there to tell.

    References
    ----------
    Mark, D. M. & Aronson, P. B. (1984). Scale-dependent fractal dimensions of topographic surfaces.
    Mathematical Geology 16(7), 671-683.

    Examples
    --------
    >>> rough = np.random.default_rng(1).normal(size=(60, 60))
    >>> cells_of_detail(rough) is None
    True
    >>> cells_of_detail(np.kron(rough[:12, :12], np.ones((5, 5))))
    5.0
    """
    if min(heights.shape) < 3 * _LAGS[-1]:
        return None
    bends = np.array([_mean_square(heights, lag) for lag in _LAGS])
    if not np.isfinite(bends).all() or bends[0] <= 0 or bends[-1] < _LEAST_BEND**2:
        return None
    across, down = _line_spacing(heights), _line_spacing(heights.T)
    if across is not None and down is not None and abs(across - down) <= 1:
        return (across + down) / 2
    exponent = np.diff(np.log(bends)) / np.diff(np.log(_LAGS))
    middle = np.sqrt(np.multiply(_LAGS[:-1], _LAGS[1:]))
    rough = np.flatnonzero(exponent < _ROUGH)
    if np.log(bends[2] / bends[0]) < _SMOOTH * np.log(_LAGS[2]) or not rough.size:
        return None
    after = int(rough[0])
    if after == 0 or bends[after] < _LEAST_BEND**2:
        return None
    cells = np.interp(-_ROUGH, -exponent[after - 1 : after + 1], middle[after - 1 : after + 1])
    return float(cells) if cells >= 2.5 else None


def _bends(heights: NDArray[np.float64], lag: int) -> NDArray[np.float64]:
    """Second differences along the rows."""
    return heights[:, 2 * lag :] - 2 * heights[:, lag:-lag] + heights[:, : -2 * lag]


def _mean_square(heights: NDArray[np.float64], lag: int) -> float:
    both = np.concatenate([_bends(heights, lag).ravel(), _bends(heights.T, lag).ravel()])
    known = both[np.isfinite(both)]
    return float(np.mean(known**2)) if known.size else np.nan


def _line_spacing(heights: NDArray[np.float64]) -> float | None:
    """Columns from one line at which the ground bends to the next, where it bends at such only."""
    squares = _bends(heights, 1) ** 2
    known = np.isfinite(squares)
    counts = known.sum(axis=0)
    if not counts.all():
        return None
    by_column = np.where(known, squares, 0.0).sum(axis=0) / counts
    starts = np.flatnonzero(np.diff((by_column > _QUIET * by_column.mean()).astype(int)) > 0)
    gaps = np.diff(starts)
    if len(starts) < _LEAST_LINES or gaps.min() < 3 or np.ptp(gaps) > 1:
        return None
    return float(round(gaps.mean(), 1))


_SPARE_PIXELS = 2
_SQUARE = 1e-6
FARTHEST_FROM_SEA_M = 12_000.0
"""No ground is so high or low: it lies between 8,849 m and -10,935 m. What is, stands for none."""


@dataclass(frozen=True)
class Part:
    """Heights (rows, cols) in metres, NaN where there are none, their pixels in the system `crs`.

    `pixels` takes (column, row), whole numbers at the pixels' corners, to map positions.
    """

    name: str
    heights: NDArray[np.float64]
    pixels: Affine
    crs: Any


def refused(source: ElevationSource, expected: str, entry: str = "elevation") -> InputError:
    """The error that says what is expected of elevation data."""
    written = source.written
    return InputError(
        [Problem(written.file, written.line, f"[terrain] {entry}", source.name, expected)]
    )


def read_part(source: ElevationSource, place: Georeference, wanted: Bounds | None) -> Part | None:
    """Read the pixels of one file that cover the wanted extent; None where it lies elsewhere.

    Parameters
    ----------
    source : ElevationSource
    place : Georeference
    wanted : (left, bottom, right, top) or None
        Plan metres; None for the whole file.

    Raises
    ------
    InputError
        Where the file cannot be read, is too large to be read whole, says nowhere in which unit
        its heights are, or none of these is a height of ground.
    """
    kind = kind_of(source.path)
    read = {"raster": _raster, "text": _text, "cloud": _cloud}[kind]
    try:
        part = read(source, place, wanted)
    except MapError as error:
        raise refused(source, str(error)) from None
    if part is None or np.isnan(part.heights).all():
        return part
    there = np.abs(part.heights) <= FARTHEST_FROM_SEA_M
    if not there.any():
        lowest = np.nanmin(np.abs(part.heights))
        raise refused(
            source,
            f"heights of ground; none of these is less than {lowest:.3g} m from the sea's level: "
            "look at vertical_unit, and at the file's own scale",
        )
    return replace(part, heights=np.where(there, part.heights, np.nan))


def _raster(source: ElevationSource, place: Georeference, wanted: Bounds | None) -> Part | None:
    from rasterio.windows import Window

    with opened(source.path, source.network) as raster:
        if not 1 <= source.band <= raster.count:
            raise refused(source, f"a band from 1 to {raster.count}", "band")
        unit = metres_per_height(source, unit_of_band(raster, source.band))
        crs = _crs(source, raster.crs and raster.crs.to_wkt(), place)
        shape = raster.height, raster.width
        window = _window(raster.transform, shape, around_in(wanted, place, crs))
        if window is None:
            return None
        _refuse_too_large(source, window)
        pixels = raster.read(source.band, window=Window(*window), masked=True)
        heights = np.ma.filled(pixels.astype(np.float64), np.nan)
        scale, offset = raster.scales[source.band - 1], raster.offsets[source.band - 1]
        with np.errstate(over="ignore", invalid="ignore"):
            heights = (heights * scale + offset) * unit + source.shift
        return Part(source.name, heights, shifted(raster.transform, *window[:2]), crs)


def _text(source: ElevationSource, place: Georeference, wanted: Bounds | None) -> Part | None:
    from rasterio.transform import Affine

    grid = read_text_grid(source.path)
    unit = metres_per_height(source, None)
    crs = _crs(source, None, place)
    corner = grid.left - grid.dx / 2, grid.top + grid.dy / 2
    pixels = Affine(grid.dx, 0.0, corner[0], 0.0, -grid.dy, corner[1])
    rows, cols = grid.heights.shape
    window = _window(pixels, (rows, cols), around_in(wanted, place, crs))
    if window is None:
        return None
    left, top, width, height = window
    heights = grid.heights[top : top + height, left : left + width] * unit + source.shift
    return Part(source.name, heights, shifted(pixels, left, top), crs)


def _cloud(source: ElevationSource, place: Georeference, wanted: Bounds | None) -> Part | None:
    cloud = read_cloud(source.path, lambda wkt: _around_cloud(source, wkt, place, wanted))
    if cloud is None:
        return None
    unit = metres_per_height(source, cloud.unit)
    crs = _crs(source, cloud.crs, place)
    return Part(source.name, cloud.heights * unit + source.shift, cloud.pixels, crs)


def _around_cloud(
    source: ElevationSource, wkt: str | None, place: Georeference, wanted: Bounds | None
) -> tuple[Any, NDArray[np.float64] | None]:
    crs = _crs(source, wkt, place)
    return crs, around_in(wanted, place, crs)


def _crs(source: ElevationSource, said: str | None, place: Georeference) -> Any:
    """WKT of the map system of a file: the one it names, else the one to read it in."""
    try:
        if said:
            read_crs(said)
            return said
    except MapError:
        pass
    return source.crs or place.crs


def around_in(wanted: Bounds | None, place: Georeference, crs: Any) -> NDArray[np.float64] | None:
    """Positions in `crs` around the wanted extent; None where all is wanted."""
    if wanted is None:
        return None
    return transform(plan_to_map(place, around(wanted)), place.crs, crs)


def around(bounds: Bounds, points: int = 9) -> NDArray[np.float64]:
    """Positions around a rectangle, so that one bent by a map system is still covered."""
    left, bottom, right, top = bounds
    x, y = np.linspace(left, right, points), np.linspace(bottom, top, points)
    return np.concatenate(
        [
            np.column_stack([x, np.full(points, bottom)]),
            np.column_stack([x, np.full(points, top)]),
            np.column_stack([np.full(points, left), y]),
            np.column_stack([np.full(points, right), y]),
        ]
    )


def _window(
    pixels: Affine, shape: tuple[int, int], corners: NDArray[np.float64] | None
) -> tuple[int, int, int, int] | None:
    """First column and row, columns and rows that the wanted positions need; None for none."""
    rows, cols = shape
    if corners is None:
        return 0, 0, cols, rows
    col, row = apply(~pixels, *corners.T)
    left = max(math.floor(col.min()) - _SPARE_PIXELS, 0)
    top = max(math.floor(row.min()) - _SPARE_PIXELS, 0)
    right = min(math.ceil(col.max()) + _SPARE_PIXELS, cols)
    bottom = min(math.ceil(row.max()) + _SPARE_PIXELS, rows)
    if right <= left or bottom <= top:
        return None
    return left, top, right - left, bottom - top


def _refuse_too_large(source: ElevationSource, window: tuple[int, int, int, int]) -> None:
    width, height = window[2:]
    if width * height > 4 * MOST_CELLS:
        raise refused(
            source,
            f"a smaller area than {width:,} by {height:,} cells; give the [lot] boundary "
            "so that only its surroundings are read",
        )


def shifted(pixels: Affine, col: int, row: int) -> Affine:
    """The matrix of the pixels from a column and a row on."""
    x, y = pixels.a * col + pixels.b * row, pixels.d * col + pixels.e * row
    return type(pixels)(pixels.a, pixels.b, pixels.c + x, pixels.d, pixels.e, pixels.f + y)


def apply(matrix: Affine, x: Any, y: Any) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Positions taken through an affine matrix."""
    return matrix.a * x + matrix.b * y + matrix.c, matrix.d * x + matrix.e * y + matrix.f


def same_map(one: Any, other: Any) -> bool:
    """Whether two map systems (WKT) are the same on the ground."""
    return bool(one == other or read_crs(one) == read_crs(other))


def is_square(part: Part, place: Georeference) -> bool:
    """Whether the pixels are squares along the plan's axes."""
    pixels = part.pixels
    size = abs(pixels.a)
    tilted = max(abs(pixels.b), abs(pixels.d)) > _SQUARE * max(size, abs(pixels.b))
    if tilted or place.rotation != 0.0 or abs(abs(pixels.e) - size) > _SQUARE * size:
        return False
    return same_map(part.crs, place.crs)


def pixel_size(part: Part, place: Georeference) -> float:
    """Side of a square as large as a pixel in the middle of the part, metres."""
    rows, cols = part.heights.shape
    middle = np.array([cols / 2, rows / 2])
    corner = to_plan(part, place, middle + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    across, down = corner[1] - corner[0], corner[2] - corner[0]
    return math.sqrt(abs(across[0] * down[1] - across[1] * down[0]))


def to_plan(part: Part, place: Georeference, pixels: NDArray[np.float64]) -> NDArray[np.float64]:
    """Plan positions of (n, 2) pixel positions, column before row."""
    positions = np.column_stack(apply(part.pixels, *pixels.T))
    return map_to_plan(place, transform(positions, part.crs, place.crs))


def to_pixels(part: Part, place: Georeference, plan: NDArray[np.float64]) -> NDArray[np.float64]:
    """Pixel positions, column before row, of (n, 2) plan positions."""
    on_map = transform(plan_to_map(place, plan), place.crs, part.crs)
    return np.column_stack(apply(~part.pixels, *on_map.T))


_SAME_LATTICE = 0.01
_FEWEST_PAIRS = 3


@dataclass(frozen=True)
class Meeting:
    """How far one tile stands above another where they meet, metres (the median)."""

    upper: str
    lower: str
    step: float


def joined(parts: Sequence[Part]) -> tuple[Part, tuple[Meeting, ...]] | None:
    """One part of tiles whose pixels lie on one lattice, with no seam; None where they do not.

    Where tiles overlap the first that has a height gives it.

    Parameters
    ----------
    parts : sequence of Part

    Returns
    -------
    part : Part
    meetings : tuple of Meeting
    """
    first = parts[0]
    corners = [_lattice(first, part) for part in parts]
    known = [corner for corner in corners if corner is not None]
    if len(known) < len(parts):
        return None
    left, top = min(c for c, _ in known), min(r for _, r in known)
    ends = [
        (col + part.heights.shape[1], row + part.heights.shape[0])
        for part, (col, row) in zip(parts, known, strict=True)
    ]
    shape = max(r for _, r in ends) - top, max(c for c, _ in ends) - left
    layers = []
    for part, (col, row) in zip(parts, known, strict=True):
        layer = np.full(shape, np.nan)
        rows, cols = part.heights.shape
        layer[row - top : row - top + rows, col - left : col - left + cols] = part.heights
        layers.append(layer)
    names = [part.name for part in parts]
    heights, meetings = _laid(layers, names)
    return Part(first.name, heights, shifted(first.pixels, left, top), first.crs), meetings


def _lattice(first: Part, part: Part) -> tuple[int, int] | None:
    """Column and row, in pixels of the first part, of another's corner; None on another lattice."""
    one, other = first.pixels, part.pixels
    size = math.hypot(one.a, one.d)
    pairs = ((one.a, other.a), (one.b, other.b), (one.d, other.d), (one.e, other.e))
    if not same_map(first.crs, part.crs) or any(abs(p - q) > 1e-6 * size for p, q in pairs):
        return None
    col, row = (float(v) for v in apply(~one, other.c, other.f))
    if max(abs(col - round(col)), abs(row - round(row))) > _SAME_LATTICE:
        return None
    return round(col), round(row)


def laid_on(
    parts: Sequence[Part], place: Georeference, grid: Grid
) -> tuple[NDArray[np.float64], tuple[Meeting, ...]]:
    """Heights on a plan grid of tiles that lie on different lattices, or in different systems.

    What no tile's pixel centers enclose, but a tile's outermost pixels cover, is continued on the
    slope of those: half a pixel on each side of a seam.

    Parameters
    ----------
    parts : sequence of Part
    place : Georeference
    grid : Grid

    Returns
    -------
    heights : (rows, cols) float array, metres
    meetings : tuple of Meeting
    """
    names = [part.name for part in parts]
    inner = [on_grid(part, place, grid) for part in parts]
    outer = [to_its_edge(part, place, grid) for part in parts]
    return _laid([*inner, *outer], [*names, *names])


def _laid(
    layers: Sequence[NDArray[np.float64]], names: Sequence[str]
) -> tuple[NDArray[np.float64], tuple[Meeting, ...]]:
    """Layers on one grid laid over each other, the first with a height on top."""
    heights = np.full(layers[0].shape, np.nan)
    owner = np.full(layers[0].shape, -1)
    known = list(dict.fromkeys(names))
    meetings: dict[tuple[str, str], float] = {}
    for layer, name in zip(layers, names, strict=True):
        _overlaps(heights, owner, layer, name, known, meetings)
        new = np.isnan(heights) & np.isfinite(layer)
        heights[new] = layer[new]
        owner[new] = known.index(name)
    for one in range(len(known)):
        for other in range(one + 1, len(known)):
            pair = (known[one], known[other])
            step = _seam(heights, owner, one, other)
            if pair not in meetings and step is not None:
                meetings[pair] = step
    found = [
        Meeting(one, other, -step) if step < 0 else Meeting(other, one, step)
        for (one, other), step in meetings.items()
    ]
    return heights, tuple(found)


def _overlaps(
    heights: NDArray[np.float64],
    owner: NDArray[np.int64],
    layer: NDArray[np.float64],
    name: str,
    known: Sequence[str],
    meetings: dict[tuple[str, str], float],
) -> None:
    """Note how far a layer stands above those under it, where both have heights."""
    for number, other in enumerate(known):
        both = (owner == number) & np.isfinite(layer)
        if other == name or (other, name) in meetings or both.sum() < _FEWEST_PAIRS:
            continue
        if known.index(name) > number:
            meetings[other, name] = float(np.median((layer - heights)[both]))


def _seam(
    heights: NDArray[np.float64], owner: NDArray[np.int64], one: int, other: int
) -> float | None:
    """How far `other` stands above `one` across their seam, the slope on both sides taken off."""
    steps = []
    for z, who in ((heights, owner), (heights.T, owner.T)):
        if z.shape[1] < 4:
            continue
        rise = np.diff(z, axis=1)
        step = rise[:, 1:-1] - (rise[:, :-2] + rise[:, 2:]) / 2
        left, right = who[:, 1:-2], who[:, 2:-1]
        for sign, low, high in ((1.0, one, other), (-1.0, other, one)):
            here = step[(left == low) & (right == high)]
            steps.append(sign * here[np.isfinite(here)])
    together = np.concatenate(steps) if steps else np.empty(0)
    return float(np.median(together)) if len(together) >= _FEWEST_PAIRS else None
