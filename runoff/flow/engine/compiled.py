"""How the kernels are compiled, and how what was compiled is kept for the next run.

Numba's own cache writes beside the source, fails at import where neither that nor the home folder
can be written, and unpickles whatever lies there. Here compiled kernels are kept in a folder that
is the user's own, under a name made from the kernels' sources; what is damaged, or what somebody
else could have put there, is never read, and where nothing can be kept the kernels are compiled
anew. Every kernel of the project is decorated with `kernel`.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import pickle
import secrets
import stat
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

# Every file in which a kernel stands, or a constant that kernels take; a test holds the list to
# what the kernels really call.
KERNEL_FILES = (
    "flow/engine/basins.py",
    "flow/engine/counts.py",
    "flow/engine/crossing.py",
    "flow/engine/depressions.py",
    "flow/engine/d_infinity.py",
    "flow/engine/directions.py",
    "flow/engine/lakes.py",
    "flow/engine/pouring.py",
    "flow/engine/surface.py",
    "flow/engine/triangles.py",
    "foundation/safe_strides.py",
)
_CHECKSUM_BYTES = hashlib.sha256().digest_size
_OTHERS_MAY_WRITE = stat.S_IWGRP | stat.S_IWOTH


def _user_cache() -> Path:
    """The folder in which this user's programs keep what can be made again."""
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")


def source_name() -> str:
    """A name for the kernels as they are written now: it changes with any file that one calls.

    Examples
    --------
    >>> len(source_name())
    16
    """
    digest = hashlib.sha256()
    package = Path(__file__).parents[2]
    for file in KERNEL_FILES:
        digest.update(file.encode())
        digest.update((package / file).read_bytes())
    return digest.hexdigest()[:16]


def is_ours_alone(status: os.stat_result) -> bool:
    """Whether a file or folder belongs to this user and nobody else may write in it.

    Whoever can write in the folder of compiled kernels can have this user run anything. Where
    files have no owners (Windows) the user's own folder is taken as it is.
    """
    if not hasattr(os, "getuid"):
        return True
    return status.st_uid == os.getuid() and not status.st_mode & _OTHERS_MAY_WRITE


def choose_cache() -> Path | None:
    """The folder for compiled kernels, or None where there is none that is safe to use."""
    try:
        cache = Path(os.environ.get("NUMBA_CACHE_DIR") or _user_cache() / "runoff" / "kernels")
        folder = cache / source_name()
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        status = os.stat(folder, follow_symlinks=False)
    except (OSError, RuntimeError):  # RuntimeError: no home folder at all
        return None
    return folder if stat.S_ISDIR(status.st_mode) and is_ours_alone(status) else None


CACHE = choose_cache()


def needs_preparing() -> bool:
    """Whether the kernels have yet to be compiled on this machine.

    Examples
    --------
    >>> needs_preparing() in (True, False)
    True
    """
    try:
        return CACHE is None or next(CACHE.glob("*.compiled"), None) is None
    except OSError:
        return True


class KernelStore:
    """What numba asks for a compiled kernel, and hands one to: one kernel's files in `CACHE`.

    A file holds a checksum and the pickled result. It is read only where it is the user's own and
    the checksum is right; nothing that goes wrong here stops a run.
    """

    def __init__(self, function: Callable[..., Any], folder: Path) -> None:
        self._function = function
        self._folder = folder

    @property
    def cache_path(self) -> str:
        """Where the files lie."""
        return str(self._folder)

    def flush(self) -> None:
        """Forget this kernel's files."""
        for file in self._folder.glob(f"{self._stem()}.*"):
            file.unlink(missing_ok=True)

    def load_overload(self, signature: Any, target_context: Any) -> Any:
        """The compiled kernel for these types, or None where it must be compiled."""
        from numba.core.compiler import CompileResult

        target_context.refresh()
        try:
            content = self._read(self._file(signature, target_context.codegen()))
            if content is None:
                return None
            return CompileResult._rebuild(target_context, *pickle.loads(content))
        except Exception:  # whatever a stored kernel fails at, compiling it anew mends
            return None

    def save_overload(self, signature: Any, result: Any) -> None:
        """Keep a compiled kernel, whole or not at all."""
        from numba.core.serialize import dumps

        if result.library.has_dynamic_globals:
            return
        content = dumps(result._reduce())
        file = self._file(signature, result.codegen)
        part = file.with_suffix(f".{secrets.token_hex(8)}")
        try:
            with open(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as stream:
                stream.write(hashlib.sha256(content).digest() + content)
            part.replace(file)
        except OSError:  # a full disk, a folder gone: the next run compiles again
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)

    def _stem(self) -> str:
        return f"{self._function.__module__}.{self._function.__qualname__}"

    def _file(self, signature: Any, codegen: Any) -> Path:
        """A kernel's file for these types, on this processor, by these versions."""
        import numba
        import numpy

        made_for = (sys.version, numba.__version__, numpy.__version__, codegen.magic_tuple())
        key = hashlib.sha256(repr((made_for, signature)).encode()).hexdigest()[:24]
        return self._folder / f"{self._stem()}.{key}.compiled"

    @staticmethod
    def _read(file: Path) -> bytes | None:
        """What was kept, or None where there is nothing that may be trusted."""
        follow_no_link = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
        with open(os.open(file, os.O_RDONLY | follow_no_link), "rb") as stream:
            status = os.fstat(stream.fileno())
            if not (stat.S_ISREG(status.st_mode) and is_ours_alone(status)):
                return None
            checksum, content = stream.read(_CHECKSUM_BYTES), stream.read()
        return content if hashlib.sha256(content).digest() == checksum else None


def kernel(function: Callable[..., Any]) -> Any:
    """Compile a function of arrays with numba: no Python objects, the interpreter lock released."""
    import numba

    dispatcher = numba.njit(nogil=True, error_model="numpy")(function)
    if CACHE is not None:
        dispatcher._cache = KernelStore(function, CACHE)  # type: ignore[attr-defined]
    return dispatcher


def in_blocks(work: Callable[[int, int], object], size: int, few: int) -> None:
    """Do `work` on blocks of a range, several at once where it holds more than `few`.

    Compiled kernels let go of the interpreter's lock, so that all cores work.

    Examples
    --------
    >>> done = []
    >>> in_blocks(lambda first, last: done.append((first, last)), 10, few=100)
    >>> done
    [(0, 10)]
    """
    cores = os.cpu_count() or 1
    blocks = 4 * cores if size > few and cores > 1 else 1
    edges = [size * n // blocks for n in range(blocks + 1)]
    if blocks == 1:
        work(0, size)
        return
    with ThreadPoolExecutor(cores) as pool:
        list(pool.map(work, edges[:-1], edges[1:]))
