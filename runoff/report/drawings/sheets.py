"""A drawing for the printed report: vector lines at a stated scale, on its sheet.

What makes drawings returns these; what lays out pages places them at their size, unscaled.

In: matplotlib figures whose size is that on paper. Out: `Drawing` records whose texts are texts.
"""

from __future__ import annotations

import io
import re
import warnings
from dataclasses import dataclass
from typing import Any

import matplotlib
from matplotlib.figure import Figure
from matplotlib.text import Text

from runoff.report.files import MARK
from runoff.report.names import printable
from runoff.report.sections.sheet import MM_PER_INCH, TEXT_AREAS, Paper, PaperName, PaperScale


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
    building : str
        Whose wall it shows the ground off; empty for any other drawing.
    """

    name: str
    svg: bytes
    width_mm: float
    height_mm: float
    scale: str
    ratio: float
    caption: str
    alternative: str
    building: str = ""


_LEFT_IN, _RIGHT_IN = 0.68, 0.12
_BARE_LEFT_IN, _BARE_RIGHT_IN = 0.62, 0.06
_HALO_ID = "halo-"
_HALO = "paint-order: stroke; stroke: #ffffff; stroke-width: 2.2px; stroke-linejoin: round; "
_HALO_TEXT = re.compile(rf'(<g id="{_HALO_ID}\d+">.*?</g>)', re.DOTALL)
# A control character in a name would make the whole file unreadable.
_NO_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ufffe\uffff]")


@dataclass(frozen=True)
class DrawingSheet:
    """A drawing before it is written: its figure, which has its size on paper, and its words."""

    name: str
    figure: Figure
    scale: PaperScale
    caption: str
    alternative: str
    building: str = ""

    def drawing(self) -> Drawing:
        """As the report places it."""
        width, height = (float(side) * MM_PER_INCH for side in self.figure.get_size_inches())
        return Drawing(
            name=self.name,
            svg=svg_of(self.figure, self.name),
            width_mm=width,
            height_mm=height,
            scale=self.scale.words,
            ratio=self.scale.ratio,
            caption=self.caption,
            alternative=self.alternative,
            building=self.building,
        )


def paper_of(name: PaperName, share: float = 1.0, tall: float = 1.0) -> Paper:
    """What sections are drawn on: a share of a paper's text area wide.

    On less than all of it a section is bare: the page that it stands on says what it is.
    """
    width, bare = share * TEXT_AREAS[name][0], share < 1.0
    left, right = (_BARE_LEFT_IN, _BARE_RIGHT_IN) if bare else (_LEFT_IN, _RIGHT_IN)
    return Paper(width, left, right, to_scale=True, bare=bare, tall=tall)


def svg_of(figure: Figure, name: str) -> bytes:
    """A figure as SVG whose texts stay texts, those with a halo too; the same bytes each time."""
    haloed = [text for text in figure.findobj(Text) if text.get_path_effects()]
    kept = [(text, text.get_path_effects(), text.get_gid()) for text in haloed]
    for number, text in enumerate(haloed):
        # What has a path effect is drawn as outlines, so the halo is put in by style instead.
        text.set_path_effects([])
        text.set_gid(f"{_HALO_ID}{number}")
    page = io.BytesIO()
    settings: dict[Any, Any] = {
        "svg.fonttype": "none",
        "svg.hashsalt": MARK,
        "font.family": ["DejaVu Sans"],
    }
    with warnings.catch_warnings(), matplotlib.rc_context(settings):
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        metadata = {"Title": f"{MARK}: {name}", "Date": None}
        figure.savefig(page, format="svg", facecolor="white", metadata=metadata)
    for text, effects, gid in kept:
        text.set_path_effects(effects)
        text.set_gid(gid)
    svg = _HALO_TEXT.sub(_with_halo, page.getvalue().decode())
    svg = _NO_XML.sub(lambda found: printable(found[0]), svg)
    # Spaces that set a word off from what it stands beside would be lost.
    return svg.replace("<text ", '<text xml:space="preserve" ').encode()


def _with_halo(group: re.Match[str]) -> str:
    return group[1].replace('<text style="', f'<text style="{_HALO}')
