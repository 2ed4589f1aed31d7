"""The appendix: what the report was made from, so that it can be made again.

In: the site. Out: blocks: the site file as it is written, and the spot heights.
"""

from __future__ import annotations

from runoff.report.blocks import Block, Heading, NewPage, Paragraph, Verbatim, table
from runoff.site.model import Site, SpotHeight

_METRES = {"ft": 0.3048, "m": 1.0}
_DECIMALS = {"ft": 2, "m": 3}
_MOST_LINES, _MOST_HEIGHTS = 1200, 1200


def appendix_blocks(site: Site) -> list[Block]:
    """The site file line by line, and a table of spot heights."""
    return [
        NewPage(),
        Heading("Appendix: what this was made from", 1),
        *_site_file(site),
        *_heights(site),
    ]


def _site_file(site: Site) -> list[Block]:
    title = Heading(f"The site file, {site.path.name}")
    try:
        lines = site.path.read_text(encoding="utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError):
        return [title, Paragraph("It could not be read again when this was printed.")]
    left = len(lines) - _MOST_LINES
    more = [Paragraph(f"And {left} lines more.")] if left > 0 else []
    return [title, Verbatim(lines[:_MOST_LINES]), *more]


def _heights(site: Site) -> list[Block]:
    if not site.spot_heights:
        return []
    unit = site.units
    columns = ("name", f"x ({unit})", f"y ({unit})", f"height ({unit})", "remark")
    rows = [_row(spot, site) for spot in site.spot_heights[:_MOST_HEIGHTS]]
    left = len(site.spot_heights) - len(rows)
    more = [Paragraph(f"And {left} heights more.")] if left else []
    return [Heading("Spot heights"), *table(columns, rows, columns[1:4]), *more]


def _row(spot: SpotHeight, site: Site) -> tuple[str, ...]:
    def shown(metres: float) -> str:
        return f"{metres / _METRES[site.units]:.{_DECIMALS[site.units]}f}"

    return spot.name, shown(spot.x), shown(spot.y), shown(spot.z), spot.remark
