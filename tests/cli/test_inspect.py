"""`runoff inspect` and `runoff demo` on the sample lot: what is printed, written and left alone."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from runoff.cli.status import run
from runoff.report import is_own
from runoff.sample import FILES, sample_folder
from tests.report.test_plan_files import WITHOUT

SITE = str(sample_folder() / "site.toml")
pytestmark = pytest.mark.usefixtures("worked_out_once")
OUTPUTS = ["findings.json", "map.png", "summary.txt"]


def keys_and_values(data: Any, keys: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Every value within the findings, with all the keys above it."""
    if isinstance(data, dict):
        for name, value in data.items():
            yield from keys_and_values(value, (*keys, name))
    elif isinstance(data, list):
        for value in data:
            yield from keys_and_values(value, keys)
    else:
        yield keys, data


def test_summary_is_printed_and_nothing_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["inspect", SITE]) == 1
    said = capsys.readouterr().out
    for name in ("front left", "front right", "rear right", "rear left", "garage"):
        assert name in said
    assert not list(tmp_path.iterdir())


def test_json_alone_stands_on_stdout_in_si(capfd: pytest.CaptureFixture[str]) -> None:
    assert run(["inspect", SITE, "--json"]) == 1
    captured = capfd.readouterr()
    found = json.loads(captured.out)
    assert found["written_by"] == "runoff"
    assert len(found["downspouts"]) == 5
    for keys, value in keys_and_values(found):
        if isinstance(value, float):
            assert math.isfinite(value), keys
            units = {key.rsplit("_", 1)[-1] for key in keys}
            assert units & {"m", "m2", "m3", "s", "degrees"} or keys[-1] in WITHOUT, keys
    assert "Traceback" not in captured.err


def test_out_writes_the_three_files_and_writes_them_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "new" / "out"
    assert run(["inspect", SITE, "--out", str(folder)]) == 1
    assert sorted(path.name for path in folder.iterdir()) == OUTPUTS
    assert all(is_own(path) for path in folder.iterdir())
    said = capsys.readouterr().out
    for name in OUTPUTS:
        assert str(folder / name) in said
    first = (folder / "summary.txt").read_text(encoding="utf-8")
    assert run(["inspect", SITE, "--out", str(folder)]) == 1
    assert (folder / "summary.txt").read_text(encoding="utf-8") == first


def test_a_file_of_the_users_is_left_alone_unless_forced(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine = tmp_path / "summary.txt"
    mine.write_text("my notes\n", encoding="utf-8")
    assert run(["inspect", SITE, "--out", str(tmp_path)]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert [path.name for path in tmp_path.iterdir()] == ["summary.txt"]
    assert mine.read_text(encoding="utf-8") == "my notes\n"
    assert run(["inspect", SITE, "--out", str(tmp_path), "--force"]) == 1
    assert is_own(mine)


def test_map_of_the_users_naming(tmp_path: Path) -> None:
    assert run(["inspect", SITE, "--map", str(tmp_path / "lot.svg")]) == 1
    assert [path.name for path in tmp_path.iterdir()] == ["lot.svg"]
    assert is_own(tmp_path / "lot.svg")


def test_demo_copies_inspects_and_ends_in_0(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["demo"]) == 0
    folder = tmp_path / "runoff-demo"
    assert sorted(path.name for path in folder.iterdir()) == sorted([*FILES, *OUTPUTS])
    assert str(Path("runoff-demo") / "map.png") in capsys.readouterr().out
    assert run(["demo"]) == 0


def test_demo_leaves_a_changed_sample_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "site.toml").write_text("# mine\n", encoding="utf-8")
    assert run(["demo", str(tmp_path)]) == 2
    assert "site.toml is there already" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["site.toml"]
