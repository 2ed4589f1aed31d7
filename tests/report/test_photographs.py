"""Photographs as cameras leave them and as cards ruin them: shown, or passed over in words.

`RUNOFF_MUTATIONS` says how many damaged ones are tried (a few hundred where it is not set).
"""

import base64
import io
import os
import random
import struct
import zlib
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from runoff.report import Photographs as PhotographBlock
from runoff.report import photographs_of
from runoff.report.printed import photographs
from runoff.report.printed.photographs import Photographs
from runoff.sample import sample_folder
from runoff.site import Photograph, read_site

MANY = int(os.environ.get("RUNOFF_MUTATIONS", "300"))
SITE = read_site(sample_folder() / "site.toml")
FORMATS = {
    "JPEG": {},
    "PNG": {},
    "TIFF": {"compression": "tiff_lzw"},
    "WEBP": {"lossless": True},
}


def shown(*files: Path) -> Photographs:
    given = tuple(Photograph(file, "", file.name) for file in files)
    return photographs_of(replace(SITE, photographs=given))


def said(found: Photographs) -> str:
    return str([block for block in found.blocks if not isinstance(block, PhotographBlock)])


@pytest.mark.parametrize("mode", ["1", "L", "P", "LA", "RGB", "RGBA", "CMYK", "I;16"])
def test_every_kind_of_color_is_shown(tmp_path: Path, mode: str) -> None:
    file = tmp_path / "one.tif"
    Image.new(mode, (60, 40)).save(file)
    assert len(shown(file).pictures) == 1


def test_a_picture_is_turned_upright(tmp_path: Path) -> None:
    """Exif 2.3, tag 274: a camera held on its side writes 6 for *turn by 90 degrees to see it*."""
    turned = Image.Exif()
    turned[274] = 6
    Image.new("RGB", (60, 40)).save(tmp_path / "one.jpg", exif=turned)
    (drawing,) = shown(tmp_path / "one.jpg").pictures.values()
    content = base64.b64decode(drawing.split(b"base64,")[1].split(b'"')[0])
    assert Image.open(io.BytesIO(content)).size == (40, 60)


@pytest.mark.parametrize("name", ["page.eps", "page.jpg", "icon.bmp", "pixels.gif"])
def test_no_other_kind_is_opened_whatever_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """PostScript is shown by a program that is looked for on the path."""
    started = tmp_path / "started"
    program = tmp_path / "gs"
    program.write_text(f"#!/bin/sh\ntouch {started}\n")
    program.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path), prepend=os.pathsep)
    file = tmp_path / name
    Image.new("RGB", (40, 30)).save(file, {"bmp": "BMP", "gif": "GIF"}.get(name[-3:], "EPS"))
    found = shown(file)
    assert not found.pictures
    assert "it is not a picture that can be read" in said(found)
    assert not started.exists()


def test_too_large_a_picture_is_said_before_it_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """30,000 by 30,000 pixels of nothing, 900 million, in a file of a few bytes."""

    def chunk(kind: bytes, held: bytes) -> bytes:
        return (
            struct.pack(">I", len(held)) + kind + held + struct.pack(">I", zlib.crc32(kind + held))
        )

    header = struct.pack(">IIBBBBB", 30_000, 30_000, 8, 2, 0, 0, 0)
    content = (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")
    )
    (tmp_path / "bomb.png").write_bytes(content)
    side = (13_000, 9_000)
    Image.new("1", side).save(tmp_path / "wide.png")
    for name in ("bomb.png", "wide.png"):
        assert "it has more than 100 million pixels" in said(shown(tmp_path / name)), name
    monkeypatch.setattr(photographs, "_LARGEST_BYTES", 10)
    assert "it has more than 100 MB" in said(shown(tmp_path / "bomb.png"))


def test_what_is_no_file_is_not_opened(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.jpg")
    found = shown(tmp_path / "pipe.jpg", Path("/dev/zero"), tmp_path, tmp_path / "lost.jpg")
    assert not found.pictures
    assert said(found).count("it cannot be read") == 3
    assert "the file is not there" in said(found)


def test_damaged_photographs_are_shown_or_passed_over(tmp_path: Path) -> None:
    """Cut off, filled with noise, or with bytes changed, mostly where the headers stand."""
    noise = Image.effect_noise((120, 90), 60).convert("RGB")
    good = {}
    for name, options in FORMATS.items():
        page = io.BytesIO()
        noise.save(page, name, exif=Image.Exif(), **options)
        good[name] = page.getvalue()
    file = tmp_path / "damaged"
    counts = {"shown": 0, "passed over": 0}
    for number in range(MANY):
        chance = random.Random(f"photograph {number}")
        content = bytearray(good[chance.choice(sorted(good))])
        reach = chance.choice((40, 400, len(content)))
        for _ in range(chance.choice((1, 4, 30))):
            content[chance.randrange(min(reach, len(content)))] = chance.choice(
                (0, 255, chance.randrange(256))
            )
        if chance.random() < 0.2:
            del content[chance.randrange(len(content)) :]
        file.write_bytes(content)
        found = shown(file)
        counts["shown" if found.pictures else "passed over"] += 1
        if not found.pictures:
            assert "photograph 1, damaged: it " in said(found).lower(), number
    print(f"\n{MANY} photographs: {counts}")
    assert min(counts.values()) > MANY // 20
