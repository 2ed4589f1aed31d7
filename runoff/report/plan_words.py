"""A plan's quantities in its reader's units, and the words that its texts and pictures share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from runoff import quantities
from runoff.discharge.ways import Failure, Option, Work
from runoff.report.words import system_of
from runoff.rules import Rule
from runoff.site.model import Prices, Site

_QUARTER_INCH = 4
_WHOLE_INCH = 1
_NOTHING = 1e-9
_NO_VOLUME = 1e-6
"""Cubic meters: a milliliter is what rounding leaves, not water."""
_LEAST_VOLUME = {"us": 0.1 * 0.3048**3, "metric": 0.003}
WAY_WORDS = {
    "as it is": "leave it as it is",
    "seepage pit": "seepage pit (dry well)",
    "corrected grade and seepage pit": "corrected grade and seepage pit (dry well)",
    "refer": "nothing found: draw a route, or ask",
}


@dataclass(frozen=True)
class Shown:
    """Writes SI quantities in one system, ``"us"`` or ``"metric"``.

    Examples
    --------
    >>> Shown("us").height(0.1), Shown("us").far(0.1), Shown("metric").far(12.345)
    ('4 in', '4 in', '12.35 m')
    """

    system: str

    @classmethod
    def of(cls, site: Site) -> Shown:
        """In a site's own units."""
        return cls(system_of(site.units))

    def height(self, metres: float) -> str:
        """To a quarter of an inch; in metric to a millimetre, from 1 m up to a centimetre."""
        return quantities.format_length(metres, self.system, _QUARTER_INCH)

    def fine(self, metres: float) -> str:
        """To a sixteenth of an inch, as a gutter is hung."""
        return quantities.format_length(metres, self.system)

    def far(self, metres: float) -> str:
        """A distance along the ground: whole inches; in metric as `height`."""
        return quantities.format_length(metres, self.system, _WHOLE_INCH)

    def place(self, x: float, y: float) -> str:
        """A place on the plan: feet and whole inches, or metres to a centimetre.

        Examples
        --------
        >>> Shown("us").place(3.048, 0.1), Shown("metric").place(3.048, 0.1)
        ('(10 ft, 4 in)', '(3.05 m, 0.10 m)')
        """
        if self.system == "metric":
            return f"({x:.2f} m, {y:.2f} m)"
        return f"({self.far(x)}, {self.far(y)})"

    def at_least_a_step(self, metres: float) -> str:
        """As `fine`, but never 0: what is less than a step of it is told as one."""
        return self.fine(max(metres, 0.0254 / 16 if self.system == "us" else 0.001))

    def rain(self, metres: float) -> str:
        """As `runoff.quantities.format_rain`."""
        return quantities.format_rain(metres, self.system)

    def area(self, square_metres: float) -> str:
        """As `runoff.quantities.format_area`."""
        return quantities.format_area(square_metres, self.system)

    def volume(self, cubic_metres: float) -> str:
        """As `runoff.quantities.format_volume`; a small one without figures.

        Examples
        --------
        >>> Shown("us").volume(1e-14), Shown("us").volume(2e-4), Shown("metric").volume(2e-4)
        ('0 cu ft', 'under 0.1 cu ft', 'under 0.003 m3')
        """
        if abs(cubic_metres) <= _NO_VOLUME:
            return quantities.format_volume(0.0, self.system)
        least = _LEAST_VOLUME[self.system]
        under = "under " if 0.0 < cubic_metres < least else ""
        return under + quantities.format_volume(least if under else cubic_metres, self.system)

    def found_area(self, square_metres: float) -> str:
        """An area that was found on the ground, as closely as the ground tells it."""
        return quantities.format_area(square_metres, self.system, found=True)

    def found_volume(self, cubic_metres: float) -> str:
        """As `volume`, of water found on the ground, as closely as the ground tells it.

        Examples
        --------
        >>> Shown("us").found_volume(1.295), Shown("us").found_volume(1e-14)
        ('46 cu ft', '0 cu ft')
        """
        size = 0.3048**3 if self.system == "us" else 1.0
        return self.volume(quantities.as_found(cubic_metres / size) * size)

    def flow(self, cubic_metres_per_second: float) -> str:
        """As `runoff.quantities.format_flow`."""
        return quantities.format_flow(cubic_metres_per_second, self.system)

    def rate(self, metres_per_second: float) -> str:
        """As `runoff.quantities.format_rate`."""
        return quantities.format_rate(metres_per_second, self.system)

    def velocity(self, metres_per_second: float) -> str:
        """As `runoff.quantities.format_velocity`."""
        return quantities.format_velocity(metres_per_second, self.system)


def way_words(option: Option) -> str:
    """The way as a person reads it.

    Examples
    --------
    >>> way_words(Option("seepage pit", True, ""))
    'seepage pit (dry well)'
    """
    return WAY_WORDS.get(option.kind, option.kind)


def work_words(work: Work, shown: Shown) -> str:
    """What a way takes, in a few words; a dash where it takes nothing to speak of.

    Examples
    --------
    >>> work_words(Work(dig_m3=1.0, pipe_m=3.048, spoil_m3=0.5), Shown("us"))
    'dig 35 cu ft; 10 ft of pipe; 17.7 cu ft of loose soil left over'
    >>> work_words(Work(), Shown("us"))
    '-'
    """
    parts = []
    if work.dig_m3 > _NOTHING:
        parts.append(f"dig {shown.found_volume(work.dig_m3)}")
    if work.pipe_m > _NOTHING:
        parts.append(f"{shown.far(work.pipe_m)} of pipe")
    if work.extension_m > _NOTHING:
        parts.append(f"{shown.far(work.extension_m)} of extension")
    if work.stone_m3 > _NOTHING:
        parts.append(f"{shown.volume(work.stone_m3)} of stone")
    if work.fabric_m2 > _NOTHING:
        parts.append(f"{shown.area(work.fabric_m2)} of fabric")
    if work.soil_m3 > _NOTHING:
        parts.append(f"{shown.found_volume(work.soil_m3)} of soil, loose")
    if work.spoil_m3 > _NOTHING:
        parts.append(f"{shown.found_volume(work.spoil_m3)} of loose soil left over")
    return "; ".join(parts) or "-"


def price_words(work: Work, prices: Prices | None) -> str:
    """What it costs by the site's own unit prices; empty where there are none."""
    if prices is None or work.price is None:
        return ""
    return f"{prices.currency} {work.price:,.0f}"


def failure_words(failure: Failure) -> str:
    """Where the water goes when a way fails, and what is planned against it."""
    if failure.relief:
        helps = (
            "" if failure.relieved or not failure.reaches_foundation else " It does not suffice."
        )
        return f"{failure.sentence} Against it: {_lowered(failure.relief)}{helps}"
    if failure.is_safe:
        return failure.sentence
    return f"{failure.sentence} Nothing here helps against it: watch it in every storm."


def safe_words(option: Option) -> str:
    """Whether a way fails safely, in one to four words."""
    if not option.failures:
        return "-"
    if not option.fails_safely:
        return "NOT safely"
    return "safely, with relief" if any(f.relief for f in option.failures) else "safely"


def stop(sentence: str) -> str:
    """A sentence that starts large and ends in a full stop.

    Examples
    --------
    >>> stop("it comes to daylight"), stop("Done.")
    ('It comes to daylight.', 'Done.')
    """
    words = sentence.strip()
    words = words[:1].upper() + words[1:]
    return words if not words or words[-1] in ".!?" else f"{words}."


def _lowered(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


def rule_value(site: Site, rule: Rule, value: float) -> str:
    """A rule's value in the site's units; as its source writes it where that is in them."""
    shown = Shown.of(site)
    if value == rule.value and site.units == "ft":
        return rule.written
    tellers: dict[str, Callable[[float], str]] = {
        "length": shown.height,
        "slope": quantities.format_slope,
        "intensity": shown.rate,
        "velocity": shown.velocity,
        "duration": quantities.format_duration,
        "flow": shown.flow,
    }
    return tellers[rule.kind](value) if rule.kind in tellers else f"{value:g}"
