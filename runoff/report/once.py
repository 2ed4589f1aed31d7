"""What is said of several things, said once for all of them.

In: blocks. Out: blocks without the lines that stand elsewhere, and which sections lost some.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import groupby

from runoff.report.blocks import Block, Bullets, Heading, section

_FEW_WORDS = 6


def shared(
    chapters: Mapping[str, Sequence[Block]], but: Collection[str] = ()
) -> tuple[set[str], list[Block]]:
    """The lines that stand in several chapters, as blocks of their own with the chapters' names.

    Lines under a heading that is named in `but` are left where they are.

    Returns
    -------
    set of str
    list of Block
        A section a heading; lines of the same chapters that follow each other are one.

    Examples
    --------
    >>> dig = section("Mind", ["Dig it by hand where the roots of the old tree lie."])
    >>> for block in shared({"left": dig, "right": dig})[1]:
    ...     print(block)
    Heading(text='Mind', level=3)
    Bullets(lines=['left, right: Dig it by hand where the roots of the old tree lie.'])
    """
    headings: dict[str, str] = {}
    where: dict[str, list[str]] = {}
    for name, blocks in chapters.items():
        for line, heading in _long_lines(blocks).items():
            headings.setdefault(line, heading)
            where.setdefault(line, []).append(name)
    lines = [line for line, at in where.items() if len(at) > 1 and headings[line] not in but]
    told: list[Block] = []
    for heading in dict.fromkeys(headings[line] for line in lines):
        own = [line for line in lines if headings[line] == heading]
        texts = [
            f"{', '.join(names)}: {' '.join(of_same)}"
            for names, of_same in groupby(own, key=lambda line: where[line])
        ]
        told += section(heading, texts)
    return set(lines), told


def without(blocks: Sequence[Block], told: Collection[str]) -> tuple[list[Block], list[str]]:
    """Blocks without lines that are `told` elsewhere or above, and the headings that lost some.

    A heading that has nothing left goes too. A line of a few words stays.
    """
    kept: list[Block] = []
    lost: list[str] = []
    said, title = set(told), ""
    for block in blocks:
        if isinstance(block, Heading):
            title = block.text
        if isinstance(block, Bullets):
            lines = [line for line in block.lines if line not in said]
            said |= {line for line in block.lines if _is_long(line)}
            if len(lines) < len(block.lines):
                lost.append(title)
                if not lines and kept and isinstance(kept[-1], Heading):
                    kept.pop()
                block = Bullets(lines)
            if not lines:
                continue
        kept.append(block)
    return kept, lost


def _long_lines(blocks: Sequence[Block]) -> dict[str, str]:
    """The lines of more than a few words, with the heading of each."""
    heading, found = "", dict[str, str]()
    for block in blocks:
        if isinstance(block, Heading):
            heading = block.text
        if isinstance(block, Bullets):
            found |= {line: heading for line in block.lines if _is_long(line)}
    return found


def _is_long(line: str) -> bool:
    return len(line.split()) > _FEW_WORDS
