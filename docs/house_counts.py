"""Count the house: its files and functions, what one walk through it enters, what it prints.

``python docs/house_counts.py`` prints the figures of this tree as a Markdown table, ``--write``
puts them into docs/house.md. A folder given counts another tree, also an older one.
"""

from __future__ import annotations

import argparse
import ast
import inspect
import json
import os
import pkgutil
import re
import shutil
import subprocess
import sys
import tempfile
import tokenize
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from importlib import import_module
from itertools import pairwise
from pathlib import Path
from statistics import mean, median
from types import CodeType, FrameType
from typing import Any

PAGE = Path(__file__).with_name("house.md")
COLUMNS = ("before", "now")
BEGIN, END = "<!-- counts -->", "<!-- end of counts -->"
NONE = "–"
SMALL_FILE = 60
SAMPLE, SAMPLE_ELEVATION = "site.toml", "site_from_elevation.toml"
# Where each walk begins: it ends where the first call of that function does.
WALKS = {
    "one downspout through its ways": "compare_ways",
    "elevation data to terrain": "build_terrain",
}
WALKED = ("files entered", "functions entered", "changes of file", "times a file is entered")
_NO_CODE = frozenset(
    (
        tokenize.COMMENT,
        tokenize.NL,
        tokenize.NEWLINE,
        tokenize.INDENT,
        tokenize.DEDENT,
        tokenize.ENCODING,
        tokenize.ENDMARKER,
    )
)


@dataclass(frozen=True)
class FileCount:
    """What stands in one file.

    `code` are the numbers of its lines that are neither blank nor comment nor docstring, `lines`
    how many there are in all, `imports` how many of the code lines import, `bodies` the lines of
    code in each function's body, `private` each private function's name, and `mentions` how often
    each name is used, a definition or an import not counted.
    """

    lines: int
    code: frozenset[int]
    imports: int
    bodies: tuple[int, ...]
    private: tuple[str, ...]
    mentions: Counter[str]

    @property
    def private_once(self) -> int:
        """How many of its private functions are mentioned once; others' names are not looked at."""
        return sum(self.mentions[name] == 1 for name in self.private)


def count_file(path: Path) -> FileCount:
    """Count the lines, functions and names of one file.

    Raises
    ------
    SyntaxError
        Where it is no Python.
    """
    text = path.read_text(encoding="utf-8")
    tree = ast.parse(text)
    nodes = list(ast.walk(tree))
    code = frozenset(_token_lines(path) - _docstring_lines(nodes))
    functions = [n for n in nodes if isinstance(n, ast.FunctionDef | ast.AsyncFunctionDef)]
    imports = [n for n in nodes if isinstance(n, ast.Import | ast.ImportFrom)]
    return FileCount(
        lines=len(text.splitlines()),
        code=code,
        imports=len(code & {line for node in imports for line in _lines(node)}),
        bodies=tuple(
            len(code.intersection(range(one.body[0].lineno, (one.end_lineno or 0) + 1)))
            for one in functions
        ),
        private=tuple(f.name for f in functions if re.match(r"_(?!_)", f.name)),
        mentions=Counter(
            node.id if isinstance(node, ast.Name) else node.attr
            for node in nodes
            if isinstance(node, ast.Name | ast.Attribute)
        ),
    )


def _token_lines(path: Path) -> set[int]:
    with path.open("rb") as file:
        return {
            line
            for token in tokenize.tokenize(file.readline)
            if token.type not in _NO_CODE
            for line in range(token.start[0], token.end[0] + 1)
        }


def _docstring_lines(nodes: list[ast.AST]) -> set[int]:
    """Lines of texts that stand alone: docstrings, and what is said below a constant."""
    return {
        line
        for node in nodes
        if isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
        for line in _lines(node)
    }


def _lines(node: ast.stmt) -> range:
    return range(node.lineno, (node.end_lineno or node.lineno) + 1)


def static_counts(tree: Path) -> dict[str, str]:
    """What is counted of the files alone, row by row."""
    package = tree / "runoff"
    files = {path: count_file(path) for path in sorted(package.rglob("*.py"))}
    if not files:
        raise SystemExit(f"{tree}: expected a folder that holds runoff/")
    every = list(files.values())
    bodies = [body for one in every for body in one.bodies]
    code = sum(len(one.code) for one in every)
    private = sum(len(one.private) for one in every)
    rows = {
        "files": f"{len(every):,}",
        f"files of fewer than {SMALL_FILE} lines": f"{sum(f.lines < SMALL_FILE for f in every):,}",
        "lines of code": f"{code:,}",
        "lines of code a file, median": f"{median(len(one.code) for one in every):.0f}",
        "lines of code that import": _share(sum(one.imports for one in every), code),
        "functions": f"{len(bodies):,}",
        "private functions": _share(private, len(bodies)),
        "private functions used once": _share(sum(f.private_once for f in every), len(bodies)),
        "lines of code in a function's body, median": f"{median(bodies):.0f}",
        "lines of code in a function's body, mean": f"{mean(bodies):.1f}",
    }
    for folder in sorted({path.parent for path in files}):
        lines = [one.lines for path, one in files.items() if path.parent == folder]
        name = folder.relative_to(tree).as_posix()
        rows[f"`{name}/`: files, lines of the longest"] = f"{len(lines)}, {max(lines)}"
    return rows


def _share(part: int, whole: int) -> str:
    return f"{part:,} ({100 * part / whole:.0f} %)"


@dataclass
class Walk:
    """What a run enters of one package between the beginning and the end of a function's call.

    `order` are the functions in the order in which each is first entered, as file and first line;
    `crossings` counts the calls from one file into another.
    """

    package: Path
    begin: str
    order: dict[tuple[str, int], None] = field(default_factory=dict)
    crossings: int = 0
    _first: FrameType | None = None
    _inside: bool = False

    def profile(self, frame: FrameType, event: str, _: Any) -> None:
        """For `sys.setprofile`."""
        if event == "call":
            if self._first is None and frame.f_code.co_name == self.begin and self._ours(frame):
                self._first, self._inside = frame, True
            if self._inside and self._ours(frame) and _is_function(frame.f_code):
                self._enter(frame)
        elif event == "return" and frame is self._first:
            self._inside = False

    def _enter(self, frame: FrameType) -> None:
        file = frame.f_code.co_filename
        self.order[file, frame.f_code.co_firstlineno] = None
        caller = frame.f_back
        while caller is not None and not self._ours(caller):
            caller = caller.f_back
        if frame is not self._first and caller is not None:
            self.crossings += caller.f_code.co_filename != file

    def _ours(self, frame: FrameType) -> bool:
        return frame.f_code.co_filename.startswith(f"{self.package}{os.sep}")

    def counts(self) -> dict[str, str]:
        """The rows of the table; a run that never came to the beginning has none."""
        files = [file for file, _ in self.order]
        if not files:
            return dict.fromkeys(WALKED, NONE)
        changes = sum(one != other for one, other in pairwise(files))
        figures = (len(set(files)), len(files), changes, self.crossings)
        return dict(zip(WALKED, (f"{figure:,}" for figure in figures), strict=True))


def _is_function(code: CodeType) -> bool:
    """Whether it is a named function, no lambda, comprehension or body of a class or module."""
    return bool(code.co_flags & inspect.CO_OPTIMIZED) and not code.co_name.startswith("<")


def walk(package: Path, begin: str, run: Callable[[], object]) -> Walk:
    """Run and tell what is entered of a package during the first call of the function `begin`."""
    walked = Walk(package, begin)
    before = sys.getprofile()
    sys.setprofile(walked.profile)
    try:
        run()
    finally:
        sys.setprofile(before)
    return walked


def _walk_here(begin: str, lot: Path) -> Walk:
    """The walk in the package that stands on the path, all of it imported before."""
    import runoff

    package = Path(runoff.__file__).parent
    for module in pkgutil.walk_packages([str(package)], "runoff."):
        if not module.name.endswith("__main__"):
            import_module(module.name)
    if begin == "build_terrain":
        site = runoff.read_site(lot / SAMPLE_ELEVATION)
        return walk(package, begin, lambda: runoff.inspect(site))
    site = runoff.read_site(lot / SAMPLE)
    return walk(package, begin, lambda: runoff.plan(site))


def run_counts(tree: Path) -> dict[str, str]:
    """What is counted of runs on the tree's own sample lot: printed lines, pages and walks."""
    from pypdf import PdfReader

    environment = {**os.environ, "PYTHONPATH": str(tree), "COLUMNS": "80"}
    rows: dict[str, str] = {}
    with tempfile.TemporaryDirectory() as folder:
        lot = Path(folder) / "lot"
        shutil.copytree(tree / "sample_terrain", lot)

        def run(*arguments: str) -> str:
            done = subprocess.run(
                [sys.executable, *arguments],
                cwd=lot,
                env=environment,
                capture_output=True,
                encoding="utf-8",
            )
            if done.returncode not in (0, 1) or "Traceback" in done.stderr:
                raise SystemExit(f"{' '.join(arguments)}: {done.stderr}")
            return done.stdout

        for command in ("inspect", "plan", "check"):
            printed = run("-m", "runoff", command, SAMPLE)
            rows[f"lines printed by `runoff {command}`"] = f"{len(printed.splitlines()):,}"
            if "--full" in run("-m", "runoff", command, "--help"):
                printed = run("-m", "runoff", command, SAMPLE, "--full")
                full = f"{len(printed.splitlines()):,}"
                rows[f"lines printed by `runoff {command} --full`"] = full
        for form in ("plan", "inspection"):
            run("-m", "runoff", "report", SAMPLE, "--form", form, "-o", f"{form}.pdf")
            pages = len(PdfReader(lot / f"{form}.pdf").pages)
            rows[f"pages of the report, `--form {form}`"] = str(pages)
        for name, begin in WALKS.items():
            walked = json.loads(run(__file__, "--walk", begin, str(lot)))
            rows |= {f"{name}: {what}": count for what, count in walked.items()}
    return rows


def table(columns: dict[str, dict[str, str]]) -> str:
    """A Markdown table, a column for each of the counts.

    A row that one column has and another has not stands after the row that it follows there.
    """
    order: list[str] = []
    for counts in columns.values():
        place = 0
        for row in counts:
            if row in order:
                place = order.index(row) + 1
            else:
                order.insert(place, row)
                place += 1
    heads = "".join(f" {name} |" for name in columns)
    lines = [f"| counted |{heads}", f"|---|{'---:|' * len(columns)}"]
    for row in order:
        cells = "".join(f" {counts.get(row, NONE)} |" for counts in columns.values())
        lines.append(f"| {row} |{cells}")
    return "\n".join(lines)


def read_table(text: str) -> dict[str, dict[str, str]]:
    """The columns of a table as `table` writes it, cells without a figure left out."""
    rows = [[c.strip() for c in line.strip("|").split("|")] for line in text.strip().splitlines()]
    if not rows or not rows[0][0]:
        return {}
    return {
        name: {row[0]: row[k] for row in rows[2:] if row[k] != NONE}
        for k, name in enumerate(rows[0])
        if k
    }


def written(page: str, column: str, head: str, counts: dict[str, str]) -> str:
    """The page with one column of its table counted anew; the other stays as it is."""
    top, rest = page.split(BEGIN)
    old, end = rest.split(END)
    columns = {}
    for name in COLUMNS:
        if name == column:
            columns[head] = counts
        else:
            columns |= {h: c for h, c in read_table(old).items() if h.startswith(name)}
    return f"{top}{BEGIN}\n{table(columns)}\n{END}{end}"


def main() -> None:
    """What is typed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("tree", nargs="?", type=Path, default=PAGE.parents[1])
    parser.add_argument("--static", action="store_true", help="count the files alone, run nothing")
    parser.add_argument("--write", action="store_true", help=f"put it into docs/{PAGE.name}")
    parser.add_argument("--column", choices=COLUMNS, default="now", help="which is written")
    parser.add_argument("--walk", metavar="BEGIN", help="one walk alone, on the lot in TREE")
    wanted = parser.parse_args()
    tree = wanted.tree.resolve()
    if wanted.walk:
        print(json.dumps(_walk_here(wanted.walk, tree).counts()))
        return
    counts = static_counts(tree) | ({} if wanted.static else run_counts(tree))
    head = f"now ({date.today():%Y-%m-%d})" if wanted.column == "now" else wanted.column
    if wanted.write:
        page = PAGE.read_text(encoding="utf-8")
        PAGE.write_text(written(page, wanted.column, head, counts), encoding="utf-8")
    print(table({head: counts}))


if __name__ == "__main__":
    main()
