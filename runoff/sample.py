"""The sample lot that ships with the package: where it lies, and a copy of it to work on."""

from __future__ import annotations

import os
from collections.abc import Sequence
from contextlib import suppress
from importlib.resources import files
from pathlib import Path

FILES = (
    "README.md",
    "site.toml",
    "spots.csv",
    "rain.csv",
    "site_from_elevation.toml",
    "lot.tif",
    "outlines.geojson",
    "make.py",
)


def sample_folder() -> Path:
    """The folder of the sample lot.

    An installed wheel carries it inside the package; an editable install leaves it where the
    repository has it, beside the package.

    Returns
    -------
    Path

    Raises
    ------
    FileNotFoundError
        Where the installation has lost it.

    Examples
    --------
    >>> (sample_folder() / "site.toml").is_file()
    True
    """
    package = Path(str(files("runoff")))
    for folder in (package / "sample_terrain", package.parent / "sample_terrain"):
        if (folder / "site.toml").is_file():
            return folder
    raise FileNotFoundError(
        "the sample lot is missing from this installation; install runoff again"
    )


def copy_sample(to: Path, overwrite: bool = False) -> list[Path]:
    """Copy the sample lot into a folder, made where it is missing.

    Files there that are the same already are left; one that differs is somebody's own work and is
    not written over unless `overwrite` is true. All are written or none.

    Parameters
    ----------
    to : Path
        The folder.
    overwrite : bool
        Whether to write over files that differ.

    Returns
    -------
    list of Path
        The sample's files in their new place.

    Raises
    ------
    FileExistsError
        With one line that names the file in the way.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     len(copy_sample(Path(folder) / "demo"))
    8
    """
    source = sample_folder()
    if to.exists() and not to.is_dir():
        raise FileExistsError(f"{to} is a file; name a folder for the sample lot")
    pairs = [(to / name, (source / name).read_bytes()) for name in FILES]
    missing_or_differing = [(path, content) for path, content in pairs if _differs(path, content)]
    if not overwrite:
        for path, _ in missing_or_differing:
            if path.exists():
                raise FileExistsError(
                    f"{path} is there already and is not the sample's own; "
                    "name another folder, or use --force to write over it"
                )
    _write_all_or_none(to, missing_or_differing)
    return [path for path, _ in pairs]


def _differs(path: Path, content: bytes) -> bool:
    return not path.is_file() or path.read_bytes() != content


def _write_all_or_none(folder: Path, contents: Sequence[tuple[Path, bytes]]) -> None:
    """Write every file beside its place first, so that a full disk leaves the folder as it was."""
    made = [part for part in (folder, *folder.parents) if not part.exists()]
    beside = [path.with_name(f".{path.name}.{os.getpid()}.part") for path, _ in contents]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for temporary, (_, content) in zip(beside, contents, strict=True):
            temporary.write_bytes(content)
        for temporary, (path, _) in zip(beside, contents, strict=True):
            os.replace(temporary, path)
    finally:
        for temporary in beside:
            temporary.unlink(missing_ok=True)
        for part in made:
            with suppress(OSError):  # holds what was written, or was never made
                part.rmdir()
