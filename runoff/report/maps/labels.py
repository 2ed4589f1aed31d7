"""Labels that do not overlap: each is tried at places around its anchor, the most urgent first.

In: texts with the place they belong to. Out: texts on the map with a white halo, clear of each
other and of the lines; one that finds no room is left out (the legend and the summary still name
it), but for the most urgent, which rather cross a line.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from matplotlib import patheffects
from matplotlib.axes import Axes
from matplotlib.text import Text
from matplotlib.transforms import Bbox
from numpy.typing import NDArray
from shapely import LineString, Polygon, contains_xy

HALO: list[patheffects.AbstractPathEffect] = [
    patheffects.withStroke(linewidth=2.2, foreground="white")
]
_RINGS_PT = (9.0, 15.0, 24.0, 36.0, 52.0)
_FAR_RINGS_PT = (74.0, 104.0, 144.0)
# From this urgency on a label is drawn across a line where there is no other room: downspouts, low
# spots, sides of the lot, buildings.
_MUST_STAND = 60
_BEARINGS = tuple(math.radians(angle) for angle in (45, 0, 90, 315, 135, 270, 180, 225))
_LEADER_FROM_PT = 20.0
# A crossed line costs as much as standing this far off, so that free room is always taken first.
_CROSSING_PT = 1000.0
# The corners of a box as matplotlib counts them, in their order around it.
_RING = [0, 1, 3, 2]
_PAD_PX = 2.0
_AREA_STEP_PX = 9.0


@dataclass(frozen=True)
class _Wish:
    """One label: its text, the anchors it may belong to (plan metres), and how to set it."""

    text: str
    anchors: tuple[tuple[float, float], ...]
    urgency: int
    centered: bool
    leader: bool
    fixed: bool
    inside: Polygon | None
    style: dict[str, Any] = field(default_factory=dict)


class Labels:
    """Gathers wishes for labels and obstacles on one map, and then places them."""

    def __init__(self, axes: Axes) -> None:
        self.axes = axes
        self._wishes: list[_Wish] = []
        self._hard: list[Bbox] = []
        self._edges = np.empty((0, 4))
        self._lines: list[tuple[float, float]] = []
        self._areas: list[tuple[float, float]] = []
        self._loose: list[Text] = []
        self._closed: list[Polygon] = []
        self._line_points = np.empty((0, 2))
        self._area_points = np.empty((0, 2))

    def add(
        self,
        text: str,
        at: tuple[float, float] | list[tuple[float, float]],
        urgency: int,
        centered: bool = False,
        leader: bool = True,
        fixed: bool = False,
        inside: Polygon | None = None,
        **style: Any,
    ) -> None:
        """Ask for a label.

        Parameters
        ----------
        text : str
        at : (x, y) or a list of them, plan metres
            The anchor, or several of which the first with room is taken.
        urgency : int
            Labels of higher urgency are placed first.
        centered : bool
            Whether the label lies on its anchor or beside it.
        leader : bool
            Whether a thin line may lead from a distant label to its anchor.
        fixed : bool
            Whether a centered label stands on an anchor or nowhere.
        inside : Polygon, optional
            The area (plan metres) that all of it must lie in.
        **style
            Properties of the text.
        """
        anchors = tuple(at) if isinstance(at, list) else (at,)
        self._wishes.append(_Wish(text, anchors, urgency, centered, leader, fixed, inside, style))

    def keep_clear(self, x: float, y: float, radius_pt: float) -> None:
        """Keep labels off a mark at a plan position."""
        px, py = self.axes.transData.transform((x, y))
        reach = radius_pt * self._px_per_pt
        self._hard.append(Bbox.from_extents(px - reach, py - reach, px + reach, py + reach))

    def avoid(self, line: NDArray[np.float64]) -> None:
        """Keep labels off a (k, 2) line where there is a choice."""
        points = self.axes.transData.transform(line)
        for a, b in itertools.pairwise(points):
            steps = max(1, int(math.hypot(*(b - a)) / 6.0))
            self._lines.extend(tuple(a + (b - a) * t / steps) for t in range(steps + 1))

    def avoid_area(self, area: Polygon) -> None:
        """Keep labels off an area where there is a choice."""
        px = self.axes.transData.transform(np.asarray(area.exterior.coords))
        (left, bottom), (right, top) = px.min(axis=0), px.max(axis=0)
        x, y = np.meshgrid(
            np.arange(left, right, _AREA_STEP_PX), np.arange(bottom, top, _AREA_STEP_PX)
        )
        points = np.column_stack([x.ravel(), y.ravel()])
        plan = self.axes.transData.inverted().transform(points)
        inside = contains_xy(area, plan[:, 0], plan[:, 1])
        self._areas.extend((float(a), float(b)) for a, b in points[inside])

    def lead_around(self, area: Polygon) -> None:
        """Let no thin line of a label run across an area where there is a choice."""
        px = self.axes.transData.transform(np.asarray(area.exterior.coords))
        self._closed.append(Polygon(px).buffer(-_PAD_PX))

    def add_loose(self, texts: list[Text]) -> None:
        """Texts already drawn, such as contour heights, that give way to every label."""
        self._loose.extend(texts)

    def place(self) -> None:
        """Place every label that finds room."""
        self._line_points = np.array(self._lines).reshape(-1, 2)
        self._area_points = np.array(self._areas).reshape(-1, 2)
        for wish in sorted(self._wishes, key=lambda wish: -wish.urgency):
            self._place_one(wish)
        for text in self._loose:
            box = self._box(text)
            if self._free(box):
                self._hard.append(box)
            else:
                text.remove()

    @property
    def metres_per_point(self) -> float:
        """Plan metres that one point of paper shows."""
        (x0, _), (x1, _) = self.axes.transData.inverted().transform([(0.0, 0.0), (1.0, 0.0)])
        return float(x1 - x0) * self._px_per_pt

    @property
    def _px_per_pt(self) -> float:
        return float(self._figure.dpi) / 72.0

    @property
    def _figure(self) -> Any:
        return self.axes.figure

    def _box(self, text: Text) -> Bbox:
        box = text.get_window_extent(self._figure.canvas.get_renderer())
        return Bbox.from_extents(
            box.x0 - _PAD_PX, box.y0 - _PAD_PX, box.x1 + _PAD_PX, box.y1 + _PAD_PX
        )

    def _free(self, box: Bbox) -> bool:
        frame = self.axes.bbox
        inside = (
            frame.x0 <= box.x0 and box.x1 <= frame.x1 and frame.y0 <= box.y0 and box.y1 <= frame.y1
        )
        if not inside or not self._hard:
            return inside
        left, bottom, right, top = self._hard_edges().T
        over = (left <= box.x1) & (right >= box.x0) & (bottom <= box.y1) & (top >= box.y0)
        return not bool(over.any())

    def _hard_edges(self) -> NDArray[np.float64]:
        """(n, 4) edges of what no label may cover, gathered again where there is more of it."""
        if len(self._edges) != len(self._hard):
            self._edges = np.array([box.extents for box in self._hard])
        return self._edges

    def _fits(self, box: Bbox, area: Polygon) -> bool:
        """Whether a box (pixels) lies in an area of the plan."""
        return area.contains(
            Polygon(self.axes.transData.inverted().transform(box.corners()[_RING]))
        )

    def _place_one(self, wish: _Wish) -> None:
        style: dict[str, Any] = {"fontsize": 8, "color": "black", "path_effects": HALO}
        style |= {"zorder": 20, "parse_math": False} | wish.style
        text = self.axes.text(0, 0, wish.text, ha="center", va="center", **style)
        # Its box is measured once, where it was made, and moved to each place that is tried.
        made, (left, bottom) = self._box(text), self.axes.transData.transform((0.0, 0.0))
        best: tuple[float, float, float, tuple[float, float], float] | None = None
        for order, anchor in enumerate(wish.anchors):
            for offset, (x, y) in self._candidates(wish, anchor, made):
                box = made.translated(x - left, y - bottom)
                if not self._free(box) or not (wish.inside is None or self._fits(box, wish.inside)):
                    continue
                crossed = _points_under(box, self._line_points)
                if crossed and wish.urgency < _MUST_STAND:
                    continue
                # A centered label names the area it lies on, which then is no hindrance.
                covered = 0 if wish.centered else _points_under(box, self._area_points)
                crossed += wish.leader and self._leads_across(anchor, box, offset)
                cost = _CROSSING_PT * crossed + 10.0 * covered + offset + 1.5 * order
                if best is None or cost < best[0]:
                    best = (cost, x, y, anchor, offset)
        if best is None:
            text.remove()
            return
        _, x, y, anchor, offset = best
        text.set_position(tuple(self.axes.transData.inverted().transform((x, y))))
        self._hard.append(self._box(text))
        if wish.leader and offset > _LEADER_FROM_PT:
            self._lead(text, anchor)

    def _candidates(
        self, wish: _Wish, anchor: tuple[float, float], box: Bbox
    ) -> list[tuple[float, tuple[float, float]]]:
        """(distance from the anchor in points, center in pixels) of the places to try for a box."""
        ax, ay = self.axes.transData.transform(anchor)
        places = [(0.0, (ax, ay))] if wish.centered else []
        if wish.fixed:
            return places
        for ring in (*_RINGS_PT, *_FAR_RINGS_PT) if wish.leader else _RINGS_PT:
            for angle in _BEARINGS:
                dx, dy = math.cos(angle), math.sin(angle)
                reach = ring * self._px_per_pt
                beside = (
                    ax + dx * reach + _sign(dx) * box.width / 2.0,
                    ay + dy * reach + _sign(dy) * box.height / 2.0,
                )
                places.append((ring, beside))
        return places if wish.leader or wish.centered else places[: 2 * len(_BEARINGS)]

    def _leads_across(self, anchor: tuple[float, float], box: Bbox, offset: float) -> bool:
        """Whether the line from a distant label to its anchor would run across a closed area."""
        if offset <= _LEADER_FROM_PT or not self._closed:
            return False
        return any(LineString(self._line_to(anchor, box)).intersects(area) for area in self._closed)

    def _line_to(self, anchor: tuple[float, float], box: Bbox) -> NDArray[np.float64]:
        """From an anchor to the nearest of a label's box, (2, 2) pixels."""
        ax, ay = self.axes.transData.transform(anchor)
        return np.array([(ax, ay), (np.clip(ax, box.x0, box.x1), np.clip(ay, box.y0, box.y1))])

    def _lead(self, text: Text, anchor: tuple[float, float]) -> None:
        near = self._line_to(anchor, self._box(text))[1]
        x, y = self.axes.transData.inverted().transform(near)
        self.axes.plot([anchor[0], x], [anchor[1], y], color="0.25", linewidth=0.6, zorder=19)


def _points_under(box: Bbox, points: NDArray[np.float64]) -> int:
    """How many of the (n, 2) points lie under a box, both in pixels."""
    x, y = points.T
    return int(((x > box.x0) & (x < box.x1) & (y > box.y0) & (y < box.y1)).sum())


def _sign(value: float) -> float:
    """-1, 0 or 1; what is rounding about zero counts as 0."""
    return 0.0 if abs(value) < 1e-9 else math.copysign(1.0, value)
