"""What cannot be written: names too long and a full disk, by every command that writes."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from runoff.cli.status import run
from tests.lots.small import write_small_lot

LONG, DEEP = "x" * 300, "/".join(["d" * 200] * 30)
# One name that the system's 255 bytes hold, but not with an ending; one that fits in letters alone.
BARELY, WIDE = "x" * 255, "家" * 100


@pytest.fixture
def lot(tmp_path: Path) -> Path:
    return write_small_lot(tmp_path / "lot").parent


def refused(arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Held to one line, status 2, and nothing new in the lot's folder."""
    assert run(arguments) == 2, capsys.readouterr().err
    captured = capsys.readouterr()
    lines = [line for line in captured.err.splitlines() if not line.endswith(" ...")]
    assert captured.out == ""
    assert len(lines) == 1
    assert said in lines[0]
    assert len(lines[0]) < 1000


def folders(site: str, out: str) -> list[list[str]]:
    """Every command that writes into a folder."""
    return [
        ["inspect", site, "--out", out],
        ["plan", site, "--out", out],
        ["report", site, "--layers", out, "-o", f"{site}.pdf"],
        ["sheets", out],
        ["demo", out],
        ["start", out],
        ["start", out, "--answers", site],
    ]


def files(site: str, out: str) -> list[list[str]]:
    """Every command that writes a file of the user's naming."""
    return [
        ["inspect", site, "--map", f"{out}.png"],
        ["check", site, "--map", f"{out}.svg"],
        ["report", site, "-o", f"{out}.pdf"],
    ]


@pytest.mark.parametrize("name", [LONG, DEEP, f"new/{LONG}", WIDE])
@pytest.mark.parametrize("command", range(7))
def test_too_long_a_name_of_a_folder(
    lot: Path, name: str, command: int, capsys: pytest.CaptureFixture[str]
) -> None:
    before = sorted(lot.iterdir())
    refused(folders(str(lot / "site.toml"), str(lot / name))[command], "too long", capsys)
    assert sorted(lot.iterdir()) == before


@pytest.mark.parametrize("name", [LONG, DEEP, f"new/{LONG}", BARELY, WIDE])
@pytest.mark.parametrize("command", range(3))
def test_too_long_a_name_of_a_file(
    lot: Path, name: str, command: int, capsys: pytest.CaptureFixture[str]
) -> None:
    before = sorted(lot.iterdir())
    refused(files(str(lot / "site.toml"), str(lot / name))[command], "too long", capsys)
    assert sorted(lot.iterdir()) == before


@pytest.mark.parametrize("name", [f"{LONG}.toml", f"{DEEP}/site.toml"])
@pytest.mark.parametrize("command", ["inspect", "plan", "check", "report"])
def test_too_long_a_name_of_a_site_file(
    lot: Path, name: str, command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    refused([command, str(lot / name)], "too long", capsys)


@contextmanager
def no_room_beyond(size: int) -> Iterator[None]:
    """As on a disk that is full: no file grows beyond a size, bytes."""
    resource = pytest.importorskip("resource")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.parametrize("size", [0, 2000])
@pytest.mark.parametrize("command", [0, 3, 4, 7, 8, 9])
def test_a_full_disk_leaves_nothing_behind(
    lot: Path, size: int, command: int, capsys: pytest.CaptureFixture[str]
) -> None:
    site, out = str(lot / "site.toml"), str(lot / "out")
    arguments = [*folders(site, out), *files(site, out)][command]
    before = sorted(lot.iterdir())
    with no_room_beyond(size):
        status = run(arguments)
    said = [line for line in capsys.readouterr().err.splitlines() if not line.endswith(" ...")]
    assert status == 2, said
    assert len(said) == 1
    assert "cannot be written" in said[0]
    assert sorted(lot.iterdir()) == before
