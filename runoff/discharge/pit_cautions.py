"""What is particular to one seepage pit, beside its numbers: codes with their figures in metres."""

from __future__ import annotations

from collections.abc import Iterator

from runoff.discharge.pit import Pit
from runoff.discharge.pit_setbacks import pit_distance
from runoff.discharge.ways import Caution
from runoff.site.model import Site

_ROUNDING = 1e-6


def of_drop(drop: float) -> Iterator[Caution]:
    """The line's end lies this much (m) above the pit's inlet."""
    if drop > _ROUNDING:
        yield Caution("silt trap drop", figures=(drop,))


def of_frost(site: Site, dig_depth: float) -> Iterator[Caution]:
    """The ground may freeze below a pit of this depth (m)."""
    if site.soil.frost is not None and site.soil.frost >= dig_depth:
        yield Caution("freezes below pit", figures=(site.soil.frost,))


def of_site(site: Site) -> Iterator[Caution]:
    """What nobody said, and a pit depends on, with what it must keep away by."""
    rules, soil = site.rules, site.soil
    if soil.groundwater is None:
        yield Caution("groundwater not given", figures=(rules["pit_groundwater_clearance"],))
    if soil.bedrock is None:
        yield Caution("bedrock not given", figures=(rules["pit_bedrock_clearance"],))
    yield Caution("roofs that poison")
    if site.lot is None:
        yield Caution("lot not given", figures=(pit_distance(site, "pit_lot_line_distance"),))
    unsaid = tuple(each.name for each in site.own_buildings if each.kind is None)
    if unsaid and site.units == "ft":
        far = (rules["pit_basement_distance"],)
        yield Caution("basement not given", figures=far, names=unsaid)


def of_well(site: Site, body: Pit, dig_depth: float) -> Iterator[Caution]:
    """In the US some pits count as disposal wells (EPA, Class V, read)."""
    if site.units != "ft":
        return
    if dig_depth > max(body.length_m, body.width_m):
        yield Caution("disposal well by depth")
    elif body.kind in ("trench", "chamber"):
        yield Caution("disposal well by pipe")
