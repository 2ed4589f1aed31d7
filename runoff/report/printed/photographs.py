"""The photographs that the site file names, made small enough to print.

In: the site. Out: blocks with captions, and the picture files that they show.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from pathlib import Path

from PIL import Image, ImageOps, UnidentifiedImageError

from runoff.report.printed.blocks import Block, bullets, figure, heading
from runoff.site.model import Photograph, Site

# Enough for a picture of its size on paper at some 150 dots to the inch.
_MOST_PIXELS = 900
_QUALITY = 78
_WIDEST_MM, _TALLEST_MM = 130.0, 95.0


@dataclass(frozen=True)
class Photographs:
    """The chapter of photographs, empty where none is named, and its files by name."""

    blocks: list[Block]
    pictures: dict[str, bytes]


def photographs_of(site: Site) -> Photographs:
    """Every photograph with its caption; one that cannot be shown is said, with the reason."""
    if not site.photographs:
        return Photographs([], {})
    items, pictures, missing = [], {}, []
    for number, one in enumerate(site.photographs, start=1):
        try:
            content, (width, height) = _small(one.file)
        except (OSError, ValueError, Image.DecompressionBombError) as error:
            missing.append(f"Photograph {number}, {_told(one)}: {_why(error)}.")
            continue
        name = f"photograph-{number}.jpg"
        pictures[name] = content
        scale = min(_WIDEST_MM / width, _TALLEST_MM / height)
        told = f"Photograph {number}: {one.caption or one.file.name}"
        items.append(figure(name, (width * scale, height * scale), told, told))
    blocks: list[Block] = [heading("Photographs", 1)]
    if items:
        blocks.append({"kind": "photographs", "items": items})
    if missing:
        blocks.append(bullets(missing))
    return Photographs(blocks, pictures)


def _told(one: Photograph) -> str:
    return f"{one.file.name} ({one.caption})" if one.caption else one.file.name


def _why(error: Exception) -> str:
    if isinstance(error, FileNotFoundError):
        return "the file is not there"
    if isinstance(error, UnidentifiedImageError):
        return "it is not a picture that can be read"
    return "it cannot be read"


def _small(file: Path) -> tuple[bytes, tuple[int, int]]:
    """A JPEG no larger than it is printed, upright, without the camera's notes; and its size."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)
        with Image.open(file) as opened:
            opened.draft("RGB", (_MOST_PIXELS, _MOST_PIXELS))
            upright = ImageOps.exif_transpose(opened)
            upright.thumbnail((_MOST_PIXELS, _MOST_PIXELS))
            flat = Image.new("RGB", upright.size, "white")
            flat.paste(upright, mask=upright.getchannel("A") if upright.mode == "RGBA" else None)
    page = io.BytesIO()
    flat.save(page, "JPEG", quality=_QUALITY, optimize=True)
    return page.getvalue(), flat.size
