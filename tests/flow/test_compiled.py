"""Compiled kernels are kept for the next run, and nothing that lies in their folder is trusted."""

import ast
import importlib
import os
import pickle
import pkgutil
import stat
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from numba.core.registry import CPUDispatcher

import runoff
from runoff.flow import KERNEL_FILES, KernelStore, choose_cache, kernel

PACKAGE = Path(runoff.__file__).parent
POSIX = pytest.mark.skipif(not hasattr(os, "getuid"), reason="files have no owners here")


def kernels_of_the_project():
    """Every compiled function that a module of the project holds."""
    found = {}
    for info in pkgutil.walk_packages([str(PACKAGE)], "runoff."):
        if info.name.endswith("__main__"):
            continue
        for value in vars(importlib.import_module(info.name)).values():
            if isinstance(value, CPUDispatcher):
                found[value.py_func.__module__, value.py_func.__qualname__] = value
    return list(found.values())


def modules_that_define(name, module):
    """The modules of the project in which a name that a kernel uses is bound, seen from its own."""
    value = getattr(module, name, None)
    if isinstance(value, CPUDispatcher):
        return {value.py_func.__module__}
    if value is None or isinstance(value, ModuleType | type) or callable(value):
        return set()  # a field's name, numpy, a record's or a builtin's name: no code of a kernel
    for node in ast.parse(Path(module.__file__).read_text()).body:
        if isinstance(node, ast.ImportFrom) and name in [each.name for each in node.names]:
            return modules_that_define(name, importlib.import_module(node.module))
    return {module.__name__}


def test_the_cache_is_named_for_the_files_that_kernels_call_and_no_others():
    called = set()
    for each in kernels_of_the_project():
        function = each.py_func
        module = sys.modules[function.__module__]
        called.add(module.__name__)
        for name in function.__code__.co_names:
            called |= modules_that_define(name, module)
    files = {f"{m.removeprefix('runoff.').replace('.', '/')}.py" for m in called}
    assert files == set(KERNEL_FILES)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "kernels"))
    return choose_cache()


def doubling(folder):
    """A kernel kept in `folder`, as another run of the program would find it."""

    def double(x):
        return 2.0 * x

    dispatcher = kernel(double)
    dispatcher._cache = KernelStore(double, folder)
    return dispatcher


def load_hits(folder):
    """Whether what is kept is handed out."""
    run = doubling(folder)
    loaded = []
    store = run._cache
    original = store.load_overload

    def watched(signature, context):
        loaded.append(original(signature, context))
        return loaded[-1]

    store.load_overload = watched
    assert run(np.float64(21.0)) == 42.0
    return loaded[0] is not None


def kept(folder):
    files = list(folder.glob("*.compiled"))
    assert len(files) == 1
    return files[0]


def test_a_second_run_finds_what_the_first_compiled(folder):
    assert not load_hits(folder)
    assert load_hits(folder)
    assert kept(folder)


class Planted:
    """What somebody else may have put there: unpickling it leaves a mark."""

    def __init__(self, mark):
        self.mark = mark

    def __reduce__(self):
        return (Path.touch, (self.mark,))


DAMAGE = {
    "empty": lambda whole: b"",
    "truncated": lambda whole: whole[: len(whole) // 2],
    "a flipped bit": lambda whole: whole[:900] + bytes([whole[900] ^ 1]) + whole[901:],
    "another thing": lambda whole: b"not a kernel" * 1000,
}


@pytest.mark.parametrize("damage", DAMAGE)
def test_what_is_damaged_is_compiled_anew(folder, damage):
    load_hits(folder)
    file = kept(folder)
    file.write_bytes(DAMAGE[damage](file.read_bytes()))
    assert not load_hits(folder)
    assert load_hits(folder), "the damaged file is replaced"


def test_a_planted_file_without_the_checksum_is_never_unpickled(folder, tmp_path):
    load_hits(folder)
    mark = tmp_path / "ran"
    kept(folder).write_bytes(pickle.dumps(Planted(mark)))
    assert not load_hits(folder)
    assert not mark.exists()


@POSIX
def test_a_file_that_others_may_write_is_not_read(folder):
    load_hits(folder)
    kept(folder).chmod(0o666)
    assert not load_hits(folder)


@POSIX
def test_a_link_in_place_of_a_file_is_not_followed(folder, tmp_path):
    load_hits(folder)
    file = kept(folder)
    file.rename(tmp_path / "elsewhere")
    file.symlink_to(tmp_path / "elsewhere")
    assert not load_hits(folder)


@POSIX
@pytest.mark.parametrize("mode", [0o770, 0o707, 0o777])
def test_a_folder_that_others_may_write_is_not_used(folder, mode):
    folder.chmod(mode)
    assert choose_cache() is None


@POSIX
def test_a_folder_of_somebody_else_is_not_used(folder, monkeypatch):
    monkeypatch.setattr(os, "getuid", lambda: os.stat(folder).st_uid + 1)
    assert choose_cache() is None


@POSIX
def test_a_link_to_a_folder_is_not_used(folder, tmp_path):
    folder.rename(tmp_path / "elsewhere")
    folder.symlink_to(tmp_path / "elsewhere")
    assert choose_cache() is None


@POSIX
def test_the_folder_is_made_for_the_user_alone(folder):
    old = os.umask(0)
    try:
        folder.rmdir()
        choose_cache()
    finally:
        os.umask(old)
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_a_full_disk_is_no_failure(folder, monkeypatch):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "open", full)
    run = doubling(folder)
    assert run(np.float64(21.0)) == 42.0
    assert not list(folder.iterdir())


def test_without_a_place_to_write_a_lot_is_inspected_all_the_same(tmp_path):
    """The cache's folder is a file: the command compiles, answers and ends in no failure."""
    (tmp_path / "file").write_text("in the way")
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            "import numpy as np; from runoff.flow import fill_depressions;"
            "from runoff.flow.engine import compiled;"
            "assert compiled.CACHE is None and compiled.needs_preparing();"
            "print(fill_depressions(np.array([[1., 1, 1], [1, 0, 1], [1, 1, 1]]))[1, 1])",
        ],
        env={**os.environ, "NUMBA_CACHE_DIR": str(tmp_path / "file")},
        capture_output=True,
        text=True,
    )
    assert (done.returncode, done.stdout) == (0, "1.0\n")
