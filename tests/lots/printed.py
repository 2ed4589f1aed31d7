"""Invented lots whose reports are read: one where nothing is wrong, one where nothing can be built,
one too coarse to judge, and the sample under names that a printer might stumble over.

Each writes its files into a folder and returns the site file.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import rasterio
from rasterio.enums import Resampling

from runoff.sample import copy_sample, sample_folder

# A quote that ends a string of TOML, typst's and TeX's own signs, long words with and without
# places to break, right-to-left scripts, emoji, controls, a formula, and text that looks like code.
HOSTILE = (
    '#"[x]$',
    "*bold* _it_ `raw` <label> @ref // no /* comment",
    "x" * 160,
    "a name that goes on and on " * 8 + "to its end",
    "مزراب خلفي",
    "המרזב הקדמי",
    "gutter 😀🏠👍🏽",
    "bell\x07 tab\t back\x1b[31m",
    "$x^2$ \\frac{1}{2} %d {0} ~",
    '"); #read("/etc/passwd") #(',
)


def _house(kind: str, neighbor: str, spouts: str) -> str:
    sides = ", ".join(
        f'{{ name = "{name}", neighbor = "{neighbor}" }}'
        for name in ("front", "right", "rear", "left")
    )
    return f"""
[terrain]
spot_heights = "spots.csv"
heights_by = "laser level"

[[building]]
name = "house"
corners = [[0, 0], [30, 0], [30, 20], [0, 20]]
walls = ["front", "right", "rear", "left"]
kind = "{kind}"
footing_depth = "3 ft"

[lot]
corners = [[-40, -40], [70, -40], [70, 60], [-40, 60]]
sides = [{sides}]

[[roof]]
name = "front slope"
length = "30 ft"
width = "10 ft"
{spouts}
"""


def _spots(folder: Path, height: Callable[[float, float], float]) -> None:
    """Spot heights every 5 ft around and along the walls of a house of 30 by 20 ft."""
    rows = ["name,x,y,z,remark"]
    for number, (x, y) in enumerate((x, y) for y in range(-50, 75, 5) for x in range(-50, 85, 5)):
        if not (0 < x < 30 and 0 < y < 20):
            rows.append(f"P{number},{x},{y},{height(x, y):.3f},")
    (folder / "spots.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")


def nothing_wrong(folder: Path) -> Path:
    """A slab on a mound that falls 6 % to all sides, open ground around it, one downspout."""

    def height(x: float, y: float) -> float:
        out = math.hypot(max(0 - x, x - 30, 0), max(0 - y, y - 20, 0))
        return 100.0 - 0.06 * out

    _spots(folder, height)
    spout = """
[[downspout]]
name = "front"
at = { building = "house", wall = "front", distance = "15 ft", out = "4 in" }
size = "2 x 3 in"
roofs = ["front slope"]
"""
    head = '[site]\nname = "Lot on a mound (invented)"\nunits = "ft"\nnorth = 0\n'
    path = folder / "site.toml"
    path.write_text(head + _house("slab", "open ground", spout), encoding="utf-8")
    return path


def nothing_possible(folder: Path) -> Path:
    """Dead level clay, a basement, neighbors on all sides, groundwater close under the grass."""
    _spots(folder, lambda x, y: 100.0)
    spout = """
[[downspout]]
name = "front"
at = { building = "house", wall = "front", distance = "15 ft", out = "4 in" }
size = "2 x 3 in"
roofs = ["front slope"]

[soil]
texture = "clay"
groundwater = "2 ft"
"""
    head = '[site]\nname = "Flat clay (invented)"\nunits = "ft"\nnorth = "unknown"\n'
    path = folder / "site.toml"
    path.write_text(head + _house("basement", "neighbor", spout), encoding="utf-8")
    return path


def bare_ground(folder: Path) -> Path:
    """Spot heights on a slope and nothing else, in metres."""
    rows = [f"P{x}{y},{x},{y},{10 + 0.02 * x + 0.03 * y}," for x in range(7) for y in range(7)]
    (folder / "spots.csv").write_text("\n".join(["name,x,y,z,remark", *rows]), encoding="utf-8")
    path = folder / "site.toml"
    path.write_text(
        '[site]\nname = "Bare ground (invented)"\nunits = "m"\n\n'
        '[terrain]\nspot_heights = "spots.csv"\nheights_by = "string level"\n',
        encoding="utf-8",
    )
    return path


def too_coarse(folder: Path) -> Path:
    """The sample's ground in cells of 2.25 m, as an old county tile has it."""
    copy_sample(folder)
    tile = folder / "lot.tif"
    with rasterio.open(tile) as fine:
        rows, cols = round(fine.height / 9), round(fine.width / 9)
        heights = fine.read(1, out_shape=(rows, cols), resampling=Resampling.average)
        wider = fine.transform @ fine.transform.scale(fine.width / cols, fine.height / rows)
        profile = {**fine.profile, "width": cols, "height": rows, "transform": wider}
    profile.pop("blockxsize", None)
    profile.pop("blockysize", None)
    with rasterio.open(tile, "w", **profile) as coarse:
        coarse.write(heights.astype(np.float32), 1)
    return folder / "site_from_elevation.toml"


def hostile_names(folder: Path) -> Path:
    """The sample with ten hostile names, one of them the lot's own."""
    copy_sample(folder)
    text = (sample_folder() / "site.toml").read_text(encoding="utf-8")
    plain = (
        "Sample lot (invented)",
        "front left",
        "front right",
        "rear right",
        "rear left",
        "window well",
        "front walk",
        "the owner, with a helper on the rod",
        "house front",
        "maple",
    )
    for name, new in zip(plain, HOSTILE, strict=True):
        text = text.replace(f'"{name}"', json.dumps(new, ensure_ascii=False))
    text = text.replace(
        f"kind = {json.dumps(HOSTILE[5], ensure_ascii=False)}", 'kind = "window well"'
    )
    path = folder / "site.toml"
    path.write_text(text, encoding="utf-8")
    return path
