"""The project's own files, without what is built, installed or written beside them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
_FOLDERS = ("app", "analysis", "resources", "sample_data", "tests", ".ci")
_FILES = ("README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", ".gitignore")
_BINARY = {".h5", ".hdf5", ".otf", ".ttf", ".png", ".ico", ".icns"}


def files_below(*folders: str, suffix: str = "") -> Iterator[Path]:
    """Files of these folders (all by default), in order."""
    for folder in folders or _FOLDERS:
        for path in sorted((ROOT / folder).rglob(f"*{suffix}")):
            if path.is_file() and "__pycache__" not in path.parts:
                yield path


def text_files() -> Iterator[Path]:
    """Everything of the project that is text."""
    yield from (ROOT / name for name in _FILES)
    for path in files_below():
        # Captures as CSV are data.
        is_data = path.parent.name == "sample_data" and path.suffix == ".csv"
        if path.suffix not in _BINARY and not is_data:
            yield path


def name_of(path: Path) -> str:
    """The path as it stands in the project."""
    return path.relative_to(ROOT).as_posix()
