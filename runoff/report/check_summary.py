"""What was written down about a lot, for the terminal: points, what stands out, what is missing.

In: a checked site. Out: blocks, in the site's own units.
"""

from __future__ import annotations

from runoff.checking import Checked, Cost
from runoff.quantities import Shown
from runoff.report.blocks import Block, Heading, Paragraph, section, titled_table
from runoff.site.model import SpotHeight
from runoff.words.missing import missing_words, suspect_reason
from runoff.words.notices import notices_in_words

METRES_PER_FOOT = 0.3048
_EIGHTHS = 8
_REMARK_LETTERS = 28
_TITLES = {
    Cost.NO_ANSWER: "Missing, and no answer without it",
    Cost.LESS_SURE: "Missing, and the answer is less sure without it",
    Cost.ASSUMED: "Not said, so assumed",
}


def check_summary(checked: Checked) -> list[Block]:
    """Everything to look at, the most urgent first.

    Parameters
    ----------
    checked : Checked

    Returns
    -------
    list of Block
    """
    suspects = [
        f"{suspect.name}: {suspect_reason(checked.site, suspect)}" for suspect in checked.suspects
    ]
    return [
        *_heading(checked),
        *_points(checked),
        *section("Heights to look at again", suspects),
        *(part for cost in Cost for part in _missing(checked, cost)),
        *section("Taken for granted", notices_in_words(checked.site, checked.notices)),
        Paragraph(f"\n{_closing(checked)}"),
    ]


def _heading(checked: Checked) -> list[Block]:
    site = checked.site
    counts = [
        _counted(len(site.spot_heights), "height"),
        _counted(len(site.buildings), "building"),
        _counted(len(site.downspouts), "downspout"),
        _counted(len(site.openings), "opening"),
        _counted(len(site.roofs), "roof"),
    ]
    told = f"{', '.join(counts)}; heights by {site.height_accuracy.method}"
    return [Heading(site.name, 1), Paragraph(told)]


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _points(checked: Checked) -> list[Block]:
    """A line for each point, those that stand out marked."""
    site = checked.site
    if not site.spot_heights:
        return []
    suspect = {one.name for one in checked.suspects}
    numbers = [f"{column}, {site.units}" for column in ("x", "y", "height")]
    if site.units == "ft":
        numbers.append("on a tape")
    rows = [_row(spot, site.units, spot.name in suspect) for spot in site.spot_heights]
    return titled_table("Heights", ("point", *numbers, "remark"), rows, numbers)


def _row(spot: SpotHeight, units: str, suspect: bool) -> tuple[str, ...]:
    unit = METRES_PER_FOOT if units == "ft" else 1.0
    remark = spot.remark
    if len(remark) > _REMARK_LETTERS:
        remark = f"{remark[: _REMARK_LETTERS - 1]}…"
    return (
        spot.name,
        f"{spot.x / unit:.1f}",
        f"{spot.y / unit:.1f}",
        f"{spot.z / unit:.{2 if units == 'ft' else 3}f}",
        *((Shown("us").length(spot.z, _EIGHTHS),) if units == "ft" else ()),
        f"LOOK AGAIN  {remark}" if suspect else remark,
    )


def _missing(checked: Checked, cost: Cost) -> list[Block]:
    told = [missing_words(checked.site, one) for one in checked.missing if one.cost is cost]
    return section(_TITLES[cost], told)


def _closing(checked: Checked) -> str:
    if checked.needs_attention:
        return "Mend what can be mended; runoff inspect works with the rest and says what it lacks."
    return "Nothing stands out. Next: runoff inspect."
