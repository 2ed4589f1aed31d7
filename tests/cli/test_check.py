"""`runoff check`: what it prints, its statuses, and that it asks nothing of the flow."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from matplotlib.text import Text

import runoff
from runoff.cli.status import run
from runoff.report import compose_check, is_own
from runoff.sample import sample_folder
from tests.cli.test_start import ANSWERS, fill, start


@pytest.fixture
def sample(tmp_path: Path) -> Path:
    folder = tmp_path / "sample"
    shutil.copytree(sample_folder(), folder)
    return folder


def test_the_sample_lot(sample: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", str(sample)]) == 1
    said = capsys.readouterr().out
    assert "Sample lot (invented)" in said
    assert "swale bottom" in said
    assert "97.10" in said
    assert "LOOK AGAIN" not in said
    assert "Heights to look at again" not in said


def test_a_blunder_is_named_and_marked(sample: Path, capsys: pytest.CaptureFixture[str]) -> None:
    spots = sample / "spots.csv"
    text = spots.read_text(encoding="utf-8")
    assert "F6,2,-24,97.82" in text
    spots.write_text(text.replace("F6,2,-24,97.82", "F6,2,-24,107.82"), encoding="utf-8")
    picture = sample / "plan.svg"
    assert run(["check", str(sample), "--map", str(picture)]) == 1
    said = capsys.readouterr().out
    assert "Heights to look at again" in said
    assert "F6: stands" in said
    assert said.count("LOOK AGAIN") == 1
    assert str(picture) in said
    assert is_own(picture)
    drawn = compose_check(runoff.check(runoff.read_site(sample))).findobj(Text)
    words = [text.get_text() for text in drawn]
    assert "height to look at again" in words
    assert "F6 107.82" in words


def test_nothing_is_written_without_a_map(
    sample: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    before = sorted(tmp_path.rglob("*"))
    assert run(["check", str(sample)]) == 1
    assert sorted(tmp_path.rglob("*")) == before


def test_a_map_of_the_users_is_left_alone(sample: Path) -> None:
    mine = sample / "mine.png"
    mine.write_bytes(b"mine")
    assert run(["check", str(sample), "--map", str(mine)]) == 2
    assert mine.read_bytes() == b"mine"
    assert run(["check", str(sample), "--map", str(sample / "plan.txt")]) == 2
    assert run(["check", str(sample), "--map", str(mine), "--force"]) == 1


def test_bad_input_is_told_line_by_line(sample: Path, capsys: pytest.CaptureFixture[str]) -> None:
    site = sample / "site.toml"
    text = site.read_text(encoding="utf-8")
    site.write_text(text.replace('units = "ft"', 'units = "feet"'), encoding="utf-8")
    assert run(["check", str(site)]) == 2
    said = capsys.readouterr()
    assert "site.toml, line" in said.err
    assert not said.out


def test_empty_heights_of_a_started_lot_are_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "lot"
    assert start(folder, ANSWERS) == 0
    capsys.readouterr()
    assert run(["check", str(folder)]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "spots.csv, line 2: z: expected 30 more heights, on lines 2 to 31" in said


def test_a_started_lot_with_its_heights(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "lot"
    assert start(folder, ANSWERS) == 0
    fill(folder)
    capsys.readouterr()
    assert run(["check", str(folder)]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "Height of the rim of 'well 1'" in said
    assert "Footing depth of the garage" in said
    assert "Footing depth of the house" not in said
    # The house's walls have heights at them and 10 ft out; ground by the lot's sides has none.
    at_walls = r"No heights? (within 10 ft of|about 10 ft out from)[^:]* of the {}\b"
    assert not re.search(at_walls.format("house"), said)
    assert re.search(at_walls.format("garage"), said)
    assert "points that matter most have no height near" not in said


def test_nothing_to_look_at_ends_in_0(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from tests.test_missing import read

    read(tmp_path)
    assert run(["check", str(tmp_path)]) == 0
    assert "Nothing stands out" in capsys.readouterr().out


def test_the_flow_is_not_asked(sample: Path) -> None:
    """The kernels that follow water are not even loaded."""
    code = (
        "import sys\n"
        "from runoff.cli.status import run\n"
        f"status = run(['check', {str(sample)!r}])\n"
        "print('loaded:', [m for m in sys.modules if m in ('numba', 'runoff.inspection')])\n"
        "sys.exit(status)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "loaded: []" in done.stdout
