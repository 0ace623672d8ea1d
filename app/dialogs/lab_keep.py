"""Keeping a recipe of the Lab in a file, and reading one back."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QStandardPaths
from PySide6.QtWidgets import QFileDialog, QWidget

from analysis.model.errors import InputError
from app.session.notices import Notice, notice_of_error
from app.work.runner import Callbacks, Failure, JobProgress

if TYPE_CHECKING:
    from analysis.simulate.recipe import Recipe
    from app.session.lab_model import LabModel
    from app.session.session import Session

RECIPES = "Recipes (*.toml);;All files (*)"
CAPTURES = "Captures (*.h5)"
_KEPT = 6
"""Captures that were only opened stay so long, in the folder that the system has for such."""


def keep(parent: QWidget, session: Session, kind: str, recipe: Recipe) -> None:
    """Save a recipe (`"recipe"`), a capture of it (`"capture"`), or open one (`"open"`)."""
    if kind == "open":
        _write(session, recipe, _own_place(recipe), opened=True)
        return
    ending, title, names = {
        "recipe": (".toml", "Save the recipe", RECIPES),
        "capture": (".h5", "Save a capture", CAPTURES),
    }[kind]
    start = str(Path(session.settings.folder) / f"{_file_name(recipe)}{ending}")
    chosen, _ = QFileDialog.getSaveFileName(parent, title, start, names)
    if not chosen:
        return
    path = Path(chosen)
    path = path if path.suffix else path.with_suffix(ending)
    if kind == "recipe":
        _write_recipe(session, recipe, path)
    else:
        _write(session, recipe, path, opened=False)


def read_back(parent: QWidget, session: Session, model: LabModel) -> None:
    """Let the reader choose a recipe, and set the Lab as it says."""
    chosen, _ = QFileDialog.getOpenFileName(
        parent, "Read a recipe back", session.settings.folder, RECIPES
    )
    if not chosen:
        return

    def work(_progress: JobProgress) -> Any:
        from analysis.simulate.lab_reopen import state_of
        from analysis.simulate.recipe import read_recipe

        return state_of(read_recipe(Path(chosen)))

    def failed(failure: Failure) -> None:
        _tell(session, f"{Path(chosen).name} could not be shown in the Lab", failure)

    session.notices.dismiss("lab")
    session.runner.run(
        "lab", work, Callbacks(result=model.load, error=failed), title="Reading the recipe"
    )


def _write(session: Session, recipe: Recipe, path: Path, *, opened: bool) -> None:
    def work(progress: JobProgress) -> Path:
        from analysis.files.hdf5_write import write_hdf5
        from analysis.simulate.synthesis import simulate

        path.parent.mkdir(parents=True, exist_ok=True)
        capture = simulate(recipe, progress, name=path.name)
        # Uncompressed files are mapped: they open at once, however large.
        write_hdf5(path, capture, compression=None if opened else "gzip", progress=progress)
        return path

    def done(written: Path) -> None:
        if opened:
            session.open(written)
        else:
            _say(session, f"{written.name} is saved", "Open it with Ctrl+O, like any capture.")

    def failed(failure: Failure) -> None:
        _tell(session, f"{path.name} could not be written", failure)

    session.notices.dismiss("lab")
    session.runner.run("lab", work, Callbacks(result=done, error=failed), title="Making a capture")


def _write_recipe(session: Session, recipe: Recipe, path: Path) -> None:
    def work(_progress: JobProgress) -> None:
        from analysis.simulate.recipe_write import write_recipe

        write_recipe(path, recipe)

    def failed(failure: Failure) -> None:
        _tell(session, f"{path.name} could not be written", failure)

    def done(_nothing: object) -> None:
        how = f"`runtrue simulate {path.name} --out capture.h5` makes a capture of it."
        _say(session, f"{path.name} is saved", how)

    session.notices.dismiss("lab")
    session.runner.run("lab", work, Callbacks(result=done, error=failed), title="Saving the recipe")


def _own_place(recipe: Recipe) -> Path:
    """A new file beside those opened before, of which the oldest go."""
    home = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.AppLocalDataLocation)
    folder = Path(home) / "Lab"
    there = sorted(folder.glob("*.h5"), key=lambda path: path.stat().st_mtime, reverse=True)
    for old in there[_KEPT - 1 :]:
        # On some systems an open file cannot go; it does the next time.
        try:
            old.unlink(missing_ok=True)
        except OSError:
            continue
    name, number = _file_name(recipe), 1
    while (path := folder / f"{name} {number}.h5").exists():
        number += 1
    return path


def _file_name(recipe: Recipe) -> str:
    return re.sub(r"[^\w .()+-]+", "", recipe.title).strip(" .")[:60] or "Lab"


def _say(session: Session, title: str, text: str) -> None:
    session.notices.show(Notice("lab", "info", title, text))


def _tell(session: Session, title: str, failure: Failure) -> None:
    error = failure.error
    if isinstance(error, ValueError) and not isinstance(error, InputError):
        session.notices.show(Notice("lab", "warning", title, f"{error}."))
    else:
        session.notices.show(notice_of_error("lab", title, error, failure.trace))
