"""Names, words and quantities that texts and pictures share, as they may be printed anywhere.

In: the user's own words. Out: one line of text that every file format holds.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable

from runoff.discharge.model import Work
from runoff.discharge.ways import Option
from runoff.flow.model import DownspoutAnswer, PathEnd
from runoff.quantities import Shown
from runoff.rules import Rule
from runoff.site.model import Prices, Site
from runoff.site.problems import escaped

_SHOWN = frozenset({"Cc", "Cs", "Zl", "Zp"})


def printable(text: str) -> str:
    r"""One line of text, with control characters, line ends and half characters written out.

    Letters of every script, marks, and the joiners inside emoji stay.

    Examples
    --------
    >>> printable("front\tleft\x07")
    'front\\x09left\\x07'
    >>> printable('#"[x]$'), printable("\u2028")
    ('#"[x]$', '\\u2028')
    """
    return "".join(escaped(c) if _is_hidden(c) else c for c in text)


def csv_text(text: str) -> str:
    """A text as a cell of a CSV file that no spreadsheet takes for a formula.

    A leading apostrophe makes it text, as is common practice.

    Examples
    --------
    >>> csv_text("=1+1"), csv_text("front left")
    ("'=1+1", 'front left')
    """
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def csv_note(text: str) -> str:
    """A line of remarks over a CSV table; what follows a comma in it may be taken for a cell.

    Examples
    --------
    >>> csv_note("Lot: a,=1+1")
    "# Lot: a, '=1+1"
    """
    return "# " + re.sub(r"([,;\t])\s*(?=[=+\-@])", r"\1 '", printable(text))


def _is_hidden(character: str) -> bool:
    code = ord(character)
    no_character = code & 0xFFFE == 0xFFFE or 0xFDD0 <= code <= 0xFDEF
    return no_character or unicodedata.category(character) in _SHOWN


_BEYOND = {
    "street": "into the street",
    "alley": "into the alley",
    "neighbor": "onto the neighbor",
    "open ground": "onto open ground",
    "unknown": "and whose ground lies beyond is not known",
}


def water_phrase(answer: DownspoutAnswer) -> str:
    """Where a downspout's water ends and what it crosses on its way, in a few words."""
    names = " and ".join(f"{each.kind} '{each.name}'" for each in answer.crosses)
    crosses = f", crossing {names} (ice)" if names else ""
    return f"{end_phrase(answer.end)}{crosses}"


def end_phrase(end: PathEnd) -> str:
    """Where water ends, in a few words.

    Examples
    --------
    >>> end_phrase(PathEnd("lot side", "front", 0.0, 0.0, "street"))
    'over the front side, into the street'
    >>> end_phrase(PathEnd("low spot", "low spot 1", 0.0, 0.0))
    'stays in low spot 1'
    """
    if end.kind == "lot side":
        return f"over {end.side}, {_BEYOND.get(end.neighbor, 'off the lot')}"
    if end.kind == "survey edge":
        return "leaves the survey"
    if end.kind in ("low spot", "terminal basin"):
        return f"stays in {end.name or 'ground with no way out'}"
    return f"into the {end.kind} {end.name}" if end.name != end.kind else f"into the {end.name}"


_NOTHING = 1e-9
NO_WORK = "-"
WAY_WORDS = {
    "as it is": "leave it as it is",
    "seepage pit": "seepage pit (dry well)",
    "refer": "nothing found: draw a route, or ask",
}


def way_words(option: Option) -> str:
    """The way as a person reads it.

    Examples
    --------
    >>> way_words(Option("seepage pit", True, None))
    'seepage pit (dry well)'
    """
    return option.kind.replace(option.way, WAY_WORDS.get(option.way, option.way))


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
    return "; ".join(parts) or NO_WORK


def price_words(work: Work, prices: Prices | None) -> str:
    """What it costs by the site's own unit prices; empty where there are none."""
    if prices is None or work.price is None:
        return ""
    return f"{prices.currency} {work.price:,.0f}"


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


def rule_value(site: Site, rule: Rule, value: float) -> str:
    """A rule's value in the site's units; as its source writes it where that is in them."""
    shown = Shown.of(site)
    if value == rule.value and site.units == "ft":
        return rule.written
    tellers: dict[str, Callable[[float], str]] = {
        "length": shown.height,
        "slope": shown.slope,
        "intensity": shown.rate,
        "velocity": shown.velocity,
        "duration": shown.duration,
        "flow": shown.flow,
    }
    return tellers[rule.kind](value) if rule.kind in tellers else f"{value:g}"
