"""Exit statuses and messages: every way in which a command line ends."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

import runoff
from runoff.cli.status import run
from runoff.sample import copy_sample

PYTHON = [sys.executable, "-m", "runoff"]


def environment() -> dict[str, str]:
    """This environment, with the package found wherever the tests found it."""
    root = str(Path(runoff.__file__).resolve().parents[1])
    return os.environ | {"PYTHONPATH": root}


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--version"]) == 0
    assert capsys.readouterr().out == f"runoff {runoff.__version__}\n"


def test_help_says_the_exit_statuses(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["inspect", "--help"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    for words in ("0 fine", "1 findings", "2 bad input", "3 internal failure", "130 stopped"):
        assert words in said


@pytest.mark.parametrize("words", [["--help"], ["inspect", "--help"], ["--version"]])
def test_help_brings_in_nothing_heavy(words: list[str]) -> None:
    command = [sys.executable, "-X", "importtime", "-m", "runoff", *words]
    done = subprocess.run(command, capture_output=True, text=True, env=environment(), check=True)
    modules = {line.rsplit("|", 1)[-1].strip() for line in done.stderr.splitlines()}
    assert "runoff.cli.commands" in modules
    assert not modules & {"numpy", "numba", "matplotlib", "shapely", "rasterio", "geopandas"}


@pytest.mark.parametrize("words", [["look"], ["inspect"], ["inspect", "a.toml", "--speed"]])
def test_a_command_line_it_does_not_know_is_bad_input(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(words) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert "Traceback" not in captured.err


def test_missing_site_file_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["inspect", str(tmp_path / "none.toml"), "--out", str(tmp_path / "out")]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.count("\n") == 1
    assert "none.toml" in captured.err
    assert not list(tmp_path.iterdir())


def test_every_mistake_has_its_line_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy_sample(tmp_path)
    site = tmp_path / "site.toml"
    text = site.read_text(encoding="utf-8")
    text = text.replace('size = "3 in"', 'size = "4 lb"')
    text = text.replace('neighbor = "street"', 'neighbor = "sea"')
    site.write_text(text, encoding="utf-8")
    before = sorted(path.name for path in tmp_path.iterdir())
    assert run(["inspect", str(site), "--json", "--out", str(tmp_path / "out")]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    lines = captured.err.splitlines()
    assert len(lines) == 2
    assert any("4 lb" in line and "site.toml, line " in line for line in lines)
    assert any("sea" in line for line in lines)
    assert sorted(path.name for path in tmp_path.iterdir()) == before


def test_of_twenty_thousand_mistakes_alike_twenty_are_told_and_the_rest_counted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every third row has a word for its height, one row a name that another has."""
    copy_sample(tmp_path)
    sheet = tmp_path / "spots.csv"
    rows = [f"P{k},{k % 60},{k // 60},{'high' if k % 3 == 0 else 99.5}," for k in range(20_000)]
    rows[700] = rows[700].replace("P700,", "P1,")
    sheet.write_text("name,x,y,z,remark\n" + "\n".join(rows) + "\n", encoding="utf-8")
    assert run(["inspect", str(tmp_path / "site.toml")]) == 2
    lines = [line for line in capsys.readouterr().err.splitlines() if "reading" not in line]
    first = [f"spots.csv, line {3 * k + 2}: spot height 'P{3 * k}' . z: " for k in range(20)]
    for begins, line in zip(first, lines, strict=False):
        assert line.startswith(begins)
    assert lines[20].startswith("spots.csv, line 702: name")
    assert lines[21:] == ["spots.csv: and 6,647 more like it on lines 62 to 20000"]
    assert len([row for row in rows if "high" in row]) == 20 + 6_647


def test_map_of_another_kind_is_refused_before_the_site_is_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["inspect", "none.toml", "--map", str(tmp_path / "map.bmp")]) == 2
    assert "expected a .png, .svg or .pdf file" in capsys.readouterr().err


def test_a_folder_that_cannot_be_made_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "taken").write_text("mine")
    assert run(["inspect", "none.toml", "--out", str(tmp_path / "taken" / "out")]) == 2
    assert "is a file; expected a folder" in capsys.readouterr().err


@pytest.mark.parametrize(
    "error", [PermissionError(13, "Permission denied"), OSError(28, "No space")]
)
def test_what_cannot_be_written_is_refused_in_one_line(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    error: OSError,
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(Path, "mkdir", refuse)
    assert run(["demo", str(tmp_path / "demo")]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err == f"{tmp_path / 'demo'}: cannot be written ({error.strerror})\n"
    assert not list(tmp_path.iterdir())


def test_internal_failure_is_one_line_and_a_file(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def fail(path: Path) -> None:
        raise ZeroDivisionError("two\nlines")

    monkeypatch.setattr(runoff, "read_site", fail, raising=False)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    assert run(["inspect", "site.toml"]) == 3
    captured = capsys.readouterr()
    assert captured.out == ""
    (line,) = captured.err.splitlines()
    assert line.startswith("runoff failed: ZeroDivisionError: two lines; details in ")
    details = Path(line.rpartition("details in ")[2])
    assert "Traceback" in details.read_text(encoding="utf-8")


def test_a_crash_before_the_command_begins_is_no_finding(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A package that is missing or broken: status 3, since 1 means that something was found."""
    monkeypatch.setitem(sys.modules, "runoff.cli.commands", None)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    assert run(["--version"]) == 3
    assert capsys.readouterr().err.startswith("runoff failed: ModuleNotFoundError")


@pytest.mark.skipif(sys.platform == "win32", reason="signals differ there")
def test_ctrl_c_is_130_without_a_traceback() -> None:
    code = (
        "import signal, time, sys, runoff\n"
        # A shell starts its background jobs with Ctrl-C ignored, and what they start inherits it.
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "def wait(path):\n"
        "    print('waiting', flush=True)\n"
        "    time.sleep(60)\n"
        "runoff.read_site = wait\n"
        "from runoff.cli.status import run\n"
        "sys.exit(run(['inspect', 'site.toml']))\n"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment(),
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "waiting\n"
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=30)
    assert process.returncode == 130
    assert "Traceback" not in said
    assert said.splitlines()[-1] == "stopped"


def test_rules_and_schema(capsys: pytest.CaptureFixture[str]) -> None:
    import json

    from runoff.rules import RULES

    assert run(["rules"]) == 0
    shown = capsys.readouterr().out
    for name in RULES:
        assert name in shown
    words = " ".join(shown.split())
    for rule in RULES.values():
        assert f"{rule.name} {' '.join(rule.written.split())}" in words
        assert " ".join(f"Source: {rule.source} ({rule.standing})".split()) in words
    assert run(["schema"]) == 0
    assert json.loads(capsys.readouterr().out)["type"] == "object"


def test_help_lists_the_commands_in_the_order_of_the_work(capsys) -> None:
    assert run(["--help"]) == 0
    said = capsys.readouterr().out
    order = ["demo", "start", "sheets", "check", "inspect", "plan", "report", "rules", "schema"]
    places = [said.index(f"\n  {name} ") for name in order]
    assert places == sorted(places)
