"""Grids of the ground, of standing water, and of where water may be let go, as GeoTIFF.

In: findings. Out: one file a grid on the terrain's own cells, never resampled: where the plan is
turned on the map, so is the grid. Heights and depths are metres whatever the map's unit.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from rasterio.crs import CRS
from rasterio.io import DatasetWriter, MemoryFile

from runoff.foundation.model import REASONS
from runoff.inspection import Findings
from runoff.report.files import TEXT_MARK, whole_file
from runoff.report.layers_place import Place

NO_GROUND = -9999.0
# Each apart from the next in gray too; what is safe is the lightest but for no ground at all.
CODE_COLORS: tuple[tuple[int, int, int], ...] = (
    (222, 243, 208),
    (255, 255, 255),
    (64, 0, 18),
    (214, 190, 130),
    (140, 38, 30),
    (20, 45, 95),
    (150, 110, 160),
    (252, 205, 140),
    (100, 100, 100),
    (160, 160, 160),
)


def write_terrain(path: Path, findings: Findings, place: Place) -> None:
    """Write the heights of the ground, metres on the survey's datum."""
    ground = findings.terrain.ground
    values = np.where(np.isfinite(ground), ground, NO_GROUND)
    _write_metres(path, findings, place, values, "height of the ground, on the survey's datum")


def write_standing_depth(path: Path, findings: Findings, place: Place) -> None:
    """Write how deep water stands once the storm has run, metres; 0 is dry ground."""
    known = np.isfinite(findings.terrain.ground)
    values = np.where(known, findings.standing_depth, NO_GROUND)
    _write_metres(path, findings, place, values, "depth of the water that the storm leaves")


def write_safe_area(path: Path, findings: Findings, place: Place) -> None:
    """Write for each cell whether water may be let go there, and why not: codes with a table."""
    code = findings.at_the_wall.safe_area.code
    with _opened(path, code, findings, place) as file:
        file.set_band_description(1, "where water may be let go, and why not elsewhere")
        file.update_tags(1, **{f"code_{index}": words for index, words in enumerate(REASONS)})
        file.write_colormap(1, {code: (*color, 255) for code, color in enumerate(CODE_COLORS)})
        file.write(code, 1)


def _write_metres(
    path: Path, findings: Findings, place: Place, values: NDArray[np.float64], about: str
) -> None:
    stored = values.astype(np.float32)
    with _opened(path, stored, findings, place) as file:
        file.set_band_description(1, f"{about}, metres")
        file.set_band_unit(1, "metre")
        file.write(stored, 1)


@contextmanager
def _opened(
    path: Path, values: NDArray[Any], findings: Findings, place: Place
) -> Iterator[DatasetWriter]:
    """A grid to fill in memory; the file is written once the block ends well.

    The library keeps a full disk to itself, so the disk is left to Python.
    """
    rows, cols = values.shape
    profile: dict[str, Any] = {"nodata": NO_GROUND, "predictor": 3}
    if values.dtype == np.uint8:
        profile = {"photometric": "palette"}
    with MemoryFile() as memory:
        with memory.open(
            driver="GTiff",
            width=cols,
            height=rows,
            count=1,
            dtype=values.dtype,
            crs=CRS.from_wkt(place.crs),
            transform=place.affine(findings.terrain.grid),
            compress="deflate",
            **profile,
        ) as file:
            file.update_tags(TIFFTAG_SOFTWARE=TEXT_MARK)
            yield file
        with whole_file(path) as temporary:
            temporary.write_bytes(memory.read())
