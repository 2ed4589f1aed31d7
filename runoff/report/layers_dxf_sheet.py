"""A drawing's model space that takes plan metres: lines, areas, circles and labels on layers.

In: plan metres. Out: entities in the drawing's unit, on the map where the plan lies on one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from ezdxf.enums import TextEntityAlignment
from ezdxf.layouts.layout import Modelspace
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import Polygon

from runoff.report.layers_dxf_text import drawing_text
from runoff.report.layers_place import Place

_WIDE, _PITCH = 0.75, 1.5  # heights of text: a letter's width, from line to line
_MOVES = (0, -1, 1, -2, 2, -3, 3)


@dataclass(frozen=True)
class Unit:
    """A unit of length of a drawing: its name, metres in it, and its ``$INSUNITS`` code."""

    name: str
    metres: float
    code: int


@dataclass(frozen=True)
class Sheet:
    """Where entities go; `taken` is the ground under the texts so far."""

    space: Modelspace
    place: Place
    unit: Unit
    text_height_m: float = 0.15
    taken: list[Polygon] = field(default_factory=list)

    def points(self, plan: ArrayLike) -> NDArray[np.float64]:
        """Drawing coordinates, (n, 2), of plan positions in metres."""
        on_map = self.place.points(np.asarray(plan, dtype=np.float64).reshape(-1, 2))
        return on_map * (self.place.metres_per_unit / self.unit.metres)

    def line(self, layer: str, way: ArrayLike, closed: bool = False) -> None:
        """A line through (k, 2) positions."""
        points = [(float(x), float(y)) for x, y in self.points(way)]
        self.space.add_lwpolyline(points, close=closed, dxfattribs={"layer": layer})

    def area(self, layer: str, area: Polygon) -> None:
        """The edges of an area, holes too."""
        for ring in (area.exterior, *area.interiors):
            self.line(layer, np.asarray(ring.coords)[:-1, :2], closed=True)

    def circle(self, layer: str, center: tuple[float, float], radius_m: float) -> None:
        """A circle."""
        x, y = self.points(center)[0]
        radius = radius_m / self.unit.metres
        self.space.add_circle((float(x), float(y)), radius, dxfattribs={"layer": layer})

    def label(
        self,
        words: str,
        at: tuple[float, ...],
        toward: tuple[float, float] = (1.0, 0.0),
        fixed: bool = False,
    ) -> None:
        """A text that starts at a place and runs toward a direction of the plan, never overhead.

        It moves aside where a text stands already, unless it is `fixed`.
        """
        turn, overhead = self._turn(toward)
        x, y = self.points(self._free(words, at, toward, fixed))[0]
        text = self.space.add_text(
            drawing_text(words),
            height=self.text_height_m / self.unit.metres,
            rotation=turn + 180.0 if overhead else turn,
            dxfattribs={"layer": "TEXT"},
        )
        side = TextEntityAlignment.MIDDLE_RIGHT if overhead else TextEntityAlignment.MIDDLE_LEFT
        text.set_placement((float(x), float(y)), align=side)

    def _free(
        self, words: str, at: tuple[float, ...], toward: tuple[float, float], fixed: bool
    ) -> NDArray[np.float64]:
        """The first place beside `at` where the text covers no other."""
        ahead = np.array(toward) / math.hypot(*toward)
        aside = np.array([-ahead[1], ahead[0]])
        long, half = len(words) * _WIDE * self.text_height_m, 0.5 * self.text_height_m
        start = np.array(at[:2])
        for lines in (0,) if fixed else _MOVES:
            moved = start + lines * _PITCH * self.text_height_m * aside
            far = moved + long * ahead
            box = Polygon(
                [moved - half * aside, far - half * aside, far + half * aside, moved + half * aside]
            )
            if not any(box.intersects(other) for other in self.taken):
                break
        else:
            moved = start
        self.taken.append(box)
        return moved

    def reads_to_left(self, toward: tuple[float, float]) -> bool:
        """Whether the lines of labels that run toward a direction follow each other to its left."""
        return self._turn(toward)[1]

    def _turn(self, toward: tuple[float, float]) -> tuple[float, bool]:
        """A direction of the plan in the drawing, degrees, and whether a text would be overhead."""
        start, ahead = self.points([(0.0, 0.0), toward])
        turn = math.degrees(math.atan2(ahead[1] - start[1], ahead[0] - start[0]))
        return turn, not -90.0 < turn <= 90.0
