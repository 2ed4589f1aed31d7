"""Tape ties against the closed-form triangle, scipy's least squares, and lots that are made up.

The closed form is the law of cosines; scipy's `least_squares` is called here from the true place
with another method than the reader's own, so that both must find the same minimum.
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from runoff.quantities import format_length
from runoff.site import Tie, TieError, locate, spread_of, two_ties

ALLOWED = 2 * 0.0254
EIGHTH = 0.0254 / 8


def found(ties, side=None, near=None, allowed=ALLOWED):
    return locate(ties, side, near, allowed, format_length)


def taped(place, anchors, errors=None):
    errors = errors or [0.0] * len(anchors)
    return [
        Tie(name, at, math.dist(at, place) + error)
        for (name, at), error in zip(anchors.items(), errors, strict=True)
    ]


coordinates = st.floats(-30, 30)
places = st.tuples(coordinates, coordinates)


@settings(max_examples=300, deadline=None)
@given(places, places, places)
def test_two_ties_are_the_closed_form_triangle(a, b, place):
    """The angle at the first point by the law of cosines, turned from the line to the second."""
    base = math.dist(a, b)
    ties = taped(place, {"A": a, "B": b})
    across = (b[0] - a[0]) * (place[1] - a[1]) - (b[1] - a[1]) * (place[0] - a[0])
    if base < 1 or min(tie.distance for tie in ties) < 1 or abs(across) / base < 0.5:
        return
    side = "left" if across > 0 else "right"
    one, other = (tie.distance for tie in ties)
    angle = math.acos((one**2 + base**2 - other**2) / (2 * one * base))
    heading = math.atan2(b[1] - a[1], b[0] - a[0]) + (angle if side == "left" else -angle)
    by_angle = (a[0] + one * math.cos(heading), a[1] + one * math.sin(heading))
    assert two_ties(*ties, side) == pytest.approx(by_angle, abs=1e-6)
    assert found(ties, side).position == pytest.approx(place, abs=1e-6)
    assert found(ties, near=place).position == pytest.approx(place, abs=1e-6)


def test_a_triangle_of_whole_numbers():
    """3, 4, 5."""
    assert two_ties(Tie("A", (0, 0), 3), Tie("B", (5, 0), 4), "right") == pytest.approx((1.8, -2.4))


ANCHORS = {"A": (0.0, 0.0), "B": (10.0, 0.0), "C": (10.0, 7.0), "D": (-1.0, 8.0)}


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("count", [3, 4])
def test_more_ties_are_least_squares(seed, count):
    draw = np.random.default_rng(seed)
    place = draw.uniform(-6, 16, 2)
    anchors = dict(list(ANCHORS.items())[:count])
    ties = taped(tuple(place), anchors, list(draw.normal(0, 0.01, count)))
    located = found(ties, allowed=0.2)
    at = np.array([tie.at for tie in ties])
    distances = np.array([tie.distance for tie in ties])
    peer = least_squares(lambda p: np.hypot(*(at - p).T) - distances, place, method="lm")
    assert located.position == pytest.approx(tuple(peer.x), abs=1e-6)
    residuals = [tie.distance - math.dist(tie.at, located.position) for tie in ties]
    assert located.residuals == pytest.approx(residuals)


def test_a_third_tie_tells_the_side():
    place = (4.0, -5.0)
    assert found(taped(place, dict(list(ANCHORS.items())[:3]))).position == pytest.approx(place)


def test_a_near_point_tells_the_side_where_the_known_points_lie_on_a_line():
    anchors = {"A": (0.0, 0.0), "B": (3.0, 0.0), "C": (6.1, 0.0)}
    ties = taped((4.0, -5.0), anchors, [0.01, -0.01, 0.005])
    assert found(ties, near=(0.0, -1.0)).position == pytest.approx((4.0, -5.0), abs=0.03)
    assert found(ties, near=(9.0, 1.0)).position == pytest.approx((4.0, 5.0), abs=0.03)


@pytest.mark.parametrize(
    ("ties", "side", "said"),
    [
        # 12 m and 7 m from points 20 m apart lack 1 m; 25 m and 3 m overreach by 2 m.
        ([("A", (0, 0), 12), ("B", (20, 0), 7)], "left", "too short to meet: they miss by 3 ft 3"),
        ([("A", (0, 0), 25), ("B", (20, 0), 3)], "left", "within the other: they miss by 6 ft 6"),
        ([("A", (0, 0), 12), ("B", (20, 0), 12)], None, '"left" or "right" of the line from \'A\''),
        ([("A", (0, 0), 12), ("B", (0, 0), 7)], "left", "'A' and 'B' are one"),
        # Three points on one line do not tell the side.
        ([("A", (0, 0), 5), ("B", (3, 0), 4), ("C", (6, 0), 5)], None, "as both fit"),
        ([("A", (0, 0), 5), ("B", (6, 0), 5), ("C", (3, 9), 5)], "right", "fit on its left"),
        ([("A", (0, 0), 5), ("B", (6, 0), 5), ("C", (3, 9), 6)], "left", "they are off by 'A'"),
    ],
)
def test_ties_that_give_no_place(ties, side, said):
    with pytest.raises(TieError) as caught:
        found([Tie(*tie) for tie in ties], side)
    assert said in str(caught.value)


def test_the_tie_that_does_not_fit_is_named():
    ties = taped((4.0, 3.0), ANCHORS, [0, 0, 0.3048, 0])
    with pytest.raises(TieError, match="without the one from 'C', which is 1 ft too long"):
        found(ties)


def test_a_point_on_the_line_may_lack_what_the_tape_does():
    located = found([Tie("A", (0, 0), 4.0), Tie("B", (10, 0), 5.999)], "left")
    assert located.on_line == pytest.approx(0.001)
    assert located.position == pytest.approx((4.0, 0.0), abs=1e-3)


@settings(max_examples=300, deadline=None)
@given(places, places, places)
def test_rounding_moves_a_point_by_no_more_than_its_ties_geometry(a, b, place):
    """e / min(sin(g/2), cos(g/2)), and its second order.

    Two ties that meet at the angle g, each off by at most e = 1/16 in, move the point by at most
    m = e / min(sin(g/2), cos(g/2)) to first order: the farther corner of the rhombus between two
    strips of width 2e. The arcs bend away from the strips by m^2 / 2d for each tie of length d,
    which moves the point by as much again over the same sine.
    """
    one, other = math.dist(a, place), math.dist(b, place)
    if math.dist(a, b) < 1 or min(one, other) < 1:
        return
    first, second = (np.subtract(place, at) / math.dist(place, at) for at in (a, b))
    angle = math.acos(max(-1.0, min(1.0, float(first @ second))))
    if not math.radians(20) < angle < math.radians(160):
        return
    ties = [Tie(t.point, t.at, round(t.distance / EIGHTH) * EIGHTH)
            for t in taped(place, {"A": a, "B": b})]  # fmt: skip
    narrow = min(math.sin(angle / 2), math.cos(angle / 2))
    reach = EIGHTH / 2 / narrow
    bound = (EIGHTH / 2 + (2 * reach) ** 2 / (2 * min(one, other))) / narrow
    assert math.dist(found(ties, near=place).position, place) <= bound
    spread = spread_of(taped(place, {"A": a, "B": b}), place)
    assert spread == pytest.approx(1 / narrow, rel=1e-6)
