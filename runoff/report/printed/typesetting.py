"""From data to a PDF, by typst: the template, the data and the pictures, all in memory.

In: data and pictures. Out: the bytes of a PDF, tagged for screen readers. Nothing is read from the
network and no font of the system's: text and drawings have the fonts that matplotlib brings.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Literal

from runoff.report.printed.letters import font_folder

if TYPE_CHECKING:
    import typst

TEMPLATE = "report.typ"
# The last one has a sign for every character that the first lacks; not every matplotlib brings it.
_FAMILIES = ("DejaVu Sans", "Last Resort High-Efficiency")
_ACCESSIBLE: Literal["ua-1"] = "ua-1"


def typeset(data: Mapping[str, Any], pictures: Mapping[str, bytes]) -> bytes:
    """Set a report.

    Parameters
    ----------
    data : mapping
        What the template prints; plain data.
    pictures : mapping of file name to bytes

    Returns
    -------
    bytes
        A PDF after PDF/UA-1. Where a name holds a character that no font here knows, a PDF that is
        tagged all the same but does not claim the standard.
    """
    import typst

    told = {**data, "fonts": [*_FAMILIES]}
    files_of_it = {
        "main": (files("runoff.report.printed") / TEMPLATE).read_bytes(),
        "data.json": json.dumps(told).encode(),
        **pictures,
    }
    fonts = typst.Fonts(
        include_system_fonts=False,
        include_embedded_fonts=False,
        font_paths=[str(font_folder())],
    )
    return _tagged(typst.Compiler(files_of_it, font_paths=fonts))  # type: ignore[type-var]


def _tagged(compiler: typst.Compiler) -> bytes:
    """After the standard where every character has a sign in some font here, else tagged alone."""
    import typst

    try:
        made = compiler.compile(format="pdf", pdf_standards=_ACCESSIBLE)
    except typst.TypstError as error:
        if "glyph" not in str(error) and "font" not in str(error):
            raise
        made = compiler.compile(format="pdf")
    assert isinstance(made, bytes)
    return made
