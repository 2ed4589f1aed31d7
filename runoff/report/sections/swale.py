"""A swale: its section with the water in it, and its bottom along its line.

In: a `Swale`. Out: a picture in the reader's units.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from runoff.discharge.ways import Swale
from runoff.quantities import Shown
from runoff.report.files import save_picture
from runoff.report.maps.labels import HALO
from runoff.report.names import stop
from runoff.report.sections.sheet import (
    DIMENSION,
    EARTH,
    GIVES_WAY,
    GROUND,
    SCREEN,
    WATER,
    Paper,
    Scale,
    Sheet,
    exaggerate,
    give_way,
    measure,
    name_axes,
    sheet,
    show_scale,
)
from runoff.site.model import Site
from runoff.words.designs import swale_cautions, swale_ends

_AXES_IN = 3.2
# The views as shares of the room for axes: the first one's end, the second one's start.
_ALONG, _SECTION = 0.53, 0.62
_OFF_PT = 4.0


def draw_swale(swale: Swale, site: Site, name: str, path: Path | str) -> Path:
    """Draw a swale's bottom along its line, and its section.

    Parameters
    ----------
    swale : Swale
    site : Site
        Its units are those of the figure.
    name : str
        What the swale serves, such as the downspout's name.
    path : Path or str
        ``.png``, ``.svg`` or ``.pdf``.

    Raises
    ------
    ValueError
        Where the suffix is none of the three.
    """
    return save_picture(compose_swale(swale, site, name), path, f"swale, {name}")


def compose_swale(swale: Swale, site: Site, name: str) -> Figure:
    """The two views as a figure."""
    shown, scale = Shown.of(site), Scale(site.units)
    drawn = _sheet(f"Swale: {name}", swale, shown, SCREEN)
    room = SCREEN.axes_in
    _bottom(drawn.axes(width_in=_ALONG * room), swale, site, scale, shown)
    section = drawn.axes(_SECTION * room)
    _section(section, _section_width(swale, scale), swale, site, scale, shown)
    return drawn.figure


def compose_swale_profile(swale: Swale, site: Site, name: str, paper: Paper) -> Figure:
    """A swale's bottom along its line, to scale."""
    scale = Scale(site.units)
    drawn = _sheet(f"Swale along its line: {name}", swale, Shown.of(site), paper)
    wide = 1.08 * scale.of(float(swale.stations_m[-1]))
    share = wide / paper.fitted(wide, paper.axes_in, site.units)
    axes = drawn.axes(width_in=share * paper.axes_in)
    _bottom(axes, swale, site, scale, Shown.of(site))
    show_scale(drawn, axes, site.units)
    if paper.bare:
        give_way(axes)
    return drawn.figure


def compose_swale_section(swale: Swale, site: Site, name: str, paper: Paper) -> Figure:
    """A swale's section, to scale."""
    scale = Scale(site.units)
    drawn = _sheet(f"Swale in section: {name}", swale, Shown.of(site), paper)
    axes = drawn.axes()
    wide = paper.fitted(_section_width(swale, scale), paper.axes_in, site.units)
    _section(axes, wide, swale, site, scale, Shown.of(site))
    show_scale(drawn, axes, site.units)
    return drawn.figure


def _section_width(swale: Swale, scale: Scale) -> float:
    """The width that a swale's section must show, in the unit of the axes."""
    return scale.of(2.5 * _brim(swale))


def _sheet(title: str, swale: Swale, shown: Shown, paper: Paper) -> Sheet:
    fall = float(swale.bottom_m[0] - swale.bottom_m[-1])
    return sheet(
        title,
        f"{shown.far(float(swale.stations_m[-1]))} long, its bottom falling {shown.far(fall)}, "
        f"nowhere flatter than {shown.slope(swale.slope)}; "
        f"design flow {shown.flow(swale.design_flow_m3_per_s)}, can carry "
        f"{shown.flow(swale.capacity_m3_per_s)}",
        paper.tall * _AXES_IN,
        [stop(swale_ends(swale.ends)), *swale_cautions(shown, swale)],
        paper,
    )


def _bottom(axes: Axes, swale: Swale, site: Site, scale: Scale, shown: Shown) -> None:
    x = np.array([scale.of(float(s)) for s in swale.stations_m])
    ground = np.array([scale.of(float(z)) for z in swale.ground_m])
    bottom = np.array([scale.of(float(z)) for z in swale.bottom_m])
    wide = float(x[-1])
    axes.set_xlim(-0.04 * wide, 1.04 * wide)
    low, high = float(bottom.min()), float(ground.max())
    room = max(high - low, scale.of(0.1))
    times = exaggerate(axes, 1.08 * wide, low - 0.5 * room, high + 0.35 * room)
    axes.fill_between(x, axes.get_ylim()[0], bottom, **EARTH)
    axes.plot(x, ground, **(GROUND | {"linestyle": (0, (5, 2)), "linewidth": 1.6}))
    axes.plot(x, bottom, **GROUND)
    for end, align in ((0, "left"), (-1, "right")):
        axes.annotate(
            f"bottom {shown.height(float(swale.bottom_m[end]))}\n"
            f"cut {shown.height(float(swale.ground_m[end] - swale.bottom_m[end]))}",
            xy=(float(x[end]), float(bottom[end])),
            xytext=(float(x[end]), float(np.average(axes.get_ylim(), weights=(0.93, 0.07)))),
            ha=align,
            fontsize=8,
            arrowprops={"arrowstyle": "-", "linewidth": 0.7, "relpos": (-end, 1.0)},
            gid=GIVES_WAY,
            zorder=20,
        )
    at, where = swale.deepest, float(x[swale.deepest])
    axes.annotate(
        "",
        xy=(where, float(bottom[at])),
        xytext=(where, float(ground[at])),
        arrowprops=DIMENSION,
        zorder=15,
    )
    words = f"cut {shown.height(swale.greatest_cut_m)}, {shown.far(swale.greatest_width_m)} wide"
    _beside(axes, x, bottom, where, words, above=False)
    _beside(axes, x, ground, float(x[len(x) // 2]), "ground as it is", above=True)
    _view(axes, "along its line", times)
    name_axes(axes, site.units, "station")


def _beside(
    axes: Axes, x: NDArray[np.float64], z: NDArray[np.float64], at: float, words: str, above: bool
) -> None:
    """Words that begin at a place of a line and stay above or below all of it that they pass.

    Past the middle they end there, so that they keep in the view.
    """
    ends = at > float(x[-1]) / 2
    text = axes.annotate(
        words,
        xy=(at, float(np.interp(at, x, z))),
        xytext=(-_OFF_PT if ends else _OFF_PT, _OFF_PT if above else -_OFF_PT),
        textcoords="offset points",
        ha="right" if ends else "left",
        va="bottom" if above else "top",
        fontsize=8,
        path_effects=HALO,
        zorder=20,
    )
    box = text.get_window_extent()
    left, right = axes.transData.inverted().transform(box.get_points())[:, 0]
    passed = np.interp([left, *x[(x > left) & (x < right)], right], x, z)
    text.xy = (at, float(passed.max() if above else passed.min()))


def _section(axes: Axes, wide: float, swale: Swale, site: Site, scale: Scale, shown: Shown) -> None:
    body = swale.section
    half, out = scale.of(body.bottom_m / 2), scale.of(body.side_run * body.depth_m)
    deep, water = scale.of(body.depth_m), scale.of(swale.flow.water_m)
    edge = half + out
    beyond = wide / 2
    axes.set_xlim(-beyond, beyond)
    times = exaggerate(axes, 2 * beyond, -0.7 * deep, 1.8 * deep)
    x = [-beyond, -edge, -half, half, edge, beyond]
    y = [deep, deep, 0.0, 0.0, deep, deep]
    axes.fill_between(x, axes.get_ylim()[0], y, **EARTH)
    wet = half + scale.of(body.side_run * swale.flow.water_m)
    axes.fill([-wet, -half, half, wet], [water, 0.0, 0.0, water], **WATER)
    axes.plot(x, y, **GROUND)
    measure(axes, (-edge, 1.18 * deep), (edge, 1.18 * deep), shown.height(2 * _brim(swale)))
    measure(axes, (0.0, 0.0), (0.0, deep), shown.height(body.depth_m))
    measure(
        axes,
        (-half, -0.12 * deep),
        (half, -0.12 * deep),
        shown.height(body.bottom_m),
        below=True,
    )
    axes.annotate(
        f"water {shown.height(swale.flow.water_m)} deep",
        xy=(-half, water / 2),
        xytext=(-1.2 * edge, -0.45 * deep),
        ha="left",
        va="top",
        fontsize=8,
        arrowprops={"arrowstyle": "-", "linewidth": 0.7, "relpos": (1.0, 1.0)},
        zorder=20,
    )
    _view(axes, f"section, sides {body.side_run:g} to 1", times)
    name_axes(axes, site.units, "across", "over the bottom")


def _brim(swale: Swale) -> float:
    """Half the width at the brim, metres."""
    body = swale.section
    return body.bottom_m / 2 + body.side_run * body.depth_m


def _view(axes: Axes, words: str, times: int) -> None:
    """What a view shows, and how many times its heights are enlarged, at its top."""
    words += "" if times == 1 else f"; vertical exaggeration {times} times"
    axes.text(0.03, 0.96, words, transform=axes.transAxes, fontsize=8.5, style="italic", va="top")
