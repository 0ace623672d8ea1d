"""Opening a table of another layout: the reader says what its columns are, and sees it at once."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QWidget

from analysis.files.csv_preview import CsvPreview, preview_csv
from app.work.latest import Latest

from .import_dialog import ImportDialog

if TYPE_CHECKING:
    from analysis.files.csv_layout import CsvLayout
    from app.session.session import Session
    from app.work.runner import Failure


def describe_columns(parent: QWidget, session: Session, path: Path) -> ImportDialog:
    """Open the dialog; accepted, the file is opened with what was said."""
    dialog = ImportDialog(path.name, parent)

    def answered(preview: CsvPreview) -> None:
        dialog.show_preview(preview)

    def failed(failure: Failure) -> None:
        dialog.show_problems((str(failure.error),))

    latest = Latest(session.runner, "preview", f"Looking at {path.name}", answered, failed)

    def look(layout: CsvLayout | None) -> None:
        latest.ask(lambda _progress: preview_csv(path, layout))

    dialog.layout_changed.connect(look)
    dialog.accepted.connect(lambda: session.opener.open(path, layout=dialog.layout_said()))
    dialog.finished.connect(lambda _result: latest.drop())
    dialog.finished.connect(dialog.deleteLater)
    look(None)
    dialog.open()
    return dialog
