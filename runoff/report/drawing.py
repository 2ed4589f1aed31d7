"""A drawing for the printed report: vector lines at a stated scale, and what it shows in words.

What makes drawings returns these; what lays out pages places them at their size, unscaled.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Drawing:
    """One drawing.

    Parameters
    ----------
    name : str
        Of the drawing among those of a report, such as ``plan`` or ``profile of 'front right'``.
    svg : bytes
        The drawing, its texts as text.
    width_mm, height_mm : float, millimetres
        Its size on paper; at any other size the scale is not true.
    scale : str
        As a person reads it, such as ``1 in = 10 ft (1:120)``; empty where it is to no scale.
    ratio : float
        Length on the ground over length on paper, along the drawing's horizontal; 0 to no scale.
    caption, alternative : str
        What stands under it, and what it shows in words.
    """

    name: str
    svg: bytes
    width_mm: float
    height_mm: float
    scale: str
    ratio: float
    caption: str
    alternative: str
