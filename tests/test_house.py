"""The house has one way through: no import runs back, and nothing heavy loads for `--help`."""

import ast
import re
import subprocess
import sys
import tomllib
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

import runoff
from tests.conftest import SLOW

PACKAGE = Path(runoff.__file__).parent
# Each room with how far to the right it stands; a room may import those to its left and itself.
PLACE = {
    "quantities": 0,
    "rules": 1,
    "site": 2,
    "terrain": 3,
    "roof": 3,
    "start": 3,
    "flow": 4,
    "foundation": 5,
    "discharge": 6,
    "words": 7,
    "checking": 8,
    "data": 8,
    "inspection": 9,
    "planning": 10,
    "report": 11,
    "sample": 11,
    "cli": 12,
    "page": 12,
    "__main__": 13,
}
FILES = sorted(p for p in PACKAGE.rglob("*.py") if p.name != "__init__.py" or p.parent != PACKAGE)


def _room(file: Path) -> str:
    return file.relative_to(PACKAGE).parts[0].removesuffix(".py")


def _imports(file: Path) -> list[str]:
    """Rooms that a file imports when it runs (what stands under TYPE_CHECKING does not)."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            node.body = []
    found = []
    for node in ast.walk(tree):
        names = []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module]
            if node.module == "runoff":
                names = [f"runoff.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        found += [name.split(".")[1] for name in names if name.startswith("runoff.")]
    return found


@pytest.mark.parametrize("file", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_no_import_runs_back(file):
    room = _room(file)
    for other in _imports(file):
        assert PLACE[other] < PLACE[room] or other == room, f"{file.name} imports {other}"


def test_the_guard_sees_an_import_that_runs_back(tmp_path):
    file = tmp_path / "wrong.py"
    file.write_text("def f():\n    from runoff.report.maps.lot_map import draw_map\n")
    assert _imports(file) == ["report"]


def _module(file: Path) -> str:
    parts = file.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def test_no_module_imports_in_a_circle():
    modules = {_module(file): file for file in FILES}
    imports = {
        name: {
            other
            for node in ast.parse(file.read_text(encoding="utf-8")).body
            if isinstance(node, ast.ImportFrom) and node.module
            for other in (node.module, *(f"{node.module}.{alias.name}" for alias in node.names))
            if other in modules
        }
        for name, file in modules.items()
    }
    TopologicalSorter(imports).prepare()


def test_the_circle_test_sees_a_circle():
    with pytest.raises(CycleError):
        TopologicalSorter({"a": {"b"}, "b": {"c"}, "c": {"a"}}).prepare()


FACTS = ("site", "terrain", "roof", "flow", "foundation", "discharge")
WRITES = re.compile(r"\b(format_\w+|Shown|system_of)\b")
# What is wrong in the user's files is told where it is read, in figures: the one exception.
TELLS_PROBLEMS = {
    "roof/takeoff.py",
    "site/implausible.py",
    "site/lot.py",
    "site/rain/site_rains.py",
    "site/rain/table.py",
    "site/soil/sheets.py",
    "site/survey/level_lines.py",
    "site/survey/level_notes.py",
    "site/survey/levels.py",
    "site/survey/ties.py",
    "site/wall_places.py",
    "terrain/wording.py",
}
# What is bought is still named where it is counted.
NAMES_WHAT_IS_BOUGHT = {
    "discharge/line/apron.py",
    "discharge/line/way.py",
    "discharge/wording.py",
}


def test_rooms_of_facts_write_no_quantities_but_in_problems():
    writing = set()
    for file in FILES:
        if _room(file) in FACTS:
            tree = ast.parse(file.read_text(encoding="utf-8"))
            names = {
                alias.name
                for node in ast.walk(tree)
                if isinstance(node, ast.ImportFrom)
                for alias in node.names
            }
            if any(WRITES.fullmatch(name) for name in names):
                writing.add(file.relative_to(PACKAGE).as_posix())
    assert writing == TELLS_PROBLEMS | NAMES_WHAT_IS_BOUGHT


@pytest.mark.parametrize("room", ["words", "report", "cli"])
def test_quantities_are_shown_in_one_way(room):
    """What is shown to people is written by `Shown` alone, so that no length has two spellings."""
    for file in (PACKAGE / room).rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "")[:17] == "runoff.quantities":
                assert not [a.name for a in node.names if a.name.startswith("format_")], file
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                assert (node.value.id, node.attr[:7]) != ("quantities", "format_"), file


@pytest.mark.parametrize("command", ["import runoff", "import runoff.cli"])
def test_nothing_heavy_is_imported_for_help(command):
    heavy = ("numpy", "numba", "shapely")
    code = f"{command}; import sys; print([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_slow_files_are_those_there_are():
    tests = Path(__file__).parent
    assert {name for name in SLOW if not (tests / name).is_file()} == set()


def test_the_quick_suite_enters_every_room():
    tests = Path(__file__).parent
    quick = {p.relative_to(tests).as_posix() for p in tests.rglob("test_*.py")} - SLOW
    rooms = {p.name for p in tests.iterdir() if (p / "__init__.py").exists()} - {"benchmarks"}
    assert rooms == {name.split("/")[0] for name in quick if "/" in name} - {"benchmarks"}


# Packages whose import goes by another name.
IMPORTED_AS = {"pillow": "PIL", "richdem2": "richdem"}


def test_every_package_imported_is_declared_and_every_one_declared_is_used():
    project = tomllib.loads((PACKAGE.parent / "pyproject.toml").read_text(encoding="utf-8"))
    extras = project["project"]["optional-dependencies"]
    declared = {
        IMPORTED_AS.get(name, name.replace("-", "_"))
        for wanted in [*project["project"]["dependencies"], *extras["laz"]]
        for name in [re.match(r"[\w-]+", wanted)[0]]
    }
    used = set()
    for file in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                used |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and not node.level:
                used.add(node.module.split(".")[0])
    assert used - set(sys.stdlib_module_names) - {"runoff"} == declared
