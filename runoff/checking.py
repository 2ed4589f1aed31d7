"""From a site to what should be looked at before anything is computed: the steps, in order.

Nothing here asks where water runs: it is quick, and may be done at the lot with the sheets in hand.

In: a site as it was read. Out: what it lacks, by codes; `runoff.words.missing` says what each lack
costs and how to mend it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from runoff.foundation.walls import Wall, walls_of
from runoff.site.model import Downspout, Opening, Site
from runoff.site.notices import Notice
from runoff.site.survey.field_points import FIRST, points_to_survey
from runoff.site.written.document import WELLS
from runoff.terrain.build import build_terrain
from runoff.terrain.model import Hole, Suspect, Terrain

Positions = NDArray[np.float64]

AT_WALL_M = 0.9
"""Heights nearer to a wall than this, about 3 ft, tell the ground at it."""
OUT_M = 1.4
"""Heights farther out than this, about 4 1/2 ft, tell how the ground goes on."""
BESIDE_M = 1.5
"""A height this near to a point that was asked for, about 5 ft, stands for it."""

_BEYOND_ENDS_M = 0.9
_BEHIND_M = 0.3
_MOST_UNKNOWN = 0.5
_MOST_NAMED = 3


class Cost(IntEnum):
    """How much a lack matters, the worst first."""

    NO_ANSWER = 0
    LESS_SURE = 1
    ASSUMED = 2

    @property
    def words(self) -> str:
        """As it is printed."""
        return ("no answer", "less sure", "assumed")[self]


Lack = Literal[
    "heights by elevation data",
    "no ground at walls",
    "no height near walls",
    "no height at walls",
    "no height out from walls",
    "no ground at a downspout",
    "no height at a downspout",
    "points not taken",
    "hole",
    "how heights were taken",
    "lot",
    "neighbors of sides",
    "outlet",
    "downspout",
    "roof of a downspout",
    "downspout of roofs",
    "sizes of leaders",
    "height of an opening",
    "building",
    "footing depth",
    "kind of building",
    "soil test",
    "storm depth",
    "rain table",
]


@dataclass(frozen=True)
class Missing:
    """One thing that is not known, how much that matters, and of what it is so.

    `names` are those of walls with their buildings, of sides, roofs and so on; of points not taken
    the places of the first ones. `count` is how many points there are of those, `of` out of how
    many. `hole` is ground of the lot without heights.
    """

    cost: Cost
    code: Lack
    names: tuple[str, ...] = ()
    count: int = 0
    of: int = 0
    hole: Hole | None = None


def missing_from(site: Site, terrain: Terrain) -> tuple[Missing, ...]:
    """What a site does not say, ranked: what leaves no answer first, then less sure, then assumed.

    Parameters
    ----------
    site : Site
    terrain : Terrain
        Its ground, which says where heights reach to.

    Returns
    -------
    tuple of Missing
    """
    found = [
        *_heights(site, terrain),
        *_holes(terrain),
        *_lot(site),
        *_roof_water(site),
        *_openings(site),
        *_buildings(site),
        *_soil(site),
        *_rain(site),
    ]
    return tuple(sorted(found, key=lambda one: one.cost))


def _heights(site: Site, terrain: Terrain) -> Iterator[Missing]:
    if site.height_accuracy.indication_only:
        method = site.height_accuracy.method
        yield Missing(Cost.LESS_SURE, "heights by elevation data", (method,))
    shots = _shots(site) if site.elevation is None else None
    yield from _wall_heights(shots, terrain, site)
    for downspout in site.downspouts:
        yield from _downspout_heights(downspout, shots, terrain, site)
    if shots is not None:
        yield from _points_not_taken(site, shots)
    yield from _assumed_accuracy(site)


def _shots(site: Site) -> Positions:
    """(n, 2) plan positions with a known height outside the buildings."""
    points = np.concatenate([site.spot_array[:, :2], *(b.line for b in site.break_lines)])
    inside = np.zeros(len(points), dtype=np.bool_)
    for building in site.buildings:
        inside |= shapely.contains_xy(building.outline.buffer(-0.3), points[:, 0], points[:, 1])
    return points[~inside]


_WALL_LACKS: dict[Lack, Cost] = {
    "no ground at walls": Cost.NO_ANSWER,
    "no height near walls": Cost.LESS_SURE,
    "no height at walls": Cost.LESS_SURE,
    "no height out from walls": Cost.LESS_SURE,
}


def _wall_heights(shots: Positions | None, terrain: Terrain, site: Site) -> Iterator[Missing]:
    """What is lacking within reach of walls, those that lack the same told together."""
    walls: dict[Lack, list[str]] = {}
    for wall in walls_of(site.own_buildings):
        lacks = _lacks(wall, shots, terrain, site)
        if lacks:
            walls.setdefault(lacks, []).extend((wall.name, wall.building))
    for code, cost in _WALL_LACKS.items():
        if code in walls:
            yield Missing(cost, code, tuple(walls[code]))


def _lacks(wall: Wall, shots: Positions | None, terrain: Terrain, site: Site) -> Lack | None:
    """What heights near a wall lack."""
    before = _places_before(wall, site)
    if not len(before):
        return None
    if float(np.mean([not _has_ground(terrain, x, y) for x, y in before])) > _MOST_UNKNOWN:
        return "no ground at walls"
    if shots is None:
        return None
    at_wall, out = _near_wall(wall, shots, site.rules["foundation_reach"])
    if not at_wall:
        return "no height at walls" if out else "no height near walls"
    return None if out else "no height out from walls"


def _near_wall(wall: Wall, shots: Positions, reach: float) -> tuple[bool, bool]:
    """Whether there are heights at a wall, and some way out from it."""
    start, end = np.array(wall.start), np.array(wall.end)
    along = (shots - start) @ (end - start) / wall.length
    out = (shots - start) @ np.array(wall.outward)
    near = (along > -_BEYOND_ENDS_M) & (along < wall.length + _BEYOND_ENDS_M)
    near &= (out > -_BEHIND_M) & (out < reach + AT_WALL_M)
    return bool((near & (out < AT_WALL_M)).any()), bool((near & (out > OUT_M)).any())


def _places_before(wall: Wall, site: Site) -> Positions:
    """(n, 2) places within reach of a wall that lie on open ground of the lot."""
    along, out = np.meshgrid(
        np.linspace(0.05, 0.95, 9) * wall.length,
        np.linspace(0.1, 1.0, 5) * site.rules["foundation_reach"],
    )
    places = wall.point(along.ravel(), out.ravel())
    free = np.ones(len(places), dtype=np.bool_)
    if site.lot is not None:
        free &= shapely.contains_xy(site.lot.boundary, places[:, 0], places[:, 1])
    for building in site.buildings:
        free &= ~shapely.contains_xy(building.outline, places[:, 0], places[:, 1])
    return places[free]


def _has_ground(terrain: Terrain, x: float, y: float) -> bool:
    row, col = terrain.grid.cell(x, y)
    # A cell that a building covers in part has no ground of its own.
    return terrain.grid.holds(row, col) and bool(
        terrain.closed[row, col] or np.isfinite(terrain.ground[row, col])
    )


def _downspout_heights(
    downspout: Downspout, shots: Positions | None, terrain: Terrain, site: Site
) -> Iterator[Missing]:
    reach = site.rules["foundation_reach"]
    if not _has_ground(terrain, downspout.x, downspout.y):
        yield Missing(Cost.NO_ANSWER, "no ground at a downspout", (downspout.name,))
    elif shots is not None and not _any_near(shots, downspout.x, downspout.y, reach):
        yield Missing(Cost.LESS_SURE, "no height at a downspout", (downspout.name,))


def _any_near(shots: Positions, x: float, y: float, within: float) -> bool:
    return bool((np.hypot(shots[:, 0] - x, shots[:, 1] - y) < within).any())


def _points_not_taken(site: Site, shots: Positions) -> Iterator[Missing]:
    """Those of the points that matter most which no height stands near."""
    if not site.own_buildings:
        return
    wanted = points_to_survey(
        site.own_buildings, site.lot, site.downspouts, site.openings, (), FIRST, site.units
    )
    lacking = [point for point in wanted if not _any_near(shots, point.x, point.y, BESIDE_M)]
    if lacking:
        places = tuple(point.reasons[0] for point in lacking[:_MOST_NAMED])
        count, of = len(lacking), len(wanted)
        yield Missing(Cost.LESS_SURE, "points not taken", places, count, of)


def _holes(terrain: Terrain) -> Iterator[Missing]:
    for hole in terrain.holes:
        yield Missing(Cost.LESS_SURE, "hole", hole=hole)


def _assumed_accuracy(site: Site) -> Iterator[Missing]:
    if any(notice.code == "heights_by assumed" for notice in site.notices):
        method = site.height_accuracy.method
        yield Missing(Cost.ASSUMED, "how heights were taken", (method,))


def _lot(site: Site) -> Iterator[Missing]:
    if site.lot is None:
        yield Missing(Cost.NO_ANSWER, "lot")
    sides = () if site.lot is None else site.lot.sides
    unknown = tuple(side.name for side in sides if side.neighbor == "unknown")
    if unknown:
        yield Missing(Cost.ASSUMED, "neighbors of sides", unknown)
    if not site.outlets:
        yield Missing(Cost.ASSUMED, "outlet")


def _roof_water(site: Site) -> Iterator[Missing]:
    if not site.downspouts:
        yield Missing(Cost.NO_ANSWER, "downspout")
    for downspout in site.downspouts:
        if not downspout.roofs:
            yield Missing(Cost.NO_ANSWER, "roof of a downspout", (downspout.name,))
    carried = {roof for downspout in site.downspouts for roof, _ in downspout.roofs}
    idle = [r.name for r in site.roofs if r.name not in carried and r.eave is None and not r.onto]
    if idle and site.downspouts:
        yield Missing(Cost.LESS_SURE, "downspout of roofs", tuple(idle))
    sizeless = tuple(d.name for d in site.downspouts if d.leader is None)
    if sizeless:
        yield Missing(Cost.ASSUMED, "sizes of leaders", sizeless)


def _openings(site: Site) -> Iterator[Missing]:
    for opening in site.openings:
        edge = _unknown_edge(opening)
        if edge:
            yield Missing(Cost.LESS_SURE, "height of an opening", (edge, opening.name))


def _unknown_edge(opening: Opening) -> str:
    if opening.kind in WELLS:
        return "rim" if opening.rim is None else ""
    return "sill" if opening.sill is None else ""


def _buildings(site: Site) -> Iterator[Missing]:
    if not site.own_buildings:
        yield Missing(Cost.NO_ANSWER, "building")
    for building in site.own_buildings:
        if building.footing_depth is None:
            yield Missing(Cost.LESS_SURE, "footing depth", (building.name,))
        if building.kind is None:
            yield Missing(Cost.LESS_SURE, "kind of building", (building.name,))


def _soil(site: Site) -> Iterator[Missing]:
    soil = site.soil
    if soil.rate is None and soil.trial_pit is None and soil.percolation is None:
        yield Missing(Cost.LESS_SURE if soil.texture else Cost.NO_ANSWER, "soil test")


def _rain(site: Site) -> Iterator[Missing]:
    if site.storm.basis.code == "assumed":
        yield Missing(Cost.ASSUMED, "storm depth")
    if site.rains.gutter.basis.code == "assumed":
        yield Missing(Cost.ASSUMED, "rain table")


@dataclass(frozen=True)
class Checked:
    """A site read and looked through.

    `suspects` are heights that their neighbors do not bear out, `missing` what is not said, ranked,
    `notices` what was taken for granted, `holes` ground of the lot that no height tells.
    """

    site: Site
    suspects: tuple[Suspect, ...]
    missing: tuple[Missing, ...]
    notices: tuple[Notice, ...]
    holes: tuple[Hole, ...] = ()

    @property
    def needs_attention(self) -> bool:
        """Whether a height is suspect, or something is missing that no assumption fills."""
        return bool(self.suspects) or any(one.cost < Cost.ASSUMED for one in self.missing)


def check(site: Site) -> Checked:
    """Look a site through: heights that stand out, and what is missing.

    Parameters
    ----------
    site : Site

    Returns
    -------
    Checked

    Raises
    ------
    InputError
        Where the ground cannot be made from what was written.

    Examples
    --------
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> checked = check(read_site(sample_folder() / "site.toml"))
    >>> len(checked.site.spot_heights) > 50
    True
    """
    terrain = build_terrain(site)
    missing = missing_from(site, terrain)
    notices = dict.fromkeys((*site.notices, *terrain.notices))
    return Checked(site, terrain.suspects, missing, tuple(notices), terrain.holes)
