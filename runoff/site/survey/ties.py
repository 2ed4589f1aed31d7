"""Points by tape ties and by names: distances from points whose position is known.

In: positions of spot heights and of buildings' corners, plan metres. Out: where ties from them
meet, or what is expected instead.

In: positions and distances in plan metres. Out: the position, with the residual of each tie where
there are more than two, or `TieError` saying by how much they do not close.

Two ties and the side they meet on are a triangle with three known sides: with c the distance
between the known points, the foot of the height on that line lies (a2 + c2 - b2) / 2c from the
first, and the height is the square root of a2 less its square.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from runoff.quantities import format_length
from runoff.site.model import Building, Side
from runoff.site.notices import Notice
from runoff.site.problems import hint, shorten


@dataclass
class NamedPoints:
    """Points that can be taped from.

    Parameters
    ----------
    system : {"us", "metric"}
        The measures to show.
    allowed : float, metres
        What ties, or the runs of an outline, may miss by.
    share : float
        What the runs of an outline may miss by, by their length, where that is more.
    """

    system: str
    allowed: float
    share: float = 0.0
    at: dict[str, Position] = field(default_factory=dict)
    notices: list[Notice] = field(default_factory=list)

    def add_corners(self, buildings: Iterable[Building]) -> None:
        """Name the corners of each building ``house 1``, ``house 2``, ... in their order."""
        for building in buildings:
            corners = np.asarray(building.outline.exterior.coords)[:-1, :2]
            for number, (x, y) in enumerate(corners, 1):
                self.at.setdefault(f"{building.name} {number}", (float(x), float(y)))

    def show(self, metres: float) -> str:
        """A length for the user."""
        return format_length(metres, self.system)

    def unknown(self, names: Iterable[str]) -> list[str]:
        """Those of the names that no point has."""
        return [name for name in names if name not in self.at]

    def expected(self, name: str, others: Iterable[str] = ()) -> str:
        """What is expected in place of a name that no point has."""
        known = hint(name, [*self.at, *others])
        if len(known) > 200:
            known = 'such as "P1", or "house 1" for a corner of a building'
        return f"the name of a point to tape from, {known}"

    def tied(
        self, ties: Sequence[tuple[str, float]], side: Side | None, near: str | None, what: str
    ) -> Position:
        """Where ties of (point, metres) meet; what the user should know of it goes to the notices.

        Raises
        ------
        TieError
        """
        taped = [Tie(name, self.at[name], distance) for name, distance in ties]
        aim = None if near is None else self.at[near]
        found = locate(taped, side, aim, self.allowed, self.show)
        self._say(taped, found, what)
        return found.position

    def _say(self, ties: Sequence[Tie], found: Located, what: str) -> None:
        points = [tie.point for tie in ties]
        if found.on_line > 0.0:
            told = (what, *points[:2])
            self.notices.append(Notice("ties miss each other", told, {"off_m": found.on_line}))
        elif is_weak(ties, found.position):
            spread = {"spread_m_per_m": found.spread}
            self.notices.append(Notice("ties meet sharply", (what,), spread))
        if len(ties) > 2:
            residuals = {"residuals_m": tuple(map(float, found.residuals))}
            self.notices.append(Notice("ties adjusted", (what, *points), residuals))


def shown_ties(ties: Iterable[tuple[str, float]], show: NamedPoints) -> str:
    """Ties as they might be written."""
    return shorten(", ".join(f"{name} {show.show(distance)}" for name, distance in ties))


# Ties that meet at less than this angle, or at more than 180 degrees less it, are weak.
WEAK_DEGREES = 20.0
LEAST_BASE_M = 1e-3
# Where both sides fit about as well as this, they cannot be told apart.
_SAME_FIT = 2.0

Position = tuple[float, float]
Show = Callable[[float], str]


class TieError(ValueError):
    """Ties that give no position; its text says what is expected."""


@dataclass(frozen=True)
class Tie:
    """A distance (m) taped from a named point at a known position on the plan."""

    point: str
    at: Position
    distance: float


@dataclass(frozen=True)
class Located:
    """Where ties put a point.

    `residuals` are taped less computed distances (m), one a tie. `spread` is how far the point can
    move for each unit by which every tie may be off, to first order: 1 / min(sin(g/2), cos(g/2))
    for two ties that meet at the angle g. `on_line` is what a triangle lacked to close (m), taken
    as rounding: the point then lies on the line through both known points.
    """

    position: Position
    residuals: tuple[float, ...]
    spread: float
    on_line: float = 0.0


def two_ties(first: Tie, second: Tie, side: Side) -> Position:
    """The point at two taped distances, on one side of the line from the first to the second.

    Raises
    ------
    TieError
        Where the triangle does not close; the message states by how much.

    Examples
    --------
    >>> two_ties(Tie("A", (0.0, 0.0), 3.0), Tie("B", (5.0, 0.0), 4.0), "left")
    (1.8, 2.4)
    """
    along, height, misfit = _triangle(first, second)
    if misfit > 0.0:
        raise TieError(f"ties that close; they miss by {misfit:.3f} m")
    return _place(first, second, along, height if side == "left" else -height)


def locate(
    ties: Sequence[Tie],
    side: Side | None,
    near: Position | None,
    allowed: float,
    show: Show,
) -> Located:
    """Where ties put a point: by the triangle for two, by least squares for more.

    Parameters
    ----------
    ties : sequence of Tie
        At least two, from different points.
    side : {"left", "right"} or None
        Which side of the line from the first tie's point to the second's.
    near : (x, y) or None
        A position nearer to the point than to its mirror image, in place of a side.
    allowed : float, metres
        What a triangle may lack to close, and a tie may be off by, as taping.
    show : callable
        Writes a length for the user.

    Raises
    ------
    TieError
    """
    for one, other in combinations(ties, 2):
        if math.dist(one.at, other.at) < LEAST_BASE_M:
            raise TieError(f"ties from different points; {one.point!r} and {other.point!r} are one")
    if len(ties) == 2:
        return _two(ties[0], ties[1], side, near, allowed, show)
    return _several(ties, side, near, allowed, show)


def _triangle(first: Tie, second: Tie) -> tuple[float, float, float]:
    """Distance along the base, height over it, and what the triangle lacks to close (m)."""
    a, b, base = first.distance, second.distance, math.dist(first.at, second.at)
    misfit = max(base - a - b, abs(a - b) - base, 0.0)
    along = (a * a + base * base - b * b) / (2.0 * base)
    if misfit > 0.0:
        along = max(-a, min(along, a))
        return along, 0.0, misfit
    return along, math.sqrt(max(a * a - along * along, 0.0)), 0.0


def _place(first: Tie, second: Tie, along: float, left: float) -> Position:
    base = math.dist(first.at, second.at)
    ux, uy = (second.at[0] - first.at[0]) / base, (second.at[1] - first.at[1]) / base
    return first.at[0] + along * ux - left * uy, first.at[1] + along * uy + left * ux


def _two(
    first: Tie, second: Tie, side: Side | None, near: Position | None, allowed: float, show: Show
) -> Located:
    along, height, misfit = _triangle(first, second)
    if misfit > allowed:
        base = show(math.dist(first.at, second.at))
        long = first.distance + second.distance < math.dist(first.at, second.at)
        why = "too short to meet" if long else "such that one circle lies within the other"
        raise TieError(
            f"ties that meet; {show(first.distance)} from {first.point!r} and "
            f"{show(second.distance)} from {second.point!r}, {base} apart, are {why}: they miss "
            f"by {show(misfit)}"
        )
    places = [_place(first, second, along, left) for left in (height, -height)]
    if height == 0.0:
        position = places[0]
    elif side is not None:
        position = places[side == "right"]
    elif near is not None:
        position = min(places, key=lambda place: math.dist(place, near))
    else:
        raise TieError(
            f'the side on which the ties meet: "left" or "right" of the line from '
            f'{first.point!r} to {second.point!r}, or "near" a named point'
        )
    residuals = tuple(tie.distance - math.dist(tie.at, position) for tie in (first, second))
    return Located(position, residuals, spread_of([first, second], position), misfit)


def _several(
    ties: Sequence[Tie], side: Side | None, near: Position | None, allowed: float, show: Show
) -> Located:
    """Least squares from both sides of the line through the first two points."""
    along, height, _ = _triangle(ties[0], ties[1])
    height = max(height, 0.1 * ties[0].distance)
    found = [_adjust(ties, _place(ties[0], ties[1], along, left)) for left in (height, -height)]
    costs = [math.sqrt(float(np.mean(np.square(_residuals(ties, place))))) for place in found]
    alike = max(costs) <= max(_SAME_FIT * min(costs), allowed) and math.dist(*found) > allowed
    if side is not None:
        place = found[side == "right"]
        _same_side(ties, place, side, show)
    elif alike and near is not None:
        place = min(found, key=lambda each: math.dist(each, near))
    elif alike:
        raise TieError(
            'the side on which the ties meet, "left" or "right" of the line from '
            f"{ties[0].point!r} to {ties[1].point!r}, as both fit"
        )
    else:
        place = found[costs.index(min(costs))]
    residuals = _residuals(ties, place)
    if np.abs(residuals).max() > allowed:
        raise TieError(_misfit(ties, residuals, allowed, show))
    return Located(place, tuple(float(r) for r in residuals), spread_of(ties, place))


def _same_side(ties: Sequence[Tie], place: Position, side: Side, show: Show) -> None:
    (ax, ay), (bx, by) = ties[0].at, ties[1].at
    across = (bx - ax) * (place[1] - ay) - (by - ay) * (place[0] - ax)
    if across != 0.0 and (across > 0.0) != (side == "left"):
        other = "right" if side == "left" else "left"
        raise TieError(
            f"ties that meet on the {side} of the line from {ties[0].point!r} to "
            f"{ties[1].point!r}; together they fit on its {other}, "
            f"{show(abs(across) / math.dist(ties[0].at, ties[1].at))} from it"
        )


def _misfit(ties: Sequence[Tie], residuals: NDArray[np.float64], allowed: float, show: Show) -> str:
    """Which ties do not fit; the one without which the others do is named."""
    told = ", ".join(
        f"{tie.point!r} {'+' if off > 0 else '-'}{show(abs(off))}"
        for tie, off in zip(ties, residuals, strict=True)
    )
    blamed = ""
    if len(ties) > 3:
        for tie in ties:
            rest = [other for other in ties if other is not tie]
            start = _adjust(ties, _mean(ties))
            place = _adjust(rest, start)
            if np.abs(_residuals(rest, place)).max() <= allowed:
                off = tie.distance - math.dist(tie.at, place)
                blamed = (
                    f"; without the one from {tie.point!r}, which is {show(abs(off))} too "
                    f"{'long' if off > 0 else 'short'}, the others fit"
                )
                break
    return f"ties that fit together to {show(allowed)}; they are off by {told}{blamed}"


def _mean(ties: Sequence[Tie]) -> Position:
    x, y = np.mean([tie.at for tie in ties], axis=0)
    return float(x), float(y)


def _residuals(ties: Sequence[Tie], place: Position) -> NDArray[np.float64]:
    return np.array([tie.distance - math.dist(tie.at, place) for tie in ties])


def _adjust(ties: Sequence[Tie], start: Position) -> Position:
    """The position whose distances fit the taped ones best, by least squares from `start`."""
    from scipy.optimize import least_squares

    anchors = np.array([tie.at for tie in ties])
    taped = np.array([tie.distance for tie in ties])
    fit = least_squares(
        lambda place: np.hypot(*(anchors - place).T) - taped, start, xtol=1e-12, ftol=1e-12
    )
    return float(fit.x[0]), float(fit.x[1])


def spread_of(ties: Sequence[Tie], place: Position) -> float:
    """How far a point can move for each unit that its ties may all be off by, to first order.

    For two ties that meet at the angle g, 1 / min(sin(g/2), cos(g/2)); for more, the largest
    movement that errors of one unit in each tie give. Infinite where they only meet in a line.

    Examples
    --------
    >>> round(spread_of([Tie("A", (0, 0), 1), Tie("B", (2, 0), 1.4)], (0.0, 1.0)), 3)
    1.902
    """
    away = np.array([np.subtract(place, tie.at) for tie in ties], dtype=np.float64)
    lengths = np.hypot(*away.T)
    if not (lengths > 0.0).all():
        return math.inf
    design = away / lengths[:, None]
    if np.linalg.matrix_rank(design, tol=1e-9) < 2:
        return math.inf
    moves = np.linalg.pinv(design)
    signs = np.array(np.meshgrid(*[[-1.0, 1.0]] * len(ties))).reshape(len(ties), -1)
    return float(np.hypot(*(moves @ signs)).max())


def is_weak(ties: Sequence[Tie], place: Position) -> bool:
    """Whether no two of the ties meet at a good angle.

    Examples
    --------
    >>> is_weak([Tie("A", (0, 0), 10), Tie("B", (1, 0), 10)], (0.5, 9.99))
    True
    """
    for one, other in combinations(ties, 2):
        a, b = np.subtract(one.at, place), np.subtract(other.at, place)
        angle = math.degrees(abs(math.atan2(a[0] * b[1] - a[1] * b[0], float(a @ b))))
        if WEAK_DEGREES <= angle <= 180.0 - WEAK_DEGREES:
            return False
    return True
