"""Every command prints on a terminal of any encoding, with names that the encoding lacks."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import pytest

from runoff.cli.status import run
from runoff.sample import copy_sample

ENCODINGS = ["utf-8", "cp1252", "cp437", "ascii", "latin-1", "utf-16"]
NAMES = "Kröger ½ × 10° → Дом " + "家" + " \N{HOUSE BUILDING}"
COMMANDS = ["inspect", "plan", "check"]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample lot under names that no old code page holds, and a break line in its notes."""
    folder = tmp_path_factory.mktemp("lot ½ дом")
    copy_sample(folder)
    file = folder / "site.toml"
    text = file.read_text(encoding="utf-8")
    text = text.replace('"front left"', f'"{NAMES} left"').replace('"maple"', f'"{NAMES}"')
    file.write_text(text, encoding="utf-8")
    return file


def printed(
    arguments: list[str], encoding: str, monkeypatch: pytest.MonkeyPatch
) -> tuple[int, str, str]:
    """The exit status of a command, and what it wrote in this encoding on stdout and stderr."""
    streams = [io.TextIOWrapper(io.BytesIO(), encoding=encoding) for _ in range(2)]
    monkeypatch.setattr(sys, "stdout", streams[0])
    monkeypatch.setattr(sys, "stderr", streams[1])
    status = run(arguments)
    out, err = [each.detach().getvalue().decode(encoding) for each in streams]
    return status, out, err


@pytest.mark.parametrize("encoding", ENCODINGS)
@pytest.mark.parametrize("command", COMMANDS)
def test_a_lot_with_foreign_names_is_printed_in_any_encoding(
    site: Path, command: str, encoding: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    status, text, said = printed([command, str(site)], encoding, monkeypatch)
    assert status in (0, 1), said
    assert "left" in text


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_json_holds_the_same_names_in_any_encoding(
    site: Path, encoding: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = json.loads(printed(["inspect", "--json", str(site)], encoding, monkeypatch)[1])
    assert f"{NAMES} left" in [each["name"] for each in found["downspouts"]]


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_a_mistake_is_said_in_any_encoding(
    tmp_path: Path, encoding: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "дом.toml"
    file.write_text(f'[site]\nname = "a"\nunits = "{NAMES}"\n', encoding="utf-8")
    status, _, text = printed(["inspect", str(file)], encoding, monkeypatch)
    assert status == 2
    assert ".toml, line 3" in text


@pytest.mark.parametrize("command", ["rules", "schema"])
def test_the_tables_are_printed_in_ascii(command: str, monkeypatch: pytest.MonkeyPatch) -> None:
    status, text, _ = printed([command], "ascii", monkeypatch)
    assert status == 0
    assert len(text) > 1000
