"""What a site lacks, what that costs and how to mend it, and which heights to look at again.

In: a site, and what it lacks or a height that is doubted. Out: a line in the site's own units.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import LineString, Point

from runoff.foundation.walls import wall_words, walls_of
from runoff.quantities import Shown
from runoff.site.model import Site
from runoff.terrain.model import Hole, Suspect
from runoff.words.rains import drainage_basis

if TYPE_CHECKING:
    from runoff.checking import Missing

_SOLID = 0.5
_AT_ONE_CORNER_M = 1e-6
_BESIDE_LINE_M = 0.3
_LEAST_SIDE_M = 3.0


def missing_words(site: Site, one: Missing) -> str:
    """All that is said of a lack, on one line.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> from runoff.checking import Cost, Missing
    >>> from runoff.rules import Rules
    >>> site = SimpleNamespace(units="ft", rules=Rules())
    >>> missing_words(site, Missing(Cost.NO_ANSWER, "downspout"))
    'No downspout: there is no roof water to follow; give each as [[downspout]].'
    """
    what, so, mend = _told(site, one)
    return f"{what}: {so}; {mend}."


def _told(site: Site, one: Missing) -> tuple[str, str, str]:
    """What is missing, what it costs and how to mend it."""
    shown = Shown.of(site)
    reach = shown.far(site.rules["foundation_reach"])
    name = one.names[0] if one.names else ""
    walls = ", ".join(
        f"{wall_words(wall)} of the {building}"
        for wall, building in zip(one.names[::2], one.names[1::2], strict=False)
    )
    listed = ", ".join(map(repr, one.names))
    at_and_out = f"take heights at the wall and {reach} out"
    down = "take heights at its foot and along the way down"
    match one.code:
        case "heights by elevation data":
            return (
                f"Heights by {name} alone",
                "beside a house they give an indication of grade, never a verdict",
                f"take spot heights at the walls and {reach} out",
            )
        case "no ground at walls":
            so = "no verdict on the grade there"
            return f"No heights within {reach} of {walls}", so, at_and_out
        case "no height near walls":
            so = "the ground there is reckoned from heights farther away"
            return f"No height within {reach} of {walls}", so, at_and_out
        case "no height at walls":
            return (
                f"No height at {walls}",
                "the ground there is reckoned from farther out",
                "take one at either end and in the middle",
            )
        case "no height out from walls":
            return (
                f"No height about {reach} out from {walls}",
                f"the fall over the first {reach} is reckoned from farther away",
                "take one there",
            )
        case "no ground at a downspout":
            what = f"No ground within {reach} of downspout {name!r}"
            return what, "the way of its water cannot be told", down
        case "no height at a downspout":
            what = f"No height within {reach} of downspout {name!r}"
            return what, "the way of its water is reckoned from heights farther away", down
        case "points not taken":
            more = one.count - len(one.names)
            return (
                f"{one.count} of the {one.of} points that matter most have no height near",
                "the ground is reckoned across them",
                f"take {'; '.join(one.names)}{f'; and {more} more' if more > 0 else ''}",
            )
        case "hole":
            assert one.hole is not None
            return (
                f"No heights on {hole_words(site, one.hole)}",
                "where water runs there is not known",
                "take heights across it",
            )
        case "how heights were taken":
            return (
                "How heights were taken",
                f"they are taken to be as good as by {name}",
                'say it in [terrain], such as heights_by = "laser level"',
            )
        case "lot":
            return (
                "No lot",
                "whether water runs onto a neighbor cannot be told",
                "give its corners and sides in [lot]",
            )
        case "neighbors of sides":
            return (
                f"What lies beyond the side {listed}",
                "it is taken for a neighbor's ground, onto which no water is led",
                'find out, and write such as neighbor = "street"',
            )
        case "outlet":
            return (
                "No outlet",
                "no street gutter, ditch or storm inlet is taken to be there",
                "give those that may take water as [[outlet]]",
            )
        case "downspout":
            so = "there is no roof water to follow"
            return "No downspout", so, "give each as [[downspout]]"
        case "roof of a downspout":
            return (
                f"No roof for downspout {name!r}",
                "how much water it lets go is not known, and where that runs is told without it",
                "name the roof that it carries, or, where it is no downspout but another point of "
                "release, give it as [[sump]] with its rate",
            )
        case "downspout of roofs":
            return (
                f"No downspout for roof {listed}",
                "that water is not counted",
                "say which downspout carries it, or the eave that it drips from",
            )
        case "sizes of leaders":
            return (
                f"Size of the leader of {listed}",
                "whether it carries its roof cannot be checked",
                'measure it, such as size = "2 x 3 in"',
            )
        case "height of an opening":
            edge, opening = one.names
            return (
                f"Height of the {edge} of {opening!r}",
                "at how much rain water gets in is guessed from the ground there",
                f"level it and write it as {edge} = ... at the opening in the site file "
                "(a spot height there tells the ground alone)",
            )
        case "building":
            return (
                "No building",
                "there is no wall to judge the ground at",
                "give the outline of the house as [[building]]",
            )
        case "footing depth":
            return (
                f"Footing depth of the {name}",
                "how near a trench may come is not known",
                "give footing_depth, from drawings or the depth of the cellar floor",
            )
        case "kind of building":
            return (
                f"What lies under the {name}",
                "how far a pit must stay away is not known",
                'give kind = "basement", "crawl space" or "slab"',
            )
        case "soil test":
            texture = site.soil.texture
            guess = f"for a seepage pit there is only a guess from {texture}"
            return (
                "No soil test",
                guess if texture else "no seepage pit is sized",
                "do a trial pit or a percolation test (runoff sheets prints their sheets)",
            )
        case "storm depth":
            return (
                "No storm depth",
                f"ponding is judged by {shown.rain(site.storm.depth)} of rain",
                "give the 10-year 24-hour rain of the place in [rain]",
            )
        case "rain table":
            return (
                "No rain table",
                f"gutters and lines are sized for {drainage_basis(site, site.rains.gutter)}",
                "give a table, or design_intensity, in [rain]",
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
    return f"{size} ({Shown.of(site).found_area(hole.area)}) {place}".rstrip()


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


_MOST_WITH_IT = 3
_LOOKS = {
    "foot misread": "a foot misread?",
    "digit misread": "a digit misread?",
    "unknown": "look at the reading and the position again",
    "bend": (
        "does the ground bend there, at a bank or a swale? Draw a break line along it; if it does "
        "not, look at these readings again"
    ),
    "curb": (
        "is there a curb between? Draw it as a break line with its top and its foot; if there is "
        "none, look at the reading again"
    ),
    "entered twice": "entered twice? the mean of the two is used",
}


def suspect_reason(site: Site, suspect: Suspect) -> str:
    """What to look at again at a doubtful height, such as to follow its name.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> suspect = Suspect("P9", 0.0, 0.0, 30.48, 30.1752, 0.3048, "foot misread")
    >>> suspect_reason(SimpleNamespace(units="ft"), suspect)
    'stands 1 ft above what its neighbors say: a foot misread?'
    """
    off = Shown.of(site).length(abs(suspect.misfit), 2)
    stands = f"stands {off} {'above' if suspect.misfit > 0 else 'below'}"
    looks = _LOOKS[suspect.looks_like]
    if suspect.looks_like == "entered twice":
        return f"lies where '{suspect.beside}' does and {stands} it: {looks}"
    stands += " what its neighbors say"
    if suspect.looks_like == "curb":
        return f"{stands}, along the {suspect.beside}: {looks}"
    if not suspect.with_it:
        return f"{stands}: {looks}"
    more = len(suspect.with_it) - _MOST_WITH_IT
    names = ", ".join(f"'{name}'" for name in suspect.with_it[:_MOST_WITH_IT])
    names += f" and {more} more" if more > 0 else ""
    return f"{stands}, and as much do {names}: {looks}"
