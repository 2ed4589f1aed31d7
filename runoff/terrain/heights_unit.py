"""In which unit the heights of elevation data are: as the site states it, else as the file says."""

from __future__ import annotations

from runoff.site.model import ElevationSource
from runoff.site.problems import InputError, Problem


def metres_per_height(source: ElevationSource, said: float | None) -> float:
    """Metres in one unit of the heights.

    Parameters
    ----------
    source : ElevationSource
    said : float or None
        Metres in the unit that the file itself says, None where it says none.

    Raises
    ------
    InputError
        Where no place says it: the horizontal unit would be a guess.
    """
    unit = source.vertical_unit if source.vertical_unit is not None else said
    if unit is not None:
        return unit
    written = source.written
    raise InputError(
        [
            Problem(
                written.file,
                written.line,
                "[terrain] vertical_unit",
                "",
                f'the unit of the heights in {source.name}, such as vertical_unit = "m" or '
                '"ft"; the file does not say it',
            )
        ]
    )
