"""From a site to what should be looked at before anything is computed: the steps, in order.

Nothing here asks where water runs: it is quick, and may be done at the lot with the sheets in hand.

In: a site as it was read. Out: sentences, each with what its lack costs and how to mend it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point

from runoff.foundation.walls import Wall, wall_words, walls_of
from runoff.quantities import Shown, format_area, format_rain, system_of
from runoff.site.document import WELLS
from runoff.site.model import Downspout, Opening, Site
from runoff.site.notices import Notice
from runoff.site.survey.field_points import FIRST, points_to_survey
from runoff.terrain.build import build_terrain
from runoff.terrain.model import Hole, Suspect, Terrain
from runoff.words.rains import drainage_basis

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
_SOLID = 0.5
_AT_ONE_CORNER_M = 1e-6
_BESIDE_LINE_M = 0.3
_LEAST_SIDE_M = 3.0


class Cost(IntEnum):
    """How much a lack matters, the worst first."""

    NO_ANSWER = 0
    LESS_SURE = 1
    ASSUMED = 2

    @property
    def words(self) -> str:
        """As it is printed."""
        return ("no answer", "less sure", "assumed")[self]


@dataclass(frozen=True)
class Missing:
    """One thing that is not known: what, what it costs, and how to mend it."""

    cost: Cost
    what: str
    so: str
    mend: str

    @property
    def sentence(self) -> str:
        """All of it on one line.

        Examples
        --------
        >>> Missing(Cost.LESS_SURE, "No soil test", "no pit is sized", "dig a trial pit").sentence
        'No soil test: no pit is sized; dig a trial pit.'
        """
        return f"{self.what}: {self.so}; {self.mend}."


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
        *_holes(site, terrain),
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
        reach = Shown.of(site).far(site.rules["foundation_reach"])
        yield Missing(
            Cost.LESS_SURE,
            f"Heights by {site.height_accuracy.method} alone",
            "beside a house they give an indication of grade, never a verdict",
            f"take spot heights at the walls and {reach} out",
        )
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


@dataclass(frozen=True)
class _WallLack:
    """What heights near a wall can lack, in the words of `Missing`."""

    cost: Cost
    what: str
    so: str
    mend: str


def _wall_lacks(ten: str) -> dict[str, _WallLack]:
    return {
        "ground": _WallLack(
            Cost.NO_ANSWER,
            f"No heights within {ten} of",
            "no verdict on the grade there",
            f"take heights at the wall and {ten} out",
        ),
        "near": _WallLack(
            Cost.LESS_SURE,
            f"No height within {ten} of",
            "the ground there is reckoned from heights farther away",
            f"take heights at the wall and {ten} out",
        ),
        "at wall": _WallLack(
            Cost.LESS_SURE,
            "No height at",
            "the ground there is reckoned from farther out",
            "take one at either end and in the middle",
        ),
        "out": _WallLack(
            Cost.LESS_SURE,
            f"No height about {ten} out from",
            f"the fall over the first {ten} is reckoned from farther away",
            "take one there",
        ),
    }


def _wall_heights(shots: Positions | None, terrain: Terrain, site: Site) -> Iterator[Missing]:
    """What is lacking within reach of walls, those that lack the same told together."""
    walls: dict[str, list[str]] = {}
    for wall in walls_of(site.own_buildings):
        lacks = _lacks(wall, shots, terrain, site)
        if lacks:
            walls.setdefault(lacks, []).append(f"{wall_words(wall.name)} of the {wall.building}")
    for lacks, words in _wall_lacks(Shown.of(site).far(site.rules["foundation_reach"])).items():
        if lacks in walls:
            where = ", ".join(walls[lacks])
            yield Missing(words.cost, f"{words.what} {where}", words.so, words.mend)


def _lacks(wall: Wall, shots: Positions | None, terrain: Terrain, site: Site) -> str:
    """The key of what heights near a wall lack; empty for nothing."""
    before = _places_before(wall, site)
    if not len(before):
        return ""
    if float(np.mean([not _has_ground(terrain, x, y) for x, y in before])) > _MOST_UNKNOWN:
        return "ground"
    if shots is None:
        return ""
    at_wall, out = _near_wall(wall, shots, site.rules["foundation_reach"])
    if not at_wall:
        return "at wall" if out else "near"
    return "" if out else "out"


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
    where = f"within {Shown.of(site).far(reach)} of downspout {downspout.name!r}"
    mend = "take heights at its foot and along the way down"
    if not _has_ground(terrain, downspout.x, downspout.y):
        so = "the way of its water cannot be told"
        yield Missing(Cost.NO_ANSWER, f"No ground {where}", so, mend)
    elif shots is not None and not _any_near(shots, downspout.x, downspout.y, reach):
        so = "the way of its water is reckoned from heights farther away"
        yield Missing(Cost.LESS_SURE, f"No height {where}", so, mend)


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
        places = "; ".join(point.reason.split(";")[0] for point in lacking[:_MOST_NAMED])
        more = len(lacking) - _MOST_NAMED
        yield Missing(
            Cost.LESS_SURE,
            f"{len(lacking)} of the {len(wanted)} points that matter most have no height near",
            "the ground is reckoned across them",
            f"take {places}{f'; and {more} more' if more > 0 else ''}",
        )


def _holes(site: Site, terrain: Terrain) -> Iterator[Missing]:
    for hole in terrain.holes:
        yield Missing(
            Cost.LESS_SURE,
            f"No heights on {hole_words(site, hole)}",
            "where water runs there is not known",
            "take heights across it",
        )


def hole_words(site: Site, hole: Hole) -> str:
    """How large ground without heights is and where it lies, as a sentence names it.

    Examples
    --------
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> from shapely import box
    >>> site = read_site(sample_folder() / "site.toml")
    >>> left, bottom, right, top = site.buildings[0].outline.bounds
    >>> hole_words(site, Hole(box(left, bottom - 6, left + 9.144, bottom - 2)))
    '30 ft by 13 ft (390 sq ft) off the front wall of the house, by the left side'
    """
    near = hole.outline.buffer(_BESIDE_LINE_M)
    sides = [] if site.lot is None else list(site.lot.sides)
    lines = [LineString(side.line) for side in sides]
    shared = [line.intersection(near).length for line in lines]
    size, place = _size_of(site, hole)
    if not size:
        radius = shapely.maximum_inscribed_circle(hole.outline, 0.05).length
        size = f"ground up to {_whole(2 * radius, site)} wide"
        named = [s.words for s, length in zip(sides, shared, strict=True) if length > _LEAST_SIDE_M]
        place = f"along {' and '.join(named)}" if named else place
    elif sides:
        away = [(-length, line.distance(near)) for length, line in zip(shared, lines, strict=True)]
        by = f"by {sides[away.index(min(away))].words}"
        place = f"{place}, {by}" if place else by
    return f"{size} ({format_area(hole.area, system_of(site.units), found=True)}) {place}".rstrip()


def _size_of(site: Site, hole: Hole) -> tuple[str, str]:
    """Its length by its width along the nearest wall, and which wall or corner that is.

    What goes round a corner fills little of such a box: of that no size is told.
    """
    middle = Point(hole.at)
    walls = [
        (middle.distance(LineString([wall.start, wall.end])), wall)
        for wall in walls_of(site.buildings)
    ]
    ahead, place = np.array([1.0, 0.0]), ""
    if walls:
        nearest = min(away for away, _ in walls)
        faced = [wall for away, wall in walls if away < nearest + _AT_ONE_CORNER_M]
        ahead = np.subtract(faced[0].end, faced[0].start) / faced[0].length
        facing = wall_words(faced[0].name)
        if len(faced) > 1:
            facing = f"the corner of {facing} and {wall_words(faced[1].name)}"
        place = f"off {facing} of the {faced[0].building}"
    corners = shapely.get_coordinates(hole.outline)
    along, out = (float(np.ptp(corners @ way)) for way in (ahead, [-ahead[1], ahead[0]]))
    solid = hole.area >= _SOLID * along * out
    return f"{_whole(along, site)} by {_whole(out, site)}" if solid else "", place


def _whole(metres: float, site: Site) -> str:
    """To a foot, or to a tenth of a metre: the edge of what is known is no better known."""
    step = 0.3048 if site.units == "ft" else 0.1
    return Shown.of(site).far(max(round(metres / step), 1) * step)


def _assumed_accuracy(site: Site) -> Iterator[Missing]:
    if any(notice.code == "heights_by assumed" for notice in site.notices):
        yield Missing(
            Cost.ASSUMED,
            "How heights were taken",
            f"they are taken to be as good as by {site.height_accuracy.method}",
            'say it in [terrain], such as heights_by = "laser level"',
        )


def _lot(site: Site) -> Iterator[Missing]:
    if site.lot is None:
        yield Missing(
            Cost.NO_ANSWER,
            "No lot",
            "whether water runs onto a neighbor cannot be told",
            "give its corners and sides in [lot]",
        )
    unknown = (
        [side.name for side in site.lot.sides if side.neighbor == "unknown"] if site.lot else []
    )
    if unknown:
        yield Missing(
            Cost.ASSUMED,
            f"What lies beyond the side {', '.join(map(repr, unknown))}",
            "it is taken for a neighbor's ground, onto which no water is led",
            'find out, and write such as neighbor = "street"',
        )
    if not site.outlets:
        yield Missing(
            Cost.ASSUMED,
            "No outlet",
            "no street gutter, ditch or storm inlet is taken to be there",
            "give those that may take water as [[outlet]]",
        )


def _roof_water(site: Site) -> Iterator[Missing]:
    if not site.downspouts:
        yield Missing(
            Cost.NO_ANSWER,
            "No downspout",
            "there is no roof water to follow",
            "give each as [[downspout]]",
        )
    for downspout in site.downspouts:
        if not downspout.roofs:
            yield Missing(
                Cost.NO_ANSWER,
                f"No roof for downspout {downspout.name!r}",
                "how much water it lets go is not known, and where that runs is told without it",
                "name the roof that it carries, or, where it is no downspout but another point of "
                "release, give it as [[sump]] with its rate",
            )
    carried = {roof for downspout in site.downspouts for roof, _ in downspout.roofs}
    idle = [r.name for r in site.roofs if r.name not in carried and r.eave is None and not r.onto]
    if idle and site.downspouts:
        yield Missing(
            Cost.LESS_SURE,
            f"No downspout for roof {', '.join(map(repr, idle))}",
            "that water is not counted",
            "say which downspout carries it, or the eave that it drips from",
        )
    sizeless = [d.name for d in site.downspouts if d.leader is None]
    if sizeless:
        yield Missing(
            Cost.ASSUMED,
            f"Size of the leader of {', '.join(map(repr, sizeless))}",
            "whether it carries its roof cannot be checked",
            'measure it, such as size = "2 x 3 in"',
        )


def _openings(site: Site) -> Iterator[Missing]:
    for opening in site.openings:
        edge = _unknown_edge(opening)
        if edge:
            yield Missing(
                Cost.LESS_SURE,
                f"Height of the {edge} of {opening.name!r}",
                "at how much rain water gets in is guessed from the ground there",
                f"level it and write it as {edge} = ... at the opening in the site file "
                "(a spot height there tells the ground alone)",
            )


def _unknown_edge(opening: Opening) -> str:
    if opening.kind in WELLS:
        return "rim" if opening.rim is None else ""
    return "sill" if opening.sill is None else ""


def _buildings(site: Site) -> Iterator[Missing]:
    if not site.own_buildings:
        yield Missing(
            Cost.NO_ANSWER,
            "No building",
            "there is no wall to judge the ground at",
            "give the outline of the house as [[building]]",
        )
    for building in site.own_buildings:
        if building.footing_depth is None:
            yield Missing(
                Cost.LESS_SURE,
                f"Footing depth of the {building.name}",
                "how near a trench may come is not known",
                "give footing_depth, from drawings or the depth of the cellar floor",
            )
        if building.kind is None:
            yield Missing(
                Cost.LESS_SURE,
                f"What lies under the {building.name}",
                "how far a pit must stay away is not known",
                'give kind = "basement", "crawl space" or "slab"',
            )


def _soil(site: Site) -> Iterator[Missing]:
    soil = site.soil
    if soil.rate is None and soil.trial_pit is None and soil.percolation is None:
        known = f"only a guess from {soil.texture}" if soil.texture else "nothing is known of it"
        yield Missing(
            Cost.LESS_SURE if soil.texture else Cost.NO_ANSWER,
            "No soil test",
            f"for a seepage pit there is {known}" if soil.texture else "no seepage pit is sized",
            "do a trial pit or a percolation test (runoff sheets prints their sheets)",
        )


def _rain(site: Site) -> Iterator[Missing]:
    if site.storm.basis.code == "assumed":
        depth = format_rain(site.storm.depth, system_of(site.units))
        yield Missing(
            Cost.ASSUMED,
            "No storm depth",
            f"ponding is judged by {depth} of rain",
            "give the 10-year 24-hour rain of the place in [rain]",
        )
    if site.rains.gutter.basis.code == "assumed":
        yield Missing(
            Cost.ASSUMED,
            "No rain table",
            f"gutters and lines are sized for {drainage_basis(site, site.rains.gutter)}",
            "give a table, or design_intensity, in [rain]",
        )


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
