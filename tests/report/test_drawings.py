"""The drawings: true to the scale they state on the page, legible, and drawn from the record."""

from __future__ import annotations

import io
import itertools
import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pypdfium2
import pytest
import typst
from matplotlib.colors import to_rgb
from pypdfium2 import raw

from runoff.foundation import SafeArea
from runoff.inspection import Findings
from runoff.report import (
    DEPTHS_M,
    EARTH,
    SAFE,
    TEXT_AREAS,
    WALL,
    Drawing,
    Scale,
    drawings_of,
    scale_for,
    scales,
    sheets_of,
)
from runoff.report import SOIL as MAP_SOIL
from runoff.report.sections.wall import SOIL as SECTION_SOIL
from tests.lots.made_up import FOOT
from tests.report.drawn_sheets import drawings, findings_of, legible, plan_of, sheets, texts_on

FONTS = str(Path(matplotlib.get_data_path()) / "fonts" / "ttf")
MM_PER_POINT = 25.4 / 72
FROM_ABOVE = ("plan", "small plan", "place of", "soil at")
KINDS = [("ft", "letter"), ("ft", "a4"), ("m", "letter"), ("m", "a4")]


def page_of(drawing: Drawing) -> pypdfium2.PdfPage:
    """A page of a PDF that holds a drawing at its stated size, 10 mm from the upper left corner."""
    source = (
        f"#set page(width: {drawing.width_mm + 20}mm, height: {drawing.height_mm + 20}mm, "
        f'margin: 10mm)\n#image(bytes(sys.inputs.svg), format: "svg", '
        f"width: {drawing.width_mm}mm)"
    )
    pdf = typst.compile(
        source.encode(), font_paths=[FONTS], sys_inputs={"svg": drawing.svg.decode()}
    )
    return pypdfium2.PdfDocument(io.BytesIO(pdf))[0]


def outlines_on(page: pypdfium2.PdfPage) -> list[np.ndarray]:
    """The corners of every path that is drawn on a page, (k, 2) mm, as the page's vectors are."""
    found = []

    def walk(objects, matrix: np.ndarray) -> None:
        for item in objects:
            kind = raw.FPDFPageObj_GetType(item)
            own = raw.FS_MATRIX()
            raw.FPDFPageObj_GetMatrix(item, own)
            local = np.array([[own.a, own.b, 0], [own.c, own.d, 0], [own.e, own.f, 1]])
            if kind == raw.FPDF_PAGEOBJ_FORM:
                count = raw.FPDFFormObj_CountObjects(item)
                inner = [raw.FPDFFormObj_GetObject(item, k) for k in range(count)]
                walk(inner, local @ matrix)
            elif kind == raw.FPDF_PAGEOBJ_PATH:
                found.append(_corners(item) @ (local @ matrix) * MM_PER_POINT)

    count = raw.FPDFPage_CountObjects(page)
    walk([raw.FPDFPage_GetObject(page, k) for k in range(count)], np.eye(3))
    return [corners[:, :2] for corners in found]


def _corners(path) -> np.ndarray:
    """Homogeneous corners of a path object, in its own coordinates."""
    import ctypes

    corners = []
    for k in range(raw.FPDFPath_CountSegments(path)):
        segment = raw.FPDFPath_GetPathSegment(path, k)
        x, y = ctypes.c_float(), ctypes.c_float()
        raw.FPDFPathSegment_GetPoint(segment, x, y)
        corners.append((x.value, y.value, 1.0))
    return np.array(corners)


@pytest.mark.parametrize(("units", "paper"), KINDS)
def test_a_wall_is_as_long_on_the_page_as_the_scale_says(units, paper) -> None:
    """The house of 36 ft by 28 ft and its 10 ft, measured on the PDF page's own vectors."""
    drawing = drawings(units, paper)["plan"]
    wanted = np.array([36.0, 28.0]) * FOOT * 1000 / drawing.ratio
    sizes = [
        np.ptp(corners, axis=0) for corners in outlines_on(page_of(drawing)) if len(corners) > 3
    ]
    errors = [np.abs(size / wanted - 1).max() for size in sizes]
    assert min(errors) < 0.005
    # A part of the sheet that is not the house must not do: the next scale is far off.
    other = np.array([36.0, 28.0]) * FOOT * 1000 / (drawing.ratio * 1.25)
    assert min(np.abs(size / other - 1).max() for size in sizes) > 0.005


@pytest.mark.parametrize(("units", "paper"), KINDS)
def test_every_drawing_is_to_the_scale_it_states(units, paper) -> None:
    for name, sheet in sheets(units, paper).items():
        axes = sheet.figure.axes[0]
        wide_in = axes.get_position().width * sheet.figure.get_size_inches()[0]
        left, right = axes.get_xlim()
        metres = right - left
        if not name.startswith(FROM_ABOVE):
            metres *= Scale(units).unit_m
        assert metres / (wide_in * 0.0254) == pytest.approx(sheet.scale.ratio, rel=1e-6), name
        assert sheet.scale in scales(units)
        assert sheet.scale.words in " ".join(words for words, _ in texts_on(sheet.figure))
        assert sheet.scale.words in sheet.caption


@pytest.mark.parametrize(("units", "paper"), KINDS)
def test_the_enlargement_of_heights_that_is_said_is_the_one_drawn(units, paper) -> None:
    told = 0
    for name, sheet in sheets(units, paper).items():
        if name.startswith(FROM_ABOVE):
            continue
        axes, (width, height) = sheet.figure.axes[0], sheet.figure.get_size_inches()
        box, (left, right), (low, high) = axes.get_position(), axes.get_xlim(), axes.get_ylim()
        drawn = (box.height * height / (high - low)) / (box.width * width / (right - left))
        words = " ".join(text for text, _ in texts_on(sheet.figure))
        said = re.search(r"heights (\d+) times as large", words)
        assert drawn == pytest.approx(int(said[1]) if said else 1.0, rel=1e-6), name
        assert ("heights to the same scale" in words) == (said is None)
        told += said is not None
    assert told >= 3


@pytest.mark.parametrize(("units", "paper"), KINDS)
def test_every_drawing_fits_the_paper(units, paper) -> None:
    short, long = (25.4 * side for side in TEXT_AREAS[paper])
    for drawing in drawings(units, paper).values():
        sides = sorted((drawing.width_mm, drawing.height_mm))
        assert sides[0] <= short + 1e-6
        assert sides[1] <= long + 1e-6
        width, height = (
            float(re.search(rf' {side}="([\d.]+)pt"', drawing.svg.decode())[1]) * MM_PER_POINT
            for side in ("width", "height")
        )
        assert (width, height) == pytest.approx((drawing.width_mm, drawing.height_mm), rel=1e-5)


@pytest.mark.parametrize(("units", "paper"), KINDS)
def test_no_text_overlaps_another_or_is_cut(units, paper) -> None:
    for name, sheet in sheets(units, paper).items():
        legible(name, sheet.figure)


def with_roof_outline(findings: Findings) -> Findings:
    """The same with the outline of its roof."""
    outline = findings.site.buildings[0].outline.buffer(0.3, join_style="mitre")
    roofs = tuple(replace(roof, outline=outline) for roof in findings.site.roofs)
    return replace(findings, site=replace(findings.site, roofs=roofs))


def with_many(findings: Findings, count: int) -> Findings:
    """The same with so many downspouts under long names."""
    many = tuple(
        replace(
            findings.downspouts[0],
            name=f"downspout {number} beside the porch of the house",
            start=(-5.0 + 2.2 * (number % 8), -3.0 - 1.8 * (number // 8)),
        )
        for number in range(count)
    )
    spouts = tuple(replace(findings.site.downspouts[0], name=answer.name) for answer in many)
    return replace(findings, downspouts=many, site=replace(findings.site, downspouts=spouts))


def on_a_wide_lot(findings: Findings) -> Findings:
    """The same on a lot without a boundary, its ground much wider than deep."""
    grid = findings.terrain.grid
    more = 3 * grid.rows // 4
    wide = replace(grid, x0=grid.x0 - more * grid.cell_size, cols=grid.cols + 2 * more)

    def spread(cells, fill):
        return np.pad(cells, ((0, 0), (more, more)), constant_values=fill)

    terrain = replace(
        findings.terrain,
        grid=wide,
        ground=spread(findings.terrain.ground, 30.0),
        surface=spread(findings.terrain.surface, 30.0),
        closed=spread(findings.terrain.closed, False),
        building=spread(findings.terrain.building, -1),
    )
    code = spread(findings.at_the_wall.safe_area.code, 1)
    return replace(
        findings,
        site=replace(findings.site, lot=None),
        terrain=terrain,
        standing_depth=spread(findings.standing_depth, 0.0),
        low_spots=(),
        at_the_wall=replace(findings.at_the_wall, safe_area=SafeArea(code)),
    )


@pytest.mark.parametrize(
    "findings",
    [
        with_roof_outline(findings_of("m", None)),
        with_many(findings_of(), 8),
        with_many(findings_of(), 48),
        on_a_wide_lot(findings_of(north=None)),
    ],
    ids=["north not known", "eight downspouts", "forty-eight downspouts", "wide"],
)
@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_odd_plans_are_legible_and_fit_the_paper(findings: Findings, paper) -> None:
    sheet = next(sheets_of(findings, None, paper))
    legible("plan", sheet.figure)
    sides = sorted(sheet.figure.get_size_inches())
    assert sides[0] <= TEXT_AREAS[paper][0] + 1e-9
    assert sides[1] <= TEXT_AREAS[paper][1] + 1e-9


def test_a_wide_lot_lies_on_the_paper() -> None:
    width, height = next(sheets_of(on_a_wide_lot(findings_of()))).figure.get_size_inches()
    assert width == TEXT_AREAS["letter"][1]
    assert height <= TEXT_AREAS["letter"][0]


def test_control_characters_in_names_are_shown_and_the_file_stays_whole() -> None:
    findings = findings_of()
    odd = 'a\x07 <b> & "c" $x_{$ #[d] \u05d0\u05d1 ' + "long " * 40
    site = replace(
        findings.site,
        buildings=(replace(findings.site.buildings[0], name=odd), *findings.site.buildings[1:]),
    )
    runs = tuple(
        replace(run, building=odd, worst=replace(run.worst, building=odd))
        for run in findings.at_the_wall.runs
        if run.building == "house"
    )
    walls = replace(findings.at_the_wall, runs=runs, openings=())
    strange = replace(findings, site=site, at_the_wall=walls)
    for drawing in drawings_of(strange):
        assert b"\x07" not in drawing.svg
        ElementTree.fromstring(drawing.svg)
        assert page_of(drawing).get_width() == pytest.approx(
            (drawing.width_mm + 20) / MM_PER_POINT, abs=0.01
        )


@pytest.mark.filterwarnings("ignore:Glyph")
def test_long_names_are_cut_short_and_overlap_nothing() -> None:
    plan = plan_of("m")
    long = "the downspout by the porch " * 8
    first = replace(plan.recommendations[0], downspout=long)
    answers = (replace(plan.findings.downspouts[0], name=long), *plan.findings.downspouts[1:])
    spouts = (replace(plan.site.downspouts[0], name=long), *plan.site.downspouts[1:])
    findings = replace(
        plan.findings, downspouts=answers, site=replace(plan.site, downspouts=spouts)
    )
    named = replace(plan, findings=findings, recommendations=(first, *plan.recommendations[1:]))
    for sheet in sheets_of(findings, named):
        legible(sheet.name, sheet.figure)


def test_texts_stay_texts_on_the_page() -> None:
    """Names with a halo too; the page's text is read back from the PDF."""
    drawing = drawings("ft", "letter")["plan of the work"]
    text = page_of(drawing).get_textpage().get_text_range()
    for words in ("house", "front left", "seepage pit", "swale, ", "north", "lot line", "20 ft"):
        assert words in text
    assert b"<image" not in drawing.svg


def test_the_same_plan_makes_the_same_bytes() -> None:
    plan = plan_of()
    first, second = (drawings_of(plan.findings, plan) for _ in range(2))
    assert first == second


def test_north_is_drawn_or_said_not_to_be_known() -> None:
    words = {
        north: " ".join(
            text for text, _ in texts_on(next(sheets_of(findings_of(north=north))).figure)
        )
        for north in (20.0, None)
    }
    assert "plan north" not in words[20.0]
    assert "plan north" in words[None]


def test_the_ground_of_a_line_is_the_records_at_each_station() -> None:
    plan = plan_of("m")
    line = plan.recommendations[0].chosen.line
    axes = sheets("m", "a4")["profile of 'front left'"].figure.axes[0]
    (ground,) = [drawn for drawn in axes.lines if drawn.get_label() == "ground"]
    x, z = ground.get_data()
    np.testing.assert_allclose(
        np.interp(line.profile.stations_m, x, z), line.profile.ground_m, atol=1e-9
    )


def test_without_a_plan_nothing_is_designed() -> None:
    found = drawings_of(findings_of())
    assert found[0].name == "plan"
    assert all(drawing.name.startswith("ground off") for drawing in found[1:])
    for sheet in sheets_of(findings_of()):
        words = " ".join(text for text, _ in texts_on(sheet.figure)).lower()
        assert "soil" not in words
        assert "to lay" not in words


def test_a_lot_where_nothing_is_wrong_has_its_plan_alone() -> None:
    findings = findings_of()
    good = tuple(r for r in findings.at_the_wall.runs if r.verdict == "drains away")
    fine = replace(findings, at_the_wall=replace(findings.at_the_wall, runs=good, wedges=()))
    assert [drawing.name for drawing in drawings_of(fine)] == ["plan"]


def test_depths_keep_apart_on_gray_paper() -> None:
    """The made-up pond on the page, rendered without color: the deeper, the darker, by a step."""
    findings = findings_of("m")
    drawing, figure = drawings("m", "a4")["plan"], sheets("m", "a4")["plan"].figure
    page = page_of(drawing)
    dots_per_mm = 8.0
    picture = np.asarray(page.render(scale=dots_per_mm * MM_PER_POINT).to_pil().convert("L")) / 255
    box, (width, height) = figure.axes[0].get_position(), figure.get_size_inches() * 25.4
    (left, right), (low, high) = figure.axes[0].get_xlim(), figure.axes[0].get_ylim()
    x, y = findings.terrain.grid.centers()
    classes = np.digitize(findings.standing_depth, DEPTHS_M["m"])
    shades = []
    for number in np.unique(classes[classes > 0]):
        rows, cols = np.nonzero(classes == number)
        across = 10 + width * (box.x0 + box.width * (x[cols] - left) / (right - left))
        down = 10 + height * (1 - box.y0 - box.height * (y[rows] - low) / (high - low))
        at = (down * dots_per_mm).astype(int), (across * dots_per_mm).astype(int)
        shades.append(float(np.median(picture[at])))
    assert len(shades) >= 3
    assert all(a - b > 0.08 for a, b in itertools.pairwise([1.0, *shades]))


def luma(color) -> float:
    """Rec. 709 luma, 0 to 1: what is left of a color on gray paper."""
    return float(np.dot(to_rgb(color), (0.2126, 0.7152, 0.0722)))


def test_neighbors_keep_apart_without_color() -> None:
    """Soil is told from what it lies beside by a hatch, earth from soil and wall by its shade."""
    assert MAP_SOIL["hatch"] != SAFE["hatch"]
    assert SECTION_SOIL["hatch"] != WALL["hatch"]
    shades = [luma(each["facecolor"]) for each in (EARTH, SECTION_SOIL, WALL)]
    assert all(a - b > 0.1 for a, b in itertools.pairwise(shades))


def test_roofs_are_drawn_where_their_outline_is_known_and_named_where_not() -> None:
    findings = findings_of()
    named = f"'{findings.site.roofs[0].name}'"
    before, after = (next(sheets_of(each)) for each in (findings, with_roof_outline(findings)))
    assert named in before.caption
    assert named not in after.caption
    words = [text for text, _ in texts_on(after.figure)]
    assert "roof, and the downspouts that carry it" in words


def test_the_scale_is_the_largest_that_fits() -> None:
    for units in ("ft", "m"):
        every = scales(units)
        for larger, scale in itertools.pairwise(every):
            ground = 5.0 * 0.0254 * scale.ratio
            assert scale_for(ground, 5.0, units) == scale
            assert scale_for(ground * 0.999, 5.0, units) in (larger, scale)
            assert scale_for(ground * 1.001, 5.0, units) != scale or scale == every[-1]
