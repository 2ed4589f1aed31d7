"""Scales that a person can lay a rule to, and the areas of paper that drawings fit.

In: how much ground must go on how much paper. Out: the largest sensible scale at which it does.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from runoff.site.model import Units

PaperName = Literal["letter", "a4"]
METRES_PER_INCH = 0.0254
MM_PER_INCH = 25.4

# Between margins of 0.75 in and 18 mm, a heading and a caption left out; upright, inches.
TEXT_AREAS: dict[PaperName, tuple[float, float]] = {
    "letter": (7.0, 9.25),
    "a4": (174.0 / MM_PER_INCH, 250.0 / MM_PER_INCH),
}

# Feet to the inch are those of an engineer's and an architect's rule; the metric ratios are those
# of ISO 5455 with 1:25 and 1:250, which are common practice.
_FEET_TO_THE_INCH = (0.5, 1, 2, 3, 4, 5, 10, 20, 30, 40, 50, 60, 100, 200, 300, 400, 500, 1000)
_RATIOS = (5, 10, 20, 25, 50, 100, 200, 250, 500, 1000, 2000, 5000, 10000, 20000)
_SLACK = 1e-9


@dataclass(frozen=True)
class PaperScale:
    """A scale: `ratio` is length on the ground over length on paper, `words` as it is read."""

    ratio: float
    words: str

    @property
    def inches_per_metre(self) -> float:
        """Inches of paper that one metre of ground takes."""
        return 1.0 / (METRES_PER_INCH * self.ratio)


def scales(units: Units) -> tuple[PaperScale, ...]:
    """The sensible scales in a site's units, the largest first.

    Examples
    --------
    >>> [scale.words for scale in scales("m")[3:5]]
    ['1:25', '1:50']
    """
    if units == "m":
        return tuple(PaperScale(float(ratio), f"1:{ratio}") for ratio in _RATIOS)
    return tuple(
        PaperScale(12.0 * feet, f"1 in = {_feet(feet)} (1:{12 * feet:g})")
        for feet in _FEET_TO_THE_INCH
    )


def scale_for(ground_m: float, paper_in: float, units: Units) -> PaperScale:
    """The largest sensible scale at which a length of ground fits a length of paper.

    Parameters
    ----------
    ground_m : float, metres
    paper_in : float, inches
    units : {"ft", "m"}

    Returns
    -------
    PaperScale
        The smallest of all where even it is too large.

    Examples
    --------
    35 m on 6 in want 1:230, so feet take 1 in = 20 ft and metres 1:250.

    >>> scale_for(35.0, 6.0, "ft").words, scale_for(35.0, 6.0, "m").words
    ('1 in = 20 ft (1:240)', '1:250')
    """
    least = ground_m / (paper_in * METRES_PER_INCH)
    every = scales(units)
    return next((one for one in every if one.ratio >= least * (1.0 - _SLACK)), every[-1])


def _feet(feet: float) -> str:
    return f"{feet:g} ft" if feet >= 1 else f"{12 * feet:g} in"
