"""Heights of contours on the map: true, clear of steps, apart from each other.

The lot is an invented terrace: strips that fall 2 % to the right, 3 ft 6 in apart at two walls.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_rgba
from matplotlib.contour import QuadContourSet
from matplotlib.figure import Figure
from matplotlib.text import Text

from runoff.report import CONTOUR_COLOR, Labels, compose, draw_contours
from runoff.site import BreakLine
from tests.lots.made_up import FOOT, HERE, feet
from tests.report.made_up import made_up_findings

WALLS_FT = (-20.0, 36.0)
STEP_FT = 3.5


def height_ft(x_ft: np.ndarray, y_ft: np.ndarray) -> np.ndarray:
    """Height of the terrace, feet."""
    above = sum((y_ft > wall).astype(float) for wall in WALLS_FT)
    return 100.0 + STEP_FT * above - 0.02 * x_ft + 0.001 * y_ft


def terrace() -> Figure:
    """Its map, without paving, openings and paths, which would take room from the contours."""
    findings = made_up_findings()
    x, y = findings.terrain.grid.centers()
    ground = height_ft(*np.meshgrid(x / FOOT, y / FOOT)) * FOOT
    ground[findings.terrain.closed] = np.nan
    steps = tuple(
        BreakLine(
            f"wall at {wall:g}",
            feet([(-30, wall), (74, wall)]),
            np.full(2, 31.0),
            np.full(2, 30.0),
            "right",
            (),
            HERE,
        )
        for wall in WALLS_FT
    )
    site = replace(findings.site, break_lines=steps, paving=(), keep_outs=(), lot=None)
    terrain = replace(findings.terrain, ground=ground, surface=ground, suspects=())
    return compose(replace(findings, site=site, terrain=terrain, downspouts=(), low_spots=()))


def contour_heights(figure: Figure) -> list[tuple[Text, np.ndarray]]:
    """The heights written on contours, each with its place in points of paper."""
    color = to_rgba(CONTOUR_COLOR)
    found = [text for text in figure.axes[0].texts if to_rgba(text.get_color())[:3] == color[:3]]
    to_points = 72.0 / figure.dpi
    place = figure.axes[0].transData.transform
    return [(text, place([text.get_position()])[0] * to_points) for text in found]


def test_heights_are_those_of_the_ground_where_they_stand() -> None:
    texts = contour_heights(terrace())
    assert len(texts) >= 8
    for text, _ in texts:
        x, y = (np.asarray(value / FOOT) for value in text.get_position())
        assert abs(float(text.get_text()) - float(height_ft(x, y))) < 0.02


def test_every_strip_between_the_walls_has_heights() -> None:
    ys = np.array([text.get_position()[1] / FOOT for text, _ in contour_heights(terrace())])
    assert (ys < WALLS_FT[0]).any()
    assert ((ys > WALLS_FT[0]) & (ys < WALLS_FT[1])).any()
    assert (ys > WALLS_FT[1]).any()


def test_heights_keep_clear_of_walls() -> None:
    """At least 10 points from the wall to the middle of a height, more than a letter's height."""
    figure = terrace()
    place = figure.axes[0].transData.transform
    for wall in WALLS_FT:
        level = place(feet([(0, wall)]))[0, 1] * 72.0 / figure.dpi
        assert all(abs(at[1] - level) >= 10.0 for _, at in contour_heights(figure))


@pytest.mark.parametrize("side", [-1, 1], ids=["ridge", "valley"])
def test_an_edge_at_a_contours_own_height_is_no_row_of_dots(side: int) -> None:
    """Ground that bends along a diagonal at 100.00, to rounding: whole contours there or none."""
    at = np.arange(40.0)
    across = np.subtract.outer(at, at)
    rounding = 2e-14 * np.where(np.arange(40) % 2, 1.0, -1.0)
    heights = 100.0 + side * 0.02 * np.abs(across) + np.diag(rounding)
    axes = Figure().add_subplot(xlim=(0, 39), ylim=(0, 39))
    draw_contours(axes, (at, at, heights), 0.1, (), Labels(axes))
    sets = [each for each in axes.collections if isinstance(each, QuadContourSet)]
    levels = [pair for each in sets for pair in zip(each.levels, each.allsegs, strict=True)]
    assert len(levels) > 5
    for level, parts in levels:
        for part in filter(len, parts):
            length = np.hypot(*np.diff(part, axis=0).T).sum()
            # The contour that lies the farthest out is the shortest.
            assert length > 40.0 - abs(level - 100.0) / 0.02


def test_heights_keep_apart() -> None:
    places = [at for _, at in contour_heights(terrace())]
    assert min(np.hypot(*(a - b)) for a, b in itertools.combinations(places, 2)) >= 45.0
