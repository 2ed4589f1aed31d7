"""What holds for every test: where skips are not allowed, one is a failure; which are quick."""

import gc
import os
import shutil
import tempfile
from pathlib import Path

import pytest

from tests.lots import STORE

# Files of more than two seconds or so. Every other file under tests/ is of the quick suite,
# `pytest -m quick`, which covers every room in under a minute on two cores.
SLOW = frozenset(
    (
        "benchmarks/test_commands.py",
        "benchmarks/test_flow_accumulation.py",
        "benchmarks/test_lot.py",
        "benchmarks/test_plan.py",
        "cli/test_encoding.py",
        "cli/test_inspect.py",
        "cli/test_plan.py",
        "cli/test_report.py",
        "cli/test_start.py",
        "cli/test_status.py",
        "discharge/test_all_is_told.py",
        "discharge/test_correction.py",
        "discharge/test_dig_sheet.py",
        "discharge/test_extension.py",
        "discharge/test_generated_lots.py",
        "discharge/test_ice.py",
        "discharge/test_line.py",
        "discharge/test_pit_place.py",
        "discharge/test_swale_line.py",
        "discharge/test_swale_lots.py",
        "flow/test_compiled.py",
        "flow/test_counts_against_pyflwdir.py",
        "flow/test_facets.py",
        "flow/test_ponding.py",
        "flow/test_second_engine.py",
        "flow/test_stages.py",
        "foundation/test_a_hair.py",
        "foundation/test_grade.py",
        "foundation/test_safe_area.py",
        "foundation/test_wedge.py",
        "inspection/test_answers.py",
        "inspection/test_drawn_otherwise.py",
        "inspection/test_low_spots_on_the_survey.py",
        "inspection/test_odd_lots.py",
        "inspection/test_other_water.py",
        "inspection/test_places.py",
        "report/test_answer.py",
        "report/test_drawing_walls.py",
        "report/test_drawings.py",
        "report/test_every_lot.py",
        "report/test_gallery.py",
        "report/test_layers.py",
        "report/test_layers_drawing.py",
        "report/test_map.py",
        "report/test_map_labels.py",
        "report/test_map_walls.py",
        "report/test_plan_figures.py",
        "report/test_plan_files.py",
        "report/test_plan_summary.py",
        "report/test_printed.py",
        "report/test_printed_lots.py",
        "report/test_sheets.py",
        "report/test_units_shown.py",
        "report/test_whole_folder.py",
        "site/test_field_points.py",
        "site/test_field_sheets.py",
        "site/test_implausible.py",
        "site/test_mistakes.py",
        "site/test_mutation.py",
        "site/test_neighbors.py",
        "site/test_rule_bounds.py",
        "site/test_safe_files.py",
        "site/test_schema.py",
        "site/test_shown.py",
        "terrain/test_blunders.py",
        "terrain/test_elevation.py",
        "terrain/test_elevation_cloud.py",
        "terrain/test_elevation_network.py",
        "terrain/test_elevation_spots.py",
        "terrain/test_reach.py",
        "terrain/test_relief.py",
        "terrain/test_survey_shape.py",
        "test_fuzzed_lots.py",
        "test_missing.py",
        "test_mutated_samples.py",
        "test_no_sentences.py",
        "test_stored_facts.py",
        "test_plan_flat_lots.py",
        "test_worked_plans.py",
    )
)


def pytest_configure(config):
    """A folder for what is made once in this run, whichever of its processes makes it."""
    if not hasattr(config, "workerinput"):
        os.environ[STORE] = tempfile.mkdtemp(prefix="runoff-tests-")
        config.add_cleanup(lambda: shutil.rmtree(os.environ.pop(STORE), ignore_errors=True))


def pytest_collection_modifyitems(items):
    tests = Path(__file__).parent
    for item in items:
        if (
            item.path.is_relative_to(tests)
            and str(item.path.relative_to(tests).as_posix()) not in SLOW
        ):
            item.add_marker(pytest.mark.quick)


def pytest_collection_finish():
    """What was collected lives to the end: not looked at again, garbage costs a third of it."""
    gc.collect()
    gc.freeze()


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(item, call):
    outcome = yield
    report = outcome.get_result()
    if report.skipped and os.environ.get("RUNOFF_NO_SKIPS") and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid} was skipped where no skip is allowed: {report.longrepr}"
