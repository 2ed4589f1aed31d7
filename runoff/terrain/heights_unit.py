"""In which unit a raster's heights are: as stated, as its band says, or as its vertical CRS says.

The horizontal unit says nothing of it: maps in feet carry heights in metres, and the other way.
"""

from __future__ import annotations

from typing import Any

from runoff.site.model import ElevationSource
from runoff.site.problems import InputError, Problem

US_SURVEY_FOOT = 1200 / 3937
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


def metres_per_height(source: ElevationSource, raster: Any) -> float:
    """Metres in one unit of a raster's heights.

    Parameters
    ----------
    source : ElevationSource
    raster : rasterio dataset

    Returns
    -------
    float

    Raises
    ------
    InputError
        Where no place says it.
    """
    if source.vertical_unit is not None:
        return source.vertical_unit
    band = unit_by_name(raster.units[source.band - 1] or "")
    if band is not None:
        return band
    vertical = _vertical_axis_unit(raster.crs)
    if vertical is not None:
        return vertical
    written = source.written
    raise InputError(
        [
            Problem(
                written.file,
                written.line,
                "[terrain] vertical_unit",
                "",
                f'the unit of the heights in {source.path.name}, such as vertical_unit = "m" or '
                '"ft"; the file does not say it',
            )
        ]
    )


def unit_by_name(name: str) -> float | None:
    """Metres in a unit of length by the names that rasters use; None for any other.

    Examples
    --------
    >>> unit_by_name("Feet"), unit_by_name("fathom")
    (0.3048, None)
    """
    return _NAMES.get(name.strip().lower().replace("_", " "))


def _vertical_axis_unit(crs: Any) -> float | None:
    from pyproj import CRS

    if not crs:
        return None
    for part in CRS.from_wkt(crs.to_wkt()).sub_crs_list:
        if part.is_vertical:
            return float(part.axis_info[0].unit_conversion_factor)
    return None
