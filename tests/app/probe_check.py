"""What the tests of the Probe check page share."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.pages.probe_check_page import ProbeCheckPage

from .conftest import settled

TIMEOUT_MS = 20_000
SAMPLES = Path(__file__).parents[2] / "sample_data"
FOUND, LEFT = (SAMPLES / "tables" / f"de_x_as_{stage}.csv" for stage in ("found", "left"))
RUN = SAMPLES / "calibrator.h5"


def wait(qtbot, page: ProbeCheckPage) -> None:
    """Everything that is typed has been judged, shown and drawn."""
    session = page._session

    def done() -> bool:
        result = session.checks.result
        judged = result is not None and result.request == session.checks.request()
        return judged and settled(session) and page.is_drawn()

    qtbot.waitUntil(done, timeout=TIMEOUT_MS)


def give(qtbot, page: ProbeCheckPage, path: Path, stage: str) -> None:
    session = page._session
    session.check.set_facts(stage=stage)
    page.leaf().table.open_file(path)
    column = "found_v" if stage == "as found" else "left_v"
    qtbot.waitUntil(
        lambda: any(getattr(row, column) is not None for row in session.check.rows),
        timeout=TIMEOUT_MS,
    )
    wait(qtbot, page)


def texts(sheet, column: int) -> list[str]:
    return [row[column].text for row in sheet.cells.sheet.rows if row[column].text]


def paste(sheet, text: str, row: int = 0, column: int = 0) -> None:
    sheet.go_to(row, column)
    QApplication.clipboard().setText(text)
    sheet.setFocus()
    QTest.keyClick(sheet, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
