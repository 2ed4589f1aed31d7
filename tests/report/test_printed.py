"""The printed report, read back by programs of others: pdfium for its text, pypdf for its tags."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import unicodedata
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pypdf
import pypdfium2
import pytest
from PIL import Image

import runoff
from runoff.discharge.cautions import CAUTIONS
from runoff.inspection import Findings
from runoff.planning import Plan
from runoff.quantities import format_length, format_volume
from runoff.report.files import is_own
from runoff.report.plan_attention import plan_attention
from runoff.report.printed import report as printed
from runoff.report.printed.report import write_report
from runoff.sample import copy_sample, sample_folder
from tests.report import printed_lots

# What stands in the words for breaking and setting apart, and prints nothing.
_SILENT = dict.fromkeys(map(ord, "\u200b\u2068\u2069\u00ad\u200e\u200f\ufffe"))
# How characters are told that print nothing, or that no font of the report has.
_TOLD = {
    "\x07": "\\x07",
    "\t": "\\x09",
    "\x1b": "\\x1b",
    "🏠": "[house building]",
    "👍": "[thumbs up sign]",
    "🏽": "[emoji modifier fitzpatrick type-4]",
}


@cache
def the_sample() -> Plan:
    """The plan of the sample lot, made once."""
    return runoff.plan(runoff.read_site(sample_folder() / "site.toml"))


def pages(path: Path) -> list[str]:
    """The text of each page, spaces made one and line ends spaces."""
    with pypdfium2.PdfDocument(path) as document:
        return [_plain(page.get_textpage().get_text_bounded()) for page in document]


def _plain(text: str) -> str:
    text = unicodedata.normalize("NFKC", text).translate(_SILENT)
    return " ".join(text.split())


def squeezed(text: str) -> str:
    """Without spaces, since a long word may be broken anywhere."""
    return re.sub(r"\s", "", _plain(text))


@pytest.fixture(scope="module")
def sample_report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    plan = the_sample()
    return write_report(tmp_path_factory.mktemp("report") / "a.pdf", plan.findings, plan)


def test_the_numbers_of_the_pages_are_those_of_the_json(sample_report: Path) -> None:
    data = json.loads(json.dumps(the_sample().to_dict()))
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
                yield f"{far(fitting['station_m'])} {fitting['name']}"
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
            yield f"Bring {format_volume(wedge['loose_m3'], 'us')} of soil, loose"
    engines = data["findings"]["second_engine"]
    yield f"holds {format_volume(engines['our_volume_m3'], 'us')} by the tool's engine"
    yield f"and {format_volume(engines['second_volume_m3'], 'us')} by richdem"


def test_the_verdicts_stand_first_on_one_page(sample_report: Path) -> None:
    first, second = pages(sample_report)[:2]
    for each in the_sample().recommendations:
        assert f"{each.downspout}: " in first
    for words in ("In short", "At the house now", "dry, last rain four days before", "Hidden from"):
        assert words in first
        assert words not in second


def test_the_whole_of_it_is_there(sample_report: Path) -> None:
    text = squeezed(" ".join(pages(sample_report)))
    for words in (*CAUTIONS, the_sample().findings.second_engine.note, printed.DISCLAIMER):
        assert squeezed(words) in text
    for rule in the_sample().site.rules.looked_up:
        assert squeezed(f"{rule.name} {rule.written}") in text
    for line in (sample_folder() / "site.toml").read_text(encoding="utf-8").splitlines():
        assert squeezed(line) in text
    for spot in the_sample().site.spot_heights:
        assert squeezed(f"{spot.name} {spot.x / 0.3048:.2f}") in text


def test_every_page_has_its_number_and_the_disclaimer(sample_report: Path) -> None:
    found = pages(sample_report)
    for number, text in enumerate(found, start=1):
        assert f"Page {number} of {len(found)}" in text
        assert "The local code and a licensed professional decide." in text


def _tags(path: Path) -> list[dict[str, Any]]:
    """Every element of the structure tree."""
    found: list[dict[str, Any]] = []

    def walk(node: Any) -> None:
        node = node.get_object() if isinstance(node, pypdf.generic.IndirectObject) else node
        if isinstance(node, list):
            for each in node:
                walk(each)
        elif isinstance(node, dict):
            if "/S" in node:
                found.append(node)
            if "/K" in node:
                walk(node["/K"])

    walk(pypdf.PdfReader(path).trailer["/Root"]["/StructTreeRoot"])
    return found


def test_it_is_tagged_for_screen_readers(sample_report: Path) -> None:
    reader = pypdf.PdfReader(sample_report)
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en-US"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert reader.metadata.title == "Sample lot (invented): drainage plan"
    assert b"<pdfuaid:part>1</pdfuaid:part>" in sample_report.read_bytes()
    tags = _tags(sample_report)
    figures = [tag for tag in tags if tag["/S"] == "/Figure"]
    assert len(figures) >= 5
    assert all(len(str(tag.get("/Alt", ""))) > 30 for tag in figures)
    tables = [tag for tag in tags if tag["/S"] == "/Table"]
    heads = [tag for tag in tags if tag["/S"] == "/THead"]
    assert len(tables) == len(heads) > 20
    assert sum(tag["/S"] == "/H1" for tag in tags) == 6


def test_a_table_that_runs_over_repeats_its_header(sample_report: Path) -> None:
    rules = [text for text in pages(sample_report) if "rule value governs source" in text]
    assert len(rules) >= 2


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
    plan = the_sample()
    path = write_report(tmp_path / "a.pdf", plan.findings, plan, paper="a4")
    width, height = (float(side) for side in pypdf.PdfReader(path).pages[0].mediabox[2:])
    assert (round(width), round(height)) == (595, 842)  # ISO 216, 210 by 297 mm
    assert "Downspout by downspout" in " ".join(pages(path))


def test_hostile_names_come_out_as_text(tmp_path: Path) -> None:
    plan = runoff.plan(runoff.read_site(printed_lots.hostile_names(tmp_path)))
    path = write_report(tmp_path / "a.pdf", plan.findings, plan)
    text = squeezed(" ".join(pages(path)))
    for name in printed_lots.HOSTILE:
        shown = name
        for hidden, told in _TOLD.items():
            shown = shown.replace(hidden, told)
        if any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in name):
            # Words from right to left may be read back in the order in which they are seen.
            for word in name.split():
                assert word in text or word[::-1] in text
        else:
            assert squeezed(shown) in text
    assert b"<pdfuaid:part>1</pdfuaid:part>" in path.read_bytes()
    assert "Needs attention too" in pages(path)[0]


def test_thirty_downspouts_of_long_names_leave_the_verdicts_on_one_page(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan, names = the_sample(), [f"{n} {'downspout ' * 12}" for n in range(30)]
    monkeypatch.setattr(printed, "drawings_of", lambda *_: ())

    def renamed(records: tuple[Any, ...], field: str) -> tuple[Any, ...]:
        return tuple(
            replace(record, **{field: name})
            for name, record in zip(names, records * 6, strict=True)
        )

    site = replace(plan.site, name="lot " * 60, weather="rain " * 300)
    answers = renamed(plan.findings.downspouts, "name")
    findings = replace(plan.findings, site=site, downspouts=answers)
    longer = replace(
        plan,
        findings=findings,
        recommendations=renamed(plan.recommendations, "downspout"),
        drainage=renamed(plan.drainage, "downspout"),
    )
    first, second = pages(write_report(tmp_path / "a.pdf", findings, longer))[:2]
    assert re.search(r"And 2\d more: see .Downspout by downspout", first)
    assert "Needs attention too" in first
    assert "Downspout by downspout" in second
    first = pages(write_report(tmp_path / "b.pdf", findings, form="inspection"))[0]
    assert "To monitor" in first


@cache
def _lot(name: str, folder: Path) -> Plan:
    return runoff.plan(runoff.read_site(getattr(printed_lots, name)(folder)))


def test_where_nothing_is_wrong_nothing_is_said_to_be(tmp_path: Path) -> None:
    plan = _lot("nothing_wrong", tmp_path)
    assert plan_attention(plan) == ()
    path = write_report(tmp_path / "a.pdf", plan.findings, plan)
    first = pages(path)[0]
    assert "Every downspout's water may be left as it is." in first
    assert "Nothing found at the walls." in first
    assert "Needs attention too" not in first
    inspected = write_report(tmp_path / "b.pdf", plan.findings, form="inspection")
    assert "Of 5 things looked at, none needs correction." in pages(inspected)[0]


def test_a_survey_without_a_building_is_a_report_all_the_same(tmp_path: Path) -> None:
    findings = runoff.inspect(runoff.read_site(printed_lots.bare_ground(tmp_path)))
    first = pages(write_report(tmp_path / "a.pdf", findings, form="inspection"))[0]
    assert "Nothing was given to look at" in first
    plan = runoff.plan(findings.site)
    first = pages(write_report(tmp_path / "b.pdf", plan.findings, plan))[0]
    assert "No downspout is given: there is nothing to plan." in first
    assert "No building is given." in first
    assert "no water stands against a wall" not in first


def test_where_nothing_can_be_built_the_reader_is_referred(tmp_path: Path) -> None:
    plan = _lot("nothing_possible", tmp_path)
    path = write_report(tmp_path / "a.pdf", plan.findings, plan)
    found = pages(path)
    assert "Nothing on this lot takes the water of the one downspout: ask." in found[0]
    text = " ".join(found)
    assert "What cannot be built here, and why" in text
    for who in plan.recommendations[0].chosen.asks:
        assert squeezed(who[1:]) in squeezed(text)


def test_a_survey_too_coarse_gives_no_verdict_and_says_so_first(tmp_path: Path) -> None:
    plan = _lot("too_coarse", tmp_path)
    path = write_report(tmp_path / "a.pdf", plan.findings, plan)
    first = pages(path)[0]
    assert first.index("Indication only") < first.index("In short")
    assert "As far as these heights tell" in first
    inspected = write_report(tmp_path / "b.pdf", plan.findings, form="inspection")
    text = " ".join(pages(inspected))
    assert "To correct" not in text
    assert "too rough for a verdict" in text


def test_the_inspections_form_has_observations_and_no_design(tmp_path: Path) -> None:
    findings = the_sample().findings
    path = write_report(tmp_path / "a.pdf", findings, the_sample(), "inspection")
    text = " ".join(pages(path))
    for words in ("observed and measured", "what it implies", "correct", "monitor"):
        assert words in text
    for words in ("Dig table", "Shopping list", "Bring ", "Lay ", "soil, loose"):
        assert words not in text
    window = next(each for each in findings.at_the_wall.openings if each.name == "window well")
    assert f"{format_length(-window.freeboard, 'us', 4)} over its edge" in text


def with_photographs(folder: Path, lines: str) -> Findings:
    """The sample's findings with photographs, each a line of the site file."""
    copy_sample(folder)
    site = folder / "site.toml"
    text = site.read_text(encoding="utf-8").replace("weather =", 'hidden = "deck"\nweather =')
    site.write_text(f"{text}\n{lines}", encoding="utf-8")
    return runoff.inspect(runoff.read_site(site))


def test_photographs_are_placed_made_small_and_missed(tmp_path: Path) -> None:
    lines = "".join(
        f'[[photograph]]\nfile = "{name}"\ncaption = "the {name[:-4]} one"\n'
        for name in ("huge.jpg", "flat.png", "lost.jpg", "text.jpg")
    )
    Image.effect_noise((5000, 4000), 90).convert("RGB").save(tmp_path / "huge.jpg", quality=95)
    Image.new("RGBA", (40, 90), (0, 0, 0, 0)).save(tmp_path / "flat.png")
    (tmp_path / "text.jpg").write_text("no picture")
    findings = with_photographs(tmp_path, lines)
    path = write_report(tmp_path / "a.pdf", findings, form="inspection")
    text = " ".join(pages(path))
    assert "Hidden from view deck" in text
    assert "Photograph 1: the huge one" in text
    assert "Photograph 2: the flat one" in text
    assert "Photograph 3, lost.jpg (the lost one): the file is not there." in text
    assert "Photograph 4, text.jpg (the text one): it is not a picture that can be read." in text
    assert path.stat().st_size < 2_000_000 < (tmp_path / "huge.jpg").stat().st_size
    alternatives = {str(tag.get("/Alt")) for tag in _tags(path) if tag["/S"] == "/Figure"}
    assert "Photograph 1: the huge one" in alternatives


@pytest.mark.parametrize(
    ("path", "form", "paper"),
    [("a.txt", "plan", "a4"), ("a.pdf", "x", "a4"), ("a.pdf", "plan", "x")],
)
def test_what_is_no_report_is_refused(tmp_path: Path, path: str, form: Any, paper: Any) -> None:
    with pytest.raises(ValueError):
        write_report(tmp_path / path, the_sample().findings, the_sample(), form, paper)
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
report._plan = lambda *_: report._Content([], [], {{}})
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
report._plan = lambda *_: report._Content([], [], {{}})
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
