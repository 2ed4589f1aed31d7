"""The photographs that the site file names, made small enough to print.

In: the site. Out: blocks with captions, and the picture files that they show.
"""

from __future__ import annotations

import base64
import io
import warnings
from dataclasses import dataclass
from pathlib import Path

from PIL import Image, ImageOps, UnidentifiedImageError

from runoff.report.blocks import Block, Bullets, Figure, Heading
from runoff.report.blocks import Photographs as PhotographBlock
from runoff.site.files import check_regular
from runoff.site.model import Photograph, Site

# What cameras and telephones write; of the other kinds that the library knows some start programs.
_KINDS = ("JPEG", "PNG", "TIFF", "WEBP")
_LARGEST_BYTES, _LARGEST_PIXELS = 100_000_000, 100_000_000
# Enough for a picture of its size on paper at some 150 dots to the inch.
_MOST_PIXELS = 900
_TOO_MANY = "it has more than 100 million pixels"
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
        except _NotShown as error:
            missing.append(f"Photograph {number}, {_told(one)}: {error}.")
            continue
        name = f"photograph-{number}.svg"
        pictures[name] = _as_drawing(content, width, height)
        scale = min(_WIDEST_MM / width, _TALLEST_MM / height)
        told = f"Photograph {number}: {one.caption or one.file.name}"
        items.append(Figure(name, (width * scale, height * scale), told, told))
    blocks: list[Block] = [Heading("Photographs", 1)]
    if items:
        blocks.append(PhotographBlock(items))
    if missing:
        blocks.append(Bullets(missing))
    return Photographs(blocks, pictures)


def _as_drawing(content: bytes, width: int, height: int) -> bytes:
    """A JPEG within an SVG: what is typeset in memory has to be text."""
    held = base64.b64encode(content).decode("ascii")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}">'
        f'<image width="{width}" height="{height}" href="data:image/jpeg;base64,{held}"/></svg>'
    ).encode()


def _told(one: Photograph) -> str:
    return f"{one.file.name} ({one.caption})" if one.caption else one.file.name


class _NotShown(Exception):
    """A photograph that is not printed, with the reason."""


def _small(file: Path) -> tuple[bytes, tuple[int, int]]:
    """A JPEG no larger than it is printed, upright, without the camera's notes; and its size."""
    try:
        check_regular(file)
        if file.stat().st_size > _LARGEST_BYTES:
            raise _NotShown("it has more than 100 MB")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about notes in it that are out of order
            return _made_small(file)
    except _NotShown:
        raise
    except FileNotFoundError:
        raise _NotShown("the file is not there") from None
    except Exception:
        # Each decoder fails in its own ways on a damaged picture: no list of them is whole.
        raise _NotShown("it cannot be read") from None


def _made_small(file: Path) -> tuple[bytes, tuple[int, int]]:
    try:
        opened = Image.open(file, formats=_KINDS)
    except UnidentifiedImageError:
        raise _NotShown("it is not a picture that can be read (JPEG, PNG, TIFF or WebP)") from None
    except Image.DecompressionBombError:
        raise _NotShown(_TOO_MANY) from None
    with opened:
        # A JPEG is read no finer than it is needed; the others have to be held whole.
        opened.draft("RGB", (_MOST_PIXELS, _MOST_PIXELS))
        if opened.width * opened.height > _LARGEST_PIXELS:
            raise _NotShown(_TOO_MANY)
        opened.thumbnail((_MOST_PIXELS, _MOST_PIXELS))
        upright = ImageOps.exif_transpose(opened).convert("RGBA")
    flat = Image.alpha_composite(Image.new("RGBA", upright.size, "white"), upright).convert("RGB")
    page = io.BytesIO()
    flat.save(page, "JPEG", quality=_QUALITY, optimize=True)
    return page.getvalue(), flat.size
