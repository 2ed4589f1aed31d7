"""Every command prints on a terminal of any encoding, with names that the encoding lacks."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

import runoff
from runoff.cli.status import run
from runoff.sample import copy_sample
from tests.lots.small import write_small_lot

ENCODINGS = ["utf-8", "cp1252", "cp437", "ascii", "latin-1", "utf-16"]
NAMES = "Kröger ½ × 10° → Дом " + "家" + " \N{HOUSE BUILDING}"
COMMANDS = ["inspect", "plan", "check"]
# Each encoding is of what is printed; what that is, is worked out for the first alone.
pytestmark = pytest.mark.usefixtures("worked_out_once")


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


PIPED = ["check", "rules", "schema", "--help", "--version"]


def piped(
    arguments: list[str], encoding: str, gone: str = "", buffered: bool = True
) -> tuple[int, str, str]:
    """A command of its own, its streams in an encoding; of those that are `gone` nobody reads."""
    root = str(Path(runoff.__file__).resolve().parents[1])
    given = os.environ | {"PYTHONPATH": root, "PYTHONIOENCODING": encoding}
    given["PYTHONUNBUFFERED"] = "" if buffered else "1"
    read, write = os.pipe()
    os.close(read)
    streams = {name: write if name in gone else subprocess.PIPE for name in ("stdout", "stderr")}
    ended = subprocess.run(
        [sys.executable, "-m", "runoff", *arguments], env=given, check=False, **streams
    )
    os.close(write)
    out, err = ((each or b"").decode(encoding) for each in (ended.stdout, ended.stderr))
    return ended.returncode, out, err


@pytest.mark.parametrize("encoding", ["cp1252", "cp437", "ascii"])
def test_a_pipe_of_an_old_encoding_takes_it_all(site: Path, encoding: str) -> None:
    status, text, said = piped(["check", str(site)], encoding)
    assert status == 1, said
    assert "left" in text
    assert "Traceback" not in said


@pytest.mark.parametrize("buffered", [True, False])
@pytest.mark.parametrize("command", PIPED)
def test_who_reads_no_further_changes_no_status(site: Path, command: str, buffered: bool) -> None:
    """As `runoff ... | head -1` does; 1 would be a finding, and the files would lack some."""
    lot = [str(site)] if command == "check" else []
    status, _, said = piped([*command.split(), *lot], "cp1252", "stdout", buffered)
    assert status == (1 if lot else 0), said
    assert [line for line in said.splitlines() if not line.endswith(" ...")] == []


@pytest.mark.parametrize("gone", ["stderr", "stdout stderr"])
def test_a_mistake_that_nobody_reads_is_one_still(site: Path, gone: str) -> None:
    status, _, _ = piped(["inspect", str(site.with_name("none.toml"))], "cp1252", gone)
    assert status == 2


def test_all_is_written_though_nobody_reads_what_is_said(tmp_path: Path) -> None:
    """The report says its name before its layers are written."""
    site = write_small_lot(tmp_path / "lot")
    layers = tmp_path / "layers"
    arguments = ["report", str(site), "--form", "inspection", "-o", str(tmp_path / "a.pdf")]
    status, _, said = piped([*arguments, "--layers", str(layers)], "ascii", "stdout", False)
    assert status == 1, said
    assert (tmp_path / "a.pdf").is_file()
    assert any(layers.iterdir())


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no disk that is always full")
@pytest.mark.parametrize("command", [["rules"], ["check"]])
def test_what_is_printed_onto_a_full_disk_is_refused(site: Path, command: list[str]) -> None:
    root = str(Path(runoff.__file__).resolve().parents[1])
    with open("/dev/full", "wb") as full:
        ended = subprocess.run(
            [
                sys.executable,
                "-m",
                "runoff",
                *command,
                *([str(site)] if command == ["check"] else []),
            ],
            env=os.environ | {"PYTHONPATH": root},
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    said = [line for line in ended.stderr.splitlines() if not line.endswith(" ...")]
    assert ended.returncode == 2
    assert said == ["what is printed cannot be written (No space left on device)"]
