"""The appendix: the heights that the report was made from, as evidence.

In: the site. Out: blocks.
"""

from __future__ import annotations

from runoff.report.blocks import Block, Heading, NewPage, Paragraph, table
from runoff.site.model import Site, SpotHeight

_METRES = {"ft": 0.3048, "m": 1.0}
_DECIMALS = {"ft": 2, "m": 3}
_MOST_HEIGHTS = 1200
_ABREAST = 2
"""Heights in a row of the table: their remarks are short."""


def appendix_blocks(site: Site) -> list[Block]:
    """A table of spot heights; nothing where there are none."""
    if not site.spot_heights:
        return []
    unit = site.units
    columns = ("height", f"x ({unit})", f"y ({unit})", f"z ({unit})")
    cells = [_cells(spot, site) for spot in site.spot_heights[:_MOST_HEIGHTS]]
    down = -(-len(cells) // _ABREAST)
    blank = ("",) * len(columns)
    rows = [
        tuple(
            cell
            for k in range(row, down * _ABREAST, down)
            for cell in (cells[k] if k < len(cells) else blank)
        )
        for row in range(down)
    ]
    left = len(site.spot_heights) - len(cells)
    more = [Paragraph(f"And {left} heights more.")] if left else []
    return [
        NewPage(),
        Heading("Appendix: the heights that this was made from", 1),
        Paragraph(f"As the site file {site.path.name} has them; keep it and its sheets with this."),
        *table(columns * _ABREAST, rows, columns[1:]),
        *more,
    ]


def _cells(spot: SpotHeight, site: Site) -> tuple[str, ...]:
    def shown(metres: float) -> str:
        return f"{metres / _METRES[site.units]:.{_DECIMALS[site.units]}f}"

    name = f"{spot.name}  {spot.remark}" if spot.remark else spot.name
    return name, shown(spot.x), shown(spot.y), shown(spot.z)
