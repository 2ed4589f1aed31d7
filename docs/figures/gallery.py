"""Draw the pictures of docs/gallery.md: the sample lot and two more invented ones."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pypdfium2
from numpy.typing import NDArray
from PIL import Image, PngImagePlugin
from scipy.spatial import cKDTree

import runoff
from runoff.discharge import SeepagePit, Swale
from runoff.planning import Plan
from runoff.report import (
    MARK,
    draw_map,
    draw_pit,
    draw_profile,
    draw_swale,
    save_picture,
    wall_sheets,
    write_report,
)
from runoff.sample import sample_folder

GALLERY = Path(__file__).parents[1] / "gallery"
LOTS = {
    "sample": sample_folder(),
    "hillside": GALLERY / "hillside",
    "flat_clay": GALLERY / "flat_clay",
}
_PAGE_DOTS_PER_IN = 100
_HALF = 127  # of the colors that a palette holds beside white


def draw(gallery: Path) -> list[Path]:
    """Plan every lot and draw its pictures, each lot's into a folder of its name."""
    plans = {name: runoff.plan(runoff.read_site(lot / "site.toml")) for name, lot in LOTS.items()}
    for name in LOTS:
        (gallery / name).mkdir(parents=True, exist_ok=True)
    pictures = [
        *_sample(plans["sample"], gallery / "sample"),
        *_hillside(plans["hillside"], gallery / "hillside"),
        *_flat_clay(plans["flat_clay"], gallery / "flat_clay"),
    ]
    for path in pictures:
        _make_small(path)
    return pictures


def _sample(plan: Plan, folder: Path) -> list[Path]:
    ways = {each.downspout: each.chosen for each in plan.recommendations}
    line, pit = ways["front right"].line, ways["rear right"].design
    assert line is not None
    assert isinstance(pit, SeepagePit)
    return [
        draw_map(plan.findings, folder / "plan.png", plan),
        draw_profile(line, plan.site, "front right", folder / "line.png"),
        draw_pit(pit, plan.site, "rear right", folder / "pit.png"),
        _wall(plan, "left", folder / "wall.png"),
        _first_page(plan, folder / "report.png"),
    ]


def _hillside(plan: Plan, folder: Path) -> list[Path]:
    ways = {each.downspout: each.chosen for each in plan.recommendations}
    swale = ways["rear"].design
    assert ways["front right"].kind == "as it is"
    assert isinstance(swale, Swale)
    return [
        draw_map(plan.findings, folder / "plan.png", plan),
        draw_swale(swale, plan.site, "rear", folder / "swale.png"),
    ]


def _flat_clay(plan: Plan, folder: Path) -> list[Path]:
    assert {each.chosen.kind for each in plan.recommendations} == {"refer"}
    return [
        draw_map(plan.findings, folder / "plan.png", plan),
        _first_page(plan, folder / "report.png"),
    ]


def _wall(plan: Plan, wall: str, path: Path) -> Path:
    """The ground off the worst run of a wall that fails, with the soil that puts it right."""
    sheets = wall_sheets(plan.findings, plan, "letter")
    sheet = next(each for each in sheets if f"{wall} wall" in each.caption)
    return save_picture(sheet.figure, path, sheet.name)


def _first_page(plan: Plan, path: Path) -> Path:
    with tempfile.TemporaryDirectory() as folder:
        report = write_report(Path(folder) / "report.pdf", plan.findings, plan)
        with pypdfium2.PdfDocument(report) as document:
            document[0].render(scale=_PAGE_DOTS_PER_IN / 72).to_pil().save(path)
    return path


def _make_small(path: Path) -> None:
    """Keep 255 colors: a drawing has few, and a checkout is to stay small.

    Some are the commonest, shades of the ground, which an octree runs into one another; some an
    octree's, thin lines and letters, which counting pixels gives up; and one is the paper's white.
    """
    said = PngImagePlugin.PngInfo()
    said.add_text("Software", MARK)
    with Image.open(path) as picture:
        whole = picture.convert("RGB")
    kept = np.vstack(
        [
            [[255, 255, 255]],
            _colors(whole, Image.Quantize.MEDIANCUT),
            _colors(whole, Image.Quantize.FASTOCTREE),
        ]
    ).astype(np.uint8)
    # A color as one number: many times faster to sort than three.
    packed = np.asarray(whole, np.int32).reshape(-1, 3) @ np.array([1 << 16, 1 << 8, 1], np.int32)
    found, of_pixel = np.unique(packed, return_inverse=True)
    colors = np.column_stack([found >> 16, found >> 8 & 255, found & 255])
    nearest = cKDTree(kept).query(colors)[1].astype(np.uint8)
    small = Image.fromarray(nearest[of_pixel].reshape(whole.height, whole.width), mode="P")
    small.putpalette(kept.ravel().tolist())
    small.save(path, optimize=True, pnginfo=said)


def _colors(picture: Image.Image, method: Image.Quantize) -> NDArray[np.int64]:
    """Red, green and blue of the colors that a method keeps, shape (127 at most, 3)."""
    return np.reshape(picture.quantize(_HALF, method=method).getpalette() or [], (-1, 3))


if __name__ == "__main__":
    draw(GALLERY)
