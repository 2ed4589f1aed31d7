"""Lengths, depths, volumes and lists as sentences write them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from runoff.quantities import Shown, as_found
from runoff.site.model import Site

# A source that brings less than this share of the water is not worth a word.
_LEAST_SHARE = 0.05
_MOST_NAMED = 3
_POINTS = (
    "top",
    "upper right",
    "right",
    "lower right",
    "bottom",
    "lower left",
    "left",
    "upper left",
)
_COMPASS = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")


def height(site: Site, metres: float) -> str:
    """A height or depth without its sign, to a quarter of an inch or a millimetre.

    A metre and more is told in metres.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> height(SimpleNamespace(units="ft"), -0.0508), height(SimpleNamespace(units="m"), 2e-4)
    ('2 in', 'less than 1 mm')
    """
    if site.units == "ft":
        return _not_nothing(Shown.of(site).height(abs(metres)), metres, "0 in", "1/4 in")
    return _not_nothing(Shown.of(site).height(abs(metres)), metres, "0 mm", "1 mm")


def _not_nothing(written: str, value: float, nothing: str, least: str) -> str:
    return f"less than {least}" if written == nothing and value != 0 else written


def run_length(site: Site, metres: float) -> str:
    """A length along a wall or away from it: feet and whole inches, or metric.

    Feet or inches of which there are none are left out.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> run_length(SimpleNamespace(units="ft"), 3.6576)
    '12 ft'
    """
    return Shown.of(site).far(metres)


def rain(site: Site, metres: float) -> str:
    """A depth of rain: in decimals of an inch, as rain is told, or millimetres.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> rain(SimpleNamespace(units="ft"), 1.0), rain(SimpleNamespace(units="ft"), 0.0508)
    ('39.4 in', '2 in')
    """
    return Shown.of(site).rain(metres)


def found_rain(site: Site, metres: float) -> str:
    """A depth of rain that does something on this ground, as closely as the ground tells it.

    Where rounding would carry it past the site's own storm it keeps its figures: a storm that
    fills a low spot is never told as less than what fills it, nor the other way about.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> site = SimpleNamespace(units="ft", storm=SimpleNamespace(depth=0.10414))  # 4.1 in
    >>> found_rain(site, 0.02106), found_rain(site, 0.1031), found_rain(site, 0.1046)
    ('0.83 in', '4.06 in', '4.12 in')
    """
    unit = 0.0254 if site.units == "ft" else 0.001
    told, storm = as_found(metres / unit), site.storm.depth / unit
    same_side = (told - storm) * (metres / unit - storm) > 0.0
    return Shown.of(site).rain(metres, found=same_side)


def volume(site: Site, cubic_metres: float, area: float = 0.0) -> str:
    """A volume in the site's system; of a pool of that area (m2) as its heights tell it."""
    return Shown.of(site).volume_as_good(cubic_metres, area * site.height_accuracy.sigma)


def listed(words: Sequence[str]) -> str:
    """Words joined as a sentence joins them.

    Examples
    --------
    >>> listed(["a", "b", "c"]), listed(["a"])
    ('a, b and c', 'a')
    """
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def length(site: Site, metres: float, denominator: int = 4) -> str:
    """A length as the site's user writes it."""
    return Shown.of(site).length(metres, denominator)


def direction(site: Site, bearing: float) -> str:
    """A bearing (degrees clockwise from the plan's up) by the compass, or on the plan.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> direction(SimpleNamespace(north_degrees=90.0), 90.0)
    'north'
    >>> direction(SimpleNamespace(north_degrees=None), 90.0)
    'toward the right of the plan'
    """
    if site.north_degrees is None:
        return f"toward the {_POINTS[round(bearing / 45) % 8]} of the plan"
    return _COMPASS[round((bearing - site.north_degrees) / 45) % 8]


def main_sources(feeds: Mapping[str, float]) -> str:
    """What brings most of the water, in words, with shares; empty where nothing does.

    Examples
    --------
    >>> main_sources({"yard": 1.0, "downspout 'NE'": 3.0})
    "downspout 'NE' (75 %) and the yard's own rain (25 %)"
    """
    total = sum(feeds.values())
    if total <= 0:
        return ""
    order = sorted(feeds.items(), key=lambda item: -item[1])
    told = [(n, v / total) for n, v in order if v >= _LEAST_SHARE * total][:_MOST_NAMED]
    return listed([f"{_plain(name)} ({share:.0%})".replace("%", " %") for name, share in told])


def _plain(name: str) -> str:
    if name == "yard":
        return "the yard's own rain"
    if name == "run-on":
        return "run-on from uphill ground off the lot"
    if name.startswith("eave"):
        return f"the {name}"
    if name.startswith(("sump", "drain")):
        return f"the {name}"
    return name
