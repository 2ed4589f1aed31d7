"""The extension against trying all of them one by one, with loops and geometry of its own.

Only what the water does after the end is asked of the ground, as for any place of it.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from runoff.discharge import reaches_foundation, reaches_neighbor, surface_extension
from runoff.site import KeepOut, Site
from tests.lots.records import WRITTEN
from tests.lots.walls import a_slab
from tests.lots.ways import (
    HOUSE,
    a_downspout,
    a_lot,
    a_plot,
    dished,
    from_the_house,
    on_ground,
    some_water,
)

FOOT = 0.3048


def box(left, bottom, right, top):
    return [(left, bottom), (right, bottom), (right, top), (left, top)]


def askew(x, y):
    """A plane that falls 2 % down the plan and 3 % to the right."""
    return 100.0 + 0.02 * y - 0.03 * x


def rolling(x, y):
    """A dished strip at the house, a fall of 2 % down the plan, and a low roll across it."""
    return dished(x, y) + 0.02 * y + 0.04 * np.sin(0.8 * x)


def walks_on_a_plane() -> tuple[Site, object]:
    walks = (
        a_slab("walk", box(1.2, -15.0, 2.4, -4.5)),
        a_slab("drive", box(6.6, -15.0, 10.0, 4.5)),
    )
    return a_plot(a_downspout(3.0, -4.6), paving=walks), askew


def dished_near_a_lot_line() -> tuple[Site, object]:
    lot = a_lot(*["open ground"] * 4, box=(-15.0, -7.3, 15.0, 15.0))
    return a_plot(a_downspout(-4.8, -4.6), lot=lot), dished


def rolling_with_a_ledge() -> tuple[Site, object]:
    ledge = KeepOut(
        "ledge",
        "retaining wall",
        a_slab("walk", box(-2, -6.0, 3, -5.8)).outline,
        "nothing",
        WRITTEN,
    )
    walk = (a_slab("walk", box(-5.0, -12.0, -3.5, -4.5)),)
    return a_plot(a_downspout(0.4, -4.65), keep_outs=(ledge,), paving=walk), rolling


LOTS = (walks_on_a_plane, dished_near_a_lot_line, rolling_with_a_ledge)


def bounds(shape):
    return shape.bounds


def distance_to_box(x, y, edges):
    left, bottom, right, top = edges
    return math.hypot(max(left - x, 0, x - right), max(bottom - y, 0, y - top))


def inside(x, y, edges, inset):
    left, bottom, right, top = edges
    return left + inset < x < right - inset and bottom + inset < y < top - inset


def may_be(site: Site, ground, surface, bearing, feet) -> bool:
    """Whether one extension may be laid, from the plan, the surface and the storm."""
    spout = site.downspouts[0]
    length = feet * FOOT
    to_x, to_y = math.sin(math.radians(bearing)), math.cos(math.radians(bearing))
    x, y = spout.x + length * to_x, spout.y + length * to_y
    if distance_to_box(x, y, HOUSE) < 5 * FOOT or ground.reason_against(x, y) != "safe":
        return False
    shut = [(bounds(p.outline), 0.01) for p in site.paving]
    shut += [(bounds(k.area), 0.0) for k in site.keep_outs] + [(HOUSE, 0.05)]
    steps = max(int(length / 0.01), 1)
    for step in range(steps + 1):
        at_x, at_y = spout.x + length * to_x * step / steps, spout.y + length * to_y * step / steps
        if any(inside(at_x, at_y, edges, inset) for edges, inset in shut):
            return False
    if any(distance_to_box(x, y, bounds(p.outline)) < 3 * FOOT for p in site.paving):
        return False
    left, bottom, right, top = site.lot.boundary.bounds
    away = {"front": y - bottom, "rear": top - y, "left": x - left, "right": right - x}
    for side in site.lot.sides:
        if side.neighbor != "street" and away[side.name] < 5 * FOOT:
            return False
    foot, end = ground.height(spout.x, spout.y), surface(x, y)
    high = foot + 0.1524
    if high - end < 0.01 * length:
        return False
    for step in range(steps):
        share = step / steps
        z = surface(spout.x + length * to_x * share, spout.y + length * to_y * share)
        if z - 0.006 > high + share * (end - high):
            return False
    answer = ground.answer_at(spout, x, y)
    if reaches_foundation(ground, answer) or reaches_neighbor(answer):
        return False
    return answer.end.kind != "survey edge" and not soon_on_a_walk(site, answer.path)


def soon_on_a_walk(site: Site, path) -> bool:
    gone = 0.0
    for here, there in pairwise(path):
        leg = math.dist(here, there)
        for step in range(101):
            if gone + leg * step / 100 > 10 * FOOT:
                return False
            x, y = (here[k] + (there[k] - here[k]) * step / 100 for k in (0, 1))
            if any(distance_to_box(x, y, bounds(p.outline)) == 0 for p in site.paving):
                return True
        gone += leg
    return False


@pytest.mark.parametrize("lot", LOTS, ids=lambda lot: lot.__name__)
def test_the_same_as_trying_all(lot):
    site, surface = lot()
    ground = on_ground(site, surface)
    best = None
    for feet in range(1, 21):
        for bearing in range(0, 360, 5):
            if may_be(site, ground, surface, bearing, feet):
                spout = site.downspouts[0]
                turn = math.radians(bearing)
                low = surface(
                    spout.x + feet * FOOT * math.sin(turn), spout.y + feet * FOOT * math.cos(turn)
                )
                if best is None or low < best[0] - 1e-6:
                    best = low, feet, bearing
        if best is not None:
            break
    assert best is not None
    made = surface_extension(ground, site.downspouts[0], some_water())
    assert (round(made.length_m / FOOT), made.bearing) == best[1:]
    # None of the three is the plain one, straight out from the wall and just over 5 ft.
    assert best[1:] != (5, 180)
    assert from_the_house(*made.end) >= 5 * FOOT
