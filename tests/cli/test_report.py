"""`runoff report` on a small lot: what is written, refused and left alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from runoff.cli.status import run
from runoff.report import is_own, layer_files
from tests.lots.small import write_small_lot

pytestmark = pytest.mark.usefixtures("worked_out_once")


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> str:
    return str(write_small_lot(tmp_path_factory.mktemp("lot")))


def test_the_report_and_the_layers_are_written_and_written_again(
    site: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    report, layers = tmp_path / "new" / "report.pdf", tmp_path / "layers"
    asked = ["report", site, "-o", str(report), "--paper", "a4", "--layers", str(layers)]
    assert run([*asked, "--tenths"]) == 1
    said = capsys.readouterr().out.splitlines()
    assert str(report) in said
    assert is_own(report)
    written = sorted(layers.iterdir())
    assert written
    assert set(written) <= set(layer_files(layers))
    assert all(str(path) in said for path in written)
    assert run([*asked, "--form", "inspection"]) == 1
    assert [path.name for path in report.parent.iterdir()] == ["report.pdf"]


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        (["-o", "report.txt"], "expected a .pdf file, such as report.pdf"),
        (["--form", "essay"], "'plan', 'inspection'"),
        (["--paper", "a3"], "'letter', 'a4'"),
        (["-o", "mine.pdf"], "was not written by runoff"),
        (["-o", "mine.pdf/report.pdf"], "is a file; expected a folder"),
        (["--layers", "mine.pdf"], "is a file; expected a folder"),
    ],
)
def test_what_cannot_be_written_is_refused_before_anything_is_read(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    options: list[str],
    expected: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "mine.pdf").write_bytes(b"%PDF-1.7 mine")
    assert run(["report", "no site", *options]) == 2
    assert expected in " ".join(capsys.readouterr().err.split())
    assert (tmp_path / "mine.pdf").read_bytes() == b"%PDF-1.7 mine"
    assert len(list(tmp_path.iterdir())) == 1


def test_a_site_with_a_mistake_writes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site = tmp_path / "site.toml"
    site.write_text('[site]\nname = "x"\nunits = "yards"\n', encoding="utf-8")
    assert run(["report", str(site), "-o", str(tmp_path / "report.pdf")]) == 2
    assert "line 3" in capsys.readouterr().err
    assert not (tmp_path / "report.pdf").exists()


def test_a_disk_that_fills_up_is_one_line_and_leaves_the_old_report(
    site: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    report = tmp_path / "report.pdf"
    asked = ["report", site, "-o", str(report), "--form", "inspection"]
    assert run(asked) == 1
    old = report.read_bytes()

    write = Path.write_bytes

    def full(self: Path, content: bytes) -> int:
        if self.parent != tmp_path:
            return write(self, content)
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    assert run(asked) == 2
    said = capsys.readouterr().err.splitlines()
    assert [line for line in said if "No space left" in line] == [said[-1]]
    assert report.read_bytes() == old
    assert [path.name for path in tmp_path.iterdir()] == ["report.pdf"]
