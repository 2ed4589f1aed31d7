"""A printed report read back: pdfium for its text, pypdf for its tags."""

from __future__ import annotations

import re
import unicodedata
from pathlib import Path
from typing import Any

import pypdf
import pypdfium2

# What stands in the words for breaking and setting apart, and prints nothing.
_SILENT = dict.fromkeys(map(ord, "\u200b\u2068\u2069\u00ad\u200e\u200f\ufffe"))


def pages(path: Path) -> list[str]:
    """The text of each page, spaces made one and line ends spaces."""
    with pypdfium2.PdfDocument(path) as document:
        return [_plain(page.get_textpage().get_text_bounded()) for page in document]


def _plain(text: str) -> str:
    text = unicodedata.normalize("NFKC", text).translate(_SILENT)
    return " ".join(text.split())


def squeezed(text: str) -> str:
    """Without spaces, since a long word may be broken anywhere."""
    return re.sub(r"\s", "", _plain(text))


def tags(path: Path) -> list[dict[str, Any]]:
    """Every element of the structure tree."""
    found: list[dict[str, Any]] = []

    def walk(node: Any) -> None:
        node = node.get_object() if isinstance(node, pypdf.generic.IndirectObject) else node
        if isinstance(node, list):
            for each in node:
                walk(each)
        elif isinstance(node, dict):
            if "/S" in node:
                found.append(node)
            if "/K" in node:
                walk(node["/K"])

    walk(pypdf.PdfReader(path).trailer["/Root"]["/StructTreeRoot"])
    return found
