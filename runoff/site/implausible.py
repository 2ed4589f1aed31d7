"""What cannot be so on a house lot, asked about before anything is worked out from it.

In: heights and places as read, metres. Out: a complaint a mistake, with what was seen and what to
check. Limits are wide: a yard may be steep and odd, but it is ground, and its house stands on it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import union_all
from shapely.geometry import LineString, Point

from runoff.quantities import format_length
from runoff.site.lot import ON_LOT
from runoff.site.model import Building, Lot, SpotHeight
from runoff.site.notices import Notice
from runoff.site.problems import Complaints, Problem

if TYPE_CHECKING:
    from runoff.rules import Rules

FILLS = (0.0, 9999.0, -9999.0, 99999.0, -99999.0, -32768.0, 32767.0)
"""Figures that stand in many tables for *not known*, in the table's unit."""
STEEPEST = 2.0
"""No yard climbs at more than 2 to 1 from the shots around; no soil stands so (common practice)."""
_AROUND = 5
_FEWEST_TO_JUDGE = 20
"""Fewer shots than this show no pattern that a shuffled list could not show."""
_TURF = 0.015
"""Shots that stray less than this, metres, from those around them are a flat yard's turf."""
_LIKE_SHUFFLED = 1.35
"""Shuffled heights stray 2 to 9 times as far as surveyed ones; these stray less than this times."""
_SLIPPED = 0.78
_SHUFFLES = 12
_MOST_NAMED = 5
_BENCHMARK_OFF = 3
"""A mark may stand up the road: so many times `height_off_ground` are let pass."""
_ON_LINE = 0.98
"""A house with more of its ground than this on the lot stands on it, as outlines are drawn."""
_HALF = 0.5


def question_heights(
    spots: Sequence[SpotHeight],
    benchmark: float | None,
    rules: Rules,
    unit: float,
    complaints: Complaints,
) -> list[Notice]:
    """Complain of heights that no yard has, and of a list that its own smoothness denies.

    A height that is more than `height_off_ground` from those of most shots around it, and steeper
    from each than 2 to 1, is no ground. Heights that stray from those around them as much as the
    same heights do when they are shuffled may stand at the wrong shots.

    Parameters
    ----------
    spots : sequence of SpotHeight
        In the order of the sheet.
    benchmark : float or None
        Its height, metres.
    rules : Rules
    unit : float
        Metres in a unit of the sheet.
    complaints : Complaints

    Returns
    -------
    list of Notice
        What is asked about and not refused: rows that may have slipped by one.
    """
    if len(spots) < _AROUND:
        return []
    xyz = np.array([(s.x, s.y, s.z) for s in spots])
    far, from_ground = _off_ground(xyz, rules["height_off_ground"])
    system = "metric" if unit == 1.0 else "us"
    if benchmark is not None:
        apart = abs(benchmark - float(np.median(xyz[:, 2])))
        if apart > _BENCHMARK_OFF * rules["height_off_ground"]:
            expected = (
                "a benchmark on the datum and in the unit of the spot heights; it stands "
                f"{format_length(apart, system, 1)} off the middle of them"
            )
            complaints.add(("site", "benchmark"), expected, f"{benchmark / unit:g}")
    named = np.flatnonzero(far)
    for k in named[:_MOST_NAMED]:
        spot, off = spots[k], format_length(abs(from_ground[k]), system, 1)
        typed = spot.z / unit
        fill = any(abs(typed - each) < 1e-6 for each in FILLS)
        hint = "; leave a height that is not known empty" if fill else "; check figure and unit"
        way = "above" if from_ground[k] > 0 else "below"
        expected = f"a height of ground; it stands {off} {way} the shots around it{hint}"
        problem = Problem(
            spot.written.file,
            spot.written.line,
            f"spot height {spot.name!r}",
            f"{typed:g}",
            expected,
        )
        complaints.problems.append(problem)
    if len(named) > _MOST_NAMED:
        expected = (
            f"heights of ground; {len(named) - _MOST_NAMED} more shots stand as far off: check "
            "unit and columns"
        )
        complaints.problems.append(
            Problem(spots[0].written.file, None, "[terrain] spot_heights", "", expected)
        )
    return [] if len(named) else _question_order(xyz)


def _off_ground(xyz: NDArray[np.float64], most: float) -> tuple[Any, NDArray[np.float64]]:
    """Which shots are no ground, and how far each is off the middle of those around it, metres.

    Beside a wrong shot a right one looks wrong too: what is within `most` of the median of all
    shots is never named.
    """
    away, near = cKDTree(xyz[:, :2]).query(xyz[:, :2], k=min(_AROUND + 1, len(xyz)))
    step = xyz[:, None, 2] - xyz[near, 2]
    others = near != np.arange(len(xyz))[:, None]
    steep = (np.abs(step) > np.maximum(most, STEEPEST * away)) | ~others
    middle = np.median(xyz[:, 2])
    alone = steep.sum(axis=1) > others.shape[1] // 2 + 1
    around = np.array([np.median(xyz[row[o], 2]) for row, o in zip(near, others, strict=True)])
    return alone & (np.abs(xyz[:, 2] - middle) > most), xyz[:, 2] - around


def _strays(xyz: NDArray[np.float64]) -> float:
    """The median, metres, of how far shots stray from the mean of those around, near ones first."""
    away, near = cKDTree(xyz[:, :2]).query(xyz[:, :2], k=_AROUND + 2)
    weight = np.where(near == np.arange(len(xyz))[:, None], 0.0, 1.0 / np.maximum(away, 0.3))
    predicted = (weight * xyz[near, 2]).sum(axis=1) / weight.sum(axis=1)
    return float(np.median(np.abs(xyz[:, 2] - predicted)))


def _question_order(xyz: NDArray[np.float64]) -> list[Notice]:
    """What is asked of a list whose heights may stand at the wrong shots.

    A terraced yard can look so too: it is asked about, never refused.
    """
    found = _strays(xyz) if len(xyz) >= _FEWEST_TO_JUDGE else 0.0
    if found < _TURF:
        return []
    random = np.random.default_rng(len(xyz))
    shuffled = [
        _strays(np.column_stack([xyz[:, :2], random.permutation(xyz[:, 2])]))
        for _ in range(_SHUFFLES)
    ]
    if np.mean(shuffled) < _LIKE_SHUFFLED * found:
        return [Notice("heights shuffled")]
    slips = {by: _strays(np.column_stack([xyz[:, :2], np.roll(xyz[:, 2], by)])) for by in (1, -1)}
    rows = min(slips, key=lambda each: slips[each])
    if slips[rows] > _SLIPPED * found:
        return []
    return [Notice("rows slipped", figures={"rows": rows, "share": slips[rows] / found})]


def question_places(
    lot: Lot | None,
    parts: Mapping[str, Any],
    numbers: Mapping[str, Mapping[str, int]],
    stated: set[str],
    rules: Rules,
    system: str,
    complaints: Complaints,
) -> list[Notice]:
    """Complain of a lot that misses its house, and of downspouts and outlets far from it.

    Parameters
    ----------
    lot : Lot or None
    parts : mapping
        The fields of `Site` that stand on the lot.
    numbers : mapping
        By the key of a table, the numbers of its entries by name.
    stated : set of str
        Buildings that the file says are judged, or a neighbor's, wherever they lie.
    rules : Rules
    system : {"us", "metric"}
    complaints : Complaints

    Returns
    -------
    list of Notice
        Lot lines that run through a part of a house.
    """
    buildings: Sequence[Building] = parts["buildings"]
    notices = _question_lot(lot, buildings, numbers["building"], stated, system, complaints)
    drawn = [each.outline for each in buildings] + ([lot.boundary] if lot else [])
    if not drawn:
        return notices
    built = union_all([each.outline for each in buildings])
    for downspout in parts["downspouts"]:
        off = built.distance(Point(downspout.x, downspout.y)) if not built.is_empty else 0.0
        if off > rules["downspout_off_house"]:
            expected = (
                f"a downspout at a house; it lies {format_length(off, system, 1)} from any building"
            )
            complaints.add(("downspout", numbers["downspout"][downspout.name]), expected, "")
    home = union_all(drawn)
    for outlet in parts["outlets"]:
        off = home.distance(outlet.place)
        if off > rules["outlet_off_lot"]:
            expected = (
                f"an outlet near the lot; it lies {format_length(off, system, 1)} off: check the "
                "position, or raise outlet_off_lot under [rules]"
            )
            complaints.add(("outlet", numbers["outlet"][outlet.name]), expected, "")
    return notices


def _question_lot(
    lot: Lot | None,
    buildings: Sequence[Building],
    numbers: Mapping[str, int],
    stated: set[str],
    system: str,
    complaints: Complaints,
) -> list[Notice]:
    """A lot on which no house stands, or less than half of one; a notice where it cuts one."""
    if lot is None:
        return []
    ours = [each for each in buildings if each.name in numbers and each.name not in stated]
    on_lot = {
        each.name: each.outline.intersection(lot.boundary).area / each.outline.area for each in ours
    }
    if ours and all(share < ON_LOT for share in on_lot.values()):
        house = min(ours, key=lambda each: each.outline.distance(lot.boundary))
        off = format_length(house.outline.distance(lot.boundary), system, 1)
        expected = (
            f"a lot with its house on it; the nearest building, {house.name!r}, lies {off} off"
        )
        complaints.add(("lot",), expected, "")
        return []
    notices = []
    for each in ours:
        share = on_lot[each.name]
        if ON_LOT <= share < _HALF:
            expected = (
                f"ground on the lot; {1 - share:.0%} of it lies beyond the lot line: correct the "
                "one or the other, or say whose it is with neighbor = true or false"
            )
            complaints.add(("building", numbers[each.name]), expected, "")
        elif _HALF <= share < _ON_LINE:
            out = each.outline.difference(lot.boundary)
            line = LineString(lot.boundary.exterior.coords)
            deepest = max(
                line.distance(Point(at))
                for part in getattr(out, "geoms", [out])
                for at in part.exterior.coords
            )
            off_lot = {"share_off": 1 - share, "off_m": deepest}
            notices.append(Notice("lot line through a building", (each.name,), off_lot))
    return notices
