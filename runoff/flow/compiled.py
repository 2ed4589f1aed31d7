"""How the kernels are compiled: numba with its cache in the user's own folder, or with none.

Numba writes its cache beside the source by default and fails at import where neither that nor the
home folder can be written. So the folder is chosen here, before numba is imported, and every kernel
of the project is decorated with `kernel`.
"""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any


def _user_cache() -> Path:
    """The folder in which this user's programs keep what can be made again."""
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")


def _writable(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def _source_name() -> str:
    """A name for the kernels as they are written now.

    Numba sees a change in a kernel's own file alone, not in what it takes from other files.
    """
    digest = hashlib.sha256()
    here = Path(__file__).parent
    for file in sorted([*here.glob("*.py"), here.parent / "foundation" / "safe_lay.py"]):
        digest.update(file.read_bytes())
    return digest.hexdigest()[:16]


def _choose_cache() -> Path | None:
    """The folder for compiled kernels, or None where nothing can be written."""
    try:
        cache = Path(os.environ.get("NUMBA_CACHE_DIR") or _user_cache() / "runoff" / "kernels")
        name = _source_name()
        folder = cache if cache.name == name else cache / name  # a child process finds it set
    except RuntimeError:  # no home folder at all
        return None
    return folder if _writable(folder) else None


CACHE = _choose_cache()
if CACHE is not None:
    os.environ["NUMBA_CACHE_DIR"] = str(CACHE)
else:
    # An unwritable folder left in the environment would stop numba at import.
    os.environ.pop("NUMBA_CACHE_DIR", None)


def needs_preparing() -> bool:
    """Whether the kernels have yet to be compiled on this machine.

    Examples
    --------
    >>> needs_preparing() in (True, False)
    True
    """
    return CACHE is None or next(CACHE.rglob("*.nbi"), None) is None


def kernel(function: Callable[..., Any]) -> Any:
    """Compile a function of arrays with numba: no Python objects, the interpreter lock released."""
    import numba

    if CACHE is not None:
        numba.config.CACHE_DIR = str(CACHE)  # type: ignore[attr-defined]
    return numba.njit(cache=CACHE is not None, nogil=True, error_model="numpy")(function)
