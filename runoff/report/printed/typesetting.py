"""From data to a PDF, by typst: the template, the data and the pictures in a folder of their own.

In: data and pictures. Out: the bytes of a PDF, tagged for screen readers. Nothing is read from the
network and no font of the system's: text and drawings have the fonts that matplotlib brings.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from runoff.report.printed.letters import font_folder

if TYPE_CHECKING:
    import typst

TEMPLATE = "report.typ"
MONO = "DejaVu Sans Mono"
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

    with tempfile.TemporaryDirectory(prefix="runoff-report-") as name:
        folder = Path(name)
        template = (files("runoff.report.printed") / TEMPLATE).read_bytes()
        (folder / TEMPLATE).write_bytes(template)
        told = {**data, "fonts": [*_FAMILIES], "mono": [MONO, *_FAMILIES]}
        (folder / "data.json").write_text(json.dumps(told), encoding="utf-8")
        for file, content in pictures.items():
            (folder / file).write_bytes(content)
        fonts = typst.Fonts(
            include_system_fonts=False,
            include_embedded_fonts=False,
            font_paths=[str(font_folder())],
        )
        compiler = typst.Compiler(str(folder / TEMPLATE), root=str(folder), font_paths=fonts)
        return _tagged(compiler)


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
