"""What stands on the lot, on the map: a courtyard is open, whichever way its corners go round."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from shapely.geometry import Polygon

from runoff.report import BUILDING, patch_of

HOUSE = [(0, 0), (36, 0), (36, 28), (0, 28)]
COURTS = ([(4, 5), (14, 5), (14, 23), (4, 23)], [(20, 8), (20, 20), (30, 20), (30, 8)])
GRAY = (round(to_rgb(BUILDING["facecolor"])[0] * 255),) * 3
WHITE = (255,) * 3


def picture_of(outline: Polygon) -> np.ndarray:
    """A picture of a building on white, 10 pixels to the unit, its lower left corner at -1, -1."""
    figure = Figure(figsize=(3.8, 3.0), dpi=100)
    canvas = FigureCanvasAgg(figure)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0), xlim=(-1, 37), ylim=(-1, 29), frame_on=False)
    axes.add_patch(patch_of(outline, **BUILDING))
    canvas.draw()
    return np.asarray(canvas.buffer_rgba())[::-1, :, :3]


def shade_at(picture: np.ndarray, x: float, y: float) -> tuple[int, ...]:
    return tuple(int(part) for part in picture[int(10 * (y + 1)), int(10 * (x + 1))])


@pytest.mark.parametrize("house_back", [False, True])
@pytest.mark.parametrize("courts_back", [False, True])
def test_courtyard_is_not_filled(house_back: bool, courts_back: bool) -> None:
    """Two courts, one in each turning, and both the other way round."""
    house = HOUSE[::-1] if house_back else HOUSE
    courts = [court[::-1] if courts_back else court for court in COURTS]
    picture = picture_of(Polygon(house, courts))
    assert {shade_at(picture, x, 2.0) for x in (2, 9, 17, 25, 34)} == {GRAY}
    assert shade_at(picture, 17, 14) == GRAY
    for place in ((9, 7), (5, 21), (13, 21), (25, 14), (29, 19)):
        assert shade_at(picture, *place) == WHITE
