"""Map layers of an inspection and its plan: GeoPackage with styles, GeoTIFFs, and a drawing.

In: findings, and the plan where there is one. Out: a folder of files, each written whole or not at
all, in the site's map system or, where the plan lies on no map, in the metres of the plan.
"""

from __future__ import annotations

from pathlib import Path

from runoff.inspection import Findings
from runoff.planning import Plan
from runoff.report.files import check_free, whole_folder, write_text
from runoff.report.layers.dxf import write_drawing
from runoff.report.layers.formats import (
    Place,
    write_package,
    write_safe_area,
    write_standing_depth,
    write_terrain,
)
from runoff.report.layers.found import found_layers
from runoff.report.layers.styles import LOOKS, depth_style, layer_style, safe_style, terrain_style
from runoff.report.layers.work import work_layers
from runoff.words.dig_sheet import Style

PACKAGE_NAME, DRAWING_NAME = "layers.gpkg", "proposed_work.dxf"
GRIDS = ("terrain", "standing_depth", "safe_area")


def layer_files(folder: Path) -> list[Path]:
    """Every file that layers may have in a folder.

    Examples
    --------
    >>> [path.name for path in layer_files(Path("out"))][:4]
    ['layers.gpkg', 'proposed_work.dxf', 'terrain.tif', 'standing_depth.tif']
    """
    grids = [f"{name}.tif" for name in GRIDS]
    styles = [f"{name}.sld" for name in (*GRIDS, *LOOKS)]
    return [folder / name for name in (PACKAGE_NAME, DRAWING_NAME, *grids, *styles)]


def write_layers(
    folder: Path,
    findings: Findings,
    plan: Plan | None = None,
    style: Style | None = None,
    force: bool = False,
) -> list[Path]:
    """Write the layers of an inspection, with the proposed work where there is a plan.

    What an earlier run left in the folder and this one does not write is taken away, so that nobody
    digs by an old drawing.

    Parameters
    ----------
    folder : Path
        Made where it is missing.
    findings : Findings
    plan : Plan, optional
    style : {"tape", "tenths", "mm", "cm"}, optional
        How the drawing's labels write lengths, as in the dig table.
    force : bool
        Whether to write over files that the tool did not write.

    Returns
    -------
    list of Path
        Those written.

    Raises
    ------
    FileExistsError
        Where a file in the way was not written by the tool; nothing is written then.
    """
    check_free(layer_files(folder), force)
    with whole_folder(folder, layer_files(folder)) as there:
        written = [*_vectors(there, findings, plan), *_grids(there, findings)]
        if plan is not None:
            drawing = there / DRAWING_NAME
            write_drawing(drawing, plan, Place.of(plan.site), style)
            written.append(drawing)
    return [folder / path.name for path in written]


def _vectors(folder: Path, findings: Findings, plan: Plan | None) -> list[Path]:
    """The GeoPackage, and the style of each layer in it."""
    layers = [*found_layers(findings, plan), *(work_layers(plan) if plan is not None else ())]
    package = folder / PACKAGE_NAME
    held = [layer for layer in layers if layer.features]
    written = []
    if held:
        write_package(package, held, Place.of(findings.site))
        written.append(package)
    for layer in held:
        path = folder / f"{layer.name}.sld"
        write_text(path, layer_style(layer.name, layer.about))
        written.append(path)
    return written


def _grids(folder: Path, findings: Findings) -> list[Path]:
    """The GeoTIFFs, each with its style."""
    place = Place.of(findings.site)
    terrain, depth, safe = (folder / f"{name}.tif" for name in GRIDS)
    write_terrain(terrain, findings, place)
    write_standing_depth(depth, findings, place)
    write_safe_area(safe, findings, place)
    looks = (terrain_style(findings.terrain.ground), depth_style(), safe_style())
    written = []
    for path, text in zip((terrain, depth, safe), looks, strict=True):
        write_text(path.with_suffix(".sld"), text)
        written += [path, path.with_suffix(".sld")]
    return written
