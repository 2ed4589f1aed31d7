"""In which unit heights of elevation data are, as its file says it.

The horizontal unit says nothing of it: maps in feet carry heights in metres, and the other way.
"""

from __future__ import annotations

from typing import Any

US_SURVEY_FOOT = 1200 / 3937
"""Metres, by definition (US Federal Register, 1959)."""
METRES_PER_VERTICAL_UNIT = {"m": 1.0, "ft": 0.3048, "us survey ft": US_SURVEY_FOOT}
_NAMES = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), 1.0),
    **dict.fromkeys(("ft", "foot", "feet", "international foot"), 0.3048),
    **dict.fromkeys(
        ("us-ft", "us ft", "ftus", "sft", "us survey foot", "us survey feet", "survey foot"),
        US_SURVEY_FOOT,
    ),
    **dict.fromkeys(("dm", "decimetre", "decimeter"), 0.1),
    **dict.fromkeys(("cm", "centimetre", "centimeter", "centimetres", "centimeters"), 0.01),
    **dict.fromkeys(("mm", "millimetre", "millimeter"), 0.001),
}


def unit_by_name(name: str) -> float | None:
    """Metres in a unit of length by the names that rasters use; None for any other.

    Examples
    --------
    >>> unit_by_name("Feet"), unit_by_name("fathom")
    (0.3048, None)
    """
    return _NAMES.get(name.strip().lower().replace("_", " "))


def unit_name(metres: float) -> str:
    """The name, as site files write it, of a unit of so many metres.

    Examples
    --------
    >>> unit_name(1200 / 3937), unit_name(0.1)
    ('us survey ft', '0.1 m')
    """
    for name, size in METRES_PER_VERTICAL_UNIT.items():
        if abs(metres / size - 1.0) < 1e-7:
            return name
    return f"{metres:g} m"


def unit_of_band(raster: Any, band: int) -> float | None:
    """Metres in a unit of the heights in a band (from 1) of a rasterio dataset; None if unsaid."""
    named = unit_by_name(raster.units[band - 1] or "")
    return named if named is not None else unit_of_vertical(raster.crs and raster.crs.to_wkt())


def unit_of_vertical(wkt: str | None) -> float | None:
    """Metres in a unit of the heights, by the vertical part of a map system; None if it has none.

    Examples
    --------
    >>> unit_name(unit_of_vertical("EPSG:2263+6360")), unit_of_vertical("EPSG:2263")
    ('us survey ft', None)
    """
    part = _vertical(wkt)
    return None if part is None else float(part.axis_info[0].unit_conversion_factor)


def vertical_datum(wkt: str | None) -> str | None:
    """The name of the datum that heights stand on; None where the map system does not say it.

    Examples
    --------
    >>> vertical_datum("EPSG:2263+6360")
    'North American Vertical Datum 1988'
    """
    part = _vertical(wkt)
    return None if part is None or part.datum is None else str(part.datum.name)


def _vertical(wkt: str | None) -> Any:
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    if not wkt:
        return None
    try:
        crs = CRS.from_user_input(wkt)
    except CRSError:
        return None
    parts = [crs, *crs.sub_crs_list]
    return next((part for part in parts if part.is_vertical and not part.is_compound), None)
