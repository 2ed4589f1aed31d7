"""The sample lot's files, spoilt by chance: read and checked, or refused in words.

`RUNOFF_MUTATIONS` says how many are tried (a few hundred where it is not set), `RUNOFF_SEED` from
which seed. Each is read and looked through within a time that no honest lot needs; mistakes that
people make at a keyboard are tried as often as characters at random.
"""

from __future__ import annotations

import faulthandler
import os
import random
import shutil
import time
from pathlib import Path

import pytest

import runoff
from runoff.sample import sample_folder
from runoff.site import InputError, Problem

MANY = int(os.environ.get("RUNOFF_MUTATIONS", "300"))
SEED = int(os.environ.get("RUNOFF_SEED", "1"))
HANGS_S = 120.0
"""Nothing may take this long; the run ends with where it stands."""

TEXT_FILES = tuple(
    sorted(p.name for p in sample_folder().iterdir() if p.suffix in (".toml", ".csv"))
)
FIGURES = (
    *("24'7", "24,7", "24 ft 14 in", "24' 7 1/2\"", "-3", "0", "", "1e9", "1e400", "nan", "inf"),
    *(
        "12 ft 6 in",
        "3.2 m",
        "99.4.1",
        "9940",
        "9.94",
        "O.5",
        "½",
        "1/0",
        "1_000",
        "0x10",
        "=A1+B2",
    ),
)
WORDS = ("house", "garage", "left", "front", "loam", "true", "[]", "{}", '""', "unknown", "street")
PIECES = ("\x00", "\t", ";", ",", '"', "'", "[", "]", "{", "}", "#", "\ufeff", "é", "\u2028", "\r")


def spoil(text: str, chance: random.Random) -> str:
    """The text with one to four mistakes."""
    for _ in range(chance.randint(1, 4)):
        text = chance.choice(WAYS)(text, chance)
    return text


def _line(text: str, chance: random.Random) -> tuple[list[str], int]:
    lines = text.split("\n")
    return lines, chance.randrange(len(lines))


def drop_a_line(text: str, chance: random.Random) -> str:
    lines, at = _line(text, chance)
    return "\n".join(lines[:at] + lines[at + 1 :])


def double_a_line(text: str, chance: random.Random) -> str:
    lines, at = _line(text, chance)
    lines.insert(chance.randrange(len(lines) + 1), lines[at])
    return "\n".join(lines)


def swap_two_lines(text: str, chance: random.Random) -> str:
    lines, at = _line(text, chance)
    other = chance.randrange(len(lines))
    lines[at], lines[other] = lines[other], lines[at]
    return "\n".join(lines)


def blank_line(text: str, chance: random.Random) -> str:
    lines, at = _line(text, chance)
    lines.insert(at, chance.choice(("", "   ", ",,,,", ";;;;")))
    return "\n".join(lines)


def swap_two_columns(text: str, chance: random.Random) -> str:
    lines, at = _line(text, chance)
    cells = lines[at].split(",")
    one, other = chance.randrange(len(cells)), chance.randrange(len(cells))
    cells[one], cells[other] = cells[other], cells[one]
    lines[at] = ",".join(cells)
    return "\n".join(lines)


def other_figure(text: str, chance: random.Random) -> str:
    """A figure of a line by another."""
    lines, at = _line(text, chance)
    tokens = lines[at].replace(",", " , ").split(" ")
    places = [k for k, token in enumerate(tokens) if token.strip("[]-").replace(".", "").isdigit()]
    if places:
        tokens[chance.choice(places)] = chance.choice(FIGURES)
    lines[at] = " ".join(tokens)
    return "\n".join(lines)


def other_value(text: str, chance: random.Random) -> str:
    """A value of the site file, or a cell of a sheet, by something else."""
    lines, at = _line(text, chance)
    value = chance.choice((*FIGURES, *WORDS))
    if "=" in lines[at]:
        value = chance.choice((value, f'"{value}"', f"[{value}]", f"[{value}, {value}]"))
        lines[at] = f"{lines[at].split('=')[0]}= {value}"
    else:
        cells = lines[at].split(",")
        cells[chance.randrange(len(cells))] = value
        lines[at] = ",".join(cells)
    return "\n".join(lines)


def other_separator(text: str, chance: random.Random) -> str:
    one, other = chance.choice(((",", ";"), (".", ","), ("=", ":"), (",", "\t"), ('"', "'")))
    return text.replace(one, other)


def other_line_ends(text: str, chance: random.Random) -> str:
    mark = chance.choice(("", "\ufeff"))
    return mark + text.replace("\n", chance.choice(("\r\n", "\r", "\n\n")))


def characters(text: str, chance: random.Random) -> str:
    at = chance.randrange(len(text) + 1)
    piece = chance.choice((*PIECES, chr(chance.randrange(32, 0x2FF)), ""))
    return text[:at] + piece + text[at + chance.randint(0, 6) :]


def cut_off(text: str, chance: random.Random) -> str:
    return text[: chance.randrange(len(text) + 1)]


WAYS = (
    drop_a_line,
    double_a_line,
    swap_two_lines,
    blank_line,
    swap_two_columns,
    other_figure,
    other_figure,
    other_value,
    other_value,
    other_separator,
    other_line_ends,
    characters,
    characters,
    cut_off,
)


def outcome(folder: Path) -> tuple[Problem, ...]:
    """The problems of the lot of a folder, none where it is read and checked."""
    try:
        runoff.check(runoff.read_site(folder / "site.toml"))
    except InputError as error:
        return error.problems or (Problem("", None, "", "", ""),)
    return ()


def test_spoilt_files_are_read_or_refused_in_words(tmp_path: Path) -> None:
    folder = tmp_path / "lot"
    shutil.copytree(sample_folder(), folder)
    good = {name: (folder / name).read_text(encoding="utf-8") for name in TEXT_FILES}
    used = [name for name in TEXT_FILES if name != "site_from_elevation.toml"]
    counts = {"read": 0, "refused": 0}
    slowest = 0.0
    for number in range(MANY):
        chance = random.Random(f"{SEED} {number}")
        name = chance.choice(used)
        text = spoil(good[name], chance)
        content = text.encode("utf-8", "surrogatepass")
        if chance.random() < 0.02:
            content = text.encode("latin-1", "replace")
        (folder / name).write_bytes(content)
        # After a hang this file says which one it was.
        (tmp_path / "last.txt").write_text(f"mutation {number} of {name}, seed {SEED}")
        faulthandler.dump_traceback_later(HANGS_S, exit=True)
        start = time.perf_counter()
        try:
            problems = outcome(folder)
        except Exception as error:
            pytest.fail(f"mutation {number} of {name} (seed {SEED}): {error!r}")
        finally:
            faulthandler.cancel_dump_traceback_later()
        counts["refused" if problems else "read"] += 1
        for problem in problems:
            assert problem.expected
            assert str(problem).isprintable(), repr(str(problem))
        slowest = max(slowest, time.perf_counter() - start)
        (folder / name).write_text(good[name], encoding="utf-8")
    print(f"\n{MANY} mutations: {counts}, the slowest {slowest:.1f} s")
    assert sum(counts.values()) == MANY
    # Mistakes that matter are refused, and those that do not are read.
    assert min(counts.values()) > MANY // 50
