"""A seepage pit in section: ground, pipe, silt trap, stone, fabric, observation pipe, sizes.

In: a `SeepagePit`. Out: a picture at one scale up and along, in the reader's units.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from runoff.discharge.pit.search import layers_below
from runoff.discharge.pit.way import stone_height_m
from runoff.discharge.ways import SeepagePit
from runoff.quantities import Shown
from runoff.report.files import save_picture
from runoff.report.plan_designs import plan_words
from runoff.report.sections.sheet import (
    EARTH,
    GIVES_WAY,
    GROUND,
    SCREEN,
    WATER,
    Paper,
    Scale,
    give_way,
    measure,
    name_axes,
    sheet,
    show_scale,
    write,
)
from runoff.site.model import Site

STONE: dict[str, Any] = {"facecolor": "white", "edgecolor": "0.45", "hatch": "oo", "linewidth": 0.0}
FILL: dict[str, Any] = {"facecolor": "0.82", "edgecolor": "none", "zorder": 3}
ROCK: dict[str, Any] = {"facecolor": "0.75", "edgecolor": "0.4", "hatch": "xx", "linewidth": 0.0}
FABRIC: dict[str, Any] = {"color": "black", "linewidth": 1.6, "linestyle": (0, (4, 2)), "zorder": 8}

_AXES_IN = 4.6
# The silt trap is drawn to no record's size: a box as wide as these many bores.
_TRAP_BORES = 5.0
# Inches beside the pit that its sizes take, and where the two of them stand.
_SIZES_IN, _COUNTS_IN, _DIG_IN = 1.95, 0.3, 1.1
_INLET_IN = 1.8
_SIZES_SHARE = 0.42
# Share of the axes' height over the ground; least width of the axes in lengths of the pit; how
# many times as deep as the pit groundwater or rock may lie to be drawn.
_OVER, _BESIDE, _NEAR = 0.22, 1.9, 1.7
# Share of the axes' height that a line of words takes.
_LINE_OF_WORDS = 0.06
_EDGES = {"groundwater": "#1f5f96", "bedrock": "0.2"}
_NOTE = (
    "Roof water only. The silt trap is drawn to no scale. The fabric wraps the sides and the top "
    "of the stone, not its bottom."
)


def draw_pit(pit: SeepagePit, site: Site, name: str, path: Path | str) -> Path:
    """Draw a seepage pit in section along its length.

    Parameters
    ----------
    pit : SeepagePit
    site : Site
        Its units are those of the figure; its rules say how far the stone goes over the inlet.
    name : str
        What the pit serves, such as the downspout's name.
    path : Path or str
        ``.png``, ``.svg`` or ``.pdf``.

    Raises
    ------
    ValueError
        Where the suffix is none of the three.
    """
    return save_picture(compose_pit(pit, site, name), path, f"seepage pit, {name}")


def compose_pit(pit: SeepagePit, site: Site, name: str, paper: Paper = SCREEN) -> Figure:
    """The section as a figure."""
    shown, scale = Shown.of(site), Scale(site.units)
    body = pit.governing.pit
    drawn = sheet(
        f"Seepage pit (dry well) in section: {name}",
        f"a {body.kind} {plan_words(pit.governing, shown)}; holds {shown.volume(body.stored_m3)} "
        f"below the inlet, must hold {shown.volume(pit.governing.required_m3)}; "
        "no vertical exaggeration",
        paper.tall * _AXES_IN,
        [_NOTE],
        paper,
    )
    axes = drawn.axes()
    _limits(axes, pit, site, scale, paper)
    _earth(axes, pit, scale)
    _body(axes, pit, site, scale)
    _inlet(axes, pit, scale)
    _observation(axes, pit, site, scale, beside=paper.bare)
    _sizes(axes, pit, scale, shown)
    _layers(axes, pit, site, scale, shown)
    name_axes(axes, site.units, "distance from the pit's near side", "height")
    show_scale(drawn, axes, site.units)
    if paper.bare:
        give_way(axes)
    return drawn.figure


def _limits(axes: Axes, pit: SeepagePit, site: Site, scale: Scale, paper: Paper) -> None:
    """One scale up and along, with room for words over the ground and beside the pit."""
    deep = pit.dig_depth_m
    deep = max([deep, *(depth for _, depth, _ in layers_below(site) if _near(pit, depth))])
    long = scale.of(pit.governing.pit.length_m)
    before = 2.0 * _TRAP_BORES * scale.of(pit.line.profile.pipe.bore_m)
    by_height = scale.of(1.25 * deep) / (1.0 - _OVER)
    sizes_in = _sizes_in(paper.axes_in)
    by_width = max(_BESIDE * long, (long + 1.1 * before) / (1.0 - sizes_in / paper.axes_in))
    tall_in = paper.tall * _AXES_IN
    wide = max(by_width, by_height * paper.axes_in / tall_in)
    wide = paper.fitted(wide, paper.axes_in, site.units)
    tall = wide * tall_in / paper.axes_in
    ground = scale.of(pit.ground_m)
    axes.set_ylim(ground - (1.0 - _OVER) * tall, ground + _OVER * tall)
    beyond = max(0.4 * (wide - long), wide * sizes_in / paper.axes_in)
    axes.set_xlim(long + beyond - wide, long + beyond)


def _sizes_in(axes_in: float) -> float:
    """What the sizes beside a pit take of axes so wide, inches."""
    return min(_SIZES_IN, _SIZES_SHARE * axes_in)


def _near(pit: SeepagePit, depth: float) -> bool:
    """Whether groundwater or rock at a depth (m) is near enough to be drawn at the pit's scale."""
    return depth < _NEAR * pit.dig_depth_m


def _earth(axes: Axes, pit: SeepagePit, scale: Scale) -> None:
    left, right = axes.get_xlim()
    low = axes.get_ylim()[0]
    ground = scale.of(pit.ground_m)
    axes.add_patch(Rectangle((left, low), right - left, ground - low, **EARTH))
    axes.plot([left, right], [ground, ground], **GROUND)
    write(axes, right, ground, "ground  ", ha="right", va="bottom", fontsize=8.5, gid=GIVES_WAY)


def _body(axes: Axes, pit: SeepagePit, site: Site, scale: Scale) -> None:
    """The hole: stone to its top, what lies over it, the fabric, the water that counts."""
    body = pit.governing.pit
    long, bottom = scale.of(body.length_m), scale.of(pit.inlet_m - body.depth_m)
    top = bottom + scale.of(stone_height_m(pit, site.rules))
    ground, inlet = scale.of(pit.ground_m), scale.of(pit.inlet_m)
    axes.add_patch(Rectangle((0, top), long, max(ground - top, 0.0), **FILL))
    axes.add_patch(Rectangle((0, bottom), long, inlet - bottom, **WATER))
    axes.add_patch(Rectangle((0, bottom), long, top - bottom, zorder=4, **_filling(body.kind)))
    axes.plot([0, 0, long, long], [bottom, top, top, bottom], **FABRIC)
    axes.plot([0, long], [bottom, bottom], color="black", linewidth=1.0, zorder=8)
    axes.plot([0, long], [inlet, inlet], color="black", linewidth=0.9, linestyle=":", zorder=9)
    middle = 0.66 * long
    lesser: dict[str, Any] = {"va": "center", "gid": GIVES_WAY}
    write(axes, middle, (inlet + bottom) / 2, _what(body.kind), ha="center", **lesser)
    write(axes, middle, (top + ground) / 2, "soil", ha="center", **lesser)
    write(axes, long, top, "  filter fabric", **lesser)


def _filling(kind: str) -> dict[str, Any]:
    style = STONE | {"facecolor": "none"}
    return style if kind != "chamber" else style | {"hatch": "--"}


def _what(kind: str) -> str:
    return "chambers in\nclean stone" if kind == "chamber" else "clean stone,\nwater in its voids"


def _inlet(axes: Axes, pit: SeepagePit, scale: Scale) -> None:
    """The pipe that comes in, and the silt trap before the pit."""
    bore, inlet = scale.of(pit.line.profile.pipe.bore_m), scale.of(pit.inlet_m)
    left = axes.get_xlim()[0]
    trap = _TRAP_BORES * bore
    ground = scale.of(pit.ground_m)
    slope = pit.line.profile.limits.slope
    far = -3.2 * trap
    pipe: dict[str, Any] = {"color": "white", "edgecolor": "black", "linewidth": 1.1, "zorder": 6}
    ends = [max(left, far - 4 * trap), 0.25 * trap]
    over = [inlet - slope * ends[0] + bore, inlet + bore]
    under = [inlet - slope * ends[0], inlet]
    axes.fill_between(ends, under, over, **pipe)
    box = Rectangle(
        (-2.0 * trap, inlet - 1.2 * trap),
        trap,
        ground - inlet + 1.2 * trap,
        facecolor="white",
        edgecolor="black",
        linewidth=1.3,
        zorder=7,
    )
    axes.add_patch(box)
    write(axes, -1.5 * trap, inlet - 1.3 * trap, "silt trap", ha="center", va="top")


def _observation(axes: Axes, pit: SeepagePit, site: Site, scale: Scale, beside: bool) -> None:
    """A pipe from the bottom to the ground, by which water and silt are seen."""
    body = pit.governing.pit
    bore = scale.of(pit.line.profile.pipe.bore_m)
    x = 0.3 * scale.of(body.length_m)
    bottom, ground = scale.of(pit.inlet_m - body.depth_m), scale.of(pit.ground_m)
    axes.add_patch(
        Rectangle(
            (x - bore / 2, bottom),
            bore,
            ground - bottom,
            facecolor="white",
            edgecolor="black",
            linewidth=1.1,
            hatch="--",
            zorder=7,
        )
    )
    axes.annotate(
        "observation pipe, grated cap",
        xy=(x, ground),
        xytext=(10, 4) if beside else (0, 16),
        textcoords="offset points",
        ha="left" if beside else "center",
        fontsize=8,
        arrowprops={"arrowstyle": "-", "linewidth": 0.7},
        zorder=20,
    )


def _sizes(axes: Axes, pit: SeepagePit, scale: Scale, shown: Shown) -> None:
    body = pit.governing.pit
    long = scale.of(body.length_m)
    ground, inlet = scale.of(pit.ground_m), scale.of(pit.inlet_m)
    bottom = scale.of(pit.inlet_m - body.depth_m)
    left, right = axes.get_xlim()
    inch = (right - left) / (
        axes.get_position().width * axes.figure.get_size_inches()[0]  # type: ignore[union-attr]
    )
    axes_in = (right - left) / inch
    closer = _sizes_in(axes_in) / _SIZES_IN
    points = 8.0 if closer == 1.0 else 6.5
    counts, dig = long + closer**3 * _COUNTS_IN * inch, long + closer * _DIG_IN * inch
    past = 0.06 * inch
    low, high = axes.get_ylim()
    under = bottom - 0.06 * (high - low)
    measure(axes, (0, under), (long, under), shown.far(body.length_m))
    measure(
        axes,
        (dig, bottom),
        (dig, ground),
        f"dig\n{shown.height(pit.dig_depth_m)}",
        points=points,
    )
    axes.plot([long, dig + past], [bottom, bottom], color="0.3", linewidth=0.6, zorder=9)
    axes.plot([long, counts + past], [inlet, inlet], color="0.3", linewidth=0.6, zorder=9)
    measure(
        axes,
        (counts, bottom),
        (counts, inlet),
        f"counts\n{shown.height(body.depth_m)}",
        points=points,
    )
    depth = shown.height(pit.ground_m - pit.inlet_m)
    before = -0.4 * _TRAP_BORES * scale.of(pit.line.profile.pipe.bore_m)
    room = before - left > _INLET_IN * inch
    axes.annotate(
        f"inlet's invert {shown.height(pit.inlet_m)},{' ' if closer < 1.0 else chr(10)}"
        f"{depth} below the ground",
        xy=(before, inlet),
        xytext=(before if room and closer == 1.0 else left + past, ground + 0.13 * (high - low)),
        ha="right" if room and closer == 1.0 else "left",
        fontsize=points,
        arrowprops={"arrowstyle": "-", "linewidth": 0.7, "relpos": (1.0 if room else 0.5, 0.0)},
        zorder=20,
    )


def _layers(axes: Axes, pit: SeepagePit, site: Site, scale: Scale, shown: Shown) -> None:
    """Groundwater and bedrock at their depths, or in words where they lie deeper than is drawn."""
    left, right = axes.get_xlim()
    low, high = axes.get_ylim()
    under = low + 0.03 * (high - low)
    for name, depth, _ in layers_below(site):
        words = f"  {name}, {shown.far(depth)} down"
        if not _near(pit, depth):
            write(axes, left, under, f"{words}, deeper than is drawn")
            under += _LINE_OF_WORDS * (high - low)
            continue
        level = scale.of(pit.ground_m - depth)
        if name == "bedrock":
            axes.add_patch(Rectangle((left, low), right - left, level - low, **ROCK))
        axes.plot([left, right], [level, level], linewidth=1.4, zorder=9, color=_EDGES[name])
        write(axes, left, level, words, va="bottom")
