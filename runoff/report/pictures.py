"""How every picture of the tool is saved: whole or not at all, and with its mark."""

from __future__ import annotations

import io
import warnings
from pathlib import Path

from matplotlib.figure import Figure

from runoff.report.files import MARK, whole_file

SUFFIXES = (".png", ".svg", ".pdf")

_PNG_DOTS_PER_IN = 140


def save_picture(figure: Figure, path: Path | str, title: str) -> Path:
    """Write a figure as the suffix says.

    Parameters
    ----------
    figure : Figure
    path : Path or str
        ``.png``, ``.svg`` or ``.pdf``.
    title : str
        Goes into the file's own data.

    Raises
    ------
    ValueError
        Where the suffix is none of the three.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        raise ValueError(f"{path.name}: a picture is a .png, .svg or .pdf file")
    # Drawn in memory first: on a full disk the library's own writers end in errors of theirs.
    picture = io.BytesIO()
    with warnings.catch_warnings():
        # A name in a script that the font lacks is drawn as boxes; that is all there is to say.
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        figure.savefig(
            picture,
            format=suffix[1:],
            dpi=_PNG_DOTS_PER_IN,
            facecolor="white",
            metadata=_metadata(suffix, title),
        )
    with whole_file(path) as temporary:
        temporary.write_bytes(picture.getbuffer())
    return path


def _metadata(suffix: str, title: str) -> dict[str, str | None]:
    if suffix == ".png":
        return {"Software": MARK, "Title": title}
    if suffix == ".svg":
        return {"Title": f"{MARK}: {title}", "Date": None}
    return {"Creator": MARK, "Title": title, "CreationDate": None}
