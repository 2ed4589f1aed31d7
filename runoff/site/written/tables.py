"""The tables of one site file: each checked on its own, so that one mistake hides no other.

In: what tomllib read. Out: the tables that pass, with their place in the file; complaints about
the rest.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar, get_origin

from pydantic import BaseModel, ValidationError

from runoff.site.problems import Complaints, hint, model_within
from runoff.site.rain.entries import RainTable
from runoff.site.soil.tables import SoilTable
from runoff.site.written.document import (
    WELLS,
    BarrierTable,
    BreakLineTable,
    BuildingTable,
    Document,
    DownspoutTable,
    DrainTable,
    EasementTable,
    GutterTable,
    KeepOutTable,
    LotTable,
    OpeningTable,
    OutletTable,
    PavingTable,
    PhotographTable,
    PipeTable,
    PricesTable,
    RoofTable,
    SiteTable,
    SumpTable,
    TerrainTable,
)

T = TypeVar("T", bound=BaseModel)
Numbered = list[tuple[int, T]]


@dataclass
class Tables:
    """The tables of a site file that pass on their own; arrays with each element's index."""

    site: SiteTable | None = None
    terrain: TerrainTable | None = None
    lot: LotTable | None = None
    rain: RainTable | None = None
    soil: SoilTable | None = None
    pipe: PipeTable | None = None
    prices: PricesTable | None = None
    break_line: Numbered[BreakLineTable] = field(default_factory=list)
    barrier: Numbered[BarrierTable] = field(default_factory=list)
    drain: Numbered[DrainTable] = field(default_factory=list)
    building: Numbered[BuildingTable] = field(default_factory=list)
    paving: Numbered[PavingTable] = field(default_factory=list)
    keep_out: Numbered[KeepOutTable] = field(default_factory=list)
    easement: Numbered[EasementTable] = field(default_factory=list)
    outlet: Numbered[OutletTable] = field(default_factory=list)
    roof: Numbered[RoofTable] = field(default_factory=list)
    downspout: Numbered[DownspoutTable] = field(default_factory=list)
    opening: Numbered[OpeningTable] = field(default_factory=list)
    sump: Numbered[SumpTable] = field(default_factory=list)
    gutter: Numbered[GutterTable] = field(default_factory=list)
    photograph: Numbered[PhotographTable] = field(default_factory=list)


def _models(arrays: bool) -> dict[str, type[BaseModel]]:
    """The tables of a site file by name, single ones or arrays."""
    found = {}
    for name, known in Document.model_fields.items():
        model = model_within(known.annotation)
        if model is not None and (get_origin(known.annotation) is list) == arrays:
            found[name] = model
    return found


SINGLE = _models(arrays=False)
ARRAYS = _models(arrays=True)


def units_of(raw: Mapping[str, Any]) -> str:
    """The file's units for bare numbers; feet stand in where they are not stated rightly."""
    site = raw.get("site")
    units = site.get("units") if isinstance(site, dict) else None
    return units if units in ("ft", "m") else "ft"


def check_tables(raw: Mapping[str, Any], complaints: Complaints) -> Tables:
    """Check every table; complain about all that is wrong."""
    tables = Tables()
    for key in raw:
        if key not in SINGLE and key not in ARRAYS and key != "rules":
            known = [*SINGLE, *ARRAYS, "rules"]
            complaints.add((key,), f"a table known here, {hint(key, known)}", written=key)
    for key, model in SINGLE.items():
        if key in raw:
            setattr(tables, key, _checked(model, raw[key], (key,), complaints))
    for key in ("site", "terrain"):
        if key not in raw:
            complaints.add((key,), f"a table [{key}]; {_EXAMPLES[key]}", written="")
    for key, model in ARRAYS.items():
        setattr(tables, key, _array(key, model, raw, complaints))
    for key in ("opening", "downspout"):
        _unknown_names(key, raw, {number for number, _ in getattr(tables, key)}, complaints)
    return tables


def _unknown_names(
    key: str, raw: Mapping[str, Any], passed: set[int], complaints: Complaints
) -> None:
    """Complain of unknown names, and of what a well lacks, in tables that do not pass.

    The others are asked about these where their records are made; so all is told in one round.
    """
    elements = raw.get(key, [])
    for number, element in enumerate(elements if isinstance(elements, list) else []):
        if number in passed or not isinstance(element, dict):
            continue
        at, roofs = element.get("at"), element.get("roofs")
        wanted: list[tuple[tuple[str | int, ...], Any, str]] = []
        if isinstance(at, dict):
            wanted.append(((key, number, "at", "building"), at.get("building"), "building"))
        for place, item in enumerate(roofs if isinstance(roofs, list) else []):
            name = item.get("roof") if isinstance(item, dict) else item
            wanted.append(((key, number, "roofs", place), name, "roof"))
        for entry, name, kind in wanted:
            known = names(raw, kind)
            if isinstance(name, str) and name.strip() not in known:
                complaints.add(entry, f"the name of a {kind}, {hint(name, known)}", written=name)
        told = any(p.entry == complaints.entry((key, number)) for p in complaints.problems)
        lacks = element.get("kind") in WELLS and "projection" not in element
        if key == "opening" and lacks and not told:
            why = "this entry, which is missing: how far the well stands out of the wall"
            complaints.add((key, number, "projection"), why, written="")


_EXAMPLES = {
    "site": 'it holds at least name and units, such as units = "ft"',
    "terrain": 'it says where heights come from, such as spot_heights = "spots.csv"',
}


def _array(key: str, model: type[T], raw: Mapping[str, Any], complaints: Complaints) -> Numbered[T]:
    elements = raw.get(key, [])
    if not isinstance(elements, list):
        complaints.add((key,), f"[[{key}]] in double brackets, as there may be several")
        return []
    good: Numbered[T] = []
    for number, element in enumerate(elements):
        table = _checked(model, element, (key, number), complaints)
        if table is not None:
            good.append((number, table))
    _names_differ(key, elements, complaints)
    return good


def _context(complaints: Complaints) -> dict[str, Any]:
    """What entries are read by: units of bare numbers, and where files may lie."""
    return {
        "units": units_of(complaints.raw),
        "folder": Path(complaints.file).parent,
        "files_elsewhere": may_lie_elsewhere(complaints.raw),
        "elsewhere": complaints.elsewhere,
    }


def may_lie_elsewhere(raw: Mapping[str, Any]) -> bool:
    """Whether the site file lets files outside its folder be read."""
    site = raw.get("site")
    return isinstance(site, dict) and site.get("files_elsewhere") is True


def _checked(
    model: type[T], value: Any, path: tuple[str | int, ...], complaints: Complaints
) -> T | None:
    try:
        return model.model_validate(value, context=_context(complaints))
    except ValidationError as error:
        complaints.add_validation(error, path, model)
    return None


def _names_differ(key: str, elements: list[Any], complaints: Complaints) -> None:
    first: dict[str, int] = {}
    for number, element in enumerate(elements):
        name = element.get("name") if isinstance(element, dict) else None
        if not isinstance(name, str) or not name.strip():
            continue
        name = name.strip()
        if name in first:
            line = complaints.line((key, first[name], "name"))
            complaints.add(
                (key, number, "name"), f"a name of its own; line {line} has this one already"
            )
        else:
            first[name] = number


def names(raw: Mapping[str, Any], key: str) -> list[str]:
    """Names in an array of tables, those of tables that do not pass as well."""
    elements = raw.get(key)
    if not isinstance(elements, list):
        return []
    found = [element.get("name") for element in elements if isinstance(element, dict)]
    return [name.strip() for name in found if isinstance(name, str)]


def each(numbered: Numbered[T], make: Callable[[int, T], Any]) -> tuple[Any, ...]:
    """What `make` makes of each table, without those it could not make."""
    made = (make(number, table) for number, table in numbered)
    return tuple(item for item in made if item is not None)


def site_schema() -> dict[str, Any]:
    """The JSON schema (draft 2020-12) of the site file, made from the models that check it.

    Returns
    -------
    dict

    Examples
    --------
    >>> site_schema()["required"]
    ['site', 'terrain']
    """
    schema = Document.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
