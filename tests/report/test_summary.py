"""The summary in words: what it must say, in whose units, and in which order."""

from __future__ import annotations

import math
from dataclasses import replace

from runoff.report import CAUTIONS, summary_text
from runoff.words import downspout_sentence, engines_note
from tests.report.made_up import made_up_findings
from tests.told import told


def flowed(text: str) -> str:
    """The text with its line breaks taken out."""
    return " ".join(text.split())


def test_every_downspout_has_its_sentence_before_the_low_spots() -> None:
    findings = made_up_findings()
    text = flowed(summary_text(findings))
    places = [
        text.index(downspout_sentence(findings.site, answer)) for answer in findings.downspouts
    ]
    assert places == sorted(places)
    assert places[-1] < text.index("Low spots on the lot")


def test_order_of_the_parts() -> None:
    text = summary_text(made_up_findings())
    titles = (
        "At the house",
        "Where each downspout's water goes",
        "Grade along the walls",
        "Along the walls as well",
        "Openings",
        "Standing water near walls",
        "Soil to bring in",
        "Low spots on the lot",
        "Needs attention too",
        "Spot heights to look at again",
        "Taken for granted",
        "Second engine",
        "Mind",
    )
    places = [text.index(f"\n{title}\n") for title in titles]
    assert places == sorted(places)


def test_us_site_is_told_in_feet_and_inches() -> None:
    text = flowed(summary_text(made_up_findings()))
    assert "storm of 4 in; heights by" in text
    # 0.28 m is 11.02 in: 11 in to the quarter.
    assert "low spot 1 11 in" in text
    # The made-up path of 30 ft straight down and its rest: lengths are in feet and inches.
    assert "of it within 5 ft and" in text  # 1.524 m
    assert " m " not in text


def test_metric_site_is_told_in_metres() -> None:
    findings = made_up_findings(units="m")
    unsuspected = replace(findings.terrain, suspects=())
    text = flowed(summary_text(replace(findings, terrain=unsuspected)))
    assert " ft " not in text
    assert "1.52 m" in text


def test_suspects_notices_and_second_engine_are_told() -> None:
    findings = made_up_findings()
    text = flowed(summary_text(findings))
    assert "F6: stands 1 ft above what its neighbors say: a foot misread?" in text
    assert told(findings)[0] in text
    assert engines_note(findings.second_engine) in text
    for caution in CAUTIONS:
        assert caution in text


def test_low_spot_that_nothing_fills_and_one_without_a_way_out() -> None:
    findings = made_up_findings()
    first, second = findings.low_spots
    endless = replace(first, rain_to_fill_m=math.inf, wall_distance_m=None, building="")
    walled = replace(second, terminal=True, pour_point=None, spill_height_m=math.nan)
    text = summary_text(replace(findings, low_spots=(endless, walled)))
    assert "no storm tried" in text
    assert "none near" in text
    assert "no way out" in text
    assert "inf" not in text
    assert "nan" not in text


def test_nothing_found_is_said_in_words() -> None:
    text = summary_text(replace(made_up_findings(), low_spots=(), downspouts=()))
    assert "No downspout is given." in text
    assert "No low spot holds water on the lot." in text


def test_lines_keep_to_the_width() -> None:
    assert max(map(len, summary_text(made_up_findings(), width=80).splitlines())) <= 80


def test_names_with_brackets_are_printed_as_written() -> None:
    findings = made_up_findings()
    first = replace(findings.low_spots[0], building="[red]shed[/] :house:")
    assert "[red]shed[/]" in flowed(summary_text(replace(findings, low_spots=(first,))))
