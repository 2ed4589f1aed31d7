"""The printed report of the sample, read back by programs of others, and how it is written."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pypdf
import pytest

from runoff.quantities import format_length, format_volume
from runoff.report import deciding, is_own, write_report
from runoff.report.printed import report as printed
from runoff.words import CAUTIONS, engines_note
from tests.lots.planned import planned
from tests.report.printed_pages import pages, squeezed, tags


@pytest.fixture(scope="module")
def sample_report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    plan = planned("sample")
    return write_report(tmp_path_factory.mktemp("report") / "a.pdf", plan.findings, plan)


def test_the_numbers_of_the_pages_are_those_of_the_json(sample_report: Path) -> None:
    data = json.loads(json.dumps(planned("sample").to_dict()))
    text = squeezed(" ".join(pages(sample_report)))
    told = list(_numbers(data))
    assert len(told) > 60
    missing = [words for words in told if squeezed(words) not in text]
    assert not missing


def _numbers(data: dict[str, Any]):
    """From SI in the JSON to what a person reads, each with the word that stands before it."""

    def far(metres: float) -> str:
        return format_length(metres, "us", 1)

    def tape(metres: float) -> str:
        return format_length(metres, "us", 4)

    for each in data["recommendations"]:
        chosen, water = each["chosen"], each["water"]
        yield f"the ponding storm brings {format_volume(water['storm_m3'], 'us')}"
        if chosen["extension"]:
            yield f"{far(chosen['extension']['length_m'])} long, laid"
            yield f"falling {tape(chosen['extension']['fall_m'])} from the leader's end"
        line = chosen["line"] or (chosen["pit"] or {}).get("line")
        if line:
            yield f"{far(line['length_m'])} of 4 in pipe"
            yield f"up to {tape(line['greatest_cut_m'])} deep"
            for row in line["rows"]:
                yield f"{tape(row['station_m'])} {tape(row['ground_m'])}"
            for fitting in line["fittings"]:
                yield fitting["name"]
        if chosen["pit"]:
            yield f"{tape(chosen['pit']['dig_depth_m'])} below the ground"
            for clear in chosen["pit"]["clearances"]:
                yield f"{clear['from']} {far(clear['distance_m'])} {far(clear['least_m'])}"
        for item in chosen["shopping"]:
            yield f"{item['name']} {item['quantity']:g}"
    yield f"wall that holds water {far(data['proof']['wet_wall_before_m'])}"
    found = data["findings"]["at_the_wall"]
    for opening in found["openings"]:
        yield f"{opening['name']} {opening['kind']} {tape(opening['edge_height_m'])}"
    for wedge in found["soil_wedges"]:
        if wedge["loose_m3"]:
            yield f"Bring {format_volume(wedge['loose_m3'], 'us', 0.0)} of soil, loose"
    engines = data["findings"]["second_engine"]
    yield f"holds {format_volume(engines['our_volume_m3'], 'us')} by the tool's engine"
    yield f"and {format_volume(engines['second_volume_m3'], 'us')} by richdem"


def test_the_verdicts_stand_first_on_one_page(sample_report: Path) -> None:
    first, second = pages(sample_report)[:2]
    for each in planned("sample").recommendations:
        assert f"{each.downspout}: " in first
    for words in ("In short", "What is wrong now", "What to do, by the numbers of the jobs"):
        assert words in first
        assert words not in second


def test_the_whole_of_it_is_there(sample_report: Path) -> None:
    text = squeezed(" ".join(pages(sample_report)))
    for words in (
        *CAUTIONS,
        engines_note(planned("sample").findings.second_engine),
        printed.DISCLAIMER,
    ):
        assert squeezed(words) in text
    told = deciding(planned("sample").findings, planned("sample"))
    assert 20 < len(told) < 40
    for rule in told:
        assert squeezed(f"{rule.name} {rule.written}") in text
    for spot in planned("sample").site.spot_heights:
        assert squeezed(f"{spot.name} {spot.remark} {spot.x / 0.3048:.2f}") in text


def test_every_page_has_its_number_and_the_disclaimer(sample_report: Path) -> None:
    found = pages(sample_report)
    for number, text in enumerate(found, start=1):
        assert f"Page {number} of {len(found)}" in text
        assert "The local code and a licensed professional decide." in text


def test_it_is_tagged_for_screen_readers(sample_report: Path) -> None:
    reader = pypdf.PdfReader(sample_report)
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en-US"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert reader.metadata.title == "Sample lot (invented): drainage plan"
    assert b"<pdfuaid:part>1</pdfuaid:part>" in sample_report.read_bytes()
    found = tags(sample_report)
    figures = [tag for tag in found if tag["/S"] == "/Figure"]
    assert len(figures) >= 5
    assert all(len(str(tag.get("/Alt", ""))) > 30 for tag in figures)
    tables = [tag for tag in found if tag["/S"] == "/Table"]
    heads = [tag for tag in found if tag["/S"] == "/THead"]
    assert len(tables) == len(heads) > 20
    assert sum(tag["/S"] == "/H1" for tag in found) == 13


def test_all_fonts_are_in_the_file_and_none_is_the_systems(sample_report: Path) -> None:
    names, missing = set(), []
    for page in pypdf.PdfReader(sample_report).pages:
        for font in (page["/Resources"].get("/Font") or {}).values():
            font = font.get_object()
            names.add(str(font["/BaseFont"]).split("+")[-1])
            for inner in font["/DescendantFonts"]:
                described = inner.get_object()["/FontDescriptor"]
                if not {"/FontFile2", "/FontFile3"} & set(described):
                    missing.append(font["/BaseFont"])
    assert names
    assert all(name.startswith(("DejaVuSans", "LastResort")) for name in names)
    assert not missing


def test_it_is_small_and_known_as_the_tools_own(sample_report: Path) -> None:
    assert sample_report.stat().st_size < 2_000_000
    assert is_own(sample_report)


def test_the_same_lot_gives_the_same_words_on_the_other_paper(tmp_path: Path) -> None:
    plan = planned("sample")
    path = write_report(tmp_path / "a.pdf", plan.findings, plan, paper="a4")
    width, height = (float(side) for side in pypdf.PdfReader(path).pages[0].mediabox[2:])
    assert (round(width), round(height)) == (595, 842)  # ISO 216, 210 by 297 mm
    assert "Why these ways" in " ".join(pages(path))


@pytest.mark.parametrize(
    ("path", "form", "paper"),
    [("a.txt", "plan", "a4"), ("a.pdf", "x", "a4"), ("a.pdf", "plan", "x")],
)
def test_what_is_no_report_is_refused(tmp_path: Path, path: str, form: Any, paper: Any) -> None:
    with pytest.raises(ValueError):
        write_report(tmp_path / path, planned("sample").findings, planned("sample"), form, paper)
    assert not list(tmp_path.iterdir())


def test_a_full_disk_leaves_the_old_report(tmp_path: Path) -> None:
    resource = pytest.importorskip("resource")
    old = tmp_path / "a.pdf"
    old.write_bytes(b"the old one")
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    code = f"""
import resource, signal, sys
from pathlib import Path
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
from runoff.report.printed import report
report.typeset = lambda *_: b"x" * 100_000
report._plan = lambda *_: report._Content([], {{}})
resource.setrlimit(resource.RLIMIT_FSIZE, (10_000, {limits[1]}))
class Site: name = observer = ""
class Found: site = Site
try:
    report.write_report(Path({str(old)!r}), Found, object())
except OSError as error:
    sys.exit(7)
"""
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert ended.returncode == 7, ended.stderr
    assert old.read_bytes() == b"the old one"
    assert [path.name for path in tmp_path.iterdir()] == ["a.pdf"]


def test_a_kill_in_the_middle_leaves_the_old_report(tmp_path: Path) -> None:
    old = tmp_path / "a.pdf"
    old.write_bytes(b"the old one")
    code = f"""
import os, signal
from pathlib import Path
from runoff.report.printed import report
report.typeset = lambda *_: b"the new one"
report._plan = lambda *_: report._Content([], {{}})
write = Path.write_bytes
def half(path, content):
    write(path, content[:5])
    os.kill(os.getpid(), signal.SIGKILL)
Path.write_bytes = half
class Site: name = observer = ""
class Found: site = Site
report.write_report(Path({str(old)!r}), Found, object())
"""
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert ended.returncode == -9, ended.stderr
    assert old.read_bytes() == b"the old one"
