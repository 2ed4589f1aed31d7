"""Write the sample lot: an invented ground function, and every file of this folder made from it.

Feet throughout, plan 0,0 at the front left corner of the house, x to the right and y to the back
of the lot; heights are on a datum of the survey's own. Run it again after a change here:
``python make.py``. What it writes depends on nothing but this file.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

HERE = Path(__file__).resolve().parent
FOOT = 0.3048
CELL_M = 0.25
SURVEY = (-30.0, 74.0, -58.0, 94.0)  # left, right, front, back, ft
CRS = "EPSG:26916"
MAP_ORIGIN_M = (500_200.0, 4_816_400.0)  # of plan 0,0: in the middle of a lake, where nobody lives

HOUSE = ((0.0, 0.0), (36.0, 0.0), (36.0, 28.0), (0.0, 28.0))
GARAGE = ((40.0, 44.0), (60.0, 44.0), (60.0, 64.0), (40.0, 64.0))

CURB_Y, CURB_DROP = -48.0, 0.5
SWALE_X, SWALE_SIDE_SLOPE = -13.0, 0.22


def _blend(x: NDArray[np.float64], start: ArrayLike, stop: ArrayLike) -> NDArray[np.float64]:
    """0 before `start`, 1 after `stop`, smooth between."""
    t = np.clip((x - np.asarray(start)) / (np.asarray(stop) - np.asarray(start)), 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)


def curb_top(x: ArrayLike) -> NDArray[np.float64]:
    """Height of the curb's top: the street falls to the right; the curb is cut at the drive."""
    x = np.asarray(x, dtype=np.float64)
    cut = np.interp(x, [42.0, 44.0, 54.0, 56.0], [0.0, 1.0, 1.0, 0.0])
    return 95.9 - 0.008 * x - CURB_DROP * cut


def _left_yard(y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Flat for 7 ft in front of the house and then well down to the street; a rise at the back."""
    return np.interp(
        y,
        [-48.0, -40.0, -7.0, 0.0, 28.0, 38.0, 60.0, 74.0, 94.0],
        [95.9, 96.4, 99.32, 99.4, 99.6, 99.25, 99.1, 99.9, 98.2],
    )


def _right_yard(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """A bench beside the drive that leans to the right-hand neighbor, then a bank to the street."""
    along = np.interp(
        y,
        [-48.0, -40.0, -24.0, 0.0, 44.0, 64.0, 80.0, 94.0],
        [95.9, 96.4, 98.6, 98.85, 99.8, 99.7, 98.9, 98.0],
    )
    lean = 0.025 * np.interp(y, [-40.0, -24.0, 44.0, 64.0], [0.0, 1.0, 1.0, 0.0])
    return along - lean * (x - 49.0)


def _swale(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """The V of the swale along the left side, from the back of the lot to the street."""
    bottom = np.interp(
        y, [-48.0, -40.0, 0.0, 28.0, 66.0, 80.0], [95.996, 96.2, 98.0, 98.5, 99.2, 101.0]
    )
    return bottom + SWALE_SIDE_SLOPE * np.abs(x - SWALE_X)


def _settled_backfill(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far the backfill has settled beside the left wall, 5 ft wide, deepest near the rear."""
    depth = np.interp(
        y, [0.0, 3.0, 8.0, 14.0, 21.0, 26.5, 30.0], [0.0, 0.25, 0.5, 0.55, 0.75, 0.8, 0.0]
    )
    beside = np.clip(np.minimum(1.0 + x / 5.0, 1.0 - x / 3.0), 0.0, 1.0)
    return depth * beside


def _hollow(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """The hollow in the back yard: a bowl of 16 ft radius, 15 in deep."""
    squared = ((x - 9.0) ** 2 + (y - 56.0) ** 2) / 16.0**2
    return 1.25 * np.clip(1.0 - squared, 0.0, None)


def ground(x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
    """Height of the ground at plan positions, all in feet; on the curb itself, its top."""
    x, y = np.broadcast_arrays(np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64))
    start = np.interp(y, [0.0, 28.0], [14.0, 26.0])
    weight = _blend(x, start, start + np.interp(y, [0.0, 28.0], [24.0, 20.0]))
    yard = (1.0 - weight) * _left_yard(y) + weight * _right_yard(x, y)
    yard = yard + 0.02 * np.clip(-18.0 - x, 0.0, None)
    yard = yard - _settled_backfill(x, y) - _hollow(x, y)
    yard = np.minimum(yard, _swale(x, y))
    toward_street = _blend(-y, 38.0, -CURB_Y)
    yard = (1.0 - toward_street) * yard + toward_street * curb_top(x)
    cut_away = np.interp(x, [42.0, 44.0, 54.0, 56.0], [1.0, 0.0, 0.0, 1.0])
    street = curb_top(x) - CURB_DROP * cut_away + 0.02 * (CURB_Y - y)
    return np.where(y < CURB_Y, street, yard)


def _shots() -> list[tuple[str, float, float, str]]:
    """Where the rod stood: name, x, y and remark."""
    named = [
        ("H1", 0, 0, "house corner, front left"),
        ("H2", 36, 0, "house corner, front right"),
        ("H3", 36, 28, "house corner, rear right"),
        ("H4", 0, 28, "house corner, rear left"),
        ("HF2", 18, 0, "front door, end of walk"),
        ("HL1", 0, 3, "left wall"),
        ("HL2", 0, 8, "left wall at window well"),
        ("HL3", 0, 14, "left wall"),
        ("HL4", 0, 21, "left wall"),
        ("HL5", 0, 26.5, "left wall at downspout"),
        ("HB1", 9, 28, "rear wall"),
        ("HB2", 18, 28, "rear wall"),
        ("HB3", 27, 28, "rear wall"),
        ("HR1", 36, 9, "right wall"),
        ("WW1", -2.5, 6.5, "window well rim"),
        ("WW2", -2.5, 9.5, "window well rim"),
        ("L1", -5, 0, "5 ft off left wall"),
        ("L2", -5, 8, "5 ft off left wall"),
        ("L3", -5, 18, "5 ft off left wall"),
        ("L4", -5, 28, "5 ft off corner"),
        ("L5", -5, 36, "lawn"),
        ("L6", 0, 33, "lawn behind corner"),
        ("F1", 0, -7, "lawn, edge of flat"),
        ("F2", 12, -7, "lawn, edge of flat"),
        ("F3", 24, -7, "lawn"),
        ("F5", -5, -7, "lawn, edge of flat"),
        ("F6", 2, -24, "lawn"),
        ("F7", 20, -24, "lawn"),
        ("F8", 36, -24, "top of bank"),
        ("F9", 2, -40, "front lot line"),
        ("F10", 18, -40, "end of walk"),
        ("F11", 36, -40, "foot of bank"),
        ("F12", 28, -24, "top of bank"),
        ("B1", 0, 44, "lawn"),
        ("B2", 9, 38, "lawn, 10 ft off rear wall"),
        ("B3", 18, 38, "lawn, 10 ft off rear wall"),
        ("B4", 28, 38, "lawn, 10 ft off rear wall"),
        ("B5", 37, 38, "lawn"),
        ("B6", 9, 56, "bottom of hollow"),
        ("B7", 9, 47, "in hollow"),
        ("B8", 18, 56, "in hollow"),
        ("B9", 9, 65, "in hollow"),
        ("B10", 0, 56, "in hollow"),
        ("B11", 26, 56, "edge of hollow"),
        ("B12", -7, 56, "edge of hollow"),
        ("B13", -6, 48, "edge of hollow"),
        ("B14", -6, 64, "edge of hollow"),
        ("K1", -12, 74, "top of rise"),
        ("K3", 18, 74, "top of rise"),
        ("K4", 34, 74, "top of rise"),
        ("G1", 40, 44, "garage corner, front left"),
        ("G2", 60, 44, "garage corner, front right"),
        ("G3", 60, 64, "garage corner, rear right"),
        ("G4", 40, 64, "garage corner, rear left"),
        ("D1", 44, -40, "drive, left edge"),
        ("D2", 54, -40, "drive, right edge"),
        ("D3", 44, -24, "drive, left edge"),
        ("D4", 54, -24, "drive, right edge"),
        ("D5", 44, 0, "drive, left edge"),
        ("D6", 54, 0, "drive, right edge"),
        ("D7", 44, 22, "drive, left edge"),
        ("D8", 54, 22, "drive, right edge"),
        ("S1", SWALE_X, 66, "swale bottom, head"),
        ("S2", SWALE_X, 47, "swale bottom"),
        ("S3", SWALE_X, 28, "swale bottom"),
        ("S4", SWALE_X, 14, "swale bottom"),
        ("S5", SWALE_X, 0, "swale bottom"),
        ("S6", SWALE_X, -20, "swale bottom"),
        ("S7", SWALE_X, -40, "swale bottom"),
        ("C1", -30, CURB_Y, "top of curb"),
        ("C2", SWALE_X, CURB_Y, "top of curb at swale"),
        ("C3", 18, CURB_Y, "top of curb"),
        ("C4", 42, CURB_Y, "top of curb at drive"),
        ("C5", 56, CURB_Y, "top of curb at drive"),
        ("C6", 74, CURB_Y, "top of curb"),
        ("A1", 44, CURB_Y, "apron at gutter"),
        ("A2", 54, CURB_Y, "apron at gutter"),
        ("R1", -30, -58, "street"),
        ("R5", -8, -58, "street"),
        ("R2", 18, -58, "street"),
        ("R3", 49, -58, "street"),
        ("R4", 74, -58, "street"),
        ("N1", -30, -24, "neighbor's lawn, left"),
        ("N2", -30, 0, "neighbor's lawn, left"),
        ("N3", -30, 28, "neighbor's lawn, left"),
        ("N4", -30, 60, "neighbor's lawn, left"),
        ("N5", 74, -24, "neighbor's lawn, right"),
        ("N6", 74, 0, "neighbor's lawn, right"),
        ("N8", 74, 22, "neighbor's lawn, right"),
        ("N7", 74, 44, "neighbor's lawn, right"),
        ("O1", -30, 94, "open ground"),
        ("O7", -6, 94, "open ground"),
        ("O2", 18, 94, "open ground"),
        ("O3", 50, 94, "open ground"),
        ("O4", 74, 94, "open ground"),
        ("O5", 50, 80, "rear lot line"),
        ("O6", 74, 68, "neighbor's lawn, right"),
    ]
    return [(name, float(x), float(y), remark) for name, x, y, remark in named]


def write_spots(path: Path) -> None:
    """The shots as a person with a laser level wrote them down: to a hundredth of a foot."""
    with path.open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(["name", "x", "y", "z", "remark"])
        for name, x, y, remark in _shots():
            rows.writerow([name, f"{x:g}", f"{y:g}", f"{float(ground(x, y)):.2f}", remark])


def write_elevation(path: Path) -> None:
    """The same ground as an elevation raster in metres, north up."""
    import rasterio
    from rasterio.transform import from_origin

    left, right, front, back = (value * FOOT for value in SURVEY)
    cols, rows = int((right - left) / CELL_M), int((back - front) / CELL_M)
    x = (left + (np.arange(cols) + 0.5) * CELL_M) / FOOT
    y = (back - (np.arange(rows) + 0.5) * CELL_M) / FOOT
    heights = (ground(x[None, :], y[:, None]) * FOOT).round(3).astype(np.float32)
    profile = {
        "driver": "GTiff",
        "width": cols,
        "height": rows,
        "count": 1,
        "dtype": "float32",
        "crs": CRS,
        "nodata": -9999.0,
        "transform": from_origin(MAP_ORIGIN_M[0] + left, MAP_ORIGIN_M[1] + back, CELL_M, CELL_M),
        "compress": "deflate",
        "predictor": 3,
    }
    with rasterio.open(path, "w", **profile) as file:
        file.write(heights, 1)


def write_outlines(path: Path) -> None:
    """The outlines of the two buildings on the map, as a county's building layer has them."""
    features = []
    for name, corners in (("house", HOUSE), ("garage", GARAGE)):
        ring = [
            [round(MAP_ORIGIN_M[0] + x * FOOT, 3), round(MAP_ORIGIN_M[1] + y * FOOT, 3)]
            for x, y in (*corners, corners[0])
        ]
        features.append(
            {
                "type": "Feature",
                "properties": {"building": name},
                "geometry": {"type": "Polygon", "coordinates": [ring]},
            }
        )
    crs = {"type": "name", "properties": {"name": CRS.replace("EPSG:", "urn:ogc:def:crs:EPSG::")}}
    layer = {"type": "FeatureCollection", "crs": crs, "features": features}
    path.write_text(json.dumps(layer, indent=1) + "\n", encoding="utf-8")


def write_all(folder: Path) -> None:
    """Write everything that follows from the ground function; the site files are by hand."""
    write_spots(folder / "spots.csv")
    write_elevation(folder / "lot.tif")
    write_outlines(folder / "outlines.geojson")


if __name__ == "__main__":
    write_all(HERE)
